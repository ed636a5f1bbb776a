/* SPDX-License-Identifier: GPL-3.0-or-later
 * benefits: what the plants of each plot hold in carbon as measured, and how little noise a plot that size takes off; with intervals and limits. */
#include "benefit/benefit.h"
#include "draw/draw.h"
#include "work/evidence_load.h"
#include "work/jobs.h"
#include "work/site_map.h"
#include <math.h>
#include <stdlib.h>

static const struct option benefits_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "only plots of this site (all if not given)"},
};
static const char *const benefits_bare[] = {"site", NULL};

/* Newest sizes of the living plants of a plot; diameters at the root collar only. */
static size_t sizes_of(const struct plot_lives *lives, const struct evidence_facts *facts, double *d, double *h)
{
    size_t n = 0;
    for (size_t p = 0; p < lives->n_plants; p++) {
        const struct plant_record *last = lives->last[p];
        bool lives_now =
            last != NULL && (last->status == STATUS_ALIVE || last->status == STATUS_ALIVE_DIEBACK || last->status == STATUS_RESPROUTING);
        if (!lives_now)
            continue;
        bool collar = last->diameter_at == DIAMETER_HEIGHT_ROOT_COLLAR || last->diameter_at == DIAMETER_HEIGHT_UNKNOWN;
        d[n] = collar && last->diameter_mm > 0 ? last->diameter_mm : unknown_real();
        h[n++] = last->height_cm > 0 ? last->height_cm : unknown_real();
    }
    (void)facts;
    return n;
}

static void row_range(json_t *row, struct benefit_range range, int digits)
{
    char shown[120];
    struct draw_value value = {range.value, range.low, range.high};
    value_write(value, digits, "", shown);
    row_text(row, shown);
}

static double longest_way_m(const struct plot *plot, struct arena *arena)
{
    struct shape outline;
    struct failure none;
    if (load_shape(plot->wkb, arena, &outline, &none) != OUTCOME_OK || outline.kind != SHAPE_POLYGONS)
        return unknown_real();
    struct box box = shape_box(&outline);
    return hypot(box.x_most - box.x_least, box.y_most - box.y_least);
}

struct benefits {
    json_t *carbon, *noise, *list;
    struct figure_row *rows;
    size_t n;
};

