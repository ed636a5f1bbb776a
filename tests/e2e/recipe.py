# SPDX-License-Identifier: GPL-3.0-or-later
"""Recipes handed on (F53): recipe.py SPINNEY WORK."""
import json
import pathlib
import subprocess
import sys
import zipfile

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


def add(file, noun, **fields):
    return run("add", file, noun, json.dumps(fields))["data"]["row"]["id"]


def programme(file, code, depth, plants, weeks):
    run("new", file, "--name", "Woods", "--crs", "EPSG:32629")
    run("site", file, code, "--name", code, "--region", "ireland", "--wkt", "POLYGON((500000 5400000,500040 5400000,500040 5400030,500000 5400030,500000 5400000))")
    how = add(file, "preparation", name="deep", loosened_depth_m=depth, compost_depth_m=0.1, mulch_depth_m=0.12)
    plot = add(file, "plot", site_id=1, code="D1", regime="dense_prepared", preparation_id=how, net_area_m2=10, planted_on="2024-02-10")
    layers = ("canopy", "subcanopy", "shrub")
    names = ("Quercus robur", "Malus sylvestris", "Corylus avellana", "Betula pendula", "Crataegus monogyna")
    for i in range(plants):
        add(file, "plant", plot_id=plot, species=names[i % 5], layer=layers[i % 3], origin="first_planting", number=i + 1)
    day = f"2024-0{2 + (10 + 7 * weeks) // 29}-{(10 + 7 * weeks) % 29 + 1:02d}"
    add(file, "visit", site_id=1, kind="as_planted_census", from_on=day)


ours, theirs, pack = work / "ours.gpkg", work / "theirs.gpkg", work / "recipe.zip"
programme(ours, "GL", 0.6, 30, 2)
add(ours, "plot", site_id=1, code="C1", regime="conventional", net_area_m2=10)
add(ours, "cost_item", phase="plants", item="whips", unit="piece", unit_price=0.95, quantity=30, amount=28.5, price_year=2024)
add(ours, "local_rule", topic="fence.height", words="Fences at least so high", unit="m", value_num=1.2, said_by="council", said_on="2024-01-01")
made = run("recipe", ours, "--to", pack, "--name", "Deep and dense", "--site", "GL")
with zipfile.ZipFile(pack) as z:
    recipe = json.loads(z.read("recipe.json"))
    readme = z.read("README.md").decode()
    names = z.namelist()
steps = {s["topic"]: s for s in recipe["steps"]}
check("the pack has core, adaptable and forbidden steps", {s["class"] for s in recipe["steps"]} == {"core", "adaptable", "forbidden"})
check("figures are what was done there", abs(steps["density_m2"]["figure"] - 3) < 1e-9 and abs(steps["loosened_depth_m"]["figure"] - 0.6) < 1e-9 and steps["species_count"]["figure"] == 5)
check("limits stand beside them", abs(steps["density_m2"]["least"] - 2.7) < 1e-9 and abs(steps["density_m2"]["most"] - 3.3) < 1e-9)
check("what nobody recorded is no step", "waterings_first_year" not in steps)
check("rules travel without their value", {r["topic"] for r in recipe["local_rules"]} >= {"fence.height", "standoff.buried_service"} and "1.2" not in json.dumps(recipe["local_rules"]))
check("unit prices, forms and words are in it", recipe["unit_costs"][0]["unit_price"] == 0.95 and "forms/plant_record.csv" in names and "Forbidden shortcuts" in readme and "fill" in readme)

programme(theirs, "NW", 0.25, 22, 6)
taken = run("adopt", theirs, pack, "NW")
words = [c for s in taken["sections"] for r in s["table"]["rows"] for c in r]
check("a missing local rule shows \"fill in locally\" (F53)", "fill in locally" in words and taken["data"]["missing"] == len(recipe["local_rules"]))
check("and stands in the programme with who asked for it", any(r["topic"] == "fence.height" and "fill in locally" in r["words"] for r in run("rows", theirs, "local_rule")["data"]["rows"]))
held = run("fidelity", theirs, "NW")
rows = {r[2]: r for r in held["sections"][0]["table"]["rows"]}
state = lambda part: next(r[6] for w, r in rows.items() if part in w)
check("too few plants to the square metre is told", state("square metre of net area") == "deviated")
check("too shallow is told", state("Loosen") == "deviated")
check("what lies within limits is kept", state("mulch") == "kept" and state("height layers") == "kept")
check("a first census after six weeks is told", state("within so many weeks") == "deviated")
check("no comparison plot is told", state("comparison plot beside") == "deviated")
check("what was not checked is not known, never kept", state("buried services") == "not known")
check("a deviation is put on record with its reason", run("fidelity", theirs, "NW", "--number", int(next(r[0] for w, r in rows.items() if "Loosen" in w)), "--plot", "D1", "--words", "25 cm", "--reason", "roots of a kept tree")["step"] > 0)
again = run("fidelity", theirs, "NW")
check("and shown beside the step", any("roots of a kept tree" in str(r[7]) for r in again["sections"][0]["table"]["rows"]))
check("the site that wrote it keeps it", run("adopt", ours, pack, "GL") and run("fidelity", ours, "GL")["data"]["core_deviated"] <= 3)
twice = run("adopt", theirs, pack, "NW")
check("taken over again, no rule is asked for twice", twice["data"]["missing"] == 0)
run("undo", theirs, twice["step"])

for name, text in (("no JSON", "{"), ("another thing", "{}"), ("a newer kind", '{"recipe_pack": 2}'),
                   ("a member nobody knows", json.dumps({**recipe, "colour": "red"})),
                   ("no steps", json.dumps({**recipe, "steps": []})),
                   ("a step without class", json.dumps({**recipe, "steps": [{"number": 1, "topic": "x", "words": "y"}]}))):
    path = work / "bad.json"
    path.write_text(text)
    before = run("rows", theirs, "recipe")["data"]["count"]
    said = run("adopt", theirs, path, "NW", fails=True)
    check(f"{name}: refused in a sentence, nothing stored", len(said) > 20 and run("rows", theirs, "recipe")["data"]["count"] == before, said)
empty = work / "empty.gpkg"
run("new", empty, "--name", "Woods", "--crs", "EPSG:32629")
check("no dense plot, no recipe", "dense" in run("recipe", empty, "--to", work / "x.zip", "--name", "x", fails=True))
sys.exit(1 if bad else 0)
