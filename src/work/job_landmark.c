/* SPDX-License-Identifier: GPL-3.0-or-later
 * landmark: rivers, streets and the like, drawn so that people find their way; nothing is kept clear of them. */
#include "work/jobs.h"
#include "work/outline.h"

static const struct option landmark_options[] = {
    OUTLINE_OPTIONS,
    {"kind", OPTION_TEXT, false, "WORD",
     "river, brook, tram_line, street, building_block, green or other_landmark; else read from the file"},
    {"label", OPTION_TEXT, false, "TEXT", "what people call it; else read from the file"},
    {"source", OPTION_TEXT, false, "TEXT", "where the geometry comes from"},
};
static const char *const landmark_bare[] = {"map", NULL};

static enum outcome landmark_fill(const json_t *in, const struct map_feature *feature, struct arena *arena, struct landmark *row,
                                  struct failure *why)
{
    static const char *const names[] = {"kind", "label", "source"};
    noun_init(NOUN_LANDMARK, row);
    row->wkb = shape_to_wkb(&feature->shape, arena);
    for (size_t f = 0; f < sizeof names / sizeof *names; f++) {
        const struct field *field = noun_field(NOUN_LANDMARK, names[f]);
        const char *text = option_text(in, names[f], NULL);
        for (size_t i = 0; text == NULL && i < feature->n_values; i++)
            if (text_same_nocase(feature->keys[i], names[f]) || (f == 1 && text_same_nocase(feature->keys[i], "name")))
                text = feature->values[i];
        enum outcome outcome = field_read(field, row, text, arena, why);
        if (outcome == OUTCOME_OK)
            outcome = field_check(field, row, why);
        if (outcome != OUTCOME_OK) {
            failure_at(why, option_text(in, "map", NULL), feature->number, names[f]);
            return outcome;
        }
    }
    return OUTCOME_OK;
}

static enum outcome landmark_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct programme programme;
    struct map_data data = {0};
    struct landmark *rows = NULL;
    size_t n = 0;
    int64_t wanted = option_integer(in, "feature", 0);
    enum outcome outcome = load_programme(context->store, &arena, &programme, why);
    if (outcome == OUTCOME_OK)
        outcome = outline_read(context, in, crs_code(&programme, &arena), MAP_ANY, NULL, &arena, &data, why);
    if (outcome == OUTCOME_OK)
        rows = arena_array(&arena, data.n + 1, sizeof *rows);
    for (size_t i = 0; outcome == OUTCOME_OK && i < data.n; i++)
        if (!data.features[i].refused && (wanted == 0 || data.features[i].number == wanted))
            outcome = landmark_fill(in, &data.features[i], &arena, &rows[n++], why);
    if (outcome == OUTCOME_OK && n == 0)
        outcome = fail(why, OUTCOME_DATA, "None of the %zu features can be used.", data.n);
    if (outcome == OUTCOME_OK)
        outcome = store_begin(context->store, context->author, arena_print(&arena, "%zu landmarks", n), why);
    if (outcome == OUTCOME_OK) {
        outcome = store_add(context->store, NOUN_LANDMARK, rows, n, why);
        outcome = store_end(context->store, outcome, why);
    }
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new(), *ids = json_array(), *table = section_table(note_section(out, "Features"));
        note_answer(out, "%zu %s in, to find one's way by%s.", n, n == 1 ? "landmark is" : "landmarks are",
                    data.n_refused > 0 ? "; some features were refused" : "");
        table_column(table, "kind", "kind", "", -1);
        table_column(table, "label", "label", "", -1);
        for (size_t i = 0; i < n; i++) {
            json_t *row = table_row(table);
            row_text(row, word_plain(WORDS_LANDMARK_KIND, (int)rows[i].kind, &arena));
            row_text(row, rows[i].label == NULL ? "" : rows[i].label);
            json_array_append_new(ids, json_integer(rows[i].id));
        }
        note_unknown(out, "Nothing is kept clear of a landmark: what planting must keep away from is brought in as a constraint.");
        outline_said(out, &data, NULL);
        json_object_set_new(note_data(out), "ids", ids);
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_landmark = {
    .name = "landmark",
    .summary = "add rivers, streets and the like to find one's way by",
    .about = "Brings in what maps show so that people find a site: rivers, tram lines, streets, blocks of houses. They stand on maps only; "
             "planting keeps no distance from them.",
    .example = "spinney landmark wood.gpkg town.geojson",
    .access = JOB_WRITES,
    .options = landmark_options,
    .n_options = sizeof landmark_options / sizeof *landmark_options,
    .bare = landmark_bare,
    .run = landmark_run,
};
