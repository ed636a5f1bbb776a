/* SPDX-License-Identifier: GPL-3.0-or-later
 * Loading a plot for the look ahead. */
#include "work/stand_load.h"
#include "ground/ground.h"
#include "water/water.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static void unknown_add(struct stand_start *out, struct arena *arena, const char *words)
{
    if (out->unknown == NULL)
        out->unknown = arena_array(arena, 32, sizeof *out->unknown);
    if (out->n_unknown < 32)
        out->unknown[out->n_unknown++] = words;
}

static enum outcome kind_find(struct stand_start *out, const char *species, enum layer layer, struct arena *arena, uint32_t *kind,
                              struct failure *why)
{
    for (size_t k = 0; k < out->n_kinds; k++)
        if (text_same(out->kinds[k].name, species)) {
            *kind = (uint32_t)k;
            return OUTCOME_OK;
        }
    struct species_match match;
    enum outcome outcome = species_find(&out->library, species, arena, &match, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct stand_traits traits = {.name = species,
                                  .layer = layer,
                                  .height_most_m = unknown_real(),
                                  .shade = unknown_real(),
                                  .drought = unknown_real(),
                                  .wood_g_cm3 = unknown_real(),
                                  .height_20_m = unknown_real()};
    if (match.fact != NULL) {
        traits.layer = match.fact->layer != LAYER_UNKNOWN ? match.fact->layer : layer;
        traits.height_most_m = match.fact->height_most_m;
        traits.shade = match.fact->shade.value;
        traits.drought = match.fact->drought.value;
        traits.growth = (int)match.fact->growth;
        traits.height_20_m = match.fact->height_20_years_m;
    } else {
        unknown_add(out, arena, arena_print(arena, "%s is not in the species library: it grows as the middle of its layer.", species));
    }
    out->kinds = memory_resize(out->kinds, out->n_kinds + 1, sizeof *out->kinds);
    out->kinds[out->n_kinds] = stand_kind_of(&traits);
    *kind = (uint32_t)out->n_kinds++;
    return OUTCOME_OK;
}

/* "40-60" → 0.5 m; unknown: 0.5 m. */
static double nursery_height_m(const struct species_library *library, const char *species, struct arena *arena)
{
    struct species_match match;
    struct failure why;
    double low = 0, high = 0;
    if (species_find(library, species, arena, &match, &why) == OUTCOME_OK && match.fact != NULL && match.fact->size_cm != NULL &&
        sscanf(match.fact->size_cm, "%lf-%lf", &low, &high) == 2 && low >= 5 && high <= 300)
        return (low + high) / 200;
    return 0.5;
}

static enum outcome planned_load(const struct job_context *context, int64_t version, struct stand_start *out, struct arena *arena,
                                 struct failure *why)
{
    struct plan plan;
    struct position *positions = NULL;
    size_t n = 0;
    enum outcome outcome = load_plan(context->store, &out->ground.plot, version, arena, &plan, why);
    if (outcome == OUTCOME_OK)
        outcome = plan_parts_load(context->store, plan.id, arena, NULL, NULL, &positions, &n, NULL, NULL, why);
    if (outcome == OUTCOME_OK && n == 0) {
        fail(why, OUTCOME_DATA, "Plan %lld of plot %s has no places yet.", (long long)plan.version, out->ground.plot.code);
        return failure_remedy(why, "Lay it out first.");
    }
    out->plants = arena_array(arena, n + 1, sizeof *out->plants);
    out->plant_id = arena_array(arena, n + 1, sizeof *out->plant_id);
    out->planted_on = arena_array(arena, n + 1, sizeof *out->planted_on);
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        struct stand_plant *plant = &out->plants[i];
        *plant = (struct stand_plant){.x_m = positions[i].x_m, .y_m = positions[i].y_m, .diameter_cm = unknown_real()};
        plant->height_m = nursery_height_m(&out->library, positions[i].species, arena);
        out->planted_on[i] = DATE_UNKNOWN;
        outcome = kind_find(out, positions[i].species, positions[i].layer, arena, &plant->kind, why);
        out->n_plants++;
    }
    return outcome;
}

