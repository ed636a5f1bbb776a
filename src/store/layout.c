/* SPDX-License-Identifier: GPL-3.0-or-later
 * The tables of the file: those a GeoPackage must have (OGC 12-128r17, annex C), one for each noun, and the change log. */
#include "store/inside.h"
#include <stdlib.h>
#include <string.h>

static const char *const package_tables =
    "CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY, organization TEXT NOT NULL,"
    " organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);"
    "CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,"
    " description TEXT DEFAULT '', last_change DATETIME NOT NULL DEFAULT (strftime('%%Y-%%m-%%dT%%H:%%M:%%fZ','now')),"
    " min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,"
    " CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));"
    "CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,"
    " srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,"
    " CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name), CONSTRAINT uk_gc_table_name UNIQUE (table_name),"
    " CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),"
    " CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));"
    "CREATE TABLE gpkg_extensions (table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL,"
    " scope TEXT NOT NULL, CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));"
    "INSERT INTO gpkg_spatial_ref_sys VALUES"
    " ('Undefined Cartesian SRS', -1, 'NONE', -1, 'undefined', 'undefined Cartesian coordinate reference system'),"
    " ('Undefined geographic SRS', 0, 'NONE', 0, 'undefined', 'undefined geographic coordinate reference system'),"
    " ('WGS 84 geodetic', 4326, 'EPSG', 4326, 'GEOGCS[\"WGS 84\",DATUM[\"WGS_1984\",SPHEROID[\"WGS 84\",6378137,298.257223563,"
    "AUTHORITY[\"EPSG\",\"7030\"]],AUTHORITY[\"EPSG\",\"6326\"]],PRIMEM[\"Greenwich\",0,AUTHORITY[\"EPSG\",\"8901\"]],"
    "UNIT[\"degree\",0.0174532925199433,AUTHORITY[\"EPSG\",\"9122\"]],AXIS[\"Latitude\",NORTH],AXIS[\"Longitude\",EAST],"
    "AUTHORITY[\"EPSG\",\"4326\"]]', 'longitude and latitude in decimal degrees on the WGS 84 spheroid');";

/* Additions are logged as runs of ids; every other change row by row. The two indexes keep both quick to find. */
static const char *const log_tables =
    "CREATE TABLE spinney_about (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, key TEXT NOT NULL UNIQUE, value TEXT NOT NULL);"
    "CREATE TABLE spinney_step (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, moment DATETIME NOT NULL, author TEXT NOT NULL,"
    " what TEXT NOT NULL, undoes INTEGER REFERENCES spinney_step(id), changes INTEGER NOT NULL DEFAULT 0);"
    "CREATE TABLE spinney_change (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, step_id INTEGER NOT NULL REFERENCES spinney_step(id),"
    " noun TEXT NOT NULL, row_id INTEGER NOT NULL, last_row_id INTEGER, kind TEXT NOT NULL, old_values TEXT, new_values TEXT);"
    "CREATE INDEX spinney_change_step ON spinney_change(step_id);"
    "CREATE INDEX spinney_change_added ON spinney_change(noun, row_id) WHERE kind = 'added';"
    "CREATE INDEX spinney_change_row ON spinney_change(noun, row_id) WHERE kind <> 'added';"
    "INSERT INTO gpkg_contents(table_name, data_type, identifier, description, last_change) VALUES"
    " ('spinney_about', 'attributes', 'spinney_about', 'What made this file, and the version of its layout', %Q),"
    " ('spinney_step', 'attributes', 'spinney_step', 'Steps by which the file came about', %Q),"
    " ('spinney_change', 'attributes', 'spinney_change', 'What each step changed, with the values before and after', %Q);";

