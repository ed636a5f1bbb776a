# SPDX-License-Identifier: GPL-3.0-or-later
"""Merging: merge.py SPINNEY WORK. Told cases, then many random ones held against a model of what must come out."""
import json
import os
import pathlib
import random
import shutil
import subprocess
import sys

spinney, work = sys.argv[1], pathlib.Path(sys.argv[2])
bad = False


def check(name, holds, more=""):
    global bad
    bad = bad or not holds
    print(f"ok {name}" if holds else f"FAIL {name}: {str(more)[:400]}")


def run(*words, author="A", fails=False):
    done = subprocess.run([spinney, *map(str, words), "--json"], capture_output=True, text=True, env={**os.environ, "SPINNEY_AUTHOR": author})
    if (done.returncode != 0) != fails:
        print(f"FAIL spinney {' '.join(map(str, words))[:160]}: {(done.stderr + done.stdout)[:300]}")
        sys.exit(1)
    return done.stderr if fails else json.loads(done.stdout)


def add(file, noun, author="A", **fields):
    return run("add", file, noun, json.dumps(fields), author=author)["data"]["row"]["id"]


def rows(file, noun):
    return run("rows", file, noun, "--most", 100000)["data"]["rows"]


def by(file, noun, key):
    return {r[key]: r for r in rows(file, noun)}


base, ours, theirs = work / "base.gpkg", work / "ours.gpkg", work / "theirs.gpkg"
run("new", base, "--name", "Woods", "--crs", "EPSG:32629")
run("site", base, "LK", "--name", "Lock", "--region", "ireland", "--wkt", "POLYGON((0 0,40 0,40 30,0 30,0 0))".replace("(0 0", "(500000 5400000").replace("40 0", "500040 5400000").replace("40 30", "500040 5400030").replace("0 30", "500000 5400030").replace(",0 0)", ",500000 5400000)"))
plot = add(base, "plot", site_id=1, code="D1", regime="dense_prepared")
plants = [add(base, "plant", plot_id=plot, species="Quercus robur", origin="first_planting", tag=f"T{i}", number=i + 1) for i in range(6)]
census = add(base, "visit", site_id=1, kind="census", from_on="2024-09-14")
first = [add(base, "plant_record", visit_id=census, plant_id=p, observed_on="2024-09-14", status="alive", height_cm=40 + p) for p in plants]
for copy in (ours, theirs):
    run("backup", base, copy)

# apart
run("change", ours, "plant_record", first[0], "height_cm=51", author="A")
run("change", theirs, "plant_record", first[1], "height_cm=61", author="B")
run("change", ours, "plant_record", first[2], "height_cm=52", author="A")
run("change", theirs, "plant_record", first[2], "height_cm=62", author="B")
run("change", ours, "plant_record", first[3], "height_cm=70", author="A")
run("change", theirs, "plant_record", first[3], "note=mown", author="B")
run("change", ours, "plant_record", first[4], "height_cm=44", author="A")
run("change", theirs, "plant_record", first[4], "height_cm=44", author="B")
run("remove", theirs, "plant_record", first[5], author="B")
a_visit = add(ours, "visit", author="A", site_id=1, kind="census", from_on="2025-09-14")
b_visit = add(theirs, "visit", author="B", site_id=1, kind="census", from_on="2025-09-20")
for p in plants:
    add(ours, "plant_record", author="A", visit_id=a_visit, plant_id=p, observed_on="2025-09-14", status="alive", height_cm=80 + p)
    add(theirs, "plant_record", author="B", visit_id=b_visit, plant_id=p, observed_on="2025-09-20", status="alive", height_cm=90 + p)
old = add(theirs, "plant", author="B", plot_id=plot, species="Betula pendula", origin="replacement", tag="N1", replaces_id=plants[5])
add(theirs, "plant", author="B", plot_id=plot, species="Betula pendula", origin="replacement", tag="N2", replaces_id=old)

