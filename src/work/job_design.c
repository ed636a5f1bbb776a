/* SPDX-License-Identifier: GPL-3.0-or-later
 * design: which plots to plant for the question asked, on one site and over sites, and what they could find. */
#include "stats/stats.h"
#include "trial/trial.h"
#include "work/jobs.h"
#include "work/site_map.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const struct option design_options[] = {
    {"asks", OPTION_TEXT, false, "WORD,WORD", "what is asked: recipe, soil, density, together, baseline (soil,density if not given)"},
    {"usual_mix", OPTION_FLAG, false, NULL, "the conventional plot carries the usual mix, not that of the dense plot"},
    {"area_m2", OPTION_NUMBER, false, "M2", "area of a plot (100 if not given)"},
    {"dense_m2", OPTION_NUMBER, false, "PER_M2", "plants per m² of dense plots (3)"},
    {"sparse_m2", OPTION_NUMBER, false, "PER_M2", "plants per m² of the others (1)"},
    {"room", OPTION_TEXT, false, "CODE=N;CODE=N", "plots that still fit on a site of the programme (0 where not named)"},
    {"new_sites", OPTION_INTEGER, false, "N", "sites still to come (0; 6 where the programme has none)"},
    {"new_room", OPTION_INTEGER, false, "N", "plots that fit on each of those (as many as the smallest set needs)"},
    {"add", OPTION_INTEGER, false, "N", "plots to add in all, at the most (what fits if not given)"},
    {"difference", OPTION_NUMBER, false, "POINTS", "difference worth finding, in points (10)"},
    {"sd_plot", OPTION_NUMBER, false, "POINTS", "spread of plots about their site, in points (8.5, a planning assumption)"},
    {"seed", OPTION_INTEGER, false, "N", "seed of the search where not every way can be tried (1)"},
};
static const char *const design_bare[] = {"asks", NULL};

struct designing {
    unsigned asked;
    struct trial_sets sets;
    struct trial_block *blocks;
    size_t n, most, n_existing;
    struct trial_blocking found;
    double difference, sd;
    uint64_t seed;
};

static const char *kinds_words(unsigned kinds, struct arena *arena)
{
    struct text text = {0};
    for (unsigned k = 0; k < TRIAL_KINDS; k++)
        if (kinds >> k & 1)
            text_print(&text, "%s%s", text_get(&text)[0] == '\0' ? "" : ", ", trial_kind_letter((enum trial_kind)k));
    const char *out = arena_text(arena, text_get(&text));
    text_free(&text);
    return out;
}

static unsigned kind_of(enum regime regime)
{
    switch (regime) {
    case REGIME_DENSE_PREPARED:
        return 1u << TRIAL_KIND_D;
    case REGIME_CONVENTIONAL:
        return 1u << TRIAL_KIND_C;
    case REGIME_SPARSE_PREPARED:
        return 1u << TRIAL_KIND_P;
    case REGIME_DENSE_UNPREPARED:
        return 1u << TRIAL_KIND_N;
    case REGIME_UNPLANTED:
        return 1u << TRIAL_KIND_U;
    default:
        return 0;
    }
}

/* "LK=2;BS=1": how many plots still fit on a site; SIZE_MAX with a failure. */
static size_t room_of(const char *list, const char *site, struct failure *why)
{
    struct arena arena = {0};
    size_t room = 0;
    char *copy = arena_text(&arena, list == NULL ? "" : list), *rest = NULL;
    for (char *part = strtok_r(copy, "; ,", &rest); part != NULL; part = strtok_r(NULL, "; ,", &rest)) {
        char *sign = strchr(part, '=');
        int64_t n = 0;
        if (sign == NULL || !integer_read(sign + 1, &n) || n < 0 || n > 8) {
            fail(why, OUTCOME_USAGE, "\"%.40s\" is no room on a site.", part);
            failure_remedy(why, "Write --room 'LK=2;BS=1', with 0 to 8 plots.");
            room = SIZE_MAX;
            break;
        }
        *sign = '\0';
        if (text_same_nocase(part, site))
            room = (size_t)n;
    }
    arena_clear(&arena);
    return room;
}

