/* SPDX-License-Identifier: GPL-3.0-or-later
 * phenology: between which days plants reached a stage of the year, and how far years lie apart. */
#include "evidence/evidence.h"
#include "draw/draw.h"
#include "work/jobs.h"
#include "work/load.h"
#include "work/site_map.h"

enum { LEVEL_PCT = 95 };
static const struct option phenology_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "only this site (all if not given)"},
    {"phase", OPTION_INTEGER, false, "BBCH", "only this growth stage"},
};
static const char *const phenology_bare[] = {"site", NULL};

static const char *day_of_year_words(double day, int year, struct arena *arena)
{
    char iso[16];
    if (!is_known(day))
        return NULL;
    date_write(date_make(year, 1, 1) + (int32_t)(day + 0.5) - 1, iso);
    return arena_text(arena, iso);
}

/* The stages that rounds look for most, in words; others keep their number. Meier 2018, BBCH monograph (woody plants). */
static const char *phase_words(int phase, struct arena *arena)
{
    static const struct {
        int phase;
        const char *words;
    } known[] = {{7, "buds breaking"},     {11, "first leaves unfolded"}, {19, "leaves full size"}, {60, "first flowers open"},
                 {65, "full flower"},      {85, "fruit ripening"},        {92, "leaves turning"},   {95, "half of the leaves fallen"},
                 {97, "all leaves fallen"}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (known[i].phase == phase)
            return arena_print(arena, "%02d %s", phase, known[i].words);
    return arena_print(arena, "BBCH %02d", phase);
}

static enum outcome facts_load(const struct job_context *context, struct arena *arena, struct phenology_facts *f, struct failure *why)
{
    const struct {
        enum noun noun;
        const void **rows;
        size_t *n;
    } wanted[] = {{NOUN_SITE, (const void **)&f->sites, &f->n_sites},
                  {NOUN_PLOT, (const void **)&f->plots, &f->n_plots},
                  {NOUN_PLANT, (const void **)&f->plants, &f->n_plants},
                  {NOUN_PHENOLOGY_RECORD, (const void **)&f->records, &f->n_records}};
    *f = (struct phenology_facts){.n_sites = 0};
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++) {
        void *rows = NULL;
        enum outcome outcome = load_all(context->store, wanted[i].noun, arena, &rows, wanted[i].n, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        *wanted[i].rows = rows;
    }
    return OUTCOME_OK;
}

static void days_table(json_t *out, const struct phenology *found, const struct site *site, int64_t phase, struct arena *arena)
{
    json_t *section = note_section(out, "Between which days a stage was reached"), *table = section_table(section), *list = json_array();
    section_text(section, "A round knows only that a stage was reached after its last \"not yet\" and by its first \"reached\": means of "
                          "both over the plants. A skipped week widens the gap; it does not move the day.");
    static const char *const titles[] = {
        "site",           "species",  "stage", "year", "plants", "after", "by", "widest gap [d]", "before the first look",
        "after the last", "set aside"};
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], "", -1);
    for (size_t i = 0; i < found->n_rows; i++) {
        const struct phenology_row *r = &found->rows[i];
        if ((site != NULL && r->site->id != site->id) || (phase != INT_UNKNOWN && r->phase != phase))
            continue;
        json_t *row = table_row(table);
        row_text(row, r->site->code);
        row_text(row, r->species);
        row_text(row, phase_words(r->phase, arena));
        row_integer(row, r->year);
        row_print(row, "%zu of %zu", r->dated, r->plants);
        row_text(row, day_of_year_words(r->after_day, r->year, arena));
        row_text(row, day_of_year_words(r->by_day, r->year, arena));
        row_number(row, r->widest_gap_d);
        row_integer(row, (int64_t)r->before);
        row_integer(row, (int64_t)r->after);
        row_integer(row, (int64_t)r->broken);
        json_array_append_new(list, json_pack("{s:s, s:s, s:i, s:i, s:I, s:o, s:o}", "site", r->site->code, "species", r->species, "phase",
                                              r->phase, "year", r->year, "dated", (json_int_t)r->dated, "after_day",
                                              is_known(r->after_day) ? json_real(r->after_day) : json_null(), "by_day",
                                              is_known(r->by_day) ? json_real(r->by_day) : json_null()));
    }
    json_object_set_new(note_data(out), "rows", list);
}

