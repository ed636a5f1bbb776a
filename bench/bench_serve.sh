#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# How long the workbench takes to answer an ordinary look, by curl: bench_serve.sh SPINNEY PROGRAMME. Median, and the worst of 20, in ms,
# after the first, with the processor time the server spent on each (which others at work on the machine do not lengthen much); then 200
# looks by four callers at once. Works on a copy.
set -u
spinney=${1:?program} file=${2:?programme file}
work=$(mktemp -d)
"$spinney" backup "$file" "$work/p.gpkg" >/dev/null || exit 1
"$spinney" serve "$work/p.gpkg" >"$work/address" 2>&1 &
server=$!
trap 'kill $server 2>/dev/null; wait $server 2>/dev/null; rm -rf "$work"' EXIT
for _ in $(seq 100); do grep -qo 'http://[^ ]*' "$work/address" && break; sleep 0.05; done
address=$(grep -o 'http://[^ ]*' "$work/address" | head -n 1)
base=${address%/open*}
curl -s -o /dev/null -c "$work/cookie" "$address"
post() { curl -s -o /dev/null -w '%{time_total} %{http_code}\n' -b "$work/cookie" -H "Origin: $base" -H "X-Spinney: 1" -H 'Content-Type: application/json' -d "$2" "$base/api/job/$1"; }
spent() { awk '{print $14 + $15}' "/proc/$server/stat"; } # processor time of the server, in hundredths of a second
look() { # NAME OPTIONS
  post "$1" "$2" >"$work/first"
  local before=$(spent)
  for _ in $(seq 20); do post "$1" "$2"; done >"$work/times"
  sort -n "$work/times" | awk -v name="$1 $2" -v spent="$(($(spent) - before))" -v first="$(cut -d' ' -f1 "$work/first")" '{t[NR] = $1 * 1000; if ($2 != 200) bad++}
    END {printf "%-44s first %6.1f   median %6.1f   worst %6.1f   processor %5.1f ms%s\n", name, first * 1000, t[int((NR + 1) / 2)], t[NR], spent * 10 / NR, bad ? "   " bad " refused" : ""}'
}
plots='{"noun": "plot"}'
printf '%s, %s plants\n' "$(du -h "$file" | cut -f1)" "$("$spinney" rows "$file" plant --json | python3 -c 'import json,sys; print(json.load(sys.stdin)["data"]["count"])' 2>/dev/null)"
look look '{}'
look rows "$plots"
look rows '{"noun": "plant", "where": "plot=LK/D1"}'
look held '{}'
look log '{}'
look survival '{"site": "LK"}'
begun=$(date +%s.%N)
for _ in 1 2 3 4; do
  for _ in $(seq 50); do post rows "$plots"; done >/dev/null &
  pids+=($!)
done
wait "${pids[@]}"
echo "$begun $(date +%s.%N)" | awk '{printf "200 looks by four callers: %.1f s, %.1f ms each\n", $2 - $1, ($2 - $1) * 5}'
