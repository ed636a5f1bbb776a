/* SPDX-License-Identifier: GPL-3.0-or-later
 * The Darwin Core Archive: events, occurrences, measurements, and what each look for life covered.
 * Darwin Core terms (TDWG), degreeOfEstablishment and establishmentMeans vocabularies 2021-09-01; Humboldt Extension for
 * Ecological Inventories, TDWG 2024 (http://rs.tdwg.org/eco/terms/): effort comes with its unit, values stand at every
 * level where they hold, a parent contains its children in space and time and is not their sum, no scope is made up
 * afterwards. */
#include "exchange/term_sheet.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

void exchange_eml(const struct exchange_set *set, const struct exchange_terms *terms, const double box_deg[4], int32_t first, int32_t last,
                  struct arena *arena, struct text *out);

static const char *const event_terms[] = {"dwc:eventID",
                                          "dwc:parentEventID",
                                          "dwc:eventType",
                                          "dwc:eventDate",
                                          "dwc:samplingProtocol",
                                          "dwc:sampleSizeValue",
                                          "dwc:sampleSizeUnit",
                                          "dwc:samplingEffort",
                                          "dwc:locationID",
                                          "dwc:decimalLatitude",
                                          "dwc:decimalLongitude",
                                          "dwc:geodeticDatum",
                                          "dwc:coordinateUncertaintyInMeters",
                                          "dwc:minimumDepthInMeters",
                                          "dwc:maximumDepthInMeters",
                                          "dwc:habitat",
                                          "dwc:dataGeneralizations",
                                          "dwc:eventRemarks",
                                          "dcterms:license",
                                          NULL};
static const char *const occurrence_terms[] = {"dwc:eventID",
                                               "dwc:occurrenceID",
                                               "dwc:organismID",
                                               "dwc:basisOfRecord",
                                               "dwc:occurrenceStatus",
                                               "dwc:individualCount",
                                               "dwc:scientificName",
                                               "dwc:kingdom",
                                               "dwc:vitality",
                                               "dwc:causeOfDeath",
                                               "dwc:establishmentMeans",
                                               "dwc:degreeOfEstablishment",
                                               "dwc:pathway",
                                               "dwc:recordedBy",
                                               "dwc:informationWithheld",
                                               "dwc:dataGeneralizations",
                                               "dwc:occurrenceRemarks",
                                               NULL};
static const char *const measurement_terms[] = {"dwc:eventID",
                                                "dwc:measurementID",
                                                "obis:occurrenceID",
                                                "dwc:measurementType",
                                                "dwc:measurementValue",
                                                "dwc:measurementUnit",
                                                "dwc:measurementMethod",
                                                "dwc:measurementDeterminedDate",
                                                NULL};
static const char *const humboldt_terms[] = {"dwc:eventID",
                                             "eco:siteCount",
                                             "eco:geospatialScopeAreaValue",
                                             "eco:geospatialScopeAreaUnit",
                                             "eco:totalAreaSampledValue",
                                             "eco:totalAreaSampledUnit",
                                             "eco:eventDurationValue",
                                             "eco:eventDurationUnit",
                                             "eco:inventoryTypes",
                                             "eco:protocolNames",
                                             "eco:targetTaxonomicScope",
                                             "eco:isTaxonomicScopeFullyReported",
                                             "eco:taxonCompletenessReported",
                                             "eco:isAbsenceReported",
                                             "eco:isAbundanceReported",
                                             "eco:targetDegreeOfEstablishmentScope",
                                             "eco:isSamplingEffortReported",
                                             "eco:samplingEffortProtocol",
                                             "eco:samplingEffortValue",
                                             "eco:samplingEffortUnit",
                                             "eco:hasMaterialSamples",
                                             NULL};

struct span {
    int32_t first, last;
};

/* All that the archive is built with. */
struct archive {
    const struct exchange_set *set;
    const struct exchange_terms *terms;
    struct arena *arena;
    struct crs_way *way; ///< to WGS 84
    struct term_sheet events, occurrences, measurements, scopes;
    struct span *sites, *plots; ///< days that the looks at each cover, by row
    double box_deg[4];          ///< west, south, east, north
    struct span all;
};

static void span_add(struct span *span, int32_t first, int32_t last)
{
    if (first == DATE_UNKNOWN)
        return;
    last = last == DATE_UNKNOWN ? first : last;
    span->first = span->first == DATE_UNKNOWN || first < span->first ? first : span->first;
    span->last = span->last == DATE_UNKNOWN || last > span->last ? last : span->last;
}

