/* SPDX-License-Identifier: GPL-3.0-or-later
 * backdrop: a picture of one's own beneath the map, kept in the programme's file and nowhere else. Its place is the six numbers of a
 * world file. */
#include "geo/picture.h"
#include "work/jobs.h"
#include "work/load.h"
#include "work/note.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const struct option backdrop_options[] = {
    {"file", OPTION_FILE_IN, false, "FILE", "the picture: PNG or JPEG, 60 MB at most"},
    {"name", OPTION_TEXT, false, "TEXT", "what it is called"},
    {"place", OPTION_TEXT, false, "A D B E C F", "where it lies, as the six lines of a world file, in the programme's metres"},
    {"placed_by", OPTION_TEXT, false, "TEXT", "how its place is known"},
    {"source", OPTION_TEXT, false, "TEXT", "where it comes from, and under which licence"},
    {"taken_on", OPTION_DATE, false, "DAY", "day it was taken"},
    {"stored", OPTION_FLAG, false, NULL, "list the pictures that are there, or write one out"},
    {"show", OPTION_INTEGER, false, "ID", "which one to write out"},
    {"to", OPTION_FILE_OUT, false, "FILE", "where to write it"},
};
static const char *const backdrop_bare[] = {"file", NULL};

enum { MOST_PICTURE = 60 << 20 };

/* Six numbers with gaps, commas or line ends between them; the picture must have an area on the ground. */
static enum outcome place_read(const char *text, double place[6], struct failure *why)
{
    const char *at = text;
    size_t n = 0;
    while (at != NULL && n < 6) {
        at += strspn(at, " ,;\t\r\n");
        char *end = NULL;
        double x = strtod(at, &end);
        if (end == at || !isfinite(x))
            break;
        place[n++] = x;
        at = end;
    }
    double area = n == 6 ? fabs(place[0] * place[3] - place[1] * place[2]) : 0;
    if (n == 6 && at[strspn(at, " ,;\t\r\n")] == '\0' && area > 1e-12)
        return OUTCOME_OK;
    fail(why, OUTCOME_DATA, n < 6 ? "The place of the picture needs six numbers." : "With these six numbers the picture covers no ground.");
    failure_at(why, NULL, 0, "place");
    return failure_remedy(why,
                          "Give the lines of its world file in their order: east and north of one pixel to the right, of one pixel down, "
                          "and of the middle of the upper left pixel.");
}

