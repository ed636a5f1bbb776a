/* SPDX-License-Identifier: GPL-3.0-or-later
 * The programme over all its sites, and its map. */
#include "work/roll_up.h"
#include "draw/draw.h"
#include "work/site_map.h"

static int year_of(int32_t day)
{
    int year = 0, month = 0, of_month = 0;
    date_parts(day, &year, &month, &of_month);
    return year;
}

/* The first year in whose autumn a census can be wanted: that of planting, or the next where planting was after June. */
static int first_year(const struct roll_up *all, const struct site *site)
{
    int first = 0;
    for (size_t p = 0; p < all->n_plots; p++) {
        int year = 0, month = 0, of_month = 0;
        if (all->plots[p].site_id != site->id || all->plots[p].planted_on == DATE_UNKNOWN)
            continue;
        date_parts(all->plots[p].planted_on, &year, &month, &of_month);
        year += month > 6;
        first = first == 0 || year < first ? year : first;
    }
    return first;
}

static bool census_in(const struct visit *visits, size_t n, int64_t site, int year)
{
    for (size_t i = 0; i < n; i++)
        if (visits[i].site_id == site && visits[i].kind == VISIT_KIND_CENSUS && year_of(visits[i].from_on) == year)
            return true;
    return false;
}

static void missed_find(struct roll_up *all, const struct visit *visits, size_t n, struct arena *arena)
{
    size_t room = 1;
    for (size_t s = 0; s < all->n_sites; s++)
        room += all->started[s] && all->newest_census > 0 ? (size_t)(all->newest_census - first_year(all, &all->sites[s]) + 2) : 0;
    all->missed = arena_array(arena, room, sizeof *all->missed);
    for (size_t s = 0; s < all->n_sites; s++)
        for (int year = first_year(all, &all->sites[s]); all->started[s] && year <= all->newest_census; year++)
            if (!census_in(visits, n, all->sites[s].id, year))
                all->missed[all->n_missed++] = (struct missed_census){s, year};
}

static const char *sentence_make(const struct roll_up *all, struct arena *arena)
{
    const char *closed = all->n_closed == 0 ? "" : arena_print(arena, ", %zu closed", all->n_closed);
    return arena_print(arena, "%zu started, %zu reporting, %zu rejected, %zu planned%s, %zu %s missed", all->n_started, all->n_reporting,
                       all->n_rejected, all->n_planned, closed, all->n_missed, all->n_missed == 1 ? "census" : "censuses");
}

enum outcome roll_up_make(struct store *store, struct arena *arena, struct roll_up *out, struct failure *why)
{
    void *sites = NULL, *plots = NULL, *visits = NULL;
    size_t n_visits = 0;
    bool seen[STAGE_COUNT] = {false};
    *out = (struct roll_up){.n_sites = 0};
    enum outcome outcome = load_all(store, NOUN_SITE, arena, &sites, &out->n_sites, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_PLOT, arena, &plots, &out->n_plots, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_VISIT, arena, &visits, &n_visits, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    out->sites = sites;
    out->plots = plots;
    out->started = arena_array(arena, out->n_sites + 1, sizeof *out->started);
    out->last_census = arena_array(arena, out->n_sites + 1, sizeof *out->last_census);
    for (size_t i = 0; i < n_visits; i++) {
        const struct visit *visit = &((const struct visit *)visits)[i];
        int year = year_of(visit->from_on);
        for (size_t s = 0; s < out->n_sites && visit->kind == VISIT_KIND_CENSUS; s++)
            if (out->sites[s].id == visit->site_id && year > out->last_census[s])
                out->last_census[s] = year;
        if (visit->kind == VISIT_KIND_CENSUS && year > out->newest_census)
            out->newest_census = year;
    }
    for (size_t s = 0; s < out->n_sites; s++) {
        enum stage stage = out->sites[s].stage;
        out->started[s] = first_year(out, &out->sites[s]) > 0;
        out->n_started += out->started[s];
        out->n_reporting += out->started[s] && out->last_census[s] > 0 && out->last_census[s] == out->newest_census;
        out->n_rejected += stage == STAGE_REJECTED;
        out->n_closed += stage == STAGE_CLOSED;
        out->n_planned += !out->started[s] && stage != STAGE_REJECTED && stage != STAGE_CLOSED;
        out->n_stages += !seen[stage];
        seen[stage] = true;
    }
    missed_find(out, visits, n_visits, arena);
    out->sentence = sentence_make(out, arena);
    return OUTCOME_OK;
}

/* ---- the map ---- */

static enum outcome sites_fill(const struct roll_up *all, struct arena *arena, struct map *map, struct failure *why)
{
    struct map_area *areas = arena_array(arena, all->n_sites + 1, sizeof *areas);
    struct map_point *points = arena_array(arena, all->n_sites + 1, sizeof *points);
    for (size_t s = 0; s < all->n_sites; s++) {
        struct shape *shape = arena_alloc(arena, sizeof *shape);
        enum outcome outcome = load_shape(all->sites[s].wkb, arena, shape, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        if (shape->kind == SHAPE_NONE)
            continue;
        struct map_point *point = &points[map->n_points++];
        areas[map->n_areas++] = (struct map_area){shape, NULL, true, MAP_FILL_CROSS};
        shape_centre(shape, &point->x_m, &point->y_m);
        point->label = arena_print(arena, "%s %s", all->sites[s].code, word_plain(WORDS_STAGE, (int)all->sites[s].stage, arena));
    }
    map->areas = areas;
    map->points = points;
    return OUTCOME_OK;
}

static enum outcome landmarks_fill(struct store *store, struct arena *arena, struct map *map, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(store, NOUN_LANDMARK, arena, &rows, &n, why);
    struct map_zone *zones = arena_array(arena, n + 1, sizeof *zones);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct landmark *row = &((const struct landmark *)rows)[i];
        struct shape *shape = arena_alloc(arena, sizeof *shape);
        outcome = load_shape(row->wkb, arena, shape, why);
        if (outcome == OUTCOME_OK && shape->kind != SHAPE_NONE)
            zones[map->n_zones++] =
                (struct map_zone){.shape = shape, .kind = word_plain(WORDS_LANDMARK_KIND, (int)row->kind, arena), .label = row->label};
    }
    map->zones = zones;
    return outcome;
}

enum outcome roll_up_map(struct store *store, const struct programme *programme, const struct roll_up *all, json_t *section,
                         struct arena *arena, struct failure *why)
{
    struct crs_info info;
    struct drawing *drawing = NULL;
    const char *code = crs_code(programme, arena);
    struct map map = {.title = programme->name, .legend = true, .convergence_deg = unknown_real(), .width_pt = 515, .height_pt = 400};
    map.crs = crs_describe(code, arena, &info, NULL) == OUTCOME_OK ? arena_print(arena, "%s, %s", code, info.name) : code;
    enum outcome outcome = sites_fill(all, arena, &map, why);
    if (outcome == OUTCOME_OK)
        outcome = landmarks_fill(store, arena, &map, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (map.n_areas == 0) {
        section_text(section, "No site has a boundary yet.");
        return OUTCOME_OK;
    }
    if (map_draw(&map, &drawing, NULL, why) == OUTCOME_OK)
        section_drawing(section, drawing);
    else
        section_text(section, "The sites lie too far apart for one map.");
    return OUTCOME_OK;
}
