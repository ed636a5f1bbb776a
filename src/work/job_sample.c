/* SPDX-License-Identifier: GPL-3.0-or-later
 * sample: which squares or plants are measured, drawn by a stated rule before anybody has looked at them. */
#include "trial/trial.h"
#include "work/jobs.h"
#include "work/plan_load.h"
#include "work/site_map.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const struct option sample_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"what", OPTION_TEXT, false, "WORD", "squares or plants (squares if not given)"},
    {"n", OPTION_INTEGER, false, "N", "how many; else by share and least"},
    {"share_pct", OPTION_NUMBER, false, "%", "share of them (25 if not given)"},
    {"least", OPTION_INTEGER, false, "N", "but so many at least (30 if not given)"},
    {"rule", OPTION_TEXT, false, "WORD", "random, every_kth, by_layer or by_species (random if not given)"},
    {"purpose", OPTION_TEXT, false, "TEXT", "what is measured on them"},
    {"seed", OPTION_INTEGER, false, "N", "seed of the draw (the programme's if not given)"},
    {"keep", OPTION_FLAG, false, NULL, "record the draw in the programme; a sealed protocol then covers it"},
    {"stored", OPTION_FLAG, false, NULL, "show the draw that is recorded, draw nothing"},
    {"csv", OPTION_FILE_OUT, false, "FILE", "write the list as CSV"},
};
static const char *const sample_bare[] = {"plot", NULL};

/// One thing that can be drawn.
struct unit {
    const char *name;    ///< code of the square, or tag of the plant
    const char *stratum; ///< layer or species; NULL for squares
    const char *cell;
    int64_t id; ///< of the plant; 0 for squares
};
struct sampling {
    struct programme programme;
    struct plot plot;
    struct site site;
    struct unit *units;
    size_t n_units, n;
    size_t *drawn;
    const char *rule, *what;
    uint64_t seed;
    int32_t drawn_on;
};

static int unit_order(const void *a, const void *b)
{
    const struct unit *x = a, *y = b;
    int cell = strcmp(x->cell == NULL ? "" : x->cell, y->cell == NULL ? "" : y->cell);
    return cell != 0 ? cell : x->id < y->id ? -1 : x->id > y->id;
}

