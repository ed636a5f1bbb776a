/* SPDX-License-Identifier: GPL-3.0-or-later
 * A mix as sections of a note. */
#include "draw/draw.h"
#include "work/mixing.h"
#include "work/site_map.h"
#include <math.h>

static void mix_figure(json_t *section, const struct mixing *mixing, struct arena *arena)
{
    struct figure_bar *bars = arena_array(arena, mixing->n, sizeof *bars);
    size_t n = 0;
    for (enum layer layer = LAYER_CANOPY; layer < LAYER_COUNT; layer++)
        for (size_t i = 0; i < mixing->n; i++)
            if (mixing->species[i].layer == layer && mixing->result.plants[i] > 0)
                bars[n++] = (struct figure_bar){.label = mixing->species[i].name,
                                                .label_italic = true,
                                                .value = (double)mixing->result.plants[i],
                                                .layer = (int)layer,
                                                .aim_low = unknown_real(),
                                                .aim_high = unknown_real()};
    struct figure_bars figure = {
        .head = {.title = arena_print(arena, "Mix of plot %s/%s", mixing->ground.site.code, mixing->ground.plot.code), .x_title = "plants"},
        .bars = bars,
        .n_bars = n,
        .unit = "",
        .by_layer = true};
    section_drawing(section, figure_bars(&figure));
}

static void mix_table(json_t *out, const struct mixing *mixing)
{
    json_t *section = note_section(out, "Species and numbers"), *table = section_table(section), *list = json_array();
    table_column(table, "species", "species", "", -1);
    table_column(table, "common", "English name", "", -1);
    table_column(table, "layer", "layer", "", -1);
    table_column(table, "plants", "plants", "", -1);
    table_column(table, "share", "share", "%", 1);
    table_column(table, "fit", "fit, 0–1", "", 2);
    table_column(table, "why", "why it is in", "", -1);
    for (enum layer layer = LAYER_CANOPY; layer < LAYER_COUNT; layer++) {
        for (size_t i = 0; i < mixing->n; i++) {
            if (mixing->species[i].layer != layer || mixing->result.plants[i] == 0)
                continue;
            json_t *row = table_row(table);
            row_text(row, mixing->species[i].name);
            row_text(row, mixing->from[i]->fact->common_name);
            row_text(row, word_of(WORDS_LAYER, (int)layer));
            row_integer(row, mixing->result.plants[i]);
            row_number(row, 100.0 * (double)mixing->result.plants[i] / (double)mixing->settings.total);
            row_number(row, mixing->species[i].fit);
            row_text(row, mixing->from[i]->why_in);
            json_array_append_new(list, json_pack("{s:s, s:s, s:I}", "species", mixing->species[i].name, "layer",
                                                  word_of(WORDS_LAYER, (int)layer), "plants", (json_int_t)mixing->result.plants[i]));
        }
    }
    json_object_set_new(note_data(out), "mix", list);
    struct arena arena = {0};
    mix_figure(section, mixing, &arena);
    arena_clear(&arena);
}

/* How one-sided a composition is: its largest share, how many species make up half of it, its entropy. */
struct dominance {
    double largest, shannon;
    size_t species, half;
};
static struct dominance dominance_of(const double *plants, size_t n)
{
    struct dominance d = {.largest = 0};
    double total = 0, sum = 0;
    for (size_t i = 0; i < n; i++)
        total += plants[i] > 0 ? plants[i] : 0;
    for (size_t i = 0; i < n && total > 0; i++)
        if (plants[i] > 0) {
            d.largest = fmax(d.largest, plants[i] / total);
            d.shannon -= plants[i] / total * log(plants[i] / total);
            d.species++;
        }
    for (double last = HUGE_VAL; sum < total / 2 && last > 0;) { /* from the most frequent down */
        double next = 0;
        size_t ties = 0;
        for (size_t i = 0; i < n; i++)
            if (plants[i] < last && plants[i] > next)
                next = plants[i];
        for (size_t i = 0; i < n; i++)
            ties += plants[i] > 0 && fabs(plants[i] - next) < 1e-9;
        for (; ties > 0 && sum < total / 2; ties--, d.half++)
            sum += next;
        last = next;
    }
    return d;
}

