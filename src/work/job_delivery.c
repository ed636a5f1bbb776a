/* SPDX-License-Identifier: GPL-3.0-or-later
 * delivered: what came of an order line, looked at and accepted, short or refused. */
#include "money/money.h"
#include "work/jobs.h"
#include "work/plan_load.h"
#include <math.h>
#include <string.h>

static const struct option delivered_options[] = {
    {"species", OPTION_TEXT, true, "NAME", "the species ordered"},
    {"plants", OPTION_INTEGER, true, "N", "plants counted"},
    {"line", OPTION_INTEGER, false, "ID", "which order line, where the species was ordered more than once (the newest if not given)"},
    {"on", OPTION_DATE, false, "DAY", "day (today if not given)"},
    {"passport", OPTION_TEXT, false, "TEXT", "plant passport: number, or name of its photograph; without it a line cannot be accepted"},
    {"certificate", OPTION_TEXT, false, "TEXT", "number of the master certificate, where one is asked for"},
    {"batch", OPTION_TEXT, false, "TEXT", "batch or lot on the label"},
    {"looked_at", OPTION_INTEGER, false, "N", "plants looked at closely"},
    {"faulty", OPTION_INTEGER, false, "N", "of them dead, dry, mouldy, J-rooted or another species"},
    {"undersized", OPTION_INTEGER, false, "N", "of them below the size ordered"},
    {"roots", OPTION_TEXT, false, "WORD", "moist or dry"},
    {"pest", OPTION_FLAG, false, NULL, "signs of a pest or disease that must be reported: not unloaded"},
    {"refuse", OPTION_FLAG, false, NULL, "the line is refused"},
    {"reason", OPTION_TEXT, false, "TEXT", "why short or refused, or why accepted in spite of a doubt"},
    {"offered", OPTION_TEXT, false, "NAME", "another species that came instead"},
    {"approved_by", OPTION_TEXT, false, "WHO", "who approved it in writing"},
    {"approved_on", OPTION_DATE, false, "DAY", "when"},
    {"try", OPTION_FLAG, false, NULL, "only show what would be said, store nothing"},
};
static const char *const delivered_bare[] = {"species", "plants", NULL};

struct delivery {
    struct order_line order;
    struct delivery_line row;
    int64_t before;        ///< plants of this line accepted or short in earlier deliveries
    const char *stops[10]; ///< why it cannot be accepted
    size_t n_stops;
    const char *doubts[10]; ///< what speaks against it; a person decides
    size_t n_doubts;
    double faulty_high; ///< upper limit of the faulty share
};

