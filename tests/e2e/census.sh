#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# A real repeated census in one programme, from the file to the sentence: two treatments, each with plots of the same numbers.
# Riegl et al. 2023, Ecol. Appl. 33:e2846 (data CC0): 457 tagged trees, 17 plots with and 17 without blackberry, ten visits; published
# yearly mortality 12.5 and 16.2 %. R's survival judges the same rows live. A second census, in another shape, comes from the data set
# rats of R's survival (Mantel, Bohidar & Ciminera 1977, Cancer Res 37:3863), so that the walk is made where the folder of real data is absent.
set -u
spinney=${SPINNEY:?} shared=${SPINNEY_SHARED:-} source=${SPINNEY_SOURCE:?}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
bad=0
ok() { echo "ok $1"; }
no() { echo "FAIL $1: $2"; bad=1; }
holds() { if [ "$2" = true ]; then ok "$1"; else no "$1" "${3:-}"; fi; }
value() { python3 -c "import json,sys; d=json.load(open('$1'))['data']; print($2)" 2>&1 | tail -n 1; }
true_of() { value "$1" "str(bool($2)).lower()"; }
count() { "$spinney" rows "$trees" "$1" --most 1000000 --json >"$work/rows.json"; value "$work/rows.json" "len(d['rows'])"; }

if ! Rscript -e 'if (!requireNamespace("jsonlite", quietly = TRUE) || !requireNamespace("survival", quietly = TRUE)) quit(status = 1)' >/dev/null 2>&1; then
  echo "skip real census: R with survival and jsonlite is not here (Debian: r-cran-survival r-cran-jsonlite)"
  exit 0
fi

# programme NAME SITE SITE PLOTS: two sites with plots 1 to PLOTS each
programme() {
  trees=$work/$1.gpkg
  "$spinney" new "$trees" --name "Real census" --crs EPSG:32715 >/dev/null
  for site in "$2" "$3"; do "$spinney" add "$trees" site "code=$site;name=$site;stage=monitored" >/dev/null; done
  for plot in $(seq 1 "$4"); do
    for site in 1 2; do "$spinney" add "$trees" plot "site_id=$site;code=$plot;regime=other_regime" >/dev/null; done
  done
}

# against NAME: the note of lives in $work/lives.json against R's figures in $work/r.json
against() {
  python3 - "$1" "$work/lives.json" "$work/r.json" <<'PY' || bad=1
import json, sys
name, ours, r = sys.argv[1], json.load(open(sys.argv[2]))["data"], json.load(open(sys.argv[3]))
bad = 0
def near(what, x, y, tolerance):
    global bad
    good = x is not None and abs(x - y) <= tolerance
    bad |= not good
    print(("ok " if good else "FAIL ") + f"{name}: {what}" + ("" if good else f": {x} here, {y} in R"))
groups = {g["group"]: g for g in ours["groups"]}
for i, g in enumerate(r["groups"]):
    near(f"plants of {g}", groups[g]["plants"], r["n"][i], 0)
    near(f"deaths of {g}", groups[g]["deaths"], r["deaths"][i], 0)
    near(f"Kaplan–Meier of {g} at the end is R's {r['km'][i]:.4f}", groups[g]["km"], r["km"][i], 1e-9)
    near(f"its log-log limits are R's", groups[g]["km_low"], r["low"][i], 1e-9)
    near(f"upper limit", groups[g]["km_high"], r["high"][i], 1e-9)
    near(f"survival per year of {g} is R's {r['annual'][i]:.4f}", groups[g]["annual"], r["annual"][i], 1e-9)
    near(f"share alive, mean of plots of {g}", groups[g]["share"], r["share"][i], 1e-9)
near(f"log-rank chi² is R's {r['chisq']:.4f}", ours["logrank"], r["chisq"], 1e-7)
sign = 1 if ours["groups"][0]["group"] == r["groups"][0] else -1
near(f"difference by plot is R's {r['difference']:.4f}", ours["difference"], sign * r["difference"], 1e-9)
near("Welch's t", ours["welch_t"], sign * r["t"], 1e-8)
near("its degrees of freedom", ours["welch_df"], r["df"], 1e-7)
near(f"its p is R's {r['p']:.4f}", ours["welch_p"], r["p"], 1e-8)
near(f"F by plot is R's {r['f']:.4f}", ours["by_plot_f"], r["f"], 1e-7)
near(f"p of shuffling over plots is R's {r['p_shuffle']:.3f} give or take the draws", ours["by_plot_p"], r["p_shuffle"],
     4 * (0.5 * r["p_shuffle"] * (1 - r["p_shuffle"]) / 2500) ** .5 + 4 / 5000)
near("the claim goes no further than compared", float(ours["rung"] == "compared"), 1, 0)
near("it says that other ground may be the cause", float("ground of its own" in ours["cannot"]), 1, 0)
near("plants counted as independent are called that", float("plants of one plot are not" in ours["sentence"]), 1, 0)
if ours["difference_low"] <= 0 <= ours["difference_high"]:
    near("where plots show no difference, the sentence says so", float("no difference is shown by plot" in ours["sentence"]), 1, 0)
sys.exit(bad)
PY
}

