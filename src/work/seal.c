/* SPDX-License-Identifier: GPL-3.0-or-later
 * Seals: what was set down, its fingerprint, and what became of it. */
#include "work/seal.h"
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

enum outcome first_result(struct store *store, struct arena *arena, int32_t *day, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    *day = DATE_UNKNOWN;
    enum outcome outcome = load_all(store, NOUN_VISIT, arena, &rows, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct visit *visit = &((struct visit *)rows)[i];
        if (visit->kind == VISIT_KIND_CENSUS && (*day == DATE_UNKNOWN || visit->from_on < *day))
            *day = visit->from_on;
    }
    return outcome;
}

/* The fields of a row by name; what is unknown is left out. */
static json_t *fields_json(enum noun noun, const void *row, const char *const *names, size_t n, struct arena *arena)
{
    json_t *out = json_object();
    for (size_t i = 0; i < n; i++) {
        const struct field *field = noun_field(noun, names[i]);
        if (!field_unknown(field, row))
            json_object_set_new(out, names[i], json_string(field_write(field, row, arena)));
    }
    return out;
}

static const char *const rule_names[] = {"version",        "primary_outcome", "survey_window", "established", "replacement_policy",
                                         "stopping_rules", "analysis_plan",   "margin_points"};
static const char *const comparison_names[] = {"name", "question", "outcome", "decide_on", "margin_points", "buffer_m"};
static const char *const allocation_names[] = {"method", "seed", "pieces", "reason"};
static const char *const sample_names[] = {"what", "rule", "seed", "members"};
#define COUNT(list) (sizeof(list) / sizeof *(list))

struct everything {
    void *sites, *plots, *comparisons, *members, *allocations, *samples;
    size_t n_sites, n_plots, n_comparisons, n_members, n_allocations, n_samples;
};

static enum outcome everything_load(struct store *store, struct arena *arena, struct everything *out, struct failure *why)
{
    enum outcome outcome = load_all(store, NOUN_SITE, arena, &out->sites, &out->n_sites, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_PLOT, arena, &out->plots, &out->n_plots, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_COMPARISON, arena, &out->comparisons, &out->n_comparisons, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_COMPARISON_PLOT, arena, &out->members, &out->n_members, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_ALLOCATION, arena, &out->allocations, &out->n_allocations, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_DRAWN_SAMPLE, arena, &out->samples, &out->n_samples, why);
    return outcome;
}

static const char *plot_of(const struct everything *all, int64_t id, struct arena *arena)
{
    for (size_t i = 0; i < all->n_plots; i++)
        if (((struct plot *)all->plots)[i].id == id)
            return plot_name(all->sites, all->n_sites, &((struct plot *)all->plots)[i], arena);
    return "?";
}

/* One comparison with its plots and lots. The number of its row stands beside it, for the change log. */
static json_t *comparison_json(const struct everything *all, const struct comparison *one, struct arena *arena)
{
    json_t *out = fields_json(NOUN_COMPARISON, one, comparison_names, COUNT(comparison_names), arena);
    json_t *plots = json_array(), *lots = json_array();
    for (size_t i = 0; i < all->n_members; i++)
        if (((struct comparison_plot *)all->members)[i].comparison_id == one->id)
            json_array_append_new(plots, json_string(plot_of(all, ((struct comparison_plot *)all->members)[i].plot_id, arena)));
    for (size_t i = 0; i < all->n_allocations; i++)
        if (((struct allocation *)all->allocations)[i].comparison_id == one->id)
            json_array_append_new(lots, fields_json(NOUN_ALLOCATION, &((struct allocation *)all->allocations)[i], allocation_names,
                                                    COUNT(allocation_names), arena));
    json_object_set_new(out, "plots", plots);
    json_object_set_new(out, "lots", lots);
    json_object_set_new(out, "row", json_integer(one->id));
    return out;
}

static json_t *sealed_json(const struct everything *all, const struct protocol *protocol, struct arena *arena)
{
    json_t *comparisons = json_array(), *samples = json_array();
    for (size_t i = 0; i < all->n_comparisons; i++)
        json_array_append_new(comparisons, comparison_json(all, &((struct comparison *)all->comparisons)[i], arena));
    for (size_t i = 0; i < all->n_samples; i++) {
        const struct drawn_sample *sample = &((struct drawn_sample *)all->samples)[i];
        json_t *one = fields_json(NOUN_DRAWN_SAMPLE, sample, sample_names, COUNT(sample_names), arena);
        json_object_set_new(one, "plot", json_string(plot_of(all, sample->plot_id, arena)));
        json_object_set_new(one, "row", json_integer(sample->id));
        json_array_append_new(samples, one);
    }
    return json_pack("{s:o, s:o, s:o}", "rules", fields_json(NOUN_PROTOCOL, protocol, rule_names, COUNT(rule_names), arena), "comparisons",
                     comparisons, "samples", samples);
}