/* The published set of triggers that keep the spatial index (annex F.3): %1 stands for the table. */
static const char *const index_triggers[] = {
    "CREATE TRIGGER \"rtree_%w_geom_insert\" AFTER INSERT ON \"%w\" WHEN (new.\"geom\" NOT NULL AND NOT ST_IsEmpty(NEW.\"geom\"))"
    " BEGIN INSERT OR REPLACE INTO \"rtree_%w_geom\" VALUES (NEW.\"fid\", ST_MinX(NEW.\"geom\"), ST_MaxX(NEW.\"geom\"),"
    " ST_MinY(NEW.\"geom\"), ST_MaxY(NEW.\"geom\")); END",
    "CREATE TRIGGER \"rtree_%w_geom_update1\" AFTER UPDATE OF \"geom\" ON \"%w\" WHEN OLD.\"fid\" = NEW.\"fid\" AND"
    " (NEW.\"geom\" NOTNULL AND NOT ST_IsEmpty(NEW.\"geom\"))"
    " BEGIN INSERT OR REPLACE INTO \"rtree_%w_geom\" VALUES (NEW.\"fid\", ST_MinX(NEW.\"geom\"), ST_MaxX(NEW.\"geom\"),"
    " ST_MinY(NEW.\"geom\"), ST_MaxY(NEW.\"geom\")); END",
    "CREATE TRIGGER \"rtree_%w_geom_update2\" AFTER UPDATE OF \"geom\" ON \"%w\" WHEN OLD.\"fid\" = NEW.\"fid\" AND"
    " (NEW.\"geom\" ISNULL OR ST_IsEmpty(NEW.\"geom\")) BEGIN DELETE FROM \"rtree_%w_geom\" WHERE id = OLD.\"fid\"; END",
    "CREATE TRIGGER \"rtree_%w_geom_update3\" AFTER UPDATE ON \"%w\" WHEN OLD.\"fid\" != NEW.\"fid\" AND"
    " (NEW.\"geom\" NOTNULL AND NOT ST_IsEmpty(NEW.\"geom\")) BEGIN DELETE FROM \"rtree_%w_geom\" WHERE id = OLD.\"fid\";"
    " INSERT OR REPLACE INTO \"rtree_%w_geom\" VALUES (NEW.\"fid\", ST_MinX(NEW.\"geom\"), ST_MaxX(NEW.\"geom\"),"
    " ST_MinY(NEW.\"geom\"), ST_MaxY(NEW.\"geom\")); END",
    "CREATE TRIGGER \"rtree_%w_geom_update4\" AFTER UPDATE ON \"%w\" WHEN OLD.\"fid\" != NEW.\"fid\" AND"
    " (NEW.\"geom\" ISNULL OR ST_IsEmpty(NEW.\"geom\")) BEGIN DELETE FROM \"rtree_%w_geom\" WHERE id IN (OLD.\"fid\", NEW.\"fid\"); END",
    "CREATE TRIGGER \"rtree_%w_geom_delete\" AFTER DELETE ON \"%w\" WHEN old.\"geom\" NOT NULL"
    " BEGIN DELETE FROM \"rtree_%w_geom\" WHERE id = OLD.\"fid\"; END",
};

static void add_field(struct text *sql, const struct field *field, bool new_table)
{
    static const char *const types[] = {
        [FIELD_TEXT] = "TEXT", [FIELD_JSON] = "TEXT",  [FIELD_MOMENT] = "TEXT", [FIELD_INT] = "INTEGER", [FIELD_REAL] = "REAL",
        [FIELD_DATE] = "DATE", [FIELD_BYTES] = "BLOB", [FIELD_REF] = "INTEGER", [FIELD_ENUM] = "TEXT"};
    bool truth = field->kind == FIELD_ENUM && field->words == WORDS_TRUTH;
    text_print(sql, "\"%s\" %s", field->name, truth ? "BOOLEAN" : types[field->kind]);
    if (field->required && new_table) /* a younger column of older rows is unknown */
        text_add(sql, " NOT NULL");
    if (field->kind == FIELD_REF)
        text_print(sql, " REFERENCES \"%s\"(fid)", noun_infos[field->target].name);
}

static const char *geometry_name(enum geometry_kind kind)
{
    return kind == GEOMETRY_POINT ? "POINT" : kind == GEOMETRY_POLYGON ? "MULTIPOLYGON" : "GEOMETRY";
}

