/* SPDX-License-Identifier: GPL-3.0-or-later
 * losses: whether to replace what died, by the policy, with the gaps on a map. replant: new plants in the place of dead ones. */
#include "draw/draw.h"
#include "work/jobs.h"
#include "work/plan_load.h"
#include "work/site_map.h"
#include "water/water.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- what lives where ---- */

struct standing {
    struct site site;
    struct plot plot;
    struct plant *plants;
    size_t n;
    enum truth *lives; ///< of each plant: yes, no, or not known (not found, or never seen)
    struct cell *cells;
    size_t n_cells;
    int *living; ///< living plants in each square
    int *piece;  ///< number of the gap a square is in; −1: somebody lives there
    double *gaps_m2;
    size_t n_gaps, largest;
    double alive, dead, unknown, area_m2;
    int32_t last_on;
    bool replaced;
};

static enum truth living(enum status status)
{
    switch (status) {
    case STATUS_ALIVE:
    case STATUS_ALIVE_DIEBACK:
    case STATUS_RESPROUTING:
        return TRUTH_YES;
    case STATUS_DEAD_STANDING:
    case STATUS_MISSING:
    case STATUS_REMOVED:
    case STATUS_REPLACED:
        return TRUTH_NO;
    default:
        return TRUTH_UNKNOWN;
    }
}

static enum outcome lives_fill(struct store *store, struct standing *s, struct arena *arena, struct failure *why)
{
    void *rows = NULL, *plants = NULL;
    size_t n = 0;
    enum outcome outcome = load_of(store, NOUN_PLANT, "plot_id", s->plot.id, arena, &plants, &s->n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_PLANT_RECORD, arena, &rows, &n, why);
    s->plants = plants;
    s->lives = arena_array(arena, s->n + 1, sizeof *s->lives);
    int32_t *newest = arena_array(arena, s->n + 1, sizeof *newest);
    int64_t least = s->n == 0 ? 0 : s->plants[0].id, most = least;
    for (size_t p = 0; p < s->n; p++) {
        least = s->plants[p].id < least ? s->plants[p].id : least;
        most = s->plants[p].id > most ? s->plants[p].id : most;
    }
    size_t *at = arena_array(arena, (size_t)(most - least) + 2, sizeof *at); /* plant by id, plus one; 0: none */
    for (size_t p = 0; p < s->n; p++)
        at[s->plants[p].id - least] = p + 1;
    s->last_on = DATE_UNKNOWN;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct plant_record *r = &((const struct plant_record *)rows)[i];
        size_t p = r->plant_id >= least && r->plant_id <= most ? at[r->plant_id - least] : 0;
        if (p == 0 || r->observed_on < newest[p - 1])
            continue;
        newest[p - 1] = r->observed_on;
        s->lives[p - 1] = living(r->status);
        s->last_on = s->last_on == DATE_UNKNOWN || r->observed_on > s->last_on ? r->observed_on : s->last_on;
    }
    for (size_t p = 0; p < s->n; p++) {
        s->replaced = s->replaced || s->plants[p].origin == ORIGIN_REPLACEMENT;
        s->alive += s->lives[p] == TRUTH_YES;
        s->dead += s->lives[p] == TRUTH_NO;
        s->unknown += s->lives[p] == TRUTH_UNKNOWN;
    }
    return outcome;
}

/* Squares next to each other in which nobody lives make one gap. A plant whose fate is not known closes no gap and opens none. */
static void gaps_find(struct standing *s, struct arena *arena)
{
    s->living = arena_array(arena, s->n_cells + 1, sizeof *s->living);
    s->piece = arena_array(arena, s->n_cells + 1, sizeof *s->piece);
    s->gaps_m2 = arena_array(arena, s->n_cells + 1, sizeof *s->gaps_m2);
    for (size_t p = 0; p < s->n; p++)
        for (size_t c = 0; c < s->n_cells && s->lives[p] != TRUTH_NO; c++)
            if (text_same(s->cells[c].code, s->plants[p].cell_code))
                s->living[c]++;
    for (size_t c = 0; c < s->n_cells; c++)
        s->piece[c] = s->living[c] > 0 ? -1 : -2;
    size_t *stack = arena_array(arena, s->n_cells + 1, sizeof *stack);
    for (size_t c = 0; c < s->n_cells; c++) {
        size_t top = 0;
        if (s->piece[c] != -2)
            continue;
        s->piece[c] = (int)s->n_gaps;
        stack[top++] = c;
        while (top > 0) {
            size_t at = stack[--top];
            s->gaps_m2[s->n_gaps] += 1;
            for (size_t o = 0; o < s->n_cells; o++)
                if (s->piece[o] == -2 && llabs((long long)(s->cells[o].row_index - s->cells[at].row_index)) +
                                                 llabs((long long)(s->cells[o].column_index - s->cells[at].column_index)) ==
                                             1) {
                    s->piece[o] = (int)s->n_gaps;
                    stack[top++] = o;
                }
        }
        if (s->gaps_m2[s->n_gaps] > s->gaps_m2[s->largest])
            s->largest = s->n_gaps;
        s->n_gaps++;
    }
}

