#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Areas, lengths, buffers and points of geo/ against GDAL's and PROJ's own tools, live, on invented shapes and real outlines.
need=""
for tool in ogrinfo ogr2ogr gdaltransform python3; do
    command -v "$tool" >/dev/null 2>&1 || need="$need $tool"
done
if [ -n "$need" ] || [ -z "$SPINNEY" ]; then
    echo "skip geo:$need not here (Debian: gdal-bin python3)"
    exit 0
fi
dir=$(mktemp -d) || exit 3
trap 'rm -rf "$dir"' EXIT
cat >"$dir/run.py" <<'PY'
import json, os, re, subprocess, sys
spinney, folder, shared = os.environ["SPINNEY"], sys.argv[1], os.environ.get("SPINNEY_SHARED", "")
failed = 0

def calc(name, **inputs):
    done = subprocess.run([spinney, "calc", name, "--json", "--in"] + [f"{k}={v}" for k, v in inputs.items()],
                          capture_output=True, text=True)
    if done.returncode != 0:
        raise SystemExit(f"FAIL geo: calc {name}: {done.stderr.strip()}")
    note = json.loads(done.stdout)
    return note["data"]["result"]

def near(what, got, wanted, tolerance):
    global failed
    good = got is not None and abs(got - wanted) <= tolerance
    failed += not good
    print(f"{'ok' if good else 'FAIL'} geo: {what}: {got} (reference {wanted}, within {tolerance})")

def sqlite(path, sql):
    out = subprocess.run(["ogrinfo", "-q", "-dialect", "SQLite", "-sql", sql, path], capture_output=True, text=True, check=True).stdout
    return [float(x) for x in re.findall(r"= (-?[\d.eE+-]+)", out)]

def transform(source, target, x, y):
    out = subprocess.run(["gdaltransform", "-s_srs", source, "-t_srs", target, "-output_xy"], input=f"{x} {y}\n", capture_output=True, text=True,
                         check=True).stdout
    return [float(v) for v in out.split()[:2]]

for source, target, x, y in [("EPSG:4326", "EPSG:27700", -2.3, 53.4), ("EPSG:4326", "EPSG:32630", -2.3, 53.4), ("EPSG:4258", "EPSG:2154", 2.3, 48.9),
                             ("EPSG:4326", "EPSG:28992", 5.18, 52.1), ("EPSG:27700", "EPSG:4326", 380000, 390000), ("EPSG:4326", "EPSG:2157", -6.3, 53.3)]:
    got = calc("point_transform", **{"from": source, "to": target, "x": x, "y": y})
    want = transform(source, target, x, y)
    tolerance = 1e-8 if target == "EPSG:4326" else 1e-3
    near(f"{source} to {target}, x", got["x"], want[0], tolerance)
    near(f"{source} to {target}, y", got["y"], want[1], tolerance)

shapes = ["POLYGON((0 0,40 0,40 12,15 14,13 33,0 30,0 0),(5 5,8 5,8 9,5 5))", "MULTIPOLYGON(((0 0,9 1,4 7,0 0)),((20 20,31 20,20 35,20 20)))",
          "LINESTRING(0 0,3 4,10 4)"]
for wkt in shapes:
    path = os.path.join(folder, "s.csv")
    open(path, "w").write(f'id,WKT\n1,"{wkt}"\n')
    line = wkt.startswith("LINE")
    want = sqlite(path, "SELECT ST_Area(GeomFromText(WKT)) AS a, " + ("ST_Length" if line else "ST_Perimeter") + "(GeomFromText(WKT)) AS p, " +
                  "ST_Area(ST_Buffer(GeomFromText(WKT), 5, 32)) AS b FROM s")
    got = calc("shape_measure", wkt=wkt, crs="EPSG:27700", to="EPSG:27700")
    wide = calc("shape_buffer", wkt=wkt, crs="EPSG:27700", to="EPSG:27700", distance=5)
    want = ([0] + want if line and len(want) == 2 else want)
    near(f"area of {wkt[:24]}…", got["area"], want[0], 1e-9)
    near(f"length of {wkt[:24]}…", got["length"], want[1], 1e-9)
    near(f"area within 5 m of {wkt[:24]}…", wide["area"], want[2], 1e-6)

real = os.path.join(shared, "data/greenspace_polygons/trafford_greenspaces.geojson")
if os.path.exists(real):
    grid = os.path.join(folder, "g.csv")
    subprocess.run(["ogr2ogr", "-f", "CSV", grid, real, "-t_srs", "EPSG:27700", "-lco", "GEOMETRY=AS_WKT", "-limit", "5"], check=True, capture_output=True)
    raw = os.path.join(folder, "r.csv")
    subprocess.run(["ogr2ogr", "-f", "CSV", raw, real, "-lco", "GEOMETRY=AS_WKT", "-limit", "5"], check=True, capture_output=True)
    import csv
    csv.field_size_limit(1 << 30)
    for i, (a, b) in enumerate(zip(csv.DictReader(open(raw)), csv.DictReader(open(grid)))):
        if len(a["WKT"]) > 100000:
            continue
        one = os.path.join(folder, "one.csv")
        open(one, "w").write(f'id,WKT\n1,"{b["WKT"]}"\n')
        want = sqlite(one, "SELECT ST_Area(GeomFromText(WKT)) AS a, ST_Perimeter(GeomFromText(WKT)) AS p FROM one")
        got = calc("shape_measure", wkt=a["WKT"], crs="EPSG:4326", to="EPSG:27700")
        near(f"area of real outline {i}", got["area"], want[0], 1e-4 * want[0] ** 0.5)
        near(f"outline of real outline {i}", got["length"], want[1], 1e-3)
else:
    print("skip geo: real outlines are not here")
sys.exit(failed > 0)
PY
python3 "$dir/run.py" "$dir"
