#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Real input from the shell: a real outline, and a real repeated census against published and R figures. The invented town: demo.sh.
set -u
spinney=${SPINNEY:?} shared=${SPINNEY_SHARED:-} source=${SPINNEY_SOURCE:?}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
bad=0
ok() { echo "ok $1"; }
no() { echo "FAIL $1: $2"; bad=1; }
holds() { if [ "$2" = true ]; then ok "$1"; else no "$1" "${3:-}"; fi; }
value() { python3 -c "import json,sys; d=json.load(open('$1')); print($2)"; }

outlines=$shared/data/greenspace_polygons/trafford_greenspaces.geojson
if [ -r "$outlines" ]; then
  real=$work/real.gpkg
  "$spinney" new "$real" --name "Real outline" --crs EPSG:27700 >/dev/null
  "$spinney" site "$real" G441 "$outlines" --feature 441 --json >"$work/site.json"
  holds "a real outline with holes comes in" "$(value "$work/site.json" "str(d['data']['area_m2'] > 100).lower()")"
  "$spinney" site "$real" ALL "$outlines" >/dev/null 2>"$work/many"
  holds "several outlines are not taken for one" "$(grep -q 'feature N' "$work/many" && echo true || echo false)" "$(head -c 120 "$work/many")"
else
  echo "skip real outline: no shared data"
fi

census=$shared/data/scalesia_blackberry/scalesia_dbh_wide.csv
if [ -r "$census" ]; then
  # each area is a programme of its own, for both number their plots alike; figures by R's survival: shared/data/README.md
  for site in removed left; do
    trees=$work/$site.gpkg
    "$spinney" new "$trees" --name "Real census" --crs EPSG:32715 >/dev/null
    "$spinney" add "$trees" site "code=$site;name=$site;stage=monitored" >/dev/null
    for plot in $(seq 1 17); do "$spinney" add "$trees" plot "site_id=1;code=$plot;regime=other_regime" >/dev/null; done
    grep -E "Plot|blackberry_$site" "$census" | sed 's/,"treatment"$//; s/,"blackberry_[a-z]*"$//' >"$work/$site.csv"
    "$spinney" import "$trees" "$work/$site.csv" --kind plants --map "tag=tree;plot=Plot;site:=$site" \
      --answer "census_day=middle;blank_means=dead_standing;new_plants=make;species=Scalesia pedunculata;diameter_at=breast_height;wide_field=diameter_mm;wide_unit=cm" \
      --take --json >"$work/$site.json" 2>"$work/$site.err"
    holds "the census of $site is read" "$(value "$work/$site.json" "str(d['data']['read'] > 1000).lower()" 2>/dev/null || echo false)" "$(head -c 300 "$work/$site.err")"
    holds "shrinking trees of $site are held, not dropped" "$(value "$work/$site.json" "str(d['data']['held'] > 30).lower()")" "$(value "$work/$site.json" "d['data']['held']")"
    "$spinney" lives "$trees" --by site --json >"$work/lives.json" 2>"$work/lives.err"
    wanted=$([ $site = removed ] && echo 0.388 || echo 0.287)
    holds "Kaplan–Meier of $site at the end is near R's $wanted, doubtful rows left out" \
      "$(value "$work/lives.json" "str(abs(d['data']['groups'][0]['km'] - $wanted) < .015).lower()" 2>/dev/null || echo false)" "$(value "$work/lives.json" "d['data']['groups'][0]['km']" 2>/dev/null)"
  done
else
  echo "skip real census: no shared data"
fi
exit $bad
