/* SPDX-License-Identifier: GPL-3.0-or-later
 * skill: forecasts that were kept, held against what came. */
#include "work/jobs.h"
#include "work/stand_told.h"
#include <math.h>
#include <stdlib.h>

static const struct option skill_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (all that have kept forecasts if not given)"},
};
static const char *const skill_bare[] = {"plot", NULL};

/* A kept forecast with what came. */
struct kept {
    const struct forecast *row;
    const char *plot;
    struct stand_told told;
    int32_t came_on;
    size_t unknown; ///< plants of it whose fate is not known
};
struct skill {
    struct kept *kept;
    size_t n, n_waiting, n_lost; ///< scored; nothing came yet; the day it starts from is no census any more
};

static size_t census_at(const struct stand_start *start, int32_t on)
{
    for (size_t c = 0; c < start->history.n_censuses; c++)
        if (abs(start->census_on[c] - on) < 45)
            return c;
    return SIZE_MAX;
}

static size_t census_after(const struct stand_start *start, int32_t from, int64_t seasons)
{
    for (size_t c = 0; c < start->history.n_censuses; c++)
        if (start->census_on[c] > from && stand_seasons(start, from, start->census_on[c]) == seasons)
            return c;
    return SIZE_MAX;
}

static size_t kind_named(const struct stand_start *start, const char *species)
{
    for (size_t k = 0; k < start->n_kinds; k++)
        if (text_same(start->kinds[k].name, species))
            return k;
    return SIZE_MAX - 1; /* nobody */
}

/* Whether a plant belongs to a forecast: of its kind, and alive or planted when it starts. */
static bool belongs(const struct stand_start *start, size_t i, size_t kind, size_t from, int32_t from_on)
{
    if (kind != SIZE_MAX && start->plants[i].kind != kind)
        return false;
    if (from != SIZE_MAX)
        return start->history.censuses[from].fate[i] == FATE_ALIVE;
    return start->planted_on[i] == DATE_UNKNOWN || start->planted_on[i] <= from_on + 45;
}

static double from_spread(const struct forecast *row, double scale, double seen, struct arena *arena)
{
    json_t *list = json_loads(row->spread == NULL ? "[]" : row->spread, 0, NULL);
    size_t n = json_array_size(list);
    double *q = arena_array(arena, n + 1, sizeof *q);
    for (size_t i = 0; i < n; i++)
        q[i] = scale * json_number_value(json_array_get(list, i));
    json_decref(list);
    return stand_crps_quantiles(q, n, seen);
}

/* What came of a forecast at a census. False where there is nothing to hold it against. */
static bool kept_score(const struct stand_start *start, const struct forecast *row, size_t from, size_t to, struct kept *out,
                       struct arena *arena)
{
    const struct stand_census *census = &start->history.censuses[to];
    size_t kind = row->species == NULL ? SIZE_MAX : kind_named(start, row->species), n = 0, known = 0, alive = 0, measured = 0;
    double sum = 0;
    bool height = text_same(row->about, "height"), counts = text_same(row->about, "alive");
    const double *size = height ? census->height_m : census->diameter_cm;
    for (size_t i = 0; i < start->n_plants; i++) {
        if (!belongs(start, i, kind, from, row->from_on))
            continue;
        n++;
        known += census->fate[i] != FATE_UNKNOWN;
        alive += census->fate[i] == FATE_ALIVE;
        if (census->fate[i] == FATE_ALIVE && is_known(size[i])) {
            sum += size[i];
            measured++;
        }
    }
    if (known < 5 || (!counts && measured < 5) || 2 * known < n)
        return false;
    double scale = counts ? (double)known / row->start_value : 1, seen = counts ? (double)alive : sum / (double)measured;
    out->row = row;
    out->unknown = n - known;
    out->came_on = start->census_on[to];
    out->told = (struct stand_told){.of = counts   ? TOLD_ALIVE
                                          : height ? TOLD_HEIGHT
                                                   : TOLD_DIAMETER,
                                    .census = to,
                                    .kind = kind,
                                    .n = counts ? known : measured,
                                    .start = row->start_value,
                                    .seen = seen,
                                    .middle = scale * row->middle,
                                    .low50 = scale * row->low_50,
                                    .high50 = scale * row->high_50,
                                    .low90 = scale * row->low_90,
                                    .high90 = scale * row->high_90,
                                    .plain_crps = unknown_real()};
    out->told.crps = from_spread(row, scale, seen, arena);
    return true;
}