static enum outcome standing_load(struct store *store, const char *code, struct arena *arena, struct standing *s, struct failure *why)
{
    struct plan plan;
    struct shape outline;
    *s = (struct standing){.alive = 0};
    enum outcome outcome = load_plot(store, code, arena, &s->plot, &s->site, why);
    if (outcome == OUTCOME_OK)
        outcome = lives_fill(store, s, arena, why);
    if (outcome == OUTCOME_OK)
        outcome = load_plan(store, &s->plot, 0, arena, &plan, why);
    if (outcome == OUTCOME_OK)
        outcome = plan_parts_load(store, plan.id, arena, NULL, NULL, NULL, NULL, &s->cells, &s->n_cells, why);
    if (outcome == OUTCOME_OK)
        outcome = load_shape(s->plot.wkb, arena, &outline, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    s->area_m2 = is_known(s->plot.net_area_m2)    ? s->plot.net_area_m2
                 : outline.kind == SHAPE_POLYGONS ? shape_area_m2(&outline)
                                                  : unknown_real();
    gaps_find(s, arena);
    return OUTCOME_OK;
}

/* ---- losses ---- */

static const struct option losses_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"survival", OPTION_NUMBER, false, "%", "policy, comparison plot: replace under this share (85)"},
    {"last_autumn", OPTION_INTEGER, false, "N", "policy, comparison plot: and not after this autumn (2)"},
    {"gap_m2", OPTION_NUMBER, false, "M2", "policy, dense plot: a gap above this (2)"},
    {"density", OPTION_NUMBER, false, "PER_M2", "policy, dense plot: or fewer living plants than this (2)"},
    {"layer", OPTION_NUMBER, false, "%", "policy, dense plot: or a layer under this share of what was planted (60)"},
    {"ground", OPTION_TEXT, false, "WORD", "yes where the losses come from the ground (a wet hollow, rubble), no where they do not"},
};
static const char *const losses_bare[] = {"plot", NULL};