static const char *interval(struct arena *arena, int32_t first, int32_t last)
{
    char a[16] = "", b[16] = "";
    if (first == DATE_UNKNOWN)
        return NULL;
    date_write(first, a);
    if (last == DATE_UNKNOWN || last == first)
        return arena_text(arena, a);
    date_write(last, b);
    return arena_print(arena, "%s/%s", a, b);
}

/* Days of a look at a site or one of its plots go to both. */
static void note_days(struct archive *archive, int64_t site, int64_t plot, int32_t first, int32_t last)
{
    size_t at = plot == 0 ? SIZE_MAX : exchange_row(archive->set, NOUN_PLOT, plot);
    if (at != SIZE_MAX) {
        span_add(&archive->plots[at], first, last);
        site = ((const struct plot *)archive->set->of[NOUN_PLOT].rows)[at].site_id;
    }
    at = exchange_row(archive->set, NOUN_SITE, site);
    if (at != SIZE_MAX)
        span_add(&archive->sites[at], first, last);
    span_add(&archive->all, first, last);
}

/* A place in degrees with how far off it may be; unknown where there is no shape. */
struct place {
    double latitude, longitude, off_m, area_m2;
};

static struct place place_of(struct archive *archive, struct bytes wkb)
{
    struct place place = {unknown_real(), unknown_real(), unknown_real(), unknown_real()};
    struct shape shape;
    struct failure ignored;
    if (wkb.n == 0 || archive->way == NULL || shape_from_wkb(wkb, archive->arena, &shape, &ignored) != OUTCOME_OK)
        return place;
    double xy[2];
    shape_centre(&shape, &xy[0], &xy[1]);
    struct box box = shape_box(&shape);
    double off_m = 0.5 * hypot(box.x_most - box.x_least, box.y_most - box.y_least);
    if (!archive->terms->keep_places)
        off_m += archive->terms->square_m * 0.70710678118654752;
    if (crs_way_points(archive->way, xy, 1, &ignored) != OUTCOME_OK)
        return place;
    double *b = archive->box_deg;
    b[0] = fmin(b[0], xy[0]), b[1] = fmin(b[1], xy[1]), b[2] = fmax(b[2], xy[0]), b[3] = fmax(b[3], xy[1]);
    return (struct place){.longitude = xy[0], .latitude = xy[1], .off_m = ceil(off_m), .area_m2 = shape_area_m2(&shape)};
}

struct event {
    const char *id, *parent, *type, *days, *protocol, *size_unit, *effort, *location, *habitat, *generalised, *remarks;
    double size, top_m, bottom_m;
    struct place place;
};

static void event_add(struct archive *archive, const struct event *event)
{
    struct term_sheet *sheet = &archive->events;
    terms_cell(sheet, event->id);
    terms_cell(sheet, event->parent);
    terms_cell(sheet, event->type);
    terms_cell(sheet, event->days);
    terms_cell(sheet, event->protocol);
    terms_number(sheet, event->size, -1);
    terms_cell(sheet, is_known(event->size) ? event->size_unit : NULL);
    terms_cell(sheet, event->effort);
    terms_cell(sheet, event->location);
    terms_number(sheet, event->place.latitude, archive->terms->keep_places ? 6 : 4);
    terms_number(sheet, event->place.longitude, archive->terms->keep_places ? 6 : 4);
    terms_cell(sheet, is_known(event->place.latitude) ? "EPSG:4326" : NULL);
    terms_number(sheet, event->place.off_m, 0);
    terms_number(sheet, event->top_m, -1);
    terms_number(sheet, event->bottom_m, -1);
    terms_cell(sheet, event->habitat);
    terms_cell(sheet, event->generalised != NULL || archive->terms->keep_places || !is_known(event->place.latitude)
                          ? event->generalised
                          : arena_print(archive->arena, "place moved to the middle of a square of %.0f m", archive->terms->square_m));
    terms_cell(sheet, event->remarks);
    const char *page = exchange_licence_page(archive->terms->licence);
    terms_cell(sheet, page == NULL ? archive->terms->licence : page);
    terms_end_row(sheet);
}

/* What a look covered. */
struct scope {
    const char *event, *inventory, *protocol, *taxa, *complete, *absence, *abundance, *establishment, *effort_how, *effort_unit, *material;
    double sites, area_m2, sampled_m2, minutes, effort;
};

