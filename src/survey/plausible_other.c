/* SPDX-License-Identifier: GPL-3.0-or-later
 * Plausibility of soil samples, looks for wildlife, weather days, costs and hours. */
#include "survey/doubts.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

int coordinates_check(double latitude, double longitude, double home_latitude, double home_longitude, double reach_deg)
{
    bool as_given = fabs(latitude - home_latitude) <= reach_deg && fabs(longitude - home_longitude) <= reach_deg;
    bool swapped = fabs(longitude - home_latitude) <= reach_deg && fabs(latitude - home_longitude) <= reach_deg;
    return as_given ? 0 : swapped ? 1 : 2;
}

static const char *iso_day(struct arena *arena, int32_t day)
{
    char iso[16];
    date_write(day, iso);
    return arena_text(arena, iso);
}

/* ---- soil ---- */

static bool layer_same(const struct soil_sample *a, const struct soil_sample *b)
{
    return a->site_id == b->site_id && a->plot_id == b->plot_id && a->depth_top_cm == b->depth_top_cm &&
           a->depth_bottom_cm == b->depth_bottom_cm;
}

/* Mean of a figure over the latest earlier samples of the same layer and plot, or of the same site. `which`: 0 pH, 1 carbon,
 * 2 C:N. Only the latest day counts: works in between may have changed the ground. */
static double figure_of(const struct soil_sample *s, int which)
{
    return which == 0 ? s->ph : which == 1 ? s->soc_pct : s->soc_pct / s->total_n_pct;
}

static double earlier_mean(const struct survey_ground *g, const struct soil_sample *s, int which, bool whole_site, size_t *n)
{
    double sum = 0;
    int32_t latest = DATE_UNKNOWN;
    *n = 0;
    for (size_t i = 0; i < g->n_soils; i++) {
        const struct soil_sample *o = &g->soils[i];
        double x = figure_of(o, which);
        if (o->site_id != s->site_id || (!whole_site && !layer_same(o, s)) || !is_known(x) || !isfinite(x) ||
            (o->sampled_on != DATE_UNKNOWN && o->sampled_on >= s->sampled_on) || (*n > 0 && o->sampled_on < latest))
            continue;
        if (*n > 0 && o->sampled_on > latest) {
            sum = 0;
            *n = 0;
        }
        latest = o->sampled_on;
        sum += x;
        (*n)++;
    }
    return *n == 0 ? unknown_real() : sum / (double)*n;
}

