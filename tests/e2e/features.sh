#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Other programs read the programme live: OGC API - Features, class by class, by GDAL's driver and QGIS's own.
set -u
source=${SPINNEY_SOURCE:-$(cd "$(dirname "$0")/../.." && pwd)}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python3 "$source/tests/e2e/features.py" "${SPINNEY:?}" "$source" "$work"
