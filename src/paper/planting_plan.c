/* SPDX-License-Identifier: GPL-3.0-or-later
 * The planting plan as a document. */
#include "paper/planting_plan.h"
#include <stdio.h>

static const char *layer_words(int layer)
{
    static const char *const words[] = {"layer not known", "canopy", "subcanopy", "shrub", "climber", "ground"};
    return words[layer >= 0 && layer <= 5 ? layer : 0];
}

static void number_cell(struct document *document, struct document_cell *cell, double x, int digits)
{
    char words[80];
    if (!is_known(x))
        return;
    value_write_number(x, digits, words);
    document_cell(document, cell, "%s", words);
}

static void count_cell(struct document *document, struct document_cell *cell, int64_t n)
{
    if (n != INT_UNKNOWN)
        number_cell(document, cell, (double)n, 0);
}

static int64_t plot_sum(const struct planting_plan *plan, size_t plot)
{
    int64_t sum = 0;
    if (plan->n_species == 0)
        return INT_UNKNOWN;
    for (size_t i = 0; i < plan->n_species; i++)
        if (plan->species[i].plants[plot] != INT_UNKNOWN)
            sum += plan->species[i].plants[plot];
    return sum;
}

/* A map on what is left of the page, at its own scale. */
static enum outcome map_add(struct document *document, const struct map *map, double height_pt, const char *words, int *scale,
                            struct failure *why)
{
    struct drawing *drawing = NULL;
    struct map sized = *map;
    int used = 0;
    char caption[300];
    if (sized.width_pt <= 0)
        sized.width_pt = 515;
    if (sized.height_pt <= 0)
        sized.height_pt = height_pt;
    enum outcome outcome = map_draw(&sized, &drawing, &used, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    snprintf(caption, sizeof caption, "%.120s at 1:%d when printed at 100 %% on A4.", words, used);
    document_figure(document, drawing, caption)->true_scale = true;
    if (scale != NULL)
        *scale = used;
    return OUTCOME_OK;
}

static void plots_add(struct document *document, const struct planting_plan *plan)
{
    document_heading(document, 1, "Plots", NULL);
    struct document_table *table = document_table(document, NULL, "plots");
    document_column(document, table, "Plot", NULL, ALIGN_LEFT);
    document_column(document, table, "Regime", NULL, ALIGN_LEFT);
    document_column(document, table, "Preparation", NULL, ALIGN_LEFT);
    document_column(document, table, "Net area", "m²", ALIGN_RIGHT);
    document_column(document, table, "Density", "plants/m²", ALIGN_RIGHT);
    document_column(document, table, "Plants", NULL, ALIGN_RIGHT);
    for (size_t i = 0; i < plan->n_plots; i++) {
        const struct plan_plot *plot = &plan->plots[i];
        struct document_cell *row = document_row(document, table);
        document_cell(document, &row[0], "%s", plot->code);
        row[0].strong = true;
        if (plot->regime != NULL)
            document_cell(document, &row[1], "%s", plot->regime);
        if (plot->preparation != NULL)
            document_cell(document, &row[2], "%s", plot->preparation);
        number_cell(document, &row[3], plot->net_area_m2, 1);
        number_cell(document, &row[4], plot->density_m2, 2);
        count_cell(document, &row[5], plot->plants != INT_UNKNOWN ? plot->plants : plot_sum(plan, i));
    }
}

static void species_add(struct document *document, const struct planting_plan *plan)
{
    document_heading(document, 1, "Species and numbers", NULL);
    if (plan->proof != NULL)
        document_paragraph(document, "How the mix was found: %s.", plan->proof);
    struct document_table *table = document_table(document, NULL, "species");
    document_column(document, table, "Layer", NULL, ALIGN_LEFT);
    document_column(document, table, "Scientific name", NULL, ALIGN_LEFT);
    document_column(document, table, "Name", NULL, ALIGN_LEFT);
    table->columns[1].italic = true;
    for (size_t p = 0; p < plan->n_plots; p++) {
        document_column(document, table, plan->plots[p].code, "plants", ALIGN_RIGHT);
        document_column(document, table, plan->plots[p].code, "%", ALIGN_RIGHT);
    }
    document_column(document, table, "All", "plants", ALIGN_RIGHT);
    int64_t all = 0;
    for (size_t i = 0; i < plan->n_species; i++) {
        const struct plan_species_line *line = &plan->species[i];
        struct document_cell *row = document_row(document, table);
        int64_t sum = 0;
        document_cell(document, &row[0], "%s", layer_words(line->layer));
        row[0].layer = line->layer;
        document_cell(document, &row[1], "%s", line->species);
        if (line->local != NULL)
            document_cell(document, &row[2], "%s", line->local);
        for (size_t p = 0; p < plan->n_plots; p++) {
            int64_t n = line->plants[p], plot = plot_sum(plan, p);
            if (n == INT_UNKNOWN) { /* not in this plot's mix, which is not the same as not known */
                document_cell(document, &row[3 + 2 * p], "not in it");
                document_cell(document, &row[4 + 2 * p], " ");
                continue;
            }
            count_cell(document, &row[3 + 2 * p], n);
            if (plot > 0)
                number_cell(document, &row[4 + 2 * p], 100 * (double)n / (double)plot, 1);
            sum += n;
        }
        count_cell(document, &row[3 + 2 * plan->n_plots], sum);
        all += sum;
    }
    struct document_cell *last = document_row(document, table);
    document_cell(document, &last[0], "all");
    document_cell(document, &last[1], " ");
    document_cell(document, &last[2], "%zu species", plan->n_species);
    for (size_t p = 0; p < plan->n_plots; p++) {
        count_cell(document, &last[3 + 2 * p], plot_sum(plan, p));
        if (plot_sum(plan, p) > 0)
            document_cell(document, &last[4 + 2 * p], "100.0");
    }
    count_cell(document, &last[3 + 2 * plan->n_plots], all);
    for (size_t c = 0; c < table->n_columns; c++)
        last[c].strong = true;
}

static void zones_add(struct document *document, const struct planting_plan *plan)
{
    document_heading(document, 1, "What planting keeps away from, and the distances used", NULL);
    struct document_table *table = document_table(document, NULL, "zones");
    document_column(document, table, "What", NULL, ALIGN_LEFT);
    document_column(document, table, "On the map", NULL, ALIGN_LEFT);
    document_column(document, table, "Distance used", "m", ALIGN_RIGHT);
    document_column(document, table, "Who says so", NULL, ALIGN_LEFT);
    document_column(document, table, "Position checked on the ground", NULL, ALIGN_LEFT);
    for (size_t i = 0; i < plan->n_zones; i++) {
        const struct plan_zone_line *zone = &plan->zones[i];
        struct document_cell *row = document_row(document, table);
        document_cell(document, &row[0], "%s", zone->kind);
        document_cell(document, &row[1], "%s", zone->label == NULL ? " " : zone->label);
        number_cell(document, &row[2], zone->standoff_m, 1);
        if (zone->source != NULL)
            document_cell(document, &row[3], "%s", zone->source);
        document_cell(document, &row[4], "%s", zone->checked_on == NULL ? "not checked" : zone->checked_on);
        row[4].strong = zone->checked_on == NULL;
    }
}

static void differences_add(struct document *document, const struct planting_plan *plan)
{
    if (plan->n_plots < 2)
        return;
    document_heading(document, 1, "In what the plots differ", NULL);
    if (plan->n_differences > 1)
        document_note(document, "The plots differ in several things at once. A difference in outcome belongs to all of them together and "
                                "cannot be given to one.");
    struct document_table *table = document_table(document, NULL, "differences");
    document_column(document, table, "What", NULL, ALIGN_LEFT);
    for (size_t p = 0; p < plan->n_plots; p++)
        document_column(document, table, plan->plots[p].code, NULL, ALIGN_LEFT);
    for (size_t i = 0; i < plan->n_differences; i++) {
        struct document_cell *row = document_row(document, table);
        document_cell(document, &row[0], "%s", plan->differences[i].what);
        for (size_t p = 0; p < plan->n_plots; p++)
            if (plan->differences[i].values[p] != NULL)
                document_cell(document, &row[1 + p], "%s", plan->differences[i].values[p]);
    }
}

static void ends_add(struct document *document, const struct planting_plan *plan)
{
    document_heading(document, 1, "How the treatments were given", NULL);
    document_paragraph(document, "%s", plan->allocation == NULL ? "No allocation is recorded." : plan->allocation);
    if (plan->protocol != NULL)
        document_paragraph(document, "Protocol: version %s.", plan->protocol);
    else
        document_paragraph(document, "No protocol has been locked.");
    document_heading(document, 1, "Cautions", NULL);
    if (plan->n_cautions == 0)
        document_paragraph(document, "None was raised for this plan. That is not a finding that nothing can go wrong.");
    for (size_t i = 0; i < plan->n_cautions; i++)
        document_caution(document, plan->cautions[i].code, plan->cautions[i].words, plan->cautions[i].defer);
    document_heading(document, 1, "What is not known or not checked", "unknown");
    struct document_part *list = NULL;
    if (plan->n_unknown == 0)
        document_paragraph(document, "Nothing was recorded as unknown.");
    else
        list = document_list(document, false);
    for (size_t i = 0; i < plan->n_unknown; i++)
        document_words(document, list, plan->unknown[i], NULL, false);
    if (plan->n_sources == 0)
        return;
    document_heading(document, 1, "Sources", NULL);
    list = document_list(document, false);
    for (size_t i = 0; i < plan->n_sources; i++)
        document_words(document, list, plan->sources[i], NULL, false);
}

enum outcome planting_plan_document(const struct planting_plan *plan, struct document **out, int *scale, struct failure *why)
{
    char title[200];
    snprintf(title, sizeof title, "Planting plan, %.160s", plan->site == NULL ? "" : plan->site);
    struct document *document = document_new(title);
    struct arena *arena = &document->arena;
    document->kind = "Planting plan";
    document->subject = arena_text(arena, plan->site);
    document->subtitle = arena_text(arena, plan->programme);
    document->author = arena_text(arena, plan->organisation);
    document->language = arena_text(arena, plan->language);
    document->date = plan->date;
    for (size_t i = 0; i < plan->n_revisions; i++)
        document_revise(document, plan->revisions[i].version, plan->revisions[i].date, plan->revisions[i].who, plan->revisions[i].words);
    document_paragraph(document, "Site %s. Place: %s. Reference system: %s.", plan->site_code == NULL ? "without code" : plan->site_code,
                       plan->place == NULL ? "not stated" : plan->place, plan->crs == NULL ? "not stated" : plan->crs);
    struct map first = plan->map;
    first.legend = true;
    if (first.crs == NULL)
        first.crs = plan->crs;
    enum outcome outcome = map_add(document, &first, 560 - 16.0 * (double)plan->n_revisions, "The site", scale, why);
    plots_add(document, plan);
    species_add(document, plan);
    zones_add(document, plan);
    differences_add(document, plan);
    ends_add(document, plan);
    for (size_t i = 0; i < plan->n_details && outcome == OUTCOME_OK; i++) {
        struct map detail = plan->details[i];
        detail.legend = true;
        if (detail.crs == NULL)
            detail.crs = plan->crs;
        document_page(document, false);
        document_heading(document, 1, detail.title == NULL ? "Setting out" : detail.title, NULL);
        outcome = map_add(document, &detail, 660, detail.title == NULL ? "The plot" : detail.title, NULL, why);
    }
    if (outcome == OUTCOME_OK)
        *out = document;
    else
        document_free(document);
    return outcome;
}