static void soil_one(struct doubts *ds, const struct soil_sample *s, size_t i)
{
    struct arena *a = ds->arena;
    if (is_known(s->depth_top_cm) && is_known(s->depth_bottom_cm) && s->depth_top_cm >= s->depth_bottom_cm) {
        struct doubt *d = doubt_add(ds, "depth_order", (int64_t)i, "depth_top_cm", "The layer starts at %s cm and ends at %s cm.",
                                    figure(a, s->depth_top_cm), figure(a, s->depth_bottom_cm));
        doubt_remedy(
            ds, d, arena_print(a, "correct:depth_top_cm=%s;depth_bottom_cm=%s", figure(a, s->depth_bottom_cm), figure(a, s->depth_top_cm)),
            "exchange them");
        doubt_remedy(ds, d, "reject", "leave the row out");
    }
    double texture = s->sand_pct + s->silt_pct + s->clay_pct;
    if (is_known(texture) && (texture < 95 || texture > 105)) {
        struct doubt *d = doubt_add(ds, "texture_sum", (int64_t)i, "sand_pct", "Sand, silt and clay come to %s %%.", figure(a, texture));
        doubt_evidence(d, texture, 100, 5);
        doubt_usual(ds, d, "the figures are right as written");
    }
    if (s->lead_mg_kg == 0) {
        struct doubt *d = doubt_add(ds, "below_detection_zero", (int64_t)i, "lead_mg_kg",
                                    "Lead is given as 0 mg/kg. A laboratory that finds none gives its detection limit, such as <5.");
        doubt_evidence(d, 0, unknown_real(), 0);
        doubt_remedy(ds, d, "correct:lead_mg_kg=;lead_below_detection=yes",
                     "below detection, the limit is not known: leave the figure blank");
        doubt_remedy(ds, d, "reject", "leave the row out");
    }
    double ratio = s->soc_pct / s->total_n_pct;
    if (!is_known(ratio) || s->total_n_pct <= 0 || s->soc_pct <= 0)
        return;
    if (ratio < 4 && ratio * 10 >= 6 && ratio * 10 <= 40) {
        struct doubt *d = doubt_add(ds, "g_kg_as_pct", (int64_t)i, "total_n_pct",
                                    "Carbon to nitrogen is %s, which no soil has; with nitrogen as %s g/kg it is %s.", figure(a, ratio),
                                    figure(a, s->total_n_pct), figure(a, ratio * 10));
        doubt_evidence(d, ratio, ratio * 10, 4);
        doubt_remedy(ds, d, arena_print(a, "correct:total_n_pct=%s", figure(a, s->total_n_pct / 10)), "nitrogen is in g/kg: %s %%",
                     figure(a, s->total_n_pct / 10));
        doubt_usual(ds, d, "the figures are right as written");
    } else if (ratio > 60 && ratio / 10 >= 6 && ratio / 10 <= 40) {
        struct doubt *d = doubt_add(ds, "g_kg_as_pct", (int64_t)i, "soc_pct",
                                    "Carbon to nitrogen is %s, which few soils have; with carbon as %s g/kg it is %s.", figure(a, ratio),
                                    figure(a, s->soc_pct), figure(a, ratio / 10));
        doubt_evidence(d, ratio, ratio / 10, 60);
        doubt_remedy(ds, d, arena_print(a, "correct:soc_pct=%s", figure(a, s->soc_pct / 10)), "carbon is in g/kg: %s %%",
                     figure(a, s->soc_pct / 10));
        doubt_usual(ds, d, "the figures are right as written");
    }
}

/* pH: the solution differs from that before, or all of a site's samples shift together by what the solutions differ. */
static void soil_ph(struct doubts *ds, const struct soil_sample *s, size_t i, const struct soil_sample *all, size_t n,
                    const struct survey_ground *g)
{
    struct arena *a = ds->arena;
    if (!is_known(s->ph))
        return;
    for (size_t k = 0; k < g->n_soils; k++) {
        const struct soil_sample *o = &g->soils[k];
        if (o->site_id != s->site_id || !is_known(o->ph) || o->ph_method == PH_METHOD_UNKNOWN || s->ph_method == PH_METHOD_UNKNOWN ||
            o->ph_method == s->ph_method)
            continue;
        struct doubt *d =
            doubt_add(ds, "ph_method_mixed", (int64_t)i, "ph_method",
                      "pH %s in %s; earlier samples of this site were measured in %s. The two are never compared.", figure(a, s->ph),
                      word_of(WORDS_PH_METHOD, (int)s->ph_method), word_of(WORDS_PH_METHOD, (int)o->ph_method));
        doubt_evidence(d, s->ph, o->ph, unknown_real());
        doubt_remedy(ds, d, "accept", "it was measured so: keep it apart from the earlier ones");
        doubt_remedy(ds, d, arena_print(a, "correct:ph_method=%s", word_of(WORDS_PH_METHOD, (int)o->ph_method)),
                     "it was measured as before");
        return;
    }
    size_t compared = 0, shifted = 0, mixed = 0;
    double sum = 0;
    for (size_t k = 0; k < n; k++) {
        size_t m = 0;
        if (all[k].site_id != s->site_id || !is_known(all[k].ph))
            continue;
        mixed += all[k].ph_method != s->ph_method && all[k].ph_method != PH_METHOD_UNKNOWN && s->ph_method != PH_METHOD_UNKNOWN;
        double before = earlier_mean(g, &all[k], 0, false, &m), shift = all[k].ph - before;
        if (m == 0)
            continue;
        compared++;
        sum += shift;
        shifted += fabs(shift) >= 0.3 && fabs(shift) <= 1.3 && (shift < 0) == (s->ph < earlier_mean(g, s, 0, false, &m));
    }
    if (mixed > 0) {
        struct doubt *d = doubt_add(ds, "ph_method_mixed", (int64_t)i, "ph_method",
                                    "pH of this site was measured in different solutions within the file.");
        doubt_usual(ds, d, "it was measured so: keep them apart");
    } else if (compared >= 3 && shifted == compared && fabs(sum / (double)compared) >= 0.4) {
        struct doubt *d =
            doubt_add(ds, "ph_method_mixed", (int64_t)i, "ph_method",
                      "All %zu samples of this site that can be compared shifted together, by %s pH units on average: as if measured in %s "
                      "this time.",
                      compared, figure(a, sum / (double)compared), sum < 0 ? "calcium chloride, not water" : "water, not calcium chloride");
        d->rows = compared;
        doubt_evidence(d, sum / (double)compared, 0, 0.4);
        doubt_remedy(ds, d, sum < 0 ? "correct:ph_method=calcium_chloride" : "correct:ph_method=water", "it was measured so this time");
        doubt_usual(ds, d, "the solution is as written: the soil changed");
    }
}

