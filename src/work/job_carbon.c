/* SPDX-License-Identifier: GPL-3.0-or-later
 * carbon: soil carbon of each plot, what was brought in apart from what was gained since, and where the figure may be cinder. */
#include "work/evidence_load.h"
#include "work/jobs.h"

static const struct option carbon_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "only plots of this site (all if not given)"},
};
static const char *const carbon_bare[] = {"site", NULL};

/* How many plots have a gain to judge, how many a sure one, and how many a doubt of cinder. */
static void carbon_answer(json_t *note, struct arena *arena)
{
    size_t gained = 0, sure = 0, cinder = 0, i = 0;
    const json_t *one = NULL;
    const char *last = NULL;
    json_array_foreach(json_object_get(note_data(note), "carbon"), i, one)
    {
        const char *plot = json_string_value(json_object_get(one, "plot"));
        const json_t *low = json_object_get(one, "low");
        bool doubt = json_is_true(json_object_get(one, "cinder")),
             gain = text_same(json_string_value(json_object_get(one, "what")), "gained");
        gained += gain;
        sure += gain && !doubt && json_is_real(low) && (json_real_value(low) > 0 || json_number_value(json_object_get(one, "high")) < 0);
        cinder += doubt && !text_same(plot, last);
        last = plot;
    }
    const char *warned = cinder == 0 ? "" : arena_print(arena, " On %zu plots the carbon may be partly cinder.", cinder);
    if (gained == 0)
        note_answer(note, "Whether soil carbon was gained is not known: no plot was sampled after amendment and again.%s", warned);
    else if (sure == 0)
        note_answer(note, "No change of soil carbon since the ground was prepared can be told from chance on any of %zu plots.%s", gained,
                    warned);
    else
        note_answer(note, "Since the ground was prepared soil carbon has changed by more than chance on %zu of %zu plots.%s", sure, gained,
                    warned);
}

static enum outcome carbon_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct evidence evidence;
    struct site site;
    const char *code = option_text(in, "site", NULL);
    json_t *out = note_new();
    enum outcome outcome = evidence_load(context->store, &arena, &evidence, why);
    if (outcome == OUTCOME_OK && code != NULL)
        outcome = load_site(context->store, code, &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = carbon_sections(context->store, &evidence, code == NULL ? NULL : &site, out, &arena, why);
    if (outcome == OUTCOME_OK && json_array_size(json_object_get(note_data(out), "carbon")) == 0) {
        fail(why, OUTCOME_DATA, "No plot has carbon sampled at two times.");
        outcome = failure_remedy(why, "Bring in the laboratory's table with plot, time point, depths and density.");
    }
    if (outcome == OUTCOME_OK) {
        carbon_answer(out, &arena);
        *note = json_incref(out);
    }
    json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_carbon = {
    .name = "carbon",
    .summary = "soil carbon: brought in, and gained since",
    .about = "Gives soil carbon of each plot before works, after amendment and now, to one depth and to one mineral mass, with what was "
             "carried in kept apart from what was gained since, the smallest change that could have been found, and a doubt where carbon "
             "may be cinder.",
    .example = "spinney carbon wood.gpkg BS",
    .access = JOB_LOOKS,
    .options = carbon_options,
    .n_options = sizeof carbon_options / sizeof *carbon_options,
    .bare = carbon_bare,
    .run = carbon_run,
};
