/* SPDX-License-Identifier: GPL-3.0-or-later
 * Phenology: intervals of days out of weekly looks, and differences between years on the same plants. */
#include "evidence/phenology.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/// One plant, stage and year.
struct course {
    const struct plant *plant;
    const struct site *site;
    int year, phase;
    int32_t not_yet, reached; ///< last and first day; DATE_UNKNOWN: none
    bool broken;
};

static int record_order(const void *a, const void *b)
{
    const struct phenology_record *x = *(const struct phenology_record *const *)a, *y = *(const struct phenology_record *const *)b;
    if (x->plant_id != y->plant_id)
        return x->plant_id < y->plant_id ? -1 : 1;
    if (x->phase != y->phase)
        return x->phase < y->phase ? -1 : 1;
    if (x->seen_on != y->seen_on)
        return x->seen_on < y->seen_on ? -1 : 1;
    return x->id < y->id ? -1 : x->id > y->id;
}

static int course_order(const void *a, const void *b)
{
    const struct course *x = a, *y = b;
    if (x->site != y->site)
        return x->site->id < y->site->id ? -1 : 1;
    int names = strcmp(x->plant->species, y->plant->species);
    if (names != 0)
        return names;
    if (x->phase != y->phase)
        return x->phase < y->phase ? -1 : 1;
    if (x->year != y->year)
        return x->year < y->year ? -1 : 1;
    return x->plant->id < y->plant->id ? -1 : x->plant->id > y->plant->id;
}

static const struct plant *plant_of(const struct phenology_facts *facts, int64_t id)
{
    size_t low = 0, high = facts->n_plants;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (facts->plants[middle].id < id)
            low = middle + 1;
        else
            high = middle;
    }
    return low < facts->n_plants && facts->plants[low].id == id ? &facts->plants[low] : NULL;
}

static const struct site *site_of(const struct phenology_facts *facts, const struct plant *plant)
{
    for (size_t p = 0; plant != NULL && p < facts->n_plots; p++)
        for (size_t s = 0; facts->plots[p].id == plant->plot_id && s < facts->n_sites; s++)
            if (facts->sites[s].id == facts->plots[p].site_id)
                return &facts->sites[s];
    return NULL;
}

static int year_of(int32_t day)
{
    int year = 0, month = 0, of_month = 0;
    date_parts(day, &year, &month, &of_month);
    return year;
}

static struct course *courses_make(const struct phenology_facts *facts, struct arena *arena, size_t *n)
{
    const struct phenology_record **sorted = arena_array(arena, facts->n_records, sizeof *sorted);
    struct course *courses = arena_array(arena, facts->n_records, sizeof *courses), *one = NULL;
    for (size_t i = 0; i < facts->n_records; i++)
        sorted[i] = &facts->records[i];
    qsort(sorted, facts->n_records, sizeof *sorted, record_order);
    *n = 0;
    for (size_t i = 0; i < facts->n_records; i++) {
        const struct phenology_record *r = sorted[i];
        int year = year_of(r->seen_on);
        if (one == NULL || one->plant->id != r->plant_id || one->phase != (int)r->phase || one->year != year) {
            const struct plant *plant = plant_of(facts, r->plant_id);
            const struct site *site = site_of(facts, plant);
            if (site == NULL)
                continue;
            one = &courses[(*n)++];
            *one = (struct course){plant, site, year, (int)r->phase, DATE_UNKNOWN, DATE_UNKNOWN, false};
        }
        if (r->state == PHASE_STATE_NOT_YET) {
            one->broken = one->broken || one->reached != DATE_UNKNOWN;
            one->not_yet = r->seen_on;
        } else if (r->state != PHASE_STATE_UNKNOWN && one->reached == DATE_UNKNOWN) {
            one->reached = r->seen_on;
        }
    }
    qsort(courses, *n, sizeof *courses, course_order);
    return courses;
}

static bool is_dated(const struct course *c)
{
    return !c->broken && c->not_yet != DATE_UNKNOWN && c->reached != DATE_UNKNOWN;
}

static double middle_of(const struct course *c)
{
    return (date_day_of_year(c->not_yet) + date_day_of_year(c->reached)) / 2.0;
}

