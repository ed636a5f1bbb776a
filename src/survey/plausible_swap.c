/* SPDX-License-Identifier: GPL-3.0-or-later
 * Exchanged labels: two records, or two whole rows of squares, which fit better the other way round. */
#include "survey/plausible.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* How badly a record fits a plant: 0 well; 4 and more, something is wrong. Weights are common practice, no source: a wrong
 * name or a return from death 4; size by half the squared robust deviation of its growth from the others', at most 8. */
static double size_cost(const struct checking *c, const struct plant_record *r, uint32_t plant, int measure)
{
    double now = measure == 1 ? r->height_cm : r->diameter_mm;
    if (!status_alive(r->status) || !is_known(now) || now <= 0)
        return 0;
    const struct plant_record *b = record_before(c, plant, r->observed_on, r->visit_id, measure);
    if (b == NULL)
        return 0;
    double before = measure == 1 ? b->height_cm : b->diameter_mm;
    double limit = measure == 1 ? c->limits.height_gain_cm_year : c->limits.diameter_gain_mm_year,
           floor_ = measure == 1 ? c->limits.shrink_floor_cm : c->limits.shrink_floor_mm;
    struct size_change g = size_change_of(before, now, date_years(b->observed_on, r->observed_on), limit, c->limits.shrink_share, floor_);
    const struct growth_habit *habit = habit_find(measure == 1 ? &c->height : &c->diameter, r->visit_id);
    double spread = habit == NULL ? 0.35 : fmax(habit->spread, 0.15),
           z = (log(now / before) - (habit == NULL ? 0.2 : habit->median)) / spread;
    double cost = fmin(8, z * z / 2);
    bool explained = r->damage > DAMAGE_AGENT_NONE || r->status != STATUS_ALIVE;
    if (g.too_fast || (g.shrunk && !explained))
        cost = fmax(cost, 3) + 1;
    return explained && z < 0 ? 0 : cost;
}

static double record_cost(struct checking *c, size_t i, uint32_t plant)
{
    const struct plant_record *r = &c->records[i];
    const struct plant *p = plant_at(c, plant);
    double cost = 0;
    const char *meant = NULL;
    if (!text_blank(r->species_seen) && plant < c->ground->n_plants) {
        enum name_verdict verdict = name_judge(c, r->species_seen, p->species, &meant);
        cost += verdict == NAME_OTHER || verdict == NAME_UNKNOWN                   ? 4
                : verdict == NAME_MISSPELT && !text_same_nocase(meant, p->species) ? 4
                                                                                   : 0;
    }
    const struct plant_record *b = record_before(c, plant, r->observed_on, r->visit_id, 0);
    if (b != NULL && status_over(b->status) && status_alive(r->status))
        cost += r->status == STATUS_RESPROUTING && b->status == STATUS_DEAD_STANDING ? 1 : 4;
    if (b != NULL && status_alive(b->status) && status_over(r->status))
        cost += 0.7;
    return cost + fmin(8, size_cost(c, r, plant, 1) + size_cost(c, r, plant, 2));
}

/// A new record in its plot and visit.
struct placed {
    int64_t plot, visit;
    uint32_t record;
    int row, column;
    int64_t number;
    double cost;
};

static int placed_order(const void *a, const void *b)
{
    const struct placed *x = a, *y = b;
    if (x->plot != y->plot)
        return x->plot < y->plot ? -1 : 1;
    if (x->visit != y->visit)
        return x->visit < y->visit ? -1 : 1;
    if (x->row != y->row)
        return x->row - y->row;
    if (x->column != y->column)
        return x->column - y->column;
    if (x->number != y->number)
        return x->number < y->number ? -1 : 1;
    return x->record < y->record ? -1 : x->record > y->record;
}

static long file_row(const struct checking *c, size_t i)
{
    return c->places == NULL ? (long)i + 1 : c->places[i].file_row;
}

/* "C07" → row and column, without an arena: squares come by the million. */
static bool square_read(const char *code, int *row, int *column)
{
    int letters = 0, value = 0, number = 0;
    for (; code != NULL && ((*code >= 'A' && *code <= 'Z') || (*code >= 'a' && *code <= 'z')) && letters < 3; code++, letters++)
        value = value * 26 + ((*code | 0x20) - 'a' + 1);
    if (letters == 0 || code == NULL)
        return false;
    int digits = 0;
    for (; *code >= '0' && *code <= '9' && digits < 5; code++, digits++)
        number = number * 10 + (*code - '0');
    if (digits == 0 || *code != '\0')
        return false;
    *row = value - 1;
    *column = number - 1;
    return true;
}

/* ---- rows of squares ---- */

