/* SPDX-License-Identifier: GPL-3.0-or-later
 * move: plants of a plan put elsewhere by hand, before they are planted. Each stays on plantable ground and in a square; how near
 * its neighbours come is told, never hidden. Typical size: a few places of a few hundred; the nearest is found by looking at all. */
#include "work/jobs.h"
#include "work/plan_load.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const struct option move_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"plan", OPTION_INTEGER, false, "N", "which plan of it (the chosen one if not given)"},
    {"places", OPTION_TEXT, true, "ID=EAST NORTH;…", "rows of position and where they go, in the programme's metres"},
    {"why", OPTION_TEXT, false, "TEXT", "why, for the change log"},
    {"try", OPTION_FLAG, false, NULL, "only show what would follow, store nothing"},
};
static const char *const move_bare[] = {"plot", "places", NULL};

/* One place that moves. */
struct shift {
    size_t position;
    double from_x_m, from_y_m;
    double nearest_before_m, nearest_m; ///< to the nearest other plant, before and after all have moved
    const char *cell;                   ///< code of the square it comes to
    bool other_square;
};
struct moving {
    struct plot_ground ground;
    struct plan plan;
    struct position *positions;
    struct cell *cells;
    struct shape *squares; ///< [n_cells]
    size_t n_positions, n_cells;
    struct shift *shifts;
    size_t n;
};

/* "12=611233.5 5372404.4;13=…" */
static enum outcome places_read(const char *text, struct moving *m, double *to, struct arena *arena, struct failure *why)
{
    char *copy = arena_text(arena, text), *rest = NULL;
    for (char *one = strtok_r(copy, ";", &rest); one != NULL; one = strtok_r(NULL, ";", &rest)) {
        char *equals = strchr(one, '='), *gap = equals == NULL ? NULL : strpbrk(equals + 1 + strspn(equals + 1, " "), " ,");
        double id = NAN, x = NAN, y = NAN;
        if (gap != NULL) {
            *equals = *gap = '\0';
            const char *north = gap + 1 + strspn(gap + 1, " ,");
            if (!number_read(one + strspn(one, " "), &id) || !number_read(equals + 1 + strspn(equals + 1, " "), &x) ||
                !number_read(north, &y))
                id = NAN;
        }
        size_t at = m->n_positions;
        for (size_t i = 0; is_known(id) && i < m->n_positions; i++)
            if ((double)m->positions[i].id == id)
                at = i;
        if (at == m->n_positions) {
            fail(why, OUTCOME_DATA, "“%s” names no place of plan %lld.", one, (long long)m->plan.version);
            return failure_remedy(why, "Write the number of a row of position, =, east and north, such as 12=611233.5 5372404.4.");
        }
        for (size_t k = 0; k < m->n; k++)
            if (m->shifts[k].position == at)
                return fail(why, OUTCOME_DATA, "The place %lld is named twice.", (long long)m->positions[at].id);
        to[2 * m->n] = x;
        to[2 * m->n + 1] = y;
        m->shifts[m->n++] = (struct shift){.position = at, .from_x_m = m->positions[at].x_m, .from_y_m = m->positions[at].y_m};
    }
    return m->n > 0 ? OUTCOME_OK : fail(why, OUTCOME_USAGE, "No place is named.");
}

static double nearest_m(const struct moving *m, size_t position)
{
    double least = INFINITY;
    const struct position *here = &m->positions[position];
    for (size_t i = 0; i < m->n_positions; i++)
        if (i != position)
            least = fmin(least, hypot(m->positions[i].x_m - here->x_m, m->positions[i].y_m - here->y_m));
    return isinf(least) ? NAN : least;
}

static size_t square_at(const struct moving *m, double x, double y, int64_t now)
{
    size_t found = SIZE_MAX;
    for (size_t i = 0; i < m->n_cells; i++)
        if (shape_contains(&m->squares[i], x, y) && (found == SIZE_MAX || m->cells[i].id == now))
            found = i;
    return found;
}