static void scope_add(struct archive *archive, const struct scope *scope)
{
    struct term_sheet *sheet = &archive->scopes;
    terms_cell(sheet, scope->event);
    terms_number(sheet, scope->sites, 0);
    terms_number(sheet, scope->area_m2, 1);
    terms_cell(sheet, is_known(scope->area_m2) ? "m2" : NULL);
    terms_number(sheet, scope->sampled_m2, 1);
    terms_cell(sheet, is_known(scope->sampled_m2) ? "m2" : NULL);
    terms_number(sheet, scope->minutes, -1);
    terms_cell(sheet, is_known(scope->minutes) ? "min" : NULL);
    terms_cell(sheet, scope->inventory);
    terms_cell(sheet, scope->protocol);
    terms_cell(sheet, scope->taxa);
    terms_cell(sheet, "false"); /* no scope was set down beforehand as complete, and none is made up now */
    terms_cell(sheet, scope->complete);
    terms_cell(sheet, scope->absence);
    terms_cell(sheet, scope->abundance);
    terms_cell(sheet, scope->establishment);
    terms_cell(sheet, is_known(scope->effort) ? "true" : "false");
    terms_cell(sheet, is_known(scope->effort) ? scope->effort_how : NULL);
    terms_number(sheet, scope->effort, -1);
    terms_cell(sheet, is_known(scope->effort) ? scope->effort_unit : NULL);
    terms_cell(sheet, scope->material);
    terms_end_row(sheet);
}

static const struct scope nothing_scoped = {
    .sites = NAN, .area_m2 = NAN, .sampled_m2 = NAN, .minutes = NAN, .effort = NAN, .material = "false"};

static void measure(struct archive *archive, const char *event, const char *occurrence, const char *of, const char *type, double value,
                    const char *word, const char *unit, const char *method, int32_t day)
{
    struct term_sheet *sheet = &archive->measurements;
    if (word == NULL && !is_known(value))
        return;
    terms_cell(sheet, event);
    terms_cell(sheet, arena_print(archive->arena, "%s:%s", of, type));
    terms_cell(sheet, occurrence);
    terms_cell(sheet, type);
    if (word != NULL)
        terms_cell(sheet, word);
    else
        terms_number(sheet, value, -1);
    terms_cell(sheet, unit);
    terms_cell(sheet, method);
    terms_cell(sheet, interval(archive->arena, day, DATE_UNKNOWN));
    terms_end_row(sheet);
}

/* ---- sites and plots ---------------------------------------------------------------------------------------------- */

static void days_of_all(struct archive *archive)
{
    const struct exchange_set *set = archive->set;
    const struct visit *visits = set->of[NOUN_VISIT].rows;
    const struct wildlife_visit *looks = set->of[NOUN_WILDLIFE_VISIT].rows;
    const struct soil_sample *samples = set->of[NOUN_SOIL_SAMPLE].rows;
    const struct plant_record *records = set->of[NOUN_PLANT_RECORD].rows;
    for (size_t i = 0; i < set->of[NOUN_VISIT].n; i++)
        note_days(archive, visits[i].site_id, visits[i].plot_id, visits[i].from_on, visits[i].to_on);
    for (size_t i = 0; i < set->of[NOUN_WILDLIFE_VISIT].n; i++)
        note_days(archive, looks[i].site_id, looks[i].plot_id, looks[i].seen_on, DATE_UNKNOWN);
    for (size_t i = 0; i < set->of[NOUN_SOIL_SAMPLE].n; i++)
        note_days(archive, samples[i].site_id, samples[i].plot_id, samples[i].sampled_on, DATE_UNKNOWN);
    for (size_t i = 0; i < set->of[NOUN_PLANT_RECORD].n; i++) {
        const struct plant *plant = exchange_find(set, NOUN_PLANT, records[i].plant_id);
        if (plant != NULL)
            note_days(archive, 0, plant->plot_id, records[i].observed_on, DATE_UNKNOWN);
    }
}

