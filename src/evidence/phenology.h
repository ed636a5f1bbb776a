/* SPDX-License-Identifier: GPL-3.0-or-later
 * Growth stages over the weeks of a round: between which days a plant reached a stage, and how far years lie apart. */
#ifndef SPINNEY_EVIDENCE_PHENOLOGY_H
#define SPINNEY_EVIDENCE_PHENOLOGY_H
#include "model/model.h"
#include "stats/estimate.h"

/// Borrowed rows.
struct phenology_facts {
    const struct site *sites;
    size_t n_sites;
    const struct plot *plots;
    size_t n_plots;
    const struct plant *plants;
    size_t n_plants;
    const struct phenology_record *records;
    size_t n_records;
};
/// One stage of one species on one site in one year. Days count from 1 January = 1. A round sees a stage only on the day it looks:
/// the stage was reached after the last "not yet" and by the first "reached", however long the gap was.
struct phenology_row {
    const struct site *site;
    const char *species;
    int year, phase;
    size_t plants;            ///< looked at for this stage
    size_t dated;             ///< with a "not yet" and a "reached" after it
    size_t before;            ///< reached already at the first look: only "by then" is known
    size_t after;             ///< not reached at the last look: only "later" is known
    size_t broken;            ///< "not yet" after "reached": set aside
    double after_day, by_day; ///< mean over the dated plants of the last "not yet" and the first "reached"; unknown without any
    double widest_gap_d;      ///< longest gap between the two; a skipped week shows here
};
/// How far a year lies from the first year at a site, for one stage.
struct phenology_shift {
    const struct site *site;
    int phase, year, base_year;
    size_t plants; ///< dated in both years
    size_t species;
    struct estimate days; ///< negative is earlier; mean over species of the mean over plants; Student's t over species
};
struct phenology {
    struct phenology_row *rows; ///< by site, species, stage, year
    size_t n_rows;
    struct phenology_shift *shifts;
    size_t n_shifts;
};
/// Arena memory. Fails with OUTCOME_DATA where there are no records.
enum outcome evidence_phenology(const struct phenology_facts *facts, double level, struct arena *arena, struct phenology *out,
                                struct failure *why);
#endif
