/* SPDX-License-Identifier: GPL-3.0-or-later
 * Sizes and states against the last survey: shrinkage, slips of ten and of units, growth beyond limits, dead and alive again. */
#include "survey/plausible.h"
#include <math.h>
#include <string.h>

struct size_change size_change_of(double before, double now, double years, double gain_limit_year, double shrink_share, double shrink_floor)
{
    struct size_change g = {.gain = unknown_real(), .per_year = unknown_real(), .share = unknown_real()};
    if (!is_known(before) || !is_known(now) || !is_known(years) || before <= 0 || now < 0)
        return g;
    double span = years < 1 ? 1 : years; /* up to a year may hold a whole season's growth */
    double allowed = gain_limit_year * span, lowest = before - fmax(shrink_share * before, shrink_floor);
    g.gain = now - before;
    g.per_year = years < 0.5 ? g.gain : g.gain / years;
    g.share = g.gain / before;
    g.shrunk = before - now > shrink_share * before && before - now > shrink_floor;
    g.too_fast = g.gain > allowed;
    g.tenfold = now > 6 * before && now / 10 >= lowest && now / 10 - before <= allowed;
    g.tenth = now < 0.35 * before && now * 10 >= lowest && now * 10 - before <= allowed;
    g.metres = now < before / 20 && now > 0 && now * 100 >= lowest && now * 100 - before <= allowed;
    return g;
}

static const char *day_words(struct arena *arena, int32_t day)
{
    char iso[16];
    date_write(day, iso);
    return arena_text(arena, iso);
}

struct measure {
    const char *field, *name, *unit;
    double now, before, limit_year, floor;
    bool height;
};

static void slip(struct checking *c, size_t i, const struct measure *m, const char *check, double factor, const char *why, const char *when)
{
    double mended = m->now * factor;
    struct doubt *d =
        is_known(m->before)
            ? doubt_add(&c->doubts, check, (int64_t)i, m->field, "%s %s %s after %s %s on %s: %s %s would fit.", m->name,
                        figure(c->arena, m->now), m->unit, figure(c->arena, m->before), m->unit, when, figure(c->arena, mended), m->unit)
            : doubt_add(&c->doubts, check, (int64_t)i, m->field,
                        "%s %s %s, unlike the others of its species in this file: %s %s would fit.", m->name, figure(c->arena, m->now),
                        m->unit, figure(c->arena, mended), m->unit);
    doubt_evidence(d, m->now, m->before, unknown_real());
    doubt_remedy(&c->doubts, d, arena_print(c->arena, "correct:%s=%s", m->field, figure(c->arena, mended)), "%s: it is %s %s", why,
                 figure(c->arena, mended), m->unit);
    doubt_usual(&c->doubts, d, "the figure is right as written");
    c->odd[i] |= ODD_SIZE;
}

/* A plant measured for the first time, against its species in this file. */
static void first_size(struct checking *c, size_t i, const struct measure *m)
{
    const struct growth_habit *habit = habit_find(m->height ? &c->height_first : &c->diameter_first, c->species_id[c->plant_of[i]]);
    if (habit == NULL || m->now <= 0)
        return;
    double spread = habit->spread < 0.15 ? 0.15 : habit->spread, z = (log(m->now) - habit->median) / spread;
    if (fabs(z) <= c->limits.outlier_z)
        return;
    if (fabs((log(m->now / 10) - habit->median) / spread) < 3) {
        slip(c, i, m, "ten_times", 0.1, m->height ? "a slip of ten, or millimetres" : "a slip of ten", "");
    } else if (fabs((log(m->now * 10) - habit->median) / spread) < 3) {
        slip(c, i, m, "tenth", 10, m->height ? "a slip of ten" : "a slip of ten, or centimetres", "");
    } else if (m->height && fabs((log(m->now * 100) - habit->median) / spread) < 3) {
        slip(c, i, m, "metres", 100, "metres", "");
    } else {
        struct doubt *d = doubt_add(&c->doubts, "unlike_others", (int64_t)i, m->field,
                                    "%s %s %s is unlike the others of its species in this file (the middle one is %s %s, n %zu).", m->name,
                                    figure(c->arena, m->now), m->unit, figure(c->arena, exp(habit->median)), m->unit, habit->n);
        doubt_evidence(d, m->now, exp(habit->median), c->limits.outlier_z);
        doubt_usual(&c->doubts, d, "the figure is right as written");
        c->odd[i] |= ODD_SIZE;
    }
}

