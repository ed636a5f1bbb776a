/* SPDX-License-Identifier: GPL-3.0-or-later
 * The Data Package (Frictionless Data, version 2): a CSV table for each noun, and datapackage.json that describes them.
 * Table Schema: https://datapackage.org/standard/table-schema/ */
#include "exchange/inside.h"
#include <jansson.h>
#include <string.h>

/* Nouns that have rows, and those their keys point to. */
static void wanted_nouns(const struct exchange_set *set, bool wanted[NOUN_COUNT])
{
    for (int noun = 0; noun < NOUN_COUNT; noun++)
        wanted[noun] = set->of[noun].n > 0;
    for (bool more = true; more;) {
        more = false;
        for (int noun = 0; noun < NOUN_COUNT; noun++)
            for (size_t j = 0; wanted[noun] && j < noun_infos[noun].n_fields; j++) {
                const struct field *field = &noun_infos[noun].fields[j];
                if (field->kind == FIELD_REF && !wanted[field->target])
                    more = wanted[field->target] = true;
            }
    }
}

static const char *geometry_cell(const struct noun_info *info, const void *row, struct arena *arena, struct failure *why,
                                 enum outcome *outcome)
{
    struct bytes wkb = *(const struct bytes *)(const void *)((const char *)row + info->geometry_offset);
    struct shape shape;
    if (wkb.n == 0)
        return NULL;
    *outcome = shape_from_wkb(wkb, arena, &shape, why);
    if (*outcome != OUTCOME_OK)
        return NULL;
    struct text wkt = {0};
    shape_wkt(&shape, &wkt);
    const char *kept = arena_text(arena, text_get(&wkt));
    text_free(&wkt);
    return kept;
}

static enum outcome row_cells(const struct exchange_set *set, enum noun noun, const void *row, struct arena *arena, struct text *out,
                              struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    enum outcome outcome = OUTCOME_OK;
    csv_add(out, exchange_uuid(set, noun, *(const int64_t *)row, arena), true, false);
    if (info->geometry == GEOMETRY_POINT) {
        const double *xy = (const double *)(const void *)((const char *)row + info->geometry_offset);
        for (int i = 0; i < 2; i++) {
            char number[40] = "";
            if (is_known(xy[i]))
                number_write(xy[i], number);
            csv_add(out, number, false, false);
        }
    } else if (info->geometry != GEOMETRY_NONE) {
        const char *wkt = geometry_cell(info, row, arena, why, &outcome);
        csv_add(out, wkt == NULL ? "" : wkt, false, false);
    }
    for (size_t j = 0; j < info->n_fields; j++) {
        const struct field *field = &info->fields[j];
        const char *cell = NULL;
        if (field->kind == FIELD_BYTES)
            continue;
        if (field->kind == FIELD_REF)
            cell = exchange_uuid(set, (enum noun)field->target, *(const int64_t *)(const void *)((const char *)row + field->offset), arena);
        else
            cell = field_write(field, row, arena);
        if (field->kind == FIELD_TEXT)
            cell = exchange_guard(cell, arena);
        csv_add(out, cell == NULL ? "" : cell, false, false);
    }
    text_add(out, "\r\n");
    return outcome;
}

static void header_cells(const struct noun_info *info, struct text *out)
{
    csv_add(out, "id", true, false);
    if (info->geometry == GEOMETRY_POINT)
        text_add(out, ",x_m,y_m");
    else if (info->geometry != GEOMETRY_NONE)
        text_add(out, ",wkt");
    for (size_t j = 0; j < info->n_fields; j++)
        if (info->fields[j].kind != FIELD_BYTES)
            csv_add(out, info->fields[j].name, false, false);
    text_add(out, "\r\n");
}

static json_t *column(const char *name, const char *type, const char *format, const char *title, const char *about)
{
    json_t *out = json_object();
    json_object_set_new(out, "name", json_string(name));
    json_object_set_new(out, "type", json_string(type));
    if (format != NULL)
        json_object_set_new(out, "format", json_string(format));
    if (title != NULL)
        json_object_set_new(out, "title", json_string(title));
    json_object_set_new(out, "description", json_string(about));
    return out;
}

static json_t *constraints_of(const struct field *field)
{
    json_t *out = json_object();
    if (field->required)
        json_object_set_new(out, "required", json_true());
    if (field->kind == FIELD_INT || field->kind == FIELD_REAL) {
        bool whole = field->kind == FIELD_INT;
        if (is_known(field->least) && field->least > -1e17)
            json_object_set_new(out, "minimum", whole ? json_integer((json_int_t)field->least) : json_real(field->least));
        if (is_known(field->most) && field->most < 1e17)
            json_object_set_new(out, "maximum", whole ? json_integer((json_int_t)field->most) : json_real(field->most));
    }
    if (field->kind == FIELD_ENUM && field->words != WORDS_TRUTH) {
        json_t *words = json_array();
        for (int i = 1; i < words_of[field->words].n; i++)
            json_array_append_new(words, json_string(words_of[field->words].word[i]));
        json_object_set_new(out, "enum", words);
    }
    return out;
}