/* Carbon of a plot 1.45 to 2.4 times what it was, in every layer: organic matter under the heading of carbon. */
static void soil_loi(struct doubts *ds, const struct soil_sample *s, size_t i, const struct soil_sample *all, size_t n,
                     const struct survey_ground *g)
{
    struct arena *a = ds->arena;
    size_t compared = 0, raised = 0, m = 0, own = 0, ratios = 0, ratios_raised = 0;
    double sum = 0;
    if (!is_known(s->soc_pct) || !is_known(earlier_mean(g, s, 1, false, &own)))
        return;
    for (size_t k = 0; k < n; k++) {
        if (all[k].site_id != s->site_id || !is_known(all[k].soc_pct))
            continue;
        double before = earlier_mean(g, &all[k], 1, false, &m);
        if (m == 0 || before <= 0)
            continue;
        compared++;
        double ratio = all[k].soc_pct / before;
        sum += ratio;
        raised += ratio >= 1.45 && ratio <= 2.4;
        double now = figure_of(&all[k], 2), then = earlier_mean(g, &all[k], 2, false, &m);
        if (m == 0 || !is_known(now) || !(then > 0))
            continue;
        ratios++;
        ratios_raised += now / then >= 1.45 && now / then <= 2.4;
    }
    size_t n_cn = 0;
    double cn_before = earlier_mean(g, s, 2, true, &n_cn), cn = s->soc_pct / s->total_n_pct;
    bool by_nitrogen = n_cn > 0 && is_known(cn) && cn / cn_before >= 1.45 && cn / cn_before <= 2.4;
    bool by_level = compared >= 3 && raised * 5 >= compared * 4;
    bool same_nitrogen = n_cn > 0 && is_known(cn) && cn / cn_before < 1.3;
    /* carbon varies by a fifth from sample to sample, its ratio to nitrogen hardly: throughout the site it says enough */
    bool throughout = ratios >= 3 && ratios_raised * 5 >= ratios * 4 && sum / (double)compared >= 1.2;
    if ((!by_level && !throughout && !(by_nitrogen && compared >= 1 && raised * 5 >= compared * 4)) || same_nitrogen)
        return;
    struct doubt *d =
        doubt_add(ds, "loi_as_soc", (int64_t)i, "soc_pct",
                  "Carbon of this site is %s times what it was in %zu of %zu samples%s: as if loss on ignition stood under carbon (organic "
                  "matter is about 1.7 times its carbon).",
                  figure(a, sum / (double)compared), raised, compared,
                  by_nitrogen ? arena_print(a, ", and carbon to nitrogen went from %s to %s", figure(a, cn_before), figure(a, cn)) : "");
    d->rows = compared;
    doubt_evidence(d, sum / (double)compared, 1, 1.45);
    doubt_remedy(ds, d, arena_print(a, "correct:loi_pct=%s;soc_pct=;carbon_method=loss_on_ignition", figure(a, s->soc_pct)),
                 "it is loss on ignition: move it there, carbon is not known");
    doubt_usual(ds, d, "it is carbon: say why it rose");
}

