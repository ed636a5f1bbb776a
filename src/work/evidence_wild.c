/* SPDX-License-Identifier: GPL-3.0-or-later
 * Wildlife further, as sections of a note: accumulation, kinds at equal coverage, regimes over sites, before and after, likeness, years;
 * and what fungi ask for before anything is said. */
#include "draw/draw.h"
#include "evidence/wild.h"
#include "work/evidence_load.h"
#include "work/site_map.h"
#include <math.h>

static const double LEVEL = 0.95;
enum { FUNGI_AUTUMNS = 3, FUNGI_VISITS = 4 }; ///< before any statement (T76, common practice)

static json_t *number_or_null(double x)
{
    return isfinite(x) ? json_real(x) : json_null();
}

static void row_estimate(json_t *row, struct estimate e, int digits)
{
    char out[120];
    value_write((struct draw_value){e.value, e.low, e.high}, digits, "", out);
    row_text(row, is_known(e.value) ? out : NULL);
}

static const char *group_words(enum wildlife_group group, struct arena *arena)
{
    return word_plain(WORDS_WILDLIFE_GROUP, (int)group, arena);
}

/* ---- accumulation ---- */

static void accumulation_figure(const struct wild_curve *curves, size_t n, json_t *note, struct arena *arena)
{
    for (size_t i = 0; i < n; i++) {
        size_t first = 0, k = 0;
        while (curves[first].site != curves[i].site || curves[first].group != curves[i].group)
            first++;
        if (first < i) /* drawn already */
            continue;
        struct figure_line *lines = arena_array(arena, n, sizeof *lines);
        for (size_t j = i; j < n; j++) {
            if (curves[j].site != curves[i].site || curves[j].group != curves[i].group)
                continue;
            double *y = arena_array(arena, curves[j].n, sizeof *y), *low = arena_array(arena, curves[j].n, sizeof *low),
                   *high = arena_array(arena, curves[j].n, sizeof *high);
            for (size_t m = 0; m < curves[j].n; m++) {
                y[m] = curves[j].hill[0][m].value;
                low[m] = curves[j].hill[0][m].low;
                high[m] = curves[j].hill[0][m].high;
            }
            lines[k++] = (struct figure_line){.name = curves[j].plot->code,
                                              .x = curves[j].m,
                                              .y = y,
                                              .low = low,
                                              .high = high,
                                              .n = curves[j].n,
                                              .observed_to = (double)curves[j].looks};
        }
        const char *title = arena_print(arena, "%s: kinds of %s found", curves[i].site->name, group_words(curves[i].group, arena));
        struct figure_lines figure = {
            .head =
                {.title = title,
                 .x_title = "looks",
                 .y_title = "kinds",
                 .foot =
                     "What fewer looks would have found, and, drawn thin, what up to twice as many would; 95 % bands from the bootstrap."},
            .lines = lines,
            .n_lines = k,
            .from_zero = true};
        section_drawing(note_section(note, title), figure_lines(&figure));
    }
}

