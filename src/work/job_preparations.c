/* SPDX-License-Identifier: GPL-3.0-or-later
 * preparations: ways to prepare a plot side by side, also to leave it as it is; amendments blended to a target. */
#include "draw/draw.h"
#include "money/money.h"
#include "work/jobs.h"
#include "work/preparing.h"
#include "work/site_map.h"
#include <math.h>
#include <string.h>

static const struct option preparations_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"recipes", OPTION_TEXT, false, "LOOSEN/COMPOST/MULCH;…",
     "depths in metres, such as 0.6/0.05/0.1;0/0/0.12 (a usual row of them, and the stored one, if not given)"},
    {"target_organic", OPTION_NUMBER, false, "%", "organic matter wanted in the top 30 cm: the compost for it is a recipe of its own"},
    {"target_cn", OPTION_NUMBER, false, "RATIO", "C:N wanted of the amendment: compost is blended with woody fines to reach it"},
    {"compost_cn", OPTION_NUMBER, false, "RATIO", "C:N of the compost (14 if not given)"},
    {"fines_cn", OPTION_NUMBER, false, "RATIO", "C:N of the woody fines (80 if not given)"},
    {"gates", OPTION_INTEGER, false, "N", "gates in the fence (1 if not given)"},
    {"bowser_visits", OPTION_INTEGER, false, "N", "waterings counted into the cost (0 if not given)"},
    {"area_m2", OPTION_NUMBER, false, "M2", "area instead of the plot's"},
    {"excavator_day", OPTION_NUMBER, false, "X", "price of an excavator with driver for a day (720 if not given)"},
    {"compost_m3", OPTION_NUMBER, false, "X", "price of a cubic metre of compost, delivered"},
    {"mulch_m3", OPTION_NUMBER, false, "X", "price of a cubic metre of mulch, delivered"},
    {"fence_m", OPTION_NUMBER, false, "X", "price of a metre of fence"},
};
static const char *const preparations_bare[] = {"plot", NULL};

enum { MOST_WAYS = 12 };
struct ways {
    struct preparation list[MOST_WAYS];
    size_t n;
};

static void way_add(struct ways *ways, const char *name, double loosen_m, double compost_m, double mulch_m)
{
    if (ways->n == MOST_WAYS)
        return;
    struct preparation *p = &ways->list[ways->n++];
    noun_init(NOUN_PREPARATION, p);
    p->name = name;
    p->loosened_depth_m = loosen_m;
    p->bulking_factor = 1.3;
    p->settlement_pct = 15;
    p->compost_depth_m = compost_m;
    p->compost_density_t_m3 = 0.55;
    p->compost_n_kg_t = 7.5;
    p->mulch_depth_m = mulch_m;
    p->mound_m = 0;
}

static double depth_of(const char *text)
{
    double x = 0;
    return number_read(text, &x) ? x : unknown_real();
}

static enum outcome ways_read(const char *text, struct ways *ways, struct arena *arena, struct failure *why)
{
    char *copy = arena_text(arena, text), *rest = NULL;
    for (char *part = strtok_r(copy, ";", &rest); part != NULL; part = strtok_r(NULL, ";", &rest)) {
        char *more = NULL, *one = arena_text(arena, text_trim(arena, part));
        char *a = strtok_r(one, "/", &more), *b = strtok_r(NULL, "/", &more), *c = strtok_r(NULL, "/", &more);
        double loosen = a == NULL ? unknown_real() : depth_of(a), compost = b == NULL ? 0 : depth_of(b),
               mulch = c == NULL ? 0 : depth_of(c);
        if (!is_known(loosen) || !is_known(compost) || !is_known(mulch) || ways->n == MOST_WAYS) {
            fail(why, OUTCOME_USAGE, "\"%.60s\" is no recipe, or there are more than %d.", part, MOST_WAYS);
            return failure_remedy(why, "Write depths in metres: loosened/compost/mulch, such as 0.6/0.05/0.1.");
        }
        way_add(ways, arena_print(arena, "%g m loosened, %g cm compost, %g cm mulch", loosen, 100 * compost, 100 * mulch), loosen, compost,
                mulch);
    }
    return OUTCOME_OK;
}

