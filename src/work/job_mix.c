/* SPDX-License-Identifier: GPL-3.0-or-later
 * mix: which species and how many for a plot, by a solver, stored as a plan beside those that are there. */
#include "work/jobs.h"
#include "work/mixing.h"
#include <math.h>
#include <string.h>
static const struct option mix_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"community", OPTION_TEXT, false, "ID", "reference community (the plot's, else the best match)"},
    {"library", OPTION_TEXT, false, "NAME", "species library"},
    {"density", OPTION_NUMBER, false, "PER_M2", "plants per square metre (the plot's if not given)"},
    {"total", OPTION_INTEGER, false, "N", "plants, instead of density × net area"},
    {"canopy", OPTION_TEXT, false, "MIN-MAX", "share of the layer in per cent, such as 35-50"},
    {"subcanopy", OPTION_TEXT, false, "MIN-MAX", "share of the layer in per cent"},
    {"shrub", OPTION_TEXT, false, "MIN-MAX", "share of the layer in per cent"},
    {"pioneer", OPTION_TEXT, false, "MIN-MAX", "share of pioneers in per cent"},
    {"tall_most", OPTION_NUMBER, false, "%", "greatest share of tall canopy trees"},
    {"species_most", OPTION_NUMBER, false, "%", "greatest share of one species"},
    {"genus_most", OPTION_NUMBER, false, "%", "greatest share of one genus"},
    {"family_most", OPTION_NUMBER, false, "%", "greatest share of one family"},
    {"pest_most", OPTION_NUMBER, false, "%", "greatest share of the hosts of one pest"},
    {"least_each", OPTION_INTEGER, false, "N", "plants of a species if it is used at all"},
    {"count_least", OPTION_INTEGER, false, "N", "species at least"},
    {"count_most", OPTION_INTEGER, false, "N", "species at most"},
    {"only", OPTION_TEXT, false, "NAME;NAME", "only these species"},
    {"without", OPTION_TEXT, false, "NAME;NAME", "not these species"},
    {"insist", OPTION_TEXT, false, "NAME;NAME", "these species although they fit the ground or the light poorly; said in the answer"},
    {"fix", OPTION_TEXT, false, "NAME=N", "exactly so many of a species; 0 keeps it out"},
    {"like", OPTION_TEXT, false, "PLOT", "the same shares as the chosen plan of another plot"},
    {"widen", OPTION_FLAG, false, NULL, "also species that fit but are not in the community"},
    {"ask_too", OPTION_FLAG, false, NULL, "also species for which something that decides is not known"},
    {"diversity", OPTION_NUMBER, false, "WEIGHT", "weight of evenness beside the community's composition (0 if not given)"},
    {"seconds", OPTION_NUMBER, false, "S", "limit of time for the solver (10 if not given)"},
    {"seed", OPTION_INTEGER, false, "N", "seed of the plan (the programme's if not given)"},
    {"try", OPTION_FLAG, false, NULL, "only show it, store nothing"},
};
static const char *const mix_bare[] = {"plot", NULL};

