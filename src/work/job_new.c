/* SPDX-License-Identifier: GPL-3.0-or-later
 * new: make a programme. */
#include "work/jobs.h"
#include "work/outline.h"
#include <stdlib.h>
#include <string.h>

static const struct option new_options[] = {
    {"file", OPTION_TEXT, true, "FILE", "programme file to make; nothing may be there"},
    {"name", OPTION_TEXT, true, "TEXT", "what the programme is called"},
    {"organisation", OPTION_TEXT, false, "TEXT", "who runs it"},
    {"crs", OPTION_TEXT, false, "EPSG:N", "projected reference system in metres; chosen from the map if not given"},
    {"currency", OPTION_TEXT, false, "CODE", "currency of all prices, ISO 4217 (EUR if not given)"},
    {"price_year", OPTION_INTEGER, false, "YEAR", "year of the prices"},
    {"seed", OPTION_INTEGER, false, "N", "seed from which every drawn thing starts (made from the name if not given)"},
    {"longitude", OPTION_NUMBER, false, "DEG", "a place in the area, to choose the reference system"},
    {"latitude", OPTION_NUMBER, false, "DEG", "a place in the area, to choose the reference system"},
    OUTLINE_OPTIONS,
};
static const char *const new_bare[] = {"file", NULL};

static int64_t seed_of(const char *name)
{
    uint64_t hash = 1469598103934665603u;
    for (const char *p = name; *p != '\0'; p++)
        hash = (hash ^ (unsigned char)*p) * 1099511628211u;
    return (int64_t)(hash % 1000000007u);
}

static enum outcome crs_find(const struct job_context *context, const json_t *in, struct arena *arena, int64_t *epsg, const char **words,
                             struct failure *why)
{
    const char *crs = option_text(in, "crs", NULL);
    enum outcome outcome = OUTCOME_OK;
    struct crs_info info;
    int chosen = 0;
    if (crs == NULL && option_text(in, "map", NULL) != NULL) {
        struct map_data data;
        outcome = outline_read(context, in, NULL, MAP_ANY, NULL, arena, &data, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        crs = data.to_crs;
    } else if (crs == NULL && is_known(option_number(in, "longitude", unknown_real())) &&
               is_known(option_number(in, "latitude", unknown_real()))) {
        outcome = crs_choose(option_number(in, "longitude", 0), option_number(in, "latitude", 0), &chosen, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        crs = arena_print(arena, "EPSG:%d", chosen);
    } else if (crs == NULL) {
        fail(why, OUTCOME_USAGE, "The programme needs a reference system in metres.");
        failure_remedy(why, "Name one with --crs EPSG:N, or give --map FILE or --longitude and --latitude to have one chosen.");
        return OUTCOME_USAGE;
    }
    outcome = crs_describe(crs, arena, &info, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (!info.metric || info.code == NULL || strncmp(info.code, "EPSG:", 5) != 0) {
        fail(why, OUTCOME_DATA, "%s is not a projected reference system in metres: areas and distances would be wrong.", info.name);
        return failure_remedy(why, "Take a national grid or a UTM zone, such as EPSG:32630.");
    }
    *epsg = strtol(info.code + 5, NULL, 10);
    *words = arena_print(arena, "%s (%s)", info.code, info.name);
    return OUTCOME_OK;
}

static enum outcome new_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct programme programme;
    const char *words = "";
    noun_init(NOUN_PROGRAMME, &programme);
    programme.name = option_text(in, "name", "");
    programme.organisation = option_text(in, "organisation", NULL);
    programme.currency = option_text(in, "currency", "EUR");
    programme.price_year = option_integer(in, "price_year", INT_UNKNOWN);
    programme.language = "en";
    programme.seed = option_integer(in, "seed", seed_of(programme.name));
    enum outcome outcome = crs_find(context, in, &arena, &programme.crs, &words, why);
    struct store *store = NULL;
    if (outcome == OUTCOME_OK)
        outcome = store_create(option_text(in, "file", ""), &programme, context->author, &store, why);
    store_close(store);
    if (outcome == OUTCOME_OK) {
        *note = note_new();
        note_answer(*note, "The programme \"%s\" is made, in %s. Next: bring in a site.", programme.name, words);
        note_written(*note, "programme", option_text(in, "file", ""));
        json_object_set_new(note_data(*note), "crs", json_integer(programme.crs));
        json_object_set_new(note_data(*note), "seed", json_integer(programme.seed));
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_new = {
    .name = "new",
    .summary = "make a programme",
    .about = "Makes a new programme file: an OGC GeoPackage that any GIS opens. It holds one projected reference system, into which every "
             "import is brought.",
    .example = "spinney new wood.gpkg --name 'Our town woods' --crs EPSG:32630",
    .access = JOB_FREE,
    .options = new_options,
    .n_options = sizeof new_options / sizeof *new_options,
    .bare = new_bare,
    .run = new_run,
};