static void add_places(struct archive *archive)
{
    const struct exchange_set *set = archive->set;
    const struct site *sites = set->of[NOUN_SITE].rows;
    const struct plot *plots = set->of[NOUN_PLOT].rows;
    for (size_t i = 0; i < set->of[NOUN_SITE].n; i++) {
        const char *id = exchange_uuid(set, NOUN_SITE, sites[i].id, archive->arena);
        struct place place = place_of(archive, sites[i].wkb);
        struct scope scope = nothing_scoped;
        scope.event = id, scope.sites = 1, scope.area_m2 = place.area_m2, scope.inventory = "open-ended";
        scope.complete = "notReported", scope.absence = scope.abundance = "false";
        event_add(archive, &(struct event){.id = id,
                                           .type = "Site",
                                           .days = interval(archive->arena, archive->sites[i].first, archive->sites[i].last),
                                           .location = sites[i].code,
                                           .place = place,
                                           .habitat = "urban ground, planted with native woody species",
                                           .size = NAN,
                                           .top_m = NAN,
                                           .bottom_m = NAN,
                                           .remarks = archive->sites[i].first == DATE_UNKNOWN ? "nothing was recorded here yet" : NULL});
        scope_add(archive, &scope);
    }
    for (size_t i = 0; i < set->of[NOUN_PLOT].n; i++) {
        const struct site *site = exchange_find(set, NOUN_SITE, plots[i].site_id);
        const char *id = exchange_uuid(set, NOUN_PLOT, plots[i].id, archive->arena);
        struct place place = place_of(archive, plots[i].wkb);
        struct scope scope = nothing_scoped;
        scope.event = id, scope.area_m2 = place.area_m2, scope.inventory = "open-ended";
        scope.complete = "notReported", scope.absence = scope.abundance = "false";
        char density[40] = "unknown";
        if (is_known(plots[i].density_m2))
            number_write(plots[i].density_m2, density);
        event_add(archive, &(struct event){.id = id,
                                           .parent = exchange_uuid(set, NOUN_SITE, plots[i].site_id, archive->arena),
                                           .type = "Plot",
                                           .days = interval(archive->arena, archive->plots[i].first, archive->plots[i].last),
                                           .location = site == NULL ? plots[i].code
                                                                    : arena_print(archive->arena, "%s/%s", site->code, plots[i].code),
                                           .place = place,
                                           .size = is_known(plots[i].net_area_m2) ? plots[i].net_area_m2 : place.area_m2,
                                           .size_unit = "m2",
                                           .top_m = NAN,
                                           .bottom_m = NAN,
                                           .remarks = arena_print(archive->arena, "treatment %s, %s plants per m2",
                                                                  word_of(WORDS_REGIME, (int)plots[i].regime), density)});
        scope_add(archive, &scope);
    }
}

/* ---- plants ------------------------------------------------------------------------------------------------------- */

static void visit_event(struct archive *archive, const char *id, const struct visit *visit, const struct plot *plot, size_t plants,
                        const struct span *days)
{
    char method[120];
    snprintf(method, sizeof method, "%s, %s", word_of(WORDS_VISIT_KIND, (int)visit->kind), word_of(WORDS_VISIT_METHOD, (int)visit->method));
    for (char *p = method; *p != '\0'; p++)
        if (*p == '_')
            *p = ' ';
    struct place place = place_of(archive, plot->wkb);
    event_add(archive, &(struct event){.id = id,
                                       .parent = exchange_uuid(archive->set, NOUN_PLOT, plot->id, archive->arena),
                                       .type = "SiteVisit",
                                       .days = interval(archive->arena, days->first, days->last),
                                       .protocol = arena_text(archive->arena, method),
                                       .size = (double)plants,
                                       .size_unit = "plants",
                                       .location = plot->code,
                                       .place = place,
                                       .top_m = NAN,
                                       .bottom_m = NAN,
                                       .effort = arena_print(archive->arena, "%zu plants looked at", plants)});
    struct scope scope = nothing_scoped;
    scope.event = id, scope.area_m2 = place.area_m2, scope.inventory = "restricted search",
    scope.protocol = arena_text(archive->arena, method);
    scope.taxa = "planted individuals of the plot", scope.establishment = "cultivated";
    scope.complete = "notReported", scope.absence = "true", scope.abundance = "false";
    scope.effort = (double)plants, scope.effort_unit = "plants", scope.effort_how = "each planted individual of the method is looked for";
    scope_add(archive, &scope);
}