void soil_check(const struct soil_sample *samples, size_t n, const struct survey_ground *ground, struct arena *arena, struct doubt **out,
                size_t *n_out)
{
    struct doubts ds = {.arena = arena};
    for (size_t i = 0; i < n; i++) {
        soil_one(&ds, &samples[i], i);
        soil_ph(&ds, &samples[i], i, samples, n, ground);
        soil_loi(&ds, &samples[i], i, samples, n, ground);
    }
    doubts_done(&ds, out, n_out);
}

/* ---- wildlife ---- */

struct round_look {
    int64_t site, plot;
    enum wildlife_group group;
    int32_t day;
    size_t look;
};

static int round_order(const void *a, const void *b)
{
    const struct round_look *x = a, *y = b;
    if (x->site != y->site)
        return x->site < y->site ? -1 : 1;
    if (x->group != y->group)
        return x->group < y->group ? -1 : 1;
    if (x->day != y->day)
        return x->day < y->day ? -1 : 1;
    if (x->plot != y->plot)
        return x->plot < y->plot ? -1 : 1;
    return x->look < y->look ? -1 : x->look > y->look;
}

static const char *plot_words(const struct survey_ground *g, int64_t id)
{
    for (size_t i = 0; i < g->n_plots; i++)
        if (g->plots[i].id == id && g->plots[i].code != NULL)
            return g->plots[i].code;
    return "not named";
}

/* Plots of a site and group that were left out on a day when others were looked at. Said where the plot otherwise took part
 * in at least half of the rounds: a plot looked at now and then says nothing. */
static void rounds_check(struct doubts *ds, const struct round_look *r, size_t n, const struct survey_ground *g)
{
    enum { MOST_PLOTS = 64 };
    int64_t plots[MOST_PLOTS] = {0};
    size_t n_plots = 0, days = 0, took_part[MOST_PLOTS] = {0};
    for (size_t i = 0; i < n; i++) {
        days += i == 0 || r[i].day != r[i - 1].day;
        size_t k = 0;
        while (k < n_plots && plots[k] != r[i].plot)
            k++;
        if (k == n_plots && n_plots < MOST_PLOTS && r[i].plot != 0)
            plots[n_plots++] = r[i].plot;
        if (k < MOST_PLOTS && (i == 0 || r[i].day != r[i - 1].day || r[i].plot != r[i - 1].plot))
            took_part[k]++;
    }
    if (n_plots < 2 || days < 3)
        return;
    for (size_t i = 0; i < n;) {
        size_t end = i;
        while (end < n && r[end].day == r[i].day)
            end++;
        for (size_t k = 0; k < n_plots; k++) {
            bool there = false;
            for (size_t j = i; j < end; j++)
                there = there || r[j].plot == plots[k];
            if (there || took_part[k] * 2 < days)
                continue;
            struct doubt *d = doubt_add(ds, "missing_zero", NO_ROW, "nothing_seen",
                                        "On %s plots of this site were looked at for %s, but nothing is recorded for plot %s, which was "
                                        "part of %zu of %zu rounds. Looked and saw nothing, or not looked?",
                                        iso_day(ds->arena, r[i].day), word_of(WORDS_WILDLIFE_GROUP, (int)r[i].group),
                                        plot_words(g, plots[k]), took_part[k], days);
            doubt_evidence(d, (double)took_part[k], (double)days, 0.5);
            doubt_remedy(ds, d, "accept", "nobody looked: nothing is missing");
            doubt_remedy(ds, d, "correct:nothing_seen=yes", "looked and saw nothing: enter a look with nothing seen");
        }
        i = end;
    }
}

