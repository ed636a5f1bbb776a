/* SPDX-License-Identifier: GPL-3.0-or-later
 * returned: which square-metre cards came back, and which are missing. reconcile: ordered, delivered, planted, found at the
 * as-planted census, species by species and plant by plant. Nothing is balanced silently. */
#include "work/jobs.h"
#include "work/plan_load.h"
#include <stdlib.h>
#include <string.h>

/* ---- returned ---- */

static const struct option returned_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"cards", OPTION_TEXT, false, "C07;C08", "cards that came back"},
    {"all", OPTION_FLAG, false, NULL, "all cards came back"},
    {"but", OPTION_TEXT, false, "C07;C08", "all but these"},
    {"less", OPTION_TEXT, false, "C07=2;D01=0", "cards on which other than the plan's number was planted, with the number"},
    {"on", OPTION_DATE, false, "DAY", "day (today if not given)"},
    {"team", OPTION_TEXT, false, "WHO", "team"},
};
static const char *const returned_bare[] = {"plot", "cards", NULL};

struct returning {
    struct plot_ground ground;
    struct plan plan;
    struct position *positions;
    struct cell *cells;
    size_t n_positions, n_cells;
    int64_t *wanted;  ///< plants on each card
    int64_t *planted; ///< by the cards that are back; INT_UNKNOWN: not back
};

static bool code_in(const char *list, const char *code, int64_t *number)
{
    struct arena arena = {0};
    bool found = false;
    char *copy = arena_text(&arena, list == NULL ? "" : list), *rest = NULL;
    for (char *part = strtok_r(copy, "; ,", &rest); part != NULL && !found; part = strtok_r(NULL, "; ,", &rest)) {
        char *sign = strchr(part, '=');
        if (sign != NULL)
            *sign = '\0';
        found = text_same_nocase(part, code);
        if (found && number != NULL && (sign == NULL || !integer_read(sign + 1, number) || *number < 0))
            *number = INT_UNKNOWN;
    }
    arena_clear(&arena);
    return found;
}