static void curves_table(const struct wild_curve *curves, size_t n, json_t *note, struct arena *arena)
{
    static const char *const titles[] = {"plot",
                                         "group",
                                         "looks",
                                         "kinds seen",
                                         "seen in one look only",
                                         "common kinds (order 1)",
                                         "very common kinds (order 2)",
                                         "kinds there may be",
                                         "coverage",
                                         "kinds at equal coverage",
                                         "equal coverage"};
    json_t *section = note_section(note, "How many kinds, and how even"), *table = section_table(section), *list = json_array();
    section_text(section,
                 "Order 1 counts kinds by how common they are, order 2 the very common ones; both by looks. Kinds seen in one look only "
                 "tell how many were missed. Equal coverage compares equally complete pictures, equal looks equal work.");
    for (size_t t = 0; t < sizeof titles / sizeof *titles; t++)
        table_column(table, titles[t], titles[t], "", t >= 8 ? 2 : t >= 5 ? 1 : -1);
    for (size_t i = 0; i < n; i++) {
        const struct wild_curve *c = &curves[i];
        size_t at = 0;
        while (at + 1 < c->n && c->m[at] < (double)c->looks)
            at++;
        json_t *row = table_row(table);
        row_print(row, "%s/%s", c->site->code, c->plot->code);
        row_text(row, group_words(c->group, arena));
        row_integer(row, (int64_t)c->looks);
        row_integer(row, (int64_t)c->taxa);
        row_integer(row, (int64_t)c->once);
        row_estimate(row, c->hill[1][at], 1);
        row_estimate(row, c->hill[2][at], 1);
        row_number(row, c->asymptote[0]);
        row_number(row, c->coverage);
        row_number(row, c->at_coverage.value);
        row_number(row, c->common_coverage);
        json_array_append_new(list, json_pack("{s:s, s:s, s:I, s:I, s:o, s:o, s:o, s:o}", "plot",
                                              arena_print(arena, "%s/%s", c->site->code, c->plot->code), "group",
                                              word_of(WORDS_WILDLIFE_GROUP, (int)c->group), "looks", (json_int_t)c->looks, "kinds",
                                              (json_int_t)c->taxa, "order_1", number_or_null(c->hill[1][at].value), "order_2",
                                              number_or_null(c->hill[2][at].value), "asymptote", number_or_null(c->asymptote[0]),
                                              "coverage", number_or_null(c->coverage)));
    }
    json_object_set_new(note_data(note), "diversity", list);
    note_source(note,
                "Hill numbers, coverage, rarefaction and extrapolation: Chao et al. 2014, Ecol Monogr 84:45; Chao & Jost 2012, Ecology "
                "93:2533.");
}

/* ---- regimes over sites ---- */

static const char *verdict_words(const struct paired_answer *a, const char *wa, const char *wb)
{
    return a->verdict == PAIRED_A_HIGHER ? wa : a->verdict == PAIRED_B_HIGHER ? wb : "cannot tell";
}

static enum outcome pairs_section(const struct evidence *evidence, const struct wild *wild, enum regime a, enum regime b, json_t *note,
                                  struct arena *arena, struct failure *why)
{
    const char *wa = word_plain(WORDS_REGIME, (int)a, arena), *wb = word_plain(WORDS_REGIME, (int)b, arena);
    json_t *section = NULL, *table = NULL, *list = json_object_get(note_data(note), "wildlife_pairs");
    enum outcome outcome = OUTCOME_OK;
    for (int g = 1; outcome == OUTCOME_OK && g < WILDLIFE_GROUP_COUNT; g++) {
        struct wild_pairs w;
        if (wild->n_taxa[g] == 0)
            continue;
        outcome = evidence_wild_pairs(&evidence->facts, wild, (enum wildlife_group)g, a, b, LEVEL, arena, &w, why);
        if (outcome != OUTCOME_OK || w.n == 0)
            continue;
        if (section == NULL) {
            static const char *const titles[] = {"group",
                                                 "sites",
                                                 "kinds at equal looks, differ by",
                                                 "raw totals differ by",
                                                 "individuals per effort, times",
                                                 "low",
                                                 "high",
                                                 "more kinds",
                                                 "more individuals"};
            section = note_section(note, arena_print(arena, "Wildlife: %s beside %s", wa, wb));
            table = section_table(section);
            for (size_t t = 0; t < sizeof titles / sizeof *titles; t++)
                table_column(table, titles[t], titles[t], "", t == 3 ? 1 : t >= 4 && t <= 6 ? 2 : -1);
        }
        section_line(section, 0, "%s", w.sentence);
        json_t *row = table_row(table);
        row_text(row, group_words(w.group, arena));
        row_integer(row, (int64_t)w.n);
        row_estimate(row, w.kinds.mean, 1);
        row_number(row, w.raw.value);
        row_number(row, w.n_rate > 0 ? exp(w.rate.mean.value) : unknown_real());
        row_number(row, exp(w.rate.mean.low));
        row_number(row, exp(w.rate.mean.high));
        row_text(row, verdict_words(&w.kinds, wa, wb));
        row_text(row, verdict_words(&w.rate, wa, wb));
        if (w.n_before > 0) {
            const struct estimate *e = &w.before_after.mean;
            section_line(
                section, 0,
                "%s, before and after against the comparison, on %zu site%s with looks before planting: individuals per effort changed "
                "%.1f times%s as much on %s as on %s.",
                group_words(w.group, arena), w.n_before, w.n_before == 1 ? "" : "s", exp(e->value),
                is_known(e->low) ? arena_print(arena, " (%.1f to %.1f)", exp(e->low), exp(e->high)) : "", wa, wb);
        } else if (b == REGIME_CONVENTIONAL && a == REGIME_DENSE_PREPARED)
            note_unknown(note, "%s, %s: nobody looked before planting, so what was there already is not taken off.",
                         group_words(w.group, arena), wa);
        if (list == NULL) {
            list = json_array();
            json_object_set_new(note_data(note), "wildlife_pairs", list);
        }
        json_array_append_new(list, json_pack("{s:s, s:s, s:s, s:I, s:o, s:o, s:o, s:s, s:s}", "group", word_of(WORDS_WILDLIFE_GROUP, g),
                                              "a", word_of(WORDS_REGIME, (int)a), "b", word_of(WORDS_REGIME, (int)b), "sites",
                                              (json_int_t)w.n, "kinds", number_or_null(w.kinds.mean.value), "raw",
                                              number_or_null(w.raw.value), "rate_ratio", number_or_null(exp(w.rate.mean.value)), "verdict",
                                              verdict_words(&w.kinds, wa, wb), "sentence", w.sentence));
    }
    return outcome;
}

