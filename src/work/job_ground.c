/* SPDX-License-Identifier: GPL-3.0-or-later
 * ground: what limits roots here. prepare: what a preparation takes, brings and costs. */
#include "work/jobs.h"
#include "work/preparing.h"
#include "work/site_map.h"

static const struct option ground_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (all if not given)"},
    {"density_table", OPTION_TEXT, false, "NAME", "table of root-limiting densities to hold against"},
    {"root_depth_m", OPTION_NUMBER, false, "M", "rooting depth for available water (1.0 if not given)"},
    {"lead_screen_mg_kg", OPTION_NUMBER, false, "MG/KG", "screening figure of your own regime; lead is not screened without it"},
};
static const char *const ground_bare[] = {"site", NULL};

static void pit_name(const struct ground_pit *pit, const struct site *sites, size_t n_sites, struct arena *arena, const char **out)
{
    const char *site = "site";
    for (size_t i = 0; i < n_sites; i++)
        if (sites[i].id == pit->site_id)
            site = sites[i].code;
    *out = arena_print(arena, "%s%s%s%s%s, %s, %s", site, pit->zone == NULL ? "" : " zone ", pit->zone == NULL ? "" : pit->zone,
                       pit->composite == NULL ? "" : ", ", pit->composite == NULL ? "" : pit->composite,
                       word_of(WORDS_TIME_POINT, (int)pit->time_point), day_words(pit->sampled_on, arena));
}

static void pit_note(json_t *note, const struct ground_pit *pit, const char *name, const struct soil_sample *samples)
{
    json_t *section = note_section(note, name), *table = section_table(section);
    section_text(section, "%s", pit->statement);
    table_column(table, "depth", "depth", "cm", -1);
    table_column(table, "texture", "texture", "", -1);
    table_column(table, "density", "density", "g/cm³", 2);
    table_column(table, "available", "available water, whole soil", "m³/m³", 3);
    table_column(table, "words", "about the layer", "", -1);
    for (size_t i = 0; i < pit->n_layers; i++) {
        const struct ground_layer *layer = &pit->layers[i];
        const struct soil_sample *sample = &samples[layer->sample];
        json_t *row = table_row(table);
        if (is_known(sample->depth_top_cm) && is_known(sample->depth_bottom_cm))
            row_print(row, "%.0f–%.0f", sample->depth_top_cm, sample->depth_bottom_cm);
        else
            row_text(row, NULL);
        row_text(row, layer->texture == TEXTURE_UNKNOWN ? NULL : word_of(WORDS_TEXTURE, (int)layer->texture));
        row_number(row, sample->bulk_density_g_cm3);
        row_number(row, layer->has_water ? layer->water.available_whole : unknown_real());
        row_text(row, layer->words);
    }
    if (pit->n_limits > 0) {
        json_t *limits = section_table(note_section(note, "What limits roots, and what follows"));
        table_column(limits, "limit", "limit", "", -1);
        table_column(limits, "consequence", "what it means for the design", "", -1);
        for (size_t i = 0; i < pit->n_limits; i++) {
            json_t *row = table_row(limits);
            row_text(row, pit->limits[i].words);
            row_text(row, pit->limits[i].consequence);
        }
    }
}

static enum outcome ground_options_read(const json_t *in, struct ground_options *options, struct failure *why)
{
    const char *table = option_text(in, "density_table", NULL);
    *options = (struct ground_options){.root_depth_m = option_number(in, "root_depth_m", 0),
                                       .lead_screen_mg_kg = option_number(in, "lead_screen_mg_kg", 0)};
    if (table == NULL || density_source_find(table, &options->source))
        return OUTCOME_OK;
    struct text list = {0};
    for (int i = 0; i < DENSITY_SOURCES; i++)
        text_print(&list, "%s%s", i > 0 ? ", " : "", density_sources[i].name);
    fail(why, OUTCOME_USAGE, "There is no density table \"%.60s\".", table);
    failure_remedy(why, "There are: %.900s.", text_get(&list));
    text_free(&list);
    return OUTCOME_USAGE;
}