static enum outcome cards_of_plan(struct store *store, const struct plan *plan, struct arena *arena, struct returning *out,
                                  struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome =
        plan_parts_load(store, plan->id, arena, NULL, NULL, &out->positions, &out->n_positions, &out->cells, &out->n_cells, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_CARD_RETURN, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    out->wanted = arena_array(arena, out->n_cells + 1, sizeof *out->wanted);
    out->planted = arena_array(arena, out->n_cells + 1, sizeof *out->planted);
    for (size_t i = 0; i < out->n_cells; i++) {
        out->planted[i] = INT_UNKNOWN;
        for (size_t k = 0; k < out->n_positions; k++)
            out->wanted[i] += out->positions[k].cell_id == out->cells[i].id;
        for (size_t k = 0; k < n; k++)
            if (((struct card_return *)rows)[k].cell_id == out->cells[i].id)
                out->planted[i] = ((struct card_return *)rows)[k].planted;
    }
    return OUTCOME_OK;
}

/* Every code named must be a card of the plan. */
static enum outcome codes_check(const struct returning *job, const char *list, struct failure *why)
{
    struct arena arena = {0};
    enum outcome outcome = OUTCOME_OK;
    char *copy = arena_text(&arena, list == NULL ? "" : list), *rest = NULL;
    for (char *part = strtok_r(copy, "; ,", &rest); part != NULL && outcome == OUTCOME_OK; part = strtok_r(NULL, "; ,", &rest)) {
        bool found = false;
        part[strcspn(part, "=")] = '\0';
        for (size_t i = 0; i < job->n_cells && !found; i++)
            found = text_same_nocase(part, job->cells[i].code) && job->wanted[i] > 0;
        if (!found) {
            fail(why, OUTCOME_DATA, "There is no card %.20s on %s/%s.", part, job->ground.site.code, job->ground.plot.code);
            outcome = failure_remedy(why, "Look at the card: site, plot and square stand on it.");
        }
    }
    arena_clear(&arena);
    return outcome;
}

static enum outcome returned_store(const struct job_context *context, const json_t *in, struct returning *job, struct arena *arena,
                                   struct failure *why)
{
    const char *cards = option_text(in, "cards", NULL), *but = option_text(in, "but", NULL), *less = option_text(in, "less", NULL);
    bool all = option_flag(in, "all") || but != NULL;
    struct card_return *rows = arena_array(arena, job->n_cells + 1, sizeof *rows);
    size_t n = 0;
    enum outcome outcome = codes_check(job, cards, why);
    if (outcome == OUTCOME_OK)
        outcome = codes_check(job, but, why);
    if (outcome == OUTCOME_OK)
        outcome = codes_check(job, less, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < job->n_cells; i++) {
        int64_t number = job->wanted[i];
        bool named = code_in(cards, job->cells[i].code, NULL), odd = code_in(less, job->cells[i].code, &number);
        if (job->wanted[i] == 0 || code_in(but, job->cells[i].code, NULL) || (!all && !named && !odd))
            continue;
        if (odd && number == INT_UNKNOWN)
            return fail(why, OUTCOME_USAGE, "Say how many were planted on %s, such as %s=2.", job->cells[i].code, job->cells[i].code);
        if (job->planted[i] != INT_UNKNOWN) {
            if (all)
                continue;
            fail(why, OUTCOME_DATA, "Card %s came back already.", job->cells[i].code);
            return failure_remedy(why, "Change its row, or take the step back with undo.");
        }
        noun_init(NOUN_CARD_RETURN, &rows[n]);
        rows[n].cell_id = job->cells[i].id;
        rows[n].planted = job->planted[i] = number;
        rows[n].returned_on = option_date(in, "on", context->today);
        rows[n++].team = option_text(in, "team", NULL);
    }
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    outcome = store_begin(context->store, context->author,
                          arena_print(arena, "%zu cards of %s/%s returned", n, job->ground.site.code, job->ground.plot.code), why);
    if (outcome == OUTCOME_OK) {
        outcome = store_add(context->store, NOUN_CARD_RETURN, rows, n, why);
        outcome = store_end(context->store, outcome, why);
    }
    return outcome;
}

static json_t *returned_note(const struct returning *job)
{
    json_t *out = note_new(), *table = section_table(note_section(out, "Cards")), *missing = json_array();
    size_t cards = 0, back = 0, odd = 0;
    int64_t plants = 0, planted = 0;
    struct text names = {0};
    table_column(table, "card", "card", "", -1);
    table_column(table, "plan", "plants by the plan", "", -1);
    table_column(table, "planted", "planted", "", -1);
    table_column(table, "state", "state", "", -1);
    for (size_t i = 0; i < job->n_cells; i++) {
        if (job->wanted[i] == 0)
            continue;
        bool here = job->planted[i] != INT_UNKNOWN;
        cards++;
        back += here;
        plants += job->wanted[i];
        planted += here ? job->planted[i] : 0;
        odd += here && job->planted[i] != job->wanted[i];
        if (here && job->planted[i] == job->wanted[i])
            continue;
        json_t *row = table_row(table);
        row_text(row, job->cells[i].code);
        row_integer(row, job->wanted[i]);
        row_integer(row, job->planted[i]);
        row_text(row, !here ? "not back" : job->planted[i] < job->wanted[i] ? "fewer than the plan" : "more than the plan");
        if (!here) {
            text_print(&names, "%s%s", json_array_size(missing) == 0 ? "" : ", ", job->cells[i].code);
            json_array_append_new(missing, json_string(job->cells[i].code));
        }
    }
    size_t gone = cards - back;
    note_answer(out, "%zu of %zu cards of %s/%s are back%s%s. By them %lld of %lld plants are in the ground%s.", back, cards,
                job->ground.site.code, job->ground.plot.code,
                gone == 0    ? ""
                : gone <= 20 ? ": missing are "
                             : ": ",
                gone == 0    ? ""
                : gone <= 20 ? text_get(&names)
                             : "the missing ones are in the table",
                (long long)planted, (long long)plants, odd == 0 ? "" : "; where the number differs the card stands below");
    json_object_set_new(note_data(out), "cards", json_integer((json_int_t)cards));
    json_object_set_new(note_data(out), "back", json_integer((json_int_t)back));
    json_object_set_new(note_data(out), "planted", json_integer(planted));
    json_object_set_new(note_data(out), "missing", missing);
    text_free(&names);
    return out;
}

static enum outcome returned_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct returning job = {.n_cells = 0};
    enum outcome outcome = plot_ground_load(context, option_text(in, "plot", NULL), &arena, &job.ground, why);
    if (outcome == OUTCOME_OK)
        outcome = load_plan(context->store, &job.ground.plot, 0, &arena, &job.plan, why);
    if (outcome == OUTCOME_OK)
        outcome = cards_of_plan(context->store, &job.plan, &arena, &job, why);
    if (outcome == OUTCOME_OK && job.n_positions == 0) {
        fail(why, OUTCOME_DATA, "Plan %lld of plot %s has no squares yet.", (long long)job.plan.version, job.ground.plot.code);
        outcome = failure_remedy(why, "Lay it out first: spinney layout FILE %s", job.ground.plot.code);
    }
    if (outcome == OUTCOME_OK)
        outcome = returned_store(context, in, &job, &arena, why);
    if (outcome == OUTCOME_OK)
        *note = returned_note(&job);
    arena_clear(&arena);
    return outcome;
}

