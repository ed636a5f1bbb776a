/* SPDX-License-Identifier: GPL-3.0-or-later
 * Sets of rows behind findings; how many rows each has is counted here from the lives, apart from work/rows_find.c. */
#include "work/behind.h"
#include "draw/draw.h"
#include "work/rows.h"
#include <string.h>

static const char *const state_words[] = {
    [LIFE_NOT_SEEN] = "not_seen", [LIFE_ALIVE] = "alive", [LIFE_DEAD] = "dead", [LIFE_NOT_FOUND] = "not_found", [LIFE_REMOVED] = "removed"};

static const char *plot_value(const struct behind *behind, size_t plot)
{
    return rows_value(evidence_plot_name(behind->evidence, plot, behind->arena), behind->arena);
}

static const char *census_value(const struct plot_lives *lives, size_t census, struct arena *arena)
{
    return day_words(lives->censuses[census].to, arena);
}

static bool counted_as(const struct plot_lives *lives, size_t plant, const char *counts_as)
{
    enum origin origin = lives->plants[plant]->origin;
    return text_same(counts_as, word_of(WORDS_ORIGIN, (int)origin)) &&
           (origin != ORIGIN_FIRST_PLANTING || evidence_planted_first(lives, plant));
}

int64_t behind_state(const struct behind *behind, size_t plot, size_t census, enum life_state state, const char *counts_as)
{
    const struct plot_lives *lives = &behind->evidence->lives[plot];
    int64_t n = 0, all = 0;
    for (size_t p = 0; p < lives->n_plants; p++) {
        bool counted = counted_as(lives, p, counts_as);
        all += counted;
        n += counted && lives->states[p * lives->n_censuses + census] == state;
    }
    const char *place =
        arena_print(behind->arena, "plot=%s;census=%s", plot_value(behind, plot), census_value(lives, census, behind->arena));
    if (n == 0) /* a count of none rests on all that was found of them */
        return note_rows(behind->note, NOUN_PLANT, arena_print(behind->arena, "%s;counts_as=%s", place, counts_as), all);
    const char *rest = arena_print(behind->arena, "%s;state=%s;counts_as=%s", place, state_words[state], counts_as);
    if (state == LIFE_NOT_SEEN)
        return note_rows(behind->note, NOUN_PLANT, rest, n);
    return note_rows(behind->note, NOUN_PLANT_RECORD, arena_print(behind->arena, "plant.%s", rest), n);
}

int64_t behind_planted(const struct behind *behind, size_t plot)
{
    const struct plot_lives *lives = &behind->evidence->lives[plot];
    int64_t n = 0;
    for (size_t p = 0; p < lives->n_plants; p++)
        n += evidence_planted_first(lives, p);
    if (lives->no_first_census)
        return note_rows(behind->note, NOUN_PLANT, arena_print(behind->arena, "plot=%s;counts_as=first_planting", plot_value(behind, plot)),
                         n);
    return note_rows(behind->note, NOUN_PLANT_RECORD,
                     arena_print(behind->arena, "plant.plot=%s;census=%s;counts_as=first_planting", plot_value(behind, plot),
                                 census_value(lives, 0, behind->arena)),
                     n);
}

int64_t behind_all(const struct behind *behind, const int64_t *sets)
{
    size_t n = 0;
    while (sets[n] >= 0)
        n++;
    return note_rows_of(behind->note, sets, n);
}

int64_t behind_known(const struct behind *behind, size_t plot, size_t census)
{
    int64_t sets[2];
    return note_rows_of(behind->note, sets, behind_known_parts(behind, plot, census, sets));
}

/* Sets of those states, of the first `n_states`, that any plant of the first planting is in. */
static size_t states_there(const struct behind *behind, size_t plot, size_t census, size_t n_states, int64_t *out)
{
    static const enum life_state states[] = {LIFE_ALIVE, LIFE_DEAD, LIFE_NOT_FOUND, LIFE_NOT_SEEN};
    const struct plot_lives *lives = &behind->evidence->lives[plot];
    size_t n = 0;
    for (size_t i = 0; i < n_states; i++) {
        bool any = false;
        for (size_t p = 0; p < lives->n_plants && !any; p++)
            any = lives->states[p * lives->n_censuses + census] == states[i] && counted_as(lives, p, "first_planting");
        if (any && !(lives->censuses[census].sample && states[i] == LIFE_NOT_SEEN))
            out[n++] = behind_state(behind, plot, census, states[i], "first_planting");
    }
    if (n == 0)
        out[n++] = behind_state(behind, plot, census, LIFE_ALIVE, "first_planting");
    return n;
}

size_t behind_known_parts(const struct behind *behind, size_t plot, size_t census, int64_t out[2])
{
    return states_there(behind, plot, census, 2, out);
}

size_t behind_states(const struct behind *behind, size_t plot, size_t census, int64_t out[4])
{
    return states_there(behind, plot, census, 4, out);
}

int64_t behind_bounds(const struct behind *behind, size_t plot, size_t census)
{
    int64_t sets[4];
    return note_rows_of(behind->note, sets, behind_states(behind, plot, census, sets));
}