static int by_id(const void *a, const void *b)
{
    int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

/* Where a plant without its own point stands: the middle of the plot, scattered; said. */
static void place_missing(struct stand_start *out, size_t i, struct random_stream *r)
{
    struct box box = shape_box(&out->ground.outline);
    for (int k = 0; k < 200; k++) {
        out->plants[i].x_m = box.x_least + random_uniform(r) * (box.x_most - box.x_least);
        out->plants[i].y_m = box.y_least + random_uniform(r) * (box.y_most - box.y_least);
        if (shape_contains(&out->ground.outline, out->plants[i].x_m, out->plants[i].y_m))
            return;
    }
}

struct plant_key {
    int64_t id;
    size_t at;
};

static enum outcome plants_fill(struct stand_start *out, const struct plant *plants, size_t n, struct plant_key *keys, struct arena *arena,
                                struct failure *why)
{
    struct random_stream r = random_make((uint64_t)out->ground.plot.id, 17);
    size_t scattered = 0;
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        struct stand_plant *plant = &out->plants[out->n_plants];
        *plant = (struct stand_plant){.x_m = plants[i].x_m, .y_m = plants[i].y_m, .diameter_cm = unknown_real()};
        if (!is_known(plant->x_m) || !is_known(plant->y_m)) {
            place_missing(out, out->n_plants, &r);
            scattered++;
        }
        plant->height_m = nursery_height_m(&out->library, plants[i].species, arena);
        out->planted_on[out->n_plants] = plants[i].planted_on != DATE_UNKNOWN ? plants[i].planted_on : out->ground.plot.planted_on;
        outcome = kind_find(out, plants[i].species, plants[i].layer, arena, &plant->kind, why);
        out->plant_id[out->n_plants] = plants[i].id;
        keys[i] = (struct plant_key){plants[i].id, out->n_plants++};
    }
    if (scattered > 0)
        unknown_add(out, arena,
                    arena_print(arena, "%zu plants have no recorded place and were scattered over the plot by lot.", scattered));
    return outcome;
}

int stand_seasons(const struct stand_start *start, int32_t from, int32_t to)
{
    int year = 0, month = 0, day = 0, seasons = 0;
    if (from == DATE_UNKNOWN || to == DATE_UNKNOWN)
        return 0;
    date_parts(from < to ? from : to, &year, &month, &day);
    for (int32_t summer = date_make(year, start->latitude_deg < 0 ? 1 : 7, 1); summer <= (from < to ? to : from);
         summer = date_make(++year, start->latitude_deg < 0 ? 1 : 7, 1))
        seasons += summer > (from < to ? from : to);
    return from < to ? seasons : -seasons;
}

/* A census while it is put together. */
struct census {
    int32_t on;
    unsigned char *fate;
    double *height_m, *diameter_cm;
};

static int census_by_date(const void *a, const void *b)
{
    const struct census *x = a, *y = b;
    return (x->on > y->on) - (x->on < y->on);
}

static struct census *census_of(struct census *censuses, size_t *n, size_t n_plants, int32_t on, struct arena *arena)
{
    for (size_t c = 0; c < *n; c++)
        if (abs(censuses[c].on - on) < 45) /* one round of a plot may take some weeks */
            return &censuses[c];
    struct census *census = &censuses[(*n)++];
    census->on = on;
    census->fate = arena_alloc(arena, n_plants + 1);
    census->height_m = arena_array(arena, n_plants + 1, sizeof(double));
    census->diameter_cm = arena_array(arena, n_plants + 1, sizeof(double));
    for (size_t i = 0; i < n_plants; i++)
        census->height_m[i] = census->diameter_cm[i] = unknown_real();
    return census;
}

static int record_by_day(const void *a, const void *b)
{
    const struct plant_record *x = a, *y = b;
    return x->observed_on != y->observed_on ? (x->observed_on > y->observed_on) - (x->observed_on < y->observed_on)
                                            : (x->id > y->id) - (x->id < y->id);
}

static enum stand_fate fate_of(enum status status)
{
    switch (status) {
    case STATUS_ALIVE:
    case STATUS_ALIVE_DIEBACK:
    case STATUS_RESPROUTING:
        return FATE_ALIVE;
    case STATUS_DEAD_STANDING:
    case STATUS_MISSING:
    case STATUS_REPLACED:
        return FATE_DEAD;
    default: /* not found, taken out for another reason */
        return FATE_UNKNOWN;
    }
}

