/* SPDX-License-Identifier: GPL-3.0-or-later
 * Sites where the recipe made no difference worth having: a result to be told as plainly as a difference. */
#include "work/no_difference.h"
#include "evidence/evidence.h"
#include <math.h>

enum { MOST_PAIRS = 3 };
static const enum regime prepared_pairs[MOST_PAIRS][2] = {
    {REGIME_DENSE_PREPARED, REGIME_DENSE_UNPREPARED},
    {REGIME_SPARSE_PREPARED, REGIME_CONVENTIONAL},
    {REGIME_DENSE_PREPARED, REGIME_CONVENTIONAL},
};

/* The margin that the newest protocol says is worth having, in shares; 0.10 where none says so. */
static enum outcome margin_find(struct store *store, double *margin, bool *stated, struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(store, NOUN_PROTOCOL, arena, &rows, &n, why);
    *margin = 0.10;
    *stated = false;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        if (is_known(((const struct protocol *)rows)[i].margin_points)) {
            *margin = ((const struct protocol *)rows)[i].margin_points / 100;
            *stated = true;
        }
    return outcome;
}

static const char *pair_words(const struct evidence *evidence, const struct site_difference *pair, struct arena *arena)
{
    const struct plot *a = &evidence->facts.plots[pair->a], *b = &evidence->facts.plots[pair->b];
    return arena_print(arena, "%s − %s %+.0f points, %+.0f to %+.0f", a->code, b->code, 100 * pair->difference.value,
                       100 * pair->difference.low, 100 * pair->difference.high);
}

enum outcome no_difference_section(struct store *store, const struct evidence *evidence, json_t *note, struct arena *arena,
                                   struct failure *why)
{
    struct site_difference *pairs[MOST_PAIRS] = {NULL};
    size_t n[MOST_PAIRS] = {0};
    double margin = 0;
    bool stated = false;
    json_t *section = NULL, *list = json_array();
    enum outcome outcome = margin_find(store, &margin, &stated, arena, why);
    for (int k = 0; outcome == OUTCOME_OK && k < MOST_PAIRS; k++)
        outcome = evidence_pairs(&evidence->facts, evidence->lives, prepared_pairs[k][0], prepared_pairs[k][1], 0.95, arena, &pairs[k],
                                 &n[k], why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n[MOST_PAIRS - 1]; i++) {
        const struct site_difference *whole = &pairs[MOST_PAIRS - 1][i];
        const char *spared = NULL;
        bool same = whole->difference.low > -margin && whole->difference.high < margin, held = false;
        if (!same || whole->difference.low > 0 || whole->difference.high < 0)
            continue;
        for (int k = 0; k < MOST_PAIRS - 1; k++)
            for (size_t j = 0; j < n[k]; j++) {
                const struct estimate *d = &pairs[k][j].difference;
                if (pairs[k][j].site != whole->site)
                    continue;
                held = held || d->low > 0 || d->high < 0;
                if (d->low > -margin && d->high < margin)
                    spared = spared == NULL ? pair_words(evidence, &pairs[k][j], arena)
                                            : arena_print(arena, "%s; %s", spared, pair_words(evidence, &pairs[k][j], arena));
            }
        const char *ground = spared == NULL || held
                                 ? "Whether the ground needed no preparation cannot be told: no pair of plots there differs in it alone."
                                 : arena_print(arena,
                                               "Plots without preparation kept as many plants (%s): good ground did not need it. That is a "
                                               "result, from one site: it is no rule for others.",
                                               spared);
        if (section == NULL) {
            section = note_section(note, "Where it made no difference worth having");
            json_t *table = section_table(section);
            table_column(table, "site", "site", "", -1);
            table_column(table, "sentence", "in words", "", -1);
        }
        const char *sentence =
            arena_print(arena, "No difference worth having: %s, all within ±%.0f points%s. %s", pair_words(evidence, whole, arena),
                        100 * margin, stated ? ", the margin of the protocol" : " (no protocol says what is worth having)", ground);
        json_t *row = table_row(json_object_get(section, "table"));
        row_text(row, whole->site->name);
        row_text(row, sentence);
        json_array_append_new(list, json_pack("{s:s, s:s}", "site", whole->site->code, "sentence", sentence));
    }
    json_object_set_new(note_data(note), "no_difference", list);
    return outcome;
}