tried = run("merge", ours, theirs, "--try-only")
check("trying changes nothing", len(rows(ours, "plant")) == 6 and tried["data"]["came"] > 0)
done = run("merge", ours, theirs)
record = by(ours, "plant_record", "id")
check("what only they changed comes", record[first[1]]["height_cm"] == 61)
check("what only we changed stays", record[first[0]]["height_cm"] == 51)
check("what both changed stays ours and waits", record[first[2]]["height_cm"] == 52 and done["data"]["fresh"] == 1, done["data"])
check("different fields of one row come together", record[first[3]]["height_cm"] == 70 and record[first[3]]["note"] == "mown")
check("the same change twice is no conflict", record[first[4]]["height_cm"] == 44)
check("what they deleted is deleted", first[5] not in record)
check("new visits and records of both are there, none twice", len(rows(ours, "visit")) == 3 and len(record) == 5 + 12)
new = by(ours, "plant", "tag")
check("keys between new rows hold", new["N2"]["replaces_id"] == new["N1"]["id"] and new["N1"]["replaces_id"] == plants[5])
theirs_visit = [v for v in rows(ours, "visit") if v["from_on"] == "2025-09-20"][0]
check("their records belong to their visit", sum(r["visit_id"] == theirs_visit["id"] for r in record.values()) == 6)
waiting = run("settle", ours)
cells = waiting["sections"][0]["table"]["rows"]
check("the difference shows both values, who and when", len(cells) == 1 and "52" in cells[0] and "62" in cells[0] and any(str(c).startswith("A, 20") for c in cells[0]) and any(str(c).startswith("B, 20") for c in cells[0]), cells)
again = run("merge", ours, theirs)
check("merging the same copy again brings nothing", again["data"]["came"] == 0 and again["data"]["fresh"] == 0, again["data"])
run("settle", ours, cells[0][0], "theirs", "--why", "measured again")
check("theirs can be taken", by(ours, "plant_record", "id")[first[2]]["height_cm"] == 62)
check("a settled difference is not settled twice", "settled" in run("settle", ours, cells[0][0], "ours", fails=True))
run("merge", theirs, ours)
flat = [{r["uuid"]: {k: v for k, v in r.items() if k not in ("id",) and not k.endswith("_id")} for r in rows(f, n)} for f in (ours, theirs) for n in ("plant", "plant_record", "visit", "plot", "site")]
check("merged both ways, both copies hold the same rows", flat[:5] == flat[5:], [len(f) for f in flat])
check("and nothing waits there that was settled here", run("settle", theirs)["data"]["waiting"] == 0)
check("the files are sound", run("verify", ours)["data"]["holds"] and run("verify", theirs)["data"]["holds"])
step = run("merge", ours, base)["data"]
check("an older copy brings nothing", step["came"] == 0 and step["fresh"] == 0)

# deletions against changes, taking back, other programmes
one, two = work / "one.gpkg", work / "two.gpkg"
for copy in (one, two):
    run("backup", base, copy)
run("remove", one, "plant_record", first[0], author="A")
run("change", two, "plant_record", first[0], "height_cm=99", author="B")
run("change", one, "plant_record", first[1], "height_cm=98", author="A")
run("remove", two, "plant_record", first[1], author="B")
for r in first[2:]:
    run("remove", two, "plant_record", r, author="B")
    run("remove", one, "plant_record", r, author="A")
run("remove", one, "plant", plants[5], author="A")
extra = add(two, "plant_record", author="B", visit_id=census, plant_id=plants[5], observed_on="2024-09-15", status="alive")
done = run("merge", one, two)
kinds = sorted(r["kind"] for r in rows(one, "conflict"))
check("deleted here and changed there, the reverse, and a new row of a deleted one: each is told", kinds == ["deleted_here", "deleted_there", "not_added"], kinds)
check("nothing of ours went", by(one, "plant_record", "id")[first[1]]["height_cm"] == 98)
ids = {r["kind"]: r["id"] for r in rows(one, "conflict")}
check("what cannot be taken says why", "undo" in run("settle", one, ids["not_added"], "theirs", fails=True))
run("settle", one, ids["deleted_there"], "theirs")
check("a deletion can be taken", first[1] not in by(one, "plant_record", "id"))
before = {n: rows(one, n) for n in ("plant", "plant_record")}
step = run("merge", one, ours)["step"]
check("a third copy comes in as well", len(rows(one, "visit")) == 3)
run("undo", one, step)
check("a merge can be taken back whole", {n: rows(one, n) for n in before} == before)
stranger = work / "stranger.gpkg"
run("new", stranger, "--name", "Other woods", "--crs", "EPSG:32629")
check("another programme is refused in a sentence", "different programmes" in run("merge", one, stranger, fails=True))