/* The usual row: nothing but mulch first, then as deep as the pits ask, then more and more. */
static enum outcome ways_usual(const struct job_context *context, const struct preparing *p, struct ways *ways, struct arena *arena,
                               struct failure *why)
{
    double deepest = unknown_real();
    for (size_t i = 0; i < p->soil.n_pits; i++)
        if (p->soil.pits[i].loosening == TRUTH_YES && is_known(p->soil.pits[i].loosen_to_cm))
            deepest = is_known(deepest) ? fmax(deepest, p->soil.pits[i].loosen_to_cm) : p->soil.pits[i].loosen_to_cm;
    way_add(ways, "leave the ground, mulch 10 cm", 0, 0, 0.10);
    way_add(ways, "compost 5 cm on top, mulch 10 cm", 0, 0.05, 0.10);
    if (is_known(deepest))
        way_add(ways, arena_print(arena, "loosen as deep as the pits ask (%g cm), mulch 10 cm", deepest), deepest / 100, 0, 0.10);
    way_add(ways, "loosen 60 cm, compost 5 cm, mulch 10 cm", 0.6, 0.05, 0.10);
    way_add(ways, "loosen 100 cm, compost 10 cm, mulch 12 cm", 1.0, 0.10, 0.12);
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(context->store, NOUN_PREPARATION, arena, &rows, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct preparation *row = &((const struct preparation *)rows)[i];
        if (row->id == p->plot.preparation_id && ways->n < MOST_WAYS) {
            ways->list[ways->n] = *row;
            ways->list[ways->n++].name = arena_print(arena, "stored with the plot: %s", row->name);
        }
    }
    return outcome;
}