/* The square a place comes to; its number there follows the last one, and nobody else's number changes. */
static enum outcome square_take(struct moving *m, struct shift *shift, struct failure *why)
{
    struct position *row = &m->positions[shift->position];
    if (!shape_contains(&m->ground.outline, row->x_m, row->y_m)) {
        fail(why, OUTCOME_DATA, "%s of row %lld would stand outside of plot %s.", row->species, (long long)row->id, m->ground.plot.code);
        return failure_remedy(why, "Keep it inside the outline.");
    }
    if (!shape_contains(&m->ground.net.plantable, row->x_m, row->y_m)) {
        fail(why, OUTCOME_DATA, "%s of row %lld would stand on ground that is kept free.", row->species, (long long)row->id);
        return failure_remedy(why, "`distances` says what keeps it free, and by which figure.");
    }
    size_t at = square_at(m, row->x_m, row->y_m, row->cell_id);
    if (at == SIZE_MAX) {
        fail(why, OUTCOME_DATA, "%s of row %lld would stand in none of the plan's squares.", row->species, (long long)row->id);
        return failure_remedy(why, "Squares with too little plantable ground are not set out; choose a place in one that is.");
    }
    shift->cell = m->cells[at].code;
    shift->other_square = row->cell_id != m->cells[at].id;
    if (!shift->other_square)
        return OUTCOME_OK;
    int64_t last = 0;
    for (size_t i = 0; i < m->n_positions; i++)
        if (m->positions[i].cell_id == m->cells[at].id && m->positions[i].number > last)
            last = m->positions[i].number;
    row->cell_id = m->cells[at].id;
    row->number = last + 1;
    return OUTCOME_OK;
}

/* What is in the ground stands where it stands. */
static enum outcome unplanted_check(const struct job_context *context, const struct moving *m, struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_of(context->store, NOUN_PLANT, "plot_id", m->ground.plot.id, arena, &rows, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct plant *plant = &((struct plant *)rows)[i];
        for (size_t k = 0; k < m->n; k++) {
            if (plant->position_id != m->positions[m->shifts[k].position].id)
                continue;
            fail(why, OUTCOME_DATA, "%s of row %lld is planted already, as %s.", plant->species, (long long)plant->position_id,
                 plant->tag == NULL ? "a plant without a tag" : plant->tag);
            return failure_remedy(why, "A plan is moved before planting. If the plant stands elsewhere, change the row of the plant.");
        }
    }
    return outcome;
}

static enum outcome moving_load(const struct job_context *context, const json_t *in, struct moving *m, struct arena *arena,
                                struct failure *why)
{
    enum outcome outcome = plot_ground_load(context, option_text(in, "plot", NULL), arena, &m->ground, why);
    if (outcome == OUTCOME_OK)
        outcome = load_plan(context->store, &m->ground.plot, option_integer(in, "plan", 0), arena, &m->plan, why);
    if (outcome == OUTCOME_OK)
        outcome =
            plan_parts_load(context->store, m->plan.id, arena, NULL, NULL, &m->positions, &m->n_positions, &m->cells, &m->n_cells, why);
    if (outcome == OUTCOME_OK && m->n_positions == 0) {
        fail(why, OUTCOME_DATA, "Plan %lld of plot %s has no places yet.", (long long)m->plan.version, m->ground.plot.code);
        return failure_remedy(why, "Lay it out first.");
    }
    m->squares = arena_array(arena, m->n_cells + 1, sizeof *m->squares);
    for (size_t i = 0; outcome == OUTCOME_OK && i < m->n_cells; i++)
        outcome = load_shape(m->cells[i].wkb, arena, &m->squares[i], why);
    return outcome;
}

static enum outcome moves_make(const json_t *in, struct moving *m, struct arena *arena, struct failure *why)
{
    const char *text = option_text(in, "places", "");
    size_t most = 1;
    for (const char *p = text; *p != '\0'; p++)
        most += *p == ';';
    double *to = arena_array(arena, 2 * most, sizeof *to);
    m->shifts = arena_array(arena, most, sizeof *m->shifts);
    enum outcome outcome = places_read(text, m, to, arena, why);
    for (size_t k = 0; outcome == OUTCOME_OK && k < m->n; k++)
        m->shifts[k].nearest_before_m = nearest_m(m, m->shifts[k].position);
    for (size_t k = 0; outcome == OUTCOME_OK && k < m->n; k++) {
        struct position *row = &m->positions[m->shifts[k].position];
        row->x_m = to[2 * k];
        row->y_m = to[2 * k + 1];
        outcome = square_take(m, &m->shifts[k], why);
    }
    for (size_t k = 0; outcome == OUTCOME_OK && k < m->n; k++)
        m->shifts[k].nearest_m = nearest_m(m, m->shifts[k].position);
    return outcome;
}