static json_t *field_column(const struct field *field)
{
    static const char *const types[] = {
        [FIELD_TEXT] = "string", [FIELD_JSON] = "string", [FIELD_MOMENT] = "datetime", [FIELD_INT] = "integer",
        [FIELD_REAL] = "number", [FIELD_DATE] = "date",   [FIELD_REF] = "string",      [FIELD_ENUM] = "string"};
    bool truth = field->kind == FIELD_ENUM && field->words == WORDS_TRUTH;
    char about[400];
    snprintf(about, sizeof about, "%s%s%s%s", field->about, *field->unit != '\0' ? " [" : "", field->unit, *field->unit != '\0' ? "]" : "");
    json_t *out = column(field->name, truth ? "boolean" : types[field->kind], field->kind == FIELD_REF ? "uuid" : NULL, NULL, about);
    if (truth) {
        json_object_set_new(out, "trueValues", json_pack("[s]", "yes"));
        json_object_set_new(out, "falseValues", json_pack("[s]", "no"));
    }
    if (*field->unit != '\0')
        json_object_set_new(out, "unit", json_string(field->unit));
    json_t *constraints = constraints_of(field);
    if (json_object_size(constraints) > 0)
        json_object_set(out, "constraints", constraints);
    json_decref(constraints);
    return out;
}

static json_t *schema_of(const struct noun_info *info)
{
    json_t *fields = json_array(), *keys = json_array(), *schema = json_object();
    json_t *id = column("id", "string", "uuid", NULL, "The row, the same in every copy");
    json_object_set_new(id, "constraints", json_pack("{s:b,s:b}", "required", 1, "unique", 1));
    json_array_append_new(fields, id);
    if (info->geometry == GEOMETRY_POINT) {
        json_array_append_new(fields, column("x_m", "number", NULL, NULL, "Easting in the programme's reference system [m]"));
        json_array_append_new(fields, column("y_m", "number", NULL, NULL, "Northing in the programme's reference system [m]"));
    } else if (info->geometry != GEOMETRY_NONE) {
        json_array_append_new(fields, column("wkt", "string", NULL, NULL, "Shape as WKT in the programme's reference system, metres"));
    }
    for (size_t j = 0; j < info->n_fields; j++) {
        const struct field *field = &info->fields[j];
        if (field->kind == FIELD_BYTES)
            continue;
        json_array_append_new(fields, field_column(field));
        if (field->kind == FIELD_REF) /* "" is the table itself */
            json_array_append_new(keys,
                                  json_pack("{s:[s],s:{s:s,s:[s]}}", "fields", field->name, "reference", "resource",
                                            &noun_infos[field->target] == info ? "" : noun_infos[field->target].name, "fields", "id"));
    }
    json_object_set_new(schema, "fields", fields);
    json_object_set_new(schema, "missingValues", json_pack("[s]", ""));
    json_object_set_new(schema, "primaryKey", json_pack("[s]", "id"));
    if (json_array_size(keys) > 0)
        json_object_set(schema, "foreignKeys", keys);
    json_decref(keys);
    return schema;
}

static json_t *resource_of(const struct noun_info *info, const char *path, const struct text *csv)
{
    char hash[65];
    exchange_sha256(text_get(csv), csv->n, hash);
    json_t *out = json_object();
    json_object_set_new(out, "name", json_string(info->name));
    json_object_set_new(out, "type", json_string("table"));
    json_object_set_new(out, "path", json_string(path));
    json_object_set_new(out, "description", json_string(info->about));
    json_object_set_new(out, "format", json_string("csv"));
    json_object_set_new(out, "mediatype", json_string("text/csv"));
    json_object_set_new(out, "encoding", json_string("utf-8"));
    json_object_set_new(out, "bytes", json_integer((json_int_t)csv->n));
    json_object_set_new(out, "hash", json_sprintf("sha256:%s", hash));
    json_object_set_new(out, "dialect", json_pack("{s:s,s:s,s:b}", "delimiter", ",", "lineTerminator", "\r\n", "header", 1));
    json_object_set_new(out, "schema", schema_of(info));
    return out;
}

static json_t *package_head(const struct exchange_set *set, const struct exchange_terms *terms, struct arena *arena)
{
    const struct programme *programme = exchange_programme(set);
    char uuid[37] = "", day[16] = "1970-01-01";
    if (programme != NULL)
        uuid_write(&programme->uuid, uuid);
    date_write(terms->made_on, day);
    json_t *out = json_object(), *licence = json_object();
    json_object_set_new(out, "$schema", json_string("https://datapackage.org/profiles/2.0/datapackage.json"));
    json_object_set_new(out, "name", json_string("small-dense-woods"));
    json_object_set_new(out, "id", json_sprintf("urn:uuid:%s", uuid));
    json_object_set_new(out, "title", json_string(exchange_title(set, terms)));
    json_object_set_new(out, "description", json_string(exchange_abstract(set, arena)));
    json_object_set_new(out, "version", json_string(day));
    json_object_set_new(out, "created", json_sprintf("%sT00:00:00Z", day));
    json_object_set_new(licence, "name", json_string(terms->licence));
    if (exchange_licence_page(terms->licence) != NULL)
        json_object_set_new(licence, "path", json_string(exchange_licence_page(terms->licence)));
    json_object_set_new(out, "licenses", json_pack("[o]", licence));
    json_object_set_new(
        out, "contributors",
        json_pack("[{s:s,s:[s]}]", "title", terms->contributor == NULL ? "not named" : terms->contributor, "roles", "rightsHolder"));
    json_object_set_new(out, "keywords", json_pack("[s,s,s,s]", "urban woodland", "dense native planting", "comparison plot", "survival"));
    if (programme != NULL)
        json_object_set_new(out, "crs", json_sprintf("EPSG:%lld", (long long)programme->crs));
    json_object_set_new(out, "madeWith", json_sprintf("spinney %s", terms->version));
    return out;
}

