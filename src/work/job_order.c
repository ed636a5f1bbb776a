/* SPDX-License-Identifier: GPL-3.0-or-later
 * order: one list over all plots, in bundles, with reserve, papers and lead time. */
#include "ground/ground.h"
#include "money/money.h"
#include "paper/paper.h"
#include "work/jobs.h"
#include "work/plan_load.h"
#include "work/rows.h"
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
    const char *plans; ///< ids of the plans ordered for, by "|"
    struct order_need *needs;
    size_t n_needs;
    struct order_offer *offers;
    size_t n_offers;
    struct order_settings settings;
    struct order order;
    struct species_library library;
};

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
        if (!plot_listed(list, name, plot->code) || load_plan(context->store, plot, 0, arena, &plan, &none) != OUTCOME_OK)
            continue;
        job->plans =
            arena_print(arena, "%s%s%lld", job->plans == NULL ? "" : job->plans, job->plans == NULL ? "" : "|", (long long)plan.id);
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
        cells_behind(table, 3, note_rows(out, NOUN_MIX_LINE, arena_print(arena, "plan=%s", job->plans), INT_UNKNOWN));
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
        figures_behind(table,
                       note_rows(out, NOUN_MIX_LINE, arena_print(arena, "plan=%s;species=%s", job->plans, rows_value(from->species, arena)),
                                 INT_UNKNOWN));
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
