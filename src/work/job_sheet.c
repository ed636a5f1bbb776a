/* SPDX-License-Identifier: GPL-3.0-or-later
 * sheet: the planting plan of a site to print: map at a scale that measures true, zones and numbers used, species, the
 * difference table, the lot, cautions, and what is not checked. */
#include "paper/paper.h"
#include "work/jobs.h"
#include "work/plan_load.h"
#include "work/site_map.h"
#include "work/treatments.h"
#include <string.h>

static const struct option sheet_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (the only one if not given)"},
    {"pdf", OPTION_FILE_OUT, false, "FILE", "write the plan as PDF"},
    {"html", OPTION_FILE_OUT, false, "FILE", "write the plan as one HTML page"},
    {"revision", OPTION_TEXT, false, "TEXT", "what changed, for the revision block"},
};
static const char *const sheet_bare[] = {"site", NULL};

enum { MOST_PLOTS = 12 };

struct sheeting {
    struct programme programme;
    struct site site;
    struct site_facts facts;
    struct site_zone *zones;
    size_t n_zones;
    struct plot *plots;
    struct trial_plot *treatments;
    size_t n_plots;
    struct plan plans[MOST_PLOTS];
    bool planned[MOST_PLOTS];
    struct mix_line *lines[MOST_PLOTS];
    struct position *positions[MOST_PLOTS];
    struct cell *cells[MOST_PLOTS];
    size_t n_lines[MOST_PLOTS], n_positions[MOST_PLOTS], n_cells[MOST_PLOTS];
    struct shape outlines[MOST_PLOTS];
    struct site_net nets[MOST_PLOTS];
    struct species_library library;
    struct planting_plan plan;
};

static enum outcome sheeting_load(const struct job_context *context, const json_t *in, struct arena *arena, struct sheeting *job,
                                  struct failure *why)
{
    struct store *store = context->store;
    enum outcome outcome = load_programme(store, arena, &job->programme, why);
    if (outcome == OUTCOME_OK)
        outcome = load_site(store, option_text(in, "site", NULL), arena, &job->site, why);
    if (outcome == OUTCOME_OK)
        outcome = site_facts_load(store, &job->site, context->today, arena, &job->facts, why);
    if (outcome == OUTCOME_OK)
        outcome = site_zones(&job->facts, arena, &job->zones, &job->n_zones, why);
    if (outcome == OUTCOME_OK)
        outcome = library_load(store, NULL, arena, &job->library, why);
    if (outcome == OUTCOME_OK)
        outcome = treatments_load(store, job->site.id, arena, &job->treatments, &job->plots, &job->n_plots, why);
    if (outcome == OUTCOME_OK && (job->n_plots == 0 || job->n_plots > MOST_PLOTS)) {
        fail(why, OUTCOME_DATA, "Site %s has %zu plots; a planting plan shows 1 to %d.", job->site.code, job->n_plots, MOST_PLOTS);
        outcome = failure_remedy(why, "Make plots first: spinney split FILE --site %s", job->site.code);
    }
    for (size_t i = 0; outcome == OUTCOME_OK && i < job->n_plots; i++) {
        struct failure none;
        outcome = load_shape(job->plots[i].wkb, arena, &job->outlines[i], why);
        if (outcome == OUTCOME_OK && job->outlines[i].kind == SHAPE_POLYGONS)
            outcome = site_net_off(&job->facts, &job->outlines[i], arena, &job->nets[i], why);
        job->planned[i] = load_plan(store, &job->plots[i], 0, arena, &job->plans[i], &none) == OUTCOME_OK;
        if (outcome == OUTCOME_OK && job->planned[i])
            outcome = plan_parts_load(store, job->plans[i].id, arena, &job->lines[i], &job->n_lines[i], &job->positions[i],
                                      &job->n_positions[i], &job->cells[i], &job->n_cells[i], why);
    }
    return outcome;
}