static enum outcome ground_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct site site;
    struct ground_options options;
    struct ground_judgement judgement;
    void *rows = NULL, *sites = NULL;
    size_t n = 0, n_sites = 0;
    const char *code = option_text(in, "site", NULL);
    enum outcome outcome = ground_options_read(in, &options, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_SITE, &arena, &sites, &n_sites, why);
    if (outcome == OUTCOME_OK && code != NULL)
        outcome = load_site(context->store, code, &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = code != NULL ? load_of(context->store, NOUN_SOIL_SAMPLE, "site_id", site.id, &arena, &rows, &n, why)
                               : load_all(context->store, NOUN_SOIL_SAMPLE, &arena, &rows, &n, why);
    if (outcome == OUTCOME_OK && n == 0) {
        fail(why, OUTCOME_DATA, "There is no soil sample%s%s yet.", code == NULL ? "" : " of site ", code == NULL ? "" : site.code);
        outcome = failure_remedy(why, "Add some: spinney add FILE soil_sample …, or spinney import FILE samples.csv --kind soil");
    }
    if (outcome == OUTCOME_OK)
        outcome = ground_judge(rows, n, &options, &arena, &judgement, why);
    if (outcome != OUTCOME_OK)
        goto done;
    json_t *out = note_new(), *pits = json_array();
    note_answer(out, "%s", judgement.answer);
    for (size_t i = 0; i < judgement.n_pits; i++) {
        const struct ground_pit *pit = &judgement.pits[i];
        const char *name = NULL;
        pit_name(pit, sites, n_sites, &arena, &name);
        size_t before = json_array_size(json_object_get(out, "sections"));
        pit_note(out, pit, name, rows);
        struct text where = {0};
        for (size_t j = 0; j < pit->n_layers; j++)
            text_print(&where, "%s%lld", j == 0 ? "id=" : "|", (long long)((struct soil_sample *)rows)[pit->layers[j].sample].id);
        int64_t set = pit->n_layers == 0 ? 0 : note_rows(out, NOUN_SOIL_SAMPLE, text_get(&where), (int64_t)pit->n_layers);
        text_free(&where);
        for (; before < json_array_size(json_object_get(out, "sections")); before++)
            section_behind(json_array_get(json_object_get(out, "sections"), before), set);
        for (size_t j = 0; j < pit->n_not_known; j++)
            note_unknown(out, "%s: %s", name, pit->not_known[j]);
        json_array_append_new(pits, json_pack("{s:s, s:s, s:s, s:f}", "name", name, "statement", pit->statement, "loosening",
                                              word_of(WORDS_TRUTH, (int)pit->loosening), "available_mm",
                                              is_known(pit->available_mm) ? pit->available_mm : -1.0));
    }
    for (size_t i = 0; i < judgement.n_questions; i++)
        note_unknown(out, "Question: %s", judgement.questions[i].sentence);
    json_object_set_new(note_data(out), "pits", pits);
    note_behind(out, code != NULL ? note_rows(out, NOUN_SOIL_SAMPLE, arena_print(&arena, "site=%s", site.code), (int64_t)n)
                                  : note_rows(out, NOUN_SOIL_SAMPLE, "", (int64_t)n));
    note_source(out, "Densities held against: %s.", density_sources[options.source].title);
    note_source(out, "Soil water: Saxton & Rawls 2006, Soil Sci. Soc. Am. J. 70:1569–1578.");
    *note = out;
done:
    arena_clear(&arena);
    return outcome;
}

const struct job job_ground = {
    .name = "ground",
    .summary = "what limits roots here, in words, and what to do about it",
    .about = "Judges the soil samples of each pit and zone by depth: texture, density against the root-limiting table for that texture, "
             "penetration, "
             "stones, wetness and pH. Says what limits roots and what follows for the design, also when nothing needs doing.",
    .example = "spinney ground wood.gpkg LK",
    .access = JOB_LOOKS,
    .options = ground_options,
    .n_options = sizeof ground_options / sizeof *ground_options,
    .bare = ground_bare,
    .run = ground_run,
};

/* ---- prepare ---- */

