#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# The report on a survey's quality beside R, live, from the file to the figures.
if ! command -v Rscript >/dev/null 2>&1 || ! Rscript -e 'if (!requireNamespace("jsonlite", quietly = TRUE)) quit(status = 1)' >/dev/null 2>&1; then
    echo "skip quality: R with jsonlite is not here (Debian: r-cran-jsonlite)"
    exit 0
fi
spinney=${SPINNEY:?}
cd "$(dirname "$0")" || exit 3
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
Rscript --vanilla quality.R make "$work/census.csv"
"$spinney" new "$work/p.gpkg" --name Quality --crs EPSG:25832 >/dev/null
"$spinney" add "$work/p.gpkg" site "code=LK;name=Lockside;stage=monitored" >/dev/null
for plot in D1 C1; do "$spinney" add "$work/p.gpkg" plot "site_id=1;code=$plot;regime=dense_prepared" >/dev/null; done
"$spinney" import "$work/p.gpkg" "$work/census.csv" --kind plants --answer "new_plants=make" --take --json >"$work/import.json" || exit 1
"$spinney" decide "$work/p.gpkg" --import 1 --what accept --reason "made by a seed" >/dev/null 2>&1
"$spinney" quality "$work/p.gpkg" --json >"$work/note.json" || exit 1
grep -q '"observers": \[' "$work/note.json" && { echo "FAIL observers are told apart without being asked"; exit 1; }
echo "ok   observers are not told apart unless asked"
Rscript --vanilla quality.R check "$work/census.csv" "$work/note.json"