static size_t shifts_table(json_t *out, const struct phenology *found, const struct site *site, int64_t phase, struct arena *arena)
{
    json_t *section = note_section(out, "Years beside the first year, on the same plants"), *list = json_array();
    struct figure_row *rows = arena_array(arena, found->n_shifts + 1, sizeof *rows);
    size_t n = 0;
    for (size_t i = 0; i < found->n_shifts; i++) {
        const struct phenology_shift *s = &found->shifts[i];
        if ((site != NULL && s->site->id != site->id) || (phase != INT_UNKNOWN && s->phase != phase))
            continue;
        rows[n++] =
            (struct figure_row){.label = arena_print(arena, "%s %d, %s", s->site->code, s->year, phase_words(s->phase, arena)),
                                .value = {s->days.value, s->days.low, s->days.high},
                                .note = arena_print(arena, "%zu plants of %zu species, beside %d", s->plants, s->species, s->base_year)};
        json_array_append_new(
            list, json_pack("{s:s, s:i, s:i, s:i, s:o, s:o, s:o, s:I}", "site", s->site->code, "phase", s->phase, "year", s->year,
                            "base_year", s->base_year, "days", is_known(s->days.value) ? json_real(s->days.value) : json_null(), "low",
                            is_known(s->days.low) ? json_real(s->days.low) : json_null(), "high",
                            is_known(s->days.high) ? json_real(s->days.high) : json_null(), "plants", (json_int_t)s->plants));
    }
    json_object_set_new(note_data(out), "shifts", list);
    if (n == 0) {
        section_text(section, "One year only, or no plant dated in two years: nothing to set beside each other.");
        return 0;
    }
    json_t *table = section_table(section);
    table_column(table, "what", "site, year, stage", "", -1);
    table_column(table, "days", "days; − is earlier", "", -1);
    table_column(table, "plants", "on", "", -1);
    for (size_t i = 0; i < n; i++) {
        char shown[120];
        json_t *row = table_row(table);
        row_text(row, rows[i].label);
        value_write(rows[i].value, 1, "", shown);
        row_text(row, is_known(rows[i].value.value) ? shown : NULL);
        row_text(row, rows[i].note);
    }
    struct figure_intervals figure = {.head = {.title = "Days earlier or later than in the first year",
                                               .x_title = "days",
                                               .foot = "Mean over species; 95 % Student's t over species. The site is the replicate of a "
                                                       "spring: a year is one spring."},
                                      .rows = rows,
                                      .n_rows = n,
                                      .unit = "d",
                                      .digits = 1,
                                      .reference = 0,
                                      .less = "earlier",
                                      .more = "later"};
    section_drawing(section, figure_intervals(&figure));
    return n;
}

static enum outcome phenology_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct phenology_facts facts;
    struct phenology found;
    struct site site;
    const struct site *only = NULL;
    int64_t phase = option_integer(in, "phase", INT_UNKNOWN);
    enum outcome outcome = facts_load(context, &arena, &facts, why);
    if (outcome == OUTCOME_OK && option_text(in, "site", NULL) != NULL) {
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
        only = &site;
    }
    if (outcome == OUTCOME_OK)
        outcome = evidence_phenology(&facts, LEVEL_PCT / 100.0, &arena, &found, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        size_t n = shifts_table(out, &found, only, phase, &arena);
        days_table(out, &found, only, phase, &arena);
        const struct phenology_shift *most = NULL;
        for (size_t i = 0; i < found.n_shifts; i++)
            if ((only == NULL || found.shifts[i].site->id == only->id) && is_known(found.shifts[i].days.value) &&
                (most == NULL || found.shifts[i].days.value < most->days.value))
                most = &found.shifts[i];
        if (n > 0 && most != NULL)
            note_answer(out, "%zu looks at plants; at %s %s came %.0f days %s in %d than in %d.", facts.n_records, most->site->code,
                        phase_words(most->phase, &arena), most->days.value < 0 ? -most->days.value : most->days.value,
                        most->days.value < 0 ? "earlier" : "later", most->year, most->base_year);
        else
            note_answer(out, "%zu looks at plants; no two years to set beside each other.", facts.n_records);
        note_source(out, "Growth stages: the extended BBCH scale (Meier 2018).");
        note_unknown(out, "Whether a difference between years comes from the weather or from the age of the plants: they are both.");
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_phenology = {
    .name = "phenology",
    .summary = "when plants came into leaf, and how far years lie apart",
    .about = "Gives the days between which plants reached a stage of the year, from weekly rounds that say \"not yet\", \"reached\" or "
             "\"already over\"; a skipped week makes the interval wider. Years are compared on the same plants.",
    .example = "spinney phenology wood.gpkg GL",
    .access = JOB_LOOKS,
    .options = phenology_options,
    .n_options = sizeof phenology_options / sizeof *phenology_options,
    .bare = phenology_bare,
    .run = phenology_run,
};