static enum outcome plot_score(const struct job_context *context, const struct forecast *rows, size_t n, int64_t plot, struct skill *skill,
                               struct arena *arena, struct failure *why)
{
    struct stand_start start;
    void *plots = NULL;
    size_t n_plots = 0;
    const char *name = NULL;
    enum outcome outcome = load_all(context->store, NOUN_PLOT, arena, &plots, &n_plots, why);
    void *sites = NULL;
    size_t n_sites = 0;
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_SITE, arena, &sites, &n_sites, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n_plots; i++)
        if (((struct plot *)plots)[i].id == plot)
            name = plot_name(sites, n_sites, (struct plot *)plots + i, arena);
    if (outcome != OUTCOME_OK || name == NULL)
        return outcome;
    outcome = stand_start_load(context, name, 0, false, DATE_UNKNOWN, arena, &start, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        if (rows[i].plot_id != plot)
            continue;
        size_t from = census_at(&start, rows[i].from_on), to = census_after(&start, rows[i].from_on, rows[i].seasons);
        if (to == SIZE_MAX)
            skill->n_waiting++;
        else if (kept_score(&start, &rows[i], from, to, &skill->kept[skill->n], arena))
            skill->kept[skill->n++].plot = name;
        else
            skill->n_lost++;
    }
    return outcome;
}

static void kept_table(const struct skill *skill, json_t *note, struct arena *arena)
{
    json_t *section = note_section(note, "Forecast by forecast"), *table = section_table(section);
    section_text(
        section,
        "As they were kept; a forecast of living plants is held against those whose fate is known. Of all plants of a plot; the kinds "
        "are in the table above and in the data.");
    static const char *const names[] = {"plot", "about", "made", "ahead", "told", "came", "on", "verdict"};
    static const char *const titles[] = {"plot", "about", "made on", "seasons ahead", "told (90 % of runs)", "came", "on", "held"};
    for (size_t k = 0; k < 8; k++)
        table_column(table, names[k], titles[k], "", -1);
    for (size_t i = 0; i < skill->n; i++) {
        const struct kept *kept = &skill->kept[i];
        if (kept->row->species != NULL)
            continue;
        const struct stand_told *told = &kept->told;
        int digits = told->of == TOLD_ALIVE ? 0 : 2;
        json_t *row = table_row(table);
        row_text(row, kept->plot);
        row_text(row, told->of == TOLD_ALIVE ? "living plants" : "mean height, m");
        row_text(row, day_words(kept->row->made_on, arena));
        row_print(row, "%lld", (long long)kept->row->seasons);
        row_print(row, "%.*f (%.*f–%.*f)", digits, told->middle, digits, told->low90, digits, told->high90);
        row_print(row, "%.*f of %zu%s", digits, told->seen, told->n, told->of == TOLD_ALIVE ? "" : " measured");
        row_text(row, day_words(kept->came_on, arena));
        if (told->seen < told->low90)
            row_print(row, "too high: %.*f above what came, beyond its 90 %% range", digits, told->middle - told->seen);
        else if (told->seen > told->high90)
            row_print(row, "too low: %.*f below what came, beyond its 90 %% range", digits, told->seen - told->middle);
        else
            row_print(row, "within its 90 %% range, off by %.*f", digits, fabs(told->middle - told->seen));
    }
}

/* How far out of its 90 % range, in widths of it; 0 within. */
static double far_out(const struct stand_told *told)
{
    double width = fmax(1e-9, told->high90 - told->low90);
    return told->seen < told->low90    ? (told->low90 - told->seen) / width
           : told->seen > told->high90 ? (told->seen - told->high90) / width
                                       : 0;
}

static int farthest_first(const void *a, const void *b)
{
    const struct kept *x = a, *y = b;
    double p = far_out(&x->told), q = far_out(&y->told);
    return p != q ? (p < q) - (p > q) : (x->row->id > y->row->id) - (x->row->id < y->row->id);
}

static void farthest_table(const struct skill *skill, json_t *note, struct arena *arena)
{
    struct kept *sorted = arena_array(arena, skill->n + 1, sizeof *sorted);
    for (size_t i = 0; i < skill->n; i++)
        sorted[i] = skill->kept[i];
    qsort(sorted, skill->n, sizeof *sorted, farthest_first);
    if (skill->n == 0 || !(far_out(&sorted[0].told) > 0))
        return;
    json_t *section = note_section(note, "The farthest out"), *table = section_table(section);
    static const char *const names[] = {"plot", "species", "about", "made", "ahead", "told", "came"};
    static const char *const titles[] = {"plot", "species", "about", "made on", "seasons ahead", "told (90 % of runs)", "came"};
    for (size_t k = 0; k < 7; k++)
        table_column(table, names[k], titles[k], "", -1);
    for (size_t i = 0; i < skill->n && i < 12 && far_out(&sorted[i].told) > 0; i++) {
        const struct stand_told *told = &sorted[i].told;
        int digits = told->of == TOLD_ALIVE ? 0 : 2;
        json_t *row = table_row(table);
        row_text(row, sorted[i].plot);
        row_text(row, sorted[i].row->species == NULL ? "all" : sorted[i].row->species);
        row_print(row, "%s, %s", sorted[i].row->about, sorted[i].row->unit);
        row_text(row, day_words(sorted[i].row->made_on, arena));
        row_print(row, "%lld", (long long)sorted[i].row->seasons);
        row_print(row, "%.*f (%.*f–%.*f)", digits, told->middle, digits, told->low90, digits, told->high90);
        row_print(row, "%.*f", digits, told->seen);
    }
}