static const struct option prepare_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"area_m2", OPTION_NUMBER, false, "M2", "area instead of the plot's"},
    {"name", OPTION_TEXT, false, "TEXT", "name of the recipe"},
    {"loosened_depth_m", OPTION_NUMBER, false, "M", "depth broken up; 0 is none"},
    {"bulking_factor", OPTION_NUMBER, false, "X", "loose volume over volume in place (1.3 if not given)"},
    {"settlement_pct", OPTION_NUMBER, false, "%", "settlement (15 if not given)"},
    {"compost_depth_m", OPTION_NUMBER, false, "M", "depth of compost; 0 is none"},
    {"mulch_depth_m", OPTION_NUMBER, false, "M", "depth of mulch; 0 is none"},
    {"mulch_kind", OPTION_TEXT, false, "TEXT", "what the mulch is"},
    {"mound_m", OPTION_NUMBER, false, "M", "height mounded"},
    {"fence_m", OPTION_NUMBER, false, "M", "length of fence; the outline if not given"},
    {"fence_height_m", OPTION_NUMBER, false, "M", "height of the fence"},
    {"water_l_m2", OPTION_NUMBER, false, "L/M2", "water at each watering"},
    {"waterings_year", OPTION_INTEGER, false, "N", "waterings foreseen in a year"},
    {"keep", OPTION_FLAG, false, NULL, "store the recipe and give it to the plot"},
};
static const char *const prepare_bare[] = {"plot", NULL};

static enum outcome preparation_read(const json_t *in, struct preparation *row, struct failure *why)
{
    static const char *const numbers[] = {"loosened_depth_m", "bulking_factor", "settlement_pct", "compost_depth_m", "mulch_depth_m",
                                          "mound_m",          "fence_m",        "fence_height_m", "water_l_m2"};
    noun_init(NOUN_PREPARATION, row);
    row->name = option_text(in, "name", "preparation");
    row->bulking_factor = 1.3;
    row->settlement_pct = 15;
    row->compost_density_t_m3 = 0.55;
    row->compost_n_kg_t = 7.5;
    row->loosened_depth_m = row->compost_depth_m = row->mulch_depth_m = row->mound_m = 0;
    row->mulch_kind = option_text(in, "mulch_kind", NULL);
    row->waterings_year = option_integer(in, "waterings_year", INT_UNKNOWN);
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        const struct field *field = noun_field(NOUN_PREPARATION, numbers[i]);
        if (json_object_get(in, numbers[i]) != NULL)
            *(double *)(void *)((char *)row + field->offset) = option_number(in, numbers[i], 0);
    }
    (void)why;
    return OUTCOME_OK;
}

struct quantity_line {
    const char *name, *title, *unit;
    double value;
    int digits;
};

static void quantities_note(json_t *out, const struct preparation_quantities *q)
{
    const struct quantity_line lines[] = {
        {"in_place_m3", "soil as it lies", "m³", q->in_place_m3, 1},
        {"loosened_m3", "the same, broken up", "m³", q->loosened_m3, 1},
        {"settled_m3", "after settlement", "m³", q->settled_m3, 1},
        {"raised_settled_m", "surface above the ground around, settled", "m", q->raised_settled_m, 2},
        {"compost_m3", "compost", "m³", q->compost_m3, 1},
        {"compost_t", "compost, fresh", "t", q->compost_t, 1},
        {"compost_loads", "lorry loads of compost (the larger of mass and volume)", "", q->compost_loads, 0},
        {"nitrogen_kg", "total nitrogen in it", "kg", q->nitrogen_kg, 1},
        {"nitrogen_kg_ha", "the same per hectare", "kg/ha", q->nitrogen_kg_ha, 0},
        {"mulch_m3", "mulch", "m³", q->mulch_m3, 1},
        {"mulch_loads", "lorry loads of mulch", "", q->mulch_loads, 0},
        {"fence_m", "fence", "m", q->fence_m, 1},
        {"fence_posts", "posts, one each 2 m", "", q->fence_posts, 0},
        {"water_m3_visit", "water at each watering", "m³", q->water_m3_visit, 2},
        {"water_m3_year", "water in a year", "m³", q->water_m3_year, 1},
        {"machine_days", "excavator", "days", q->machine_days, 1},
        {"water_gain_l_plant", "available water gained, per plant", "L", q->water_gain_l_plant, 1},
    };
    json_t *table = section_table(note_section(out, "Quantities")), *data = json_object();
    table_column(table, "what", "what", "", -1);
    table_column(table, "quantity", "quantity", "", -1);
    table_column(table, "unit", "unit", "", -1);
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        json_t *row = table_row(table);
        char shown[64];
        number_fixed(lines[i].value, lines[i].digits, shown);
        row_text(row, lines[i].title);
        row_text(row, is_known(lines[i].value) ? shown : NULL);
        row_text(row, lines[i].unit);
        json_object_set_new(data, lines[i].name, is_known(lines[i].value) ? json_real(lines[i].value) : json_null());
    }
    json_object_set_new(note_data(out), "quantities", data);
    for (size_t i = 0; i < q->n_warnings; i++)
        note_caution(out, q->warnings[i].code, q->warnings[i].words, NULL);
}

