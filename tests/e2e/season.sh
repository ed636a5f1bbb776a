#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# From the question to planting day, through the command line and through the server alike: acceptance tests of comparison,
# order, delivery, planting day and money (F12, F13, F16, F18-F21, F27, F28, F45, F48). Invented data only.
exec python3 "$(dirname "$0")/season.py"
