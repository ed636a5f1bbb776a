#!/bin/bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Programs of others read the programme file: GDAL's GeoPackage driver and its validator against OGC 12-128r17, and sqlite3.
# MAKE_WOOD names the program that writes the file; otherwise it is looked for beside $SPINNEY's build.
bad=0
ok() { echo "ok   $1"; }
FAIL() { echo "FAIL $1"; bad=1; }
same() { if [ "$2" = "$3" ]; then ok "$1"; else FAIL "$1: got '$2', wanted '$3'"; fi; }

make_wood=${MAKE_WOOD:-$(dirname "${SPINNEY:-build/src/cli/spinney}")/../../tests/store/make_wood}
[ -x "$make_wood" ] || { echo "skip the program that writes the example file is not built"; exit 0; }
command -v ogrinfo > /dev/null || { echo "skip GDAL's programs are not installed (gdal-bin)"; exit 0; }
folder=$(mktemp -d) || exit 1
trap 'rm -rf "$folder"' EXIT
file=$folder/wood.gpkg
"$make_wood" "$file" || { FAIL "writing the example file"; exit 1; }

# one layer: number of features, kind of geometry, code of the reference system
layer() {
    local said
    said=$(ogrinfo -ro -so "$file" "$1" 2>&1)
    same "$1: features" "$(sed -n 's/^Feature Count: //p' <<< "$said")" "$2"
    same "$1: geometry" "$(sed -n 's/^Geometry: //p' <<< "$said")" "$3"
    if [ "$3" != None ]; then
        same "$1: reference system" "$(grep -c '^    ID\["EPSG",25832\]\]' <<< "$said")" 1
    fi
    grep -iE 'warning|error' <<< "$said" && FAIL "$1: GDAL complains"
}
layer site 1 "Multi Polygon"
layer plot 2 "Multi Polygon"
layer constraint 2 "Unknown (any)"
layer plant 60 Point
layer cell 0 "Multi Polygon"
layer position 0 Point
layer plant_record 60 None
layer visit 1 None
layer spinney_step 3 None

# every noun is there, and nothing else that GDAL would show
nouns=$(grep -c '^noun ' "${SPINNEY_SOURCE:-.}/src/model/nouns.txt")
same "layers and tables" "$(ogrinfo -ro -q "$file" | wc -l)" $((nouns + 3))

# types of columns as GDAL understands them
types=$(ogrinfo -ro -so "$file" plant_record)
for column in 'observed_on: Date' 'height_cm: Real' 'repeat: Integer(Boolean)' 'status: String' 'plant_id: Integer64' 'created_at: DateTime'; do
    if grep -qF "$column" <<< "$types"; then ok "plant_record.$column"; else FAIL "plant_record.$column"; fi
done

# through GeoJSON and back: the same places and values
ogr2ogr -f GeoJSON -lco RFC7946=NO -lco COORDINATE_PRECISION=15 "$folder/plants.json" "$file" plant || FAIL "writing GeoJSON"
ogr2ogr -f GPKG "$folder/back.gpkg" "$folder/plants.json" -nln plant || FAIL "reading GeoJSON"
columns="uuid, species, number, planted_on, plot_id"
there=$(ogrinfo -ro -q "$file" -sql "SELECT $columns, ST_MinX(geom) AS x, ST_MinY(geom) AS y FROM plant ORDER BY uuid" | grep -v '^Layer')
again=$(ogrinfo -ro -q "$folder/back.gpkg" -sql "SELECT $columns, ST_MinX(geom) AS x, ST_MinY(geom) AS y FROM plant ORDER BY uuid" | grep -v '^Layer')
strip() { sed -E 's/\((Integer64|Integer|Date|String|Real)\)//' ; }
if [ -n "$there" ] && [ "$(strip <<< "$there")" = "$(strip <<< "$again")" ]; then ok "60 plants through GeoJSON and back"; else FAIL "plants through GeoJSON and back"; fi

# the spatial index answers as the geometries do
same "plants in a box, by index and without" \
    "$(ogrinfo -ro -q "$file" plant -spat 500000 5700000 500010 5700010 | grep -c '^OGRFeature')" \
    "$(ogrinfo -ro -q "$file" -sql 'SELECT count(*) AS n FROM plant WHERE ST_MinX(geom) <= 500010 AND ST_MinY(geom) <= 5700010' | sed -n 's/.*n (Integer) = //p')"

# another program may write: its new row shows in the layer and in the index
ogrinfo -q "$file" -sql "UPDATE plant SET tag = 'seen' WHERE fid = 1" > /dev/null 2>&1
same "a value changed by GDAL" "$(ogrinfo -ro -q "$file" plant -fid 1 | sed -n 's/.*tag (String) = //p')" seen
if command -v sqlite3 > /dev/null; then
    same "integrity by sqlite3" "$(sqlite3 "$file" 'PRAGMA integrity_check')" ok
    same "foreign keys by sqlite3" "$(sqlite3 "$file" 'PRAGMA foreign_key_check')" ""
    same "application id" "$(sqlite3 "$file" 'PRAGMA application_id')" 1196444487
    same "version" "$(sqlite3 "$file" 'PRAGMA user_version')" 10300
fi

# GDAL's validator, clause by clause
validator=
for path in /usr/lib/python3/dist-packages/osgeo_utils/samples/validate_gpkg.py /usr/share/doc/python3-gdal/examples/validate_gpkg.py; do
    [ -r "$path" ] && validator=$path && break
done
if [ -z "$validator" ] || ! /usr/bin/python3 -c 'import osgeo' 2> /dev/null; then
    echo "skip GDAL's validator is not installed (python3-gdal)"
else
    said=$(/usr/bin/python3 "$validator" "$file" 2>&1)
    same "GDAL's validator finds nothing" "$?$said" 0
    # and it can find something: a file with a wrong kind of geometry
    cp "$file" "$folder/wrong.gpkg"
    sqlite3 "$folder/wrong.gpkg" "UPDATE gpkg_geometry_columns SET z = 7 WHERE table_name = 'plant'" 2> /dev/null
    if /usr/bin/python3 "$validator" "$folder/wrong.gpkg" > /dev/null 2>&1; then FAIL "the validator passes a wrong file"; else ok "the validator finds a planted mistake"; fi
fi
exit $bad