static bool explained(const struct plant_record *r)
{
    return r->damage > DAMAGE_AGENT_NONE || r->status == STATUS_ALIVE_DIEBACK || r->status == STATUS_RESPROUTING;
}

static void shrunk(struct checking *c, size_t i, const struct measure *m, const struct size_change *g, const char *when)
{
    struct doubt *d = doubt_add(&c->doubts, "shrinkage", (int64_t)i, m->field,
                                "%s %s %s after %s %s on %s, %s %% less, and no damage is recorded.", m->name, figure(c->arena, m->now),
                                m->unit, figure(c->arena, m->before), m->unit, when, figure(c->arena, round(-100 * g->share)));
    doubt_evidence(d, m->now, m->before, c->limits.shrink_share);
    doubt_remedy(&c->doubts, d, "correct:status=alive_dieback", "it died back: the figure is right");
    doubt_remedy(&c->doubts, d, "accept", "the figure is right: say what happened, or that last time was wrong");
    doubt_remedy(&c->doubts, d, arena_print(c->arena, "correct:%s=", m->field), "the figure is wrong: leave it blank");
    doubt_remedy(&c->doubts, d, "reject", "another plant was measured: leave the row out");
    c->odd[i] |= ODD_SIZE;
}

static void compare(struct checking *c, size_t i, const struct measure *m, const struct plant_record *b)
{
    const struct plant_record *r = &c->records[i];
    double years = date_years(b->observed_on, r->observed_on);
    struct size_change g = size_change_of(m->before, m->now, years, m->limit_year, c->limits.shrink_share, m->floor);
    const struct growth_habit *habit = habit_find(m->height ? &c->height : &c->diameter, r->visit_id);
    double z = habit == NULL || m->now <= 0 ? 0 : (log(m->now / m->before) - habit->median) / habit->spread;
    bool outlying = fabs(z) > c->limits.outlier_z;
    const char *when = day_words(c->arena, b->observed_on);
    bool loss = g.shrunk || (m->height && -g.gain > c->limits.shrink_any_cm);
    if (g.tenfold && (g.too_fast || outlying)) {
        slip(c, i, m, "ten_times", 0.1, m->height ? "a slip of ten, or millimetres" : "a slip of ten", when);
    } else if (m->height && g.metres) {
        slip(c, i, m, "metres", 100, "metres", when);
    } else if (g.tenth && !explained(r)) {
        slip(c, i, m, "tenth", 10, m->height ? "a slip of ten" : "a slip of ten, or centimetres", when);
    } else if (g.too_fast) {
        struct doubt *d = doubt_add(&c->doubts, "too_fast", (int64_t)i, m->field,
                                    "%s %s %s after %s %s on %s: %s %s in %s years, more than %s %s a year.", m->name,
                                    figure(c->arena, m->now), m->unit, figure(c->arena, m->before), m->unit, when, figure(c->arena, g.gain),
                                    m->unit, figure(c->arena, years), figure(c->arena, m->limit_year), m->unit);
        doubt_evidence(d, m->now, m->before, m->limit_year);
        doubt_remedy(&c->doubts, d, arena_print(c->arena, "correct:%s=", m->field), "the figure is wrong: leave it blank");
        doubt_usual(&c->doubts, d, "the figure is right: say why");
        c->odd[i] |= ODD_SIZE;
    } else if (loss && !explained(r)) {
        shrunk(c, i, m, &g, when);
    } else if (outlying && !explained(r)) {
        struct doubt *d =
            doubt_add(&c->doubts, "unlike_others", (int64_t)i, m->field,
                      "%s %s %s after %s %s on %s: the others of this survey changed by a factor of %s in the middle, this one by %s.",
                      m->name, figure(c->arena, m->now), m->unit, figure(c->arena, m->before), m->unit, when,
                      figure(c->arena, exp(habit->median)), figure(c->arena, m->now / m->before));
        doubt_evidence(d, m->now, m->before, c->limits.outlier_z);
        doubt_remedy(&c->doubts, d, arena_print(c->arena, "correct:%s=", m->field), "the figure is wrong: leave it blank");
        doubt_usual(&c->doubts, d, "the figure is right: say why");
        c->odd[i] |= ODD_SIZE;
    }
}