static enum outcome preparation_keep(const struct job_context *context, struct preparation *row, struct plot *plot, struct arena *arena,
                                     struct failure *why)
{
    enum outcome outcome = store_begin(context->store, context->author, arena_print(arena, "preparation of plot %s", plot->code), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = store_add(context->store, NOUN_PREPARATION, row, 1, why);
    plot->preparation_id = row->id;
    if (outcome == OUTCOME_OK)
        outcome = store_change(context->store, NOUN_PLOT, plot, why);
    outcome = store_end(context->store, outcome, why);
    return outcome;
}

static enum outcome prepare_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct preparing p;
    struct preparation row;
    struct preparation_quantities quantities;
    enum outcome outcome =
        preparing_load(context, option_text(in, "plot", NULL), option_number(in, "area_m2", unknown_real()), &arena, &p, why);
    if (outcome == OUTCOME_OK)
        outcome = preparation_read(in, &row, why);
    if (outcome == OUTCOME_OK)
        outcome = preparation_quantities(&row, &p.ground, &quantities, why);
    if (outcome == OUTCOME_OK && option_flag(in, "keep"))
        outcome = preparation_keep(context, &row, &p.plot, &arena, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        char loose[64];
        number_fixed(quantities.loosened_m3, 1, loose);
        note_answer(out, "%s/%s, %.0f m²: %s m³ loose soil, %.1f m³ compost, %.1f m³ mulch.%s", p.site.code, p.plot.code, p.ground.area_m2,
                    is_known(quantities.loosened_m3) ? loose : "unknown", quantities.compost_m3, quantities.mulch_m3,
                    option_flag(in, "keep") ? " The recipe is stored with the plot." : "");
        quantities_note(out, &quantities);
        struct site_plan plan;
        outcome = site_plan_load(context->store, &p.facts, &p.plot, &arena, &plan, why);
        plan.preparation = &row;
        if (outcome == OUTCOME_OK)
            outcome = cautions_note(context->store, &p.facts, &plan, MOMENT_GROUND_WORK, out, &arena, why);
        note_source(out, "Bulking and settlement, loads and machine days: common practice, editable; compost nitrogen 7.5 kg/t fresh (UK "
                         "nutrient manual, from memory).");
        if (outcome == OUTCOME_OK)
            *note = out;
        else
            json_decref(out);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_prepare = {
    .name = "prepare",
    .summary = "what a preparation takes and brings: volumes, loads, nitrogen",
    .about = "Computes loosened volume, bulking and settlement, compost, mulch, lorry loads, fence, water and the nutrient load of a "
             "preparation, with "
             "its cautions. With --keep the recipe is stored and given to the plot.",
    .example = "spinney prepare wood.gpkg LK/D1 --loosened-depth-m 0.8 --compost-depth-m 0.05 --mulch-depth-m 0.12 --keep",
    .access = JOB_WRITES,
    .options = prepare_options,
    .n_options = sizeof prepare_options / sizeof *prepare_options,
    .bare = prepare_bare,
    .run = prepare_run,
};