static enum outcome maps_fill(struct sheeting *job, struct arena *arena, struct failure *why)
{
    struct site_map_wish wish = {.programme = &job->programme,
                                 .site = &job->site,
                                 .facts = &job->facts,
                                 .zones = job->zones,
                                 .n_zones = job->n_zones,
                                 .plots = job->plots,
                                 .n_plots = job->n_plots,
                                 .title = arena_print(arena, "%s: plots and what they keep away from", job->site.name)};
    enum outcome outcome = site_map_fill(&wish, arena, &job->plan.map, why);
    struct map *details = arena_array(arena, job->n_plots, sizeof *details);
    for (size_t i = 0; outcome == OUTCOME_OK && i < job->n_plots; i++) {
        if (job->n_positions[i] == 0)
            continue;
        struct box *box = arena_alloc(arena, sizeof *box);
        *box = shape_box(&job->outlines[i]);
        *box = (struct box){box->x_least - 1.5, box->y_least - 1.5, box->x_most + 1.5, box->y_most + 1.5};
        struct site_map_wish one = wish;
        one.plots = &job->plots[i];
        one.n_plots = 1;
        one.positions = job->positions[i];
        one.n_positions = job->n_positions[i];
        one.cells = job->cells[i];
        one.n_cells = job->n_cells[i];
        one.extent = box;
        one.title = arena_print(arena, "%s/%s: squares and plants", job->site.code, job->plots[i].code);
        outcome = site_map_fill(&one, arena, &details[job->plan.n_details++], why);
    }
    job->plan.details = details;
    return outcome;
}

static void species_fill(struct sheeting *job, struct arena *arena)
{
    size_t room = 0;
    for (size_t i = 0; i < job->n_plots; i++)
        room += job->n_lines[i];
    struct plan_species_line *lines = arena_array(arena, room, sizeof *lines);
    size_t n = 0;
    for (enum layer layer = LAYER_UNKNOWN; layer < LAYER_COUNT; layer++)
        for (size_t i = 0; i < job->n_plots; i++)
            for (size_t j = 0; j < job->n_lines[i]; j++) {
                const struct mix_line *from = &job->lines[i][j];
                size_t at = 0;
                if (from->layer != layer)
                    continue;
                while (at < n && !text_same(lines[at].species, from->species))
                    at++;
                if (at == n) {
                    int64_t *plants = arena_array(arena, job->n_plots, sizeof *plants);
                    for (size_t k = 0; k < job->n_plots; k++)
                        plants[k] = INT_UNKNOWN;
                    lines[n] = (struct plan_species_line){.species = from->species, .layer = (int)layer, .plants = plants};
                    for (size_t k = 0; k < job->library.n_facts; k++)
                        if (text_same(job->library.facts[k].name, from->species))
                            lines[n].local = job->library.facts[k].common_name;
                    n++;
                }
                ((int64_t *)(uintptr_t)lines[at].plants)[i] = from->plants;
            }
    job->plan.species = lines;
    job->plan.n_species = n;
}

static void plots_fill(struct sheeting *job, struct arena *arena)
{
    struct plan_plot *plots = arena_array(arena, job->n_plots, sizeof *plots);
    const char *proof = NULL;
    for (size_t i = 0; i < job->n_plots; i++) {
        plots[i] = (struct plan_plot){.code = job->plots[i].code,
                                      .regime = word_plain(WORDS_REGIME, (int)job->plots[i].regime, arena),
                                      .preparation = job->treatments[i].levels[TRIAL_PREPARATION],
                                      .net_area_m2 = job->planned[i] ? job->plans[i].net_area_m2 : job->nets[i].net_m2,
                                      .density_m2 = job->plots[i].density_m2,
                                      .plants = INT_UNKNOWN};
        if (job->planned[i] && job->plans[i].proof != NULL)
            proof = proof == NULL ? arena_print(arena, "%s: %s", job->plots[i].code, job->plans[i].proof)
                                  : arena_print(arena, "%s %s: %s", proof, job->plots[i].code, job->plans[i].proof);
    }
    job->plan.plots = plots;
    job->plan.n_plots = job->n_plots;
    job->plan.proof = proof;
    struct plan_difference *differences = arena_array(arena, TRIAL_FACTORS, sizeof *differences);
    for (int factor = 0; factor < TRIAL_FACTORS; factor++) {
        const char **values = arena_array(arena, job->n_plots, sizeof *values);
        for (size_t i = 0; i < job->n_plots; i++)
            values[i] = job->treatments[i].levels[factor];
        differences[factor] = (struct plan_difference){trial_factor_word((enum trial_factor)factor), values};
    }
    job->plan.differences = differences;
    job->plan.n_differences = TRIAL_FACTORS;
}