const struct job job_returned = {
    .name = "returned",
    .summary = "cards that came back on planting day, and which are missing",
    .about = "Records the square-metre cards that come back, with how many plants went in where it is not the plan's number, and names "
             "those that are missing. Without cards it shows where things stand.",
    .example = "spinney returned wood.gpkg LK/D1 --but 'C07;D02' --team 'row A'",
    .access = JOB_WRITES,
    .options = returned_options,
    .n_options = sizeof returned_options / sizeof *returned_options,
    .bare = returned_bare,
    .run = returned_run,
};

/* ---- reconcile ---- */

static const struct option reconcile_options[] = {
    {"plots", OPTION_TEXT, false, "CODE;CODE", "plants of these plots only (all if not given); orders and deliveries are always of all"},
};
static const char *const reconcile_bare[] = {"plots", NULL};

/// Counts of one species; INT_UNKNOWN where that step has not been recorded.
struct tally {
    const char *species;
    int64_t needed, ordered, delivered, cards, plants, found;
    int64_t lost; ///< dead, missing or not found at the as-planted census
};
struct reconciling {
    struct tally *list;
    size_t n, room;
    bool any_order, any_delivery, any_cards, any_plants, any_census;
    size_t cards_open; ///< plants on cards whose number differs from the plan: their species is not known
    json_t *table;     ///< plant by plant
    json_t *named;     ///< the same as data
    size_t n_named;
    struct arena *arena;
};

static struct tally *tally_of(struct reconciling *job, const char *species)
{
    for (size_t i = 0; i < job->n; i++)
        if (text_same(job->list[i].species, species))
            return &job->list[i];
    if (job->n == job->room) {
        struct tally *more = arena_array(job->arena, job->room * 2 + 32, sizeof *more);
        if (job->n > 0)
            memcpy(more, job->list, job->n * sizeof *more);
        job->list = more;
        job->room = job->room * 2 + 32;
    }
    job->list[job->n] = (struct tally){.species = species};
    return &job->list[job->n++];
}

static void plant_named(struct reconciling *job, const char *plot, const char *plant, const char *species, const char *what)
{
    if (job->n_named++ >= 1000)
        return;
    json_t *row = table_row(job->table);
    row_text(row, plot);
    row_text(row, plant);
    row_text(row, species);
    row_text(row, what);
    json_array_append_new(job->named, json_pack("{s:s, s:s, s:s, s:s}", "plot", plot, "plant", plant, "species", species, "what", what));
}

static enum outcome papers_tally(struct store *store, struct reconciling *job, struct failure *why)
{
    void *orders = NULL, *came = NULL;
    size_t n = 0, m = 0;
    enum outcome outcome = load_all(store, NOUN_ORDER_LINE, job->arena, &orders, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_DELIVERY_LINE, job->arena, &came, &m, why);
    job->any_order = n > 0;
    job->any_delivery = m > 0;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct order_line *line = &((struct order_line *)orders)[i];
        tally_of(job, line->species)->ordered += line->plants_ordered;
        for (size_t k = 0; k < m; k++) {
            const struct delivery_line *delivery = &((struct delivery_line *)came)[k];
            if (delivery->order_line_id == line->id && delivery->state != DELIVERY_STATE_REFUSED)
                tally_of(job, delivery->offered_species == NULL ? line->species : delivery->offered_species)->delivered += delivery->plants;
        }
    }
    return outcome;
}

