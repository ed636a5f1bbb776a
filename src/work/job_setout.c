/* SPDX-License-Identifier: GPL-3.0-or-later
 * sheet: the planting plan to print. cards: a card for every square. forms: sheets for the field. planted: the plan's
 * positions become plants. */
#include "paper/paper.h"
#include "trial/trial.h"
#include "work/jobs.h"
#include "work/plan_load.h"
#include "work/site_map.h"
#include "work/treatments.h"
#include <string.h>

static const char *name_of(const struct species_library *library, const char *species)
{
    for (size_t i = 0; i < library->n_facts; i++)
        if (text_same(library->facts[i].name, species))
            return library->facts[i].common_name;
    return NULL;
}

static enum outcome text_write(const char *path, struct text *bytes, const char *kind, json_t *note, struct failure *why)
{
    enum outcome outcome = file_write(path, bytes->at, bytes->n, why);
    if (outcome == OUTCOME_OK)
        note_written(note, kind, path);
    text_free(bytes);
    return outcome;
}

/* ---- cards ---- */

static const struct option cards_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"plan", OPTION_INTEGER, false, "N", "which plan of it (the chosen one if not given)"},
    {"pdf", OPTION_FILE_OUT, false, "FILE", "write the cards as PDF, six to a sheet of A4"},
    {"html", OPTION_FILE_OUT, false, "FILE", "write the cards as one HTML page"},
};
static const char *const plot_bare[] = {"plot", "plan", NULL};

struct carding {
    struct plot_ground ground;
    struct plan plan;
    struct mix_line *lines;
    struct position *positions;
    struct cell *cells;
    size_t n_lines, n_positions, n_cells;
    struct species_library library;
    struct cards cards;
};