static enum outcome index_field(struct store *store, const struct noun_info *info, const struct field *field, struct failure *why)
{
    if (field->kind != FIELD_REF)
        return OUTCOME_OK;
    return sql_run(store, why, "CREATE INDEX IF NOT EXISTS \"%w_by_%w\" ON \"%w\"(\"%w\")", info->name, field->name, info->name,
                   field->name);
}

/* The geometry column, its spatial index and the triggers that keep it. */
static enum outcome layout_geometry(struct store *store, const struct noun_info *info, struct failure *why)
{
    const char *t = info->name;
    enum outcome outcome = sql_run(store, why, "INSERT INTO gpkg_geometry_columns VALUES (%Q, 'geom', %Q, %d, 0, 0)", t,
                                   geometry_name(info->geometry), store->srs);
    if (outcome == OUTCOME_OK)
        outcome = sql_run(store, why,
                          "CREATE VIRTUAL TABLE \"rtree_%w_geom\" USING rtree(id, minx, maxx, miny, maxy);"
                          "INSERT INTO gpkg_extensions VALUES (%Q, 'geom', 'gpkg_rtree_index',"
                          " 'http://www.geopackage.org/spec130/#extension_rtree', 'write-only')",
                          t, t);
    for (size_t i = 0; i < sizeof index_triggers / sizeof *index_triggers && outcome == OUTCOME_OK; i++)
        outcome = sql_run(store, why, index_triggers[i], t, t, t, t);
    return outcome;
}

enum outcome layout_noun(struct store *store, enum noun noun, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    struct text sql = {0};
    text_print(&sql, "CREATE TABLE \"%s\" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL", info->name);
    if (info->geometry != GEOMETRY_NONE)
        text_print(&sql, ", geom %s", geometry_name(info->geometry));
    text_add(&sql, ", uuid TEXT UNIQUE");
    for (size_t i = 0; i < info->n_fields; i++) {
        text_add(&sql, ", ");
        add_field(&sql, &info->fields[i], true);
    }
    text_add(&sql, ", created_at DATETIME, changed_at DATETIME, author TEXT, deleted_at DATETIME)");
    enum outcome outcome = sql_run(store, why, "%s", text_get(&sql));
    text_free(&sql);
    for (size_t i = 0; i < info->n_fields && outcome == OUTCOME_OK; i++)
        outcome = index_field(store, info, &info->fields[i], why);
    if (outcome == OUTCOME_OK)
        outcome =
            sql_run(store, why, "CREATE INDEX \"%w_deleted\" ON \"%w\"(deleted_at) WHERE deleted_at IS NOT NULL", info->name, info->name);
    char srs[24] = "NULL", now[MOMENT_ROOM] = "";
    sql_moment(store->db, now);
    if (info->geometry != GEOMETRY_NONE)
        sqlite3_snprintf(sizeof srs, srs, "%d", store->srs);
    if (outcome == OUTCOME_OK)
        outcome = sql_run(store, why,
                          "INSERT INTO gpkg_contents(table_name, data_type, identifier, description, last_change, srs_id)"
                          " VALUES (%Q, %Q, %Q, %Q, %Q, %s)",
                          info->name, info->geometry == GEOMETRY_NONE ? "attributes" : "features", info->name, info->about, now, srs);
    return outcome == OUTCOME_OK && info->geometry != GEOMETRY_NONE ? layout_geometry(store, info, why) : outcome;
}

enum outcome layout_field(struct store *store, enum noun noun, const struct field *field, struct failure *why)
{
    struct text sql = {0};
    text_print(&sql, "ALTER TABLE \"%s\" ADD COLUMN ", noun_infos[noun].name);
    add_field(&sql, field, false);
    enum outcome outcome = sql_run(store, why, "%s", text_get(&sql));
    text_free(&sql);
    return outcome == OUTCOME_OK ? index_field(store, &noun_infos[noun], field, why) : outcome;
}