/* ---- likeness and years ---- */

static enum outcome likeness_section(const struct evidence *evidence, const struct wild *wild, json_t *note, struct arena *arena,
                                     struct failure *why)
{
    for (int g = 1; g < WILDLIFE_GROUP_COUNT; g++) {
        struct wild_likeness l;
        struct failure one = {0};
        enum outcome outcome =
            evidence_wild_likeness(&evidence->facts, wild, (enum wildlife_group)g, (uint64_t)evidence->programme.seed, arena, &l, &one);
        if (outcome == OUTCOME_DATA)
            continue;
        if (outcome != OUTCOME_OK) {
            *why = one;
            return outcome;
        }
        json_t *section = note_section(note, arena_print(arena, "How unlike plots are: %s", group_words(l.group, arena)));
        if (l.has_test)
            section_text(section,
                         "Regimes account for %.0f %% of the unlikeness (pseudo-F %.1f, p %.3f, shuffled within sites); spread within "
                         "regimes differs with p %.3f. Plots of one regime on %zu site%s are few: read it as a description.",
                         100 * l.test.r2[0], l.test.f[0], l.test.p[0], l.test.dispersion.p, l.sites, l.sites == 1 ? "" : "s");
        else
            section_text(section,
                         "Bray–Curtis unlikeness of individuals per look: 0 alike, 1 nothing in common. Too few plots for a test.");
        json_t *table = section_table(section);
        table_column(table, "plot", "plot", "", -1);
        for (size_t i = 0; i < l.n; i++)
            table_column(table, arena_print(arena, "p%zu", i), evidence_plot_name(evidence, l.plots[i], arena), "", 2);
        for (size_t i = 0; i < l.n; i++) {
            json_t *row = table_row(table);
            row_text(row, evidence_plot_name(evidence, l.plots[i], arena));
            for (size_t j = 0; j < l.n; j++)
                row_number(row, l.unlike[i * l.n + j]);
        }
        note_source(note, "Unlikeness: Bray & Curtis 1957; its analysis: Anderson 2001, McArdle & Anderson 2001, Ecology 82:290.");
    }
    return OUTCOME_OK;
}