# ---- a census in one column per visit, with everything a real file has ----
wide=$shared/data/scalesia_blackberry/scalesia_dbh_wide.csv
if [ -r "$wide" ]; then
  programme scalesia removed left 17
  map="tag=tree;plot=Plot;site=treatment"
  answers="word:site:blackberry_left=left;word:site:blackberry_removed=removed;census_day=middle;blank_means=dead_standing;new_plants=make;species=Scalesia pedunculata;diameter_at=breast_height;wide_field=diameter_mm;wide_unit=cm"
  "$spinney" import "$trees" "$wide" --kind plants --map "$map" --json >"$work/open.json"
  holds "what the file does not say is asked" "$(true_of "$work/open.json" "{'wide_field','census_day','blank_means'} <= {q['id'] for q in d['questions']}")" "$(value "$work/open.json" "[q['id'] for q in d['questions']]")"
  "$spinney" import "$trees" "$wide" --kind plants --map "$map" --take >/dev/null 2>"$work/refused" && no "with questions open nothing is stored" "it was" || ok "with questions open nothing is stored"
  "$spinney" import "$trees" "$wide" --kind plants --map "$map" --answer "$answers" --json >"$work/dry.json"
  holds "the dry run stores nothing" "$([ "$(count plant)" = 0 ] && [ "$(count visit)" = 0 ] && [ "$(count import)" = 0 ] && echo true)" "plants $(count plant)"
  "$spinney" import "$trees" "$wide" --kind plants --map "$map" --answer "$answers" --take --json >"$work/import.json"
  holds "dry run and import agree" "$([ "$(value "$work/dry.json" "d['ready'],d['held'],d['refused'],d['empty']")" = "$(value "$work/import.json" "d['ready'],d['held'],d['refused'],d['empty']")" ] && echo true)"
  holds "every entry is accounted for" "$(true_of "$work/import.json" "d['read'] == 4570 == d['ready'] + d['held'] + d['refused'] + d['empty']")" "$(value "$work/import.json" "d['read'],d['ready'],d['held'],d['refused'],d['empty']")"
  holds "457 trees in 34 plots on 20 visits" "$([ "$(count plant)" = 457 ] && [ "$(count visit)" = 20 ] && echo true)" "$(count plant) plants, $(count visit) visits"
  "$spinney" held "$trees" --json >"$work/held.json"
  holds "doubtful rows wait, with a reason each" "$(true_of "$work/held.json" "d['count'] == $(value "$work/import.json" "d['held']") > 30 and all(r['reason'] for r in d['rows'])")" "$(value "$work/held.json" "d['count']")"
  holds "the three trees dead and then alive are among them" "$(true_of "$work/held.json" "len({(r['row']) for r in d['rows'] if 'resurrection' in r['check']}) == 3")" "$(value "$work/held.json" "[r['row'] for r in d['rows'] if 'resurrection' in r['check']]")"

  # decide: some singly, some together; some kept, some refused, some corrected; the visits were made by this very import
  first=$(value "$work/held.json" "next(r['id'] for r in d['rows'] if 'resurrection' in r['check'])")
  "$spinney" decide "$trees" --rows "$first" --what accept --reason "the tree stands, seen again later" --json >"$work/d.json"
  holds "one row is accepted by itself" "$(true_of "$work/d.json" "d['accepted'] == 1")"
  "$spinney" decide "$trees" --rows "$first" --what reject --reason "again" >/dev/null 2>&1 && no "a decision is not taken twice" "it was" || ok "a decision is not taken twice"
  "$spinney" decide "$trees" --check zero_size --what "correct:diameter_mm=" --reason "nought written for not measured" --json >"$work/d.json"
  holds "sizes of nought are corrected to not measured" "$(true_of "$work/d.json" "d['corrected'] == 2")" "$(value "$work/d.json" "d['corrected']")"
  refuse=$(value "$work/held.json" "';'.join(str(r['id']) for r in d['rows'] if r['check'] == 'shrinkage')")
  "$spinney" decide "$trees" --rows "$refuse" --what reject --reason "tape not around the same place" --json >"$work/d.json"
  holds "several rows are refused together" "$(true_of "$work/d.json" "d['rejected'] == $(value "$work/held.json" "sum(r['check'] == 'shrinkage' for r in d['rows'])") > 2")" "$(value "$work/d.json" "d['rejected']")"
  "$spinney" decide "$trees" --import 1 --what accept --reason "measured with a tape, as published" --json >"$work/d.json"
  holds "the rest is accepted together" "$(true_of "$work/d.json" "d['accepted'] > 20")" "$(value "$work/d.json" "d['accepted']")"
  "$spinney" held "$trees" --json >"$work/none.json"
  "$spinney" held "$trees" --state rejected --json >"$work/rejected.json"
  holds "no row waits any more, and refused ones stay with their reason" "$(true_of "$work/none.json" "d['count'] == 0")" "$(value "$work/none.json" "d['count']")"
  holds "all records but the refused are in" "$([ "$(count plant_record)" = $((4570 - $(value "$work/import.json" "d['empty']") - $(value "$work/rejected.json" "d['count']"))) ] && echo true)" "$(count plant_record)"
  "$spinney" verify "$trees" >"$work/verify" 2>&1 && ok "the file is sound afterwards" || no "the file is sound afterwards" "$(head -c 200 "$work/verify")"

  python3 - "$wide" "$work/rejected.json" "$work/long.csv" "$work/gone.csv" <<'PY'