static json_t *move_note(const struct moving *m, bool stored)
{
    json_t *out = note_new(), *table = section_table(note_section(out, "What moves"));
    double least = INFINITY;
    table_column(table, "position_id", "row of position", "", 0);
    table_column(table, "species", "species", "", -1);
    table_column(table, "by", "moved by", "m", 2);
    table_column(table, "cell", "square", "", -1);
    table_column(table, "number", "number", "", 0);
    table_column(table, "before", "nearest plant before", "m", 2);
    table_column(table, "nearest", "nearest plant now", "m", 2);
    for (size_t k = 0; k < m->n; k++) {
        const struct shift *shift = &m->shifts[k];
        const struct position *row = &m->positions[shift->position];
        json_t *cells = table_row(table);
        row_integer(cells, row->id);
        row_text(cells, row->species);
        row_number(cells, hypot(row->x_m - shift->from_x_m, row->y_m - shift->from_y_m));
        row_text(cells, shift->cell);
        row_integer(cells, row->number);
        row_number(cells, shift->nearest_before_m);
        row_number(cells, shift->nearest_m);
        if (is_known(shift->nearest_m))
            least = fmin(least, shift->nearest_m);
    }
    if (isinf(least))
        note_answer(out, "%zu plant%s of plan %lld moved%s.", m->n, m->n == 1 ? "" : "s", (long long)m->plan.version,
                    stored ? "" : " (not stored)");
    else
        note_answer(out, "%zu plant%s of plan %lld moved%s; the nearest other plant then stands %.2f m away.", m->n, m->n == 1 ? "" : "s",
                    (long long)m->plan.version, stored ? "" : " (not stored)", least);
    for (size_t k = 0; k < m->n; k++)
        if (m->shifts[k].other_square)
            note_unknown(out, "%s of row %lld comes to another square, %s: cards that are printed already no longer hold.",
                         m->positions[m->shifts[k].position].species, (long long)m->positions[m->shifts[k].position].id, m->shifts[k].cell);
    note_unknown(out, "Whether each species keeps its own distance from what is near is judged when the plan is laid out anew, not here.");
    json_object_set_new(note_data(out), "moved", json_integer((json_int_t)m->n));
    json_object_set_new(note_data(out), "nearest_m", isinf(least) ? json_null() : json_real(least));
    return out;
}

static enum outcome move_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct moving m = {.n = 0};
    bool stored = !option_flag(in, "try");
    enum outcome outcome = moving_load(context, in, &m, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = moves_make(in, &m, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = unplanted_check(context, &m, &arena, why);
    if (outcome == OUTCOME_OK && stored) {
        const char *reason = option_text(in, "why", NULL);
        outcome = store_begin(context->store, context->author,
                              arena_print(&arena, "move of %zu plants, plot %s/%s%s%s", m.n, m.ground.site.code, m.ground.plot.code,
                                          reason == NULL ? "" : ": ", reason == NULL ? "" : reason),
                              why);
        if (outcome == OUTCOME_OK) {
            for (size_t k = 0; outcome == OUTCOME_OK && k < m.n; k++)
                outcome = store_change(context->store, NOUN_POSITION, &m.positions[m.shifts[k].position], why);
            outcome = store_end(context->store, outcome, why);
        }
    }
    if (outcome == OUTCOME_OK)
        *note = move_note(&m, stored);
    arena_clear(&arena);
    return outcome;
}

const struct job job_move = {
    .name = "move",
    .summary = "plants of a plan put elsewhere by hand, before planting",
    .about =
        "Moves places of a plan to where you say. Each stays in the plot, on ground that is not kept free, and in a square; how near the "
        "next plant then stands is told. All moves are one step, so undo takes them back together.",
    .example = "spinney move wood.gpkg LK/D1 \"12=500003.20 5400001.10\"",
    .access = JOB_WRITES,
    .options = move_options,
    .n_options = sizeof move_options / sizeof *move_options,
    .bare = move_bare,
    .run = move_run,
};