static void record_take(struct census *census, size_t at, const struct plant_record *record)
{
    census->fate[at] = (unsigned char)fate_of(record->status);
    if (is_known(record->height_cm) && record->height_cm > 0)
        census->height_m[at] = record->height_cm / 100;
    if (is_known(record->diameter_mm) && record->diameter_mm > 0 &&
        (record->diameter_at == DIAMETER_HEIGHT_ROOT_COLLAR || record->diameter_at == DIAMETER_HEIGHT_AT_10_CM))
        census->diameter_cm[at] = record->diameter_mm / 10;
}

/* Whether somebody who was not found was seen alive later. */
static void fates_mend(struct census *censuses, size_t n, size_t n_plants)
{
    for (size_t i = 0; i < n_plants; i++) {
        bool later = false;
        for (size_t c = n; c > 0; c--) {
            if (later && censuses[c - 1].fate[i] == FATE_DEAD)
                censuses[c - 1].fate[i] = FATE_ALIVE;
            later = later || censuses[c - 1].fate[i] == FATE_ALIVE;
        }
    }
}

static void history_fill(struct stand_start *out, struct census *censuses, size_t n, struct arena *arena)
{
    struct stand_census *rows = arena_array(arena, n + 1, sizeof *rows);
    out->census_on = arena_array(arena, n + 1, sizeof *out->census_on);
    for (size_t c = 0; c < n; c++) {
        int32_t before = c > 0 ? censuses[c - 1].on : out->ground.plot.planted_on;
        out->census_on[c] = censuses[c].on;
        rows[c] = (struct stand_census){.fate = censuses[c].fate,
                                        .height_m = censuses[c].height_m,
                                        .diameter_cm = censuses[c].diameter_cm,
                                        .seasons = stand_seasons(out, before, censuses[c].on)};
    }
    for (size_t i = 0; n > 0 && i < out->n_plants; i++)
        out->plants[i].age = out->planted_on[i] == DATE_UNKNOWN ? 1 : stand_seasons(out, out->planted_on[i], censuses[0].on);
    out->censuses = rows;
    out->history = (struct stand_history){out->plants, out->n_plants, rows, n};
}

static enum outcome censuses_fill(const struct job_context *context, struct stand_start *out, struct plant_key *keys, int32_t as_of,
                                  struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, kept = 0, n_censuses = 0;
    qsort(keys, out->n_plants, sizeof *keys, by_id);
    enum outcome outcome = load_all(context->store, NOUN_PLANT_RECORD, arena, &rows, &n, why);
    struct plant_record *records = rows;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        if (records[i].repeat != TRUTH_YES && (as_of == DATE_UNKNOWN || records[i].observed_on <= as_of) &&
            bsearch(&records[i].plant_id, keys, out->n_plants, sizeof *keys, by_id) != NULL)
            records[kept++] = records[i];
    if (outcome != OUTCOME_OK)
        return outcome;
    qsort(records, kept, sizeof *records, record_by_day);
    struct census *censuses = arena_array(arena, kept + 1, sizeof *censuses);
    for (size_t i = 0; i < kept; i++) {
        const struct plant_key *key = bsearch(&records[i].plant_id, keys, out->n_plants, sizeof *keys, by_id);
        record_take(census_of(censuses, &n_censuses, out->n_plants, records[i].observed_on, arena), key->at, &records[i]);
    }
    qsort(censuses, n_censuses, sizeof *censuses, census_by_date);
    fates_mend(censuses, n_censuses, out->n_plants);
    size_t full = 0; /* a visit to a few plants is no census to start from */
    for (size_t c = 0; c < n_censuses; c++) {
        size_t seen = 0;
        for (size_t i = 0; i < out->n_plants; i++)
            seen += censuses[c].fate[i] != FATE_UNKNOWN;
        if (10 * seen >= 3 * out->n_plants)
            censuses[full++] = censuses[c];
    }
    if (full < n_censuses)
        unknown_add(
            out, arena,
            arena_print(arena, "%zu visits that saw fewer than three plants in ten were not taken as a census.", n_censuses - full));
    history_fill(out, censuses, full, arena);
    return OUTCOME_OK;
}