static json_t *mix_note(const struct mixing *mixing, const struct plan *plan, bool stored)
{
    json_t *out = note_new();
    bool impossible = mixing->result.state == MIX_IMPOSSIBLE || mixing->result.state == MIX_NOTHING;
    const char *code = mixing->ground.plot.code, *relaxed = mixing->result.relaxed_words;
    if (impossible)
        note_answer(out, "No mix for %s/%s: %s", mixing->ground.site.code, code, mixing->result.proof);
    else if (stored)
        note_answer(out, "Plan %lld of %s/%s: %lld plants of %lld species on %.1f m². %s%s%s", (long long)plan->version,
                    mixing->ground.site.code, code, (long long)mixing->settings.total, (long long)mixing->result.species_used,
                    mixing->ground.net.net_m2, mixing->result.proof, relaxed == NULL ? "" : " ", relaxed == NULL ? "" : relaxed);
    else
        note_answer(out, "%s/%s: %lld plants of %lld species on %.1f m². %s%s%s", mixing->ground.site.code, code,
                    (long long)mixing->settings.total, (long long)mixing->result.species_used, mixing->ground.net.net_m2,
                    mixing->result.proof, relaxed == NULL ? "" : " ", relaxed == NULL ? "" : relaxed);
    mixing_sections(out, mixing);
    for (size_t i = 0; i < mixing->n_wishes; i++)
        if (mixing->wishes[i].least == INT_UNKNOWN)
            note_unknown(out, "%s: at most %lld plants, %s.", mixing->species[mixing->wishes[i].species].name,
                         (long long)mixing->wishes[i].most, mixing->wishes[i].reason);
    if (impossible && !mixing->widened)
        note_unknown(out, "Only species of the community were offered; --widen offers all that fit.");
    for (size_t i = 0; i < mixing->n_insisted; i++)
        note_unknown(out, "%s: %s", mixing->insisted[i]->fact->name, mixing->insisted[i]->why_in);
    if (mixing->place.region == NULL)
        note_unknown(out, "The region of site %s is not set, so nobody has checked what is native here.", mixing->ground.site.code);
    if (mixing->ground.site.clay == CLAY_STATE_UNKNOWN)
        note_unknown(out, "Shrinkable clay: not checked.");
    if (!is_known(mixing->place.ground.ph.value))
        note_unknown(out, "pH: not measured, so no species was judged by it.");
    if (!is_known(mixing->place.ground.moisture.value))
        note_unknown(out, "Moisture: mottles, standing water and infiltration were not looked at.");
    if (mixing->community != NULL)
        note_source(out, "Composition aimed at: community %s of the library %s.", mixing->community, mixing->library.name);
    note_source(out, "Solved by %s.", mixing->result.solver);
    json_t *data = note_data(out);
    json_object_set_new(data, "total", json_integer(mixing->settings.total));
    json_object_set_new(data, "species_used", json_integer(mixing->result.species_used));
    json_object_set_new(data, "gap", json_real(is_known(mixing->result.gap) ? mixing->result.gap : -1));
    json_object_set_new(data, "possible", json_boolean(!impossible));
    json_object_set_new(data, "proven", json_boolean(mixing->result.state == MIX_BEST));
    if (impossible)
        json_object_set_new(data, "holds", json_false());
    if (stored)
        json_object_set_new(data, "plan", json_integer(plan->version));
    return out;
}

/* What to mind with the species chosen, at the moment of choosing. */
static enum outcome mix_cautions(const struct job_context *context, const struct mixing *mixing, json_t *note, struct arena *arena,
                                 struct failure *why)
{
    struct site_plan plan;
    struct site_plant *plants = arena_array(arena, mixing->n + 1, sizeof *plants);
    size_t n = 0;
    enum outcome outcome = site_plan_load(context->store, &mixing->ground.facts, &mixing->ground.plot, arena, &plan, why);
    for (size_t i = 0; i < mixing->n && mixing->result.plants != NULL; i++)
        if (mixing->result.plants[i] > 0)
            plants[n++] = site_plant_of(mixing->from[i]->fact, mixing->species[i].name, mixing->species[i].layer);
    plan.plants = plants;
    plan.n_plants = n;
    return outcome == OUTCOME_OK ? cautions_raised_note(&mixing->ground.facts, &plan, MOMENT_DESIGN, note, arena, why) : outcome;
}

static enum outcome mix_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct mixing mixing;
    struct plan plan = {.version = 0};
    enum outcome outcome = mixing_load(context, option_text(in, "plot", NULL), in, &arena, &mixing, why);
    if (outcome == OUTCOME_OK)
        outcome = mixing_species(context, in, &mixing, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = mixing_solve(context, &mixing, &arena, why);
    bool found = outcome == OUTCOME_OK && (mixing.result.state == MIX_BEST || mixing.result.state == MIX_FOUND);
    bool stored = found && !option_flag(in, "try");
    if (stored)
        outcome = store_begin(context->store, context->author,
                              arena_print(&arena, "mix of plot %s/%s", mixing.ground.site.code, mixing.ground.plot.code), why);
    if (stored && outcome == OUTCOME_OK)
        outcome = store_end(context->store, mixing_store(context, in, &mixing, &plan, NULL, &arena, why), why);
    if (outcome == OUTCOME_OK) {
        json_t *out = mix_note(&mixing, &plan, stored);
        outcome = mix_cautions(context, &mixing, out, &arena, why);
        if (outcome == OUTCOME_OK)
            *note = out;
        else
            json_decref(out);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_mix = {
    .name = "mix",
    .summary = "which species and how many for a plot, proven best or with its gap",
    .about =
        "Chooses whole numbers of plants by a mixed-integer programme: layer shares, caps per species, genus, family and shared pest, "
        "least "
        "count per species used, what the constraints forbid, near the composition of the reference community. Wishes that cannot be met "
        "together are named, with which to relax. The result is a new plan beside those that are there.",
    .example = "spinney mix wood.gpkg LK/D1 --count-least 18 --species-most 12",
    .access = JOB_WRITES,
    .options = mix_options,
    .n_options = sizeof mix_options / sizeof *mix_options,
    .bare = mix_bare,
    .run = mix_run,
};
