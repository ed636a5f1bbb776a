#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The trip from the shell: the demonstration to its end, a real outline, and a real repeated census against published and R figures.
set -u
spinney=${SPINNEY:?} shared=${SPINNEY_SHARED:-} source=${SPINNEY_SOURCE:?}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
bad=0
ok() { echo "ok $1"; }
no() { echo "FAIL $1: $2"; bad=1; }
holds() { if [ "$2" = true ]; then ok "$1"; else no "$1" "${3:-}"; fi; }
value() { python3 -c "import json,sys; d=json.load(open('$1')); print($2)"; }

if "$source/demo/run" "$spinney" "$work/demo" >"$work/demo.log" 2>&1; then ok "the demonstration runs to its end"; else no "the demonstration runs to its end" "$(tail -n 2 "$work/demo.log")"; fi
for file in planting-plan.pdf cards-D1.pdf order.pdf order.xlsx report.pdf report.html; do
  [ -s "$work/demo/$file" ] && ok "$file is written" || no "$file is written" missing
done
file=$work/demo/kelverhaven.gpkg
"$spinney" findings "$file" --json >"$work/findings.json"
holds "one site does not generalise" "$(value "$work/findings.json" "str('not enough to generalise' in d['answer']).lower()")"
holds "the interval covers the truth of the generator (F59)" "$(value "$work/findings.json" "str((lambda p: p['low'] <= .88*.94*.94 - .76*.91*.91 <= p['high'])(d['data']['comparisons'][0]['pairs'][0])).lower()")"
"$spinney" held "$file" --json >"$work/held.json"
holds "the planted slips are held" "$(value "$work/held.json" "str(d['data']['count'] >= 2).lower()")"
count=$("$spinney" cards "$file" D1 --json | python3 -c "import json,sys; print(json.load(sys.stdin)['data']['plants'])")
holds "the cards carry exactly the plants of the plan" "$([ "$count" = 540 ] && echo true || echo false)" "$count"
"$source/demo/run" "$spinney" "$work/again" >/dev/null 2>&1
cmp -s "$work/demo/census-3.csv" "$work/again/census-3.csv" && ok "the same seed gives the same sheets" || no "the same seed gives the same sheets" differ
if command -v ogrinfo >/dev/null; then
  plants=$(ogrinfo -ro -so "$file" plant 2>/dev/null | sed -n 's/^Feature Count: //p')
  holds "GDAL reads the plants of the file" "$([ "$plants" = 720 ] && echo true || echo false)" "$plants"
else
  echo "skip GDAL is not here"
fi

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