/* What the plan wants and what the cards say went in. */
static enum outcome plan_tally(struct store *store, const struct plot *plot, struct returning *cards, bool *planned,
                               struct reconciling *job, struct failure *why)
{
    struct plan plan;
    struct mix_line *lines = NULL;
    size_t n = 0;
    struct failure none;
    *planned = load_plan(store, plot, 0, job->arena, &plan, &none) == OUTCOME_OK;
    if (!*planned)
        return OUTCOME_OK;
    enum outcome outcome = plan_parts_load(store, plan.id, job->arena, &lines, &n, NULL, NULL, NULL, NULL, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        tally_of(job, lines[i].species)->needed += lines[i].plants;
    if (outcome == OUTCOME_OK)
        outcome = cards_of_plan(store, &plan, job->arena, cards, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < cards->n_cells; i++) {
        if (cards->planted[i] == INT_UNKNOWN)
            continue;
        job->any_cards = true;
        if (cards->planted[i] != cards->wanted[i])
            job->cards_open += (size_t)cards->planted[i];
        for (size_t k = 0; k < cards->n_positions && cards->planted[i] == cards->wanted[i]; k++)
            if (cards->positions[k].cell_id == cards->cells[i].id)
                tally_of(job, cards->positions[k].species)->cards++;
    }
    return outcome;
}

/// Records of the as-planted census of a site, in order of plant, then of entry.
struct census {
    struct plant_record *records;
    size_t n, room;
};

static int record_order(const void *a, const void *b)
{
    const struct plant_record *x = a, *y = b;
    if (x->plant_id != y->plant_id)
        return x->plant_id < y->plant_id ? -1 : 1;
    return x->id < y->id ? -1 : x->id > y->id;
}

/* The last record of a plant; NULL if there is none. */
static const struct plant_record *first_record(const struct census *census, int64_t plant)
{
    size_t low = 0, high = census->n;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (census->records[middle].plant_id <= plant)
            low = middle + 1;
        else
            high = middle;
    }
    return low > 0 && census->records[low - 1].plant_id == plant ? &census->records[low - 1] : NULL;
}

static enum outcome census_load(struct store *store, int64_t site, struct arena *arena, struct census *out, struct failure *why)
{
    void *visits = NULL, *rows = NULL;
    size_t n = 0, m = 0;
    enum outcome outcome = load_of(store, NOUN_VISIT, "site_id", site, arena, &visits, &n, why);
    for (size_t v = 0; outcome == OUTCOME_OK && v < n; v++) {
        if (((struct visit *)visits)[v].kind != VISIT_KIND_AS_PLANTED_CENSUS)
            continue;
        outcome = load_of(store, NOUN_PLANT_RECORD, "visit_id", ((struct visit *)visits)[v].id, arena, &rows, &m, why);
        for (size_t k = 0; outcome == OUTCOME_OK && k < m; k++) {
            out->records = column_room(out->records, out->n, &out->room, sizeof *out->records);
            out->records[out->n++] = ((struct plant_record *)rows)[k];
        }
    }
    if (out->n > 0)
        qsort(out->records, out->n, sizeof *out->records, record_order);
    return outcome;
}

static void plant_tally(struct reconciling *job, const char *plot, const struct plant *plant, const struct census *census, bool counted)
{
    const char *name = plant->tag != NULL ? plant->tag : arena_print(job->arena, "plant %lld", (long long)plant->id);
    struct tally *tally = tally_of(job, plant->species);
    tally->plants++;
    job->any_plants = true;
    if (!counted)
        return;
    const struct plant_record *record = first_record(census, plant->id);
    if (record == NULL) {
        plant_named(job, plot, name, plant->species, "not in the as-planted census");
        return;
    }
    bool there = record->status == STATUS_ALIVE || record->status == STATUS_ALIVE_DIEBACK || record->status == STATUS_RESPROUTING ||
                 record->status == STATUS_DEAD_STANDING;
    if (!there) {
        tally->lost++;
        plant_named(job, plot, name, plant->species,
                    arena_print(job->arena, "as-planted census: %s", word_plain(WORDS_STATUS, (int)record->status, job->arena)));
        return;
    }
    const char *seen = record->species_seen == NULL ? plant->species : record->species_seen;
    tally_of(job, seen)->found++;
    if (!text_same(seen, plant->species))
        plant_named(job, plot, name, plant->species, arena_print(job->arena, "as-planted census: seen as %s", seen));
}

static int id_order(const void *a, const void *b)
{
    int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return x < y ? -1 : x > y;
}

