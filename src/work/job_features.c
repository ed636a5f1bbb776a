/* SPDX-License-Identifier: GPL-3.0-or-later
 * features: rows of one kind as GeoJSON, chosen by place, day, property and filter. What the server's read-only interface for other
 * programs answers with. */
#include "work/jobs.h"
#include "work/load.h"
#include "work/package_files.h"
#include <stdlib.h>
#include <string.h>

enum { FEATURES_MOST = 10000 };

static const struct option features_options[] = {
    {"noun", OPTION_TEXT, false, "NOUN", "kind of row, such as plot or plant; without it, what there is and where"},
    {"bbox", OPTION_TEXT, false, "W,S,E,N", "only what meets this box, in degrees"},
    {"datetime", OPTION_TEXT, false, "DAYS", "only rows of this day or interval, such as 2024-01-01/2024-12-31"},
    {"filter", OPTION_TEXT, false, "CQL2", "only rows of which this holds, such as \"status = 'alive' AND height_cm > 50\""},
    {"equal", OPTION_TEXT, false, "NAME=VALUE", "only rows whose property has this value; several separated by ;"},
    {"id", OPTION_TEXT, false, "UUID", "only this row"},
    {"limit", OPTION_INTEGER, false, "N", "at most so many (100 if not given, 10,000 at most)"},
    {"offset", OPTION_INTEGER, false, "N", "leave out the first so many"},
    {"to", OPTION_FILE_OUT, false, "FILE", "write the GeoJSON to a file"},
};
static const char *const features_bare[] = {"noun", "filter", NULL};

static enum outcome part_load(struct store *store, enum noun noun, struct arena *arena, struct exchange_set *out, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    enum outcome outcome = load_all(store, NOUN_PROGRAMME, arena, &out->of[NOUN_PROGRAMME].rows, &out->of[NOUN_PROGRAMME].n, why);
    if (outcome == OUTCOME_OK && noun != NOUN_PROGRAMME)
        outcome = load_all(store, noun, arena, &out->of[noun].rows, &out->of[noun].n, why);
    for (size_t j = 0; j < info->n_fields && outcome == OUTCOME_OK; j++) {
        int target = info->fields[j].target;
        if (info->fields[j].kind == FIELD_REF && out->of[target].rows == NULL)
            outcome = load_all(store, (enum noun)target, arena, &out->of[target].rows, &out->of[target].n, why);
    }
    return outcome;
}

static enum outcome list_all(const struct job_context *context, struct arena *arena, json_t **note, struct failure *why)
{
    struct exchange_set set = {0};
    enum outcome outcome = rows_load(context->store, arena, &set, why);
    json_t *out = note_new(), *table = section_table(note_section(out, "Collections")), *list = json_array();
    table_column(table, "noun", "collection", "", -1);
    table_column(table, "rows", "rows", "", 0);
    table_column(table, "from", "from", "", -1);
    table_column(table, "to", "to", "", -1);
    table_column(table, "about", "what it is", "", -1);
    size_t n = 0;
    for (int noun = 0; noun < NOUN_COUNT && outcome == OUTCOME_OK; noun++) {
        double box[4];
        int32_t days[2];
        if (set.of[noun].n == 0)
            continue;
        outcome = exchange_extent(&set, (enum noun)noun, box, days, why);
        if (outcome != OUTCOME_OK)
            break;
        json_t *row = table_row(table), *one = json_object();
        row_text(row, noun_infos[noun].name);
        row_integer(row, (int64_t)set.of[noun].n);
        row_text(row, days[0] == DATE_UNKNOWN ? NULL : day_words(days[0], arena));
        row_text(row, days[1] == DATE_UNKNOWN ? NULL : day_words(days[1], arena));
        row_text(row, noun_infos[noun].about);
        json_object_set_new(one, "noun", json_string(noun_infos[noun].name));
        json_object_set_new(one, "about", json_string(noun_infos[noun].about));
        json_object_set_new(one, "rows", json_integer((json_int_t)set.of[noun].n));
        json_object_set_new(one, "spatial", json_boolean(noun_infos[noun].geometry != GEOMETRY_NONE));
        if (is_known(box[0]))
            json_object_set_new(one, "bbox", json_pack("[f,f,f,f]", box[0], box[1], box[2], box[3]));
        if (days[0] != DATE_UNKNOWN)
            json_object_set_new(one, "days", json_pack("[s,s]", day_words(days[0], arena), day_words(days[1], arena)));
        json_object_set_new(one, "queryables", exchange_queryables((enum noun)noun, noun_infos[noun].name));
        json_array_append_new(list, one);
        n++;
    }
    json_object_set_new(note_data(out), "collections", list);
    note_answer(out, "%zu kinds of row can be read as features.", n);
    if (outcome == OUTCOME_OK)
        *note = out;
    else
        json_decref(out);
    return outcome;
}

