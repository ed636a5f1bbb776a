# SPDX-License-Identifier: GPL-3.0-or-later
"""OGC API - Features, live: features.py SPINNEY SOURCE WORK. Each conformance class that is claimed, by its requirements (OGC 17-069r4,
19-079r2, 21-065r2); filters against the same question asked in Python; GDAL's and QGIS's drivers."""
import http.client
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import urllib.parse

spinney, source, work = sys.argv[1], pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3])
wood = work / "wood.gpkg"
bad = False


def check(name, holds, more=""):
    global bad
    bad = bad or not holds
    print(f"ok {name}" if holds else f"FAIL {name}: {str(more)[:400]}")


def run(*words):
    done = subprocess.run([spinney, *map(str, words), "--json"], capture_output=True, text=True)
    if done.returncode != 0:
        print(f"FAIL spinney {' '.join(map(str, words))[:120]}: {(done.stderr + done.stdout)[:300]}")
        sys.exit(1)
    return json.loads(done.stdout)


def add(noun, **fields):
    return run("add", wood, noun, json.dumps(fields))["data"]["row"]["id"]


run("new", wood, "--name", "Woods", "--crs", "EPSG:32629")
for code, x in (("LK", 512345), ("BS", 513345)):
    run("site", wood, code, "--name", f"Site {code}", "--region", "ireland", "--wkt",
        f"POLYGON(({x} 5412345,{x + 40} 5412345,{x + 40} 5412375,{x} 5412375,{x} 5412345))")
plot = add("plot", site_id=1, code="D1", regime="dense_prepared", density_m2=3, geometry={
    "type": "Polygon", "coordinates": [[[512350, 5412350], [512360, 5412350], [512360, 5412360], [512350, 5412360], [512350, 5412350]]]})
names = ["Quercus robur", "Quercus petraea", "Betula pendula", "Crataegus monogyna"]
plants = [add("plant", plot_id=plot, species=names[i % 4], origin="first_planting", tag=str(100 + i), number=i + 1, x_m=512350.5 + i % 10, y_m=5412350.5 + i // 10,
              planted_on=f"202{4 + i % 2}-02-{1 + i:02d}") for i in range(25)]
visit = add("visit", site_id=1, kind="census", from_on="2024-09-14")
for i, plant in enumerate(plants):
    add("plant_record", visit_id=visit, plant_id=plant, observed_on="2024-09-14", status="alive" if i % 3 else "dead_standing",
        height_cm=40 + 3 * i if i % 3 else None, note="it's 100 % fine" if i == 4 else None, repeat=True if i == 5 else None)
records = run("rows", wood, "plant_record", "--most", 1000)["data"]["rows"]
rows = run("rows", wood, "plant", "--most", 1000)["data"]["rows"]

server = subprocess.Popen([spinney, "serve", wood, "--token", "a-fixed-word"], stdout=subprocess.PIPE, text=True)
line = server.stdout.readline() + server.stdout.readline()
base = re.search(r"http://\S+/features/\S+", line).group(0)
host, root = urllib.parse.urlsplit(base).netloc, urllib.parse.urlsplit(base).path


def ask(path="", method="GET", headers=None, body=None, **query):
    link = http.client.HTTPConnection(host, timeout=60)
    words = urllib.parse.urlencode({k.replace("_lang", "-lang").replace("_crs", "-crs"): v for k, v in query.items()})
    link.request(method, root + path + ("?" + words if words else ""), body=body, headers=headers or {})
    answer = link.getresponse()
    text = answer.read()
    kind = answer.getheader("Content-Type", "")
    link.close()
    return answer.status, kind, json.loads(text) if "json" in kind else text


def links(thing):
    return {link["rel"]: link for link in thing["links"]}