static void rows_doubt(struct checking *c, const struct placed *g, size_t n, int a, int b, bool by_row, size_t pairs, double before,
                       double after)
{
    char line_a[16], line_b[16];
    snprintf(line_a, sizeof line_a, by_row ? "%c" : "%d", by_row ? 'A' + a % 26 : a + 1);
    snprintf(line_b, sizeof line_b, by_row ? "%c" : "%d", by_row ? 'A' + b % 26 : b + 1);
    for (size_t i = 0; i < n; i++) {
        int line = by_row ? g[i].row : g[i].column;
        if (line != a && line != b)
            continue;
        int other = line == a ? b : a;
        char code[32];
        snprintf(code, sizeof code, "%c%02d", 'A' + (by_row ? other : g[i].row) % 26, (by_row ? g[i].column : other) + 1);
        struct doubt *d = doubt_add(&c->doubts, "swapped_rows", (int64_t)g[i].record, "cell",
                                    "%s %s and %s of this plot may have been exchanged: of their squares, %zu pairs of records fit the "
                                    "last survey when exchanged (misfit %s before, %s after).",
                                    by_row ? "Rows" : "Columns", line_a, line_b, pairs, figure(c->arena, before), figure(c->arena, after));
        d->rows = 2 * pairs;
        doubt_evidence(d, before, after, 0.6);
        doubt_remedy(&c->doubts, d, arena_print(c->arena, "correct:cell=%s", code), "exchanged: it is square %s", code);
        doubt_usual(&c->doubts, d, "the square is right as written");
        c->odd[g[i].record] |= ODD_ROW;
    }
}

/* Records of two lines that stand at the same place along them, before and after an exchange. */
static void line_pair(struct checking *c, const struct placed *g, size_t n, int a, int b, bool by_row)
{
    size_t pairs = 0, bad = 0, mended = 0;
    double before = 0, after = 0;
    for (size_t i = 0; i < n; i++) {
        if ((by_row ? g[i].row : g[i].column) != a)
            continue;
        for (size_t k = 0; k < n; k++) {
            if ((by_row ? g[k].row : g[k].column) != b || (by_row ? g[k].column != g[i].column : g[k].row != g[i].row) ||
                g[k].number != g[i].number)
                continue;
            double was = g[i].cost + g[k].cost;
            double would = record_cost(c, g[i].record, c->plant_of[g[k].record]) + record_cost(c, g[k].record, c->plant_of[g[i].record]);
            pairs++;
            before += was;
            after += would;
            if (was >= 3 || would >= 3) {
                bad++;
                mended += would < was - 1.5;
            }
            break;
        }
    }
    if (pairs >= 3 && bad >= 3 && mended >= 3 && mended * 10 >= bad * 6 && after <= 0.45 * before)
        rows_doubt(c, g, n, a, b, by_row, pairs, before, after);
}

static void lines_check(struct checking *c, const struct placed *g, size_t n, bool by_row)
{
    enum { LINES = 702 };
    size_t count[LINES] = {0}, odd[LINES] = {0};
    for (size_t i = 0; i < n; i++) {
        int line = by_row ? g[i].row : g[i].column;
        if (line < 0 || line >= LINES)
            continue;
        count[line]++;
        odd[line] += g[i].cost >= 3;
    }
    int suspects[64];
    size_t n_suspects = 0;
    for (int line = 0; line < LINES && n_suspects < 64; line++)
        if (odd[line] >= 3 && odd[line] * 5 >= count[line])
            suspects[n_suspects++] = line;
    for (size_t a = 0; a < n_suspects; a++)
        for (size_t b = a + 1; b < n_suspects; b++)
            line_pair(c, g, n, suspects[a], suspects[b], by_row);
}

/* ---- pairs ---- */

/* Labels of one length that differ in one character, or in two neighbours exchanged. */
static bool labels_alike(const char *a, const char *b)
{
    if (a == NULL || b == NULL)
        return false;
    size_t i = 0;
    while (a[i] != '\0' && a[i] == b[i])
        i++;
    if (a[i] == '\0' || b[i] == '\0')
        return a[i] == b[i];
    if (strcmp(a + i + 1, b + i + 1) == 0)
        return true;
    return a[i] == b[i + 1] && a[i + 1] == b[i] && a[i + 1] != '\0' && strcmp(a + i + 2, b + i + 2) == 0;
}

static bool neighbours(const struct checking *c, const struct placed *a, const struct placed *b)
{
    if (a->row >= 0 && b->row >= 0 && abs(a->row - b->row) + abs(a->column - b->column) <= 1)
        return true;
    const struct plant *p = plant_at(c, c->plant_of[a->record]), *q = plant_at(c, c->plant_of[b->record]);
    bool in_line = a->row < 0 && p->number != INT_UNKNOWN && q->number != INT_UNKNOWN && llabs(p->number - q->number) == 1;
    return in_line || labels_alike(p->tag, q->tag);
}