static enum outcome query_read(const json_t *in, struct arena *arena, struct features_query *query, struct failure *why)
{
    int64_t limit = option_integer(in, "limit", 100), offset = option_integer(in, "offset", 0);
    if (limit < 1 || offset < 0) {
        fail(why, OUTCOME_USAGE, "limit must be at least 1 and offset at least 0.");
        return OUTCOME_USAGE;
    }
    *query = (struct features_query){.id = option_text(in, "id", NULL),
                                     .bbox = option_text(in, "bbox", NULL),
                                     .datetime = option_text(in, "datetime", NULL),
                                     .filter = option_text(in, "filter", NULL),
                                     .limit = (size_t)(limit > FEATURES_MOST ? FEATURES_MOST : limit),
                                     .offset = (size_t)offset};
    struct features_equal *equal = arena_array(arena, 32, sizeof *equal);
    char *copy = arena_text(arena, option_text(in, "equal", "")), *rest = NULL;
    for (char *part = strtok_r(copy, ";", &rest); part != NULL; part = strtok_r(NULL, ";", &rest)) {
        char *equals = strchr(part, '=');
        if (equals == NULL || query->n_equal == 32)
            return fail(why, OUTCOME_USAGE, "\"%.80s\" is no condition: write name=value.", part);
        *equals = '\0';
        equal[query->n_equal++] = (struct features_equal){.name = part, .value = equals + 1};
    }
    query->equal = equal;
    return OUTCOME_OK;
}

static enum outcome features_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct exchange_set set = {0};
    struct features_query query = {0};
    struct features_found found = {0};
    json_t *collection = NULL;
    const char *name = option_text(in, "noun", NULL), *to = option_text(in, "to", NULL);
    int noun = name == NULL ? -1 : noun_find(name);
    enum outcome outcome = OUTCOME_OK;
    if (name == NULL) {
        outcome = list_all(context, &arena, note, why);
        goto done;
    }
    if (noun < 0) {
        fail(why, OUTCOME_USAGE, "There is no kind of row called \"%.60s\".", name);
        failure_remedy(why, "List them with: spinney features FILE");
        outcome = OUTCOME_USAGE;
        goto done;
    }
    outcome = query_read(in, &arena, &query, why);
    if (outcome == OUTCOME_OK)
        outcome = part_load(context->store, (enum noun)noun, &arena, &set, why);
    if (outcome == OUTCOME_OK)
        outcome = exchange_features(&set, (enum noun)noun, &query, &collection, &found, why);
    if (outcome == OUTCOME_OK && to != NULL) {
        char *text = json_dumps(collection, JSON_COMPACT);
        outcome = file_write(to, text, strlen(text), why);
        free(text);
    }
    if (outcome == OUTCOME_OK) {
        json_t *out = *note = note_new();
        note_answer(out, "%zu rows of %s fit; these are %zu of them.", found.matched, name, found.returned);
        json_object_set(note_data(out), "collection", collection);
        json_object_set_new(note_data(out), "matched", json_integer((json_int_t)found.matched));
        json_object_set_new(note_data(out), "returned", json_integer((json_int_t)found.returned));
        json_object_set_new(note_data(out), "offset", json_integer((json_int_t)query.offset));
        json_object_set_new(note_data(out), "limit", json_integer((json_int_t)query.limit));
        note_source(out, "RFC 7946 (GeoJSON); OGC 21-065r2 (CQL2)");
        if (to != NULL)
            note_written(out, "features", to);
    }
done:
    json_decref(collection);
    arena_clear(&arena);
    return outcome;
}

const struct job job_features = {
    .name = "features",
    .summary = "rows as GeoJSON, chosen by place, day and filter",
    .about = "Gives rows of one kind as GeoJSON features in WGS 84, chosen by a box, an interval of days, properties and a filter in CQL2. "
             "While "
             "the workbench is open, other programs read the same by OGC API - Features (docs/other-programs.md).",
    .example = "spinney features wood.gpkg plant_record \"status = 'alive' AND height_cm > 100\" --limit 10",
    .access = JOB_LOOKS,
    .options = features_options,
    .n_options = sizeof features_options / sizeof *features_options,
    .bare = features_bare,
    .run = features_run,
};
