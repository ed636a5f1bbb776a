/* SPDX-License-Identifier: GPL-3.0-or-later
 * squares: what lives in each square metre of a plot, census by census, and whether the dead lie together. */
#include "draw/draw.h"
#include "evidence/squares.h"
#include "work/evidence_load.h"
#include "work/jobs.h"
#include "work/site_map.h"
#include <math.h>

static const struct option squares_options[] = {
    {"plot", OPTION_TEXT, true, "SITE/PLOT", "which plot"},
};
static const char *const squares_bare[] = {"plot", NULL};

static void squares_figure(const struct plot_lives *lives, size_t census, const struct plot_squares *s, json_t *section,
                           struct arena *arena)
{
    double *per_cent = arena_array(arena, s->rows * s->columns, sizeof *per_cent);
    for (size_t i = 0; i < s->rows * s->columns; i++)
        per_cent[i] = 100 * s->share[i];
    struct figure_cells figure = {
        .head = {.title = arena_print(arena, "%s/%s, %s: alive of the first planting", lives->site->code, lives->plot->code,
                                      day_words(lives->censuses[census].to, arena)),
                 .foot =
                     "Each square is a square metre, rows by letter, columns by number. Hatched: planted, nothing known at this census."},
        .rows = s->rows,
        .columns = s->columns,
        .values = per_cent,
        .outside = s->outside,
        .unit = "%",
        .write_values = s->rows * s->columns <= 150};
    section_drawing(section, figure_cells(&figure));
}

static enum outcome censuses_show(const struct evidence *evidence, const struct plot_lives *lives, json_t *note, struct arena *arena,
                                  struct failure *why)
{
    json_t *list = json_array();
    enum outcome outcome = OUTCOME_OK;
    const char *last = NULL;
    for (size_t c = 0; outcome == OUTCOME_OK && c < lives->n_censuses; c++) {
        struct plot_squares s;
        if (lives->censuses[c].as_planted)
            continue;
        outcome = evidence_squares(lives, c, (uint64_t)evidence->programme.seed, arena, &s, why);
        if (outcome != OUTCOME_OK)
            break;
        json_t *section = note_section(note, arena_print(arena, "Square by square, %s", day_words(lives->censuses[c].to, arena)));
        const char *clumps =
            !s.has_clumping ? "Too little differs between squares to ask whether the dead lie together."
            : s.clumping.p <= 0.05
                ? arena_print(arena,
                              "Neighbouring squares are alike (Moran's I %.2f, p %.3f): what kills here lies in places, so look there.",
                              s.clumping.i, s.clumping.p)
                : arena_print(arena, "Neighbouring squares are no more alike than chance makes them (Moran's I %.2f, p %.2f).",
                              s.clumping.i, s.clumping.p);
        last = arena_print(arena, "%s/%s on %s: in %zu of %zu squares nothing of the first planting lives. %s", lives->site->code,
                           lives->plot->code, day_words(lives->censuses[c].to, arena), s.empty, s.squares, clumps);
        section_text(section, "%s%s", last, lives->censuses[c].sample ? " Only a sample of squares was looked at." : "");
        squares_figure(lives, c, &s, section, arena);
        json_array_append_new(list, json_pack("{s:s, s:I, s:I, s:o, s:o}", "census", day_words(lives->censuses[c].to, arena), "squares",
                                              (json_int_t)s.squares, "empty", (json_int_t)s.empty, "moran",
                                              s.has_clumping ? json_real(s.clumping.i) : json_null(), "p",
                                              s.has_clumping ? json_real(s.clumping.p) : json_null()));
    }
    json_object_set_new(note_data(note), "censuses", list);
    if (outcome == OUTCOME_OK)
        note_answer(note, "%s", last == NULL ? "There is no census after planting yet." : last);
    return outcome;
}

static enum outcome squares_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct evidence evidence;
    struct plot plot;
    struct site site;
    json_t *out = note_new();
    enum outcome outcome = load_plot(context->store, option_text(in, "plot", NULL), &arena, &plot, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_load_site(context->store, site.id, &arena, &evidence, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < evidence.facts.n_plots; i++)
        if (evidence.facts.plots[i].id == plot.id)
            outcome = censuses_show(&evidence, &evidence.lives[i], out, &arena, why);
    if (outcome == OUTCOME_OK) {
        note_unknown(out, "A census that was missed has no picture here; nothing is filled in between.");
        note_source(out, "Moran 1950, Biometrika 37:17; neighbours share a side; p from values shuffled over the squares.");
        *note = out;
    } else
        json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_squares = {
    .name = "squares",
    .summary = "what lives in each square metre of a plot, and whether the dead lie together",
    .about = "A picture of the plot for every census, square by square, with the squares in which nothing lives, and a test whether "
             "neighbouring "
             "squares are more alike than chance makes them.",
    .example = "spinney squares wood.gpkg LK/D1",
    .access = JOB_LOOKS,
    .options = squares_options,
    .n_options = 1,
    .bare = squares_bare,
    .run = squares_run,
};