static enum outcome backdrop_take(const struct job_context *context, const json_t *in, struct arena *arena, json_t **note,
                                  struct failure *why)
{
    struct bytes bytes = {0};
    struct picture picture = {0};
    double place[6];
    const char *path = option_text(in, "file", NULL);
    if (path == NULL)
        return fail(why, OUTCOME_USAGE, "Which picture? Give its file, or --stored to list those that are there.");
    enum outcome outcome = place_read(option_text(in, "place", ""), place, why);
    if (outcome == OUTCOME_OK)
        outcome = input_bytes(context, path, MOST_PICTURE, arena, &bytes, why);
    if (outcome == OUTCOME_OK && bytes.n > MOST_PICTURE)
        outcome = fail(why, OUTCOME_DATA, "The picture is larger than 60 MB.");
    if (outcome == OUTCOME_OK)
        outcome = picture_head(bytes, &picture, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const char *slash = strrchr(path, '/'), *name = option_text(in, "name", slash == NULL ? path : slash + 1);
    struct backdrop row = {.name = name,
                           .media = picture.media,
                           .content = bytes,
                           .width_px = picture.width,
                           .height_px = picture.height,
                           .column_east_m = place[0],
                           .column_north_m = place[1],
                           .row_east_m = place[2],
                           .row_north_m = place[3],
                           .corner_east_m = place[4],
                           .corner_north_m = place[5],
                           .placed_by = option_text(in, "placed_by", NULL),
                           .source = option_text(in, "source", NULL),
                           .taken_on = option_date(in, "taken_on", DATE_UNKNOWN)};
    outcome = store_begin(context->store, context->author, arena_print(arena, "backdrop %s", name), why);
    if (outcome == OUTCOME_OK)
        outcome = store_end(context->store, store_add(context->store, NOUN_BACKDROP, &row, 1, why), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    *note = note_new();
    note_answer(*note, "%s lies beneath the map: %lld by %lld pixels, one pixel %.2f m wide on the ground.", name, (long long)picture.width,
                (long long)picture.height, hypot(place[0], place[1]));
    note_unknown(*note,
                 "How exactly it lies there: nobody has checked its place on the ground. Nothing is measured from it, only drawn over it.");
    if (row.source == NULL)
        note_unknown(*note, "Where the picture comes from, and whether it may be shown to others.");
    json_object_set_new(note_data(*note), "id", json_integer((json_int_t)row.id));
    return OUTCOME_OK;
}

static enum outcome backdrop_write(const struct job_context *context, const json_t *in, struct arena *arena, json_t *out,
                                   struct failure *why)
{
    struct backdrop row;
    const char *to = option_text(in, "to", NULL);
    if (to == NULL)
        return fail(why, OUTCOME_USAGE, "Where to? Give --to FILE.");
    struct store_where where = {.field = "id", .value = option_integer(in, "show", 0)};
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = store_load(context->store, NOUN_BACKDROP, &where, 1, true, arena, &rows, &n, why);
    if (outcome == OUTCOME_OK && n == 0)
        outcome = fail(why, OUTCOME_DATA, "There is no backdrop %lld.", (long long)where.value);
    if (outcome != OUTCOME_OK)
        return outcome;
    row = ((struct backdrop *)rows)[0];
    outcome = file_write(to, row.content.at, row.content.n, why);
    if (outcome == OUTCOME_OK) {
        note_answer(out, "%s is written.", row.name);
        note_written(out, "picture", to);
    }
    return outcome;
}

static enum outcome backdrop_list(const struct job_context *context, struct arena *arena, json_t *out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(context->store, NOUN_BACKDROP, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    note_answer(out,
                n == 0   ? "No picture lies beneath the map."
                : n == 1 ? "1 picture lies beneath the map."
                         : "%zu pictures lie beneath the map.",
                n);
    json_t *table = n == 0 ? NULL : section_table(note_section(out, "Pictures")), *list = json_array();
    if (n > 0) {
        table_column(table, "id", "number", "", 0);
        table_column(table, "name", "name", "", -1);
        table_column(table, "pixel", "a pixel on the ground", "m", 2);
        table_column(table, "placed_by", "placed by", "", -1);
        table_column(table, "source", "source", "", -1);
    }
    for (size_t i = 0; i < n; i++) {
        const struct backdrop *row = &((const struct backdrop *)rows)[i];
        json_t *cells = table_row(table);
        row_integer(cells, row->id);
        row_text(cells, row->name);
        row_number(cells, hypot(row->column_east_m, row->column_north_m));
        row_text(cells, row->placed_by);
        row_text(cells, row->source);
        json_array_append_new(list, json_pack("{s:I, s:s, s:s, s:I, s:I, s:[f, f, f, f, f, f]}", "id", (json_int_t)row->id, "name",
                                              row->name, "media", row->media, "width", (json_int_t)row->width_px, "height",
                                              (json_int_t)row->height_px, "place", row->column_east_m, row->column_north_m, row->row_east_m,
                                              row->row_north_m, row->corner_east_m, row->corner_north_m));
    }
    json_object_set_new(note_data(out), "backdrops", list);
    return outcome;
}

static enum outcome backdrop_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    enum outcome outcome;
    if (!option_flag(in, "stored")) {
        outcome = backdrop_take(context, in, &arena, note, why);
    } else {
        json_t *out = note_new();
        outcome =
            option_integer(in, "show", 0) > 0 ? backdrop_write(context, in, &arena, out, why) : backdrop_list(context, &arena, out, why);
        if (outcome == OUTCOME_OK)
            *note = out;
        else
            json_decref(out);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_backdrop = {
    .name = "backdrop",
    .summary = "a picture of one's own beneath the map",
    .about = "Takes an aerial photograph or a plan into the programme's file, with its place on the ground. The workbench also reads "
             "GeoTIFF and "
             "places a picture by two known points. No picture is ever fetched from elsewhere.",
    .example = "spinney backdrop wood.gpkg air.png --place \"0.1 0 0 -0.1 500000.05 5400099.95\" --source \"own flight\"",
    .access = JOB_WRITES,
    .options = backdrop_options,
    .n_options = sizeof backdrop_options / sizeof *backdrop_options,
    .bare = backdrop_bare,
    .run = backdrop_run,
};