static enum outcome plot_tally(struct store *store, const struct plot *plot, const char *name, const struct census *census,
                               struct reconciling *job, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    bool planned = false, counted = false;
    struct returning cards = {.n_cells = 0};
    enum outcome outcome = plan_tally(store, plot, &cards, &planned, job, why);
    if (outcome == OUTCOME_OK)
        outcome = load_of(store, NOUN_PLANT, "plot_id", plot->id, job->arena, &rows, &n, why);
    const struct plant *plants = rows;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n && !counted; i++)
        counted = first_record(census, plants[i].id) != NULL;
    job->any_census = job->any_census || counted;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        if (plants[i].origin == ORIGIN_FIRST_PLANTING)
            plant_tally(job, name, &plants[i], census, counted);
    int64_t *places = arena_array(job->arena, n + 1, sizeof *places);
    for (size_t i = 0; i < n; i++)
        places[i] = plants[i].position_id;
    if (n > 0)
        qsort(places, n, sizeof *places, id_order);
    for (size_t k = 0; outcome == OUTCOME_OK && planned && n > 0 && k < cards.n_positions; k++) {
        bool stands = bsearch(&cards.positions[k].id, places, n, sizeof *places, id_order) != NULL;
        const char *cell = NULL;
        for (size_t c = 0; c < cards.n_cells && cell == NULL; c++)
            cell = cards.cells[c].id == cards.positions[k].cell_id ? cards.cells[c].code : NULL;
        if (!stands)
            plant_named(job, name, arena_print(job->arena, "%s-%lld", cell == NULL ? "?" : cell, (long long)cards.positions[k].number),
                        cards.positions[k].species, "a place of the plan without a plant");
    }
    return outcome;
}

static int tally_order(const void *a, const void *b)
{
    return strcmp(((const struct tally *)a)->species, ((const struct tally *)b)->species);
}

/* The step at which the counts of a species part, in words; NULL where they agree. */
static const char *parts_words(const struct reconciling *job, const struct tally *t)
{
    struct text text = {0};
    if (job->any_order && t->ordered < t->needed)
        text_print(&text, "%lld fewer ordered than the plans need. ", (long long)(t->needed - t->ordered));
    if (job->any_order && job->any_delivery && t->delivered != t->ordered)
        text_print(&text, "%lld %s delivered than ordered. ", (long long)llabs(t->ordered - t->delivered),
                   t->delivered < t->ordered ? "fewer" : "more");
    if (job->any_delivery && job->any_plants && t->plants > t->delivered)
        text_print(&text, "%lld more planted than delivered. ", (long long)(t->plants - t->delivered));
    if (job->any_plants && t->plants != t->needed)
        text_print(&text, "%lld %s on record than planned. ", (long long)llabs(t->plants - t->needed),
                   t->plants < t->needed ? "fewer" : "more");
    if (job->any_cards && job->cards_open == 0 && job->any_plants && t->cards != t->plants)
        text_print(&text, "%lld %s by the cards than on record. ", (long long)llabs(t->plants - t->cards),
                   t->cards < t->plants ? "fewer" : "more");
    if (job->any_census && t->found != t->plants)
        text_print(&text, "%lld %s found at the as-planted census than on record. ", (long long)llabs(t->plants - t->found),
                   t->found < t->plants ? "fewer" : "more");
    const char *out = text_get(&text)[0] == '\0' ? NULL : arena_text(job->arena, text_get(&text));
    text_free(&text);
    return out;
}

static void reconcile_tables(json_t *out, struct reconciling *job)
{
    json_t *table = section_table(note_section(out, "Species by species")), *list = json_array();
    static const char *const titles[] = {"species",      "planned",   "ordered",          "delivered",
                                         "by the cards", "on record", "found as planted", "where they part"};
    size_t parted = 0;
    const char *first = NULL;
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        table_column(table, titles[i], titles[i], i > 0 && i < 7 ? "plants" : "", -1);
    qsort(job->list, job->n, sizeof *job->list, tally_order);
    for (size_t i = 0; i < job->n; i++) {
        const struct tally *t = &job->list[i];
        const char *words = parts_words(job, t);
        json_t *row = table_row(table);
        row_text(row, t->species);
        row_integer(row, t->needed);
        row_integer(row, job->any_order ? t->ordered : INT_UNKNOWN);
        row_integer(row, job->any_delivery ? t->delivered : INT_UNKNOWN);
        row_integer(row, job->any_cards ? t->cards : INT_UNKNOWN);
        row_integer(row, job->any_plants ? t->plants : INT_UNKNOWN);
        row_integer(row, job->any_census ? t->found : INT_UNKNOWN);
        row_text(row, words == NULL ? "agree" : words);
        parted += words != NULL;
        if (words != NULL && first == NULL)
            first = arena_print(job->arena, "%s: %s", t->species, words);
        json_array_append_new(list, json_pack("{s:s, s:I, s:I, s:I, s:I, s:I, s:I, s:s?}", "species", t->species, "planned",
                                              (json_int_t)t->needed, "ordered", (json_int_t)t->ordered, "delivered",
                                              (json_int_t)t->delivered, "cards", (json_int_t)t->cards, "plants", (json_int_t)t->plants,
                                              "found", (json_int_t)t->found, "parts", words));
    }
    if (parted == 0)
        note_answer(out, "Every step that is recorded agrees for all %zu species.", job->n);
    else
        note_answer(out, "The counts part for %zu of %zu species; %zu plants are named below. %s%s", parted, job->n, job->n_named, first,
                    parted == 1 ? "" : "…");
    json_object_set_new(note_data(out), "species", list);
    json_object_set_new(note_data(out), "parted", json_integer((json_int_t)parted));
}