import csv, json, sys, datetime
months = {"Feb": 2, "Mar": 3, "Aug": 8, "Sep": 9}
rows = list(csv.DictReader(open(sys.argv[1])))
visits = [c for c in rows[0] if c[:3] in months]
day = {c: datetime.date(2000 + int(c[3:]), months[c[:3]], 15) for c in visits}
years = {c: (day[c] - day[visits[0]]).days / 365.25 for c in visits}
with open(sys.argv[3], "w") as out:
    print("group,plot,plant,years,state", file=out)
    for n, r in enumerate(rows):
        seen = False
        for c in visits:
            seen = seen or r[c] != ""
            if seen:
                print(r["treatment"].split("_")[1], r["Plot"], n + 2, years[c], "alive" if r[c] else "dead", sep=",", file=out)
with open(sys.argv[4], "w") as out:
    print("plant,years", file=out)
    for r in json.load(open(sys.argv[2]))["data"]["rows"]:
        print(r["row"], years[json.loads(r["raw"])["census"]], sep=",", file=out)
PY
  Rscript --vanilla "$source/tests/e2e/census.R" "$work/long.csv" "$work/gone.csv" "$work/r.json"
  "$spinney" lives "$trees" --by site --json >"$work/lives.json"
  against "Scalesia"
  # as published: yearly mortality 12.5 % where blackberry was removed, 16.2 % where it was left; the rows refused above move it a little
  holds "yearly mortality where blackberry was removed is near the published 12.5 %" "$(true_of "$work/lives.json" "any(g['group'] == 'removed' and abs(100 * (1 - g['annual']) - 12.5) < .1 for g in d['groups'])")" "$(value "$work/lives.json" "[g['annual'] for g in d['groups']]")"
  holds "and where it was left near the published 16.2 %" "$(true_of "$work/lives.json" "any(g['group'] == 'left' and abs(100 * (1 - g['annual']) - 16.2) < .1 for g in d['groups'])")"
  "$spinney" survival "$trees" --json >"$work/survival.json"
  holds "each plot has its own survival" "$(true_of "$work/survival.json" "len(d['survival']) == 34")" "$(value "$work/survival.json" "len(d['survival'])")"
  "$spinney" claim "$trees" "Removing blackberry caused the trees to live longer everywhere" --json >"$work/claim.json"
  holds "a claim of cause is refused" "$(true_of "$work/claim.json" "d['refused']")" "$(value "$work/claim.json" "d")"

  # the very same file again: said, not doubled
  records=$(count plant_record)
  "$spinney" import "$trees" "$wide" --kind plants --map "$map" --answer "$answers" --take >/dev/null 2>"$work/twice" && no "the same file twice is refused" "it was taken" || holds "the same file twice is refused, naming the import" "$(grep -q 'taken before (import 1)' "$work/twice" && echo true)" "$(cat "$work/twice")"
  "$spinney" import "$trees" "$wide" --kind plants --map "$map" --answer "$answers" --take --again --json >"$work/again.json"
  holds "taken again on purpose, nothing is doubled: rows already there are held" "$([ "$(count plant_record)" = "$records" ] || [ "$(true_of "$work/again.json" "d['ready'] <= $(value "$work/rejected.json" "d['count']") and d['new_plants'] == 0 and d['new_visits'] == 0")" = true ] && echo true)" "$(value "$work/again.json" "d['ready'],d['held'],d['new_plants'],d['new_visits']")"

  # undo back to the empty programme, then from XLSX with other headings
  steps=0
  while [ "$(count import)" != 0 ] && [ $steps -lt 12 ] && "$spinney" undo "$trees" >/dev/null; do steps=$((steps + 1)); done
  holds "undo takes decisions and imports back, one by one" "$([ "$(count plant)" = 0 ] && [ "$(count visit)" = 0 ] && [ "$(count plant_record)" = 0 ] && [ "$(count held_row)" = 0 ] && [ "$(count plot)" = 34 ] && echo true)" "$steps steps; $(count plant) plants, $(count visit) visits, $(count held_row) held"
  python3 "$source/tests/e2e/table_xlsx.py" "$wide" "$work/census.xlsx" Parcela=Plot Arbol=tree Zona=treatment
  "$spinney" import "$trees" "$work/census.xlsx" --kind plants --map "tag=Arbol;plot=Parcela;site=Zona" --answer "$answers" --take --json >"$work/xlsx.json" 2>"$work/xlsx.err"
  holds "the same census from a spreadsheet with other headings gives the same rows" "$([ "$(value "$work/xlsx.json" "d['ready'],d['held'],d['refused'],d['empty']")" = "$(value "$work/import.json" "d['ready'],d['held'],d['refused'],d['empty']")" ] && echo true)" "$(head -c 300 "$work/xlsx.err") $(value "$work/xlsx.json" "d['ready'],d['held']")"
  "$spinney" undo "$trees" >/dev/null
  # one area after the other, the site the same for all rows: equal plot numbers and labels are kept apart
  for site in removed left; do
    grep -E "Plot|blackberry_$site" "$wide" | sed 's/,"treatment"$//; s/,"blackberry_[a-z]*"$//' >"$work/$site.csv"
    "$spinney" import "$trees" "$work/$site.csv" --kind plants --map "tag=tree;plot=Plot;site:=$site" --answer "${answers#*;*;}" --take --json >"$work/$site.json"
  done
  holds "a file for each area gives the same records as one for both" "$([ $(($(value "$work/removed.json" "d['ready']") + $(value "$work/left.json" "d['ready']"))) = "$(value "$work/import.json" "d['ready']")" ] && [ "$(count plant)" = 457 ] && echo true)" "$(value "$work/removed.json" "d['ready'],d['held']") $(value "$work/left.json" "d['ready'],d['held']") $(count plant) plants"
  "$spinney" decide "$trees" --check zero_size --what "correct:diameter_mm=" --reason "nought written for not measured" >/dev/null
  for import in $("$spinney" rows "$trees" import --json | python3 -c "import json,sys; print(*[r['id'] for r in json.load(sys.stdin)['data']['rows']])"); do
    "$spinney" decide "$trees" --import "$import" --what accept --reason "as published" >/dev/null
  done
  "$spinney" lives "$trees" --by site --json >"$work/lives.json"
  echo "plant,years" >"$work/gone.csv"
  Rscript --vanilla "$source/tests/e2e/census.R" "$work/long.csv" "$work/gone.csv" "$work/r.json"
  against "Scalesia, every row as published"
  holds "yearly mortality is the published 12.5 % where blackberry was removed and 16.2 % where it was left" "$(true_of "$work/lives.json" "{g['group']: round(100 * (1 - g['annual']), 1) for g in d['groups']} == {'removed': 12.5, 'left': 16.2}")" "$(value "$work/lives.json" "[g['annual'] for g in d['groups']]")"