void wildlife_check(const struct wildlife_visit *looks, size_t n, const struct wildlife_record *records, size_t n_records,
                    const struct survey_ground *ground, struct arena *arena, struct doubt **out, size_t *n_out)
{
    struct doubts ds = {.arena = arena};
    size_t *seen = memory_get(n + 1, sizeof *seen);
    for (size_t i = 0; i < n_records; i++) {
        int64_t look = -records[i].wildlife_visit_id - 1;
        if (look >= 0 && (size_t)look < n)
            seen[look]++;
    }
    struct round_look *rounds = memory_get(n + ground->n_looks + 1, sizeof *rounds);
    size_t m = 0;
    for (size_t i = 0; i < n + ground->n_looks; i++) {
        const struct wildlife_visit *l = i < n ? &looks[i] : &ground->looks[i - n];
        if (l->seen_on != DATE_UNKNOWN && l->site_id != 0)
            rounds[m++] = (struct round_look){l->site_id, l->plot_id, l->group, l->seen_on, i < n ? i : SIZE_MAX};
        if (i >= n)
            continue;
        if (!is_known(l->minutes) && !is_known(l->effort_value)) {
            struct doubt *d = doubt_add(&ds, "effort_blank", (int64_t)i, "minutes",
                                        "The look of %s has no minutes and no other effort: its counts cannot be compared with any other.",
                                        iso_day(arena, l->seen_on));
            doubt_remedy(&ds, d, "accept", "the effort is not known: keep it as a list of what was seen");
            doubt_remedy(&ds, d, "reject", "leave the look out");
        }
        if (l->nothing_seen == TRUTH_YES && seen[i] > 0) {
            struct doubt *d =
                doubt_add(&ds, "zero_or_blank", (int64_t)i, "nothing_seen",
                          "The look of %s says that nothing was seen, and names %zu taxa.", iso_day(arena, l->seen_on), seen[i]);
            doubt_remedy(&ds, d, "correct:nothing_seen=no", "the taxa were seen");
            doubt_remedy(&ds, d, "reject", "leave the taxa out");
        }
    }
    qsort(rounds, m, sizeof *rounds, round_order);
    for (size_t i = 0; i < m;) {
        size_t end = i;
        bool own = false;
        for (; end < m && rounds[end].site == rounds[i].site && rounds[end].group == rounds[i].group; end++)
            own = own || rounds[end].look != SIZE_MAX;
        if (own)
            rounds_check(&ds, rounds + i, end - i, ground);
        i = end;
    }
    free(seen);
    free(rounds);
    doubts_done(&ds, out, n_out);
}

/* ---- weather ---- */

struct day_row {
    int64_t site;
    int32_t day;
    size_t row;
};

static int day_row_order(const void *a, const void *b)
{
    const struct day_row *x = a, *y = b;
    if (x->site != y->site)
        return x->site < y->site ? -1 : 1;
    if (x->day != y->day)
        return x->day < y->day ? -1 : 1;
    return x->row < y->row ? -1 : x->row > y->row;
}

/* A run of dry days longer than the file's own weather makes likely: days × share of wet-to-dry × P(dry after dry)^(L−1),
 * the expected number of runs of at least L days in a two-state Markov chain. */
