/* SPDX-License-Identifier: GPL-3.0-or-later
 * map: everything that has a place, in the programme's metres, for a map on a screen. Plants come as one row of whole numbers each,
 * millimetres from an origin (about 30 bytes), so that tens of thousands are quick to send and to read. */
#include "work/jobs.h"
#include "work/plan_load.h"
#include "work/outline.h"
#include <math.h>
#include <string.h>

static const struct option map_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "only this site (all if not given)"},
    {"plot", OPTION_TEXT, false, "CODE", "with the squares and places of this plot's plan"},
    {"plan", OPTION_INTEGER, false, "N", "which plan of it (the chosen one if not given)"},
    {"planted", OPTION_FLAG, false, NULL, "with the plants that were put in and how each was last seen"},
    {"seen", OPTION_FLAG, false, NULL, "with every census of the plot: its plants, and how each was seen on it"},
};
static const char *const map_bare[] = {"site", "plot", NULL};

/* Words once, plants as numbers that point to them. */
struct word_list_json {
    json_t *words, *index;
};

static json_int_t word_number(struct word_list_json *list, const char *word)
{
    const json_t *known = json_object_get(list->index, word);
    if (known != NULL)
        return json_integer_value(known);
    json_int_t n = (json_int_t)json_array_size(list->words);
    json_array_append_new(list->words, json_string(word));
    json_object_set_new(list->index, word, json_integer(n));
    return n;
}

/* Millimetres from the origin of the answer; whole metres, set once. */
struct map_origin {
    bool set;
    double x_m, y_m;
};
static json_int_t millimetres(double metres, double from)
{
    return (json_int_t)llround((metres - from) * 1000);
}
static void origin_take(struct map_origin *origin, double x_m, double y_m)
{
    if (!origin->set)
        *origin = (struct map_origin){true, floor(x_m), floor(y_m)};
}

static json_t *known_number(double x)
{
    return is_known(x) ? json_real(x) : json_null();
}

static enum outcome shape_json(struct bytes wkb, json_t **out, struct arena *arena, struct shape *shape, struct failure *why)
{
    enum outcome outcome = load_shape(wkb, arena, shape, why);
    if (outcome == OUTCOME_OK)
        *out = shape->kind == SHAPE_NONE ? json_null() : outline_json(shape);
    return outcome;
}

/* Constraints with the ground each keeps free. */
static enum outcome constraints_add(const struct site_facts *facts, const char *site, json_t *list, struct arena *arena,
                                    struct failure *why)
{
    struct site_zone *zones = NULL;
    size_t n = 0;
    enum outcome outcome = site_zones(facts, arena, &zones, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < facts->n_constraints; i++) {
        const struct constraint *row = &facts->constraints[i];
        const struct site_zone *zone = NULL;
        struct shape shape;
        json_t *geometry = NULL;
        for (size_t j = 0; j < n && zone == NULL; j++)
            if (zones[j].constraint == i)
                zone = &zones[j];
        outcome = shape_json(row->wkb, &geometry, arena, &shape, why);
        if (outcome != OUTCOME_OK)
            break;
        json_array_append_new(list,
                              json_pack("{s:I, s:s, s:s, s:s?, s:o, s:o, s:o, s:b, s:b}", "id", (json_int_t)row->id, "site", site, "kind",
                                        word_of(WORDS_CONSTRAINT_KIND, (int)row->kind), "label", row->label, "geometry", geometry, "zone",
                                        zone == NULL ? json_null() : outline_json(&zone->ground), "standoff_m",
                                        zone == NULL ? json_null() : known_number(zone->standoff_m), "figure_known",
                                        (int)(zone != NULL && zone->figure_known), "checked", (int)(row->checked_on != DATE_UNKNOWN)));
    }
    return outcome;
}