static void zones_fill(struct sheeting *job, struct arena *arena)
{
    struct plan_zone_line *lines = arena_array(arena, job->n_zones, sizeof *lines);
    for (size_t i = 0; i < job->n_zones; i++) {
        const struct constraint *constraint = &job->facts.constraints[job->zones[i].constraint];
        lines[i] = (struct plan_zone_line){
            .kind = word_plain(WORDS_CONSTRAINT_KIND, (int)constraint->kind, arena),
            .label = constraint->label,
            .standoff_m = job->zones[i].figure_known ? job->zones[i].standoff_m : unknown_real(),
            .source = arena_print(arena, "%s %s (%s)", job->zones[i].figures, job->zones[i].source, site_grade_word(job->zones[i].grade)),
            .checked_on = constraint->checked_on == DATE_UNKNOWN ? NULL : day_words(constraint->checked_on, arena)};
    }
    job->plan.zones = lines;
    job->plan.n_zones = job->n_zones;
}

static enum outcome allocation_fill(const struct job_context *context, struct sheeting *job, struct arena *arena, struct failure *why)
{
    void *comparisons = NULL, *allocations = NULL, *protocols = NULL;
    size_t n = 0, m = 0, p = 0;
    enum outcome outcome = load_of(context->store, NOUN_COMPARISON, "site_id", job->site.id, arena, &comparisons, &n, why);
    if (outcome == OUTCOME_OK && n > 0)
        outcome = load_of(context->store, NOUN_ALLOCATION, "comparison_id", ((struct comparison *)comparisons)[n - 1].id, arena,
                          &allocations, &m, why);
    if (outcome == OUTCOME_OK && m > 0) {
        const struct allocation *one = &((struct allocation *)allocations)[m - 1];
        job->plan.allocation =
            one->method == ALLOCATION_METHOD_DRAWN_BY_LOT
                ? arena_print(arena, "The pieces of ground were given their treatments by lot on %s by %s%s%s (seed %lld).",
                              day_words(one->drawn_on, arena), one->drawn_by == NULL ? "nobody named" : one->drawn_by,
                              one->witness == NULL ? ", no witness recorded" : ", seen by ", one->witness == NULL ? "" : one->witness,
                              (long long)one->seed)
                : arena_print(arena, "The pieces of ground were chosen, not drawn by lot. Reason given: %s",
                              one->reason == NULL ? "none recorded." : one->reason);
    }
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_PROTOCOL, arena, &protocols, &p, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < p; i++)
        if (((struct protocol *)protocols)[i].locked_on != DATE_UNKNOWN)
            job->plan.protocol = ((struct protocol *)protocols)[i].version;
    return outcome;
}