enum outcome layout_write(struct store *store, const struct programme *programme, struct failure *why)
{
    struct arena arena = {0};
    const char *name = NULL, *wkt = NULL;
    char now[MOMENT_ROOM] = "", version[16] = "";
    enum outcome outcome = crs_define(programme->crs, &arena, &name, &wkt, why);
    store->srs = (int)programme->crs;
    sql_moment(store->db, now);
    sqlite3_snprintf(sizeof version, version, "%d", STORE_VERSION);
    if (outcome == OUTCOME_OK)
        outcome = sql_run(store, why, package_tables);
    if (outcome == OUTCOME_OK)
        outcome = sql_run(store, why, "INSERT INTO gpkg_spatial_ref_sys VALUES (%Q, %d, 'EPSG', %d, %Q, %Q)", name, store->srs, store->srs,
                          wkt, "the one reference system of this programme");
    if (outcome == OUTCOME_OK)
        outcome = sql_run(store, why, log_tables, now, now, now);
    for (int i = 0; i < NOUN_COUNT && outcome == OUTCOME_OK; i++)
        outcome = layout_noun(store, (enum noun)i, why);
    if (outcome == OUTCOME_OK)
        outcome = layout_about_set(store, "store_version", version, why);
    if (outcome == OUTCOME_OK)
        outcome = layout_about_set(store, "made_by", "spinney", why);
    arena_clear(&arena);
    return outcome;
}

enum outcome layout_learn(struct store *store, size_t *missing, struct failure *why)
{
    *missing = 0;
    for (int i = 0; i < NOUN_COUNT; i++) {
        const struct noun_info *info = &noun_infos[i];
        store->table_there[i] = false;
        if (store->field_there[i] == NULL)
            store->field_there[i] = memory_get(info->n_fields, sizeof(bool));
        memset(store->field_there[i], 0, info->n_fields * sizeof(bool));
        sqlite3_stmt *statement = NULL;
        bool row = false;
        enum outcome outcome = sql_prepare(
            store, &statement, why,
            "SELECT p.name FROM sqlite_schema s, pragma_table_info(s.name) p WHERE s.type = 'table' AND s.name = %Q", info->name);
        size_t found = 0;
        while (outcome == OUTCOME_OK && (outcome = sql_next(store, statement, &row, why)) == OUTCOME_OK && row) {
            store->table_there[i] = true;
            for (size_t k = 0; k < info->n_fields; k++)
                if (text_same_nocase(info->fields[k].name, (const char *)sqlite3_column_text(statement, 0))) {
                    store->field_there[i][k] = true;
                    found++;
                }
        }
        sqlite3_finalize(statement);
        if (outcome != OUTCOME_OK)
            return outcome;
        *missing += (info->n_fields - found) + (store->table_there[i] ? 0 : 1);
    }
    return OUTCOME_OK;
}

enum outcome layout_index_again(struct store *store, enum noun noun, struct failure *why)
{
    const char *t = noun_infos[noun].name;
    return sql_run(store, why,
                   "DELETE FROM \"rtree_%w_geom\"; INSERT INTO \"rtree_%w_geom\" SELECT fid, ST_MinX(geom), ST_MaxX(geom),"
                   " ST_MinY(geom), ST_MaxY(geom) FROM \"%w\" WHERE geom NOT NULL AND NOT ST_IsEmpty(geom)",
                   t, t, t);
}

const char *layout_about(struct store *store, const char *key, struct arena *arena)
{
    sqlite3_stmt *statement = NULL;
    const char *value = NULL;
    if (sqlite3_prepare_v2(store->db, "SELECT value FROM spinney_about WHERE key = ?1", -1, &statement, NULL) == SQLITE_OK) {
        sqlite3_bind_text(statement, 1, key, -1, SQLITE_STATIC);
        if (sqlite3_step(statement) == SQLITE_ROW)
            value = sql_text(statement, 0, arena);
    }
    sqlite3_finalize(statement);
    return value;
}

enum outcome layout_about_set(struct store *store, const char *key, const char *value, struct failure *why)
{
    return sql_run(store, why,
                   "INSERT INTO spinney_about(key, value) VALUES (%Q, %Q) ON CONFLICT(key) DO UPDATE SET value = excluded.value", key,
                   value);
}