static enum outcome gap_map(const struct standing *s, json_t *section, struct arena *arena, struct failure *why)
{
    struct shape outline;
    struct map_area *areas = arena_array(arena, s->n_cells + 1, sizeof *areas);
    struct map_plant *plants = arena_array(arena, s->n + 1, sizeof *plants);
    struct map map = {.title = arena_print(arena, "Gaps of %s/%s", s->site.code, s->plot.code),
                      .about =
                          arena_print(arena, "%zu gaps, the largest of %.0f m²", s->n_gaps, s->n_gaps == 0 ? 0 : s->gaps_m2[s->largest]),
                      .legend = true,
                      .width_pt = 515,
                      .height_pt = 400,
                      .convergence_deg = unknown_real()};
    struct drawing *drawing = NULL;
    enum outcome outcome = load_shape(s->plot.wkb, arena, &outline, why);
    for (size_t c = 0; c < s->n_cells && outcome == OUTCOME_OK; c++) {
        struct shape *shape = arena_alloc(arena, sizeof *shape);
        if (s->piece[c] < 0)
            continue;
        outcome = load_shape(s->cells[c].wkb, arena, shape, why);
        if (outcome == OUTCOME_OK && shape->kind != SHAPE_NONE)
            areas[map.n_areas++] = (struct map_area){shape, NULL, false, s->gaps_m2[s->piece[c]] > 2 ? MAP_FILL_CROSS : MAP_FILL_HATCH};
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    for (size_t p = 0; p < s->n; p++)
        if (is_known(s->plants[p].x_m) && is_known(s->plants[p].y_m))
            plants[map.n_plants++] =
                (struct map_plant){s->plants[p].x_m, s->plants[p].y_m, (int)s->plants[p].layer, NULL, s->lives[p] == TRUTH_NO};
    map.areas = areas;
    map.plants = plants;
    map.outline = outline.kind == SHAPE_NONE ? NULL : &outline;
    if (map_draw(&map, &drawing, NULL, why) != OUTCOME_OK)
        return OUTCOME_OK; /* nothing has a place: the table says it */
    section_text(section,
                 "Squares in which nothing lives are hatched, those of gaps above 2 m² crossed; plants that died are struck through.");
    section_drawing(section, drawing);
    return OUTCOME_OK;
}

static size_t layers_fill(const struct standing *s, struct replacement_layer out[LAYER_COUNT])
{
    size_t n = 0;
    for (int layer = 1; layer < LAYER_COUNT; layer++) {
        struct replacement_layer one = {word_of(WORDS_LAYER, layer), 0, 0};
        for (size_t p = 0; p < s->n; p++)
            if ((int)s->plants[p].layer == layer) {
                one.target += s->plants[p].origin == ORIGIN_FIRST_PLANTING;
                one.alive += s->lives[p] == TRUTH_YES;
            }
        if (one.target > 0)
            out[n++] = one;
    }
    return n;
}

static enum outcome losses_note(const struct job_context *context, const struct standing *s, const struct replacement_advice *advice,
                                const struct replacement_policy *policy, bool dense, struct arena *arena, json_t *out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    note_answer(out, "%s/%s, as seen up to %s: %s", s->site.code, s->plot.code, day_words(s->last_on, arena), advice->words);
    json_t *table = section_table(note_section(out, "What stands"));
    table_column(table, "what", "what", "", -1);
    table_column(table, "value", "value", "", -1);
    const struct {
        const char *what;
        double value;
    } lines[] = {{"planted, replacements too", (double)s->n},
                 {"alive", s->alive},
                 {"dead, missing or removed", s->dead},
                 {"not found or not seen", s->unknown},
                 {"gaps", (double)s->n_gaps},
                 {"largest gap [m²]", s->n_gaps == 0 ? 0 : s->gaps_m2[s->largest]},
                 {"living plants on a square metre", s->alive / s->area_m2}};
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        json_t *row = table_row(table);
        row_text(row, lines[i].what);
        if (is_known(lines[i].value))
            row_print(row, i == 6 ? "%.2f" : "%.0f", lines[i].value);
        else
            row_text(row, NULL);
    }
    enum outcome outcome = gap_map(s, note_section(out, "Where it is empty"), arena, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_PROTOCOL, arena, &rows, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        if (((const struct protocol *)rows)[i].replacement_policy != NULL)
            note_source(out, "Protocol %s says: %s.", ((const struct protocol *)rows)[i].version,
                        ((const struct protocol *)rows)[i].replacement_policy);
    if (dense)
        note_source(
            out,
            "Policy, dense plot: a gap above %g m², fewer than %g living plants on a square metre, or a layer under %.0f %%; common "
            "practice, no source.",
            policy->gap_m2, policy->density_m2, 100 * policy->layer_share);
    else
        note_source(out, "Policy, comparison plot: under %.0f %% alive, not after autumn %d, once only; common practice, no source.",
                    100 * policy->survival, policy->last_year);
    note_unknown(out, "A plant that was not found counts as neither: it opens no gap and closes none.");
    note_unknown(out, "Replacing changes stocking, not the survival of the first planting, which is counted without replacements.");
    json_object_set_new(note_data(out), "replace", json_string(word_of(WORDS_TRUTH, (int)advice->replace)));
    json_object_set_new(note_data(out), "plants", is_known(advice->plants) ? json_real(advice->plants) : json_null());
    json_object_set_new(note_data(out), "largest_gap_m2", json_real(s->n_gaps == 0 ? 0 : s->gaps_m2[s->largest]));
    json_object_set_new(note_data(out), "alive", json_real(s->alive));
    return outcome;
}

static enum outcome losses_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct standing s;
    struct replacement_layer layers[LAYER_COUNT];
    struct replacement_policy policy = replacement_policy_default();
    int ground = option_text(in, "ground", NULL) == NULL ? (int)TRUTH_UNKNOWN : word_find(WORDS_TRUTH, option_text(in, "ground", ""));
    enum outcome outcome = ground < 0 ? fail(why, OUTCOME_USAGE, "ground is yes or no.") : OUTCOME_OK;
    policy.survival = option_number(in, "survival", 100 * policy.survival) / 100;
    policy.last_year = (int)option_integer(in, "last_autumn", policy.last_year);
    policy.gap_m2 = option_number(in, "gap_m2", policy.gap_m2);
    policy.density_m2 = option_number(in, "density", policy.density_m2);
    policy.layer_share = option_number(in, "layer", 100 * policy.layer_share) / 100;
    if (outcome == OUTCOME_OK)
        outcome = standing_load(context->store, option_text(in, "plot", NULL), &arena, &s, why);
    if (outcome == OUTCOME_OK && s.last_on == DATE_UNKNOWN) {
        fail(why, OUTCOME_DATA, "Nobody has looked at the plants of %s/%s yet.", s.site.code, s.plot.code);
        outcome = failure_remedy(why, "Count first, then find the cause, then plant: bring in a census.");
    }
    if (outcome == OUTCOME_OK) {
        double first = 0, first_alive = 0;
        bool dense = s.plot.regime == REGIME_DENSE_PREPARED || s.plot.regime == REGIME_DENSE_UNPREPARED || s.plot.density_m2 >= 2;
        for (size_t p = 0; p < s.n; p++)
            if (s.plants[p].origin == ORIGIN_FIRST_PLANTING && s.lives[p] != TRUTH_UNKNOWN) {
                first++;
                first_alive += s.lives[p] == TRUTH_YES;
            }
        struct replacement_case what = {.dense = dense,
                                        .planted = first,
                                        .alive = dense ? s.alive : first_alive,
                                        .area_m2 = s.area_m2,
                                        .largest_gap_m2 = s.n_gaps == 0 ? 0 : s.gaps_m2[s.largest],
                                        .autumn = growing_season(s.last_on, s.plot.planted_on),
                                        .replaced_before = s.replaced,
                                        .layers = layers,
                                        .n_layers = layers_fill(&s, layers),
                                        .cause_is_ground = (enum truth)ground};
        struct replacement_advice advice = replacement_advise(&what, &policy, &arena);
        json_t *out = note_new();
        outcome = losses_note(context, &s, &advice, &policy, dense, &arena, out, why);
        if (outcome == OUTCOME_OK)
            *note = json_incref(out);
        json_decref(out);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_losses = {
    .name = "losses",
    .summary = "whether to replace what died, by the policy, with a map of gaps",
    .about =
        "Counts what lives, finds the gaps and holds both against the replacement policy: a comparison plot by its survival, a dense plot "
        "by "
        "gaps, stocking and layers, since a dense plot is meant to thin itself. Where the ground is the cause, planting again repeats the "
        "loss.",
    .example = "spinney losses wood.gpkg LK/C1 --ground no",
    .access = JOB_LOOKS,
    .options = losses_options,
    .n_options = sizeof losses_options / sizeof *losses_options,
    .bare = losses_bare,
    .run = losses_run,
};

/* ---- replant ---- */

static const struct option replant_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"labels", OPTION_TEXT, true, "DEAD=NEW;DEAD=NEW:SPECIES", "label of each dead plant, and the new label of what takes its place"},
    {"on", OPTION_DATE, false, "DAY", "day (today if not given)"},
    {"batch", OPTION_TEXT, false, "TEXT", "nursery batch"},
    {"who", OPTION_TEXT, false, "WHO", "team"},
};
static const char *const replant_bare[] = {"plot", "labels", NULL};