/* Place of a position within its square, from the lower left corner. */
static enum outcome shares_of(const struct cell *cell, double x, double y, struct arena *arena, double *along, double *across,
                              struct failure *why)
{
    struct shape square;
    enum outcome outcome = shape_from_wkb(cell->wkb, arena, &square, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    /* the first corner is the one at the baseline nearest the first peg; the second lies along the baseline */
    const double *xy = square.parts[0].rings[0].xy;
    double ux = xy[2] - xy[0], uy = xy[3] - xy[1], dx = x - xy[0], dy = y - xy[1], length = ux * ux + uy * uy;
    *along = (dx * ux + dy * uy) / length;
    *across = (-dx * uy + dy * ux) / length;
    return OUTCOME_OK;
}

static enum outcome cards_fill(struct carding *job, const struct job_context *context, struct arena *arena, struct failure *why)
{
    struct card *cards = arena_array(arena, job->n_cells, sizeof *cards);
    size_t n = 0;
    for (size_t i = 0; i < job->n_cells; i++) {
        struct card_plant *plants = arena_array(arena, 64, sizeof *plants);
        size_t m = 0;
        for (size_t j = 0; j < job->n_positions && m < 64; j++) {
            const struct position *position = &job->positions[j];
            if (position->cell_id != job->cells[i].id)
                continue;
            struct card_plant *plant = &plants[m++];
            *plant = (struct card_plant){.species = position->species,
                                         .local = name_of(&job->library, position->species),
                                         .layer = (int)position->layer,
                                         .number = (int)position->number};
            enum outcome outcome = shares_of(&job->cells[i], position->x_m, position->y_m, arena, &plant->x_share, &plant->y_share, why);
            if (outcome != OUTCOME_OK)
                return outcome;
        }
        if (m > 0)
            cards[n++] = (struct card){.code = job->cells[i].code,
                                       .row = (int)job->cells[i].row_index,
                                       .column = (int)job->cells[i].column_index,
                                       .plants = plants,
                                       .n_plants = m};
    }
    job->cards =
        (struct cards){.programme = job->ground.programme.name,
                       .site = job->ground.site.name,
                       .site_code = job->ground.site.code,
                       .plot_code = job->ground.plot.code,
                       .plan = arena_print(arena, "plan %lld of %s", (long long)job->plan.version, day_words(job->plan.made_on, arena)),
                       .cards = cards,
                       .n_cards = n,
                       .date = context->today,
                       .language = "en"};
    return OUTCOME_OK;
}

static enum outcome carding_load(const struct job_context *context, const json_t *in, struct arena *arena, struct carding *job,
                                 struct failure *why)
{
    enum outcome outcome = plot_ground_load(context, option_text(in, "plot", NULL), arena, &job->ground, why);
    if (outcome == OUTCOME_OK)
        outcome = load_plan(context->store, &job->ground.plot, option_integer(in, "plan", 0), arena, &job->plan, why);
    if (outcome == OUTCOME_OK)
        outcome = plan_parts_load(context->store, job->plan.id, arena, &job->lines, &job->n_lines, &job->positions, &job->n_positions,
                                  &job->cells, &job->n_cells, why);
    if (outcome == OUTCOME_OK)
        outcome = library_load(context->store, job->ground.plot.library, arena, &job->library, why);
    if (outcome == OUTCOME_OK && job->n_positions == 0) {
        fail(why, OUTCOME_DATA, "Plan %lld of plot %s has no positions yet.", (long long)job->plan.version, job->ground.plot.code);
        outcome = failure_remedy(why, "Lay it out first: spinney layout FILE %s", job->ground.plot.code);
    }
    return outcome;
}

static enum outcome cards_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct carding job = {.n_cells = 0};
    struct text bytes = {0};
    size_t pages = 0, plants = 0;
    enum outcome outcome = carding_load(context, in, &arena, &job, why);
    if (outcome == OUTCOME_OK)
        outcome = cards_fill(&job, context, &arena, why);
    if (outcome != OUTCOME_OK)
        goto done;
    for (size_t i = 0; i < job.cards.n_cards; i++)
        plants += job.cards.cards[i].n_plants;
    json_t *out = note_new();
    note_answer(out, "%zu cards for %s/%s carry %zu plants; the plan has %zu.", job.cards.n_cards, job.ground.site.code,
                job.ground.plot.code, plants, job.n_positions);
    if (option_text(in, "pdf", NULL) != NULL) {
        outcome = cards_pdf(&job.cards, &bytes, &pages, why);
        if (outcome == OUTCOME_OK)
            outcome = text_write(option_text(in, "pdf", NULL), &bytes, "cards", out, why);
    }
    if (outcome == OUTCOME_OK && option_text(in, "html", NULL) != NULL) {
        outcome = cards_html(&job.cards, &bytes, why);
        if (outcome == OUTCOME_OK)
            outcome = text_write(option_text(in, "html", NULL), &bytes, "cards", out, why);
    }
    json_object_set_new(note_data(out), "cards", json_integer((json_int_t)job.cards.n_cards));
    json_object_set_new(note_data(out), "plants", json_integer((json_int_t)plants));
    if (outcome == OUTCOME_OK)
        *note = out;
    else
        json_decref(out);
done:
    text_free(&bytes);
    arena_clear(&arena);
    return outcome;
}

const struct job job_cards = {
    .name = "cards",
    .summary = "a card for every square metre, to set out with volunteers",
    .about = "Prints one card for each square of a plan, six to a sheet of A4, legible in grey, with a key sheet. The cards together carry "
             "exactly the "
             "plants of the plan.",
    .example = "spinney cards wood.gpkg LK/D1 --pdf cards.pdf",
    .access = JOB_LOOKS,
    .options = cards_options,
    .n_options = sizeof cards_options / sizeof *cards_options,
    .bare = plot_bare,
    .run = cards_run,
};

/* ---- planted ---- */

static const struct option planted_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"plan", OPTION_INTEGER, false, "N", "which plan of it (the chosen one if not given)"},
    {"on", OPTION_DATE, true, "DAY", "day of planting"},
    {"batch", OPTION_TEXT, false, "TEXT", "nursery batch"},
    {"stock", OPTION_TEXT, false, "WORD", "bare_root, cell_grown or pot"},
};