try:
    # core
    status, kind, landing = ask()
    check("core: the landing page links to its parts", status == 200 and {"self", "service-desc", "conformance", "data"} <= set(links(landing)))
    status, kind, conforms = ask("/conformance")
    claimed = set(conforms["conformsTo"])
    check("core: conformance is declared", status == 200 and "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/core" in claimed)
    status, kind, api = ask("/api")
    check("oas30: the interface is described in OpenAPI 3.0", status == 200 and kind.startswith("application/vnd.oai.openapi+json;version=3.0") and api["openapi"].startswith("3.0"))
    operations = [p for p in api["paths"]]
    check("oas30: every operation has a response and every path its parameters", all(
        "200" in o["get"]["responses"] and {m for m in re.findall(r"\{(\w+)\}", p)} <= {q["name"] for q in o["get"]["parameters"] if q["in"] == "path"}
        for p, o in api["paths"].items()), operations)
    status, kind, all_of = ask("/collections")
    collections = {c["id"]: c for c in all_of["collections"]}
    check("core: collections are those with rows", {"site", "plot", "plant", "plant_record", "visit", "programme"} == set(collections), set(collections))
    status, kind, one = ask("/collections/plant")
    check("core: a collection says the same alone", one == collections["plant"])
    check("core: a collection says where and when", len(one["extent"]["spatial"]["bbox"][0]) == 4 and one["extent"]["temporal"]["interval"][0][0].startswith("2024-02-01"), one)
    status, kind, page = ask("/collections/plant/items", limit=10)
    check("geojson: items come as GeoJSON", status == 200 and kind.startswith("application/geo+json") and page["type"] == "FeatureCollection")
    check("core: a page says how many match and are returned", page["numberMatched"] == 25 and page["numberReturned"] == 10 == len(page["features"]))
    seen, at = [], "/collections/plant/items?limit=10"
    while at:
        status, kind, page = ask(at)
        seen += [f["id"] for f in page["features"]]
        at = links(page)["next"]["href"][len(base):] if "next" in links(page) else None
    check("core: the next links give every feature once", len(seen) == 25 == len(set(seen)) and set(seen) == {r["uuid"] for r in rows})
    status, kind, item = ask(f"/collections/plant/items/{seen[3]}")
    check("core: one feature, with its links", status == 200 and item["id"] == seen[3] and {"self", "collection"} <= set(links(item)))
    check("core: what is not there is 404", ask("/collections/nothing")[0] == 404 and ask("/collections/nothing/items")[0] == 404 and ask("/collections/plant/items/nothing")[0] == 404 and ask("/nothing")[0] == 404)
    check("core: an unknown parameter is 400", ask("/collections/plant/items", colour="red")[0] == 400 and ask("/collections", limit=3)[0] == 400)
    check("core: a wrong value is 400", all(ask("/collections/plant/items", **q)[0] == 400 for q in (
        {"limit": 0}, {"limit": "many"}, {"bbox": "1,2,3"}, {"bbox": "a,b,c,d"}, {"datetime": "yesterday"}, {"datetime": "2025-01-01/2024-01-01"}, {"filter_lang": "sql"})))
    places = {f["id"]: f["geometry"]["coordinates"] for f in ask("/collections/plant/items", limit=100)[2]["features"]}
    xs = sorted(p[0] for p in places.values())
    west, east = (max((b - a, (a + b) / 2) for a, b in zip(part, part[1:]))[1] for part in (xs[:8], xs[14:]))
    box = f"{west},48,{east},49"
    inside = {k for k, p in places.items() if west <= p[0] <= east}
    check("core: bbox gives what lies in it", {f["id"] for f in ask("/collections/plant/items", limit=100, bbox=box)[2]["features"]} == inside and 0 < len(inside) < 25)
    check("core: a box over the antimeridian takes the far sides", ask("/collections/plant/items", bbox="170,40,-170,50")[2]["numberMatched"] == 0 and
          ask("/collections/plant/items", bbox="-10,40,-170,50")[2]["numberMatched"] == 25)
    days = {r["uuid"]: r["planted_on"] for r in rows}
    for words, fits in (("2024-02-05", lambda d: d == "2024-02-05"), ("2024-02-05/2025-02-10", lambda d: "2024-02-05" <= d <= "2025-02-10"),
                        ("../2024-12-31", lambda d: d <= "2024-12-31"), ("2025-01-01T00:00:00Z/..", lambda d: d >= "2025-01-01")):
        got = {f["id"] for f in ask("/collections/plant/items", limit=100, datetime=words)[2]["features"]}
        check(f"core: datetime {words}", got == {k for k, d in days.items() if fits(d)})
    check("queryables as parameters: a property chooses rows", ask("/collections/plant/items", species="Betula pendula", number=3)[2]["numberMatched"] == 1)
    properties = ask("/collections/plant/items", limit=1)[2]["features"][0]["properties"]
    check("geojson: a label that looks like a number stays text, a number is one", properties["tag"] == "100" and properties["number"] == 1)
    check("geojson: a row without place has a null geometry", ask("/collections/plant_record/items", limit=1)[2]["features"][0]["geometry"] is None)
    ring = ask("/collections/plot/items")[2]["features"][0]["geometry"]["coordinates"][0]
    turn = sum((b[0] - a[0]) * (b[1] + a[1]) for a, b in zip(ring, ring[1:]))
    check("geojson: outer rings turn left (RFC 7946)", ring[0] == ring[-1] and turn < 0)

    # queryables and filters, each held against the same question in Python
    status, kind, schema = ask("/collections/plant_record/queryables")
    check("queryables: a JSON Schema of the properties", status == 200 and kind.startswith("application/schema+json") and schema["properties"]["height_cm"]["type"] == "number" and
          schema["properties"]["status"]["enum"][0] == "alive" and schema["properties"]["repeat"]["type"] == "boolean")
    check("queryables: a collection links to them", "http://www.opengis.net/def/rel/ogc/1.0/queryables" in links(collections["plant_record"]))
    h = "height_cm"
    cases = [
        ("status = 'alive'", lambda r: r["status"] == "alive"),
        ("status <> 'alive'", lambda r: r["status"] != "alive"),
        ("height_cm > 60 AND height_cm <= 90", lambda r: r[h] is not None and 60 < r[h] <= 90),
        ("height_cm < 50 OR height_cm >= 100", lambda r: r[h] is not None and (r[h] < 50 or r[h] >= 100)),
        ("NOT height_cm > 60", lambda r: r[h] is not None and not r[h] > 60),
        ("NOT (status = 'alive' AND height_cm > 60)", lambda r: r["status"] != "alive" or (r[h] is not None and not r[h] > 60)),
        ("height_cm IS NULL", lambda r: r[h] is None),
        ("height_cm IS NOT NULL", lambda r: r[h] is not None),
        ("height_cm BETWEEN 61 AND 90.5", lambda r: r[h] is not None and 61 <= r[h] <= 90.5),
        ("height_cm NOT BETWEEN 61 AND 90.5", lambda r: r[h] is not None and not 61 <= r[h] <= 90.5),
        ("status IN ('dead_standing','missing')", lambda r: r["status"] == "dead_standing"),
        ("height_cm NOT IN (43, 46)", lambda r: r[h] is not None and r[h] not in (43, 46)),
        ("note LIKE 'it''s 100 \\% %'", lambda r: r["note"] is not None),
        ("status LIKE '_live'", lambda r: r["status"] == "alive"),
        ("status NOT LIKE 'dead%'", lambda r: r["status"] == "alive"),
        ("repeat = TRUE", lambda r: r["repeat"] is True),
        ("observed_on >= DATE('2024-09-14')", lambda r: True),
        ("observed_on > DATE('2024-09-14')", lambda r: False),
        ("60 < height_cm", lambda r: r[h] is not None and r[h] > 60),
        ("true", lambda r: True),
        ("\"status\" = 'alive' and height_cm > 6e1", lambda r: r[h] is not None and r[h] > 60),
        ("height_cm = status", lambda r: False),
        (f"id = '{records[2]['uuid']}'", lambda r: r["uuid"] == records[2]["uuid"]),
    ]
    for words, fits in cases:
        got = {f["id"] for f in ask("/collections/plant_record/items", limit=100, filter=words)[2].get("features", [])}
        want = {r["uuid"] for r in records if fits(r)}
        check(f"cql2-text: {words}", got == want, (len(got), len(want)))
    polygon = f"POLYGON(({west} 48,{east} 48,{east} 49,{west} 49,{west} 48))"
    for words in (f"S_INTERSECTS(geometry,{polygon})", f"S_INTERSECTS(geometry, BBOX({box}))", f"NOT S_INTERSECTS(geometry, BBOX({box}))"):
        got = {f["id"] for f in ask("/collections/plant/items", limit=100, filter=words)[2].get("features", [])}
        check(f"basic spatial functions: {words[:22]}", got == (set(places) - inside if words.startswith("NOT") else inside), len(got))
    both = ask("/collections/plant/items", limit=100, bbox=box, filter="species LIKE 'Quercus%'", datetime="2024-01-01/2024-12-31", filter_lang="cql2-text")[2]
    check("filter, box and days hold together", {f["id"] for f in both["features"]} == {r["uuid"] for r in rows if r["uuid"] in inside and r["species"].startswith("Quercus") and r["planted_on"] < "2025"})
    wrongs = ("height_cm >", "height_cm = = 3", "(height_cm > 3", "colour = 'red'", "status = 'alive", "height_cm > 3 height_cm", "LIKE", "S_INTERSECTS(geometry, POLYGON((0 0)))",
              "S_INTERSECTS(geometry, POINT(1 2))", "(" * 100 + "true" + ")" * 100, "note LIKE 3", "height_cm IN ()")
    answers = [ask("/collections/plant_record/items", filter=w) for w in wrongs]
    check("a filter that is not understood is 400 and says where", all(a[0] == 400 and a[2]["description"] for a in answers), [a[0] for a in answers])

    # who may read
    link = http.client.HTTPConnection(host, timeout=20)
    for path, wanted in (("/features/wrong-key/collections", 403), ("/features/", 403), ("/features", 401)):
        link.request("GET", path)
        answer = link.getresponse()
        answer.read()
        check(f"without its key nothing is read: {path}", answer.status == wanted, answer.status)
    link.request("GET", root + "/collections", headers={"Host": "elsewhere.example"})
    answer = link.getresponse()
    answer.read()
    check("another host name is refused", answer.status == 421, answer.status)
    link.close()
    check("nothing can be written", all(ask("/collections/plant/items", method=m, body="{}", headers={"Content-Type": "application/json"})[0] in (403, 405) for m in ("POST", "PUT", "DELETE", "PATCH")))

    # other people's programs
    if shutil.which("ogrinfo"):
        done = subprocess.run(["ogrinfo", "-ro", "-so", "-al", f"OAPIF:{base}"], capture_output=True, text=True)
        counts = dict(zip(re.findall(r"^Layer name: (\S+)", done.stdout, re.M), map(int, re.findall(r"^Feature Count: (\d+)", done.stdout, re.M))))
        check("GDAL reads every collection with its count", counts.get("plant") == 25 and counts.get("plant_record") == 25 and counts.get("site") == 2 and len(counts) == 6, counts)
        done = subprocess.run(["ogr2ogr", "-f", "GeoJSON", "-where", "species = 'Betula pendula'", "-oo", "PAGE_SIZE=7", work / "out.geojson", f"OAPIF:{base}", "plant"], capture_output=True, text=True)
        out = json.loads((work / "out.geojson").read_text()) if (work / "out.geojson").exists() else {"features": []}
        check("GDAL copies what it asks for, page by page", len(out["features"]) == len([r for r in rows if r["species"] == "Betula pendula"]), done.stderr)
        done = subprocess.run(["ogrinfo", "-ro", "-so", wood, "plant"], capture_output=True, text=True)
        check("the file itself has as many", f"Feature Count: {counts.get('plant')}" in done.stdout, done.stdout[:200])
    else:
        print("skip GDAL is not here")
    probe = ("import sys\nfrom qgis.core import QgsApplication, QgsVectorLayer, QgsFeatureRequest\nQgsApplication.setPrefixPath('/usr', True)\napp = QgsApplication([], False)\napp.initQgis()\n"
             "url = sys.argv[1]\n"
             "layer = QgsVectorLayer(f\"url='{url}' typename='plant' srsname='OGC:CRS84' pagingEnabled='true' pageSize='7'\", 'plant', 'OAPIF')\n"
             "print('valid', layer.isValid())\nn = 0\nwest = 180\nfor f in layer.getFeatures():\n    n += 1\n    west = min(west, f.geometry().asPoint().x())\n"
             "print('count', n)\nprint('west', west)\n"
             "layer.setSubsetString(\"\\\"species\\\" = 'Betula pendula'\")\nprint('some', sum(1 for f in layer.getFeatures(QgsFeatureRequest().setFilterExpression(\"\\\"species\\\" = 'Betula pendula'\"))))\napp.exitQgis()\n")
    python = "/usr/bin/python3" if pathlib.Path("/usr/bin/python3").exists() else sys.executable
    done = subprocess.run([python, "-c", probe, base], capture_output=True, text=True, env={**os.environ, "QT_QPA_PLATFORM": "offscreen", "HOME": str(work)}, timeout=120)
    if "No module named 'qgis'" in done.stderr:
        print("skip QGIS is not here (python3-qgis)")
    else:
        check("QGIS's own driver reads every plant, page by page", "valid True" in done.stdout and "count 25" in done.stdout, done.stdout + done.stderr[-400:])
        check("and where they stand", abs(float((re.search(r"west (\S+)", done.stdout) or [0, 0])[1]) - min(p[0] for p in places.values())) < 1e-6, done.stdout)
finally:
    server.terminate()
    server.wait(timeout=20)
again = subprocess.Popen([spinney, "serve", wood, "--token", "a-fixed-word"], stdout=subprocess.PIPE, text=True)
line = again.stdout.readline() + again.stdout.readline()
check("the same token gives the same address but for the port", re.search(r"/features/\S+", line).group(0) == root)
again.terminate()
again.wait(timeout=20)
sys.exit(1 if bad else 0)