static enum outcome site_add(const struct job_context *context, const struct site *site, json_t *data, struct arena *arena,
                             struct failure *why)
{
    struct site_facts facts;
    struct site_net net;
    struct shape outline;
    void *plots = NULL;
    size_t n = 0;
    json_t *geometry = NULL, *plantable = NULL;
    enum outcome outcome = shape_json(site->wkb, &geometry, arena, &outline, why);
    if (outcome == OUTCOME_OK)
        outcome = site_facts_load(context->store, site, context->today, arena, &facts, why);
    if (outcome == OUTCOME_OK)
        outcome = constraints_add(&facts, site->code, json_object_get(data, "constraints"), arena, why);
    if (outcome == OUTCOME_OK && outline.kind == SHAPE_POLYGONS) {
        outcome = site_net_off(&facts, &outline, arena, &net, why);
        if (outcome == OUTCOME_OK)
            plantable = outline_json(&net.plantable);
    }
    if (outcome == OUTCOME_OK)
        json_array_append_new(json_object_get(data, "sites"),
                              json_pack("{s:I, s:s, s:s, s:s, s:o, s:o, s:o}", "id", (json_int_t)site->id, "code", site->code, "name",
                                        site->name, "stage", word_of(WORDS_STAGE, (int)site->stage), "geometry", json_incref(geometry),
                                        "plantable", plantable == NULL ? json_null() : plantable, "area_m2",
                                        outline.kind == SHAPE_POLYGONS ? json_real(shape_area_m2(&outline)) : json_null()));
    json_decref(geometry);
    if (outcome == OUTCOME_OK)
        outcome = load_of(context->store, NOUN_PLOT, "site_id", site->id, arena, &plots, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct plot *plot = &((struct plot *)plots)[i];
        struct shape shape;
        outcome = shape_json(plot->wkb, &geometry, arena, &shape, why);
        if (outcome != OUTCOME_OK)
            break;
        json_array_append_new(json_object_get(data, "plots"),
                              json_pack("{s:I, s:s, s:s, s:s, s:s, s:o, s:o, s:o}", "id", (json_int_t)plot->id, "site", site->code, "code",
                                        plot->code, "name", arena_print(arena, "%s/%s", site->code, plot->code), "regime",
                                        word_of(WORDS_REGIME, (int)plot->regime), "density_m2", known_number(plot->density_m2), "geometry",
                                        geometry, "area_m2",
                                        shape.kind == SHAPE_POLYGONS ? json_real(shape_area_m2(&shape)) : json_null()));
    }
    return outcome;
}

/* A square as east, north, east, north …, in millimetres from the origin; cut squares have more corners. */
static json_t *square_ring(const struct shape *shape, struct map_origin *origin)
{
    json_t *ring = json_array();
    if (shape->n_parts == 0 || shape->parts[0].n_rings == 0)
        return ring;
    const struct ring *outer = &shape->parts[0].rings[0];
    for (size_t k = 0; k + 1 < outer->n; k++) {
        origin_take(origin, outer->xy[2 * k], outer->xy[2 * k + 1]);
        json_array_append_new(ring, json_integer(millimetres(outer->xy[2 * k], origin->x_m)));
        json_array_append_new(ring, json_integer(millimetres(outer->xy[2 * k + 1], origin->y_m)));
    }
    return ring;
}