static void dry_runs(struct doubts *ds, const struct weather_day *days, const struct day_row *r, size_t n)
{
    size_t dry_dry = 0, dry_wet = 0, starts = 0, known = 0;
    for (size_t i = 1; i < n; i++) {
        double x = days[r[i - 1].row].rain_mm, y = days[r[i].row].rain_mm;
        if (r[i].day != r[i - 1].day + 1 || !is_known(x) || !is_known(y))
            continue;
        known++;
        dry_dry += x < 0.1 && y < 0.1;
        dry_wet += x < 0.1 && y >= 0.1;
        starts += x >= 0.1 && y < 0.1;
    }
    if (known < 100 || dry_wet < 10)
        return;
    for (size_t i = 0; i < n;) {
        size_t end = i;
        while (end < n && is_known(days[r[end].row].rain_mm) && days[r[end].row].rain_mm < 0.1 &&
               (end == i || r[end].day == r[end - 1].day + 1))
            end++;
        size_t length = end - i;
        if (length >= 14) {
            /* its own days are left out of the estimate: a long false run would make itself look likely */
            double stay = ((double)dry_dry - (double)(length - 1) + 0.5) / ((double)dry_dry - (double)(length - 1) + (double)dry_wet + 1);
            double expected = (double)starts * pow(stay, (double)length - 1);
            if (expected < 0.001 * (double)known / 365.0) {
                struct doubt *d = doubt_add(ds, "rain_zero_run", NO_ROW, "rain_mm",
                                            "%zu days without rain from %s to %s: by this file's own dry spells %s such runs are to be "
                                            "expected. Was the gauge read?",
                                            length, iso_day(ds->arena, r[i].day), iso_day(ds->arena, r[end - 1].day),
                                            expected < 0.005 ? "fewer than 0.01" : figure(ds->arena, expected));
                d->rows = length;
                doubt_evidence(d, (double)length, expected, 0.001);
                doubt_remedy(ds, d, "accept", "it was dry");
                doubt_remedy(ds, d, "correct:rain_mm=", "the gauge was not read: blank, not nought");
            }
        }
        i = end == i ? i + 1 : end;
    }
}

void weather_check(const struct weather_day *days, size_t n, const struct survey_ground *ground, struct arena *arena, struct doubt **out,
                   size_t *n_out)
{
    struct doubts ds = {.arena = arena};
    struct day_row *r = memory_get(n + 1, sizeof *r);
    size_t m = 0;
    for (size_t i = 0; i < n; i++) {
        if (days[i].day != DATE_UNKNOWN)
            r[m++] = (struct day_row){days[i].site_id, days[i].day, i};
        if (is_known(days[i].t_min_c) && is_known(days[i].t_max_c) && days[i].t_min_c > days[i].t_max_c) {
            struct doubt *d =
                doubt_add(&ds, "t_min_above_max", (int64_t)i, "t_min_c", "The lowest temperature, %s °C, is above the highest, %s °C.",
                          figure(arena, days[i].t_min_c), figure(arena, days[i].t_max_c));
            doubt_remedy(
                &ds, d, arena_print(arena, "correct:t_min_c=%s;t_max_c=%s", figure(arena, days[i].t_max_c), figure(arena, days[i].t_min_c)),
                "exchange them");
            doubt_remedy(&ds, d, "reject", "leave the row out");
        }
    }
    qsort(r, m, sizeof *r, day_row_order);
    for (size_t i = 0; i < m;) {
        size_t end = i;
        while (end < m && r[end].site == r[i].site)
            end++;
        for (size_t k = i + 1; k < end; k++) {
            int32_t gap = r[k].day - r[k - 1].day;
            if (gap == 0) {
                struct doubt *d =
                    doubt_add(&ds, "day_twice", (int64_t)r[k].row, "day", "The day %s is given twice.", iso_day(arena, r[k].day));
                d->other = (int64_t)r[k - 1].row;
                doubt_remedy(&ds, d, "reject", "leave this row out");
            } else if (gap > 1) {
                struct doubt *d =
                    doubt_add(&ds, "day_missing", NO_ROW, "day", "%d days are left out after %s.", gap - 1, iso_day(arena, r[k - 1].day));
                d->rows = (size_t)gap - 1;
            }
        }
        for (size_t k = i; k < end;) { /* runs of blank rain */
            size_t stop = k;
            while (stop < end && !is_known(days[r[stop].row].rain_mm))
                stop++;
            if (stop > k && stop - k < end - i) {
                struct doubt *d =
                    doubt_add(&ds, "rain_blank", NO_ROW, "rain_mm",
                              "Rain is blank on %zu days from %s to %s%s. They are kept as not known; if a blank meant no rain, say so.",
                              stop - k, iso_day(arena, r[k].day), iso_day(arena, r[stop - 1].day),
                              stop < end && days[r[stop].row].rain_mm > 0
                                  ? arena_print(arena, ", followed by %s mm", figure(arena, days[r[stop].row].rain_mm))
                                  : "");
                d->rows = stop - k;
                doubt_remedy(&ds, d, "accept", "the gauge was not read: not known");
                doubt_remedy(&ds, d, "correct:rain_mm=0", "a blank meant no rain");
            }
            k = stop == k ? k + 1 : stop;
        }
        dry_runs(&ds, days, r + i, end - i);
        i = end;
    }
    for (size_t i = 0; i < m; i++)
        for (size_t k = 0; k < ground->n_weather && ground->n_weather < 5000; k++)
            if (ground->weather[k].site_id == r[i].site && ground->weather[k].day == r[i].day) {
                struct doubt *d = doubt_add(&ds, "day_twice", (int64_t)r[i].row, "day", "The programme already has the weather of %s.",
                                            iso_day(arena, r[i].day));
                doubt_remedy(&ds, d, "reject", "keep what is there");
                break;
            }
    free(r);
    doubts_done(&ds, out, n_out);
}

