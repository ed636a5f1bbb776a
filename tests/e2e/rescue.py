# SPDX-License-Identifier: GPL-3.0-or-later
"""Rescue: rescue.py SPINNEY WORK. Pages are spoilt on purpose; sqlite3's dbstat tells which rows stood on them."""
import json
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


def run(*words, fails=False):
    done = subprocess.run([spinney, *map(str, words), "--json"], capture_output=True, text=True)
    if (done.returncode != 0) != fails:
        print(f"FAIL spinney {' '.join(map(str, words))[:160]}: {(done.stderr + done.stdout)[:300]}")
        sys.exit(1)
    return done.stderr if fails else json.loads(done.stdout)


def rows(file, noun):
    return {r["uuid"]: r for r in run("rows", file, noun, "--most", 100000)["data"]["rows"]}


def sql(file, words):
    return subprocess.run(["sqlite3", "-separator", " ", file, words], capture_output=True, text=True).stdout.split("\n")[:-1]


if not shutil.which("sqlite3"):
    print("skip sqlite3 is not here")
    sys.exit(0)
wood = work / "wood.gpkg"
run("new", wood, "--name", "Woods", "--crs", "EPSG:32629")
run("site", wood, "LK", "--name", "Lock", "--region", "ireland", "--wkt",
    "POLYGON((500000 5400000,500100 5400000,500100 5400100,500000 5400100,500000 5400000))")
run("add", wood, "plot", json.dumps({"site_id": 1, "code": "D1", "regime": "dense_prepared"}))
sheet = work / "t0.csv"
sheet.write_text("Plot,Tag,Species,Alive,Height cm,Date,Observer,Note\n" + "".join(
    f"D1,T{i},Quercus robur,y,{40 + i % 30},2024-03-01,V017,note {i} {'x' * (i % 50)}\n" for i in range(3000)), encoding="utf-8")
run("import", wood, sheet, "--first-census", "--answer", "new_plants=make", "--take")
nouns = ("site", "plot", "plant", "visit", "plant_record")
before = {n: rows(wood, n) for n in nouns}
check("there is something to lose", len(before["plant_record"]) == 3000, len(before["plant_record"]))
page = int(sql(wood, "PRAGMA page_size")[0])


def spoil(name, pages, fill):
    broken = work / name
    run("backup", wood, broken)
    data = bytearray(broken.read_bytes())
    for p in pages:
        data[(p - 1) * page:p * page] = fill(page)
    broken.write_bytes(data)
    return broken


leaves = {t: [int(r) for r in sql(wood, f"SELECT pageno FROM dbstat WHERE name = '{t}' AND pagetype = 'leaf'")] for t in ("plant_record", "plant")}
inner = [int(r) for r in sql(wood, "SELECT pageno FROM dbstat WHERE name = 'plant_record' AND pagetype = 'internal'")]
index = [int(r) for r in sql(wood, "SELECT pageno FROM dbstat WHERE name LIKE 'plant_record_by_%' LIMIT 5")]
cells = {int(r.split()[0]): int(r.split()[1]) for r in sql(wood, "SELECT pageno, ncell FROM dbstat WHERE pagetype = 'leaf'")}
random.seed(5)
for name, pages, fill in (
        ("one leaf of zeros", [leaves["plant_record"][3]], lambda n: bytes(n)),
        ("several leaves of noise", random.sample(leaves["plant_record"], 4), lambda n: random.randbytes(n)),
        ("the first and the last leaf", [leaves["plant_record"][0], leaves["plant_record"][-1]], lambda n: b"\xff" * n),
        ("a leaf of plants", [leaves["plant"][2]], lambda n: bytes(n)),
        ("pages of an index", index, lambda n: random.randbytes(n)),
):
    broken, out = spoil(name.replace(" ", "-") + ".gpkg", pages, fill), work / (name.replace(" ", "-") + "-rescued.gpkg")
    copy = broken.read_bytes()
    said = run("verify", broken, fails=True)
    check(f"{name}: opening refuses it in a sentence", "damaged" in said, said)
    answer = run("rescue", broken, out)
    after = {n: rows(out, n) for n in nouns}
    lost = sum(cells.get(p, 0) for p in pages)
    keys = lambda r: {k: v for k, v in r.items() if k != "id" and not k.endswith("_id")}
    check(f"{name}: every row that came back is as it was", all(keys(r) == keys(before[n][u]) for n in nouns for u, r in after[n].items()))
    gone = {n: len(before[n]) - len(after[n]) for n in nouns}
    if name.startswith("a leaf of plants"):
        check(f"{name}: records go with their plants, and are counted", gone["plant"] == lost == gone["plant_record"] and answer["data"]["lost"] == lost, (gone, lost, answer["answer"]))
    elif "index" in name:
        check(f"{name}: no row is lost", not any(gone.values()), gone)
    else:
        check(f"{name}: only rows of those pages are gone", gone["plant_record"] == lost > 0 and answer["data"]["gaps"] >= 1, (gone, lost, answer["answer"]))
        check(f"{name}: all else is there", all(gone[n] == 0 for n in nouns if n != "plant_record"), gone)
    check(f"{name}: the damaged file is not touched", broken.read_bytes() == copy)
    check(f"{name}: the new file is sound", run("verify", out)["data"]["holds"])
copy = work / "copy.gpkg"
run("backup", wood, copy)
whole = work / "several-leaves-of-noise-rescued.gpkg"
answer = run("merge", whole, copy)
check("a copy brings back what the damage took", {n: set(rows(whole, n)) for n in nouns} == {n: set(before[n]) for n in nouns} and answer["data"]["conflicts"] == 0, answer["answer"])
if inner:
    broken = spoil("inner.gpkg", inner[:1], lambda n: bytes(n))
    answer = run("rescue", broken, work / "inner-rescued.gpkg")
    check("the root of a table gone: the other tables come, and the loss is said", len(rows(work / "inner-rescued.gpkg", "plant")) == 3000 and answer["data"]["gaps"] >= 1, answer["answer"])
short = work / "short.gpkg"
short.write_bytes(wood.read_bytes()[:wood.stat().st_size * 2 // 3])
answer = subprocess.run([spinney, "rescue", short, work / "short-rescued.gpkg", "--json"], capture_output=True, text=True)
check("a file cut off is rescued in part or refused in a sentence", answer.returncode == 0 and json.loads(answer.stdout)["data"]["kept"] > 0 or answer.returncode == 1 and answer.stderr, answer.stderr)
(work / "text.gpkg").write_text("nothing of the kind")
check("what is no programme file is refused", run("rescue", work / "text.gpkg", work / "no.gpkg", fails=True) and not (work / "no.gpkg").exists())
sys.exit(1 if bad else 0)
