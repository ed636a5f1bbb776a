/* SPDX-License-Identifier: GPL-3.0-or-later
 * Loading what site/ and species/ work on. */
#include "work/site_load.h"
#include <string.h>

enum outcome site_facts_load(struct store *store, const struct site *site, int32_t today, struct arena *arena, struct site_facts *out,
                             struct failure *why)
{
    void *constraints = NULL, *checks = NULL, *rules = NULL;
    struct site *copy = arena_alloc(arena, sizeof *copy);
    *copy = *site;
    *out = (struct site_facts){.site = copy, .today = today};
    enum outcome outcome = load_of(store, NOUN_CONSTRAINT, "site_id", site->id, arena, &constraints, &out->n_constraints, why);
    if (outcome == OUTCOME_OK)
        outcome = load_of(store, NOUN_SITE_CHECK, "site_id", site->id, arena, &checks, &out->n_checks, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_LOCAL_RULE, arena, &rules, &out->n_rules, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct local_rule *kept = rules;
    size_t n = 0;
    for (size_t i = 0; i < out->n_rules; i++)
        if (kept[i].site_id == 0 || kept[i].site_id == site->id)
            kept[n++] = kept[i];
    out->n_rules = n;
    out->constraints = constraints;
    out->checks = checks;
    out->rules = kept;
    return OUTCOME_OK;
}

enum outcome library_load(struct store *store, const char *name, struct arena *arena, struct species_library *out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = store == NULL ? OUTCOME_OK : load_all(store, NOUN_LIBRARY, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct library *own = rows;
    for (size_t i = 0; i < n; i++) {
        if (name != NULL && !text_same(own[i].name, name))
            continue;
        struct species_problems problems = {0};
        size_t bytes = own[i].facts_csv == NULL ? 0 : strlen(own[i].facts_csv);
        outcome = species_library_read(own[i].name, own[i].facts_csv, bytes, arena, out, &problems, why);
        if (outcome == OUTCOME_OK && own[i].communities_csv != NULL)
            outcome =
                species_communities_read(own[i].name, own[i].communities_csv, strlen(own[i].communities_csv), arena, out, &problems, why);
        return outcome;
    }
    return species_builtin(name == NULL ? species_builtin_names[0] : name, arena, out, why);
}

struct site_plant site_plant_of(const struct species_fact *fact, const char *name, enum layer layer)
{
    struct site_plant out = {.name = name, .layer = layer, .mature_height_m = unknown_real(), .clay_height_m = unknown_real()};
    if (fact == NULL)
        return out;
    out.name = fact->name;
    out.layer = layer == LAYER_UNKNOWN ? fact->layer : layer;
    out.mature_height_m = fact->height_most_m;
    out.clay_height_m = fact->clay_height_m;
    out.water_demand = fact->water_demand;
    out.thorny = fact->thorny;
    out.hazard = fact->hazard;
    return out;
}

static enum outcome cautions_put(const struct site_facts *facts, const struct site_plan *plan, unsigned moments, bool open, json_t *note,
                                 struct arena *arena, struct failure *why)
{
    struct site_caution *cautions = NULL;
    enum outcome outcome = site_cautions(facts, plan, arena, &cautions, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < SITE_CAUTIONS; i++) {
        if ((cautions[i].moments & moments) == 0 || cautions[i].state == CAUTION_NO_TRIGGER)
            continue;
        if (cautions[i].state == CAUTION_RAISED)
            note_caution(note, cautions[i].code,
                         arena_print(arena, "%s%s%s", cautions[i].words, cautions[i].figures == NULL ? "" : " ",
                                     cautions[i].figures == NULL ? "" : cautions[i].figures),
                         cautions[i].defer);
        else if (open)
            note_unknown(note, "%s %s: not checked. %s", cautions[i].code, cautions[i].topic,
                         cautions[i].figures == NULL ? "" : cautions[i].figures);
    }
    return outcome;
}

enum outcome cautions_note(struct store *store, const struct site_facts *facts, const struct site_plan *plan, unsigned moments,
                           json_t *note, struct arena *arena, struct failure *why)
{
    (void)store;
    return cautions_put(facts, plan, moments, true, note, arena, why);
}

enum outcome cautions_raised_note(const struct site_facts *facts, const struct site_plan *plan, unsigned moments, json_t *note,
                                  struct arena *arena, struct failure *why)
{
    return cautions_put(facts, plan, moments, false, note, arena, why);
}

/* Species of the chosen plans of these plots, each once. */
static enum outcome plan_plants(struct store *store, const struct plot *plots, size_t n, struct arena *arena, struct site_plan *out,
                                struct failure *why)
{
    struct species_library library;
    struct site_plant *plants = arena_array(arena, 600, sizeof *plants);
    for (size_t i = 0; i < n; i++) {
        void *plans = NULL, *lines = NULL;
        size_t n_plans = 0, n_lines = 0;
        enum outcome outcome = load_of(store, NOUN_PLAN, "plot_id", plots[i].id, arena, &plans, &n_plans, why);
        if (outcome == OUTCOME_OK && n_plans > 0)
            outcome = library_load(store, plots[i].library, arena, &library, why);
        for (size_t k = 0; outcome == OUTCOME_OK && k < n_plans; k++) {
            const struct plan *plan = &((const struct plan *)plans)[k];
            if (plan->chosen != TRUTH_YES)
                continue;
            outcome = load_of(store, NOUN_MIX_LINE, "plan_id", plan->id, arena, &lines, &n_lines, why);
            for (size_t j = 0; outcome == OUTCOME_OK && j < n_lines && out->n_plants < 600; j++) {
                const struct mix_line *line = &((const struct mix_line *)lines)[j];
                struct species_match match = {.kind = MATCH_NONE};
                bool had = line->plants == 0;
                for (size_t m = 0; m < out->n_plants && !had; m++)
                    had = text_same(plants[m].name, line->species);
                if (had)
                    continue;
                outcome = species_find(&library, line->species, arena, &match, why);
                plants[out->n_plants++] = site_plant_of(match.fact, line->species, line->layer);
            }
        }
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    out->plants = plants;
    return OUTCOME_OK;
}

/* The outline of all these plots together, or the boundary of the site where none is drawn. */
static enum outcome plan_outline(const struct site_facts *facts, const struct plot *plots, size_t n, struct arena *arena,
                                 struct site_plan *out, struct failure *why)
{
    struct shape *all = arena_alloc(arena, sizeof *all), *each = arena_array(arena, n + 1, sizeof *each);
    enum outcome outcome = OUTCOME_OK;
    size_t drawn = 0;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        outcome = load_shape(plots[i].wkb, arena, &each[drawn], why);
        drawn += outcome == OUTCOME_OK && each[drawn].kind == SHAPE_POLYGONS;
    }
    if (outcome == OUTCOME_OK && drawn > 0) {
        outcome = shape_unite(each, drawn, arena, all, why);
        out->outline = all;
    }
    if (outcome == OUTCOME_OK && out->outline == NULL) {
        outcome = load_shape(facts->site->wkb, arena, all, why);
        out->outline = all->kind == SHAPE_POLYGONS ? all : NULL;
    }
    return outcome;
}

static enum outcome plan_happened(struct store *store, const struct site_facts *facts, struct arena *arena, struct site_plan *out,
                                  struct failure *why)
{
    void *incidents = NULL, *visits = NULL, *records = NULL;
    size_t n = 0, n_visits = 0, n_records = 0;
    enum outcome outcome = load_of(store, NOUN_INCIDENT, "site_id", facts->site->id, arena, &incidents, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_of(store, NOUN_WILDLIFE_VISIT, "site_id", facts->site->id, arena, &visits, &n_visits, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_WILDLIFE_RECORD, arena, &records, &n_records, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        enum incident_kind kind = ((const struct incident *)incidents)[i].kind;
        out->trouble += kind == INCIDENT_KIND_VANDALISM || kind == INCIDENT_KIND_THEFT || kind == INCIDENT_KIND_FIRE;
    }
    for (size_t i = 0; outcome == OUTCOME_OK && i < n_records; i++) {
        const struct wildlife_record *record = &((const struct wildlife_record *)records)[i];
        for (size_t k = 0; k < n_visits; k++)
            out->sensitive += record->sensitive == TRUTH_YES && ((const struct wildlife_visit *)visits)[k].id == record->wildlife_visit_id;
    }
    return outcome;
}

enum outcome site_plan_load(struct store *store, const struct site_facts *facts, const struct plot *plot, struct arena *arena,
                            struct site_plan *out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    *out = site_plan_new();
    enum outcome outcome = plot != NULL ? OUTCOME_OK : load_of(store, NOUN_PLOT, "site_id", facts->site->id, arena, &rows, &n, why);
    const struct plot *plots = plot != NULL ? plot : rows;
    n = plot != NULL ? 1 : n;
    if (outcome == OUTCOME_OK)
        outcome = plan_outline(facts, plots, n, arena, out, why);
    if (outcome == OUTCOME_OK)
        outcome = plan_plants(store, plots, n, arena, out, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        if (plots[i].preparation_id != 0 && out->preparation == NULL) {
            struct preparation *preparation = arena_alloc(arena, sizeof *preparation);
            outcome = store_get(store, NOUN_PREPARATION, plots[i].preparation_id, arena, preparation, why);
            out->preparation = preparation;
        }
        if (plots[i].planted_on != DATE_UNKNOWN && facts->today != DATE_UNKNOWN && facts->today >= plots[i].planted_on) {
            int64_t age = (facts->today - plots[i].planted_on) / 365;
            out->age_years = out->age_years == INT_UNKNOWN || age > out->age_years ? age : out->age_years;
        }
    }
    return outcome == OUTCOME_OK ? plan_happened(store, facts, arena, out, why) : outcome;
}
