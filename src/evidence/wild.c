/* SPDX-License-Identifier: GPL-3.0-or-later
 * Looks for wildlife put in order once, with what each found; and the two regimes of each site against each other. */
#include "evidence/wild.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* ---- order ---- */

static int by_place(const void *a, const void *b)
{
    const struct wild_look *x = a, *y = b;
    if (x->plot != y->plot)
        return x->plot < y->plot ? -1 : 1;
    if (x->group != y->group)
        return x->group < y->group ? -1 : 1;
    if (x->visit->seen_on != y->visit->seen_on)
        return x->visit->seen_on < y->visit->seen_on ? -1 : 1;
    return (x->visit->id > y->visit->id) - (x->visit->id < y->visit->id);
}

static int by_name(const void *a, const void *b)
{
    return strcasecmp(*(const char *const *)a, *(const char *const *)b);
}

/* A sighting with the look it belongs to. */
struct seen {
    size_t look;
    const struct wildlife_record *record;
};

static int by_look(const void *a, const void *b)
{
    const struct seen *x = a, *y = b;
    if (x->look != y->look)
        return x->look < y->look ? -1 : 1;
    int names = strcasecmp(x->record->taxon, y->record->taxon);
    return names != 0 ? names : (x->record->id > y->record->id) - (x->record->id < y->record->id);
}

struct lookup {
    int64_t id;
    size_t at;
};

static int by_id(const void *a, const void *b)
{
    int64_t x = ((const struct lookup *)a)->id, y = ((const struct lookup *)b)->id;
    return (x > y) - (x < y);
}

static size_t find(const struct lookup *list, size_t n, int64_t id)
{
    struct lookup key = {.id = id};
    const struct lookup *found = bsearch(&key, list, n, sizeof *list, by_id);
    return found == NULL ? SIZE_MAX : found->at;
}

/* Effort of a look in its own unit, else in minutes. */
static void effort_fill(struct wild_look *look)
{
    bool own = is_known(look->visit->effort_value) && look->visit->effort_unit != NULL;
    look->effort = own ? look->visit->effort_value : look->visit->minutes;
    look->unit = own ? look->visit->effort_unit : "min";
    if (!(look->effort > 0))
        look->effort = unknown_real();
}

static void taxa_fill(struct wild *w, const struct seen *seen, size_t n, struct arena *arena)
{
    for (int g = 0; g < WILDLIFE_GROUP_COUNT; g++) {
        size_t room = 0, k = 0;
        for (size_t i = 0; i < n; i++)
            room += w->looks[seen[i].look].group == (enum wildlife_group)g;
        w->taxa[g] = arena_array(arena, room, sizeof(char *));
        for (size_t i = 0; i < n; i++)
            if (w->looks[seen[i].look].group == (enum wildlife_group)g)
                w->taxa[g][k++] = seen[i].record->taxon;
        qsort(w->taxa[g], k, sizeof(char *), by_name);
        for (size_t i = 0; i < k; i++)
            if (w->n_taxa[g] == 0 || strcasecmp(w->taxa[g][w->n_taxa[g] - 1], w->taxa[g][i]) != 0)
                w->taxa[g][w->n_taxa[g]++] = w->taxa[g][i];
    }
}

static void entries_fill(struct wild *w, const struct seen *seen, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        struct wild_look *look = &w->looks[seen[i].look];
        const struct wildlife_record *record = seen[i].record;
        double count = record->count == INT_UNKNOWN ? 1 : (double)record->count;
        w->uncounted += record->count == INT_UNKNOWN;
        if (count <= 0)
            continue;
        const char *const *name = bsearch(&record->taxon, w->taxa[look->group], w->n_taxa[look->group], sizeof(char *), by_name);
        size_t taxon = (size_t)(name - (const char *const *)w->taxa[look->group]);
        if (look->n == 0)
            look->first = w->n_entries;
        if (look->n > 0 && w->entries[w->n_entries - 1].taxon == taxon)
            w->entries[w->n_entries - 1].count += count;
        else {
            w->entries[w->n_entries++] = (struct wild_entry){taxon, count};
            look->n++;
        }
        look->individuals += count;
    }
}

