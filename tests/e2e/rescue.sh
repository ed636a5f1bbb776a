#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# A damaged file is read as far as it goes: pages of known tables are spoilt, and every row that stood elsewhere must come back.
set -u
source=${SPINNEY_SOURCE:-$(cd "$(dirname "$0")/../.." && pwd)}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python3 "$source/tests/e2e/rescue.py" "${SPINNEY:?}" "$work"
