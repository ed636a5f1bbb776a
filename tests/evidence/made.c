/* SPDX-License-Identifier: GPL-3.0-or-later
 * Made programmes, row by row. */
#include "made.h"
#include <stdlib.h>

#define ADD(m, rows, n, k, noun)                                                                                                           \
    (m)->rows = column_room((m)->rows, (m)->n, &(m)->room[k], sizeof *(m)->rows);                                                          \
    noun_init(noun, &(m)->rows[(m)->n]);                                                                                                   \
    (m)->rows[(m)->n].id = (int64_t)(m)->n + 1

size_t made_site(struct made *m, const char *code)
{
    ADD(m, sites, n_sites, 0, NOUN_SITE);
    m->sites[m->n_sites].code = m->sites[m->n_sites].name = code;
    m->sites[m->n_sites].stage = STAGE_MONITORED;
    return m->n_sites++;
}

size_t made_plot(struct made *m, size_t site, const char *code, enum regime regime, double density_m2, double area_m2, int32_t planted_on)
{
    ADD(m, plots, n_plots, 1, NOUN_PLOT);
    struct plot *plot = &m->plots[m->n_plots];
    plot->site_id = (int64_t)site + 1;
    plot->code = code;
    plot->regime = regime;
    plot->density_m2 = density_m2;
    plot->net_area_m2 = area_m2;
    plot->planted_on = planted_on;
    m->treatments = column_room(m->treatments, m->n_plots, &m->room[8], sizeof *m->treatments);
    struct trial_plot *t = &m->treatments[m->n_plots];
    *t = (struct trial_plot){.code = code, .site = m->sites[site].code, .allocation = ALLOCATION_METHOD_DRAWN_BY_LOT};
    for (int f = 0; f < TRIAL_FACTORS; f++)
        t->levels[f] = "alike";
    t->levels[TRIAL_DENSITY] = arena_print(&m->arena, "%g per m2", density_m2);
    t->levels[TRIAL_PREPARATION] =
        regime == REGIME_CONVENTIONAL || regime == REGIME_DENSE_UNPREPARED || regime == REGIME_UNPLANTED ? "none" : "loosened";
    return m->n_plots++;
}

size_t made_plant(struct made *m, size_t plot, const char *species, enum origin origin)
{
    ADD(m, plants, n_plants, 2, NOUN_PLANT);
    struct plant *plant = &m->plants[m->n_plants];
    plant->plot_id = (int64_t)plot + 1;
    plant->species = species;
    plant->origin = origin;
    plant->planted_on = m->plots[plot].planted_on;
    return m->n_plants++;
}

size_t made_visit(struct made *m, size_t site, int32_t on, bool as_planted)
{
    ADD(m, visits, n_visits, 3, NOUN_VISIT);
    struct visit *visit = &m->visits[m->n_visits];
    visit->site_id = (int64_t)site + 1;
    visit->kind = as_planted ? VISIT_KIND_AS_PLANTED_CENSUS : VISIT_KIND_CENSUS;
    visit->method = VISIT_METHOD_EVERY_PLANT;
    visit->from_on = visit->to_on = on;
    visit->leaf_on = TRUTH_YES;
    return m->n_visits++;
}

size_t made_record(struct made *m, size_t visit, size_t plant, enum status status, double height_cm)
{
    ADD(m, records, n_records, 4, NOUN_PLANT_RECORD);
    struct plant_record *record = &m->records[m->n_records];
    record->visit_id = (int64_t)visit + 1;
    record->plant_id = (int64_t)plant + 1;
    record->observed_on = m->visits[visit].from_on;
    record->status = status;
    record->height_cm = height_cm;
    return m->n_records++;
}

size_t made_watering(struct made *m, size_t plot, int32_t on, double litres_m2)
{
    ADD(m, care, n_care, 5, NOUN_CARE_EVENT);
    struct care_event *event = &m->care[m->n_care];
    event->plot_id = (int64_t)plot + 1;
    event->done_on = on;
    event->kind = CARE_KIND_WATERING;
    event->state = DONE_STATE_DONE;
    event->litres_m2 = litres_m2;
    return m->n_care++;
}

size_t made_look(struct made *m, size_t plot, int32_t on, enum wildlife_group group, double minutes)
{
    ADD(m, looks, n_looks, 6, NOUN_WILDLIFE_VISIT);
    struct wildlife_visit *look = &m->looks[m->n_looks];
    look->plot_id = (int64_t)plot + 1;
    look->site_id = m->plots[plot].site_id;
    look->seen_on = on;
    look->group = group;
    look->minutes = minutes;
    return m->n_looks++;
}

size_t made_sighting(struct made *m, size_t look, const char *taxon, int64_t count)
{
    ADD(m, sightings, n_sightings, 7, NOUN_WILDLIFE_RECORD);
    struct wildlife_record *sighting = &m->sightings[m->n_sightings];
    sighting->wildlife_visit_id = (int64_t)look + 1;
    sighting->taxon = taxon;
    sighting->count = count;
    return m->n_sightings++;
}

struct evidence_facts made_facts(struct made *m)
{
    return (struct evidence_facts){.sites = m->sites,
                                   .n_sites = m->n_sites,
                                   .plots = m->plots,
                                   .n_plots = m->n_plots,
                                   .plants = m->plants,
                                   .n_plants = m->n_plants,
                                   .visits = m->visits,
                                   .n_visits = m->n_visits,
                                   .records = m->records,
                                   .n_records = m->n_records,
                                   .care = m->care,
                                   .n_care = m->n_care,
                                   .looks = m->looks,
                                   .n_looks = m->n_looks,
                                   .sightings = m->sightings,
                                   .n_sightings = m->n_sightings,
                                   .treatments = m->treatments};
}

void made_free(struct made *m)
{
    free(m->sites);
    free(m->plots);
    free(m->plants);
    free(m->visits);
    free(m->records);
    free(m->care);
    free(m->looks);
    free(m->sightings);
    free(m->treatments);
    arena_clear(&m->arena);
    *m = (struct made){.n_sites = 0};
}