# the same spreadsheet brought in by both
left, right, sheet = work / "left.gpkg", work / "right.gpkg", work / "census.csv"
for copy in (left, right):
    run("backup", base, copy)
sheet.write_text("Plot,Tag,Species,Alive,Height cm,Date,Observer\n" + "".join(f"D1,T{i},Quercus robur,y,{55 + i},2025-09-14,V017\n" for i in range(6)), encoding="utf-8")
for copy, author in ((left, "A"), (right, "B")):
    run("import", copy, sheet, "--take", author=author)
n = len(rows(left, "plant_record"))
done = run("merge", left, right)
check("a file that both brought in is not doubled", len(rows(left, "plant_record")) == n and n == 12 and done["data"]["same_files"] == 1 and len(rows(left, "import")) == 1, (len(rows(left, "plant_record")), n, done["data"]))
late = max(r["id"] for r in rows(right, "plant_record"))
run("change", right, "plant_record", late, "note=seen again", author="B")
run("merge", left, right)
check("and what they change of it later comes to the same row", len(rows(left, "plant_record")) == 12 and sum(r["note"] == "seen again" for r in rows(left, "plant_record")) == 1)

# many random edits
random.seed(11)
for trial in range(4):
    copies = [work / f"r{trial}-{k}.gpkg" for k in range(2)]
    for copy in copies:
        run("backup", base, copy)
    value = [{}, {}]
    gone = [set(), set()]
    made = [0, 0]
    for k in range(2):
        for _ in range(10):
            r = random.choice(first)
            if r in gone[k]:
                continue
            what = random.random()
            if what < 0.55:
                value[k][r] = random.randint(30, 33)
                run("change", copies[k], "plant_record", r, f"height_cm={value[k][r]}", author="AB"[k])
            elif what < 0.7:
                gone[k].add(r)
                run("remove", copies[k], "plant_record", r, author="AB"[k])
            else:
                made[k] += 1
                add(copies[k], "plant_record", author="AB"[k], visit_id=census, plant_id=plants[0], observed_on="2024-09-16", status="alive", height_cm=random.randint(1, 9))
    original = {r: 40 + p for r, p in zip(first, plants)}
    done = run("merge", *copies)
    after = by(copies[0], "plant_record", "id")
    wrong, conflicts = [], 0
    for r in first:
        a, b = value[0].get(r, original[r]), value[1].get(r, original[r])
        if r in gone[0] or r in gone[1]:
            both = r in gone[0] and r in gone[1]
            there_changed = r in value[1] or r in gone[1]
            here_changed = r in value[0] or r in gone[0]
            conflicts += not both and ((r in gone[0] and r in value[1]) or (r in gone[1] and r in value[0]))
            stays = r not in gone[0] and not (r in gone[1] and r not in value[0])
            wrong += [] if (r in after) == stays else [("gone", r)]
        else:
            clash = r in value[0] and r in value[1] and a != b
            conflicts += clash
            want = a if clash or r not in value[1] else b if r not in value[0] else a
            wrong += [] if after[r]["height_cm"] == want else [(r, after[r]["height_cm"], want)]
    check(f"random edits {trial}: every row is as it must be", not wrong and len(after) == len([r for r in first if r in after]) + made[0] + made[1], wrong)
    check(f"random edits {trial}: every conflict is told, and no other", done["data"]["fresh"] == conflicts, (done["data"], conflicts))
sys.exit(1 if bad else 0)
