# SPDX-License-Identifier: GPL-3.0-or-later
"""Open data from end to end: package.py SPINNEY SOURCE WORK. A small invented programme with every trap: names in free text, a
sensitive record, text that looks like a formula, a plant that came by itself, one that was not found."""
import csv
import hashlib
import json
import math
import pathlib
import random
import shutil
import subprocess
import sys
import xml.etree.ElementTree as tree
import zipfile

spinney, source, work = sys.argv[1], pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3])
wood = work / "wood.gpkg"
bad = False


def check(name, holds, more=""):
    global bad
    bad = bad or not holds
    print(f"ok {name}" if holds else f"FAIL {name}: {str(more)[:300]}")


def run(*words, fails=False):
    done = subprocess.run([spinney, *map(str, words), "--json"], capture_output=True, text=True)
    if (done.returncode != 0) != fails:
        print(f"FAIL spinney {' '.join(map(str, words))[:120]}: {(done.stderr + done.stdout)[:600]}")
        sys.exit(1)
    return done.stderr if fails else json.loads(done.stdout)


def add(noun, **fields):
    return run("add", wood, noun, json.dumps(fields))["data"]["row"]["id"]


def build():
    run("new", wood, "--name", "Rosa Ampel's woods", "--organisation", "Ampel Trust", "--crs", "EPSG:32629")
    run("site", wood, "LK", "--name", "Ampel Yard", "--region", "ireland", "--wkt",
        "POLYGON((512345 5412345,512385 5412345,512385 5412375,512345 5412375,512345 5412345))")
    for top, bottom, density, clay in ((0, 30, 1.35, 20), (30, 60, 1.6, 30)):
        add("soil_sample", site_id=1, composite="P1", time_point="before_works", sampled_on="2023-03-02", depth_top_cm=top, depth_bottom_cm=bottom,
            sand_pct=60 - clay, silt_pct=40, clay_pct=clay, bulk_density_g_cm3=density, stones_pct=5, ph=6.4, ph_method="water", soc_pct=2.1)
    run("split", wood, "--site", "LK", "--buffer-m", 5, "--witness", "Rosa Ampel", "--area-m2", 30)
    for plot in ("D1", "C1"):
        run("mix", wood, plot, "--species-most", 25, *(["--like", "D1"] if plot == "C1" else []))
        run("layout", wood, plot)
        run("planted", wood, plot, "--on", "2024-02-10")
    plants = run("rows", wood, "plant", "--most", 100000)["data"]["rows"]
    random.seed(7)
    for year, left in ((2024, 0.9), (2025, 0.8)):
        visit = add("visit", site_id=1, kind="census", time_point="follow_up", method="every_plant", from_on=f"{year}-09-14", observers="V017, Rosa Ampel",
                    note="Rosa Ampel led")
        with open(work / f"{year}.csv", "w", encoding="utf-8") as f:
            f.write("visit,plant,observed_on,observer,status,height_cm,note\n")
        for plant in plants:
            alive = random.random() < left
            add("plant_record", visit_id=visit, plant_id=plant["id"], observed_on=f"{year}-09-14", observer="V017" if plant["id"] % 2 else "Rosa Ampel",
                status="alive" if alive else "not_found" if plant["id"] % 5 == 0 else "dead_standing", height_cm=random.randint(30, 120) if alive else None,
                note="=HYPERLINK(1)" if plant["id"] == 3 else "'quoted" if plant["id"] == 4 else None)
    add("plant", plot_id=plants[0]["plot_id"], species="Fraxinus excelsior", origin="natural_arrival", x_m=512350, y_m=5412350)
    look = add("wildlife_visit", site_id=1, plot_id=plants[0]["plot_id"], seen_on="2025-05-02", group="birds", protocol="10 min, still", minutes=10,
               observers="Rosa Ampel")
    add("wildlife_record", wildlife_visit_id=look, taxon="Lutra lutra", count=1, sensitive=True)
    add("wildlife_record", wildlife_visit_id=look, taxon="Turdus merula", count=2)
    add("wildlife_visit", site_id=1, seen_on="2025-05-09", group="birds", protocol="10 min, still", minutes=10, nothing_seen=True)
    add("cost_item", phase="plants", item="=SUM(A1:A9) whips", amount=412.5, payer="Ampel Trust")


