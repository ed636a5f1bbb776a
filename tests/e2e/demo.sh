#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The demonstration to its end, twice, and held against its own truth: counts, planted mistakes, findings (F59). Invented data only.
set -u
spinney=${SPINNEY:?} source=${SPINNEY_SOURCE:-$(cd "$(dirname "$0")/../.." && pwd)}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
bad=0
ok() { echo "ok $1"; }
no() { echo "FAIL $1: $2"; bad=1; }

if "$source/demo/run" "$spinney" "$work/town" >"$work/first.log" 2>&1; then ok "the demonstration runs to its end"; else
  no "the demonstration runs to its end" "$(tail -n 2 "$work/first.log")"
  exit 1
fi
for paper in water-FB.pdf aftercare.ics losses-FB-C1.pdf plan-LK.pdf plan-FB.pdf cards-GL-N1.pdf order.pdf order.xlsx budget.pdf report.pdf report.html findings.html ahead-LK-D1.pdf skill.html census-form-LK-D1.pdf; do
  [ -s "$work/town/papers/$paper" ] && ok "$paper is written" || no "$paper is written" missing
done
cp -r "$work/town" "$work/before"
python3 "$source/tests/e2e/demo_score.py" "$spinney" "$work/town" || bad=1
python3 "$source/tests/e2e/rows_behind.py" "$spinney" "$work/town" || bad=1
cp "$work/town/kelverhaven.gpkg" "$work/served.gpkg"
if command -v node >/dev/null; then node "$source/tests/e2e/rows_browser.mjs" "$work/served.gpkg" "$work/town/papers/report.html" || bad=1; else echo "skip rows in the browser: node is not here"; fi
"$source/demo/run" "$spinney" "$work/town" >"$work/second.log" 2>&1
for part in inputs records truth answers papers open; do
  differ=$(diff -rq "$work/before/$part" "$work/town/$part" 2>&1 | head -n 1)
  [ -z "$differ" ] && ok "two runs give the same bytes of $part" || no "two runs give the same bytes of $part" "$differ"
done
if cmp -s "$work/before/kelverhaven.gpkg" "$work/town/kelverhaven.gpkg"; then ok "two runs give the same programme, byte for byte"; else
  no "two runs give the same programme, byte for byte" "$(cmp "$work/before/kelverhaven.gpkg" "$work/town/kelverhaven.gpkg" 2>&1 | head -n 1)"
fi
if command -v ogrinfo >/dev/null; then
  plants=$(ogrinfo -ro -so "$work/town/kelverhaven.gpkg" plant 2>/dev/null | sed -n 's/^Feature Count: //p')
  [ "${plants:-0}" -ge 4776 ] && ok "GDAL reads the plants of the file" || no "GDAL reads the plants of the file" "${plants:-none}"
else
  echo "skip GDAL is not here"
fi
exit $bad
