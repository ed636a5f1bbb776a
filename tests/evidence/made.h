/* SPDX-License-Identifier: GPL-3.0-or-later
 * Made programmes: rows put together one by one or drawn from a known truth, for tests and benches of evidence/. Invented data. */
#ifndef SPINNEY_TESTS_EVIDENCE_MADE_H
#define SPINNEY_TESTS_EVIDENCE_MADE_H
#include "evidence/evidence.h"

struct made {
    struct arena arena;
    struct site *sites;
    struct plot *plots;
    struct plant *plants;
    struct visit *visits;
    struct plant_record *records;
    struct care_event *care;
    struct wildlife_visit *looks;
    struct wildlife_record *sightings;
    struct trial_plot *treatments;
    size_t n_sites, n_plots, n_plants, n_visits, n_records, n_care, n_looks, n_sightings, room[9];
};
/* Each gives the index of the new row; ids are index + 1. Texts are borrowed. */
size_t made_site(struct made *m, const char *code);
/// Treatments: density by the figure, preparation by the regime, one mix, all else alike, ground drawn by lot.
size_t made_plot(struct made *m, size_t site, const char *code, enum regime regime, double density_m2, double area_m2, int32_t planted_on);
size_t made_plant(struct made *m, size_t plot, const char *species, enum origin origin);
size_t made_visit(struct made *m, size_t site, int32_t on, bool as_planted);
size_t made_record(struct made *m, size_t visit, size_t plant, enum status status, double height_cm);
size_t made_watering(struct made *m, size_t plot, int32_t on, double litres_m2);
size_t made_look(struct made *m, size_t plot, int32_t on, enum wildlife_group group, double minutes);
size_t made_sighting(struct made *m, size_t look, const char *taxon, int64_t count);
/// Rows as evidence/ wants them; borrowed from `m` until more is added.
struct evidence_facts made_facts(struct made *m);
void made_free(struct made *m);
#endif