static enum outcome planted_store(const struct job_context *context, const json_t *in, struct carding *job, struct arena *arena,
                                  struct failure *why)
{
    struct plant *plants = arena_array(arena, job->n_positions, sizeof *plants);
    int32_t day = option_date(in, "on", DATE_UNKNOWN);
    int year = 0, month = 0, of_month = 0;
    date_parts(day, &year, &month, &of_month);
    int64_t season = month >= 8 ? year + 1 : year;
    int stock = word_find(WORDS_STOCK_FORM, option_text(in, "stock", "unknown"));
    for (size_t i = 0; i < job->n_positions; i++) {
        const struct position *from = &job->positions[i];
        const char *cell = NULL;
        for (size_t j = 0; j < job->n_cells && cell == NULL; j++)
            if (job->cells[j].id == from->cell_id)
                cell = job->cells[j].code;
        noun_init(NOUN_PLANT, &plants[i]);
        plants[i].plot_id = job->ground.plot.id;
        plants[i].position_id = from->id;
        plants[i].x_m = from->x_m;
        plants[i].y_m = from->y_m;
        plants[i].cell_code = cell;
        plants[i].number = from->number;
        plants[i].tag = arena_print(arena, "%s-%s-%s-%lld", job->ground.site.code, job->ground.plot.code, cell == NULL ? "?" : cell,
                                    (long long)from->number);
        plants[i].species = from->species;
        plants[i].layer = from->layer;
        plants[i].origin = ORIGIN_FIRST_PLANTING;
        plants[i].cohort = arena_print(arena, "%lld", (long long)season);
        plants[i].planted_on = day;
        plants[i].batch = option_text(in, "batch", NULL);
        plants[i].stock = stock > 0 ? (enum stock_form)stock : STOCK_FORM_UNKNOWN;
    }
    enum outcome outcome = store_begin(context->store, context->author,
                                       arena_print(arena, "plot %s/%s planted", job->ground.site.code, job->ground.plot.code), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = store_add(context->store, NOUN_PLANT, plants, job->n_positions, why);
    job->ground.plot.planted_on = day;
    job->ground.plot.cohort_year = season;
    job->ground.plot.net_area_m2 = job->plan.net_area_m2;
    if (outcome == OUTCOME_OK)
        outcome = store_change(context->store, NOUN_PLOT, &job->ground.plot, why);
    outcome = store_end(context->store, outcome, why);
    return outcome;
}

static enum outcome planted_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct carding job = {.n_cells = 0};
    int64_t there = 0;
    enum outcome outcome = carding_load(context, in, &arena, &job, why);
    struct store_where where = {.field = "plot_id", .value = job.ground.plot.id};
    if (outcome == OUTCOME_OK)
        outcome = store_count(context->store, NOUN_PLANT, &where, 1, &there, why);
    if (outcome == OUTCOME_OK && there > 0) {
        fail(why, OUTCOME_DATA, "Plot %s already has %lld plants.", job.ground.plot.code, (long long)there);
        outcome = failure_remedy(why, "A replacement is a new plant of its own; to plant again, take the first step back with undo.");
    }
    if (outcome == OUTCOME_OK)
        outcome = planted_store(context, in, &job, &arena, why);
    if (outcome == OUTCOME_OK) {
        *note = note_new();
        note_answer(*note, "%zu plants of %s/%s are entered as planted on %s, each with its own tag.", job.n_positions,
                    job.ground.site.code, job.ground.plot.code, day_words(job.ground.plot.planted_on, &arena));
        note_unknown(
            *note,
            "What really stands there is known only after the as-planted census: import it, or every survival figure rests on the plan.");
        json_object_set_new(note_data(*note), "plants", json_integer((json_int_t)job.n_positions));
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_planted = {
    .name = "planted",
    .summary = "enter a plan as planted: every position becomes a plant with a tag",
    .about = "After planting day: turns the positions of a plan into plants with their tag, species and day. The as-planted census then "
             "says what really "
             "stands there.",
    .example = "spinney planted wood.gpkg LK/D1 --on 2027-02-10",
    .access = JOB_WRITES,
    .options = planted_options,
    .n_options = sizeof planted_options / sizeof *planted_options,
    .bare = plot_bare,
    .run = planted_run,
};

/* ---- forms ---- */

static const struct option forms_options[] = {
    {"plot", OPTION_TEXT, false, "CODE", "which plot (the only one if not given)"},
    {"form", OPTION_TEXT, false, "WORD", "census, first_census, cards or sign_in (census if not given)"},
    {"show_last", OPTION_FLAG, false, NULL, "print the last height beside each plant; blind if not given"},
    {"sample", OPTION_FLAG, false, NULL, "only the squares or plants of the recorded sample"},
    {"pdf", OPTION_FILE_OUT, true, "FILE", "write the form as PDF"},
};

/* Last known height and state of each plant. */
static void last_of(const struct plant *plant, const struct plant_record *records, size_t n, struct census_plant *out)
{
    int32_t day = DATE_UNKNOWN;
    out->last_height_cm = unknown_real();
    for (size_t i = 0; i < n; i++) {
        if (records[i].plant_id != plant->id || (day != DATE_UNKNOWN && records[i].observed_on < day))
            continue;
        day = records[i].observed_on;
        out->last_state = word_of(WORDS_STATUS, (int)records[i].status);
        out->last_height_cm = records[i].height_cm;
    }
}

/* Squares (text) or plants (numbers) of the newest recorded sample. */
static enum outcome members_load(struct store *store, const struct plot *plot, json_t **out, struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    json_error_t error;
    enum outcome outcome = load_of(store, NOUN_DRAWN_SAMPLE, "plot_id", plot->id, arena, &rows, &n, why);
    if (outcome == OUTCOME_OK && n == 0) {
        fail(why, OUTCOME_DATA, "No sample of plot %s is recorded.", plot->code);
        return failure_remedy(why, "Draw one first: spinney sample FILE %s --keep", plot->code);
    }
    if (outcome == OUTCOME_OK)
        *out = json_loads(((struct drawn_sample *)rows)[n - 1].members, 0, &error);
    return outcome;
}

static bool member_is(const json_t *members, const struct plant *plant)
{
    size_t i = 0;
    const json_t *one = NULL;
    json_array_foreach(members, i, one)
    {
        if (json_is_string(one) ? text_same(json_string_value(one), plant->cell_code) : json_integer_value(one) == plant->id)
            return true;
    }
    return false;
}

static enum outcome census_form(const struct job_context *context, const json_t *in, const struct plot *plot, const struct form_head *head,
                                struct arena *arena, struct document **out, size_t *rows_out, struct failure *why)
{
    void *rows = NULL, *record_rows = NULL;
    size_t n = 0, n_records = 0;
    bool first = text_same(option_text(in, "form", "census"), "first_census");
    enum outcome outcome = load_of(context->store, NOUN_PLANT, "plot_id", plot->id, arena, &rows, &n, why);
    if (outcome == OUTCOME_OK && !first)
        outcome = load_all(context->store, NOUN_PLANT_RECORD, arena, &record_rows, &n_records, why);
    if (outcome == OUTCOME_OK && n == 0) {
        fail(why, OUTCOME_DATA, "Plot %s has no plants yet.", plot->code);
        outcome = failure_remedy(why, "Enter it as planted first: spinney planted FILE %s --on DAY", plot->code);
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    struct census_plant *lines = arena_array(arena, n, sizeof *lines);
    json_t *members = NULL;
    size_t kept = 0;
    if (option_flag(in, "sample"))
        outcome = members_load(context->store, plot, &members, arena, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct plant *plant = &((struct plant *)rows)[i];
        if (members != NULL && !member_is(members, plant))
            continue;
        lines[kept] = (struct census_plant){.cell = plant->cell_code,
                                            .number = plant->number == INT_UNKNOWN ? 0 : (int)plant->number,
                                            .species = plant->species,
                                            .tag = plant->tag,
                                            .layer = (int)plant->layer};
        last_of(plant, record_rows, n_records, &lines[kept++]);
    }
    json_decref(members);
    if (outcome != OUTCOME_OK)
        return outcome;
    n = kept;
    struct census_sheet sheet = {
        .head = *head, .plants = lines, .n_plants = n, .first = first, .show_last = option_flag(in, "show_last"), .spare_rows = 6};
    *out = census_sheet_document(&sheet);
    *rows_out = n;
    return OUTCOME_OK;
}

static enum outcome forms_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct programme programme;
    struct plot plot;
    struct site site;
    struct document *document = NULL;
    struct text bytes = {0};
    size_t rows = 0;
    const char *form = option_text(in, "form", "census");
    static const char *const fields[] = {"Date", "Observers", "Start", "End"};
    enum outcome outcome = load_programme(context->store, &arena, &programme, why);
    if (outcome == OUTCOME_OK)
        outcome = load_plot(context->store, option_text(in, "plot", NULL), &arena, &plot, &site, why);
    if (outcome != OUTCOME_OK)
        goto done;
    struct form_head head = {.title = text_same(form, "sign_in")        ? "Sign-in"
                                      : text_same(form, "cards")        ? "Card reconciliation"
                                      : text_same(form, "first_census") ? "As-planted census"
                                                                        : "Annual census",
                             .version = "form 1",
                             .programme = programme.name,
                             .site = site.name,
                             .plot = plot.code,
                             .date = context->today,
                             .fields = fields,
                             .n_fields = 4};
    if (text_same(form, "sign_in")) {
        document = sign_in_document(&head, 30);
        rows = 30;
    } else if (text_same(form, "cards")) {
        struct carding job = {.n_cells = 0};
        outcome = carding_load(context, in, &arena, &job, why);
        if (outcome == OUTCOME_OK)
            outcome = cards_fill(&job, context, &arena, why);
        const char **codes = arena_array(&arena, job.cards.n_cards, sizeof *codes);
        int64_t *plants = arena_array(&arena, job.cards.n_cards, sizeof *plants);
        for (size_t i = 0; outcome == OUTCOME_OK && i < job.cards.n_cards; i++) {
            codes[i] = job.cards.cards[i].code;
            plants[i] = (int64_t)job.cards.cards[i].n_plants;
        }
        rows = job.cards.n_cards;
        if (outcome == OUTCOME_OK)
            document = reconciliation_document(&head, codes, plants, rows);
    } else if (text_same(form, "census") || text_same(form, "first_census")) {
        outcome = census_form(context, in, &plot, &head, &arena, &document, &rows, why);
    } else {
        outcome = fail(why, OUTCOME_USAGE, "There is no form \"%.60s\".", form);
        failure_remedy(why, "Use census, first_census, cards or sign_in.");
    }
    if (outcome == OUTCOME_OK)
        outcome = document_pdf(document, &bytes, NULL, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        note_answer(out, "%s for %s/%s with %zu rows.", head.title, site.code, plot.code, rows);
        outcome = text_write(option_text(in, "pdf", ""), &bytes, "form", out, why);
        if (outcome == OUTCOME_OK)
            *note = out;
        else
            json_decref(out);
    }
done:
    document_free(document);
    text_free(&bytes);
    arena_clear(&arena);
    return outcome;
}

const struct job job_forms = {
    .name = "forms",
    .summary = "sheets for the field: census, card reconciliation, sign-in",
    .about = "Prints a sheet for a plot: the census with a row for every plant in walking order, the reconciliation of cards, or the "
             "sign-in that asks "
             "for no more about people than is needed.",
    .example = "spinney forms wood.gpkg LK/D1 --form census --pdf census.pdf",
    .access = JOB_LOOKS,
    .options = forms_options,
    .n_options = sizeof forms_options / sizeof *forms_options,
    .bare = plot_bare,
    .run = forms_run,
};