/* The mix beside the composition of the community: as dominant as the reference, or why not. */
static void dominance_table(json_t *out, const struct mixing *mixing)
{
    const struct mix_result *result = &mixing->result;
    struct arena arena = {0};
    double *here = arena_array(&arena, mixing->n + 1, sizeof *here), *aim = arena_array(&arena, mixing->n + 1, sizeof *aim);
    bool aimed = false;
    for (size_t i = 0; i < mixing->n; i++) {
        here[i] = (double)result->plants[i];
        aim[i] = result->target != NULL && is_known(result->target[i]) ? result->target[i] : 0;
        aimed |= aim[i] > 0;
    }
    if (aimed) {
        struct dominance a = dominance_of(here, mixing->n), b = dominance_of(aim, mixing->n);
        const struct {
            const char *what, *unit;
            double here, aim;
        } lines[] = {{"largest share of one species", "%", 100 * a.largest, 100 * b.largest},
                     {"species that make up half of the plants", "", (double)a.half, (double)b.half},
                     {"species", "", (double)a.species, (double)b.species},
                     {"Shannon entropy", "nats", a.shannon, b.shannon}};
        json_t *section = note_section(out, "Beside the reference"), *table = section_table(section);
        section_text(
            section,
            "Composition aimed at: constancy in the community, shared out to the layers by the middle of their ranges. %.0f of %.0f plants "
            "stand elsewhere than it asks for.",
            result->off_target / 2, (double)mixing->settings.total);
        table_column(table, "what", "what", "", -1);
        table_column(table, "here", "this mix", "", 2);
        table_column(table, "aim", "the reference", "", 2);
        table_column(table, "unit", "unit", "", -1);
        for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
            json_t *row = table_row(table);
            row_text(row, lines[i].what);
            row_number(row, lines[i].here);
            row_number(row, lines[i].aim);
            row_text(row, lines[i].unit);
        }
        json_object_set_new(note_data(out), "largest_share", json_real(a.largest));
        json_object_set_new(note_data(out), "largest_share_reference", json_real(b.largest));
    }
    arena_clear(&arena);
}

static void conflict_table(json_t *out, const struct mix_result *result)
{
    json_t *table =
        section_table(note_section(out, result->conflict_smallest ? "The fewest wishes that conflict" : "Wishes that conflict"));
    table_column(table, "wish", "wish", "", -1);
    table_column(table, "relax", "what would do", "", -1);
    for (size_t i = 0; i < result->n_conflict; i++) {
        json_t *row = table_row(table);
        row_text(row, result->conflict[i].wish);
        row_text(row, result->conflict[i].relax);
    }
}

void mixing_relaxed(json_t *out, const struct mix_result *result)
{
    if (result->n_relaxed == 0)
        return;
    json_t *section = note_section(out, "Usual wishes that gave way"), *table = section_table(section), *list = json_array();
    section_text(section,
                 "%s These are only usual figures (common practice). To hold one, give it yourself: what you ask for is never relaxed.",
                 result->relaxed_words);
    table_column(table, "wish", "usual wish", "", -1);
    table_column(table, "to", "here", "", -1);
    for (size_t i = 0; i < result->n_relaxed; i++) {
        json_t *row = table_row(table);
        row_text(row, result->relaxed[i].wish);
        row_text(row, result->relaxed[i].to);
        json_array_append_new(list, json_pack("{s:s, s:f, s:o}", "wish", result->relaxed[i].wish, "asked", result->relaxed[i].asked, "to",
                                              is_known(result->relaxed[i].enough) ? json_real(result->relaxed[i].enough) : json_null()));
    }
    json_object_set_new(note_data(out), "relaxed", list);
}

void mixing_sections(json_t *out, const struct mixing *mixing)
{
    if (mixing->result.plants == NULL) {
        conflict_table(out, &mixing->result);
        return;
    }
    mix_table(out, mixing);
    dominance_table(out, mixing);
    mixing_relaxed(out, &mixing->result);
}
