/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the plausibility checks of plant records share: every plant's series of records, and how growth runs in this file. */
#ifndef SPINNEY_SURVEY_PLAUSIBLE_H
#define SPINNEY_SURVEY_PLAUSIBLE_H
#include "survey/doubts.h"

/// One record in its plant's series. `at` counts new records from 0; earlier ones are −1 − their index in the ground.
struct seen {
    int32_t day;
    int32_t at;
};

/// Growth of a group of records on the log scale.
struct growth_habit {
    int64_t key;           ///< visit, or index of a species
    double median, spread; ///< spread: MAD × 1.4826, at least 0.05
    size_t n;
};
struct habits {
    struct growth_habit *at; ///< in order of key
    size_t n;
};

struct checking {
    const struct plant_record *records; ///< new ones
    const struct record_place *places;  ///< or NULL
    size_t n;
    const struct plant *fresh;
    size_t n_fresh;
    const struct survey_ground *ground;
    struct survey_limits limits;
    const struct progress *progress;
    struct arena *arena;
    struct doubts doubts;
    /* plants: ground's first, then the fresh ones */
    size_t n_plants;
    uint32_t *plant_of;  ///< plant of each new record; UINT32_MAX: not known
    uint32_t *first;     ///< first[p] … first[p + 1]: entries of `series`
    struct seen *series; ///< by plant, then day
    uint32_t *where;     ///< position in `series` of each new record
    /* how growth runs, by visit */
    struct habits height, diameter;
    struct habits height_first, diameter_first; ///< sizes of plants measured for the first time, by species
    uint32_t *species_id;                       ///< of each plant, equal names equal
    uint32_t n_species;
    uint8_t *odd; ///< of each new record: bits below, set by the size, state and name checks
    struct names *names;
};
enum { ODD_SIZE = 1, ODD_STATE = 2, ODD_NAME = 4, ODD_TWICE = 8, ODD_ROW = 16 };

static inline const struct plant *plant_at(const struct checking *c, uint32_t p)
{
    return p < c->ground->n_plants ? &c->ground->plants[p] : &c->fresh[p - c->ground->n_plants];
}
static inline const struct plant_record *record_seen(const struct checking *c, const struct seen *s)
{
    return s->at >= 0 ? &c->records[s->at] : &c->ground->records[-1 - s->at];
}
static inline bool status_alive(enum status s)
{
    return s == STATUS_ALIVE || s == STATUS_ALIVE_DIEBACK || s == STATUS_RESPROUTING;
}
static inline bool status_over(enum status s)
{
    return s == STATUS_DEAD_STANDING || s == STATUS_MISSING || s == STATUS_REMOVED || s == STATUS_REPLACED;
}
/// The last record of a plant before this day and visit, or NULL. `measure`: 0 any, 1 alive with a height, 2 with a diameter.
const struct plant_record *record_before(const struct checking *c, uint32_t plant, int32_t day, int64_t visit, int measure);
const struct growth_habit *habit_find(const struct habits *habits, int64_t key); ///< NULL: fewer than 20 pairs

bool checking_start(struct checking *c);
void checking_end(struct checking *c);
void habits_make(struct checking *c);
void sizes_check(struct checking *c, size_t record);
void states_check(struct checking *c, size_t record);
void days_check(struct checking *c);
void twice_check(struct checking *c, size_t record);

/// Names the programme knows, with the verdict on each name met.
struct names *names_make(struct checking *c);
enum name_verdict { NAME_SAME, NAME_SYNONYM, NAME_OTHER, NAME_MISSPELT, NAME_UNKNOWN };
/// `seen` against the plant's name; *meant is the accepted or nearest name.
enum name_verdict name_judge(struct checking *c, const char *seen, const char *planted, const char **meant);
void names_check(struct checking *c, size_t record);

void plots_check(struct checking *c);
void swaps_check(struct checking *c);
void observers_check(struct checking *c);
#endif