static const char *fingerprint(const char *text, struct arena *arena)
{
    unsigned char hash[crypto_hash_sha256_BYTES];
    char hex[2 * sizeof hash + 1];
    crypto_hash_sha256(hash, (const unsigned char *)text, strlen(text));
    sodium_bin2hex(hex, sizeof hex, hash, sizeof hash);
    return arena_text(arena, hex);
}

static const char *json_words(const json_t *value, struct arena *arena)
{
    char *text = json_dumps(value, JSON_SORT_KEYS | JSON_COMPACT | JSON_ENCODE_ANY);
    const char *out = arena_text(arena, text == NULL ? "" : text);
    free(text);
    return out;
}

enum outcome seal_make(struct store *store, struct protocol *protocol, const char *late, struct arena *arena, const char ***open,
                       size_t *n_open, struct failure *why)
{
    struct everything all = {.n_sites = 0};
    enum outcome outcome = everything_load(store, arena, &all, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    json_t *sealed = sealed_json(&all, protocol, arena);
    if (late != NULL)
        json_object_set_new(sealed, "late", json_string(late));
    protocol->sealed = json_words(sealed, arena);
    protocol->seal = fingerprint(protocol->sealed, arena);
    json_decref(sealed);
    *open = arena_array(arena, all.n_comparisons + 1, sizeof **open);
    *n_open = 0;
    for (size_t i = 0; i < all.n_comparisons; i++) {
        const struct comparison *one = &((struct comparison *)all.comparisons)[i];
        if (text_blank(one->question) || text_blank(one->outcome) || one->decide_on == DATE_UNKNOWN)
            (*open)[(*n_open)++] =
                arena_print(arena, "%s is sealed without %s%s%s: nobody can be held to what was not said.", one->name,
                            text_blank(one->question) ? "a question" : "",
                            text_blank(one->outcome) ? text_blank(one->question) ? ", an outcome" : "an outcome" : "",
                            one->decide_on == DATE_UNKNOWN
                                ? text_blank(one->question) || text_blank(one->outcome) ? ", a date of decision" : "a date of decision"
                                : "");
    }
    return OUTCOME_OK;
}

/* ---- held against what is there now ---- */

struct checking {
    struct store *store;
    struct arena *arena;
    int32_t result; ///< day of the first result
    const char **list;
    size_t n, room;
};

static void change_add(struct checking *job, const char *words)
{
    if (job->n < job->room)
        job->list[job->n++] = words;
}

/* ", changed on 3 May 2024 by V002, after the first result of …", from the log of the row. */
static const char *when_words(struct checking *job, enum noun noun, int64_t row)
{
    struct store_past *past = NULL;
    size_t n = 0;
    struct failure none;
    int32_t day = DATE_UNKNOWN;
    if (row == 0 || store_history(job->store, noun, row, job->arena, &past, &n, &none) != OUTCOME_OK || n == 0)
        return "";
    const struct store_past *last = &past[0];
    for (size_t i = 1; i < n; i++)
        last = past[i].step > last->step ? &past[i] : last;
    char first[11] = {0};
    memcpy(first, last->at, strlen(last->at) < 10 ? strlen(last->at) : 10);
    bool after = date_read(first, &day) && job->result != DATE_UNKNOWN && day >= job->result;
    return arena_print(job->arena, " (%s on %s by %s%s)", last->kind, first, last->author,
                       after ? arena_print(job->arena, ", after the first result of %s", day_words(job->result, job->arena)) : "");
}

static const json_t *same_row(const json_t *list, const json_t *one)
{
    size_t i = 0;
    const json_t *other = NULL;
    json_array_foreach(list, i, other) if (json_integer_value(json_object_get(other, "row")) ==
                                           json_integer_value(json_object_get(one, "row"))) return other;
    return NULL;
}

static const char *value_words(const json_t *value, struct arena *arena)
{
    if (value == NULL)
        return "nothing";
    return json_is_string(value) ? arena_print(arena, "\"%.120s\"", json_string_value(value)) : json_words(value, arena);
}

/* Differences of two objects, member by member. */
static void objects_compare(struct checking *job, const char *name, const json_t *was, const json_t *is, const char *when)
{
    const char *key = NULL;
    json_t *value = NULL, *both = json_object();
    json_object_update(both, (json_t *)(uintptr_t)was);
    json_object_update(both, (json_t *)(uintptr_t)is);
    json_object_foreach(both, key, value)
    {
        const json_t *a = json_object_get(was, key), *b = json_object_get(is, key);
        if (json_equal(a, b) != 1)
            change_add(job, arena_print(job->arena, "%s: %s was %s, is %s%s.", name, key, value_words(a, job->arena),
                                        value_words(b, job->arena), when));
    }
    json_decref(both);
}

static void lists_compare(struct checking *job, enum noun noun, const char *what, const char *label, const json_t *was, const json_t *is)
{
    size_t i = 0;
    const json_t *one = NULL;
    json_array_foreach(was, i, one)
    {
        const json_t *now = same_row(is, one);
        int64_t row = json_integer_value(json_object_get(one, "row"));
        const char *name = arena_print(job->arena, "%s %s", what, json_string_value(json_object_get(one, label)));
        if (now == NULL)
            change_add(job, arena_print(job->arena, "%s was taken out%s.", name, when_words(job, noun, row)));
        else if (json_equal(one, now) != 1)
            objects_compare(job, name, one, now, when_words(job, noun, row));
    }
    json_array_foreach(is, i, one)
    {
        if (same_row(was, one) == NULL)
            change_add(job,
                       arena_print(job->arena, "%s %s was added after sealing%s.", what, json_string_value(json_object_get(one, label)),
                                   when_words(job, noun, json_integer_value(json_object_get(one, "row")))));
    }
}

enum outcome seal_check(struct store *store, const struct protocol *protocol, struct arena *arena, struct seal_state *out,
                        struct failure *why)
{
    struct everything all = {.n_sites = 0};
    struct checking job = {.store = store, .arena = arena, .room = 200};
    *out = (struct seal_state){.sealed = protocol->locked_on != DATE_UNKNOWN && protocol->seal != NULL && protocol->sealed != NULL};
    if (!out->sealed) {
        out->sentence =
            protocol->locked_on == DATE_UNKNOWN
                ? "A draft: nothing is sealed yet."
                : "Locked without a seal: whether questions, outcomes and dates changed since can be read from the change log only.";
        return OUTCOME_OK;
    }
    enum outcome outcome = everything_load(store, arena, &all, why);
    if (outcome == OUTCOME_OK)
        outcome = first_result(store, arena, &job.result, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    job.list = arena_array(arena, job.room, sizeof *job.list);
    json_error_t error;
    json_t *was = json_loads(protocol->sealed, 0, &error);
    /* the store may keep the text of the object in another form: the fingerprint is of the sorted, compact one */
    const char *text = was == NULL ? protocol->sealed : json_words(was, arena);
    if (!text_same(fingerprint(text, arena), protocol->seal))
        change_add(&job, "The fingerprint does not belong to what is stored beside it: one of them was altered outside the program.");
    if (was != NULL) {
        json_t *is = sealed_json(&all, protocol, arena);
        const char *late = json_string_value(json_object_get(was, "late"));
        out->late = late == NULL ? NULL : arena_text(arena, late);
        objects_compare(&job, "The rules", json_object_get(was, "rules"), json_object_get(is, "rules"),
                        when_words(&job, NOUN_PROTOCOL, protocol->id));
        lists_compare(&job, NOUN_COMPARISON, "Comparison", "name", json_object_get(was, "comparisons"), json_object_get(is, "comparisons"));
        lists_compare(&job, NOUN_DRAWN_SAMPLE, "Sample of", "plot", json_object_get(was, "samples"), json_object_get(is, "samples"));
        json_decref(is);
        json_decref(was);
    }
    out->changes = job.list;
    out->n_changes = job.n;
    out->whole = job.n == 0;
    out->sentence =
        out->whole
            ? arena_print(arena, "The seal of version %s holds (SHA-256 %.16s…): questions, outcomes, dates and lots are as sealed on %s.",
                          protocol->version, protocol->seal, day_words(protocol->locked_on, arena))
            : arena_print(arena, "The seal of version %s is broken: %zu thing%s changed since %s.", protocol->version, job.n,
                          job.n == 1 ? "" : "s", day_words(protocol->locked_on, arena));
    return OUTCOME_OK;
}