def rows_of(path):
    with open(path, encoding="utf-8", newline="") as f:
        return list(csv.DictReader(f))


def findings(file):
    answer = {}
    for job in ("survival", "growth", "wildlife", "cost", "findings"):
        words = run(job, file)
        answer[job] = json.dumps(words, sort_keys=True)
    return answer


def all_text(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


build()
folder = work / "data"
made = run("package", wood, "--to", folder)
files = all_text(folder)
counts = {noun: run("rows", wood, noun, "--most", 1)["data"]["count"] for noun in ("plant", "plant_record", "wildlife_record", "soil_sample", "cell")}

# what leaves
leaks = [p for p, b in files.items() if b"Ampel" in b or b"V017" in b]
check("no name of a person, place or organisation is in any file, the GeoPackage among them", not leaks, leaks)
check("the sensitive taxon is coded in the tables", b"Lutra" not in files["data/wildlife_record.csv"] and b"sensitive taxon 01" in files["data/wildlife_record.csv"])
check("the sensitive taxon is coded in the GeoPackage", b"Lutra" not in files["programme.gpkg"])
site = json.loads(files["places/site.geojson"])["features"][0]["geometry"]["coordinates"][0]
true_site = (512365, 5412360)
tables = {p.stem: rows_of(p) for p in (folder / "data").glob("*.csv")}
x = [float(r["x_m"]) for r in tables["plant"]]
y = [float(r["y_m"]) for r in tables["plant"]]
check("plants stand in the middle of their square of 1 km", all(abs(v - 512500) < 25 for v in x) and all(abs(v - 5412500) < 25 for v in y), (min(x), max(x)))
check("people are the same under their new codes", len({r["observer"] for r in tables["plant_record"]}) == 2)
check("text that is a formula is led by an apostrophe", any(r["item"] == "'=SUM(A1:A9) whips" for r in tables["cost_item"]))

# standards of others
validator = source / "tests/validators"
if (validator / "node_modules/datapackage").exists():
    answer = json.loads(subprocess.run(["node", validator / "datapackage.mjs", folder], capture_output=True, text=True).stdout or "{}")
    check("the Data Package library takes every table, cell, key and hash", answer.get("valid") is True, answer.get("errors"))
    check("it counts the same rows", all(answer["tables"][k] == v for k, v in counts.items()), answer.get("tables"))
    broken = work / "broken"
    shutil.copytree(folder, broken)
    path = broken / "data/plant_record.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",not_found,", ",mislaid,", 1), encoding="utf-8")
    answer = json.loads(subprocess.run(["node", validator / "datapackage.mjs", broken], capture_output=True, text=True).stdout or "{}")
    check("the same library refuses a package with one wrong word", answer.get("valid") is False and len(answer["errors"]) >= 2, answer)
else:
    print("skip the Data Package library is not here")
if shutil.which("xmllint"):
    for name, schema in (("meta", "darwin_core_text"), ("eml", "eml")):
        done = subprocess.run(["xmllint", "--noout", "--relaxng", validator / f"{schema}.rng", folder / f"darwin_core/{name}.xml"], capture_output=True, text=True)
        check(f"{name}.xml is valid by its schema", done.returncode == 0, done.stderr)
else:
    print("skip xmllint is not here")
validate = next((p for p in ("/usr/lib/python3/dist-packages/osgeo_utils/samples/validate_gpkg.py",) if pathlib.Path(p).exists()), None)
if validate:
    done = subprocess.run([sys.executable, validate, folder / "programme.gpkg"], capture_output=True, text=True)
    check("GDAL's validator takes the GeoPackage", done.returncode == 0, done.stdout + done.stderr)
else:
    print("skip GDAL's validator is not here")
sums = dict(reversed(line.split("  ", 1)) for line in files["checksums.sha256"].decode().splitlines())
check("every file but the list itself has its checksum", set(sums) == set(files) - {"checksums.sha256"}, set(files) ^ set(sums))
check("the checksums hold", all(hashlib.sha256(files[p]).hexdigest() == s for p, s in sums.items()))

# the archive
space = "{http://rs.tdwg.org/dwc/text/}"
meta = tree.parse(folder / "darwin_core/meta.xml").getroot()
core = {}
for part in meta:
    location = part.find(f"{space}files/{space}location").text
    rows = list(csv.reader(open(folder / "darwin_core" / location, encoding="utf-8", newline="")))
    fields = {int(f.get("index")): f.get("term").rsplit("/", 1)[1] for f in part.findall(f"{space}field")}
    check(f"{location}: the header is what meta.xml says", all(rows[0][i] == t for i, t in fields.items()) and len({len(r) for r in rows}) == 1)
    if part.tag == f"{space}core":
        core = {r[0]: dict(zip(rows[0], r)) for r in rows[1:]}
        check("event ids are unique", len(core) == len(rows) - 1)
        check("every parent is an event", all(not e["parentEventID"] or e["parentEventID"] in core for e in core.values()))
    else:
        lost = [r for r in rows[1:] if r[0] not in core]
        check(f"{location}: every row belongs to an event", not lost, lost[:2])


def span(event):
    first, _, last = event["eventDate"].partition("/")
    return first, last or first


held = all(span(core[e["parentEventID"]])[0] <= span(e)[0] and span(e)[1] <= span(core[e["parentEventID"]])[1]
           for e in core.values() if e["parentEventID"] and e["eventDate"])
check("a parent contains the days of its children", held)
occurrences = rows_of(folder / "darwin_core/occurrence.csv")
planted = [o for o in occurrences if o["organismID"] and not o["occurrenceRemarks"].startswith("came by itself")]
check("every look at a plant is an occurrence", len([o for o in occurrences if o["organismID"]]) == counts["plant_record"])
check("planted stock is cultivated and never native", planted and all(
    o["degreeOfEstablishment"] == "cultivated" and o["establishmentMeans"] == "introducedAssistedColonisation" for o in planted))
check("nothing is called native", not any("native" == o["establishmentMeans"] or o["degreeOfEstablishment"] == "native" for o in occurrences))
check("a plant that was not found is neither alive nor dead", all(
    o["vitality"] == "" and o["occurrenceStatus"] == "absent" for o in occurrences if "not_found" in o["occurrenceRemarks"]))
otter = [o for o in occurrences if o["scientificName"] == "Lutra lutra"]
event = core[otter[0]["eventID"]] if otter else {}
check("the sensitive record stands in a square of 10 km, without parent, day, observer", len(otter) == 1 and event["parentEventID"] == "" and
      event["eventDate"] == "2025" and event["coordinateUncertaintyInMeters"] == "7072" and otter[0]["recordedBy"] == "" and otter[0]["dataGeneralizations"] != "", event)
inverse = math.hypot((float(event.get("decimalLatitude", 0)) - 48.8627) * 111.2, 0)
check("and its place is not that of the site", inverse > 0.2, event.get("decimalLatitude"))
scopes = {r["eventID"]: r for r in rows_of(folder / "darwin_core/humboldt.csv")}
check("every event says what it covered", set(scopes) == set(core))
check("effort comes with its unit", all(bool(r["samplingEffortValue"]) == bool(r["samplingEffortUnit"]) == (r["isSamplingEffortReported"] == "true") for r in scopes.values()))
check("no scope is called complete afterwards", all(r["isTaxonomicScopeFullyReported"] == "false" for r in scopes.values()))
check("a look that saw nothing reports absence and makes up no zero", any(
    r["isAbsenceReported"] == "true" and not any(o["eventID"] == r["eventID"] for o in occurrences) for r in scopes.values()))
with zipfile.ZipFile(folder / "darwin_core.zip") as archive:
    check("the archive as a zip holds the same files", {n: archive.read(n) for n in archive.namelist()} ==
          {p.split("/", 1)[1]: b for p, b in files.items() if p.startswith("darwin_core/")})

# back again
again, true_zip, true_again = work / "again.gpkg", work / "true.zip", work / "true.gpkg"
run("unpack", folder, again)
check("read back, every table has as many rows", all(run("rows", again, n, "--most", 1)["data"]["count"] == c for n, c in counts.items()))
run("package", wood, "--to", true_zip, "--true-places", "--keep-names")
run("unpack", true_zip, true_again)
before, after, blurred = findings(wood), findings(true_again), findings(again)
check("read back with names and places, every finding is the same to the last letter", before == after, [k for k in before if before[k] != after[k]])
bare = {k: v.replace("Ampel Yard", "LK") for k, v in before.items()}


def numbers(words):
    out = []

    def walk(at):
        if isinstance(at, dict):
            for k, v in at.items():
                if k not in ("svg", "figure"):
                    walk(v)
        elif isinstance(at, list):
            for v in at:
                walk(v)
        elif isinstance(at, (int, float)):
            out.append(at)

    walk(json.loads(words))
    return out


check("read back without names and places, every number is the same", all(numbers(before[k]) == numbers(blurred[k]) for k in before))
check("its identity stays with each row", {r["id"] for r in tables["plant"]} == {r["uuid"] for r in run("rows", again, "plant", "--most", 100000)["data"]["rows"]})
notes = {r["note"] for r in run("rows", true_again, "plant_record", "--most", 100000)["data"]["rows"]}
check("guarded text comes back as it was", {"=HYPERLINK(1)", "'quoted"} <= notes, notes)
run("package", wood, "--to", work / "twice")
second = all_text(work / "twice")
differ = [p for p in files if files[p] != second.get(p) and p not in ("programme.gpkg", "checksums.sha256")]
check("the same programme gives the same bytes", not differ, differ)

# what is refused
check("nothing is written over", "already" in run("package", wood, "--to", folder, fails=True))
path = work / "broken" / "data/plant_record.csv"
if not path.exists():
    shutil.copytree(folder, work / "broken")
    path.write_text(path.read_text(encoding="utf-8").replace(",not_found,", ",mislaid,", 1), encoding="utf-8")
check("a table that was changed is told by its fingerprint", "fingerprint" in run("unpack", work / "broken", work / "no.gpkg", fails=True))
described = json.loads((work / "broken/datapackage.json").read_text())
for resource in described["resources"]:
    resource.pop("hash")
(work / "broken/datapackage.json").write_text(json.dumps(described))
said = run("unpack", work / "broken", work / "no.gpkg", fails=True)
check("a wrong word is refused with file, row and column", "plant_record.csv" in said and "status" in said and "mislaid" in said, said)
check("and nothing is made", not (work / "no.gpkg").exists())
path.write_text(path.read_text(encoding="utf-8").replace(",mislaid,", ",not_found,", 1), encoding="utf-8")
lines = (work / "broken/data/plant.csv").read_text(encoding="utf-8").splitlines()
(work / "broken/data/plant.csv").write_text("\n".join(lines[:-1]) + "\n", encoding="utf-8")
shutil.copy(folder / "data/plant.csv", work / "whole.csv")
(work / "broken/data/plant.csv").write_text("\n".join(lines[:2]) + "\n", encoding="utf-8")
check("a key that leads nowhere is refused", "No row of plant" in run("unpack", work / "broken", work / "no.gpkg", fails=True))
(work / "empty.zip").write_bytes(b"PK\x05\x06" + bytes(18))
check("a zip that is no package is refused", "datapackage.json" in run("unpack", work / "empty.zip", work / "no.gpkg", fails=True))
with zipfile.ZipFile(work / "bomb.zip", "w", zipfile.ZIP_DEFLATED) as bomb:
    bomb.writestr("datapackage.json", "{}")
    bomb.writestr("data/site.csv", b"\0" * (64 << 20))
check("a zip made to do harm is refused", "times over" in run("unpack", work / "bomb.zip", work / "no.gpkg", fails=True))
sys.exit(1 if bad else 0)