else
  echo "skip the census of Scalesia: no shared data"
fi

# ---- a census in one row per plant and visit, from R's own data: always there ----
Rscript --vanilla "$source/tests/e2e/census.R" --rats "$work/rats.csv"
programme rats treated untreated 10
"$spinney" import "$trees" "$work/rats.csv" --kind plants --map "site=group;tag=plant;status=state;observed_on=day;years=" \
  --answer "new_plants=make;species=Rattus norvegicus;word:status:dead=dead_standing" --take --json >"$work/import.json" 2>"$work/import.err" ||
  "$spinney" import "$trees" "$work/rats.csv" --kind plants --map "site=group;tag=plant;status=state;observed_on=day" \
    --answer "new_plants=make;species=Rattus norvegicus;word:status:dead=dead_standing" --take --json >"$work/import.json" 2>"$work/import.err"
holds "a long census is read whole" "$(true_of "$work/import.json" "d['read'] == $(($(wc -l <"$work/rats.csv") - 1)) == d['ready'] and d['new_plants'] == 300")" "$(head -c 300 "$work/import.err") $(value "$work/import.json" "d['read'],d['ready'],d['held'],d['new_plants']")"
echo "plant,years" >"$work/gone.csv"
Rscript --vanilla "$source/tests/e2e/census.R" "$work/rats.csv" "$work/gone.csv" "$work/r.json"
"$spinney" lives "$trees" --by site --json >"$work/lives.json"
against "rats"
exit $bad
