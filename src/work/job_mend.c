/* SPDX-License-Identifier: GPL-3.0-or-later
 * substitute: another species in place of one of a plan, with who approves it. mend: a plan after a short delivery or a loss.
 * Both keep what they can: least change to the rest of the mix, fewest places changed, plants in the ground never moved. */
#include "work/jobs.h"
#include "work/laying.h"
#include "work/mixing.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct mending {
    struct laying laying;
    struct mixing mixing; ///< its species are those of the plan, then what comes
    int64_t *before;      ///< [mixing.n] plants
    int64_t *after;
    struct position *rows; ///< of the places, in the order of the layout
    struct cell *cells;
    size_t n_cells;
    bool has_places;
    bool *planted; ///< [places] a plant stands there
    size_t n_planted;
    struct layout_repair repair;
    struct layout_quality was, is;
};

static const struct species_verdict *verdict_of(const struct mixing *mixing, const char *name)
{
    for (size_t i = 0; i < mixing->n_verdicts; i++)
        if (text_same(mixing->verdicts[i].fact->name, name))
            return &mixing->verdicts[i];
    return NULL;
}

/* The plan with the options it was made with; `coming` (may be NULL) joins its species. */
static enum outcome mending_load(const struct job_context *context, const json_t *in, const char *coming, struct mending *m,
                                 struct arena *arena, struct failure *why)
{
    enum outcome outcome = laying_load(context, option_text(in, "plot", NULL), option_integer(in, "plan", 0), arena, &m->laying, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct laying *laying = &m->laying;
    json_t *made_with = laying->plan.settings == NULL ? NULL : json_loads(laying->plan.settings, 0, NULL);
    if (!json_is_object(made_with)) {
        json_decref(made_with);
        made_with = json_object();
    }
    outcome = mixing_load(context, arena_print(arena, "%s/%s", laying->ground.site.code, laying->ground.plot.code), made_with, arena,
                          &m->mixing, why);
    json_decref(made_with);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct mixing *mixing = &m->mixing;
    size_t room = laying->n_lines + 1;
    mixing->species = arena_array(arena, room, sizeof *mixing->species);
    mixing->from = arena_array(arena, room, sizeof *mixing->from);
    m->before = arena_array(arena, room, sizeof *m->before);
    mixing->settings.total = 0;
    for (size_t i = 0; i <= laying->n_lines; i++) {
        const char *name = i < laying->n_lines ? laying->lines[i].species : coming;
        bool there = name == NULL;
        for (size_t k = 0; k < mixing->n && !there; k++)
            there = text_same(mixing->species[k].name, name);
        if (there)
            continue;
        const struct species_verdict *verdict = verdict_of(mixing, name);
        if (verdict == NULL) {
            fail(why, OUTCOME_DATA, "%s is not in the library %s.", name, mixing->library.name);
            return failure_remedy(why, "Choose the library that the plan was made from.");
        }
        mixing_put(mixing, verdict);
        if (i < laying->n_lines) {
            m->before[mixing->n - 1] = laying->lines[i].plants;
            mixing->species[mixing->n - 1].layer = laying->lines[i].layer;
            mixing->settings.total += laying->lines[i].plants;
        }
    }
    return mixing_ground(mixing, arena, why);
}

/* ---- places ---- */

static enum outcome planted_find(const struct job_context *context, struct mending *m, struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, places = m->laying.layout.n_positions;
    enum outcome outcome = load_of(context->store, NOUN_PLANT, "plot_id", m->laying.ground.plot.id, arena, &rows, &n, why);
    const struct plant *plants = rows;
    m->planted = arena_array(arena, places + 1, sizeof *m->planted);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        for (size_t k = 0; k < places; k++)
            if (plants[i].position_id == m->rows[k].id && !m->planted[k]) {
                m->planted[k] = true;
                m->n_planted++;
            }
    return outcome;
}

/* The lines of the plan with the new counts. */
static void lines_make(struct mending *m, const char *spare, size_t coming, struct arena *arena)
{
    struct laying *laying = &m->laying;
    struct mix_line *lines = arena_array(arena, m->mixing.n, sizeof *lines);
    for (size_t i = 0; i < m->mixing.n; i++) {
        noun_init(NOUN_MIX_LINE, &lines[i]);
        for (size_t k = 0; k < laying->n_lines; k++)
            if (text_same(laying->lines[k].species, m->mixing.species[i].name))
                lines[i] = laying->lines[k];
        lines[i].id = 0;
        lines[i].uuid = (struct uuid){{0}};
        lines[i].species = m->mixing.species[i].name;
        lines[i].layer = m->mixing.species[i].layer;
        lines[i].plants = m->after[i];
        if (lines[i].reason == NULL)
            lines[i].reason = m->mixing.from[i]->why_in;
        if (i == coming)
            lines[i].spare = spare;
    }
    laying->lines = lines;
    laying->n_lines = m->mixing.n;
}

/* Fewest places changed; also how good the mixture was and is. */
static enum outcome places_mend(const struct job_context *context, struct mending *m, struct arena *arena, struct failure *why)
{
    json_t *none = json_object();
    int64_t n = 0;
    struct store_where where = {.field = "plan_id", .value = m->laying.plan.id};
    enum outcome outcome = store_count(context->store, NOUN_POSITION, &where, 1, &n, why);
    m->has_places = n > 0;
    if (outcome == OUTCOME_OK)
        outcome = laying_wish(none, &m->laying, arena, why);
    json_decref(none);
    if (outcome != OUTCOME_OK || !m->has_places)
        return outcome;
    outcome = laying_stored(context, &m->laying, &m->rows, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = plan_parts_load(context->store, m->laying.plan.id, arena, NULL, NULL, NULL, NULL, &m->cells, &m->n_cells, why);
    if (outcome == OUTCOME_OK)
        outcome = planted_find(context, m, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = layout_judge(&m->laying.layout, &m->laying.wish, 0, arena, &m->was, why);
    if (outcome == OUTCOME_OK)
        outcome = layout_mend(&m->laying.layout, &m->laying.wish, m->planted, arena, &m->repair, why);
    return outcome == OUTCOME_OK ? layout_judge(&m->laying.layout, &m->laying.wish, 0, arena, &m->is, why) : outcome;
}

/* ---- storing: a new plan beside the old one ---- */

static enum outcome places_store(const struct job_context *context, struct mending *m, int64_t plan, struct arena *arena,
                                 struct failure *why)
{
    struct cell *cells = arena_array(arena, m->n_cells, sizeof *cells);
    struct position *places = arena_array(arena, m->laying.layout.n_positions, sizeof *places);
    size_t n = 0;
    for (size_t i = 0; i < m->n_cells; i++) {
        cells[i] = m->cells[i];
        cells[i].id = 0;
        cells[i].uuid = (struct uuid){{0}};
        cells[i].plan_id = plan;
    }
    enum outcome outcome = store_add(context->store, NOUN_CELL, cells, m->n_cells, why);
    for (size_t i = 0; i < m->laying.layout.n_positions; i++) {
        int32_t species = m->laying.layout.positions[i].species;
        if (species == LAYOUT_EMPTY)
            continue;
        struct position *place = &places[n++];
        *place = m->rows[i];
        place->id = 0;
        place->uuid = (struct uuid){{0}};
        place->plan_id = plan;
        place->species = m->laying.species[species].name;
        place->layer = m->laying.species[species].layer;
        for (size_t k = 0; k < m->n_cells; k++)
            if (m->cells[k].id == m->rows[i].cell_id)
                place->cell_id = cells[k].id;
    }
    return outcome == OUTCOME_OK ? store_add(context->store, NOUN_POSITION, places, n, why) : outcome;
}

static enum outcome mending_store(const struct job_context *context, struct mending *m, const char *note, struct arena *arena,
                                  struct failure *why)
{
    struct laying *laying = &m->laying;
    struct plan fresh;
    enum outcome outcome = plan_next(context->store, &laying->ground.plot, arena, &fresh, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    fresh.settings = laying->plan.settings;
    fresh.proof = laying->plan.proof;
    fresh.net_area_m2 = laying->plan.net_area_m2;
    fresh.made_on = context->today;
    fresh.seed = laying->plan.seed;
    fresh.note = note;
    outcome = store_begin(context->store, context->author,
                          arena_print(arena, "%s/%s: %s", laying->ground.site.code, laying->ground.plot.code, note), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = store_add(context->store, NOUN_PLAN, &fresh, 1, why);
    struct mix_line *lines = arena_array(arena, laying->n_lines, sizeof *lines);
    size_t n = 0;
    for (size_t i = 0; i < laying->n_lines; i++)
        if (laying->lines[i].plants > 0) {
            lines[n] = laying->lines[i];
            lines[n++].plan_id = fresh.id;
        }
    if (outcome == OUTCOME_OK)
        outcome = store_add(context->store, NOUN_MIX_LINE, lines, n, why);
    if (outcome == OUTCOME_OK && m->has_places)
        outcome = places_store(context, m, fresh.id, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = plan_choose(context->store, &fresh, arena, why);
    laying->plan = fresh;
    return store_end(context->store, outcome, why);
}

/* ---- showing ---- */

static void counts_section(json_t *out, const struct mending *m)
{
    json_t *table = section_table(note_section(out, "Counts that change")), *list = json_array();
    table_column(table, "species", "species", "", -1);
    table_column(table, "before", "before", "", -1);
    table_column(table, "after", "after", "", -1);
    table_column(table, "share", "share after", "%", 1);
    double total = 0;
    for (size_t i = 0; i < m->mixing.n; i++)
        total += (double)m->after[i];
    for (size_t i = 0; i < m->mixing.n; i++) {
        json_array_append_new(list, json_pack("{s:s, s:I, s:I}", "species", m->mixing.species[i].name, "before", (json_int_t)m->before[i],
                                              "plants", (json_int_t)m->after[i]));
        if (m->before[i] == m->after[i])
            continue;
        json_t *row = table_row(table);
        row_text(row, m->mixing.species[i].name);
        row_integer(row, m->before[i]);
        row_integer(row, m->after[i]);
        row_number(row, 100 * (double)m->after[i] / total);
    }
    json_object_set_new(note_data(out), "mix", list);
}

static void places_section(json_t *out, const struct mending *m, struct arena *arena)
{
    (void)arena;
    if (!m->has_places)
        return;
    json_t *section = note_section(out, "Places that change");
    section_text(
        section,
        "%zu of %zu places change; no repair takes fewer than %zu. %zu plants in the ground stay where they are. Neighbours of the same "
        "species: %.1f %% before, %.1f %% after.",
        m->repair.n_moves, m->laying.layout.n_positions, m->repair.least_moves, m->n_planted, 100 * m->was.same_share,
        100 * m->is.same_share);
    json_t *table = section_table(section);
    table_column(table, "square", "square", "", -1);
    table_column(table, "number", "number", "", -1);
    table_column(table, "from", "was", "", -1);
    table_column(table, "to", "is", "", -1);
    for (size_t i = 0; i < m->repair.n_moves; i++) {
        const struct layout_move *move = &m->repair.moves[i];
        const struct layout_position *place = &m->laying.layout.positions[move->position];
        json_t *row = table_row(table);
        row_text(row, m->laying.layout.cells[place->cell].code);
        row_integer(row, place->number);
        row_text(row, move->from == LAYOUT_EMPTY ? "empty" : m->laying.species[move->from].name);
        row_text(row, move->to == LAYOUT_EMPTY ? "stays empty" : m->laying.species[move->to].name);
    }
    json_object_set_new(note_data(out), "moves", json_integer((json_int_t)m->repair.n_moves));
    json_object_set_new(note_data(out), "least_moves", json_integer((json_int_t)m->repair.least_moves));
    json_object_set_new(note_data(out), "kept", json_integer((json_int_t)m->n_planted));
}

/* ---- substitute ---- */

static const struct option substitute_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"species", OPTION_TEXT, true, "NAME", "species of the plan that goes"},
    {"offered", OPTION_TEXT, true, "NAME", "species offered in its place"},
    {"plan", OPTION_INTEGER, false, "N", "which plan of the plot (the chosen one if not given)"},
    {"approver", OPTION_TEXT, false, "WHO", "who approves it; without one nothing is stored"},
    {"approved_on", OPTION_DATE, false, "DAY", "day of the approval; without one nothing is stored"},
    {"try", OPTION_FLAG, false, NULL, "only show what it would mean"},
};
static const char *const substitute_bare[] = {"plot", "species", "offered", NULL};

static enum outcome name_find(const struct species_library *library, const char *name, struct arena *arena, const char **out,
                              struct failure *why)
{
    struct species_match match;
    enum outcome outcome = species_find(library, name, arena, &match, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (match.fact == NULL) {
        fail(why, OUTCOME_DATA, "%s", match.said);
        return failure_remedy(why, "Write the name as the library has it.");
    }
    *out = match.fact->name;
    return OUTCOME_OK;
}

/* What the place says of the species that comes, beside what the mix says. */
static void place_checks(json_t *table, const struct mixing *mixing, const struct species_verdict *verdict, bool *stop)
{
    const struct species_fact *fact = verdict->fact;
    bool health = verdict->answer == ANSWER_OUT && verdict->stage == STAGE_HEALTH;
    json_t *row = table_row(table);
    row_text(row, verdict->answer == ANSWER_IN ? "passes" : health ? "STOP" : "look");
    row_print(row, "%s as a species for this place: %s %s", fact->name, verdict->answer == ANSWER_IN ? verdict->why_in : verdict->why_out,
              verdict->answer == ANSWER_ASK ? "(something that decides is not known)" : "");
    *stop |= health;
    bool play = mixing->place.play_area == TRUTH_YES;
    if (fact->thorny == TRUTH_YES || fact->hazard != NULL) {
        row = table_row(table);
        row_text(row, "look");
        row_print(row, "%s is %s%s%s%s.", fact->name, fact->thorny == TRUTH_YES ? "thorny" : "",
                  fact->thorny == TRUTH_YES && fact->hazard != NULL ? ", " : "", fact->hazard == NULL ? "" : fact->hazard,
                  play ? ", and a play area is near" : "; no play area is recorded near");
    }
    row = table_row(table);
    row_text(row, fact->water_demand == WATER_DEMAND_UNKNOWN || is_known(verdict->keep_away_m) ? "look" : "passes");
    if (fact->water_demand == WATER_DEMAND_UNKNOWN)
        row_print(row, "Water demand of %s on shrinkable clay: unknown.", fact->name);
    else if (is_known(verdict->keep_away_m))
        row_print(row, "On shrinkable clay %s keeps %.1f m from buildings; an engineer decides.", fact->name, verdict->keep_away_m);
    else
        row_print(row, "Water demand: %s; no building recorded within its reach.", word_of(WORDS_WATER_DEMAND, (int)fact->water_demand));
}

static void checks_section(json_t *out, const struct mending *m, const struct mix_substitution *made, const char *to, bool *stop)
{
    static const char *const words[] = {"passes", "look", "STOP"};
    json_t *table = section_table(note_section(out, "What was checked")), *list = json_array();
    table_column(table, "state", "state", "", -1);
    table_column(table, "words", "what was found", "", -1);
    for (size_t i = 0; i < made->n_checks; i++) {
        json_t *row = table_row(table);
        row_text(row, words[made->checks[i].state]);
        row_text(row, made->checks[i].sentence);
    }
    *stop = made->stopped;
    place_checks(table, &m->mixing, verdict_of(&m->mixing, to), stop);
    const json_t *rows = json_object_get(table, "rows");
    for (size_t i = 0; i < json_array_size(rows); i++)
        json_array_append_new(list, json_pack("{s:O, s:O}", "state", json_array_get(json_array_get(rows, i), 0), "words",
                                              json_array_get(json_array_get(rows, i), 1)));
    json_object_set_new(note_data(out), "checks", list);
}

static size_t species_at(const struct mixing *mixing, const char *name)
{
    size_t i = 0;
    while (i < mixing->n && !text_same(mixing->species[i].name, name))
        i++;
    return i;
}

static enum outcome substitute_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct mending m = {.n_cells = 0};
    struct mix_substitution made;
    const char *from = NULL, *to = NULL, *approver = option_text(in, "approver", NULL);
    int32_t day = option_date(in, "approved_on", DATE_UNKNOWN);
    json_t *out = note_new();
    bool stop = false;
    enum outcome outcome = laying_load(context, option_text(in, "plot", NULL), option_integer(in, "plan", 0), &arena, &m.laying, why);
    if (outcome == OUTCOME_OK)
        outcome = name_find(&m.laying.library, option_text(in, "species", ""), &arena, &from, why);
    if (outcome == OUTCOME_OK)
        outcome = name_find(&m.laying.library, option_text(in, "offered", ""), &arena, &to, why);
    if (outcome == OUTCOME_OK)
        outcome = mending_load(context, in, to, &m, &arena, why);
    if (outcome == OUTCOME_OK && species_at(&m.mixing, from) == m.mixing.n)
        outcome = fail(why, OUTCOME_DATA, "There is no %s in plan %lld of plot %s.", from, (long long)m.laying.plan.version,
                       m.laying.ground.plot.code);
    if (outcome == OUTCOME_OK)
        outcome = mix_substitute(m.mixing.species, m.mixing.n, &m.mixing.settings, m.before, species_at(&m.mixing, from),
                                 species_at(&m.mixing, to), approver, day, &arena, &made, why);
    if (outcome != OUTCOME_OK)
        goto done;
    m.after = made.plants;
    checks_section(out, &m, &made, to, &stop);
    counts_section(out, &m);
    const char *spare = arena_print(&arena, "%s for %s, approved by %s on %s", to, from, approver == NULL ? "nobody yet" : approver,
                                    day_words(day, &arena));
    bool stored = !stop && made.needs == NULL && !option_flag(in, "try");
    if (!stop) {
        lines_make(&m, spare, species_at(&m.mixing, to), &arena);
        outcome = places_mend(context, &m, &arena, why);
        if (outcome == OUTCOME_OK)
            places_section(out, &m, &arena);
    }
    if (outcome == OUTCOME_OK && stored)
        outcome = mending_store(context, &m, spare, &arena, why);
    if (outcome != OUTCOME_OK)
        goto done;
    if (stop)
        note_answer(out, "%s may not take the place of %s in %s/%s: STOP.", to, from, m.laying.ground.site.code, m.laying.ground.plot.code);
    else if (stored)
        note_answer(out, "Plan %lld of %s/%s: %s; other species change by %lld plants in all.", (long long)m.laying.plan.version,
                    m.laying.ground.site.code, m.laying.ground.plot.code, spare, (long long)made.moved);
    else
        note_answer(out, "%s could take the place of %s in %s/%s; other species would change by %lld plants in all. Nothing is stored%s%s.",
                    to, from, m.laying.ground.site.code, m.laying.ground.plot.code, (long long)made.moved,
                    made.needs == NULL ? "" : ": missing is ", made.needs == NULL ? "" : made.needs);
    if (made.needs != NULL)
        note_unknown(out, "Not yet said: %s. A substitution needs a written approval.", made.needs);
    note_caution(out, "C18", "Papers and health of the plants offered are still to be looked at; what is doubtful is not unloaded.",
                 "national plant-health service");
    json_object_set_new(note_data(out), "stopped", json_boolean(stop));
    json_object_set_new(note_data(out), "stored", json_boolean(stored));
    json_object_set_new(note_data(out), "moved", json_integer(made.moved));
    if (stored)
        json_object_set_new(note_data(out), "plan", json_integer(m.laying.plan.version));
done:
    if (outcome == OUTCOME_OK)
        *note = out;
    else
        json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_substitute = {
    .name = "substitute",
    .summary = "another species in place of one of a plan, with the least change to the rest",
    .about =
        "Shows what a species offered in place of another would mean: layer, shares, plant health, the place, water demand, thorns and "
        "poison. With who approves it and the day it is stored as a new plan beside the old one; places are changed as few as can be, and "
        "plants in the ground stay.",
    .example = "spinney substitute wood.gpkg LK/D1 'Tilia cordata' 'Carpinus betulus' --approver V003 --approved-on 2026-11-25",
    .access = JOB_WRITES,
    .options = substitute_options,
    .n_options = sizeof substitute_options / sizeof *substitute_options,
    .bare = substitute_bare,
    .run = substitute_run,
};

/* ---- mend ---- */

static const struct option mend_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"short", OPTION_TEXT, false, "NAME=N;NAME=N", "so many plants of a species fewer, such as came short or were lost"},
    {"counts", OPTION_TEXT, false, "NAME=N;NAME=N", "exactly so many of a species"},
    {"fill", OPTION_FLAG, false, NULL, "other species of the plan take the places, with the least change; else they stay empty"},
    {"plan", OPTION_INTEGER, false, "N", "which plan of the plot (the chosen one if not given)"},
    {"why", OPTION_TEXT, false, "TEXT", "what happened, kept with the new plan"},
    {"try", OPTION_FLAG, false, NULL, "only show it, store nothing"},
};
static const char *const mend_bare[] = {"plot", NULL};

enum { MOST_GIVEN = 400 };

/* "NAME=N;…" into counts: fewer by N, or exactly N. Each species named is fixed by a wish. */
static enum outcome counts_read(const char *text, bool fewer, struct mending *m, struct mix_wish *wishes, size_t *n, struct arena *arena,
                                struct failure *why)
{
    char *copy = arena_text(arena, text), *rest = NULL;
    for (char *part = strtok_r(copy, ";", &rest); part != NULL && *n < MOST_GIVEN; part = strtok_r(NULL, ";", &rest)) {
        char *equals = strchr(part, '=');
        const char *name = NULL;
        int64_t plants = 0;
        if (equals == NULL || !integer_read(text_trim(arena, equals + 1), &plants) || plants < 0) {
            fail(why, OUTCOME_USAGE, "\"%.80s\" is not NAME=N.", part);
            return failure_remedy(why, "Write it like 'Betula pendula=12'.");
        }
        *equals = '\0';
        enum outcome outcome = name_find(&m->laying.library, text_trim(arena, part), arena, &name, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        size_t i = species_at(&m->mixing, name);
        if (i == m->mixing.n || (fewer && plants > m->after[i])) {
            fail(why, OUTCOME_DATA, "The plan has %lld plants of %s.", i == m->mixing.n ? 0LL : (long long)m->after[i], name);
            return failure_remedy(why, "Another species comes in with substitute.");
        }
        m->after[i] = fewer ? m->after[i] - plants : plants;
        wishes[(*n)++] = (struct mix_wish){i, m->after[i], m->after[i], "as given"};
    }
    return OUTCOME_OK;
}

static enum outcome refill(struct mending *m, const struct mix_wish *given, size_t n_given, const char **words, struct arena *arena,
                           struct failure *why)
{
    struct mix_settings settings = m->mixing.settings;
    struct mix_wish *wishes = arena_array(arena, settings.n_wishes + n_given + 1, sizeof *wishes);
    double *wanted = arena_array(arena, m->mixing.n, sizeof *wanted);
    struct mix_nearest nearest;
    size_t n = 0;
    for (size_t i = 0; i < settings.n_wishes; i++)
        wishes[n++] = settings.wishes[i];
    for (size_t i = 0; i < n_given; i++)
        wishes[n++] = given[i];
    for (size_t i = 0; i < m->mixing.n; i++)
        wanted[i] = (double)m->after[i];
    settings.wishes = wishes;
    settings.n_wishes = n;
    enum outcome outcome = mix_nearest(m->mixing.species, m->mixing.n, &settings, wanted, arena, &nearest, why);
    if (outcome == OUTCOME_OK && !nearest.found) {
        fail(why, OUTCOME_DATA, "The other species cannot fill the places. %s", nearest.words);
        return failure_remedy(why, "Leave --fill out (the places stay empty), or bring another species in with substitute.");
    }
    if (outcome == OUTCOME_OK) {
        m->after = nearest.plants;
        *words = nearest.words;
    }
    return outcome;
}

static enum outcome mend_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct mending m = {.n_cells = 0};
    const char *words = NULL, *fewer = option_text(in, "short", NULL), *counts = option_text(in, "counts", NULL);
    struct mix_wish given[MOST_GIVEN];
    size_t n_given = 0;
    json_t *out = note_new();
    enum outcome outcome = mending_load(context, in, NULL, &m, &arena, why);
    if (outcome == OUTCOME_OK && fewer == NULL && counts == NULL) {
        fail(why, OUTCOME_USAGE, "Nothing is to be mended.");
        outcome = failure_remedy(why, "Say what came short: --short 'Betula pendula=12'.");
    }
    if (outcome == OUTCOME_OK) {
        m.after = arena_array(&arena, m.mixing.n, sizeof *m.after);
        memcpy(m.after, m.before, m.mixing.n * sizeof *m.after);
    }
    if (outcome == OUTCOME_OK && fewer != NULL)
        outcome = counts_read(fewer, true, &m, given, &n_given, &arena, why);
    if (outcome == OUTCOME_OK && counts != NULL)
        outcome = counts_read(counts, false, &m, given, &n_given, &arena, why);
    if (outcome == OUTCOME_OK && option_flag(in, "fill"))
        outcome = refill(&m, given, n_given, &words, &arena, why);
    if (outcome == OUTCOME_OK) {
        lines_make(&m, NULL, SIZE_MAX, &arena);
        outcome = places_mend(context, &m, &arena, why);
    }
    const char *what = fewer == NULL ? arena_print(&arena, "counts %s", counts) : arena_print(&arena, "short of %s", fewer);
    const char *said =
        arena_print(&arena, "mended, %s%s%s", what, option_text(in, "why", NULL) == NULL ? "" : ": ", option_text(in, "why", ""));
    bool stored = outcome == OUTCOME_OK && !option_flag(in, "try");
    if (stored)
        outcome = mending_store(context, &m, said, &arena, why);
    if (outcome == OUTCOME_OK) {
        int64_t total = 0, was = 0;
        for (size_t i = 0; i < m.mixing.n; i++) {
            total += m.after[i];
            was += m.before[i];
        }
        counts_section(out, &m);
        places_section(out, &m, &arena);
        note_answer(out, "%s/%s, %s: %lld of %lld plants%s%s%s", m.laying.ground.site.code, m.laying.ground.plot.code, what,
                    (long long)total, (long long)was, m.has_places ? arena_print(&arena, ", %zu places change", m.repair.n_moves) : "",
                    stored ? arena_print(&arena, "; plan %lld.", (long long)m.laying.plan.version) : " (not stored).",
                    words == NULL ? "" : arena_print(&arena, " %s", words));
        if (total < was)
            note_unknown(out, "%lld places stay empty: the plot is thinner there than its density says.", (long long)(was - total));
        if (stored)
            json_object_set_new(note_data(out), "plan", json_integer(m.laying.plan.version));
        *note = out;
    } else {
        json_decref(out);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_mend = {
    .name = "mend",
    .summary = "a plan after a short delivery or a loss, with the fewest places changed",
    .about =
        "Brings a plan to new counts: places that fall free stay empty, or other species of the plan take them with the least change to "
        "the mix. Plants in the ground are never moved. The result is a new plan beside the old one.",
    .example = "spinney mend wood.gpkg LK/D1 --short 'Betula pendula=12' --fill --why 'delivered 12 short'",
    .access = JOB_WRITES,
    .options = mend_options,
    .n_options = sizeof mend_options / sizeof *mend_options,
    .bare = mend_bare,
    .run = mend_run,
};