int64_t behind_heights(const struct behind *behind, size_t plot, size_t census, bool first_planting)
{
    const struct plot_lives *lives = &behind->evidence->lives[plot];
    int64_t n = 0;
    for (size_t p = 0; p < lives->n_plants; p++)
        n += lives->measured[p * lives->n_censuses + census] != NULL &&
             (!first_planting || lives->plants[p]->origin == ORIGIN_FIRST_PLANTING);
    return note_rows(behind->note, NOUN_PLANT_RECORD,
                     arena_print(behind->arena, "plant.plot=%s;%sheight_at=%s", plot_value(behind, plot),
                                 first_planting ? "plant.origin=first_planting;" : "", census_value(lives, census, behind->arena)),
                     n);
}

int64_t behind_heights_both(const struct behind *behind, size_t plot, size_t from, size_t to)
{
    const struct plot_lives *lives = &behind->evidence->lives[plot];
    int64_t n = 0;
    for (size_t p = 0; p < lives->n_plants; p++)
        n += 2 * (lives->measured[p * lives->n_censuses + from] != NULL && lives->measured[p * lives->n_censuses + to] != NULL &&
                  lives->plants[p]->origin == ORIGIN_FIRST_PLANTING);
    return note_rows(behind->note, NOUN_PLANT_RECORD,
                     arena_print(behind->arena, "plant.plot=%s;plant.origin=first_planting;height_at=%s and %s", plot_value(behind, plot),
                                 census_value(lives, from, behind->arena), census_value(lives, to, behind->arena)),
                     n);
}

int64_t behind_plot(const struct behind *behind, size_t plot)
{
    return note_rows(behind->note, NOUN_PLOT, arena_print(behind->arena, "id=%s", plot_value(behind, plot)), 1);
}

int64_t behind_plots(const struct behind *behind, const size_t *plots, size_t n, const char *species)
{
    struct text where = {0};
    text_add(&where, "plant.plot=");
    for (size_t i = 0; i < n; i++)
        text_print(&where, "%s%s", i == 0 ? "" : "|", plot_value(behind, plots[i]));
    text_print(&where, ";plant.origin=first_planting%s%s",
               species == NULL ? "" : ";plant.species=", species == NULL ? "" : rows_value(species, behind->arena));
    int64_t set = n == 0 ? 0 : note_rows(behind->note, NOUN_PLANT_RECORD, text_get(&where), INT_UNKNOWN);
    text_free(&where);
    return set;
}

void behind_remaining(const struct behind *behind, enum noun noun, const char *of_plot, const char *of_all)
{
    const json_t *sections = json_object_get(behind->note, "sections");
    for (size_t i = 0; i < behind->evidence->facts.n_plots; i++) {
        const char *name = evidence_plot_name(behind->evidence, i, behind->arena), *at = strstr(of_plot, "%s");
        bool there = false;
        for (size_t s = 0; s < json_array_size(sections) && !there; s++) {
            const json_t *rows = json_object_get(json_object_get(json_array_get(sections, s), "table"), "rows");
            for (size_t r = 0; r < json_array_size(rows) && !there; r++)
                there = text_same(name, json_string_value(json_array_get(json_array_get(rows, r), 0)));
        }
        if (!there)
            continue;
        int64_t set = note_rows(
            behind->note, noun,
            arena_print(behind->arena, "%.*s%s%s", (int)(at - of_plot), of_plot, rows_value(name, behind->arena), at + 2), INT_UNKNOWN);
        for (size_t s = 0; s < json_array_size(sections); s++)
            table_behind(json_object_get(json_array_get(sections, s), "table"), name, set);
    }
    note_behind(behind->note, note_rows(behind->note, noun, of_all, INT_UNKNOWN));
}

size_t behind_index(const struct behind *behind, const struct plot_lives *lives)
{
    return (size_t)(lives - behind->evidence->lives);
}

int64_t behind_dead_planted(const struct behind *behind, size_t plot, size_t census)
{
    const struct plot_lives *lives = &behind->evidence->lives[plot];
    int64_t n = 0;
    for (size_t p = 0; p < lives->n_plants; p++)
        n += lives->states[p * lives->n_censuses + census] == LIFE_DEAD && lives->plants[p]->origin == ORIGIN_FIRST_PLANTING;
    return note_rows(behind->note, NOUN_PLANT_RECORD,
                     arena_print(behind->arena, "plant.plot=%s;plant.origin=first_planting;census=%s;state=dead", plot_value(behind, plot),
                                 census_value(lives, census, behind->arena)),
                     n);
}

int64_t behind_watering(const struct behind *behind, size_t plot)
{
    const struct evidence_facts *facts = &behind->evidence->facts;
    int64_t n = 0;
    for (size_t i = 0; i < facts->n_care; i++)
        n += facts->care[i].plot_id == facts->plots[plot].id && facts->care[i].kind == CARE_KIND_WATERING;
    return note_rows(behind->note, NOUN_CARE_EVENT, arena_print(behind->arena, "plot=%s;kind=watering", plot_value(behind, plot)), n);
}

void row_estimate(json_t *row, struct estimate e, double scale, int digits, const char *unit)
{
    char out[120];
    struct draw_value value = {e.value * scale, e.low * scale, e.high * scale};
    if (!is_known(e.value)) {
        row_text(row, NULL);
        return;
    }
    value_write(value, digits, unit, out);
    row_text(row, out);
}

/* "−4 to −2", as printed figures have it. */
void row_range(json_t *row, double low, double high)
{
    char from[80], to[80];
    if (!is_known(low) || !is_known(high)) {
        row_text(row, NULL);
        return;
    }
    value_write_number(low, 0, from);
    value_write_number(high, 0, to);
    row_print(row, "%s to %s", from, to);
}