static void plant_occurrence(struct archive *archive, const char *event, const struct plant_record *record, const struct plant *plant)
{
    struct term_sheet *sheet = &archive->occurrences;
    const struct exchange_set *set = archive->set;
    const char *id = exchange_uuid(set, NOUN_PLANT_RECORD, record->id, archive->arena);
    bool seen = record->status == STATUS_ALIVE || record->status == STATUS_ALIVE_DIEBACK || record->status == STATUS_RESPROUTING ||
                record->status == STATUS_DEAD_STANDING;
    bool wild = plant->origin == ORIGIN_NATURAL_ARRIVAL;
    bool dead = record->status == STATUS_DEAD_STANDING;
    terms_cell(sheet, event);
    terms_cell(sheet, id);
    terms_cell(sheet, exchange_uuid(set, NOUN_PLANT, plant->id, archive->arena));
    terms_cell(sheet, "HumanObservation");
    terms_cell(sheet, seen ? "present" : "absent");
    terms_cell(sheet, seen ? "1" : "0");
    terms_cell(sheet, record->species_seen == NULL ? plant->species : record->species_seen);
    terms_cell(sheet, "Plantae");
    terms_cell(sheet, !seen ? NULL : dead ? "dead" : "alive");
    terms_cell(sheet, dead && record->damage > DAMAGE_AGENT_NONE ? word_of(WORDS_DAMAGE_AGENT, (int)record->damage) : NULL);
    terms_cell(sheet, wild ? "uncertain" : "introducedAssistedColonisation");
    terms_cell(sheet, wild ? NULL : "cultivated");
    terms_cell(sheet, wild ? NULL : "landscapeFloraFaunaImprovement");
    terms_cell(sheet, record->observer);
    terms_cell(sheet, NULL);
    terms_cell(sheet, NULL);
    terms_cell(sheet, arena_print(archive->arena, "%s; state %s%s",
                                  wild ? "came by itself in a planted wood, perhaps offspring of planted stock"
                                       : "planted by people; not a wild record",
                                  word_of(WORDS_STATUS, (int)record->status),
                                  record->status == STATUS_NOT_FOUND ? " (neither alive nor dead is known)" : ""));
    terms_end_row(sheet);
    measure(archive, event, id, id, "height_to_living_tip", record->height_cm, NULL, "cm", "from the soil", record->observed_on);
    measure(archive, event, id, id, "stem_diameter", record->diameter_mm, NULL, "mm",
            word_of(WORDS_DIAMETER_HEIGHT, (int)record->diameter_at), record->observed_on);
    measure(archive, event, id, id, "crown_width", record->crown_cm, NULL, "cm", NULL, record->observed_on);
    if (record->damage > DAMAGE_AGENT_NONE)
        measure(archive, event, id, id, "damage_agent", NAN, word_of(WORDS_DAMAGE_AGENT, (int)record->damage), NULL,
                record->damage_part > 0 ? word_of(WORDS_DAMAGE_PART, (int)record->damage_part) : NULL, record->observed_on);
    measure(archive, event, id, id, "damage_extent", record->damage_pct, NULL, "%", NULL, record->observed_on);
}

struct looked {
    size_t record, visit, plot;
};

static int by_visit_plot(const void *a, const void *b)
{
    const struct looked *p = a, *q = b;
    if (p->visit != q->visit)
        return p->visit < q->visit ? -1 : 1;
    if (p->plot != q->plot)
        return p->plot < q->plot ? -1 : 1;
    return p->record < q->record ? -1 : p->record > q->record;
}

/* A visit may cover several plots: an event for each, with the plants looked at there. */
static void add_plants(struct archive *archive)
{
    const struct exchange_set *set = archive->set;
    const struct plant_record *records = set->of[NOUN_PLANT_RECORD].rows;
    const struct visit *visits = set->of[NOUN_VISIT].rows;
    const struct plot *plots = set->of[NOUN_PLOT].rows;
    size_t n = 0;
    struct looked *list = arena_array(archive->arena, set->of[NOUN_PLANT_RECORD].n + 1, sizeof *list);
    for (size_t i = 0; i < set->of[NOUN_PLANT_RECORD].n; i++) {
        const struct plant *plant = exchange_find(set, NOUN_PLANT, records[i].plant_id);
        struct looked one = {i, exchange_row(set, NOUN_VISIT, records[i].visit_id),
                             plant == NULL ? SIZE_MAX : exchange_row(set, NOUN_PLOT, plant->plot_id)};
        if (one.visit != SIZE_MAX && one.plot != SIZE_MAX)
            list[n++] = one;
    }
    qsort(list, n, sizeof *list, by_visit_plot);
    for (size_t i = 0, j = 0; i < n; i = j) {
        struct span days = {DATE_UNKNOWN, DATE_UNKNOWN};
        for (j = i; j < n && list[j].visit == list[i].visit && list[j].plot == list[i].plot; j++)
            span_add(&days, records[list[j].record].observed_on, DATE_UNKNOWN);
        const struct visit *visit = &visits[list[i].visit];
        const struct plot *plot = &plots[list[i].plot];
        const char *id = arena_print(archive->arena, "%s:%s", exchange_uuid(set, NOUN_VISIT, visit->id, archive->arena),
                                     exchange_uuid(set, NOUN_PLOT, plot->id, archive->arena));
        visit_event(archive, id, visit, plot, j - i, &days);
        for (size_t k = i; k < j; k++)
            plant_occurrence(archive, id, &records[list[k].record], exchange_find(set, NOUN_PLANT, records[list[k].record].plant_id));
    }
}

/* ---- wildlife ----------------------------------------------------------------------------------------------------- */

static const char *kingdom_of(enum wildlife_group group)
{
    return group == WILDLIFE_GROUP_FUNGI                                              ? "Fungi"
           : group == WILDLIFE_GROUP_FIELD_LAYER || group == WILDLIFE_GROUP_PHENOLOGY ? "Plantae"
                                                                                      : NULL;
}

