/* SPDX-License-Identifier: GPL-3.0-or-later
 * look: what the programme holds and where its sites stand. */
#include "work/jobs.h"
#include "work/roll_up.h"

static const struct option look_options[] = {
    {"map", OPTION_FLAG, false, NULL, "with the map of all sites and landmarks"},
};

static enum outcome sites_table(const struct roll_up *all, json_t *out, struct arena *arena, struct failure *why)
{
    static const char *const titles[] = {"code", "site", "stage", "area", "plots", "last census", "why"};
    static const char *const names[] = {"code", "name", "stage", "area_m2", "plots", "census", "reason"};
    json_t *table = section_table(note_section(out, "Sites"));
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, names[i], titles[i], i == 3 ? "m²" : "", i == 3 ? 0 : -1);
    for (size_t s = 0; s < all->n_sites; s++) {
        struct shape shape;
        const struct site *site = &all->sites[s];
        enum outcome outcome = load_shape(site->wkb, arena, &shape, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        const char *codes = NULL;
        for (size_t j = 0; j < all->n_plots; j++)
            if (all->plots[j].site_id == site->id)
                codes = codes == NULL ? all->plots[j].code : arena_print(arena, "%s, %s", codes, all->plots[j].code);
        json_t *row = table_row(table);
        row_text(row, site->code);
        row_text(row, site->name);
        row_text(row, word_plain(WORDS_STAGE, (int)site->stage, arena));
        row_number(row, shape.kind == SHAPE_NONE ? unknown_real() : shape_area_m2(&shape));
        row_text(row, codes == NULL ? "none yet" : codes);
        if (!all->started[s])
            row_text(row, "");
        else if (all->last_census[s] == 0)
            row_text(row, "none yet");
        else if (all->last_census[s] < all->newest_census)
            row_print(row, "not reporting since %d", all->last_census[s]);
        else
            row_print(row, "%d", all->last_census[s]);
        row_text(row, site->stage_reason == NULL ? "" : site->stage_reason);
    }
    return OUTCOME_OK;
}

static enum outcome counts_add(const struct job_context *context, json_t *data, struct failure *why)
{
    json_t *counts = json_object();
    json_object_set_new(data, "counts", counts);
    enum outcome outcome = OUTCOME_OK;
    for (int noun = 0; noun < NOUN_COUNT && outcome == OUTCOME_OK; noun++) {
        int64_t count = 0;
        outcome = store_count(context->store, (enum noun)noun, NULL, 0, &count, why);
        json_object_set_new(counts, noun_infos[noun].name, json_integer(count));
    }
    return outcome;
}

static void roll_up_told(const struct roll_up *all, json_t *out)
{
    json_object_set_new(note_data(out), "roll_up",
                        json_pack("{s:I, s:I, s:I, s:I, s:I, s:I, s:s}", "started", (json_int_t)all->n_started, "reporting",
                                  (json_int_t)all->n_reporting, "rejected", (json_int_t)all->n_rejected, "planned",
                                  (json_int_t)all->n_planned, "closed", (json_int_t)all->n_closed, "censuses_missed",
                                  (json_int_t)all->n_missed, "sentence", all->sentence));
    for (size_t i = 0; i < all->n_missed; i++)
        note_unknown(out, "%s: no census in %d.", all->sites[all->missed[i].site].code, all->missed[i].year);
}

static enum outcome look_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct programme programme;
    struct roll_up all;
    json_t *out = note_new(), *data = note_data(out);
    enum outcome outcome = load_programme(context->store, &arena, &programme, why);
    if (outcome == OUTCOME_OK)
        outcome = roll_up_make(context->store, &arena, &all, why);
    if (outcome == OUTCOME_OK)
        outcome = sites_table(&all, out, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = counts_add(context, data, why);
    if (outcome == OUTCOME_OK && option_flag(in, "map"))
        outcome = roll_up_map(context->store, &programme, &all, note_section(out, "Where they lie"), &arena, why);
    if (outcome == OUTCOME_OK) {
        json_object_set_new(data, "name", json_string(programme.name));
        json_object_set_new(data, "crs", json_integer(programme.crs));
        json_object_set_new(data, "currency", json_string(programme.currency));
        roll_up_told(&all, out);
        if (all.n_sites == 0)
            note_answer(out, "%s has no site yet. Bring in a boundary first.", programme.name);
        else
            note_answer(out, "%s: %zu %s and %zu %s in %zu %s; %s.", programme.name, all.n_sites, all.n_sites == 1 ? "site" : "sites",
                        all.n_plots, all.n_plots == 1 ? "plot" : "plots", all.n_stages, all.n_stages == 1 ? "stage" : "stages",
                        all.sentence);
        *note = json_incref(out);
    }
    json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_look = {
    .name = "look",
    .summary = "what the programme holds, and where its sites stand",
    .about = "Shows the sites with their stage, plots and last census, which were started, report, are planned or rejected, which censuses "
             "were missed, and how many rows of each kind the programme holds. With --map, all sites and landmarks on one map.",
    .example = "spinney look wood.gpkg --map",
    .access = JOB_LOOKS,
    .options = look_options,
    .n_options = sizeof look_options / sizeof *look_options,
    .run = look_run,
};