static enum outcome blocks_load(const struct job_context *context, const json_t *in, struct designing *job, struct arena *arena,
                                struct failure *why)
{
    void *sites = NULL, *plots = NULL;
    size_t n_sites = 0, n_plots = 0;
    enum outcome outcome = load_all(context->store, NOUN_SITE, arena, &sites, &n_sites, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_PLOT, arena, &plots, &n_plots, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    size_t need = job->sets.best == SIZE_MAX ? 2 : (size_t)__builtin_popcount(job->sets.sets[job->sets.best].kinds & 15u);
    int64_t room = option_integer(in, "new_room", (int64_t)need);
    job->blocks = arena_array(arena, n_sites + 41, sizeof *job->blocks);
    for (size_t i = 0; i < n_sites; i++) {
        const struct site *site = &((struct site *)sites)[i];
        struct trial_block block = {.site = site->code, .room = room_of(option_text(in, "room", NULL), site->code, why)};
        if (block.room == SIZE_MAX)
            return OUTCOME_USAGE;
        for (size_t j = 0; j < n_plots; j++)
            if (((struct plot *)plots)[j].site_id == site->id)
                block.must |= kind_of(((struct plot *)plots)[j].regime);
        if (block.must != 0 || (block.room > 0 && site->stage != STAGE_REJECTED && site->stage != STAGE_CLOSED))
            job->blocks[job->n++] = block;
    }
    job->n_existing = job->n;
    int64_t fresh = option_integer(in, "new_sites", job->n == 0 ? 6 : 0);
    if (fresh < 0 || job->n + (size_t)fresh > 40 || room < 0 || room > 8)
        return fail(why, OUTCOME_USAGE, "Up to 40 sites with up to 8 plots each can be planned together.");
    for (int64_t i = 0; i < fresh; i++)
        job->blocks[job->n++] = (struct trial_block){.site = arena_print(arena, "new %lld", (long long)i + 1), .room = (size_t)room};
    return OUTCOME_OK;
}

static void sets_section(json_t *out, const struct designing *job, double area_m2, struct arena *arena)
{
    json_t *section = note_section(out, "Sets of plots on one site"), *table = section_table(section);
    section_text(section,
                 "D %s; C %s; P %s; N %s; U %s. Everything else is held equal: batch and size of plants, week and team, fence, mulch, "
                 "water, weeding, labels, observers.",
                 trial_kind_word(TRIAL_KIND_D), trial_kind_word(TRIAL_KIND_C), trial_kind_word(TRIAL_KIND_P), trial_kind_word(TRIAL_KIND_N),
                 trial_kind_word(TRIAL_KIND_U));
    table_column(table, "plots", "plots", "", -1);
    table_column(table, "area", "area", "m²", 0);
    table_column(table, "plants", "plants", "", 0);
    for (unsigned q = 0; q < TRIAL_QUESTIONS; q++)
        table_column(table, trial_question_word((enum trial_question)q), trial_question_word((enum trial_question)q), "", -1);
    table_column(table, "sentence", "what may be said", "", -1);
    json_t *list = json_array();
    for (size_t i = 0; i < job->sets.n; i++) {
        const struct trial_set *set = &job->sets.sets[i];
        json_array_append_new(list,
                              json_pack("{s:s, s:I, s:f, s:b}", "plots", kinds_words(set->kinds, arena), "n", (json_int_t)set->n_plots,
                                        "plants", set->plants, "answers", (int)((set->answers & job->asked) == job->asked)));
        bool bare = set->kinds >> TRIAL_KIND_U & 1;
        if ((set->answers & job->asked) == 0 || (bare && !(job->asked >> TRIAL_ASKS_BASE & 1)))
            continue;
        json_t *row = table_row(table);
        row_text(row, kinds_words(set->kinds, arena));
        row_number(row, area_m2 * (double)set->n_plots);
        row_number(row, set->plants);
        for (unsigned q = 0; q < TRIAL_QUESTIONS; q++)
            row_text(row, set->answers >> q & 1 ? "answered" : job->asked >> q & 1 ? "asked, not answered" : "–");
        row_text(row, set->sentence);
    }
    json_object_set_new(note_data(out), "sets", list);
}

static void sites_section(json_t *out, const struct designing *job, struct arena *arena)
{
    const struct trial_blocking *b = &job->found;
    json_t *section = note_section(out, "Over sites"), *table = section_table(section), *list = json_array();
    section_text(
        section,
        "Sites are blocks: plots are only compared within a site. %zu plots added to %zu; %s of the ways to do so%s gives a smaller "
        "mean variance of what is asked.",
        b->added, b->plots - b->added, b->all_tried ? "none" : "none found",
        b->all_tried ? arena_print(arena, " (all %zu were tried)", b->tried) : " (exchanges from many starts, not every way)");
    table_column(table, "site", "site", "", -1);
    table_column(table, "there", "there", "", -1);
    table_column(table, "add", "to add", "", -1);
    for (size_t i = 0; i < job->n; i++) {
        json_t *row = table_row(table);
        unsigned add = job->blocks[i].kinds & ~job->blocks[i].must;
        row_text(row, job->blocks[i].site);
        row_text(row, job->blocks[i].must == 0 ? "–" : kinds_words(job->blocks[i].must, arena));
        row_text(row, add == 0 ? "–" : kinds_words(add, arena));
        json_array_append_new(list, json_pack("{s:s, s:s, s:s}", "site", job->blocks[i].site, "there",
                                              kinds_words(job->blocks[i].must, arena), "add", kinds_words(add, arena)));
    }
    json_object_set_new(note_data(out), "sites", list);
}

static void found_section(json_t *out, const struct designing *job)
{
    static const char *const contrasts[] = {"D − C", "P − C", "D − P", "(D − N) − (P − C)"};
    json_t *section = note_section(out, "What it could find"), *table = section_table(section), *list = json_array();
    table_column(table, "question", "question", "", -1);
    table_column(table, "contrast", "contrast", "", -1);
    table_column(table, "sites", "sites with the pair itself", "", -1);
    table_column(table, "variance", "variance, in squares of the plots' spread", "", 3);
    table_column(table, "half", "half-width of the 95 % interval", "points", 1);
    table_column(table, "power", "power for the difference worth finding", "%", 0);
    table_column(table, "least", "least p by re-drawing the lots", "", 4);
    for (unsigned q = 0; q < TRIAL_ASKS_BASE; q++) {
        double v = job->found.variance[q], power = unknown_real(), half = unknown_real();
        struct failure none;
        if (!is_known(v) && !(job->asked >> q & 1))
            continue;
        if (is_known(v) && job->found.df >= 1) {
            half = student_quantile(0.975, job->found.df) * job->sd * sqrt(v);
            if (trial_contrast_power(job->difference, job->sd * sqrt(v), job->found.df, 0.05, &power, &none) != OUTCOME_OK)
                power = unknown_real();
        }
        json_t *row = table_row(table);
        row_text(row, trial_question_word((enum trial_question)q));
        row_text(row, contrasts[q]);
        row_integer(row, (int64_t)job->found.pairs[q]);
        row_number(row, v);
        row_number(row, half);
        row_number(row, 100 * power);
        row_number(row, job->found.pairs[q] > 0 ? trial_least_p_pairs((double)job->found.pairs[q]) : unknown_real());
        json_array_append_new(list, json_pack("{s:s, s:o, s:o, s:o, s:I}", "question", trial_question_word((enum trial_question)q),
                                              "variance", is_known(v) ? json_real(v) : json_null(), "half_width",
                                              is_known(half) ? json_real(half) : json_null(), "power",
                                              is_known(power) ? json_real(power) : json_null(), "pairs", (json_int_t)job->found.pairs[q]));
    }
    json_object_set_new(note_data(out), "contrasts", list);
    json_object_set_new(note_data(out), "df", json_real(job->found.df));
    json_object_set_new(note_data(out), "all_tried", json_boolean(job->found.all_tried));
    if (job->found.df < 1)
        note_unknown(out,
                     "No degree of freedom is left to judge chance by: the difference of two plots on one site is what these plots did.");
    note_unknown(out, "The spread of plots about their site (%.1f points) is a planning assumption.", job->sd);
}

/* How the interval narrows with every plot added. */
static void added_figure(json_t *section, const struct designing *job, struct arena *arena)
{
    enum { MOST = 14 };
    size_t most = job->found.added;
    static const char *const names[] = {"recipe", "soil", "density", "together"};
    double *x = arena_array(arena, MOST + 1, sizeof *x), *y[4];
    size_t n = 0;
    if (most < 2 || most > MOST || !job->found.all_tried)
        return;
    for (size_t q = 0; q < 4; q++)
        y[q] = arena_array(arena, MOST + 1, sizeof *y[q]);
    struct trial_block *copy = arena_array(arena, job->n, sizeof *copy);
    for (size_t add = 0; add <= most; add++) {
        struct trial_blocking found;
        struct failure none;
        memcpy(copy, job->blocks, job->n * sizeof *copy);
        if (trial_blocks_choose(copy, job->n, job->asked, add, job->seed, arena, &found, &none) != OUTCOME_OK || found.df < 1)
            continue;
        x[n] = (double)add;
        for (size_t q = 0; q < 4; q++)
            y[q][n] = job->asked >> q & 1 ? student_quantile(0.975, found.df) * job->sd * sqrt(found.variance[q]) : unknown_real();
        n++;
    }
    struct figure_line lines[4];
    size_t m = 0;
    for (size_t q = 0; q < 4; q++)
        if (job->asked >> q & 1)
            lines[m++] = (struct figure_line){.name = names[q], .x = x, .y = y[q], .n = n};
    struct figure_lines figure = {.head = {.title = "The interval narrows with every plot added",
                                           .x_title = "plots added in all",
                                           .y_title = "half-width of the 95 % interval (points)"},
                                  .lines = lines,
                                  .n_lines = m,
                                  .from_zero = true};
    if (n >= 2)
        section_drawing(section, figure_lines(&figure));
}

static enum outcome design_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct designing *job = arena_alloc(&arena, sizeof *job);
    double area = option_number(in, "area_m2", 100);
    int64_t add = option_integer(in, "add", INT_UNKNOWN);
    struct failure over = {0};
    *job = (struct designing){.asked = trial_questions_read(option_text(in, "asks", "soil,density")),
                              .most = add == INT_UNKNOWN || add < 0 ? SIZE_MAX : (size_t)add,
                              .difference = option_number(in, "difference", 10),
                              .sd = option_number(in, "sd_plot", 8.5),
                              .seed = (uint64_t)option_integer(in, "seed", 1)};
    enum outcome outcome = trial_sets_make(job->asked, option_flag(in, "usual_mix"), option_number(in, "dense_m2", 3),
                                           option_number(in, "sparse_m2", 1), area, &arena, &job->sets, why);
    if (outcome == OUTCOME_OK && !(job->sd > 0))
        outcome = fail(why, OUTCOME_USAGE, "The spread of plots must be above zero.");
    if (outcome == OUTCOME_OK)
        outcome = blocks_load(context, in, job, &arena, why);
    if (outcome != OUTCOME_OK)
        goto done;
    json_t *out = note_new();
    const struct trial_set *best = job->sets.best == SIZE_MAX ? NULL : &job->sets.sets[job->sets.best];
    bool differences = (job->asked & 15u) != 0;
    bool chosen =
        differences && trial_blocks_choose(job->blocks, job->n, job->asked, job->most, job->seed, &arena, &job->found, &over) == OUTCOME_OK;
    if (best == NULL)
        note_answer(out, "No set of these plots answers all that is asked by pairs that differ in one thing alone%s.",
                    option_flag(in, "usual_mix") ? ": the conventional plot has another mix. Plant the same mix in it" : "");
    else
        note_answer(out, "The smallest set that answers this on a site is %s: %zu plots, %.0f m² and %.0f plants. %s",
                    kinds_words(best->kinds, &arena), best->n_plots, area * (double)best->n_plots, best->plants, best->sentence);
    json_object_set_new(note_data(out), "best", best == NULL ? json_null() : json_string(kinds_words(best->kinds, &arena)));
    sets_section(out, job, area, &arena);
    if (chosen) {
        sites_section(out, job, &arena);
        found_section(out, job);
        added_figure(note_section(out, "What each plot more would bring"), job, &arena);
    } else if (differences) {
        note_unknown(out, "Over sites: %s %s", over.sentence, over.remedy);
    }
    if (job->asked >> TRIAL_ASKS_BASE & 1)
        note_unknown(out,
                     "An unplanted plot belongs on every site, fenced like the others: what comes by itself differs from place to place.");
    note_unknown(out, "About 1 plant per m² is a landscape norm; forestry plants 0.11–0.33 per m². Say which convention you mean.");
    note_source(out,
                "Estimability: Searle 1971, Linear Models, § 5.4. Sites as blocks, least variance of the contrasts asked: John & Williams "
                "1995, Cyclic and Computer Generated Designs, ch. 1–2. Power: noncentral t.");
    *note = out;
done:
    arena_clear(&arena);
    return outcome;
}

const struct job job_design = {
    .name = "design",
    .summary = "which plots to plant for the question asked",
    .about = "Finds the smallest set of plots (dense, conventional, sparse on prepared ground, dense without preparation, unplanted) that "
             "answers what is asked, and which of them to add on which sites of the programme so that the answer is most precise; shows "
             "interval, power and the least p that the lots allow.",
    .example = "spinney design wood.gpkg soil,density --room 'LK=1;BS=1'",
    .access = JOB_LOOKS,
    .options = design_options,
    .n_options = sizeof design_options / sizeof *design_options,
    .bare = design_bare,
    .run = design_run,
};