enum outcome evidence_wild(const struct evidence_facts *facts, struct arena *arena, struct wild *out, struct failure *why)
{
    (void)why;
    struct wild w = {.looks = arena_array(arena, facts->n_looks, sizeof *w.looks)};
    struct lookup *plots = arena_array(arena, facts->n_plots, sizeof *plots), *looks = arena_array(arena, facts->n_looks, sizeof *looks);
    struct seen *seen = arena_array(arena, facts->n_sightings, sizeof *seen);
    size_t n = 0;
    for (size_t i = 0; i < facts->n_plots; i++)
        plots[i] = (struct lookup){facts->plots[i].id, i};
    qsort(plots, facts->n_plots, sizeof *plots, by_id);
    for (size_t i = 0; i < facts->n_looks; i++) {
        size_t plot = find(plots, facts->n_plots, facts->looks[i].plot_id);
        if (plot == SIZE_MAX)
            continue;
        w.looks[w.n_looks] = (struct wild_look){.visit = &facts->looks[i], .plot = plot, .group = facts->looks[i].group};
        effort_fill(&w.looks[w.n_looks++]);
    }
    qsort(w.looks, w.n_looks, sizeof *w.looks, by_place);
    for (size_t i = 0; i < w.n_looks; i++)
        looks[i] = (struct lookup){w.looks[i].visit->id, i};
    qsort(looks, w.n_looks, sizeof *looks, by_id);
    for (size_t i = 0; i < facts->n_sightings; i++) {
        size_t look = find(looks, w.n_looks, facts->sightings[i].wildlife_visit_id);
        if (look != SIZE_MAX && facts->sightings[i].taxon != NULL)
            seen[n++] = (struct seen){look, &facts->sightings[i]};
    }
    qsort(seen, n, sizeof *seen, by_look);
    w.entries = arena_array(arena, n, sizeof *w.entries);
    taxa_fill(&w, seen, n, arena);
    entries_fill(&w, seen, n);
    *out = w;
    return OUTCOME_OK;
}

/* ---- two regimes over sites ---- */

/* One plot's looks of a group: counts by kind, individuals, effort, before planting and after. */
struct tally {
    size_t looks, looks_before;
    double *in_looks; ///< looks (after) in which each kind was seen
    double individuals, effort, individuals_before, effort_before, kinds;
    const char *unit;
    bool mixed;
};

static struct tally tally_of(const struct wild *w, const struct evidence_facts *facts, size_t plot, enum wildlife_group group,
                             struct arena *arena)
{
    struct tally t = {.in_looks = arena_array(arena, w->n_taxa[group], sizeof(double))};
    int32_t planted = facts->plots[plot].planted_on;
    for (size_t i = 0; i < w->n_looks; i++) {
        const struct wild_look *look = &w->looks[i];
        if (look->plot != plot || look->group != group)
            continue;
        bool before = planted != DATE_UNKNOWN && look->visit->seen_on < planted;
        *(before ? &t.looks_before : &t.looks) += 1;
        if (is_known(look->effort)) {
            t.mixed = t.mixed || (t.unit != NULL && !text_same(t.unit, look->unit));
            t.unit = look->unit;
            *(before ? &t.individuals_before : &t.individuals) += look->individuals;
            *(before ? &t.effort_before : &t.effort) += look->effort;
        }
        for (size_t e = look->first; !before && e < look->first + look->n; e++)
            t.kinds += t.in_looks[w->entries[e].taxon]++ == 0;
    }
    return t;
}

/* Kinds that m of the looks would have found. */
static enum outcome kinds_at(const struct tally *t, size_t n_taxa, size_t m, double *out, struct failure *why)
{
    struct assemblage a = {t->in_looks, n_taxa, (double)t->looks};
    *out = 0;
    return t->kinds == 0 ? OUTCOME_OK : diversity_at_size(&a, (double)m, 0, out, why);
}

static double log_rate(double individuals, double effort)
{
    return effort > 0 ? log((individuals + 0.5) / effort) : unknown_real();
}

static enum outcome pair_make(const struct tally *a, const struct tally *b, size_t n_taxa, struct wild_pair *out, struct failure *why)
{
    bool same_unit = !a->mixed && !b->mixed && text_same(a->unit, b->unit);
    out->looks[0] = a->looks;
    out->looks[1] = b->looks;
    out->at_looks = a->looks < b->looks ? a->looks : b->looks;
    out->raw[0] = a->kinds;
    out->raw[1] = b->kinds;
    out->log_ratio = same_unit ? log_rate(a->individuals, a->effort) - log_rate(b->individuals, b->effort) : unknown_real();
    out->before_after =
        same_unit && a->effort_before > 0 && b->effort_before > 0
            ? out->log_ratio - (log_rate(a->individuals_before, a->effort_before) - log_rate(b->individuals_before, b->effort_before))
            : unknown_real();
    enum outcome outcome = kinds_at(a, n_taxa, out->at_looks, &out->kinds[0], why);
    return outcome == OUTCOME_OK ? kinds_at(b, n_taxa, out->at_looks, &out->kinds[1], why) : outcome;
}

