#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Compares the survival of stats/ with R, live.
command -v Rscript >/dev/null || { echo "skip stats_survival: R is not installed"; exit 0; }
cd "$(dirname "$0")" && exec Rscript --vanilla stats_survival.R