void sizes_check(struct checking *c, size_t i)
{
    const struct plant_record *r = &c->records[i];
    uint32_t p = c->plant_of[i];
    if (!status_alive(r->status) && r->status != STATUS_UNKNOWN)
        return;
    if (is_known(r->height_cm) && r->height_cm > 0) {
        const struct plant_record *b = record_before(c, p, r->observed_on, r->visit_id, 1);
        struct measure m = {"height_cm",
                            "Height",
                            "cm",
                            r->height_cm,
                            b == NULL ? unknown_real() : b->height_cm,
                            c->limits.height_gain_cm_year,
                            c->limits.shrink_floor_cm,
                            true};
        if (b == NULL)
            first_size(c, i, &m);
        else
            compare(c, i, &m, b);
    }
    if (!is_known(r->diameter_mm) || r->diameter_mm <= 0)
        return;
    const struct plant_record *b = record_before(c, p, r->observed_on, r->visit_id, 2);
    struct measure m = {"diameter_mm",
                        "Diameter",
                        "mm",
                        r->diameter_mm,
                        b == NULL ? unknown_real() : b->diameter_mm,
                        c->limits.diameter_gain_mm_year,
                        c->limits.shrink_floor_mm,
                        false};
    if (b == NULL) {
        first_size(c, i, &m);
    } else if (r->diameter_at != DIAMETER_HEIGHT_UNKNOWN && b->diameter_at != DIAMETER_HEIGHT_UNKNOWN && r->diameter_at != b->diameter_at) {
        struct doubt *d = doubt_add(&c->doubts, "diameter_height", (int64_t)i, "diameter_at",
                                    "The diameter was taken %s; on %s it was taken %s. The two cannot be compared.",
                                    word_of(WORDS_DIAMETER_HEIGHT, (int)r->diameter_at), day_words(c->arena, b->observed_on),
                                    word_of(WORDS_DIAMETER_HEIGHT, (int)b->diameter_at));
        doubt_evidence(d, r->diameter_mm, b->diameter_mm, unknown_real());
        doubt_remedy(&c->doubts, d, "accept", "it was taken there: keep it apart from the earlier ones");
        doubt_remedy(&c->doubts, d, arena_print(c->arena, "correct:diameter_at=%s", word_of(WORDS_DIAMETER_HEIGHT, (int)b->diameter_at)),
                     "it was taken where it was last time");
        doubt_remedy(&c->doubts, d, "correct:diameter_mm=;diameter_at=", "leave the diameter blank");
    } else {
        compare(c, i, &m, b);
    }
}

/* ---- states ---- */

static void alive_again(struct checking *c, size_t i, const struct plant_record *b)
{
    const struct plant_record *r = &c->records[i], *living = record_before(c, c->plant_of[i], r->observed_on, r->visit_id, 1);
    const char *then = word_of(WORDS_STATUS, (int)b->status);
    bool small = living != NULL && is_known(r->height_cm) && r->height_cm < 0.7 * living->height_cm;
    bool reused = b->status == STATUS_REPLACED || (small && r->status == STATUS_ALIVE);
    struct doubt *d =
        reused ? doubt_add(&c->doubts, "tag_reused", (int64_t)i, "plant",
                           "The plant was %s on %s and is now recorded as %s%s%s%s. If it was replaced, the new plant has its own identity "
                           "and label.",
                           then, day_words(c->arena, b->observed_on), word_of(WORDS_STATUS, (int)r->status),
                           small ? ", at a height of " : "", small ? figure(c->arena, r->height_cm) : "",
                           small ? arena_print(c->arena, " cm after %s cm while it lived", figure(c->arena, living->height_cm)) : "")
               : doubt_add(&c->doubts, "resurrection", (int64_t)i, "status", "The plant was %s on %s and is now recorded as %s.", then,
                           day_words(c->arena, b->observed_on), word_of(WORDS_STATUS, (int)r->status));
    doubt_evidence(d, r->height_cm, living == NULL ? unknown_real() : living->height_cm, unknown_real());
    if (r->status != STATUS_RESPROUTING)
        doubt_remedy(&c->doubts, d, "correct:status=resprouting", "it has resprouted");
    doubt_remedy(&c->doubts, d, "reject",
                 reused ? "it is a replacement: leave the row out and enter the new plant under its own identity"
                        : "wrong label: another plant was seen; leave the row out");
    doubt_remedy(&c->doubts, d, "accept", "it was wrong last time: the plant lived; mend the earlier record too");
    c->odd[i] |= ODD_STATE;
}