static const struct plant *by_label(const struct standing *s, const char *label, size_t *at)
{
    for (size_t p = 0; p < s->n; p++)
        if (text_same_nocase(s->plants[p].tag, label)) {
            *at = p;
            return &s->plants[p];
        }
    return NULL;
}

static enum outcome one_replant(struct standing *s, const char *pair, int32_t on, const char *batch, const struct plant *fresh,
                                size_t n_fresh, struct arena *arena, struct plant *out, struct failure *why)
{
    char *copy = arena_text(arena, pair), *equals = strchr(copy, '='), *colon = NULL;
    size_t at = 0, other = 0;
    if (equals != NULL) {
        *equals = '\0';
        colon = strchr(equals + 1, ':');
    }
    if (colon != NULL)
        *colon = '\0';
    const char *old = text_trim(arena, copy), *new_label = equals == NULL ? "" : text_trim(arena, equals + 1);
    const struct plant *dead = by_label(s, old, &at);
    if (equals == NULL || new_label[0] == '\0')
        return fail(why, OUTCOME_USAGE, "labels: \"%.60s\" is not DEAD=NEW.", pair);
    if (dead == NULL) {
        fail(why, OUTCOME_DATA, "No plant of %s/%s has the label %s.", s->site.code, s->plot.code, old);
        return failure_at(why, NULL, 0, "labels");
    }
    if (s->lives[at] != TRUTH_NO) {
        fail(why, OUTCOME_DATA, "%s was %s: its place is not free.", old,
             s->lives[at] == TRUTH_YES ? "alive when last seen" : "never seen dead");
        return failure_remedy(why, "Record its death first, where it has died since.");
    }
    bool taken = by_label(s, new_label, &other) != NULL;
    for (size_t i = 0; i < n_fresh && !taken; i++)
        taken = text_same_nocase(fresh[i].tag, new_label);
    if (taken) {
        fail(why, OUTCOME_DATA, "%s is the label of another plant%s.", new_label, text_same_nocase(old, new_label) ? ", the dead one" : "");
        return failure_remedy(why, "A new plant is another plant: give it a label of its own.");
    }
    noun_init(NOUN_PLANT, out);
    out->plot_id = dead->plot_id;
    out->cell_code = dead->cell_code;
    out->number = dead->number;
    out->tag = arena_text(arena, new_label);
    out->species = colon == NULL ? dead->species : text_trim(arena, colon + 1);
    out->layer = dead->layer;
    out->origin = ORIGIN_REPLACEMENT;
    out->cohort = arena_print(arena, "replacement %s", day_words(on, arena));
    out->planted_on = on;
    out->replaces_id = dead->id;
    out->batch = batch;
    out->x_m = dead->x_m;
    out->y_m = dead->y_m;
    return OUTCOME_OK;
}