/* Squares and places of the plan of one plot. A square is [code, ring]; a place is [east, north, layer 0…5, species, square, number, row of position]. */
static enum outcome plan_add(const struct job_context *context, const json_t *in, json_t *data, struct word_list_json *species,
                             struct map_origin *origin, struct arena *arena, struct failure *why)
{
    struct plot plot;
    struct site site;
    struct plan plan;
    struct position *positions = NULL;
    struct cell *cells = NULL;
    size_t n_positions = 0, n_cells = 0;
    enum outcome outcome = load_plot(context->store, option_text(in, "plot", NULL), arena, &plot, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = load_plan(context->store, &plot, option_integer(in, "plan", 0), arena, &plan, why);
    if (outcome == OUTCOME_OK)
        outcome = plan_parts_load(context->store, plan.id, arena, NULL, NULL, &positions, &n_positions, &cells, &n_cells, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    int64_t least = n_cells == 0 ? 0 : cells[0].id, most = least;
    for (size_t i = 0; i < n_cells; i++) {
        least = cells[i].id < least ? cells[i].id : least;
        most = cells[i].id > most ? cells[i].id : most;
    }
    json_int_t *square_of = arena_array(arena, (size_t)(most - least) + 1, sizeof *square_of);
    for (int64_t i = 0; i <= most - least; i++)
        square_of[i] = -1;
    for (size_t i = 0; i < n_cells; i++)
        square_of[cells[i].id - least] = (json_int_t)i;
    json_t *squares = json_array(), *places = json_array();
    for (size_t i = 0; i < n_cells && outcome == OUTCOME_OK; i++) {
        struct shape shape;
        outcome = load_shape(cells[i].wkb, arena, &shape, why);
        json_t *ring = outcome == OUTCOME_OK ? square_ring(&shape, origin) : NULL;
        if (outcome == OUTCOME_OK)
            json_array_append_new(squares, json_pack("[s, o]", cells[i].code, ring));
    }
    for (size_t i = 0; i < n_positions && outcome == OUTCOME_OK; i++) {
        origin_take(origin, positions[i].x_m, positions[i].y_m);
        int64_t at = positions[i].cell_id - least;
        json_int_t square = at >= 0 && at <= most - least ? square_of[at] : -1;
        json_array_append_new(places, json_pack("[I, I, i, I, I, I, I]", millimetres(positions[i].x_m, origin->x_m),
                                                millimetres(positions[i].y_m, origin->y_m), (int)positions[i].layer,
                                                word_number(species, positions[i].species), square, (json_int_t)positions[i].number,
                                                (json_int_t)positions[i].id));
    }
    json_object_set_new(data, "plan", json_integer(plan.version));
    json_object_set_new(data, "squares", squares);
    json_object_set_new(data, "places", places);
    return outcome;
}

/* How each plant was last seen: its newest record. */
static enum outcome last_seen(const struct job_context *context, const struct plant *plants, size_t n, int *status, struct arena *arena,
                              struct failure *why)
{
    void *rows = NULL;
    size_t n_rows = 0;
    int64_t most = 0;
    enum outcome outcome = load_all(context->store, NOUN_PLANT_RECORD, arena, &rows, &n_rows, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    for (size_t i = 0; i < n; i++)
        most = plants[i].id > most ? plants[i].id : most;
    const struct plant_record *records = rows, **newest = arena_array(arena, (size_t)most + 1, sizeof *newest);
    for (size_t i = 0; i < n_rows; i++) {
        int64_t id = records[i].plant_id;
        if (id > 0 && id <= most && (newest[id] == NULL || records[i].observed_on >= newest[id]->observed_on))
            newest[id] = &records[i];
    }
    for (size_t i = 0; i < n; i++)
        status[i] = newest[plants[i].id] == NULL ? 0 : (int)newest[plants[i].id]->status;
    return OUTCOME_OK;
}

/* A plant is [east, north, layer, species, state, plot id, tag]; state 0: not seen yet. */
static enum outcome plants_add(const struct job_context *context, json_t *data, struct word_list_json *species, struct map_origin *origin,
                               struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(context->store, NOUN_PLANT, arena, &rows, &n, why);
    int *status = arena_array(arena, n + 1, sizeof *status);
    if (outcome == OUTCOME_OK)
        outcome = last_seen(context, rows, n, status, arena, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    json_t *plants = json_array(), *states = json_array();
    for (int i = 0; i < STATUS_COUNT; i++)
        json_array_append_new(states, json_string(i == 0 ? "not seen yet" : word_of(WORDS_STATUS, i)));
    for (size_t i = 0; i < n; i++) {
        const struct plant *plant = &((struct plant *)rows)[i];
        if (!is_known(plant->x_m) || !is_known(plant->y_m))
            continue;
        origin_take(origin, plant->x_m, plant->y_m);
        json_array_append_new(plants,
                              json_pack("[I, I, i, I, i, I, s]", millimetres(plant->x_m, origin->x_m), millimetres(plant->y_m, origin->y_m),
                                        (int)plant->layer, word_number(species, plant->species), status[i], (json_int_t)plant->plot_id,
                                        plant->tag == NULL ? "" : plant->tag));
    }
    json_object_set_new(data, "plants", plants);
    json_object_set_new(data, "states", states);
    return OUTCOME_OK;
}

/* Visits of a site in the order of their days. A census that took several days is one visit, and its first day names it. */
static enum outcome visits_list(const struct job_context *context, const struct site *site, struct visit **visits, size_t *n,
                                struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    enum outcome outcome = load_of(context->store, NOUN_VISIT, "site_id", site->id, arena, &rows, n, why);
    *visits = rows;
    for (size_t i = 1; outcome == OUTCOME_OK && i < *n; i++) {
        struct visit one = (*visits)[i];
        size_t k = i;
        for (; k > 0 && (*visits)[k - 1].from_on > one.from_on; k--)
            (*visits)[k] = (*visits)[k - 1];
        (*visits)[k] = one;
    }
    return outcome;
}

/* Plants of a plot as [square, species, layer, origin, [visit, status, visit, status, …]], and the visits they were seen on. */
static enum outcome seen_add(const struct job_context *context, const json_t *in, json_t *data, struct word_list_json *species,
                             struct arena *arena, struct failure *why)
{
    struct plot plot;
    struct site site;
    struct visit *visits = NULL;
    void *rows = NULL, *records = NULL;
    size_t n_visits = 0, n = 0, n_records = 0;
    enum outcome outcome = load_plot(context->store, option_text(in, "plot", NULL), arena, &plot, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = visits_list(context, &site, &visits, &n_visits, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = load_of(context->store, NOUN_PLANT, "plot_id", plot.id, arena, &rows, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_PLANT_RECORD, arena, &records, &n_records, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct plant *plants = rows;
    int64_t most = 0;
    for (size_t i = 0; i < n; i++)
        most = plants[i].id > most ? plants[i].id : most;
    json_t **lists = arena_array(arena, (size_t)most + 1, sizeof *lists), *out = json_array(), *days = json_array();
    bool *used = arena_array(arena, n_visits + 1, sizeof *used);
    for (size_t i = 0; i < n; i++) {
        lists[plants[i].id] = json_array();
        json_array_append_new(out, json_pack("[s, I, i, i, o]", plants[i].cell_code == NULL ? "" : plants[i].cell_code,
                                             word_number(species, plants[i].species), (int)plants[i].layer, (int)plants[i].origin,
                                             lists[plants[i].id]));
    }
    for (size_t i = 0; i < n_records; i++) {
        const struct plant_record *record = &((const struct plant_record *)records)[i];
        if (record->plant_id <= 0 || record->plant_id > most || lists[record->plant_id] == NULL)
            continue;
        for (size_t k = 0; k < n_visits; k++) {
            if (visits[k].id != record->visit_id)
                continue;
            used[k] = true;
            json_array_append_new(lists[record->plant_id], json_integer((json_int_t)k));
            json_array_append_new(lists[record->plant_id], json_integer((json_int_t)record->status));
        }
    }
    for (size_t k = 0; k < n_visits; k++)
        json_array_append_new(days, json_pack("{s:s, s:b}", "day", day_words(visits[k].from_on, arena), "seen", (int)used[k]));
    json_t *states = json_array();
    for (int i = 0; i < STATUS_COUNT; i++)
        json_array_append_new(states, json_string(i == 0 ? "not seen yet" : word_of(WORDS_STATUS, i)));
    json_object_set_new(data, "visits", days);
    json_object_set_new(data, "seen", out);
    json_object_set_new(data, "states", states);
    return OUTCOME_OK;
}

/* Pictures beneath the map, without their bytes: six numbers of a world file each. */
static void backdrops_add(const struct job_context *context, json_t *data, struct arena *arena)
{
    void *rows = NULL;
    size_t n = 0;
    json_t *list = json_array();
    if (load_all(context->store, NOUN_BACKDROP, arena, &rows, &n, NULL) == OUTCOME_OK) {
        for (size_t i = 0; i < n; i++) {
            const struct backdrop *row = &((const struct backdrop *)rows)[i];
            json_array_append_new(list, json_pack("{s:I, s:s, s:I, s:I, s:[f, f, f, f, f, f]}", "id", (json_int_t)row->id, "name",
                                                  row->name, "width", (json_int_t)row->width_px, "height", (json_int_t)row->height_px,
                                                  "place", row->column_east_m, row->column_north_m, row->row_east_m, row->row_north_m,
                                                  row->corner_east_m, row->corner_north_m));
        }
    }
    json_object_set_new(data, "backdrops", list);
}

static enum outcome map_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct programme programme;
    struct site only = {.id = 0};
    void *sites = NULL;
    size_t n = 0, given = 0;
    const char *code = option_text(in, "site", NULL);
    json_t *out = note_new(), *data = note_data(out);
    struct word_list_json species = {json_array(), json_object()};
    struct map_origin origin = {false, 0, 0};
    json_object_set_new(data, "sites", json_array());
    json_object_set_new(data, "plots", json_array());
    json_object_set_new(data, "constraints", json_array());
    enum outcome outcome = load_programme(context->store, &arena, &programme, why);
    if (outcome == OUTCOME_OK && code != NULL)
        outcome = load_site(context->store, code, &arena, &only, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_SITE, &arena, &sites, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct site *site = &((struct site *)sites)[i];
        if (code != NULL && site->id != only.id)
            continue;
        outcome = site_add(context, site, data, &arena, why);
        given++;
    }
    if (outcome == OUTCOME_OK && option_text(in, "plot", NULL) != NULL)
        outcome = plan_add(context, in, data, &species, &origin, &arena, why);
    if (outcome == OUTCOME_OK && option_flag(in, "seen"))
        outcome = seen_add(context, in, data, &species, &arena, why);
    if (outcome == OUTCOME_OK && option_flag(in, "planted"))
        outcome = plants_add(context, data, &species, &origin, &arena, why);
    if (outcome == OUTCOME_OK) {
        struct crs_info info;
        const char *crs = crs_code(&programme, &arena);
        json_object_set_new(data, "crs", json_string(crs));
        json_object_set_new(data, "crs_name", crs_describe(crs, &arena, &info, NULL) == OUTCOME_OK ? json_string(info.name) : json_null());
        json_object_set(data, "species", species.words);
        backdrops_add(context, data, &arena);
        json_object_set_new(data, "origin", json_pack("[f, f]", origin.x_m, origin.y_m));
        note_answer(out, "%zu sites, %zu plots and %zu constraints have a place on the map.", given,
                    json_array_size(json_object_get(data, "plots")), json_array_size(json_object_get(data, "constraints")));
        *note = json_incref(out);
    }
    json_decref(species.words);
    json_decref(species.index);
    json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_map = {
    .name = "map",
    .summary = "everything that has a place, as shapes and numbers",
    .about = "Gives the outlines of sites and plots, constraints with the ground they keep free, squares, places and plants in the "
             "programme's metres, for a map on a screen or another program.",
    .example = "spinney map wood.gpkg LK --plot LK/D1 --json",
    .access = JOB_LOOKS,
    .options = map_options,
    .n_options = sizeof map_options / sizeof *map_options,
    .bare = map_bare,
    .run = map_run,
};