static enum outcome plot_benefit(const struct evidence *evidence, size_t i, struct benefits *b, json_t *out, struct arena *arena,
                                 struct failure *why)
{
    const struct plot_lives *lives = &evidence->lives[i];
    const char *name = evidence_plot_name(evidence, i, arena);
    double *d = arena_array(arena, lives->n_plants + 1, sizeof *d), *h = arena_array(arena, lives->n_plants + 1, sizeof *h),
           bands[NOISE_BANDS];
    size_t n = sizes_of(lives, &evidence->facts, d, h);
    struct stand_mass mass;
    enum outcome outcome = sapling_stand(d, h, n, &mass, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    double up = mass.measured == 0 ? unknown_real() : (double)n / (double)mass.measured, area = lives->plot->net_area_m2;
    struct benefit_range carbon = carbon_of(mass.mass_kg), all = {carbon.value * up, carbon.low * up, carbon.high * up};
    struct benefit_range m2 = {all.value / area, all.low / area, all.high / area};
    json_t *row = table_row(b->carbon);
    row_text(row, name);
    row_print(row, "%zu of %zu", mass.measured, n);
    if (mass.measured == 0 || !(area > 0)) {
        row_text(row, NULL);
        row_text(row, NULL);
    } else {
        row_range(row, all, 1);
        row_range(row, m2, 3);
        b->rows[b->n++] =
            (struct figure_row){.label = name, .value = {m2.value, m2.low, m2.high}, .note = arena_print(arena, "%zu plants", n)};
    }
    row_integer(row, (int64_t)mass.outside);
    if (mass.outside > 0)
        note_unknown(out, "%s: %zu plants are larger or smaller than any the equation was fitted to.", name, mass.outside);
    json_array_append_new(b->list, json_pack("{s:s, s:o, s:o, s:o, s:I, s:I}", "plot", name, "carbon_kg",
                                             is_known(all.value) ? json_real(all.value) : json_null(), "low",
                                             is_known(all.low) ? json_real(all.low) : json_null(), "high",
                                             is_known(all.high) ? json_real(all.high) : json_null(), "measured", (json_int_t)mass.measured,
                                             "alive", (json_int_t)n));
    double way = longest_way_m(lives->plot, arena);
    if (!is_known(way))
        return OUTCOME_OK;
    outcome = noise_foliage(way, bands, why);
    if (outcome == OUTCOME_OK) {
        row = table_row(b->noise);
        row_text(row, name);
        row_number(row, way);
        row_number(row, bands[3]);
        row_number(row, bands[4]);
        row_number(row, bands[7]);
    }
    return outcome;
}

static enum outcome benefits_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct evidence evidence;
    struct site site = {.id = 0};
    struct benefits b = {.n = 0};
    json_t *out = note_new(), *section = note_section(out, "Carbon in living plants, as last measured");
    enum outcome outcome =
        option_text(in, "site", NULL) == NULL ? OUTCOME_OK : load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    section_text(section,
                 "Above ground with roots, scaled from the measured to all living plants of the plot. Intervals are the spread between "
                 "studies and species of the equation: it does not cancel over many plants, and two plots share it.");
    b.carbon = section_table(section);
    table_column(b.carbon, "plot", "plot", "", -1);
    table_column(b.carbon, "measured", "plants measured", "", -1);
    table_column(b.carbon, "carbon", "carbon", "kg", -1);
    table_column(b.carbon, "m2", "on a square metre", "kg", -1);
    table_column(b.carbon, "outside", "outside the equation", "", -1);
    section = note_section(out, "Noise, at the longest way through the plot");
    section_text(section, "Only where foliage is dense, hides the source and is in leaf. Distance and walls do far more.");
    b.noise = section_table(section);
    table_column(b.noise, "plot", "plot", "", -1);
    table_column(b.noise, "way", "way", "m", 0);
    table_column(b.noise, "500", "500 Hz", "dB", 1);
    table_column(b.noise, "1k", "1 kHz", "dB", 1);
    table_column(b.noise, "8k", "8 kHz", "dB", 1);
    b.list = json_array();
    json_object_set_new(note_data(out), "plots", b.list);
    if (outcome == OUTCOME_OK)
        outcome = evidence_load(context->store, &arena, &evidence, why);
    b.rows = outcome == OUTCOME_OK ? arena_array(&arena, evidence.facts.n_plots + 1, sizeof *b.rows) : NULL;
    for (size_t i = 0; outcome == OUTCOME_OK && i < evidence.facts.n_plots; i++)
        if (site.id == 0 || evidence.lives[i].site->id == site.id)
            outcome = plot_benefit(&evidence, i, &b, out, &arena, why);
    if (outcome == OUTCOME_OK && json_array_size(b.list) == 0) {
        fail(why, OUTCOME_DATA, "No living plant has been recorded yet.");
        outcome = failure_remedy(why, "Bring in a census with heights and diameters at the root collar.");
    }
    if (outcome == OUTCOME_OK) {
        struct figure_intervals figure = {.head = {.title = "Carbon in living plants",
                                                   .x_title = "kg on a square metre",
                                                   .foot = "Spread between studies and species; common to all plots."},
                                          .rows = b.rows,
                                          .n_rows = b.n,
                                          .unit = "kg/m²",
                                          .digits = 2,
                                          .reference = unknown_real()};
        if (b.n > 0)
            section_drawing(note_section(out, "Plots side by side"), figure_intervals(&figure));
        size_t most = 0;
        for (size_t i = 1; i < b.n; i++)
            if (b.rows[i].value.value > b.rows[most].value.value)
                most = i;
        if (b.n > 0)
            note_answer(
                out, "The plants of %zu plots hold carbon, most at %s: %.2f kg on a square metre (%.2f–%.2f). A small wood stores little.",
                b.n, b.rows[most].label, b.rows[most].value.value, b.rows[most].value.low, b.rows[most].value.high);
        else
            note_answer(out, "How much carbon the plants hold is not known: none was measured at the root collar.");
        note_caution(
            out, "C30",
            "Small plots store little. This number has a wide range, and carbon that came with compost is not in it. It is no offset.",
            "an independent verifier");
        note_unknown(out,
                     "The equation rests on 446 plants, mostly North American; plants here may weigh a third less or half as much again.");
        note_unknown(out, "Carbon in plants that died, in leaves that fell and in the ground is not in these figures.");
        note_source(out, "Saplings: fitted to Falster et al. 2015, Ecology 96:1445. Root to shoot 0.38 (0.33–0.56), carbon 0.48 of dry "
                         "mass. Noise: ISO 9613-2, "
                         "annex A.");
        *note = json_incref(out);
    }
    json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_benefits = {
    .name = "benefits",
    .summary = "carbon in the living plants as measured, and what little noise they take off",
    .about =
        "Works out the carbon that the living plants of each plot hold, from their last measured collar and height, with the error of the "
        "equation, and the noise that foliage of that depth could take off by ISO 9613-2. Comparison plots stand beside.",
    .example = "spinney benefits wood.gpkg LK",
    .access = JOB_LOOKS,
    .options = benefits_options,
    .n_options = sizeof benefits_options / sizeof *benefits_options,
    .bare = benefits_bare,
    .run = benefits_run,
};