static void reconcile_gaps(json_t *out, const struct reconciling *job)
{
    const struct {
        bool there;
        const char *words;
    } steps[] = {{job->any_order, "No order is recorded (spinney order --keep)."},
                 {job->any_delivery, "No delivery is recorded (spinney delivered)."},
                 {job->any_cards, "No card came back yet (spinney returned)."},
                 {job->any_plants, "Nothing is recorded as planted (spinney planted)."},
                 {job->any_census, "There is no as-planted census: what really stands there is not known."}};
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
        if (!steps[i].there)
            note_unknown(out, "%s", steps[i].words);
    if (job->cards_open > 0)
        note_unknown(out, "%zu plants stand on cards whose number is not the plan's: their species is not known from the cards.",
                     job->cards_open);
    if (job->n_named > 1000)
        note_unknown(out, "Only the first 1,000 of %zu plants are named.", job->n_named);
}

static enum outcome reconcile_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    json_t *out = note_new();
    struct reconciling job = {.arena = &arena, .named = json_array()};
    void *plots = NULL, *sites = NULL;
    size_t n = 0, n_sites = 0;
    const char *wanted = option_text(in, "plots", NULL);
    enum outcome outcome = load_all(context->store, NOUN_PLOT, &arena, &plots, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_SITE, &arena, &sites, &n_sites, why);
    if (outcome == OUTCOME_OK)
        outcome = papers_tally(context->store, &job, why);
    job.table = json_pack("{s:[], s:[]}", "columns", "rows");
    table_column(job.table, "plot", "plot", "", -1);
    table_column(job.table, "plant", "plant", "", -1);
    table_column(job.table, "species", "species", "", -1);
    table_column(job.table, "what", "what", "", -1);
    for (size_t s = 0; outcome == OUTCOME_OK && s < n_sites; s++) {
        struct census census = {.n = 0};
        outcome = census_load(context->store, ((struct site *)sites)[s].id, &arena, &census, why);
        for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
            const struct plot *plot = &((struct plot *)plots)[i];
            const char *name = plot_name(sites, n_sites, plot, &arena);
            if (plot->site_id != ((struct site *)sites)[s].id ||
                (wanted != NULL && !code_in(wanted, name, NULL) && !code_in(wanted, plot->code, NULL)))
                continue;
            outcome = plot_tally(context->store, plot, name, &census, &job, why);
        }
        free(census.records);
    }
    if (outcome == OUTCOME_OK) {
        reconcile_tables(out, &job);
        if (job.n_named > 0)
            json_object_set(note_section(out, "Plant by plant"), "table", job.table);
        reconcile_gaps(out, &job);
        json_object_set(note_data(out), "plants", job.named);
        json_object_set_new(note_data(out), "named", json_integer((json_int_t)job.n_named));
        *note = out;
    } else {
        json_decref(out);
    }
    json_decref(job.table);
    json_decref(job.named);
    arena_clear(&arena);
    return outcome;
}

const struct job job_reconcile = {
    .name = "reconcile",
    .summary = "ordered, delivered, planted and found, species by species and plant by plant",
    .about = "Holds the plans, the order, the deliveries, the cards that came back, the plants on record and the as-planted census against "
             "each other. Where counts part, the step and every plant that is known to it are named; nothing is balanced silently.",
    .example = "spinney reconcile wood.gpkg",
    .access = JOB_LOOKS,
    .options = reconcile_options,
    .n_options = sizeof reconcile_options / sizeof *reconcile_options,
    .bare = reconcile_bare,
    .run = reconcile_run,
};
