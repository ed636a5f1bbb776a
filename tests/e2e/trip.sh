#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Real input from the shell: a real outline. A real repeated census: census.sh. The invented town: demo.sh.
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

exit $bad