static enum outcome replant_store(const struct job_context *context, const json_t *in, const struct standing *s, struct plant *fresh,
                                  size_t n, int32_t on, struct arena *arena, struct failure *why)
{
    struct care_event event;
    noun_init(NOUN_CARE_EVENT, &event);
    event.plot_id = s->plot.id;
    event.done_on = on;
    event.kind = CARE_KIND_REPLACEMENT_PLANTING;
    event.state = DONE_STATE_DONE;
    event.who = option_text(in, "who", NULL);
    event.note = arena_print(arena, "%zu plants replaced", n);
    enum outcome outcome =
        store_begin(context->store, context->author, arena_print(arena, "replanting in %s/%s", s->site.code, s->plot.code), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = store_add(context->store, NOUN_PLANT, fresh, n, why);
    if (outcome == OUTCOME_OK)
        outcome = store_add(context->store, NOUN_CARE_EVENT, &event, 1, why);
    return store_end(context->store, outcome, why);
}

static enum outcome replant_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct standing s;
    int32_t on = option_date(in, "on", context->today);
    char *copy = arena_text(&arena, option_text(in, "labels", "")), *rest = NULL;
    struct plant *fresh = arena_array(&arena, strlen(copy) + 1, sizeof *fresh);
    size_t n = 0;
    enum outcome outcome = standing_load(context->store, option_text(in, "plot", NULL), &arena, &s, why);
    for (char *part = strtok_r(copy, ";", &rest); outcome == OUTCOME_OK && part != NULL; part = strtok_r(NULL, ";", &rest)) {
        outcome = one_replant(&s, part, on, option_text(in, "batch", NULL), fresh, n, &arena, &fresh[n], why);
        n += outcome == OUTCOME_OK;
    }
    if (outcome == OUTCOME_OK && n == 0)
        outcome = fail(why, OUTCOME_USAGE, "No label was given.");
    if (outcome == OUTCOME_OK)
        outcome = replant_store(context, in, &s, fresh, n, on, &arena, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new(), *ids = json_array(), *table = section_table(note_section(out, "New plants"));
        table_column(table, "label", "label", "", -1);
        table_column(table, "species", "species", "", -1);
        table_column(table, "place", "place", "", -1);
        for (size_t i = 0; i < n; i++) {
            json_t *row = table_row(table);
            row_text(row, fresh[i].tag);
            row_text(row, fresh[i].species);
            row_print(row, "%s number %lld", fresh[i].cell_code == NULL ? "?" : fresh[i].cell_code, (long long)fresh[i].number);
            json_array_append_new(ids, json_integer(fresh[i].id));
        }
        note_answer(out, "%zu new %s in %s/%s, each with its own identity; the first planting is counted without them.", n,
                    n == 1 ? "plant is" : "plants are", s.site.code, s.plot.code);
        json_object_set_new(note_data(out), "ids", ids);
        note_unknown(out, "What the new plants cost: enter it in the ledger under replacement.");
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_replant = {
    .name = "replant",
    .summary = "new plants in the place of dead ones, each with its own identity",
    .about =
        "Enters replacements: each takes the place of a plant last seen dead and gets a label of its own. A dead plant's label is not used "
        "again. Survival of the first planting does not change.",
    .example = "spinney replant wood.gpkg LK/C1 'LK-C1-A03-1=LK-R-001;LK-C1-B07-1=LK-R-002'",
    .access = JOB_WRITES,
    .options = replant_options,
    .n_options = sizeof replant_options / sizeof *replant_options,
    .bare = replant_bare,
    .run = replant_run,
};