static const char *pairs_sentence(const struct wild_pairs *w, const char *a, const char *b, struct arena *arena)
{
    const char *rate = "", *group = word_of(WORDS_WILDLIFE_GROUP, (int)w->group);
    if (w->n_rate > 0 && is_known(w->rate.mean.low))
        rate = arena_print(arena, " Individuals per effort: %.1f times as many (%.1f to %.1f), over %zu site%s.", exp(w->rate.mean.value),
                           exp(w->rate.mean.low), exp(w->rate.mean.high), w->n_rate, w->n_rate == 1 ? "" : "s");
    else if (w->n_rate > 0)
        rate = arena_print(arena, " Individuals per effort: %.1f times as many on the one site.", exp(w->rate.mean.value));
    const char *interval =
        is_known(w->kinds.mean.low) ? arena_print(arena, " (%+.1f to %+.1f)", w->kinds.mean.low, w->kinds.mean.high) : "";
    char *out = arena_print(
        arena, "%s, %s beside %s: at equal numbers of looks %+.1f kinds%s over %zu site%s; raw totals differ by %+.1f.%s", group, a, b,
        fabs(w->kinds.mean.value) < 0.05 ? 0 : w->kinds.mean.value, interval, w->n, w->n == 1 ? "" : "s", w->raw.value, rate);
    for (char *c = out; *c != '\0'; c++)
        if (*c == '_')
            *c = ' ';
    return out;
}

/* Verdict of the values that are known. */
static enum outcome judge(const double *value, size_t n, size_t *used, double level, struct arena *arena, struct paired_answer *out,
                          struct failure *why)
{
    double *known = arena_array(arena, n, sizeof *known);
    *used = 0;
    for (size_t i = 0; i < n; i++)
        if (is_known(value[i]))
            known[(*used)++] = value[i];
    struct paired_wish wish = {.n = *used, .difference = known, .level = level, .margin = unknown_real(), .of_many = OUTCOMES_AFTER};
    return evidence_paired(&wish, out, why);
}

enum outcome evidence_wild_pairs(const struct evidence_facts *facts, const struct wild *wild, enum wildlife_group group, enum regime a,
                                 enum regime b, double level, struct arena *arena, struct wild_pairs *out, struct failure *why)
{
    struct wild_pairs w = {.group = group, .pairs = arena_array(arena, facts->n_sites, sizeof *w.pairs)};
    double *column[4];
    for (int k = 0; k < 4; k++)
        column[k] = arena_array(arena, facts->n_sites, sizeof(double));
    enum outcome outcome = OUTCOME_OK;
    for (size_t s = 0; outcome == OUTCOME_OK && s < facts->n_sites; s++) {
        size_t at[2] = {SIZE_MAX, SIZE_MAX};
        for (size_t i = 0; i < facts->n_plots; i++) {
            int side = facts->plots[i].regime == a ? 0 : facts->plots[i].regime == b ? 1 : -1;
            if (side >= 0 && facts->plots[i].site_id == facts->sites[s].id && at[side] == SIZE_MAX)
                at[side] = i;
        }
        if (at[0] == SIZE_MAX || at[1] == SIZE_MAX)
            continue;
        struct tally ta = tally_of(wild, facts, at[0], group, arena), tb = tally_of(wild, facts, at[1], group, arena);
        if (ta.looks == 0 || tb.looks == 0)
            continue;
        struct wild_pair *pair = &w.pairs[w.n];
        *pair = (struct wild_pair){.site = &facts->sites[s], .a = at[0], .b = at[1]};
        outcome = pair_make(&ta, &tb, wild->n_taxa[group], pair, why);
        column[0][w.n] = pair->log_ratio;
        column[1][w.n] = pair->kinds[0] - pair->kinds[1];
        column[2][w.n] = pair->before_after;
        column[3][w.n++] = pair->raw[0] - pair->raw[1];
    }
    size_t all = 0;
    struct paired_answer raw;
    if (outcome == OUTCOME_OK)
        outcome = judge(column[0], w.n, &w.n_rate, level, arena, &w.rate, why);
    if (outcome == OUTCOME_OK)
        outcome = judge(column[1], w.n, &all, level, arena, &w.kinds, why);
    if (outcome == OUTCOME_OK)
        outcome = judge(column[2], w.n, &w.n_before, level, arena, &w.before_after, why);
    if (outcome == OUTCOME_OK)
        outcome = judge(column[3], w.n, &all, level, arena, &raw, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    w.raw = raw.mean;
    w.sentence = w.n == 0 ? "No site has looks on plots of both regimes."
                          : pairs_sentence(&w, word_of(WORDS_REGIME, (int)a), word_of(WORDS_REGIME, (int)b), arena);
    *out = w;
    return OUTCOME_OK;
}