static enum outcome recorded_load(const struct job_context *context, struct stand_start *out, int32_t as_of, struct arena *arena,
                                  struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_of(context->store, NOUN_PLANT, "plot_id", out->ground.plot.id, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    struct plant_key *keys = arena_array(arena, n, sizeof *keys);
    out->plants = arena_array(arena, n + 1, sizeof *out->plants);
    out->plant_id = arena_array(arena, n + 1, sizeof *out->plant_id);
    out->planted_on = arena_array(arena, n + 1, sizeof *out->planted_on);
    out->recorded = true;
    outcome = plants_fill(out, rows, n, keys, arena, why);
    return outcome == OUTCOME_OK ? censuses_fill(context, out, keys, as_of, arena, why) : outcome;
}

void stand_begin(const struct stand_start *start, struct arena *arena, struct stand_plant **plants, size_t *n, size_t *n_assumed)
{
    size_t *which = NULL;
    *n_assumed = 0;
    *plants = start->plants;
    *n = start->n_plants;
    if (start->history.n_censuses > 0)
        stand_state(&start->history, start->history.n_censuses - 1, arena, plants, &which, n, n_assumed);
}

int32_t stand_begin_on(const struct stand_start *start)
{
    if (start->history.n_censuses > 0)
        return start->census_on[start->history.n_censuses - 1];
    return start->recorded ? start->ground.plot.planted_on : DATE_UNKNOWN;
}

/* Buildings, walls and trees beside the plot, as far as their height is recorded. */
static enum outcome shades_load(struct stand_start *out, struct arena *arena, struct failure *why)
{
    const struct site_facts *facts = &out->ground.facts;
    out->shades = arena_array(arena, facts->n_constraints + 1, sizeof *out->shades);
    size_t unmeasured = 0;
    for (size_t i = 0; i < facts->n_constraints; i++) {
        const struct constraint *c = &facts->constraints[i];
        bool tree = c->kind == CONSTRAINT_KIND_EXISTING_TREE || c->kind == CONSTRAINT_KIND_VETERAN_TREE;
        if (!tree && c->kind != CONSTRAINT_KIND_BUILDING && c->kind != CONSTRAINT_KIND_WALL)
            continue;
        if (!is_known(c->height_m) && !(tree && is_known(c->canopy_radius_m))) {
            unmeasured++;
            continue;
        }
        struct shape *shape = arena_alloc(arena, sizeof *shape);
        enum outcome outcome = load_shape(c->wkb, arena, shape, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        if (shape->kind == SHAPE_NONE)
            continue;
        out->shades[out->n_shades++] = (struct stand_shade){.shape = shape,
                                                            .height_m = is_known(c->height_m) ? c->height_m : 2 * c->canopy_radius_m,
                                                            .reach_m = tree && is_known(c->canopy_radius_m) ? c->canopy_radius_m : 0,
                                                            .through = tree ? 0.15 : 0};
    }
    if (unmeasured > 0)
        unknown_add(out, arena,
                    arena_print(arena, "%zu buildings, walls or trees beside the plot have no height and cast no shade here.", unmeasured));
    return OUTCOME_OK;
}

static enum outcome latitude_find(struct stand_start *out, struct arena *arena, struct failure *why)
{
    struct crs_way *way = NULL;
    double xy[2];
    out->latitude_deg = 52;
    shape_centre(&out->ground.outline, &xy[0], &xy[1]);
    enum outcome outcome = crs_way_new(crs_code(&out->ground.programme, arena), "EPSG:4326", &way, why);
    if (outcome == OUTCOME_OK)
        outcome = crs_way_points(way, xy, 1, why);
    if (outcome == OUTCOME_OK)
        out->latitude_deg = fmin(66, fmax(-66, xy[1]));
    crs_way_free(way);
    return outcome;
}

static enum outcome prepared_find(const struct job_context *context, struct stand_start *out, struct arena *arena, struct failure *why)
{
    enum regime regime = out->ground.plot.regime;
    out->prepared = regime == REGIME_DENSE_PREPARED || regime == REGIME_SPARSE_PREPARED;
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(context->store, NOUN_PREPARATION, arena, &rows, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct preparation *preparation = (const struct preparation *)rows + i;
        if (preparation->id == out->ground.plot.preparation_id && is_known(preparation->loosened_depth_m))
            out->prepared = preparation->loosened_depth_m > 0;
    }
    return outcome;
}

/* Mean stress of a season, April to September (north) or October to March (south), of each year that has the days. */
static void water_years(struct stand_start *out, const struct weather_series *weather, const struct balance_day *days, struct arena *arena)
{
    bool north = out->latitude_deg >= 0;
    out->water = arena_array(arena, weather->n / 365 + 3, sizeof *out->water);
    out->water_year = arena_array(arena, weather->n / 365 + 3, sizeof *out->water_year);
    double season[400];
    size_t n = 0;
    for (size_t i = 0; i <= weather->n; i++) {
        int year = 0, month = 0, day = 0;
        if (i < weather->n)
            date_parts(weather->day[i], &year, &month, &day);
        bool in = i < weather->n && (north ? month >= 4 && month <= 9 : month >= 10 || month <= 3);
        if (in && n < 400)
            season[n++] = days[i].stress;
        if (in || n == 0)
            continue;
        double factor = n >= 150 ? stand_water_of_season(season, n) : unknown_real();
        if (is_known(factor)) {
            date_parts(weather->day[i - 1], &year, &month, &day);
            out->water_year[out->n_water] = year;
            out->water[out->n_water++] = fmin(1, fmax(0, factor));
        }
        n = 0;
    }
}

/* Mean of what the upper 40 cm were found to be, of the plot where it has samples, else of the site. False: no texture measured. */
static bool samples_mean(const struct soil_sample *samples, size_t n, int64_t plot, struct soil_water_input *in)
{
    double sand = 0, clay = 0, organic = 0, stones = 0;
    size_t m = 0, m_organic = 0, m_stones = 0;
    for (size_t i = 0; i < n; i++) {
        const struct soil_sample *one = &samples[i];
        if ((plot > 0 && one->plot_id != plot) || !is_known(one->sand_pct) || !is_known(one->clay_pct) || one->depth_top_cm >= 40)
            continue;
        sand += one->sand_pct;
        clay += one->clay_pct;
        m++;
        if (is_known(one->soc_pct)) {
            organic += 1.724 * one->soc_pct;
            m_organic++;
        }
        if (is_known(one->stones_pct)) {
            stones += one->stones_pct;
            m_stones++;
        }
    }
    *in = (struct soil_water_input){
        .sand_pct = sand / (double)m, .clay_pct = clay / (double)m, .bulk_density_g_cm3 = unknown_real(), .density_factor = 1};
    in->organic_matter_pct = m_organic > 0 ? fmin(8, organic / (double)m_organic) : unknown_real();
    in->stones_volume_pct = m_stones > 0 ? stones / (double)m_stones : 0;
    return m > 0;
}

/* Water that the ground holds, into the balance: loam where no texture was measured. */
static enum outcome soil_load(const struct job_context *context, struct stand_start *out, struct balance_setting *setting,
                              struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    struct soil_water_input in;
    struct soil_water soil;
    struct failure ignored;
    enum outcome outcome = load_of(context->store, NOUN_SOIL_SAMPLE, "site_id", out->ground.site.id, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if ((samples_mean(rows, n, out->ground.plot.id, &in) || samples_mean(rows, n, 0, &in)) &&
        soil_water(&in, &soil, &ignored) == OUTCOME_OK && is_known(soil.field_capacity) && soil.field_capacity > soil.wilting_point) {
        double earth = 1 - fmin(90, in.stones_volume_pct) / 100;
        setting->field_capacity = earth * soil.field_capacity;
        setting->wilting_point = earth * soil.wilting_point;
        out->soil_known = true;
    }
    return OUTCOME_OK;
}

static enum outcome water_load(const struct job_context *context, struct stand_start *out, struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, kept = 0;
    enum outcome outcome = load_all(context->store, NOUN_WEATHER_DAY, arena, &rows, &n, why);
    struct weather_day *days = rows;
    bool own = false;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        own = own || days[i].site_id == out->ground.site.id;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        if (own ? days[i].site_id == out->ground.site.id : days[i].site_id <= 0)
            days[kept++] = days[i];
    if (outcome != OUTCOME_OK || kept < 150)
        return outcome;
    struct weather_series series;
    outcome = weather_from_days(days, kept, arena, &series, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    double *eto = arena_array(arena, series.n, sizeof *eto);
    struct balance_day *balance = arena_array(arena, series.n, sizeof *balance);
    outcome = weather_eto(&series, out->latitude_deg, 10, 10, eto, NULL, why);
    struct balance_setting setting = {.field_capacity = 0.28,
                                      .wilting_point = 0.14,
                                      .root_depth_m = out->prepared ? 0.8 : 0.4,
                                      .depletion_fraction = 0.5,
                                      .crop_coefficient = 0.9,
                                      .adjust_fraction = true};
    if (outcome == OUTCOME_OK)
        outcome = soil_load(context, out, &setting, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = balance_run(&setting, series.rain_mm, eto, NULL, series.n, balance, why);
    if (outcome == OUTCOME_OK)
        water_years(out, &series, balance, arena);
    return outcome;
}

/* The recorded water of the one season between two censuses. */
static void water_to_censuses(struct stand_start *out)
{
    for (size_t c = 0; c < out->history.n_censuses; c++) {
        int32_t from = c > 0 ? out->census_on[c - 1] : out->ground.plot.planted_on;
        for (size_t k = 0; k < out->n_water && out->censuses[c].seasons == 1; k++) {
            int32_t summer = date_make(out->water_year[k], out->latitude_deg < 0 ? 1 : 7, 1);
            if (summer > from && summer <= out->census_on[c])
                out->censuses[c].weather = (struct stand_weather){&out->water[k], 1};
        }
    }
}

/* Kinds that come by themselves, as far as the library knows them. */
static enum outcome arriving_add(struct stand_start *out, struct arena *arena, struct failure *why)
{
    static const char *const names[] = {"Betula pendula", "Salix caprea"};
    uint32_t kinds[2] = {0, 0};
    size_t n = 0;
    enum outcome outcome = OUTCOME_OK;
    for (size_t k = 0; outcome == OUTCOME_OK && k < 2; k++) {
        struct species_match match;
        outcome = species_find(&out->library, names[k], arena, &match, why);
        if (outcome == OUTCOME_OK && match.fact != NULL)
            outcome = kind_find(out, names[k], match.fact->layer, arena, &kinds[n++], why);
    }
    out->arriving = arena_array(arena, out->n_kinds + 1, sizeof *out->arriving);
    for (size_t k = 0; outcome == OUTCOME_OK && k < n; k++)
        out->arriving[kinds[k]] = true;
    return outcome;
}

enum outcome stand_start_load(const struct job_context *context, const char *plot, int64_t plan, bool from_plan, int32_t as_of,
                              struct arena *arena, struct stand_start *out, struct failure *why)
{
    *out = (struct stand_start){0};
    enum outcome outcome = plot_ground_load(context, plot, arena, &out->ground, why);
    if (outcome == OUTCOME_OK)
        outcome = library_load(context->store, out->ground.plot.library, arena, &out->library, why);
    if (outcome == OUTCOME_OK)
        outcome = latitude_find(out, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = prepared_find(context, out, arena, why);
    if (outcome == OUTCOME_OK && !from_plan)
        outcome = recorded_load(context, out, as_of, arena, why);
    if (outcome == OUTCOME_OK && out->n_plants == 0)
        outcome = planned_load(context, plan, out, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = shades_load(out, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = water_load(context, out, arena, why);
    water_to_censuses(out);
    if (outcome == OUTCOME_OK)
        outcome = arriving_add(out, arena, why);
    struct stand_kind *kinds = arena_array(arena, out->n_kinds + 1, sizeof *kinds);
    if (out->n_kinds > 0)
        memcpy(kinds, out->kinds, out->n_kinds * sizeof *kinds);
    free(out->kinds);
    out->kinds = kinds;
    return outcome;
}

void stand_setting_of(const struct stand_start *start, struct stand_setting *setting)
{
    struct failure why;
    stand_setting_init(setting);
    setting->kinds = start->kinds;
    setting->n_kinds = start->n_kinds;
    setting->outline = &start->ground.outline;
    setting->box = shape_box(&start->ground.outline);
    setting->ground = start->prepared ? stand_ground_prepared() : stand_ground_unprepared();
    if (start->n_water >= STAND_WATER_LEAST) /* fewer are no climate */
        setting->weather = (struct stand_weather){start->water, start->n_water};
    setting->shades = start->shades;
    setting->n_shades = start->n_shades;
    if (stand_sky_shares(start->latitude_deg, setting->sky, &why) != OUTCOME_OK)
        memset(setting->sky, 0, sizeof setting->sky);
}
