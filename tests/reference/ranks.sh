#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# A look ahead spread over one, two and three processes gives the same bytes as in one program.
set -u
spinney=${SPINNEY:?path of the program}
ranks=$(dirname "$spinney")/spinney-ranks
if [ ! -x "$ranks" ] || ! command -v mpirun >/dev/null; then
  echo "skip ranks: built without MPI, or mpirun is not here (Debian: libopenmpi-dev openmpi-bin)"
  exit 0
fi
here=$(mktemp -d)
trap 'rm -rf "$here"' EXIT
bad=0
say() { if [ "$1" = 0 ]; then echo "ok $2"; else echo "FAIL $2"; bad=1; fi; }
export SPINNEY_TODAY=2026-11-25 SPINNEY_AUTHOR=V001 OMP_NUM_THREADS=1 OMPI_ALLOW_RUN_AS_ROOT=1 OMPI_ALLOW_RUN_AS_ROOT_CONFIRM=1
file=$here/w.gpkg
{ "$spinney" new "$file" --name "Test woods" --crs EPSG:32629 &&
  "$spinney" site "$file" LK --name "Lockside Bank" --region ireland --wkt "POLYGON((500000 5400000,500030 5400000,500030 5400020,500000 5400020,500000 5400000))" &&
  "$spinney" split "$file" --site LK --buffer-m 5 --witness V001 --area-m2 100 &&
  "$spinney" mix "$file" D1 --ask-too && "$spinney" layout "$file" D1; } >"$here/made.txt" 2>&1
say $? "a small programme with a plan is made"
"$spinney" ahead "$file" D1 --years 12 --runs 20 --json >"$here/one.json" 2>"$here/err.txt"
say $? "one program looks ahead"
for n in 1 2 3; do
  mpirun --oversubscribe -n $n "$ranks" ahead "$file" D1 --years 12 --runs 20 --json >"$here/$n.json" 2>>"$here/err.txt"
  [ -s "$here/one.json" ] && cmp -s "$here/one.json" "$here/$n.json"
  say $? "$n processes give the same bytes"
done
mpirun --oversubscribe -n 2 "$ranks" ahead "$file" D1 --years 0 >"$here/wrong.txt" 2>&1
[ $? -ne 0 ] && grep -q "years goes from 1" "$here/wrong.txt"
say $? "what is asked for wrongly ends all processes with its sentence"
[ $bad = 0 ] || { cat "$here/made.txt" "$here/err.txt" | tail -n 12; exit 1; }