static void wildlife_occurrence(struct archive *archive, const char *event, const char *id, const struct wildlife_visit *look,
                                const struct wildlife_record *record, const char *withheld, const char *generalised)
{
    struct term_sheet *sheet = &archive->occurrences;
    bool absent = record->count == 0;
    terms_cell(sheet, event);
    terms_cell(sheet, id);
    terms_cell(sheet, NULL);
    terms_cell(sheet, "HumanObservation");
    terms_cell(sheet, absent ? "absent" : "present");
    terms_cell(sheet, record->count == INT_UNKNOWN ? NULL : arena_print(archive->arena, "%lld", (long long)record->count));
    terms_cell(sheet, record->taxon);
    terms_cell(sheet, kingdom_of(look->group));
    for (int i = 0; i < 5; i++)
        terms_cell(sheet, NULL);
    terms_cell(sheet, withheld == NULL ? look->observers : NULL);
    terms_cell(sheet, withheld);
    terms_cell(sheet, generalised);
    terms_cell(sheet, NULL);
    terms_end_row(sheet);
}

static void look_event(struct archive *archive, const char *id, const struct wildlife_visit *look)
{
    const struct exchange_set *set = archive->set;
    const struct plot *plot = look->plot_id == 0 ? NULL : exchange_find(set, NOUN_PLOT, look->plot_id);
    const struct site *site = exchange_find(set, NOUN_SITE, look->site_id);
    struct place place = place_of(archive, plot != NULL ? plot->wkb : site != NULL ? site->wkb : (struct bytes){0});
    bool effort = is_known(look->effort_value) && look->effort_unit != NULL;
    char number[40] = "";
    if (effort)
        number_write(look->effort_value, number);
    event_add(archive, &(struct event){.id = id,
                                       .parent = plot != NULL ? exchange_uuid(set, NOUN_PLOT, plot->id, archive->arena)
                                                              : exchange_uuid(set, NOUN_SITE, look->site_id, archive->arena),
                                       .type = "Survey",
                                       .days = interval(archive->arena, look->seen_on, DATE_UNKNOWN),
                                       .protocol = look->protocol,
                                       .size = is_known(look->area_m2) ? look->area_m2 : NAN,
                                       .size_unit = "m2",
                                       .top_m = NAN,
                                       .bottom_m = NAN,
                                       .effort = effort ? arena_print(archive->arena, "%s %s", number, look->effort_unit) : NULL,
                                       .location = plot != NULL   ? plot->code
                                                   : site != NULL ? site->code
                                                                  : NULL,
                                       .place = place,
                                       .remarks = look->nothing_seen == TRUTH_YES ? "looked and saw nothing" : NULL});
    struct scope scope = nothing_scoped;
    scope.event = id, scope.area_m2 = place.area_m2, scope.sampled_m2 = look->area_m2, scope.minutes = look->minutes;
    scope.inventory = "restricted search", scope.protocol = look->protocol, scope.taxa = word_of(WORDS_WILDLIFE_GROUP, (int)look->group);
    scope.complete = "notReported", scope.abundance = "true";
    scope.absence = look->nothing_seen == TRUTH_YES ? "true" : "false";
    scope.effort = effort ? look->effort_value : is_known(look->minutes) ? look->minutes : NAN;
    scope.effort_unit = effort ? look->effort_unit : "min", scope.effort_how = look->protocol == NULL ? "as recorded" : look->protocol;
    scope_add(archive, &scope);
}