static enum outcome cautions_fill(struct store *store, struct sheeting *job, struct arena *arena, struct failure *why)
{
    struct site_caution *cautions = NULL;
    struct site_plan plan = site_plan_new();
    struct site_plant *plants = arena_array(arena, job->plan.n_species, sizeof *plants);
    for (size_t i = 0; i < job->plan.n_species; i++) {
        const struct species_fact *fact = NULL;
        for (size_t k = 0; k < job->library.n_facts && fact == NULL; k++)
            if (text_same(job->library.facts[k].name, job->plan.species[i].species))
                fact = &job->library.facts[k];
        plants[i] = site_plant_of(fact, job->plan.species[i].species, (enum layer)job->plan.species[i].layer);
    }
    plan.plants = plants;
    plan.n_plants = job->plan.n_species;
    plan.outline = job->outlines[0].kind == SHAPE_POLYGONS ? &job->outlines[0] : NULL;
    plan.volunteers = TRUTH_YES;
    enum outcome outcome = OUTCOME_OK;
    struct preparation *preparation = arena_alloc(arena, sizeof *preparation);
    for (size_t i = 0; outcome == OUTCOME_OK && i < job->n_plots && plan.preparation == NULL; i++)
        if (job->plots[i].preparation_id != 0) {
            outcome = store_get(store, NOUN_PREPARATION, job->plots[i].preparation_id, arena, preparation, why);
            plan.preparation = preparation;
        }
    if (outcome == OUTCOME_OK)
        outcome = site_cautions(&job->facts, &plan, arena, &cautions, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct plan_caution *raised = arena_array(arena, SITE_CAUTIONS, sizeof *raised);
    const char **unknown = arena_array(arena, SITE_CAUTIONS + 64, sizeof *unknown);
    for (size_t i = 0; i < SITE_CAUTIONS; i++) {
        if ((cautions[i].moments & (MOMENT_DESIGN | MOMENT_GROUND_WORK | MOMENT_PLANTING)) == 0)
            continue;
        if (cautions[i].state == CAUTION_RAISED)
            raised[job->plan.n_cautions++] = (struct plan_caution){
                cautions[i].code, arena_print(arena, "%s %s", cautions[i].words, cautions[i].figures == NULL ? "" : cautions[i].figures),
                cautions[i].defer};
        else if (cautions[i].state == CAUTION_NOT_CHECKED)
            unknown[job->plan.n_unknown++] =
                arena_print(arena, "%s: not checked. %s", cautions[i].topic, cautions[i].figures == NULL ? "" : cautions[i].figures);
    }
    for (size_t i = 0; i < job->nets[0].n_open && i < 60; i++)
        unknown[job->plan.n_unknown++] = job->nets[0].open[i];
    job->plan.cautions = raised;
    job->plan.unknown = unknown;
    return OUTCOME_OK;
}

static enum outcome sheet_write(const json_t *in, const struct document *document, json_t *note, struct failure *why)
{
    const char *pdf = option_text(in, "pdf", NULL), *html = option_text(in, "html", NULL);
    struct text bytes = {0};
    size_t pages = 0;
    enum outcome outcome = OUTCOME_OK;
    if (pdf != NULL) {
        outcome = document_pdf(document, &bytes, &pages, why);
        if (outcome == OUTCOME_OK)
            outcome = file_write(pdf, bytes.at, bytes.n, why);
        if (outcome == OUTCOME_OK)
            note_written(note, "planting plan", pdf);
    }
    text_free(&bytes);
    if (outcome == OUTCOME_OK && html != NULL) {
        outcome = document_html(document, &bytes, why);
        if (outcome == OUTCOME_OK)
            outcome = file_write(html, bytes.at, bytes.n, why);
        if (outcome == OUTCOME_OK)
            note_written(note, "planting plan", html);
    }
    text_free(&bytes);
    return outcome;
}

static enum outcome sheet_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct sheeting *job = arena_alloc(&arena, sizeof *job);
    struct document *document = NULL;
    int scale = 0;
    enum outcome outcome = sheeting_load(context, in, &arena, job, why);
    if (outcome == OUTCOME_OK)
        outcome = maps_fill(job, &arena, why);
    if (outcome == OUTCOME_OK) {
        species_fill(job, &arena);
        plots_fill(job, &arena);
        zones_fill(job, &arena);
        outcome = allocation_fill(context, job, &arena, why);
    }
    if (outcome == OUTCOME_OK)
        outcome = cautions_fill(context->store, job, &arena, why);
    if (outcome == OUTCOME_OK) {
        static const char *const sources[] = {"Stand-offs: as named beside each; local rules and operators' letters come before defaults.",
                                              "Layer shares and caps: common practice, editable defaults."};
        struct document_revision revision = {"1", day_words(context->today, &arena), context->author,
                                             option_text(in, "revision", "first issue")};
        job->plan.programme = job->programme.name;
        job->plan.organisation = job->programme.organisation;
        job->plan.site = job->site.name;
        job->plan.site_code = job->site.code;
        job->plan.crs = job->plan.map.crs;
        job->plan.date = context->today;
        job->plan.language = "en";
        job->plan.sources = sources;
        job->plan.n_sources = 2;
        job->plan.revisions = &revision;
        job->plan.n_revisions = 1;
        outcome = planting_plan_document(&job->plan, &document, &scale, why);
    }
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        note_answer(out, "Planting plan of %s with %zu plots; the site map is at 1:%d.", job->site.name, job->n_plots, scale);
        outcome = sheet_write(in, document, out, why);
        for (size_t i = 0; i < job->plan.n_unknown; i++)
            note_unknown(out, "%s", job->plan.unknown[i]);
        for (size_t i = 0; i < job->plan.n_cautions; i++)
            note_caution(out, job->plan.cautions[i].code, job->plan.cautions[i].words, job->plan.cautions[i].defer);
        json_object_set_new(note_data(out), "scale", json_integer(scale));
        if (outcome == OUTCOME_OK)
            *note = out;
        else
            json_decref(out);
    }
    document_free(document);
    arena_clear(&arena);
    return outcome;
}

const struct job job_sheet = {
    .name = "sheet",
    .summary = "the planting plan of a site to print, with a map that measures true",
    .about = "Writes the planting plan: site map at a true scale with bar and north arrow, each plot with its squares and plants, zones "
             "with the numbers "
             "used, species by plot, difference table, the lot, cautions with who decides, and what is not checked. Legible on a grey "
             "photocopy.",
    .example = "spinney sheet wood.gpkg LK --pdf plan.pdf",
    .access = JOB_LOOKS,
    .options = sheet_options,
    .n_options = sizeof sheet_options / sizeof *sheet_options,
    .bare = sheet_bare,
    .run = sheet_run,
};