void states_check(struct checking *c, size_t i)
{
    const struct plant_record *r = &c->records[i];
    const struct plant_record *b = record_before(c, c->plant_of[i], r->observed_on, r->visit_id, 0);
    if (status_alive(r->status)) {
        if (b != NULL && status_over(b->status) && !(b->status == STATUS_DEAD_STANDING && r->status == STATUS_RESPROUTING))
            alive_again(c, i, b);
        return;
    }
    if (!status_over(r->status))
        return;
    for (uint32_t s = c->where[i] + 1; s < c->first[c->plant_of[i] + 1];
         s++) { /* records brought in late: alive afterwards in the programme */
        const struct plant_record *later = record_seen(c, &c->series[s]);
        if (c->series[s].at >= 0 || later->observed_on <= r->observed_on || !status_alive(later->status))
            continue;
        struct doubt *d = doubt_add(&c->doubts, "resurrection", (int64_t)i, "status",
                                    "The plant is recorded as %s here, but as %s on %s, later.", word_of(WORDS_STATUS, (int)r->status),
                                    word_of(WORDS_STATUS, (int)later->status), day_words(c->arena, later->observed_on));
        doubt_usual(&c->doubts, d, "both are right: it resprouted");
        c->odd[i] |= ODD_STATE;
        return;
    }
}

/* ---- the same plant more than once ---- */

static bool real_same(double a, double b)
{
    return (!is_known(a) && !is_known(b)) || a == b;
}

static bool findings_same(const struct plant_record *a, const struct plant_record *b)
{
    return a->status == b->status && real_same(a->height_cm, b->height_cm) && real_same(a->diameter_mm, b->diameter_mm) &&
           a->diameter_at == b->diameter_at && real_same(a->crown_cm, b->crown_cm) && a->damage == b->damage &&
           a->damage_part == b->damage_part && real_same(a->damage_pct, b->damage_pct) && text_same(a->species_seen, b->species_seen) &&
           text_same(a->note, b->note) && a->repeat == b->repeat;
}

void twice_check(struct checking *c, size_t i)
{
    const struct plant_record *r = &c->records[i];
    uint32_t from = c->first[c->plant_of[i]], here = c->where[i];
    for (uint32_t s = here; s > from; s--) {
        const struct seen *other = &c->series[s - 1];
        const struct plant_record *o = record_seen(c, other);
        bool same_visit = o->observed_on == r->observed_on || (r->visit_id != 0 && o->visit_id == r->visit_id);
        if (!same_visit) {
            if (r->observed_on - o->observed_on > 120)
                return;
            continue;
        }
        bool same_eyes = text_same(r->observer, o->observer), same_day = o->observed_on == r->observed_on;
        if (same_eyes && same_day && findings_same(r, o)) {
            const char *where = other->at >= 0 && c->places != NULL ? arena_print(c->arena, "row %ld", c->places[other->at].file_row)
                                : other->at >= 0                    ? "an earlier row"
                                                                    : "a record already in the programme";
            struct doubt *d = doubt_add(&c->doubts, other->at >= 0 ? "exact_duplicate" : "already_recorded", (int64_t)i, "",
                                        "The same plant, day, observer and findings as %s.", where);
            d->other = other->at >= 0 ? other->at : NO_ROW;
            doubt_remedy(&c->doubts, d, "reject", "it is the same finding twice: leave this row out");
            doubt_remedy(&c->doubts, d, "accept", "it was measured twice and came out the same: keep both");
        } else if (same_eyes && r->repeat != TRUTH_YES && o->repeat != TRUTH_YES) {
            struct doubt *d = doubt_add(
                &c->doubts, "recorded_twice", (int64_t)i, "",
                "The same observer recorded this plant twice on one visit, with different findings%s.",
                other->at >= 0 && c->places != NULL ? arena_print(c->arena, " (see row %ld)", c->places[other->at].file_row) : "");
            d->other = other->at >= 0 ? other->at : NO_ROW;
            doubt_evidence(d, r->height_cm, o->height_cm, unknown_real());
            doubt_remedy(&c->doubts, d, "correct:repeat=yes", "it is a second measurement: keep both");
            doubt_usual(&c->doubts, d, "both are right");
            c->odd[i] |= ODD_TWICE;
            if (other->at >= 0)
                c->odd[other->at] |= ODD_TWICE;
        } else {
            struct doubt *d =
                doubt_add(&c->doubts, "two_observers", (int64_t)i, "", "Recorded by two observers on one visit (%s and %s): both are kept.",
                          o->observer == NULL ? "not named" : o->observer, r->observer == NULL ? "not named" : r->observer);
            d->other = other->at >= 0 ? other->at : NO_ROW;
            doubt_evidence(d, r->height_cm, o->height_cm, unknown_real());
        }
        return;
    }
}