static void add_wildlife(struct archive *archive, const struct exchange_set *whole)
{
    const struct exchange_set *set = archive->set;
    const struct wildlife_visit *looks = set->of[NOUN_WILDLIFE_VISIT].rows;
    const struct wildlife_record *records = set->of[NOUN_WILDLIFE_RECORD].rows;
    bool blur = !archive->terms->keep_places;
    for (size_t i = 0; i < set->of[NOUN_WILDLIFE_VISIT].n; i++)
        look_event(archive, exchange_uuid(set, NOUN_WILDLIFE_VISIT, looks[i].id, archive->arena), &looks[i]);
    for (size_t i = 0; i < set->of[NOUN_WILDLIFE_RECORD].n; i++) {
        const struct wildlife_visit *look = exchange_find(set, NOUN_WILDLIFE_VISIT, records[i].wildlife_visit_id);
        if (look != NULL && !(blur && records[i].sensitive == TRUTH_YES))
            wildlife_occurrence(archive, exchange_uuid(set, NOUN_WILDLIFE_VISIT, look->id, archive->arena),
                                exchange_uuid(set, NOUN_WILDLIFE_RECORD, records[i].id, archive->arena), look, &records[i], NULL, NULL);
    }
    /* sensitive ones: the taxon as it is, in a square of 10 km and a year, under keys that lead nowhere */
    const struct wildlife_record *kept = whole->of[NOUN_WILDLIFE_RECORD].rows;
    size_t n = 0;
    for (size_t i = 0; blur && i < whole->of[NOUN_WILDLIFE_RECORD].n; i++) {
        const struct wildlife_visit *look = exchange_find(whole, NOUN_WILDLIFE_VISIT, kept[i].wildlife_visit_id);
        if (kept[i].sensitive != TRUTH_YES || look == NULL)
            continue;
        const struct site *site = exchange_find(whole, NOUN_SITE, look->site_id);
        const char *id = arena_print(archive->arena, "sensitive-%zu", ++n);
        struct place place = {unknown_real(), unknown_real(), unknown_real(), unknown_real()};
        struct shape shape;
        struct failure ignored;
        double xy[2];
        if (site != NULL && site->wkb.n > 0 && archive->way != NULL &&
            shape_from_wkb(site->wkb, archive->arena, &shape, &ignored) == OUTCOME_OK) {
            shape_centre(&shape, &xy[0], &xy[1]);
            for (int k = 0; k < 2; k++)
                xy[k] = (floor(xy[k] / 10000) + 0.5) * 10000;
            if (crs_way_points(archive->way, xy, 1, &ignored) == OUTCOME_OK)
                place = (struct place){.longitude = xy[0], .latitude = xy[1], .off_m = 7072, .area_m2 = unknown_real()};
        }
        int year = 0, month, day;
        if (look->seen_on != DATE_UNKNOWN)
            date_parts(look->seen_on, &year, &month, &day);
        event_add(archive, &(struct event){.id = id,
                                           .type = "Survey",
                                           .days = year == 0 ? NULL : arena_print(archive->arena, "%04d", year),
                                           .size = NAN,
                                           .top_m = NAN,
                                           .bottom_m = NAN,
                                           .place = place,
                                           .generalised = "place given as a square of 10 km, day as its year"});
        struct scope scope = nothing_scoped;
        scope.event = id, scope.inventory = "restricted search", scope.complete = "notReported", scope.absence = "false",
        scope.abundance = "true";
        scope_add(archive, &scope);
        wildlife_occurrence(archive, id, id, look, &kept[i], "day, plot and observer", "place given as a square of 10 km, day as its year");
    }
}

/* ---- soil --------------------------------------------------------------------------------------------------------- */

static void add_soil(struct archive *archive)
{
    const struct exchange_set *set = archive->set;
    const struct soil_sample *samples = set->of[NOUN_SOIL_SAMPLE].rows;
    const struct noun_info *info = &noun_infos[NOUN_SOIL_SAMPLE];
    for (size_t i = 0; i < set->of[NOUN_SOIL_SAMPLE].n; i++) {
        const char *id = exchange_uuid(set, NOUN_SOIL_SAMPLE, samples[i].id, archive->arena);
        const struct plot *plot = samples[i].plot_id == 0 ? NULL : exchange_find(set, NOUN_PLOT, samples[i].plot_id);
        const struct site *site = exchange_find(set, NOUN_SITE, samples[i].site_id);
        struct place place = place_of(archive, plot != NULL ? plot->wkb : site != NULL ? site->wkb : (struct bytes){0});
        event_add(archive, &(struct event){.id = id,
                                           .parent = plot != NULL ? exchange_uuid(set, NOUN_PLOT, plot->id, archive->arena)
                                                                  : exchange_uuid(set, NOUN_SITE, samples[i].site_id, archive->arena),
                                           .type = "Sample",
                                           .days = interval(archive->arena, samples[i].sampled_on, DATE_UNKNOWN),
                                           .protocol = "soil sample by depth below the mineral surface",
                                           .size = NAN,
                                           .top_m = samples[i].depth_top_cm / 100,
                                           .bottom_m = samples[i].depth_bottom_cm / 100,
                                           .place = place,
                                           .location = plot != NULL   ? plot->code
                                                       : site != NULL ? site->code
                                                                      : NULL,
                                           .remarks = samples[i].composite == NULL
                                                          ? NULL
                                                          : arena_print(archive->arena, "composite %s", samples[i].composite)});
        struct scope scope = nothing_scoped;
        scope.event = id, scope.complete = "notReported", scope.absence = scope.abundance = "false", scope.material = "true";
        scope_add(archive, &scope);
        for (size_t j = 0; j < info->n_fields; j++) {
            const struct field *field = &info->fields[j];
            const char *at = (const char *)&samples[i] + field->offset;
            bool depth = strncmp(field->name, "depth_", 6) == 0;
            if (depth || field_unknown(field, &samples[i]))
                continue;
            const char *method = strcmp(field->name, "ph") == 0 && samples[i].ph_method > 0
                                     ? word_of(WORDS_PH_METHOD, (int)samples[i].ph_method)
                                 : strcmp(field->name, "soc_pct") == 0 && samples[i].carbon_method > 0
                                     ? word_of(WORDS_CARBON_METHOD, (int)samples[i].carbon_method)
                                     : NULL;
            if (field->kind == FIELD_REAL)
                measure(archive, id, NULL, id, field->name, *(const double *)(const void *)at, NULL, field->unit, method,
                        samples[i].sampled_on);
            else if (field->kind == FIELD_INT)
                measure(archive, id, NULL, id, field->name, (double)*(const int64_t *)(const void *)at, NULL, field->unit, method,
                        samples[i].sampled_on);
        }
    }
}