/* The depth of compost that brings the blended soil to the wanted organic matter. */
static enum outcome target_way(const json_t *in, const struct preparing *p, struct ways *ways, json_t *note, struct arena *arena,
                               struct failure *why)
{
    const struct preparation_site *g = &p->ground;
    double target = option_number(in, "target_organic", unknown_real()), dry_t_ha = 0;
    if (!is_known(target))
        return OUTCOME_OK;
    if (!is_known(g->soil_organic_pct) || !is_known(g->soil_density_t_m3)) {
        note_unknown(
            note, "Compost for %.3g %% organic matter: not computable, for organic matter or bulk density of the top 30 cm is not known.",
            target);
        return OUTCOME_OK;
    }
    if (target <= g->soil_organic_pct) {
        note_unknown(note, "The soil already has %.1f %% organic matter: no compost is needed for %.3g %%.", g->soil_organic_pct, target);
        return OUTCOME_OK;
    }
    enum outcome outcome = blend_for_organic_matter(g->soil_organic_pct, g->soil_density_t_m3, g->blend_depth_m, target,
                                                    g->compost_organic_pct, &dry_t_ha, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double fresh_t_ha = dry_t_ha / (1 - g->compost_moisture_pct / 100), depth_m = fresh_t_ha / 0.55 / 10000;
    json_t *section = note_section(note, "Compost for the organic matter wanted");
    section_text(
        section,
        "From %.1f to %.3g %% organic matter in the top %.0f cm takes %.0f t/ha of dry compost, %.0f t/ha fresh: a layer of %.1f cm "
        "(%.0f %% organic matter of the dry mass, %.0f %% water, 0.55 t/m³: common practice).",
        g->soil_organic_pct, target, 100 * g->blend_depth_m, dry_t_ha, fresh_t_ha, 100 * depth_m, g->compost_organic_pct,
        g->compost_moisture_pct);
    json_object_set_new(note_data(note), "target_compost_m", json_real(depth_m));
    double loosen = ways->n > 0 ? ways->list[ways->n - 1].loosened_depth_m : 0.3;
    way_add(ways, arena_print(arena, "compost for %.3g %% organic matter (%.1f cm), mulch 10 cm", target, 100 * depth_m),
            is_known(loosen) && loosen > 0 ? 0.3 : 0, depth_m, 0.10);
    return OUTCOME_OK;
}

static enum outcome blend_section(const json_t *in, json_t *note, struct failure *why)
{
    double target = option_number(in, "target_cn", unknown_real()), dry = 0;
    if (!is_known(target))
        return OUTCOME_OK;
    double compost_cn = option_number(in, "compost_cn", 14), fines_cn = option_number(in, "fines_cn", 80);
    struct amendment compost = {"compost", 1, 40, 25, 25 / compost_cn}, fines = {"woody fines", 1, 40, 45, 45 / fines_cn};
    struct blend blend;
    enum outcome outcome = blend_for_ratio(&compost, &fines, target, &dry, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    fines.wet_t = dry / (1 - fines.moisture_pct / 100);
    compost.wet_t = 1 / (1 - compost.moisture_pct / 100);
    const struct amendment both[] = {compost, fines};
    outcome = blend_mix(both, 2, &blend, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    section_text(note_section(note, "Blend for the C:N wanted"),
                 "To one tonne of dry compost (C:N %.3g) go %.2f t of dry woody fines (C:N %.3g): C:N %.1f of the blend. %s Carbon 25 and "
                 "45 %% of the dry "
                 "mass: from memory; ask for the test certificates.",
                 compost_cn, dry, fines_cn, blend.ratio, blend.words);
    json_object_set_new(note_data(note), "fines_per_compost", json_real(dry));
    json_object_set_new(note_data(note), "blend_cn", json_real(blend.ratio));
    return OUTCOME_OK;
}

static double price_of(const json_t *in, const char *option, const char *key)
{
    size_t n = 0;
    const struct budget_price *defaults = budget_defaults(&n);
    for (size_t i = 0; i < n; i++)
        if (text_same(defaults[i].key, key))
            return option_number(in, option, defaults[i].price);
    return option_number(in, option, unknown_real());
}

static void ways_table(json_t *out, const struct preparation_alternative *list, size_t n, const char *currency, struct arena *arena)
{
    const struct {
        const char *title, *unit;
        size_t offset;
        int digits;
    } lines[] = {
        {"soil broken up, loose", "m³", offsetof(struct preparation_quantities, loosened_m3), 0},
        {"stands above the ground, loose", "m", offsetof(struct preparation_quantities, raised_loose_m), 2},
        {"stands above the ground, settled", "m", offsetof(struct preparation_quantities, raised_settled_m), 2},
        {"compost", "m³", offsetof(struct preparation_quantities, compost_m3), 1},
        {"compost of the top 30 cm", "% by volume", offsetof(struct preparation_quantities, compost_share_pct), 0},
        {"organic matter after blending", "%", offsetof(struct preparation_quantities, organic_after_pct), 1},
        {"total nitrogen brought", "kg/ha", offsetof(struct preparation_quantities, nitrogen_kg_ha), 0},
        {"lorry loads of compost", "", offsetof(struct preparation_quantities, compost_loads), 0},
        {"lorry loads of mulch", "", offsetof(struct preparation_quantities, mulch_loads), 0},
        {"excavator", "days", offsetof(struct preparation_quantities, machine_days), 1},
        {"water gained per plant", "L", offsetof(struct preparation_quantities, water_gain_l_plant), 1},
    };
    json_t *table = section_table(note_section(out, "Side by side"));
    table_column(table, "what", "what", "", -1);
    for (size_t i = 0; i < n; i++)
        table_column(table, arena_print(arena, "way_%zu", i + 1), list[i].preparation->name, "", -1);
    table_column(table, "unit", "unit", "", -1);
    for (size_t k = 0; k < sizeof lines / sizeof *lines; k++) {
        json_t *row = table_row(table);
        row_text(row, lines[k].title);
        for (size_t i = 0; i < n; i++) {
            char shown[64];
            double value =
                list[i].possible ? *(const double *)(const void *)((const char *)&list[i].quantities + lines[k].offset) : unknown_real();
            number_fixed(value, lines[k].digits, shown);
            row_text(row, is_known(value) ? shown : NULL);
        }
        row_text(row, lines[k].unit);
    }
    json_t *row = table_row(table);
    row_text(row, "cost without tax");
    for (size_t i = 0; i < n; i++) {
        char shown[64];
        number_fixed(list[i].cost, 0, shown);
        row_text(row, is_known(list[i].cost) ? shown : NULL);
    }
    row_text(row, currency);
}

static void ways_words(json_t *out, const struct preparation_alternative *list, size_t n)
{
    json_t *table = section_table(note_section(out, "What each does to the ground as it was found")), *data = json_array();
    table_column(table, "way", "way", "", -1);
    table_column(table, "words", "what it does", "", -1);
    table_column(table, "warnings", "warnings", "", -1);
    for (size_t i = 0; i < n; i++) {
        json_t *row = table_row(table);
        struct text text = {0};
        const struct preparation_quantities *q = &list[i].quantities;
        for (size_t k = 0; list[i].possible && k < q->n_warnings; k++)
            text_print(&text, "%s%s: %s", k == 0 ? "" : " ", q->warnings[k].code, q->warnings[k].words);
        row_text(row, list[i].preparation->name);
        row_text(row, list[i].possible ? list[i].words : list[i].why.sentence);
        row_text(row, text_get(&text));
        text_free(&text);
        json_array_append_new(
            data,
            json_pack("{s:s, s:b, s:o, s:o, s:o, s:o, s:s, s:i}", "name", list[i].preparation->name, "possible", list[i].possible, "cost",
                      is_known(list[i].cost) ? json_real(list[i].cost) : json_null(), "nitrogen_kg_ha",
                      list[i].possible && is_known(q->nitrogen_kg_ha) ? json_real(q->nitrogen_kg_ha) : json_null(), "organic_after_pct",
                      list[i].possible && is_known(q->organic_after_pct) ? json_real(q->organic_after_pct) : json_null(),
                      "water_gain_l_plant",
                      list[i].possible && is_known(q->water_gain_l_plant) ? json_real(q->water_gain_l_plant) : json_null(), "words",
                      list[i].possible ? list[i].words : list[i].why.sentence, "warnings", list[i].possible ? (int)q->n_warnings : 0));
    }
    json_object_set_new(note_data(out), "alternatives", data);
}

static void ways_figure(json_t *out, const struct preparation_alternative *list, size_t n, const char *currency, struct arena *arena)
{
    struct figure_bar *bars = arena_array(arena, n, sizeof *bars);
    size_t m = 0;
    for (size_t i = 0; i < n; i++)
        if (is_known(list[i].cost))
            bars[m++] = (struct figure_bar){
                .label = list[i].preparation->name, .value = list[i].cost, .aim_low = unknown_real(), .aim_high = unknown_real()};
    struct figure_bars figure = {.head = {.title = "What each way costs", .x_title = arena_print(arena, "%s without tax", currency)},
                                 .bars = bars,
                                 .n_bars = m,
                                 .unit = ""};
    if (m > 1)
        section_drawing(note_section(out, "Cost"), figure_bars(&figure));
}

/* Whether the pits ask for loosening at all: the answer that saves a machine. */
static const char *need_words(const struct preparing *p, struct arena *arena)
{
    size_t yes = 0, no = 0;
    for (size_t i = 0; i < p->soil.n_pits; i++) {
        yes += p->soil.pits[i].loosening == TRUTH_YES;
        no += p->soil.pits[i].loosening == TRUTH_NO;
    }
    if (p->soil.n_pits == 0)
        return "The ground was not surveyed: whether it needs loosening is not known.";
    if (no == p->soil.n_pits)
        return "No deep loosening is needed here: leave the ground as it is.";
    if (yes == 0)
        return "No pit shows a compacted layer, but not all were read so that it could show.";
    return arena_print(arena, "Loosening is needed at %zu of %zu pits.", yes, p->soil.n_pits);
}

static enum outcome preparations_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct preparing p;
    struct programme programme;
    struct ways ways = {.n = 0};
    json_t *out = note_new();
    enum outcome outcome = load_programme(context->store, &arena, &programme, why);
    if (outcome == OUTCOME_OK)
        outcome = preparing_load(context, option_text(in, "plot", NULL), option_number(in, "area_m2", unknown_real()), &arena, &p, why);
    if (outcome == OUTCOME_OK)
        outcome = option_text(in, "recipes", NULL) != NULL ? ways_read(option_text(in, "recipes", NULL), &ways, &arena, why)
                                                           : ways_usual(context, &p, &ways, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = target_way(in, &p, &ways, out, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = blend_section(in, out, why);
    if (outcome != OUTCOME_OK)
        goto done;
    struct preparation_prices prices = {.excavator_day = option_number(in, "excavator_day", 720),
                                        .compost_m3 = price_of(in, "compost_m3", "compost"),
                                        .mulch_m3 = price_of(in, "mulch_m3", "mulch"),
                                        .fence_m = price_of(in, "fence_m", "fence"),
                                        .gate = price_of(in, "gate", "gate"),
                                        .bowser_visit = price_of(in, "bowser_visit", "watering")};
    struct preparation_alternative *list =
        preparation_compare(ways.list, ways.n, &p.ground, &prices, (double)option_integer(in, "gates", 1),
                            (double)option_integer(in, "bowser_visits", 0), p.soil.pits, p.soil.n_pits, &arena);
    note_answer(out, "%s/%s, %.0f m²: %zu ways to prepare it side by side. %s", p.site.code, p.plot.code, p.ground.area_m2, ways.n,
                need_words(&p, &arena));
    ways_words(out, list, ways.n);
    ways_table(out, list, ways.n, programme.currency, &arena);
    ways_figure(out, list, ways.n, programme.currency, &arena);
    note_unknown(out, "%s", p.soil_from);
    for (size_t i = 0; i < ways.n; i++)
        if (list[i].missing_price != NULL)
            note_unknown(out, "Price of %s.", list[i].missing_price);
    struct site_plan plan;
    outcome = site_plan_load(context->store, &p.facts, &p.plot, &arena, &plan, why);
    plan.preparation = &ways.list[ways.n - 1];
    if (outcome == OUTCOME_OK)
        outcome = cautions_note(context->store, &p.facts, &plan, MOMENT_GROUND_WORK, out, &arena, why);
    note_source(
        out,
        "Prices: illustrative defaults of the budget unless given. Swell, settlement, loads, machine days: common practice. Water gained: "
        "Saxton & Rawls 2006.");
done:
    if (outcome == OUTCOME_OK)
        *note = out;
    else
        json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_preparations = {
    .name = "preparations",
    .summary = "ways to prepare a plot side by side, also to leave it as it is",
    .about = "Holds several recipes beside each other against what the pits showed: volumes, what will stand above the ground, loads, "
             "machine days, "
             "cost, nitrogen and its warnings, organic matter and water gained per plant. Says where no loosening is needed. Compost can "
             "be worked out "
             "for a wanted organic matter, a blend for a wanted C:N.",
    .example = "spinney preparations wood.gpkg LK/D1 --target-organic 5",
    .access = JOB_LOOKS,
    .options = preparations_options,
    .n_options = sizeof preparations_options / sizeof *preparations_options,
    .bare = preparations_bare,
    .run = preparations_run,
};