static void rows_make(const struct course *courses, size_t n, struct arena *arena, struct phenology *out)
{
    out->rows = arena_array(arena, n, sizeof *out->rows);
    for (size_t i = 0; i < n; i++) {
        const struct course *c = &courses[i], *before = i == 0 ? NULL : &courses[i - 1];
        struct phenology_row *row = out->n_rows == 0 ? NULL : &out->rows[out->n_rows - 1];
        if (before == NULL || before->site != c->site || before->phase != c->phase || before->year != c->year ||
            strcmp(before->plant->species, c->plant->species) != 0) {
            row = &out->rows[out->n_rows++];
            *row = (struct phenology_row){.site = c->site, .species = c->plant->species, .year = c->year, .phase = c->phase};
        }
        row->plants++;
        row->broken += c->broken;
        row->before += !c->broken && c->not_yet == DATE_UNKNOWN && c->reached != DATE_UNKNOWN;
        row->after += !c->broken && c->reached == DATE_UNKNOWN;
        if (!is_dated(c))
            continue;
        row->dated++;
        row->after_day += date_day_of_year(c->not_yet);
        row->by_day += date_day_of_year(c->reached);
        row->widest_gap_d = fmax(row->widest_gap_d, c->reached - c->not_yet);
    }
    for (size_t i = 0; i < out->n_rows; i++) {
        struct phenology_row *row = &out->rows[i];
        row->after_day = row->dated == 0 ? unknown_real() : row->after_day / (double)row->dated;
        row->by_day = row->dated == 0 ? unknown_real() : row->by_day / (double)row->dated;
        row->widest_gap_d = row->dated == 0 ? unknown_real() : row->widest_gap_d;
    }
}

/* Mean over species of the mean over their plants of this year less that; courses are in order of site, species, stage, year. */
static struct phenology_shift shift_of(const struct course *courses, size_t n, const struct site *site, int phase, int year, int base,
                                       double level, struct arena *arena)
{
    struct phenology_shift out = {.site = site, .phase = phase, .year = year, .base_year = base, .days = estimate_unknown()};
    double *means = arena_array(arena, n, sizeof *means);
    size_t n_plants = 0;
    double sum = 0;
    for (size_t i = 0; i <= n; i++) {
        if (i == n || (i > 0 && strcmp(courses[i].plant->species, courses[i - 1].plant->species) != 0)) {
            if (n_plants > 0)
                means[out.species++] = sum / (double)n_plants;
            out.plants += n_plants;
            n_plants = 0;
            sum = 0;
        }
        if (i == n || courses[i].site != site || courses[i].phase != phase || courses[i].year != year || !is_dated(&courses[i]))
            continue;
        for (size_t k = 0; k < n; k++)
            if (courses[k].plant == courses[i].plant && courses[k].phase == phase && courses[k].year == base && is_dated(&courses[k])) {
                sum += middle_of(&courses[i]) - middle_of(&courses[k]);
                n_plants++;
            }
    }
    double mean = 0, squares = 0, m = (double)out.species;
    for (size_t i = 0; i < out.species; i++)
        mean += means[i] / m;
    for (size_t i = 0; i < out.species; i++)
        squares += (means[i] - mean) * (means[i] - mean);
    if (out.species >= 2)
        out.days = estimate_student(mean, sqrt(squares / (m - 1) / m), m - 1, level, m);
    else if (out.species == 1)
        out.days.value = mean;
    return out;
}

static bool shift_known(const struct phenology *out, const struct site *site, int phase, int year)
{
    for (size_t i = 0; i < out->n_shifts; i++)
        if (out->shifts[i].site == site && out->shifts[i].phase == phase && out->shifts[i].year == year)
            return true;
    return false;
}

enum outcome evidence_phenology(const struct phenology_facts *facts, double level, struct arena *arena, struct phenology *out,
                                struct failure *why)
{
    size_t n = 0;
    *out = (struct phenology){.n_rows = 0};
    if (facts->n_records == 0) {
        fail(why, OUTCOME_DATA, "No phenology is recorded.");
        return failure_remedy(why, "Bring in the sheet of a round: spinney import FILE sheet.csv --kind phenology.");
    }
    const struct course *courses = courses_make(facts, arena, &n);
    rows_make(courses, n, arena, out);
    out->shifts = arena_array(arena, out->n_rows, sizeof *out->shifts);
    for (size_t i = 0; i < out->n_rows; i++) {
        const struct phenology_row *row = &out->rows[i];
        int base = row->year;
        for (size_t k = 0; k < out->n_rows; k++)
            if (out->rows[k].site == row->site && out->rows[k].phase == row->phase && out->rows[k].year < base)
                base = out->rows[k].year;
        if (base < row->year && !shift_known(out, row->site, row->phase, row->year))
            out->shifts[out->n_shifts++] = shift_of(courses, n, row->site, row->phase, row->year, base, level, arena);
    }
    return OUTCOME_OK;
}