/* ------------------------------------------------------------------------------------------------------------------- */

static void add_sheet(struct term_sheet *sheet, struct arena *arena, struct exchange_files *files)
{
    exchange_add(files, arena_print(arena, "darwin_core/%s", sheet->file), text_get(&sheet->csv), sheet->csv.n, arena);
}

enum outcome exchange_darwin_core(const struct exchange_set *set, const struct exchange_set *whole, const struct exchange_terms *terms,
                                  struct arena *arena, struct exchange_files *files, struct failure *why)
{
    struct archive archive = {.set = set,
                              .terms = terms,
                              .arena = arena,
                              .box_deg = {INFINITY, INFINITY, -INFINITY, -INFINITY},
                              .all = {DATE_UNKNOWN, DATE_UNKNOWN}};
    const struct programme *programme = exchange_programme(set);
    enum outcome outcome = programme == NULL
                               ? fail(why, OUTCOME_DATA, "There is no programme to write.")
                               : crs_way_new(arena_print(arena, "EPSG:%lld", (long long)programme->crs), "EPSG:4326", &archive.way, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    archive.sites = arena_array(arena, set->of[NOUN_SITE].n + 1, sizeof *archive.sites);
    archive.plots = arena_array(arena, set->of[NOUN_PLOT].n + 1, sizeof *archive.plots);
    for (size_t i = 0; i < set->of[NOUN_SITE].n; i++)
        archive.sites[i] = (struct span){DATE_UNKNOWN, DATE_UNKNOWN};
    for (size_t i = 0; i < set->of[NOUN_PLOT].n; i++)
        archive.plots[i] = (struct span){DATE_UNKNOWN, DATE_UNKNOWN};
    terms_begin(&archive.events, "event.csv", "http://rs.tdwg.org/dwc/terms/Event", event_terms);
    terms_begin(&archive.occurrences, "occurrence.csv", "http://rs.tdwg.org/dwc/terms/Occurrence", occurrence_terms);
    terms_begin(&archive.measurements, "measurement.csv", "http://rs.iobis.org/obis/terms/ExtendedMeasurementOrFact", measurement_terms);
    terms_begin(&archive.scopes, "humboldt.csv", "http://rs.tdwg.org/eco/terms/Event", humboldt_terms);
    days_of_all(&archive);
    add_places(&archive);
    add_plants(&archive);
    add_wildlife(&archive, whole);
    add_soil(&archive);
    struct text meta = {0}, eml = {0};
    text_add(&meta, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<archive xmlns=\"http://rs.tdwg.org/dwc/text/\" metadata=\"eml.xml\">\n");
    terms_meta(&archive.events, true, &meta);
    terms_meta(&archive.occurrences, false, &meta);
    terms_meta(&archive.measurements, false, &meta);
    terms_meta(&archive.scopes, false, &meta);
    text_add(&meta, "</archive>\n");
    exchange_eml(set, terms, archive.box_deg, archive.all.first, archive.all.last, arena, &eml);
    add_sheet(&archive.events, arena, files);
    add_sheet(&archive.occurrences, arena, files);
    add_sheet(&archive.measurements, arena, files);
    add_sheet(&archive.scopes, arena, files);
    exchange_add(files, "darwin_core/meta.xml", text_get(&meta), meta.n, arena);
    exchange_add(files, "darwin_core/eml.xml", text_get(&eml), eml.n, arena);
    text_free(&archive.events.csv);
    text_free(&archive.occurrences.csv);
    text_free(&archive.measurements.csv);
    text_free(&archive.scopes.csv);
    text_free(&meta);
    text_free(&eml);
    crs_way_free(archive.way);
    return OUTCOME_OK;
}
