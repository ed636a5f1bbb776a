/* SPDX-License-Identifier: GPL-3.0-or-later
 * order: one list over all plots, in bundles, with reserve and lead time. budget: what the plots cost, and what an established
 * plant may cost. */
#include "ground/ground.h"
#include "money/money.h"
#include "paper/paper.h"
#include "work/jobs.h"
#include "work/plan_load.h"
#include "work/site_map.h"
#include <math.h>
#include <string.h>

static const struct option order_options[] = {
    {"plots", OPTION_TEXT, false, "CODE;CODE", "which plots (all with a plan if not given)"},
    {"offers", OPTION_FILE_IN, false, "FILE",
     "CSV: species,nursery,provenance,size_cm,stock,bundle,unit_price,lead_weeks; species * stands for all others"},
    {"reserve_pct", OPTION_NUMBER, false, "%", "reserve for losses before planting (5 if not given)"},
    {"loss_pct", OPTION_NUMBER, false, "%", "instead: chance that a plant is lost before it is planted; the reserve then follows from it"},
    {"certainty_pct", OPTION_NUMBER, false, "%", "how sure to be that enough are left (95 if not given)"},
    {"replacement_pct", OPTION_NUMBER, false, "%", "share for the first replacement from the same batch (0 if not given)"},
    {"bundle", OPTION_INTEGER, false, "N", "bundle size where no offer names one (25 if not given)"},
    {"ordered_on", OPTION_DATE, false, "DAY", "day of the order (today if not given)"},
    {"planting_on", OPTION_DATE, false, "DAY", "day of planting; without it the lead time is not checked"},
    {"tax_pct", OPTION_NUMBER, false, "%", "tax rate"},
    {"keep", OPTION_FLAG, false, NULL, "store the lines"},
    {"pdf", OPTION_FILE_OUT, false, "FILE", "write the order list as PDF"},
    {"xlsx", OPTION_FILE_OUT, false, "FILE", "write the order list as XLSX"},
};

struct ordering {
    struct programme programme;
    struct order_need *needs;
    size_t n_needs;
    struct order_offer *offers;
    size_t n_offers;
    struct order_settings settings;
    struct order order;
    struct species_library library;
};

static bool code_listed(const char *list, const char *name, const char *code)
{
    if (list == NULL)
        return true;
    struct arena arena = {0};
    bool found = false;
    char *copy = arena_text(&arena, list), *rest = NULL;
    for (char *part = strtok_r(copy, ";, ", &rest); part != NULL && !found; part = strtok_r(NULL, ";, ", &rest))
        found = text_same_nocase(part, name) || text_same_nocase(part, code);
    arena_clear(&arena);
    return found;
}

static enum outcome needs_load(const struct job_context *context, const char *list, struct arena *arena, struct ordering *job,
                               struct failure *why)
{
    void *rows = NULL, *site_rows = NULL;
    size_t n = 0, n_sites = 0, room = 0;
    enum outcome outcome = load_all(context->store, NOUN_PLOT, arena, &rows, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_SITE, arena, &site_rows, &n_sites, why);
    struct order_need *needs = NULL;
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct plot *plot = &((struct plot *)rows)[i];
        const char *name = plot_name(site_rows, n_sites, plot, arena);
        struct plan plan;
        struct mix_line *lines = NULL;
        size_t n_lines = 0;
        struct failure none;
        if (!code_listed(list, name, plot->code) || load_plan(context->store, plot, 0, arena, &plan, &none) != OUTCOME_OK)
            continue;
        outcome = plan_parts_load(context->store, plan.id, arena, &lines, &n_lines, NULL, NULL, NULL, NULL, why);
        for (size_t j = 0; outcome == OUTCOME_OK && j < n_lines; j++) {
            needs = column_room(needs, job->n_needs, &room, sizeof *needs);
            needs[job->n_needs++] = (struct order_need){lines[j].species, lines[j].layer, lines[j].plants, name};
        }
    }
    job->needs = arena_array(arena, job->n_needs, sizeof *needs);
    if (job->n_needs > 0)
        memcpy(job->needs, needs, job->n_needs * sizeof *needs);
    free(needs);
    if (outcome == OUTCOME_OK && job->n_needs == 0) {
        fail(why, OUTCOME_DATA, "No plot has a plan to order for.");
        outcome = failure_remedy(why, "Make one first: spinney mix FILE PLOT");
    }
    return outcome;
}

