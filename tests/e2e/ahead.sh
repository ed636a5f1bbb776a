#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The look ahead from bare plan to scored forecast: same bytes twice, kept and never changed, held against a census that comes later.
set -u
spinney=${SPINNEY:?}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
bad=0
ok() { echo "ok $1"; }
no() { echo "FAIL $1: $2"; bad=1; }
holds() { if [ "$2" = true ]; then ok "$1"; else no "$1" "${3:-}"; fi; }
value() { python3 -c "import json,sys; d=json.load(open('$1')); print($2)"; }
export SPINNEY_AUTHOR=V001 SPINNEY_TODAY=2026-03-01
file=$work/w.gpkg
{ "$spinney" new "$file" --name "Test woods" --crs EPSG:32629 &&
  "$spinney" site "$file" LK --name "Lockside Bank" --region ireland --wkt "POLYGON((500000 5400000,500030 5400000,500030 5400020,500000 5400020,500000 5400000))" &&
  "$spinney" split "$file" --site LK --buffer-m 5 --witness V001 --area-m2 100 &&
  "$spinney" mix "$file" D1 --ask-too && "$spinney" layout "$file" D1; } >"$work/made" 2>&1 || no "a plan is made" "$(tail -n 1 "$work/made")"

"$spinney" ahead "$file" D1 --years 15 --runs 30 --json >"$work/a.json" 2>"$work/err" && "$spinney" ahead "$file" D1 --years 15 --runs 30 --json >"$work/b.json"
holds "the same seed gives the same bytes" "$([ -s "$work/a.json" ] && cmp -s "$work/a.json" "$work/b.json" && echo true || echo false)" "$(cat "$work/err")"
OMP_NUM_THREADS=1 "$spinney" ahead "$file" D1 --years 15 --runs 30 --json >"$work/c.json"
holds "one thread gives the same bytes" "$(cmp -s "$work/a.json" "$work/c.json" && echo true || echo false)"
"$spinney" ahead "$file" D1 --years 15 --runs 30 --seed 5 --json >"$work/d.json"
holds "another seed gives another answer" "$(cmp -s "$work/a.json" "$work/d.json" && echo false || echo true)"
holds "it is called illustrative, and says what it cannot know" "$(value "$work/a.json" "str('illustrative' in d['answer'] and len(d['unknown']) > 2).lower()")"
holds "a section and a plan are drawn" "$(value "$work/a.json" "str(sum('figure' in s for s in d['sections']) >= 5).lower()")"
"$spinney" ahead "$file" D1 --years 15 --keep >/dev/null 2>"$work/refused"
holds "a forecast of a plan that nobody planted is not kept" "$([ $? -ne 0 ] && grep -q "day of planting" "$work/refused" && echo true || echo false)" "$(cat "$work/refused")"

"$spinney" planted "$file" D1 --on 2026-02-10 >/dev/null
"$spinney" ahead "$file" D1 --years 10 --runs 60 --keep --json >"$work/kept.json"
n=$(value "$work/kept.json" "d['data']['kept']")
holds "a forecast is kept from planting" "$([ "${n:-0}" -gt 5 ] && echo true || echo false)" "$n"
"$spinney" skill "$file" --json >"$work/none.json"
holds "before any census there is nothing to hold it against" "$(value "$work/none.json" "str('Nothing has come yet' in d['answer']).lower()")"
# an invented census after the first summer: one plant in four is dead, the others are 70 cm tall
"$spinney" rows "$file" plant --most 100000 --json >"$work/plants.json"
python3 - "$work/plants.json" >"$work/census.csv" <<'PY'
import json, sys
rows = json.load(open(sys.argv[1]))["data"]["rows"]
print("tag,species,date,status,height_cm")
for k, row in enumerate(rows):
    dead = k % 4 == 0
    print(f"{row['tag']},{row['species']},2026-09-15,{'dead standing' if dead else 'alive'},{'' if dead else 70}")
PY
export SPINNEY_TODAY=2026-10-01
"$spinney" import "$file" "$work/census.csv" --kind plants --site LK --plot D1 --take >"$work/import" 2>&1 || "$spinney" import "$file" "$work/census.csv" --kind plants --take >"$work/import" 2>&1
"$spinney" held "$file" >/dev/null
"$spinney" skill "$file" --json >"$work/skill.json" 2>"$work/err"
if [ -s "$work/skill.json" ] && [ "$(value "$work/skill.json" "len(d['data']['forecasts'])")" -gt 0 ]; then
  holds "the census is held against the forecast" true
  holds "a forecast that was wrong says by how much" "$(value "$work/skill.json" "str(any('beyond its 90' in str(c) or 'within its 90' in str(c) for s in d['sections'] for r in s.get('table', {}).get('rows', []) for c in r)).lower()")"
  kept=$("$spinney" rows "$file" forecast --most 1000 --json | python3 -c "import json,sys; print(len(json.load(sys.stdin)['data']['rows']))")
  holds "what was kept is still there" "$([ "$kept" = "$n" ] && echo true || echo false)" "$kept of $n"
else
  no "the census is held against the forecast" "$(cat "$work/err" "$work/import" | tail -n 12)"
fi
"$spinney" ahead "$file" D1 --years 5 --runs 30 --json >"$work/after.json"
holds "the look ahead now starts from the census" "$(value "$work/after.json" "str(any('From the census of 2026-09-15' in s.get('text', '') for s in d['sections'])).lower()")"
"$spinney" spacing "$file" D1 --years 8 --runs 6 --json >"$work/spacing.json" 2>"$work/err"
holds "five densities stand beside each other, prepared and not" "$(value "$work/spacing.json" "str(any(len(s.get('table', {}).get('rows', [])) == 10 for s in d['sections'])).lower()")" "$(cat "$work/err")"
exit $bad