static enum outcome skill_load(const struct job_context *context, const json_t *in, struct forecast **rows, size_t *n, struct arena *arena,
                               struct failure *why)
{
    struct plot plot;
    struct site site;
    void *all = NULL;
    const char *code = option_text(in, "plot", NULL);
    enum outcome outcome = code == NULL ? load_all(context->store, NOUN_FORECAST, arena, &all, n, why)
                                        : load_plot(context->store, code, arena, &plot, &site, why);
    if (outcome == OUTCOME_OK && code != NULL)
        outcome = load_of(context->store, NOUN_FORECAST, "plot_id", plot.id, arena, &all, n, why);
    *rows = all;
    if (outcome == OUTCOME_OK && *n == 0) {
        fail(why, OUTCOME_DATA, "No forecast has been kept%s%s.", code == NULL ? "" : " for ", code == NULL ? "" : code);
        return failure_remedy(why, "Keep one: spinney ahead FILE PLOT --keep. After the next census this says how good it was.");
    }
    return outcome;
}

static json_t *skill_note(const struct skill *skill, struct arena *arena)
{
    json_t *out = note_new();
    struct stand_told *told = arena_array(arena, skill->n + 1, sizeof *told);
    size_t outside = 0;
    for (size_t i = 0; i < skill->n; i++) {
        told[i] = skill->kept[i].told;
        outside += told[i].seen < told[i].low90 || told[i].seen > told[i].high90;
    }
    if (skill->n == 0)
        note_answer(out, "Nothing has come yet to hold the %zu kept forecasts against.", skill->n_waiting);
    else
        note_answer(out, "Of %zu forecasts that have come due, %zu fell outside their 90 %% range, where about %.0f would be chance.",
                    skill->n, outside, 0.1 * (double)skill->n);
    if (skill->n > 0) {
        json_t *section = note_section(out, "How good they were");
        section_text(
            section,
            "Ranges that are right hold half, and nine in ten, of what comes. Forecasts of one plot in one year are not independent: a "
            "bad summer puts many outside at once.");
        stand_skill_table(told, skill->n, section, arena);
        kept_table(skill, out, arena);
        farthest_table(skill, out, arena);
    }
    if (skill->n_waiting > 0)
        note_unknown(out, "%zu kept forecasts speak of a season whose census has not come.", skill->n_waiting);
    if (skill->n_lost > 0)
        note_unknown(out, "%zu kept forecasts could not be held against anything: too few plants with a known fate or size.",
                     skill->n_lost);
    note_source(out,
                "Continuous ranked probability score: Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102:359–378; docs/methods/stand.md.");
    json_t *list = json_array();
    for (size_t i = 0; i < skill->n; i++)
        json_array_append_new(list, json_pack("{s:s, s:s, s:s?, s:I, s:f, s:f, s:f, s:f, s:f}", "plot", skill->kept[i].plot, "about",
                                              skill->kept[i].row->about, "species", skill->kept[i].row->species, "seasons",
                                              (json_int_t)skill->kept[i].row->seasons, "middle", told[i].middle, "low_90", told[i].low90,
                                              "high_90", told[i].high90, "came", told[i].seen, "crps", told[i].crps));
    json_object_set_new(note_data(out), "forecasts", list);
    return out;
}

static enum outcome skill_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct forecast *rows = NULL;
    struct skill skill = {.n = 0};
    size_t n = 0;
    enum outcome outcome = skill_load(context, in, &rows, &n, &arena, why);
    skill.kept = arena_array(&arena, n + 1, sizeof *skill.kept);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        bool done = false;
        for (size_t j = 0; j < i; j++)
            done = done || rows[j].plot_id == rows[i].plot_id;
        if (!done)
            outcome = plot_score(context, rows, n, rows[i].plot_id, &skill, &arena, why);
    }
    if (outcome == OUTCOME_OK)
        *note = skill_note(&skill, &arena);
    arena_clear(&arena);
    return outcome;
}

const struct job job_skill = {
    .name = "skill",
    .summary = "how good the kept forecasts were",
    .about =
        "Holds every forecast that was kept with ahead --keep against the census of the season it spoke of: how often what came lay within "
        "its ranges, how far off it was, and which forecast was wrong by how much.",
    .example = "spinney skill wood.gpkg LK/D1",
    .access = JOB_LOOKS,
    .options = skill_options,
    .n_options = sizeof skill_options / sizeof *skill_options,
    .bare = skill_bare,
    .run = skill_run,
};