static enum outcome turnover_section(const struct evidence *evidence, const struct wild *wild, json_t *note, struct arena *arena,
                                     struct failure *why)
{
    static const char *const titles[] = {"plot", "group", "from", "to", "looks", "kept", "lost", "gained", "share that changed"};
    struct wild_turnover *rows = NULL;
    size_t n = 0;
    enum outcome outcome = evidence_wild_turnover(&evidence->facts, wild, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    json_t *section = note_section(note, "What came and went"), *table = section_table(section);
    section_text(section, "Kinds from one year to the next. With unequal numbers of looks part of it is looking, not coming and going.");
    for (size_t t = 0; t < sizeof titles / sizeof *titles; t++)
        table_column(table, titles[t], titles[t], t == 8 ? "%" : "", t == 8 ? 0 : -1);
    for (size_t i = 0; i < n; i++) {
        json_t *row = table_row(table);
        row_text(row, evidence_plot_name(evidence, rows[i].plot, arena));
        row_text(row, group_words(rows[i].group, arena));
        row_integer(row, rows[i].from);
        row_integer(row, rows[i].to);
        row_print(row, "%zu, %zu", rows[i].looks[0], rows[i].looks[1]);
        row_integer(row, (int64_t)rows[i].change.kept);
        row_integer(row, (int64_t)rows[i].change.lost);
        row_integer(row, (int64_t)rows[i].change.gained);
        row_number(row, 100 * rows[i].change.share);
    }
    return OUTCOME_OK;
}

/* ---- fungi ---- */

static void fungi_caution(const struct wild *wild, json_t *note)
{
    size_t looks = 0, years = 0;
    int last = 0;
    for (size_t i = 0; i < wild->n_looks; i++) {
        int year = 0, month = 0, day = 0;
        if (wild->looks[i].group != WILDLIFE_GROUP_FUNGI)
            continue;
        date_parts(wild->looks[i].visit->seen_on, &year, &month, &day);
        years += year != last;
        last = year;
        looks++;
    }
    if (looks > 0 && (years < FUNGI_AUTUMNS || looks < FUNGI_AUTUMNS * FUNGI_VISITS))
        note_unknown(
            note,
            "Fungi: %zu looks. Fruit bodies swing from year to year: three autumns of four visits are asked for before anything is "
            "said (common practice). Fungi of mulch are not fungi of woodland; nothing here says what may be eaten.",
            looks);
}

enum outcome wildlife_more_sections(const struct evidence *evidence, const struct site *site, json_t *note, struct arena *arena,
                                    struct failure *why)
{
    struct wild wild;
    struct wild_curve *curves = NULL;
    size_t n = 0, kept = 0;
    enum outcome outcome = evidence_wild(&evidence->facts, arena, &wild, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_wild_curves(&evidence->facts, &wild, LEVEL, 0, (uint64_t)evidence->programme.seed, arena, &curves, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    for (size_t i = 0; i < n; i++)
        if (site == NULL || curves[i].site->id == site->id)
            curves[kept++] = curves[i];
    if (kept > 0) {
        curves_table(curves, kept, note, arena);
        accumulation_figure(curves, kept, note, arena);
    }
    if (wild.uncounted > 0)
        note_unknown(note, "%zu sightings have no number; each counts as one individual.", wild.uncounted);
    for (int a = 1; outcome == OUTCOME_OK && site == NULL && a < REGIME_COUNT; a++)
        for (int b = 1; outcome == OUTCOME_OK && b < REGIME_COUNT; b++)
            if (regimes_compared((enum regime)a, (enum regime)b) || (a == REGIME_DENSE_PREPARED && b == REGIME_UNPLANTED))
                outcome = pairs_section(evidence, &wild, (enum regime)a, (enum regime)b, note, arena, why);
    if (outcome == OUTCOME_OK && site == NULL)
        outcome = likeness_section(evidence, &wild, note, arena, why);
    if (outcome == OUTCOME_OK && site == NULL)
        outcome = turnover_section(evidence, &wild, note, arena, why);
    fungi_caution(&wild, note);
    return outcome;
}