/* ---- costs ---- */

/* Usual rates of value-added tax in per cent (common practice, no source; rates change by country and year). */
static const double tax_rates[] = {5, 5.5, 6, 7, 9, 10, 12, 13, 13.5, 19, 20, 21, 22, 23, 24, 25};

static double tax_in(double ratio)
{
    for (size_t i = 0; i < sizeof tax_rates / sizeof *tax_rates; i++)
        if (fabs(ratio - 1 - tax_rates[i] / 100) < 0.0015)
            return tax_rates[i];
    return 0;
}

static void tax_doubt(struct doubts *ds, size_t i, const struct cost_item *item, double rate, const char *why)
{
    struct arena *a = ds->arena;
    double net = item->amount / (1 + rate / 100), price = item->unit_price / (1 + rate / 100);
    struct doubt *d = doubt_add(ds, "tax_mixed", (int64_t)i, "amount", "%s: tax of %s %% may be in it.", why, figure(a, rate));
    doubt_evidence(d, item->amount, net, rate);
    doubt_remedy(ds, d,
                 is_known(item->unit_price)
                     ? arena_print(a, "correct:amount=%s;unit_price=%s;tax_pct=%s", figure(a, net), figure(a, price), figure(a, rate))
                     : arena_print(a, "correct:amount=%s;tax_pct=%s", figure(a, net), figure(a, rate)),
                 "tax is in it: without, it is %s", figure(a, net));
    doubt_usual(ds, d, "it is without tax as written");
}