/* Squares that hold a plant, or plants of the first planting, in the order of the squares. */
static enum outcome units_load(struct store *store, bool squares, bool by_species, struct sampling *job, struct arena *arena,
                               struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_of(store, NOUN_PLANT, "plot_id", job->plot.id, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct plant *plants = rows;
    job->units = arena_array(arena, n + 1, sizeof *job->units);
    for (size_t i = 0; i < n; i++)
        if (plants[i].origin == ORIGIN_FIRST_PLANTING && (!squares || plants[i].cell_code != NULL))
            job->units[job->n_units++] =
                (struct unit){.name = squares                 ? plants[i].cell_code
                                      : plants[i].tag != NULL ? plants[i].tag
                                                              : arena_print(arena, "plant %lld", (long long)plants[i].id),
                              .stratum = squares      ? NULL
                                         : by_species ? plants[i].species
                                                      : word_of(WORDS_LAYER, (int)plants[i].layer),
                              .cell = plants[i].cell_code,
                              .id = squares ? 0 : plants[i].id};
    if (job->n_units == 0 && squares) { /* not planted yet: the squares of the plan */
        struct plan plan;
        struct cell *cells = NULL;
        outcome = load_plan(store, &job->plot, 0, arena, &plan, why);
        if (outcome == OUTCOME_OK)
            outcome = plan_parts_load(store, plan.id, arena, NULL, NULL, NULL, NULL, &cells, &n, why);
        job->units = arena_array(arena, n + 1, sizeof *job->units);
        for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
            job->units[job->n_units++] = (struct unit){.name = cells[i].code, .cell = cells[i].code};
    }
    if (outcome == OUTCOME_OK && job->n_units == 0) {
        fail(why, OUTCOME_DATA, "Plot %s has no %s to draw from.", job->plot.code, squares ? "squares" : "plants");
        return failure_remedy(why, "Lay it out first: spinney layout FILE %s", job->plot.code);
    }
    if (outcome == OUTCOME_OK)
        qsort(job->units, job->n_units, sizeof *job->units, unit_order);
    size_t kept = 0;
    for (size_t i = 0; squares && i < job->n_units; i++)
        if (kept == 0 || !text_same(job->units[i].name, job->units[kept - 1].name))
            job->units[kept++] = job->units[i];
    job->n_units = squares ? kept : job->n_units;
    return outcome;
}

/* Numbers of the strata from 0, in order of their first appearance. */
static size_t *strata_of(const struct sampling *job, struct arena *arena)
{
    const char **names = arena_array(arena, job->n_units + 1, sizeof *names);
    size_t *out = arena_array(arena, job->n_units + 1, sizeof *out), n = 0;
    for (size_t i = 0; i < job->n_units; i++) {
        size_t k = 0;
        while (k < n && !text_same(names[k], job->units[i].stratum))
            k++;
        if (k == n)
            names[n++] = job->units[i].stratum;
        out[i] = k;
    }
    return out;
}

static enum outcome sample_draw(const json_t *in, struct sampling *job, struct arena *arena, struct failure *why)
{
    const char *rule = option_text(in, "rule", "random");
    bool strata = text_same(rule, "by_layer") || text_same(rule, "by_species");
    enum trial_rule how = text_same(rule, "every_kth") ? TRIAL_RULE_EVERY_KTH : strata ? TRIAL_RULE_BY_STRATUM : TRIAL_RULE_RANDOM;
    if (!strata && how == TRIAL_RULE_RANDOM && !text_same(rule, "random")) {
        fail(why, OUTCOME_USAGE, "There is no rule \"%.40s\".", rule);
        return failure_remedy(why, "Use random, every_kth, by_layer or by_species.");
    }
    if (strata && job->units[0].stratum == NULL) {
        fail(why, OUTCOME_USAGE, "Squares have no layer or species to draw by.");
        return failure_remedy(why, "Draw plants: --what plants");
    }
    double share = option_number(in, "share_pct", 25);
    int64_t least = option_integer(in, "least", 30), n = option_integer(in, "n", INT_UNKNOWN);
    if (!(share > 0 && share <= 100) || least < 1 || (n != INT_UNKNOWN && n < 1))
        return fail(why, OUTCOME_USAGE, "A share lies above 0 and up to 100 %%; numbers are 1 or more.");
    if (n == INT_UNKNOWN) {
        n = (int64_t)ceil((double)job->n_units * share / 100 - 1e-9);
        n = n < least ? least : n;
    }
    job->n = n > (int64_t)job->n_units ? job->n_units : (size_t)n;
    return trial_sample(job->n_units, job->n, how, strata ? strata_of(job, arena) : NULL, job->seed, arena, &job->drawn, &job->rule, why);
}

static json_t *members_json(const struct sampling *job)
{
    json_t *list = json_array();
    for (size_t i = 0; i < job->n; i++) {
        const struct unit *unit = &job->units[job->drawn[i]];
        json_array_append_new(list, unit->id == 0 ? json_string(unit->name) : json_integer(unit->id));
    }
    return list;
}

static enum outcome sample_keep(const struct job_context *context, const json_t *in, const struct sampling *job, struct arena *arena,
                                struct failure *why)
{
    struct drawn_sample row;
    json_t *members = members_json(job);
    char *text = json_dumps(members, JSON_COMPACT);
    noun_init(NOUN_DRAWN_SAMPLE, &row);
    row.plot_id = job->plot.id;
    row.members = text;
    row.what = job->what;
    row.rule = job->rule;
    row.seed = (int64_t)job->seed;
    row.drawn_on = context->today;
    row.drawn_by = context->author;
    row.purpose = option_text(in, "purpose", NULL);
    enum outcome outcome =
        store_begin(context->store, context->author, arena_print(arena, "sample of %s/%s drawn", job->site.code, job->plot.code), why);
    if (outcome == OUTCOME_OK) {
        outcome = store_add(context->store, NOUN_DRAWN_SAMPLE, &row, 1, why);
        outcome = store_end(context->store, outcome, why);
    }
    free(text);
    json_decref(members);
    return outcome;
}

/* The newest recorded draw, its members found among the units. */
static enum outcome sample_stored(struct store *store, struct sampling *job, struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, i = 0;
    json_error_t error;
    enum outcome outcome = load_of(store, NOUN_DRAWN_SAMPLE, "plot_id", job->plot.id, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (n == 0) {
        fail(why, OUTCOME_DATA, "No sample of plot %s is recorded.", job->plot.code);
        return failure_remedy(why, "Draw one: spinney sample FILE %s/%s --keep", job->site.code, job->plot.code);
    }
    const struct drawn_sample *row = &((struct drawn_sample *)rows)[n - 1];
    job->what = row->what;
    job->rule = row->rule;
    job->seed = (uint64_t)row->seed;
    job->drawn_on = row->drawn_on;
    outcome = units_load(store, text_same(row->what, "squares"), false, job, arena, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    json_t *members = json_loads(row->members, 0, &error), *member = NULL;
    job->drawn = arena_array(arena, json_array_size(members) + 1, sizeof *job->drawn);
    json_array_foreach(members, i, member)
    {
        for (size_t k = 0; k < job->n_units; k++)
            if (json_is_string(member) ? text_same(json_string_value(member), job->units[k].name)
                                       : json_integer_value(member) == job->units[k].id) {
                job->drawn[job->n++] = k;
                break;
            }
    }
    json_decref(members);
    return OUTCOME_OK;
}

/* Row and column of "C07" from 0: letters count the rows, the number the columns. */
static bool square_read(const char *code, size_t *row, size_t *column)
{
    size_t letters = 0, r = 0;
    int64_t c = 0;
    while (code != NULL && code[letters] >= 'A' && code[letters] <= 'Z' && letters < 3)
        r = r * 26 + (size_t)(code[letters++] - 'A') + 1;
    if (letters == 0 || !integer_read(code + letters, &c) || c < 1 || c > 9999)
        return false;
    *row = r - 1;
    *column = (size_t)c - 1;
    return true;
}

/* A map of squares: those drawn, or holding a drawn plant. */
static void squares_figure(json_t *section, const struct sampling *job, struct arena *arena)
{
    size_t rows = 0, columns = 0, row = 0, column = 0;
    for (size_t i = 0; i < job->n_units; i++) {
        if (!square_read(job->units[i].cell, &row, &column))
            return;
        rows = row + 1 > rows ? row + 1 : rows;
        columns = column + 1 > columns ? column + 1 : columns;
    }
    if (rows == 0 || rows * columns > 4000)
        return;
    double *values = arena_array(arena, rows * columns, sizeof *values);
    bool *outside = arena_array(arena, rows * columns, sizeof *outside);
    for (size_t i = 0; i < rows * columns; i++)
        outside[i] = true;
    for (size_t i = 0; i < job->n_units; i++)
        if (square_read(job->units[i].cell, &row, &column))
            outside[row * columns + column] = false;
    for (size_t i = 0; i < job->n; i++)
        if (square_read(job->units[job->drawn[i]].cell, &row, &column))
            values[row * columns + column] += 1;
    struct figure_cells figure = {
        .head = {.title = arena_print(arena, "Drawn on %s/%s", job->site.code, job->plot.code), .foot = job->rule},
        .rows = rows,
        .columns = columns,
        .values = values,
        .outside = outside,
        .unit = text_same(job->what, "squares") ? "drawn" : "plants drawn"};
    section_drawing(section, figure_cells(&figure));
}

static enum outcome list_write(const char *path, const struct sampling *job, json_t *out, struct failure *why)
{
    struct text text = {0};
    text_add(&text, "square,name,stratum\n");
    for (size_t i = 0; i < job->n; i++) {
        const struct unit *unit = &job->units[job->drawn[i]];
        text_print(&text, "%s,%s,%s\n", unit->cell == NULL ? "" : unit->cell, unit->name, unit->stratum == NULL ? "" : unit->stratum);
    }
    enum outcome outcome = file_write(path, text.at, text.n, why);
    if (outcome == OUTCOME_OK)
        note_written(out, "sample", path);
    text_free(&text);
    return outcome;
}

static json_t *sample_note(const struct sampling *job, bool kept, bool stored, struct arena *arena)
{
    json_t *out = note_new(), *section = note_section(out, "Drawn"), *list = json_array();
    note_answer(out, "%zu of %zu %s of %s/%s are drawn. %s%s", job->n, job->n_units, job->what, job->site.code, job->plot.code, job->rule,
                stored ? arena_print(arena, " Drawn and recorded on %s.", day_words(job->drawn_on, arena))
                : kept ? " The draw is recorded."
                       : " Nothing is recorded: with keep it is, before anybody has looked.");
    squares_figure(section, job, arena);
    json_t *table = section_table(section);
    table_column(table, "square", "square", "", -1);
    table_column(table, "name", text_same(job->what, "squares") ? "code" : "plant", "", -1);
    table_column(table, "stratum", "group", "", -1);
    for (size_t i = 0; i < job->n; i++) {
        const struct unit *unit = &job->units[job->drawn[i]];
        json_t *row = table_row(table);
        row_text(row, unit->cell);
        row_text(row, unit->name);
        row_text(row, unit->stratum == NULL ? "–" : unit->stratum);
        json_array_append_new(list, json_string(unit->name));
    }
    if (job->n_units <= 400 && text_same(job->what, "plants"))
        note_unknown(out, "Up to 300–400 plants two people can look at every one in 2–3 hours (common practice, no source): a sample is "
                          "then not needed.");
    note_unknown(out, "Plants of one square and one plot are alike: their number is not the number of independent things. Power tells.");
    note_source(out, "By chance: Knuth, algorithm S; numbers by Philox4x32-10, so that the seed repeats the draw. A quarter of the squares "
                     "and 30 at least: common practice, no source.");
    json_object_set_new(note_data(out), "drawn", list);
    json_object_set_new(note_data(out), "rule", json_string(job->rule));
    json_object_set_new(note_data(out), "of", json_integer((json_int_t)job->n_units));
    return out;
}

static enum outcome sample_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct sampling job = {.n = 0};
    bool stored = option_flag(in, "stored"), keep = option_flag(in, "keep") && !stored;
    job.what = option_text(in, "what", "squares");
    enum outcome outcome = OUTCOME_OK;
    if (!text_same(job.what, "squares") && !text_same(job.what, "plants")) {
        fail(why, OUTCOME_USAGE, "\"%.40s\" cannot be drawn.", job.what);
        outcome = failure_remedy(why, "Use squares or plants.");
    }
    if (outcome == OUTCOME_OK)
        outcome = load_programme(context->store, &arena, &job.programme, why);
    if (outcome == OUTCOME_OK)
        outcome = load_plot(context->store, option_text(in, "plot", NULL), &arena, &job.plot, &job.site, why);
    job.seed = (uint64_t)option_integer(in, "seed", job.programme.seed + job.plot.id);
    if (outcome == OUTCOME_OK && stored) {
        outcome = sample_stored(context->store, &job, &arena, why);
    } else if (outcome == OUTCOME_OK) {
        outcome = units_load(context->store, text_same(job.what, "squares"), text_same(option_text(in, "rule", ""), "by_species"), &job,
                             &arena, why);
        if (outcome == OUTCOME_OK)
            outcome = sample_draw(in, &job, &arena, why);
        if (outcome == OUTCOME_OK && keep)
            outcome = sample_keep(context, in, &job, &arena, why);
    }
    if (outcome == OUTCOME_OK) {
        json_t *out = sample_note(&job, keep, stored, &arena);
        if (option_text(in, "csv", NULL) != NULL)
            outcome = list_write(option_text(in, "csv", NULL), &job, out, why);
        if (outcome == OUTCOME_OK)
            *note = out;
        else
            json_decref(out);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_sample = {
    .name = "sample",
    .summary = "draw the squares or plants to be measured, by a stated rule",
    .about = "Draws squares or plants of a plot by chance, every k-th from a random start, or by layer or species in proportion, and "
             "records rule, seed and draw before anybody has looked. The same seed gives the same draw.",
    .example = "spinney sample wood.gpkg LK/D1 --share-pct 25 --purpose 'census of year 4' --keep",
    .access = JOB_WRITES,
    .options = sample_options,
    .n_options = sizeof sample_options / sizeof *sample_options,
    .bare = sample_bare,
    .run = sample_run,
};