static void dictionary(const bool wanted[NOUN_COUNT], const struct exchange_terms *terms, struct arena *arena, struct exchange_files *files)
{
    static const char *const cares[] = {"as it stands", "withheld", "coded anew"};
    struct text out = {0};
    text_add(&out, "table,column,unit,what_it_is,words,how_it_leaves\r\n");
    for (int noun = 0; noun < NOUN_COUNT; noun++) {
        for (size_t j = 0; wanted[noun] && j < noun_infos[noun].n_fields; j++) {
            const struct field *field = &noun_infos[noun].fields[j];
            struct text words = {0};
            for (int i = 1; field->kind == FIELD_ENUM && i < words_of[field->words].n; i++)
                text_print(&words, "%s%s", i > 1 ? " " : "", words_of[field->words].word[i]);
            csv_add(&out, noun_infos[noun].name, true, false);
            csv_add(&out, field->name, false, false);
            csv_add(&out, field->unit, false, false);
            csv_add(&out, field->about, false, true);
            csv_add(&out, text_get(&words), false, false);
            csv_add(&out,
                    field->kind == FIELD_BYTES ? "not in the package"
                    : terms->keep_names        ? cares[CARE_OPEN]
                                               : cares[exchange_care_of((enum noun)noun, field)],
                    false, false);
            text_add(&out, "\r\n");
            text_free(&words);
        }
    }
    exchange_add(files, "dictionary.csv", text_get(&out), out.n, arena);
    text_free(&out);
}

/* Rows that wait for a decision or were turned down, counted by what was found; where names leave, each with its reason. */
static void known_errors(const struct exchange_set *set, struct arena *arena, struct exchange_files *files)
{
    const struct held_row *held = set->of[NOUN_HELD_ROW].rows;
    struct text out = {0};
    text_add(&out, "import,row,what_was_found,state,reason\r\n");
    for (size_t i = 0; i < set->of[NOUN_HELD_ROW].n; i++) {
        const char *import = exchange_uuid(set, NOUN_IMPORT, held[i].import_id, arena);
        csv_add(&out, import == NULL ? "" : import, true, false);
        text_print(&out, ",%lld", (long long)held[i].row_number);
        csv_add(&out, held[i].kind, false, true);
        csv_add(&out, word_of(WORDS_HELD_STATE, (int)held[i].state), false, false);
        csv_add(&out, held[i].reason, false, true);
        text_add(&out, "\r\n");
    }
    exchange_add(files, "known_errors.csv", text_get(&out), out.n, arena);
    text_free(&out);
}

enum outcome exchange_package(const struct exchange_set *set, const struct exchange_terms *terms, struct arena *arena,
                              struct exchange_files *files, struct failure *why)
{
    bool wanted[NOUN_COUNT];
    enum outcome outcome = OUTCOME_OK;
    json_t *package = package_head(set, terms, arena), *resources = json_array();
    wanted_nouns(set, wanted);
    for (int noun = 0; noun < NOUN_COUNT && outcome == OUTCOME_OK; noun++) {
        if (!wanted[noun])
            continue;
        const struct noun_info *info = &noun_infos[noun];
        struct text csv = {0};
        struct arena scratch = {0};
        header_cells(info, &csv);
        for (size_t i = 0; i < set->of[noun].n && outcome == OUTCOME_OK; i++)
            outcome = row_cells(set, (enum noun)noun, (const char *)set->of[noun].rows + i * info->size, &scratch, &csv, why);
        const char *path = arena_print(arena, "data/%s.csv", info->name);
        if (outcome == OUTCOME_OK) {
            exchange_add(files, path, text_get(&csv), csv.n, arena);
            json_array_append_new(resources, resource_of(info, path, &csv));
        }
        arena_clear(&scratch);
        text_free(&csv);
    }
    if (outcome == OUTCOME_OK) {
        json_object_set(package, "resources", resources);
        char *json = json_dumps(package, JSON_INDENT(2) | JSON_REAL_PRECISION(15));
        exchange_add(files, "datapackage.json", json, strlen(json), arena);
        free(json);
        dictionary(wanted, terms, arena, files);
        known_errors(set, arena, files);
    }
    json_decref(resources);
    json_decref(package);
    return outcome;
}