static enum outcome order_find(struct store *store, const char *species, int64_t id, struct arena *arena, struct delivery *out,
                               struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, found = SIZE_MAX;
    enum outcome outcome = load_all(store, NOUN_ORDER_LINE, arena, &rows, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct order_line *line = &((struct order_line *)rows)[i];
        if (text_same_nocase(line->species, species) && (id == INT_UNKNOWN || line->id == id))
            found = i;
    }
    if (outcome == OUTCOME_OK && found == SIZE_MAX) {
        fail(why, OUTCOME_DATA, "%s was not ordered%s.", species, n == 0 ? ": no order is recorded" : "");
        return failure_remedy(why, n == 0 ? "Record the order first: spinney order FILE --keep"
                                          : "Name the species that was ordered; what came instead goes under offered.");
    }
    if (outcome == OUTCOME_OK)
        out->order = ((struct order_line *)rows)[found];
    if (outcome == OUTCOME_OK)
        outcome = load_of(store, NOUN_DELIVERY_LINE, "order_line_id", out->order.id, arena, &rows, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        if (((struct delivery_line *)rows)[i].state != DELIVERY_STATE_REFUSED)
            out->before += ((struct delivery_line *)rows)[i].plants;
    return outcome;
}

static void stop(struct delivery *d, const char *words)
{
    if (d->n_stops < 10)
        d->stops[d->n_stops++] = words;
}

static void doubt(struct delivery *d, const char *words)
{
    if (d->n_doubts < 10)
        d->doubts[d->n_doubts++] = words;
}

static const struct species_fact *fact_of(const struct species_library *library, const char *name)
{
    for (size_t i = 0; i < library->n_facts; i++)
        if (text_same_nocase(library->facts[i].name, name))
            return &library->facts[i];
    return NULL;
}

/* Share of a species over all chosen plans after `plants` of `of` became `to`. */
static enum outcome share_after(struct store *store, const char *of, const char *to, int64_t plants, struct arena *arena, double *share,
                                struct failure *why)
{
    void *plots = NULL;
    size_t n = 0;
    double all = 0, already = 0, losing = 0;
    enum outcome outcome = load_all(store, NOUN_PLOT, arena, &plots, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        struct plan plan;
        struct mix_line *lines = NULL;
        size_t n_lines = 0;
        struct failure none;
        if (load_plan(store, &((struct plot *)plots)[i], 0, arena, &plan, &none) != OUTCOME_OK)
            continue;
        outcome = plan_parts_load(store, plan.id, arena, &lines, &n_lines, NULL, NULL, NULL, NULL, why);
        for (size_t k = 0; outcome == OUTCOME_OK && k < n_lines; k++) {
            all += (double)lines[k].plants;
            already += text_same_nocase(lines[k].species, to) ? (double)lines[k].plants : 0;
            losing += text_same_nocase(lines[k].species, of) ? (double)lines[k].plants : 0;
        }
    }
    *share = all > 0 ? (already + fmin((double)plants, losing)) / all : unknown_real();
    return outcome;
}

/* What was offered instead, held against what was ordered. */
static enum outcome offer_judge(const struct job_context *context, struct delivery *d, struct arena *arena, struct failure *why)
{
    struct species_library library;
    struct species_match match;
    double share = 0;
    enum outcome outcome = library_load(context->store, NULL, arena, &library, why);
    if (outcome == OUTCOME_OK)
        outcome = species_find(&library, d->row.offered_species, arena, &match, why);
    if (outcome == OUTCOME_OK)
        outcome = share_after(context->store, d->order.species, d->row.offered_species, d->row.plants, arena, &share, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct species_fact *new = match.fact, *old = fact_of(&library, d->order.species);
    if (new == NULL) {
        stop(d, arena_print(arena, "%s Nothing is known of it here: it cannot be judged.", match.said == NULL ? "" : match.said));
        return OUTCOME_OK;
    }
    d->row.offered_species = new->name;
    const char *health =
        arena_print(arena, "%s: %s%s%s (%s)", new->name, species_health_word(new->health), new->health_note == NULL ? "" : "; ",
                    new->health_note == NULL ? "" : new->health_note, new->health_date == NULL ? "no date" : new->health_date);
    if (new->health == HEALTH_STOP)
        stop(d, arena_print(arena, "STOP, plant health: %s.", health));
    else if (new->health != HEALTH_NO_RULE)
        doubt(d, arena_print(arena, "Plant health: %s.", health));
    if (old != NULL && old->layer != new->layer)
        doubt(d, arena_print(arena, "Another layer: %s is planted for the %s, %s for the %s.", old->name,
                             word_of(WORDS_LAYER, (int)old->layer), new->name, word_of(WORDS_LAYER, (int)new->layer)));
    if (new->thorny == TRUTH_YES && (old == NULL || old->thorny != TRUTH_YES))
        doubt(d, arena_print(arena, "%s has thorns: 2 m and more from paths and play.", new->name));
    if (new->hazard != NULL && (old == NULL || old->hazard == NULL))
        doubt(d, arena_print(arena, "%s: %s.", new->name, new->hazard));
    if (new->water_demand == WATER_DEMAND_HIGH && (old == NULL || old->water_demand != WATER_DEMAND_HIGH))
        doubt(d, arena_print(arena, "%s has a high water demand: judge buildings on clay anew.", new->name));
    if (is_known(share))
        doubt(d, arena_print(arena, "Share of %s over all plans would be %.1f %%%s", new->name, 100 * share,
                             share > 0.2    ? ", above 20 %."
                             : share > 0.15 ? ", above 15 %."
                                            : ": within 15 %."));
    if (text_blank(d->row.approved_by) || d->row.approved_on == DATE_UNKNOWN)
        stop(d, "Nobody has approved it in writing: say who, and on which day.");
    return OUTCOME_OK;
}

static void condition_judge(const json_t *in, struct delivery *d, struct arena *arena)
{
    const struct delivery_line *row = &d->row;
    d->faulty_high = unknown_real();
    if (option_flag(in, "pest"))
        stop(d, "Signs of a pest or disease that must be reported. Not sure? Don't unload, don't move, photograph, report.");
    if (text_blank(row->passport))
        stop(d, "There is no plant passport: no number, no photograph of it.");
    if (row->looked_at == INT_UNKNOWN || row->looked_at == 0) {
        doubt(d, "No plant was looked at closely: five of each species at least (common practice, no source).");
    } else if (row->faulty != INT_UNKNOWN) {
        double n = (double)row->looked_at, x = (double)row->faulty;
        d->faulty_high = x / n;
        if (x / n > 0.05)
            stop(d, arena_print(arena, "%.0f of %.0f looked at are faulty, more than 5 %%.", x, n));
    }
    if (row->undersized != INT_UNKNOWN && row->undersized > 0)
        doubt(d, arena_print(arena, "%lld of those looked at are smaller than ordered%s%s.", (long long)row->undersized,
                             d->order.size_cm == NULL ? "" : ": ",
                             d->order.size_cm == NULL ? "" : arena_print(arena, "%s cm", d->order.size_cm)));
    if (row->roots_moist == TRUTH_NO)
        doubt(d, "Roots were dry when they came.");
    if (row->roots_moist == TRUTH_UNKNOWN)
        doubt(d, "Whether roots were moist was not looked at.");
    struct order_paper papers[MOST_PAPERS];
    size_t n = order_papers(row->offered_species == NULL ? d->order.species : row->offered_species, papers);
    for (size_t i = 1; i < n; i++)
        if (text_same(papers[i].paper, "supplier's document") && text_blank(row->certificate))
            doubt(d, "No master certificate number was noted: it is asked for where the plants count as woodland (forest reproductive "
                     "material).");
}

static enum outcome delivered_read(const struct job_context *context, const json_t *in, struct delivery *d, struct arena *arena,
                                   struct failure *why)
{
    const char *roots = option_text(in, "roots", NULL);
    noun_init(NOUN_DELIVERY_LINE, &d->row);
    d->row.order_line_id = d->order.id;
    d->row.delivered_on = option_date(in, "on", context->today);
    d->row.plants = option_integer(in, "plants", 0);
    d->row.passport = option_text(in, "passport", NULL);
    d->row.certificate = option_text(in, "certificate", NULL);
    d->row.batch = option_text(in, "batch", NULL);
    d->row.looked_at = option_integer(in, "looked_at", INT_UNKNOWN);
    d->row.faulty = option_integer(in, "faulty", INT_UNKNOWN);
    d->row.undersized = option_integer(in, "undersized", INT_UNKNOWN);
    d->row.reason = option_text(in, "reason", NULL);
    d->row.offered_species = option_text(in, "offered", NULL);
    d->row.approved_by = option_text(in, "approved_by", NULL);
    d->row.approved_on = option_date(in, "approved_on", DATE_UNKNOWN);
    if (d->row.plants < 0)
        return fail(why, OUTCOME_DATA, "A count is 0 or more.");
    if (roots != NULL && !text_same(roots, "moist") && !text_same(roots, "dry"))
        return fail(why, OUTCOME_USAGE, "Roots are moist or dry.");
    d->row.roots_moist = roots == NULL ? TRUTH_UNKNOWN : text_same(roots, "moist") ? TRUTH_YES : TRUTH_NO;
    bool more = (d->row.faulty != INT_UNKNOWN || d->row.undersized != INT_UNKNOWN) && d->row.looked_at == INT_UNKNOWN;
    if (more || (d->row.faulty != INT_UNKNOWN && d->row.faulty > d->row.looked_at) ||
        (d->row.looked_at != INT_UNKNOWN && d->row.looked_at > d->row.plants)) {
        fail(why, OUTCOME_DATA, "Of %lld plants no more can be looked at, and no more of those be faulty.", (long long)d->row.plants);
        return failure_remedy(why, "Give plants, looked_at and faulty as counts.");
    }
    condition_judge(in, d, arena);
    return d->row.offered_species == NULL ? OUTCOME_OK : offer_judge(context, d, arena, why);
}

/* Accepted, short or refused; what cannot be accepted needs refusing in so many words. */
static enum outcome delivered_state(const json_t *in, struct delivery *d, struct failure *why)
{
    bool refuse = option_flag(in, "refuse");
    int64_t missing = d->order.plants_ordered - d->before - d->row.plants;
    d->row.state = refuse ? DELIVERY_STATE_REFUSED : missing > 0 ? DELIVERY_STATE_SHORT : DELIVERY_STATE_ACCEPTED;
    if (refuse && text_blank(d->row.reason)) {
        fail(why, OUTCOME_USAGE, "A refusal needs its reason.");
        return failure_remedy(why, "Say it in --reason: it goes to the nursery and into the record.");
    }
    if (!refuse && d->n_stops > 0) {
        fail(why, OUTCOME_DATA, "%s cannot be accepted. %s", d->order.species, d->stops[0]);
        return failure_remedy(why, "Complete what is missing, or refuse the line: --refuse --reason '…'.");
    }
    return OUTCOME_OK;
}

static json_t *delivered_note(const struct delivery *d, bool kept, struct arena *arena)
{
    json_t *out = note_new();
    int64_t missing = d->order.plants_ordered - d->before - (d->row.state == DELIVERY_STATE_REFUSED ? 0 : d->row.plants);
    const char *name = d->row.offered_species == NULL ? d->order.species
                                                      : arena_print(arena, "%s (offered for %s)", d->row.offered_species, d->order.species);
    note_answer(out, "%lld plants of %s: %s. %s%s", (long long)d->row.plants, name,
                d->row.state == DELIVERY_STATE_REFUSED ? "refused"
                : d->row.state == DELIVERY_STATE_SHORT ? "accepted, and the line is short"
                                                       : "accepted",
                missing > 0
                    ? arena_print(arena, "%lld of %lld ordered are missing.", (long long)missing, (long long)d->order.plants_ordered)
                : missing == 0 ? arena_print(arena, "All %lld ordered are there.", (long long)d->order.plants_ordered)
                               : arena_print(arena, "%lld more than ordered.", (long long)-missing),
                kept ? "" : " Nothing is stored.");
    json_t *table = section_table(note_section(out, "Looked at"));
    table_column(table, "what", "what", "", -1);
    table_column(table, "found", "found", "", -1);
    for (size_t i = 0; i < d->n_stops; i++) {
        json_t *row = table_row(table);
        row_text(row, "against it");
        row_text(row, d->stops[i]);
    }
    for (size_t i = 0; i < d->n_doubts; i++) {
        json_t *row = table_row(table);
        row_text(row, "to weigh");
        row_text(row, d->doubts[i]);
    }
    if (missing > 0 && d->row.state != DELIVERY_STATE_REFUSED)
        note_unknown(out, "The plans still ask for what is missing. To spread what came over the plots: spinney mend FILE PLOT");
    if (d->row.offered_species != NULL && d->row.state == DELIVERY_STATE_ACCEPTED)
        note_unknown(out, "The plans still name %s. To put the other in its place: spinney substitute FILE PLOT", d->order.species);
    note_caution(out, "C18", "Not sure about a plant's health? Don't unload, don't move, photograph, report.",
                 "the national plant-health service");
    json_object_set_new(note_data(out), "state", json_string(word_of(WORDS_DELIVERY_STATE, (int)d->row.state)));
    json_object_set_new(note_data(out), "missing", json_integer(missing > 0 ? missing : 0));
    json_object_set_new(note_data(out), "ordered", json_integer(d->order.plants_ordered));
    return out;
}

static enum outcome delivered_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct delivery d = {.before = 0};
    bool keep = !option_flag(in, "try");
    enum outcome outcome =
        order_find(context->store, option_text(in, "species", ""), option_integer(in, "line", INT_UNKNOWN), &arena, &d, why);
    if (outcome == OUTCOME_OK)
        outcome = delivered_read(context, in, &d, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = delivered_state(in, &d, why);
    if (outcome == OUTCOME_OK && keep) {
        outcome = store_begin(context->store, context->author, arena_print(&arena, "%s delivered", d.order.species), why);
        if (outcome == OUTCOME_OK) {
            outcome = store_add(context->store, NOUN_DELIVERY_LINE, &d.row, 1, why);
            outcome = store_end(context->store, outcome, why);
        }
    }
    if (outcome == OUTCOME_OK)
        *note = delivered_note(&d, keep, &arena);
    arena_clear(&arena);
    return outcome;
}

const struct job job_delivered = {
    .name = "delivered",
    .summary = "check what came of an order line: count, condition, papers",
    .about = "Records a delivery of one species. A line without a plant passport, with more than 5 % faulty plants, with signs of a pest "
             "that must be reported, or with another species that nobody approved in writing cannot be accepted, only refused with a "
             "reason. What came instead is held against layer, plant health, thorns, poison, water demand and shares.",
    .example = "spinney delivered wood.gpkg 'Tilia cordata' 110 --passport 'IE-1234 / lot 7' --looked-at 10 --faulty 0 --roots moist",
    .access = JOB_WRITES,
    .options = delivered_options,
    .n_options = sizeof delivered_options / sizeof *delivered_options,
    .bare = delivered_bare,
    .run = delivered_run,
};