static void pair_doubt(struct checking *c, const struct placed *a, const struct placed *b, double was, double would)
{
    const struct placed *both[2] = {a, b};
    for (int k = 0; k < 2; k++) {
        const struct placed *own = both[k], *other = both[1 - k];
        const struct plant *q = plant_at(c, c->plant_of[other->record]);
        const char *name =
            q->tag != NULL ? arena_print(c->arena, "label %s", q->tag)
                           : arena_print(c->arena, "%s number %lld", q->cell_code == NULL ? "plant" : q->cell_code, (long long)q->number);
        struct doubt *d = doubt_add(
            &c->doubts, "swapped_pair", (int64_t)own->record, q->tag != NULL ? "tag" : "number",
            "This record and that of row %ld (%s) fit the last survey better when exchanged (misfit %s as written, %s exchanged).",
            file_row(c, other->record), name, figure(c->arena, was), figure(c->arena, would));
        d->other = (int64_t)other->record;
        d->rows = 2;
        doubt_evidence(d, was, would, 4);
        if (q->tag != NULL)
            doubt_remedy(&c->doubts, d, arena_print(c->arena, "correct:tag=%s", q->tag), "exchanged: it is %s", name);
        else
            doubt_remedy(
                &c->doubts, d,
                arena_print(c->arena, "correct:cell=%s;number=%lld", q->cell_code == NULL ? "" : q->cell_code, (long long)q->number),
                "exchanged: it is %s", name);
        doubt_usual(&c->doubts, d, "the row is right as written");
    }
}

enum { SIZE_ODD = 2 }; ///< cost of a size two robust deviations off

/* A plant without an earlier record has nothing a record could misfit: an exchange with it mends anything and shows nothing. */
static bool has_past(const struct checking *c, size_t i)
{
    return record_before(c, c->plant_of[i], c->records[i].observed_on, c->records[i].visit_id, 0) != NULL;
}

/* Whether nothing but its size speaks of this record: no name, no death or return. */
static bool size_alone(const struct checking *c, size_t i)
{
    const struct plant_record *r = &c->records[i], *b = record_before(c, c->plant_of[i], r->observed_on, r->visit_id, 0);
    return text_blank(r->species_seen) && status_alive(r->status) && (b == NULL || status_alive(b->status));
}

static void pairs_check(struct checking *c, struct placed *g, size_t n)
{
    size_t odd = 0;
    for (size_t i = 0; i < n; i++)
        odd += g[i].cost >= 4 && (c->odd[g[i].record] & ODD_ROW) == 0;
    if (odd == 0 || (odd * 2 > n && odd > 20) || odd * n > 4000000)
        return; /* where most records are odd an exchange explains nothing */
    for (size_t i = 0; i < n; i++) {
        if (g[i].cost < 4 || (c->odd[g[i].record] & ODD_ROW) != 0 || !has_past(c, g[i].record))
            continue;
        size_t best = SIZE_MAX;
        double best_gain = 4, best_would = 0;
        for (size_t k = 0; k < n; k++) {
            if (k == i || c->plant_of[g[k].record] == c->plant_of[g[i].record] || (c->odd[g[k].record] & ODD_ROW) != 0)
                continue;
            if (!has_past(c, g[k].record))
                continue;
            bool near = neighbours(c, &g[i], &g[k]);
            if (!near && g[k].cost < 4)
                continue;
            if (g[k].cost < SIZE_ODD && size_alone(c, g[k].record) && size_alone(c, g[i].record))
                continue; /* two living plants exchanged: one has grown too much and the other too little, or it explains nothing */
            double would = record_cost(c, g[i].record, c->plant_of[g[k].record]);
            if (would > 2.5)
                continue;
            would += record_cost(c, g[k].record, c->plant_of[g[i].record]);
            double gain = g[i].cost + g[k].cost - would + (near ? 0.5 : 0);
            if (would <= 3 && gain > best_gain) {
                best_gain = gain;
                best_would = would;
                best = k;
            }
        }
        if (best == SIZE_MAX || (best < i && g[best].cost >= 4))
            continue; /* a pair of two odd ones is told once */
        pair_doubt(c, &g[i], &g[best], g[i].cost + g[best].cost, best_would);
    }
}

void swaps_check(struct checking *c)
{
    struct placed *all = memory_get(c->n + 1, sizeof *all);
    size_t n = 0;
    for (size_t i = 0; i < c->n; i++) {
        if (c->plant_of[i] == UINT32_MAX)
            continue;
        const struct plant *p = plant_at(c, c->plant_of[i]);
        struct placed *here = &all[n++];
        *here = (struct placed){
            .plot = p->plot_id, .visit = c->records[i].visit_id, .record = (uint32_t)i, .row = -1, .column = -1, .number = p->number};
        square_read(p->cell_code, &here->row, &here->column);
    }
    qsort(all, n, sizeof *all, placed_order);
    for (size_t i = 0; i < n;) {
        size_t end = i;
        bool any = false;
        for (; end < n && all[end].plot == all[i].plot && all[end].visit == all[i].visit; end++)
            any = any || (c->odd[all[end].record] & (ODD_SIZE | ODD_STATE | ODD_NAME)) != 0;
        for (size_t k = i; any && k < end; k++)
            all[k].cost = record_cost(c, all[k].record, c->plant_of[all[k].record]);
        if (any && end - i <= 20000) {
            lines_check(c, all + i, end - i, true);
            lines_check(c, all + i, end - i, false);
            pairs_check(c, all + i, end - i);
        }
        i = end;
    }
    free(all);
}