/* Offers have the columns of order_line, read by its own fields. */
static enum outcome offers_load(const struct job_context *context, const json_t *in, struct arena *arena, struct ordering *job,
                                struct failure *why)
{
    const char *path = option_text(in, "offers", NULL);
    int64_t bundle = option_integer(in, "bundle", 25);
    struct bytes bytes;
    struct csv_table table = {0};
    enum outcome outcome = OUTCOME_OK;
    if (path != NULL) {
        outcome = input_bytes(context, path, 4 << 20, arena, &bytes, why);
        if (outcome == OUTCOME_OK)
            outcome = csv_read(path, (const char *)bytes.at, bytes.n, ',', 10000, arena, &table, why);
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    job->offers = arena_array(arena, table.rows + 1, sizeof *job->offers);
    for (size_t i = 1; i < table.rows; i++) {
        struct order_offer *offer = &job->offers[job->n_offers++];
        struct order_line line;
        order_offer_init(offer);
        noun_init(NOUN_ORDER_LINE, &line);
        for (size_t j = 0; j < table.widths[0]; j++) {
            const struct field *field = noun_field(NOUN_ORDER_LINE, table.cells[0][j]);
            if (field == NULL) {
                fail(why, OUTCOME_DATA, "There is no column \"%.60s\" in offers.", table.cells[0][j]);
                failure_at(why, path, 1, table.cells[0][j]);
                return failure_remedy(why, "Columns: species, nursery, provenance, size_cm, stock, bundle, unit_price, lead_weeks.");
            }
            outcome = field_read(field, &line, csv_cell(&table, i, j), arena, why);
            if (outcome == OUTCOME_OK && !field_unknown(field, &line))
                outcome = field_check(field, &line, why);
            if (outcome != OUTCOME_OK) {
                failure_at(why, path, table.lines[i], field->name);
                return outcome;
            }
        }
        offer->species = text_same(line.species, "*") ? NULL : line.species;
        offer->nursery = line.nursery;
        offer->provenance = line.provenance;
        offer->size_cm = line.size_cm;
        offer->stock = line.stock;
        offer->bundle = line.bundle == INT_UNKNOWN ? bundle : line.bundle;
        offer->unit_price = line.unit_price;
        offer->lead_weeks = line.lead_weeks;
    }
    if (job->n_offers == 0) {
        struct order_offer *offer = &job->offers[job->n_offers++];
        order_offer_init(offer);
        offer->bundle = bundle;
    }
    return OUTCOME_OK;
}

/* "plant passport; supplier's document". */
static const char *papers_words(const char *species, struct arena *arena)
{
    struct order_paper papers[MOST_PAPERS];
    size_t n = order_papers(species, papers);
    struct text text = {0};
    for (size_t i = 0; i < n; i++)
        text_print(&text, "%s%s", i == 0 ? "" : "; ", papers[i].paper);
    const char *out = arena_text(arena, text_get(&text));
    text_free(&text);
    return out;
}

static enum outcome order_keep(const struct job_context *context, struct ordering *job, struct arena *arena, struct failure *why)
{
    struct order_line *lines = arena_array(arena, job->order.n, sizeof *lines);
    for (size_t i = 0; i < job->order.n; i++) {
        const struct order_row *from = &job->order.rows[i];
        noun_init(NOUN_ORDER_LINE, &lines[i]);
        lines[i].species = from->species;
        lines[i].nursery = from->nursery;
        lines[i].stock = from->stock;
        lines[i].size_cm = from->size_cm;
        lines[i].plants_needed = from->needed;
        lines[i].reserve = from->reserve;
        lines[i].bundle = from->bundle;
        lines[i].plants_ordered = from->ordered;
        lines[i].unit_price = from->unit_price;
        lines[i].provenance = from->provenance;
        lines[i].lead_weeks = from->lead_weeks;
        lines[i].ordered_on = job->settings.ordered_on;
        lines[i].deliver_by = job->settings.planting_on;
        lines[i].note = from->plots;
        lines[i].papers = papers_words(from->species, arena);
    }
    enum outcome outcome = store_begin(context->store, context->author, "order", why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = store_add(context->store, NOUN_ORDER_LINE, lines, job->order.n, why);
    outcome = store_end(context->store, outcome, why);
    return outcome;
}

static const char *common_name(const struct species_library *library, const char *species)
{
    for (size_t i = 0; i < library->n_facts; i++)
        if (text_same(library->facts[i].name, species))
            return library->facts[i].common_name;
    return NULL;
}

static enum outcome order_write(const struct job_context *context, const json_t *in, struct ordering *job, json_t *note,
                                struct arena *arena, struct failure *why)
{
    const char *pdf = option_text(in, "pdf", NULL), *xlsx = option_text(in, "xlsx", NULL);
    if (pdf == NULL && xlsx == NULL)
        return OUTCOME_OK;
    static const char *const terms[] = {
        ("No substitution without written approval. An acceptable substitute is of the same layer and soil class, native alike, and on no "
         "avoid-list."),
        "A plant passport on each trade unit; keep it with the delivery note. Ask your national plant-health service what else is needed.",
        "Roots moist and covered from lifting to planting. Count, size, names and health are checked on delivery; a line may be refused.",
    };
    struct order_list_line *lines = arena_array(arena, job->order.n, sizeof *lines);
    for (size_t i = 0; i < job->order.n; i++) {
        const struct order_row *row = &job->order.rows[i];
        lines[i] = (struct order_list_line){
            .species = row->species,
            .local = common_name(&job->library, row->species),
            .layer = (int)row->layer,
            .stock = row->stock == STOCK_FORM_UNKNOWN ? NULL : word_of(WORDS_STOCK_FORM, (int)row->stock),
            .size_cm = row->size_cm,
            .provenance = row->provenance,
            .needed = row->needed,
            .reserve = row->reserve,
            .bundle = row->bundle,
            .ordered = row->ordered,
            .unit_price = row->unit_price,
            .deliver_by = job->settings.planting_on == DATE_UNKNOWN ? NULL : day_words(job->settings.planting_on, arena),
            .substitution = "only with written approval",
            .health = papers_words(row->species, arena),
            .note = row->late_words};
    }
    struct order_list list = {.programme = job->programme.name,
                              .organisation = job->programme.organisation,
                              .currency = job->programme.currency,
                              .date = context->today,
                              .lines = lines,
                              .n_lines = job->order.n,
                              .terms = terms,
                              .n_terms = 3};
    struct text bytes = {0};
    enum outcome outcome = OUTCOME_OK;
    if (pdf != NULL) {
        struct document *document = order_list_document(&list);
        outcome = document_pdf(document, &bytes, NULL, why);
        document_free(document);
        if (outcome == OUTCOME_OK)
            outcome = file_write(pdf, bytes.at, bytes.n, why);
        if (outcome == OUTCOME_OK)
            note_written(note, "order list", pdf);
    }
    text_free(&bytes);
    if (outcome == OUTCOME_OK && xlsx != NULL) {
        outcome = order_list_xlsx(&list, &bytes, why);
        if (outcome == OUTCOME_OK)
            outcome = file_write(xlsx, bytes.at, bytes.n, why);
        if (outcome == OUTCOME_OK)
            note_written(note, "order list", xlsx);
    }
    text_free(&bytes);
    return outcome;
}

/* What each supplier is asked for. */
static void nurseries_section(json_t *out, const struct ordering *job, struct arena *arena)
{
    const struct order *order = &job->order;
    json_t *table = NULL;
    bool *done = arena_array(arena, order->n + 1, sizeof *done);
    for (size_t i = 0; i < order->n; i++) {
        int64_t lines = 0, plants = 0;
        double amount = 0;
        int32_t by = DATE_UNKNOWN;
        if (done[i])
            continue;
        for (size_t j = i; j < order->n; j++) {
            const struct order_row *row = &order->rows[j];
            bool same = row->nursery == order->rows[i].nursery || text_same(row->nursery, order->rows[i].nursery);
            if (!same)
                continue;
            done[j] = true;
            lines++;
            plants += row->ordered;
            amount += row->amount;
            by = row->order_by != DATE_UNKNOWN && (by == DATE_UNKNOWN || row->order_by < by) ? row->order_by : by;
        }
        if (table == NULL) {
            table = section_table(note_section(out, "By supplier"));
            table_column(table, "nursery", "supplier", "", -1);
            table_column(table, "lines", "species", "", -1);
            table_column(table, "plants", "plants", "", -1);
            table_column(table, "amount", "amount", job->programme.currency, 2);
            table_column(table, "order_by", "order by", "", -1);
        }
        json_t *row = table_row(table);
        row_text(row, order->rows[i].nursery == NULL ? "not chosen yet" : order->rows[i].nursery);
        row_integer(row, lines);
        row_integer(row, plants);
        row_number(row, amount);
        row_text(row, by == DATE_UNKNOWN ? NULL : day_words(by, arena));
    }
}

/* What the species library says of each species' health, with its date: it ages. */
static void health_section(json_t *out, const struct ordering *job)
{
    json_t *table = NULL;
    for (size_t i = 0; i < job->order.n; i++)
        for (size_t f = 0; f < job->library.n_facts; f++) {
            const struct species_fact *fact = &job->library.facts[f];
            if (!text_same(fact->name, job->order.rows[i].species) || fact->health_note == NULL)
                continue;
            if (table == NULL) {
                json_t *section = note_section(out, "Health of the species");
                section_text(section, "As the species library has it; ask the national plant-health service what holds today.");
                table = section_table(section);
                table_column(table, "species", "species", "", -1);
                table_column(table, "state", "state", "", -1);
                table_column(table, "note", "note", "", -1);
                table_column(table, "date", "as of", "", -1);
            }
            json_t *row = table_row(table);
            row_text(row, fact->name);
            row_text(row, species_health_word(fact->health));
            row_text(row, fact->health_note);
            row_text(row, fact->health_date);
        }
}

/* Each kind of paper once, with the species it goes with and where it comes from; what the library says of a species' health. */
static void papers_section(json_t *out, const struct ordering *job)
{
    json_t *table = section_table(note_section(out, "Papers to ask for"));
    table_column(table, "paper", "paper", "", -1);
    table_column(table, "for", "for", "", -1);
    table_column(table, "words", "why, and what must be on it", "", -1);
    table_column(table, "source", "source", "", -1);
    const char *seen[MOST_PAPERS + 1];
    size_t n_seen = 0;
    for (size_t i = 0; i < job->order.n; i++) {
        struct order_paper papers[MOST_PAPERS];
        size_t n = order_papers(job->order.rows[i].species, papers);
        for (size_t k = 0; k < n; k++) {
            struct text species = {0};
            size_t count = 0;
            bool told = false;
            for (size_t s = 0; s < n_seen; s++)
                told = told || text_same(seen[s], papers[k].paper);
            if (told || n_seen > MOST_PAPERS)
                continue;
            seen[n_seen++] = papers[k].paper;
            for (size_t j = 0; j < job->order.n; j++) {
                struct order_paper other[MOST_PAPERS];
                size_t m = order_papers(job->order.rows[j].species, other);
                for (size_t o = 0; o < m; o++)
                    if (text_same(other[o].paper, papers[k].paper))
                        text_print(&species, "%s%s", count++ == 0 ? "" : ", ", job->order.rows[j].species);
            }
            json_t *row = table_row(table);
            row_text(row, papers[k].paper);
            row_text(row, count == job->order.n ? "every species" : text_get(&species));
            row_text(row, papers[k].words);
            row_text(row, papers[k].source);
            text_free(&species);
        }
    }
    health_section(out, job);
    note_unknown(out,
                 "The papers are those of the European Union, as a prompt to ask: other countries' rules differ and all of them change. "
                 "This note is no advice.");
}

static json_t *order_note(const struct ordering *job, struct arena *arena)
{
    json_t *out = note_new(), *table = section_table(note_section(out, "Order")), *list = json_array();
    const struct order *order = &job->order;
    note_answer(out, "%lld plants of %zu species are needed; with reserve and whole bundles %lld are ordered, %lld of them surplus. %s",
                (long long)order->needed, order->n, (long long)order->ordered, (long long)order->surplus,
                is_known(order->amount)
                    ? arena_print(arena, "They cost %s without tax.", money_print(order->amount, job->programme.currency, arena))
                    : "The cost is not known: some lines have no price.");
    table_column(table, "species", "species", "", -1);
    table_column(table, "layer", "layer", "", -1);
    table_column(table, "needed", "needed", "plants", -1);
    table_column(table, "reserve", "reserve", "plants", -1);
    table_column(table, "bundle", "bundle", "plants", -1);
    table_column(table, "ordered", "ordered", "plants", -1);
    table_column(table, "surplus", "surplus", "plants", -1);
    table_column(table, "price", "price of one", job->programme.currency, 2);
    table_column(table, "amount", "amount", job->programme.currency, 2);
    table_column(table, "order_by", "order by", "", -1);
    table_column(table, "papers", "papers to ask for", "", -1);
    table_column(table, "plots", "plots", "", -1);
    for (size_t i = 0; i < order->n; i++) {
        const struct order_row *from = &order->rows[i];
        json_t *row = table_row(table);
        row_text(row, from->species);
        row_text(row, word_of(WORDS_LAYER, (int)from->layer));
        row_integer(row, from->needed);
        row_integer(row, from->reserve);
        row_integer(row, from->bundle);
        row_integer(row, from->ordered);
        row_integer(row, from->surplus);
        row_number(row, from->unit_price);
        row_number(row, from->amount);
        row_text(row, from->order_by == DATE_UNKNOWN ? NULL : day_words(from->order_by, arena));
        row_text(row, papers_words(from->species, arena));
        row_text(row, from->plots);
        json_array_append_new(
            list, json_pack("{s:s, s:I, s:I, s:I, s:I, s:I, s:b, s:s}", "species", from->species, "needed", (json_int_t)from->needed,
                            "reserve", (json_int_t)from->reserve, "bundle", (json_int_t)from->bundle, "ordered", (json_int_t)from->ordered,
                            "surplus", (json_int_t)from->surplus, "late", (int)from->late, "papers", papers_words(from->species, arena)));
        if (from->late_words != NULL)
            note_unknown(out, "%s: %s", from->species, from->late_words);
    }
    nurseries_section(out, job, arena);
    papers_section(out, job);
    for (size_t i = 0; i < order->n_notes; i++)
        note_unknown(out, "%s", order->notes[i]);
    if (is_known(job->settings.loss_pct))
        note_source(
            out,
            "Reserve: the fewest plants of which enough are left with %g %% certainty when %g %% are lost by chance (binomial). Plants "
            "of one lot are lost together more often than by chance.",
            job->settings.certainty_pct, job->settings.loss_pct);
    note_caution(out, "C18", "Not sure about a plant's health? Don't unload, don't move, photograph, report.",
                 "the national plant-health service");
    json_object_set_new(note_data(out), "lines", list);
    json_object_set_new(note_data(out), "ordered", json_integer(order->ordered));
    json_object_set_new(note_data(out), "needed", json_integer(order->needed));
    return out;
}

static enum outcome order_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct ordering job = {.n_needs = 0};
    enum outcome outcome = load_programme(context->store, &arena, &job.programme, why);
    if (outcome == OUTCOME_OK)
        outcome = needs_load(context, option_text(in, "plots", NULL), &arena, &job, why);
    if (outcome == OUTCOME_OK)
        outcome = offers_load(context, in, &arena, &job, why);
    if (outcome == OUTCOME_OK)
        outcome = library_load(context->store, NULL, &arena, &job.library, why);
    order_settings_init(&job.settings);
    job.settings.reserve_pct = option_number(in, "reserve_pct", 5);
    job.settings.loss_pct = option_number(in, "loss_pct", unknown_real());
    job.settings.certainty_pct = option_number(in, "certainty_pct", 95);
    job.settings.beating_up_pct = option_number(in, "replacement_pct", 0);
    job.settings.ordered_on = option_date(in, "ordered_on", context->today);
    job.settings.planting_on = option_date(in, "planting_on", DATE_UNKNOWN);
    job.settings.tax_pct = option_number(in, "tax_pct", unknown_real());
    if (outcome == OUTCOME_OK)
        outcome = order_make(job.needs, job.n_needs, job.offers, job.n_offers, &job.settings, &arena, &job.order, why);
    if (outcome == OUTCOME_OK && option_flag(in, "keep"))
        outcome = order_keep(context, &job, &arena, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = order_note(&job, &arena);
        outcome = order_write(context, in, &job, out, &arena, why);
        if (outcome == OUTCOME_OK)
            *note = out;
        else
            json_decref(out);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_order = {
    .name = "order",
    .summary = "one order over all plots, in bundles, with reserve and lead time",
    .about = "Adds up the chosen plans of all plots, puts the reserve on top, rounds up to whole bundles and shows what is surplus; flags "
             "lines that a "
             "supplier cannot deliver in time; writes the list as PDF and XLSX.",
    .example = "spinney order wood.gpkg --planting-on 2027-02-10 --pdf order.pdf --xlsx order.xlsx",
    .access = JOB_WRITES,
    .options = order_options,
    .n_options = sizeof order_options / sizeof *order_options,
    .run = order_run,
};

/* ---- budget ---- */

static const struct option budget_options[] = {
    {"plots", OPTION_TEXT, false, "CODE;CODE", "which plots (all with a plan if not given)"},
    {"years", OPTION_INTEGER, false, "N", "years of watering, weeding and monitoring (3 if not given)"},
    {"survival_low", OPTION_NUMBER, false, "%", "least share established (45 if not given)"},
    {"survival_mode", OPTION_NUMBER, false, "%", "most likely (70 if not given)"},
    {"survival_high", OPTION_NUMBER, false, "%", "greatest (88 if not given)"},
    {"prices", OPTION_FILE_IN, false, "FILE", "CSV: key,price with your own unit costs; keys as in the table"},
    {"weeding_hours", OPTION_NUMBER, false, "H", "weeding hours for each plot and year (6 if not given)"},
    {"waterings", OPTION_INTEGER, false, "N", "waterings for each plot and year (6 if not given)"},
    {"volunteer_low", OPTION_NUMBER, false, "PRICE", "low hourly value of volunteers (12.5 if not given)"},
    {"volunteer_task", OPTION_NUMBER, false, "PRICE", "hourly value of the task (21 if not given)"},
    {"seed", OPTION_INTEGER, false, "N", "seed of the simulation"},
};

struct budgeting {
    struct programme programme;
    struct budget_plot *plots;
    const char **names;
    size_t n;
    struct budget_price *prices;
    size_t n_prices;
    struct budget budget;
};

static enum outcome prices_load(const struct job_context *context, const json_t *in, struct arena *arena, struct budgeting *job,
                                struct failure *why)
{
    const struct budget_price *defaults = budget_defaults(&job->n_prices);
    job->prices = arena_array(arena, job->n_prices, sizeof *job->prices);
    memcpy(job->prices, defaults, job->n_prices * sizeof *job->prices);
    const char *path = option_text(in, "prices", NULL);
    if (path == NULL)
        return OUTCOME_OK;
    struct bytes bytes;
    struct csv_table table = {.rows = 0};
    enum outcome outcome = input_bytes(context, path, 1 << 20, arena, &bytes, why);
    if (outcome == OUTCOME_OK)
        outcome = csv_read(path, (const char *)bytes.at, bytes.n, ',', 1000, arena, &table, why);
    size_t key = outcome == OUTCOME_OK ? csv_column(&table, "key") : 0, price = outcome == OUTCOME_OK ? csv_column(&table, "price") : 0;
    if (outcome == OUTCOME_OK && (key == SIZE_MAX || price == SIZE_MAX)) {
        fail(why, OUTCOME_DATA, "The price table needs the columns key and price.");
        outcome = failure_at(why, path, 1, NULL);
    }
    for (size_t i = 1; outcome == OUTCOME_OK && i < table.rows; i++) {
        bool found = false;
        for (size_t j = 0; j < job->n_prices && !found; j++)
            if (text_same(job->prices[j].key, csv_cell(&table, i, key))) {
                found = true;
                if (!number_read(csv_cell(&table, i, price), &job->prices[j].price) || job->prices[j].price < 0) {
                    fail(why, OUTCOME_DATA, "\"%.60s\" is no price.", csv_cell(&table, i, price));
                    outcome = failure_at(why, path, table.lines[i], "price");
                }
                job->prices[j].source = "given by the user";
            }
        if (!found) {
            fail(why, OUTCOME_DATA, "There is no unit cost \"%.60s\".", csv_cell(&table, i, key));
            failure_at(why, path, table.lines[i], "key");
            outcome = failure_remedy(why, "The keys are in the first column of the budget's price table.");
        }
    }
    return outcome;
}

static enum outcome budget_plot_load(const struct job_context *context, const json_t *in, const struct plot *plot, struct arena *arena,
                                     struct budget_plot *out, bool *planned, struct failure *why)
{
    struct plan plan;
    struct mix_line *lines = NULL;
    size_t n = 0;
    struct failure none;
    struct shape outline;
    struct preparation preparation;
    double years = (double)option_integer(in, "years", 3);
    *planned = load_plan(context->store, plot, 0, arena, &plan, &none) == OUTCOME_OK;
    if (!*planned)
        return OUTCOME_OK;
    budget_plot_init(out);
    enum outcome outcome = plan_parts_load(context->store, plan.id, arena, &lines, &n, NULL, NULL, NULL, NULL, why);
    if (outcome == OUTCOME_OK)
        outcome = load_shape(plot->wkb, arena, &outline, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    out->code = plot->code;
    out->site_id = plot->site_id;
    out->area_m2 = plan.net_area_m2;
    for (size_t i = 0; i < n; i++)
        out->plants += lines[i].plants;
    out->fence_m = outline.kind == SHAPE_POLYGONS ? shape_length_m(&outline) : unknown_real();
    out->gates = 1;
    out->watering_visits = (double)option_integer(in, "waterings", 6) * years;
    out->weeding_hours = option_number(in, "weeding_hours", 6) * years;
    out->coordinator_hours = 10 + 8 * years;
    out->monitoring_hours = (double)out->plants / 60.0 * (years + 1);
    out->volunteer_hours = (double)out->plants / 12.0 + out->weeding_hours;
    if (plot->preparation_id != 0) {
        struct preparation_site ground;
        struct preparation_quantities quantities;
        outcome = store_get(context->store, NOUN_PREPARATION, plot->preparation_id, arena, &preparation, why);
        preparation_site_init(&ground);
        ground.area_m2 = out->area_m2;
        ground.outline_m = out->fence_m;
        if (outcome == OUTCOME_OK)
            outcome = preparation_quantities(&preparation, &ground, &quantities, why);
        if (outcome == OUTCOME_OK) {
            out->loosened_m2 = preparation.loosened_depth_m > 0 ? out->area_m2 : 0;
            out->compost_m3 = quantities.compost_m3;
            out->mulch_m3 = quantities.mulch_m3;
            out->fence_m = is_known(preparation.fence_m) ? preparation.fence_m : out->fence_m;
        }
    }
    return outcome;
}

static void budget_tables(json_t *out, const struct budgeting *job, const struct cost_ratio *ratios, struct arena *arena)
{
    const char *currency = job->programme.currency;
    json_t *table = section_table(note_section(out, "Plots side by side")), *list = json_array();
    table_column(table, "plot", "plot", "", -1);
    table_column(table, "area", "area", "m²", 1);
    table_column(table, "plants", "plants", "", -1);
    table_column(table, "recipe", "recipe", currency, 0);
    table_column(table, "monitoring", "monitoring", currency, 0);
    table_column(table, "per_plant", "per plant", currency, 2);
    table_column(table, "per_m2", "per m²", currency, 2);
    table_column(table, "established", "per established plant, expected range", "", -1);
    for (size_t i = 0; i < job->n; i++) {
        const struct budget_total *total = &job->budget.totals[i];
        json_t *row = table_row(table);
        row_text(row, job->names[i]);
        row_number(row, job->plots[i].area_m2);
        row_integer(row, job->plots[i].plants);
        row_number(row, total->recipe);
        row_number(row, total->monitoring);
        row_number(row, total->per_plant);
        row_number(row, total->per_m2);
        row_text(row, ratios[i].words);
        json_array_append_new(list, json_pack("{s:s, s:f, s:f, s:f, s:f}", "plot", job->names[i], "recipe",
                                              is_known(total->recipe) ? total->recipe : -1.0, "per_m2",
                                              is_known(total->per_m2) ? total->per_m2 : -1.0, "per_plant",
                                              is_known(total->per_plant) ? total->per_plant : -1.0, "per_established",
                                              is_known(ratios[i].estimate) ? ratios[i].estimate : -1.0));
    }
    json_object_set_new(note_data(out), "plots", list);
    table = section_table(note_section(out, "Lines"));
    table_column(table, "plot", "plot", "", -1);
    table_column(table, "item", "item", "", -1);
    table_column(table, "phase", "phase", "", -1);
    table_column(table, "quantity", "quantity", "", 1);
    table_column(table, "unit", "unit", "", -1);
    table_column(table, "price", "price", currency, 2);
    table_column(table, "amount", "amount", currency, 2);
    table_column(table, "source", "source of the price", "", -1);
    for (size_t i = 0; i < job->budget.n_lines; i++) {
        const struct budget_line *line = &job->budget.lines[i];
        json_t *row = table_row(table);
        row_text(row, job->names[line->plot]);
        row_text(row, line->item);
        row_text(row, word_of(WORDS_COST_PHASE, (int)line->phase));
        row_number(row, line->quantity);
        row_text(row, budget_driver_unit(line->driver));
        row_number(row, line->price);
        row_number(row, line->amount);
        row_text(row, line->source);
    }
    (void)arena;
}

static enum outcome budget_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct budgeting job = {.n = 0};
    void *rows = NULL, *site_rows = NULL;
    size_t n = 0, n_sites = 0;
    enum outcome outcome = load_programme(context->store, &arena, &job.programme, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_PLOT, &arena, &rows, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(context->store, NOUN_SITE, &arena, &site_rows, &n_sites, why);
    if (outcome == OUTCOME_OK)
        outcome = prices_load(context, in, &arena, &job, why);
    job.plots = arena_array(&arena, n, sizeof *job.plots);
    job.names = arena_array(&arena, n, sizeof *job.names);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct plot *plot = &((struct plot *)rows)[i];
        const char *name = plot_name(site_rows, n_sites, plot, &arena);
        bool planned = false;
        if (!code_listed(option_text(in, "plots", NULL), name, plot->code))
            continue;
        outcome = budget_plot_load(context, in, plot, &arena, &job.plots[job.n], &planned, why);
        if (planned)
            job.names[job.n++] = name;
    }
    if (outcome == OUTCOME_OK && job.n == 0) {
        fail(why, OUTCOME_DATA, "No plot has a plan to budget for.");
        outcome = failure_remedy(why, "Make one first: spinney mix FILE PLOT");
    }
    struct budget_settings settings = {
        .split = SPLIT_BY_AREA,
        .currency = job.programme.currency,
        .volunteer_rate = {0, option_number(in, "volunteer_low", 12.5), option_number(in, "volunteer_task", 21)}};
    if (outcome == OUTCOME_OK)
        outcome = budget_make(job.plots, job.n, job.prices, job.n_prices, &settings, &arena, &job.budget, why);
    struct cost_ratio *ratios = arena_array(&arena, job.n, sizeof *ratios);
    for (size_t i = 0; outcome == OUTCOME_OK && i < job.n; i++) {
        struct survival_belief belief = {.planted = (double)job.plots[i].plants,
                                         .alive = unknown_real(),
                                         .low = option_number(in, "survival_low", 45) / 100,
                                         .mode = option_number(in, "survival_mode", 70) / 100,
                                         .high = option_number(in, "survival_high", 88) / 100};
        outcome =
            cost_per_established(job.budget.totals[i].recipe, 0, &belief, 0.95, 20000,
                                 (uint64_t)option_integer(in, "seed", job.programme.seed), job.programme.currency, &arena, &ratios[i], why);
    }
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        note_answer(out, "%zu plots cost %s to establish and %s to watch, before volunteers.", job.n,
                    money_print(job.budget.all.recipe, job.programme.currency, &arena),
                    money_print(job.budget.all.monitoring, job.programme.currency, &arena));
        budget_tables(out, &job, ratios, &arena);
        section_text(note_section(out, "Volunteers"), "The recipe with volunteers valued at nothing, at %s and at %s an hour: %s, %s, %s.",
                     money_print(settings.volunteer_rate[1], settings.currency, &arena),
                     money_print(settings.volunteer_rate[2], settings.currency, &arena),
                     money_print(job.budget.all.volunteers[0], settings.currency, &arena),
                     money_print(job.budget.all.volunteers[1], settings.currency, &arena),
                     money_print(job.budget.all.volunteers[2], settings.currency, &arena));
        for (size_t i = 0; i < job.budget.n_notes; i++)
            note_unknown(out, "%s", job.budget.notes[i]);
        note_unknown(out, "Per plant, per m² and per established plant rank plots differently; all three belong side by side. None is cost "
                          "per m² of canopy.");
        note_source(out,
                    "Range of the cost per established plant: 20,000 draws of survival from a PERT range (%.0f–%.0f–%.0f %%), a planning "
                    "assumption.",
                    option_number(in, "survival_low", 45), option_number(in, "survival_mode", 70), option_number(in, "survival_high", 88));
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_budget = {
    .name = "budget",
    .summary = "what the plots cost: per plot, per plant, per m², per established plant",
    .about = "Budgets every plot that has a plan from unit costs that you can replace with your own, with monitoring kept apart, "
             "volunteers at three "
             "rates, and the expected cost per established plant as a range.",
    .example = "spinney budget wood.gpkg --years 3",
    .access = JOB_LOOKS,
    .options = budget_options,
    .n_options = sizeof budget_options / sizeof *budget_options,
    .run = budget_run,
};