void costs_check(const struct cost_item *items, size_t n, const struct survey_ground *ground, struct arena *arena, struct doubt **out,
                 size_t *n_out)
{
    struct doubts ds = {.arena = arena};
    for (size_t i = 0; i < n; i++) {
        const struct cost_item *it = &items[i];
        double product = it->quantity * it->unit_price;
        if (is_known(product) && product > 0 && is_known(it->amount) && fabs(it->amount - product) > fmax(0.02, 0.001 * product)) {
            double rate = tax_in(it->amount / product);
            if (rate > 0) {
                double net = product;
                struct doubt *d =
                    doubt_add(&ds, "tax_mixed", (int64_t)i, "amount", "%s times %s is %s, but the amount is %s: tax of %s %% may be in it.",
                              figure(arena, it->quantity), figure(arena, it->unit_price), figure(arena, product), figure(arena, it->amount),
                              figure(arena, rate));
                doubt_evidence(d, it->amount, net, rate);
                doubt_remedy(&ds, d, arena_print(arena, "correct:amount=%s;tax_pct=%s", figure(arena, net), figure(arena, rate)),
                             "tax is in the amount: without, it is %s", figure(arena, net));
                doubt_usual(&ds, d, "it is without tax as written");
            } else if (fabs(it->amount - product) > 0.01 * product) {
                struct doubt *d = doubt_add(&ds, "amount_differs", (int64_t)i, "amount", "%s times %s is %s, but the amount is %s.",
                                            figure(arena, it->quantity), figure(arena, it->unit_price), figure(arena, product),
                                            figure(arena, it->amount));
                doubt_evidence(d, it->amount, product, 0.01);
                doubt_remedy(&ds, d, arena_print(arena, "correct:amount=%s", figure(arena, product)), "the amount is %s",
                             figure(arena, product));
                doubt_usual(&ds, d, "the amount is right as written");
            }
            continue;
        }
        if (!is_known(it->unit_price) || it->unit_price <= 0 || it->item == NULL)
            continue;
        /* the same item elsewhere: most lines agree on a price, and this one is a tax above it */
        size_t same = 0, below = 0;
        double rate = 0, reference = 0;
        for (size_t k = 0; k < n + ground->n_costs && n + ground->n_costs < 20000; k++) {
            const struct cost_item *o = k < n ? &items[k] : &ground->costs[k - n];
            if (k == i || !text_same_nocase(o->item, it->item) || !is_known(o->unit_price) || o->unit_price <= 0)
                continue;
            same += fabs(o->unit_price - it->unit_price) < 0.0005 * it->unit_price;
            double r = tax_in(it->unit_price / o->unit_price);
            if (r > 0) {
                below++;
                rate = r;
                reference = o->unit_price;
            }
        }
        if (below > 0 && below >= same)
            tax_doubt(&ds, i, it, rate,
                      arena_print(arena, "The price of %s is %s here and %s in %zu other lines", it->item, figure(arena, it->unit_price),
                                  figure(arena, reference), below));
    }
    doubts_done(&ds, out, n_out);
}

/* ---- hours ---- */

static bool day_again(const struct work_hours *a, const struct work_hours *b)
{
    if (a->site_id != b->site_id || a->worked_on != b->worked_on || a->worked_on == DATE_UNKNOWN || !text_same_nocase(a->task, b->task) ||
        (a->volunteer != b->volunteer && a->volunteer != TRUTH_UNKNOWN && b->volunteer != TRUTH_UNKNOWN))
        return false;
    bool hours = is_known(a->hours) && is_known(b->hours) && fabs(a->hours - b->hours) < 0.01;
    bool people = a->people != INT_UNKNOWN && a->people > 1 && a->people == b->people;
    return hours || people;
}

void hours_check(const struct work_hours *hours, size_t n, const struct survey_ground *ground, struct arena *arena, struct doubt **out,
                 size_t *n_out)
{
    struct doubts ds = {.arena = arena};
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < i + ground->n_hours; k++) {
            const struct work_hours *o = k < i ? &hours[k] : &ground->hours[k - i];
            if (!day_again(&hours[i], o))
                continue;
            struct doubt *d =
                doubt_add(&ds, "day_doubled", (int64_t)i, "hours",
                          "%s on %s is already entered with %s people and %s hours; this row has %s people and %s hours.", hours[i].task,
                          iso_day(arena, hours[i].worked_on), o->people == INT_UNKNOWN ? "unknown" : figure(arena, (double)o->people),
                          figure(arena, o->hours), hours[i].people == INT_UNKNOWN ? "unknown" : figure(arena, (double)hours[i].people),
                          figure(arena, hours[i].hours));
            d->other = k < i ? (int64_t)k : NO_ROW;
            doubt_evidence(d, hours[i].hours, o->hours, unknown_real());
            doubt_remedy(&ds, d, "reject", "it is the same group counted twice: leave this row out");
            doubt_remedy(&ds, d, "accept", "two groups worked: keep both");
            break;
        }
    }
    doubts_done(&ds, out, n_out);
}
