/* SPDX-License-Identifier: GPL-3.0-or-later
 * Turning a selection into rows. */
#include "work/rows.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_STEPS = 4, MOST_CONDITIONS = 24 };

enum worked_out { NOT_WORKED_OUT, BY_CENSUS, BY_STATE, BY_COUNT, BY_HEIGHT };

/// One value of a condition, read.
struct wanted {
    enum { WANT_UNKNOWN, WANT_KNOWN, WANT_NUMBER, WANT_TEXT } kind;
    double low, high;
    const char *from, *to;
};

/// A condition with its fields looked up.
struct held_against {
    const struct rows_condition *condition;
    enum worked_out worked_out;
    const struct field *steps[MOST_STEPS]; ///< references to follow
    size_t n_steps;
    const struct field *field; ///< NULL: the id
    enum noun noun;            ///< whose field it is
    struct wanted *wanted;
    size_t n;
};

void rows_finder_begin(struct rows_finder *finder, struct store *store, struct arena *arena)
{
    *finder = (struct rows_finder){.store = store, .arena = arena};
}

int64_t row_id(const void *row)
{
    int64_t id = 0;
    memcpy(&id, row, sizeof id); /* every noun's struct begins with it */
    return id;
}

const void *rows_of_id(const void *rows, size_t n, enum noun noun, int64_t id)
{
    size_t low = 0, high = n, size = noun_infos[noun].size;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (row_id((const char *)rows + middle * size) < id)
            low = middle + 1;
        else
            high = middle;
    }
    const void *row = low < n ? (const char *)rows + low * size : NULL;
    return row != NULL && row_id(row) == id ? row : NULL;
}

enum outcome rows_all(struct rows_finder *finder, enum noun noun, const void **rows, size_t *n, struct failure *why)
{
    if (!finder->nouns[noun].loaded) {
        void *loaded = NULL;
        enum outcome outcome = load_all(finder->store, noun, finder->arena, &loaded, &finder->nouns[noun].n, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        finder->nouns[noun].rows = loaded;
        finder->nouns[noun].loaded = true;
    }
    *rows = finder->nouns[noun].rows;
    *n = finder->nouns[noun].n;
    return OUTCOME_OK;
}

/* ---- reading ---- */

/* A field by its name, a reference also without "_id". */
static const struct field *field_of(enum noun noun, const char *name, size_t n)
{
    for (size_t i = 0; i < noun_infos[noun].n_fields; i++) {
        const struct field *field = &noun_infos[noun].fields[i];
        size_t length = strlen(field->name);
        bool whole = length == n && memcmp(field->name, name, n) == 0;
        bool short_form = field->kind == FIELD_REF && length == n + 3 && memcmp(field->name, name, n) == 0;
        if (whole || short_form)
            return field;
    }
    return NULL;
}

static enum worked_out worked_out_of(enum noun noun, const char *path)
{
    static const char *const names[] = {[BY_CENSUS] = "census", [BY_STATE] = "state", [BY_COUNT] = "counts_as", [BY_HEIGHT] = "height_at"};
    if (noun != NOUN_PLANT_RECORD && noun != NOUN_PLANT)
        return NOT_WORKED_OUT;
    for (int i = BY_CENSUS; i <= BY_HEIGHT; i++)
        if (strcmp(path, names[i]) == 0)
            return (enum worked_out)i;
    return NOT_WORKED_OUT;
}

static enum outcome path_read(enum noun noun, struct held_against *test, struct failure *why)
{
    const char *at = test->condition->path;
    test->noun = noun;
    test->worked_out = worked_out_of(noun, at);
    if (test->worked_out != NOT_WORKED_OUT)
        return OUTCOME_OK;
    for (;;) {
        size_t n = strcspn(at, ".");
        bool last = at[n] == '\0';
        if (last && n == 2 && memcmp(at, "id", 2) == 0)
            return OUTCOME_OK;
        const struct field *field = field_of(test->noun, at, n);
        if (field == NULL || (!last && (field->kind != FIELD_REF || test->n_steps == MOST_STEPS))) {
            fail(why, OUTCOME_USAGE, "%s has no field %.*s%s.", noun_infos[test->noun].name, (int)(n < 60 ? n : 60), at,
                 last || field == NULL ? "" : " that leads to another row");
            return failure_remedy(why, "See docs/format.md for the fields.");
        }
        if (last) {
            test->field = field;
            return OUTCOME_OK;
        }
        test->steps[test->n_steps++] = field;
        test->noun = (enum noun)field->target;
        at += n + 1;
    }
}

/* What a reference or id is compared with: a number, or a code of a site or plot, or a plant's tag. */
static enum outcome id_read(struct rows_finder *finder, enum noun target, const char *value, struct held_against *test, struct failure *why)
{
    int64_t id = 0;
    if (integer_read(value, &id)) {
        test->wanted[test->n++] = (struct wanted){.kind = WANT_NUMBER, .low = (double)id, .high = (double)id};
        return OUTCOME_OK;
    }
    const void *rows = NULL, *sites = NULL;
    size_t n = 0, n_sites = 0, before = test->n;
    enum outcome outcome = rows_all(finder, target, &rows, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = rows_all(finder, NOUN_SITE, &sites, &n_sites, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n && test->n == before; i++) {
        const char *name = NULL;
        if (target == NOUN_SITE)
            name = ((const struct site *)rows)[i].code;
        else if (target == NOUN_PLOT)
            name = plot_name(sites, n_sites, &((const struct plot *)rows)[i], finder->arena);
        else if (target == NOUN_PLANT)
            name = ((const struct plant *)rows)[i].tag;
        if (name == NULL || strcmp(name, value) != 0)
            continue;
        double found = (double)row_id((const char *)rows + i * noun_infos[target].size);
        test->wanted[test->n++] = (struct wanted){.kind = WANT_NUMBER, .low = found, .high = found};
    }
    if (outcome == OUTCOME_OK && test->n == before) {
        fail(why, OUTCOME_USAGE, "There is no %s %.80s.", noun_infos[target].name, value);
        outcome = failure_remedy(why, "Give its id, or the code of a site (LK), a plot (LK/D1) or the tag of a plant.");
    }
    return outcome;
}

/* One end of a range, or a value, as the number that the field is compared as. */
static enum outcome number_wanted(const struct field *field, const char *value, double *out, struct failure *why)
{
    int32_t day = 0;
    switch (field->kind) {
    case FIELD_DATE:
        if (date_read(value, &day)) {
            *out = day;
            return OUTCOME_OK;
        }
        break;
    case FIELD_ENUM:
        if (word_find((enum word_list)field->words, value) >= 0) {
            *out = word_find((enum word_list)field->words, value);
            return OUTCOME_OK;
        }
        break;
    default:
        if (number_read(value, out))
            return OUTCOME_OK;
    }
    return fail(why, OUTCOME_USAGE, "%s is not compared with \"%.80s\".", field->name, value);
}

static bool as_text(const struct field *field)
{
    return field->kind == FIELD_TEXT || field->kind == FIELD_JSON || field->kind == FIELD_MOMENT;
}

static enum outcome value_read(struct rows_finder *finder, struct held_against *test, size_t i, struct failure *why)
{
    const char *value = test->condition->values[i], *range = strstr(value, "..");
    struct wanted *wanted = &test->wanted[test->n];
    bool quoted = test->condition->quoted[i];
    if (!quoted && (*value == '\0' || strcmp(value, "unknown") == 0 || strcmp(value, "known") == 0)) {
        wanted->kind = strcmp(value, "known") == 0 ? WANT_KNOWN : WANT_UNKNOWN;
        test->n++;
        return OUTCOME_OK;
    }
    if (quoted)
        range = NULL;
    if (range == NULL && (test->field == NULL || test->field->kind == FIELD_REF))
        return id_read(finder, test->field == NULL ? test->noun : (enum noun)test->field->target, value, test, why);
    const char *from = range == NULL ? value : arena_text_n(finder->arena, value, (size_t)(range - value)),
               *to = range == NULL ? value : range + 2;
    if (test->field != NULL && as_text(test->field)) {
        *wanted = (struct wanted){.kind = WANT_TEXT, .from = from, .to = to};
        test->n++;
        return OUTCOME_OK;
    }
    static const struct field whole = {.name = "id", .kind = FIELD_INT};
    const struct field *field = test->field == NULL ? &whole : test->field;
    wanted->kind = WANT_NUMBER;
    enum outcome outcome = number_wanted(field, from, &wanted->low, why);
    if (outcome == OUTCOME_OK)
        outcome = number_wanted(field, to, &wanted->high, why);
    test->n++;
    return outcome;
}

static enum outcome test_read(struct rows_finder *finder, enum noun noun, const struct rows_condition *condition, struct held_against *test,
                              struct failure *why)
{
    *test = (struct held_against){.condition = condition};
    enum outcome outcome = path_read(noun, test, why);
    if (outcome != OUTCOME_OK || test->worked_out != NOT_WORKED_OUT)
        return outcome;
    if (test->field != NULL && test->field->kind == FIELD_BYTES)
        return fail(why, OUTCOME_USAGE, "%s holds bytes and is not compared.", test->field->name);
    test->wanted = arena_array(finder->arena, condition->n, sizeof *test->wanted);
    for (size_t i = 0; outcome == OUTCOME_OK && i < condition->n; i++)
        outcome = value_read(finder, test, i, why);
    return outcome;
}

/* ---- holding a row against it ---- */

static double number_in(const struct field *field, const void *row)
{
    const char *at = (const char *)row + field->offset;
    if (field_unknown(field, row))
        return unknown_real();
    switch (field->kind) {
    case FIELD_REAL:
        return *(const double *)(const void *)at;
    case FIELD_DATE:
        return *(const int32_t *)(const void *)at;
    case FIELD_ENUM: {
        int value = 0;
        memcpy(&value, at, sizeof value);
        return value;
    }
    default:
        return (double)*(const int64_t *)(const void *)at;
    }
}

static bool number_holds(const struct held_against *test, double x)
{
    for (size_t i = 0; i < test->n; i++) {
        const struct wanted *wanted = &test->wanted[i];
        if (wanted->kind == WANT_UNKNOWN             ? !is_known(x)
            : wanted->kind == WANT_KNOWN             ? is_known(x)
            : test->condition->test == ROWS_AT_LEAST ? x >= wanted->low
            : test->condition->test == ROWS_AT_MOST  ? x <= wanted->high
                                                     : x >= wanted->low && x <= wanted->high)
            return true;
    }
    return false;
}

static bool text_holds(const struct held_against *test, const char *x)
{
    for (size_t i = 0; i < test->n; i++) {
        const struct wanted *wanted = &test->wanted[i];
        if (wanted->kind == WANT_UNKNOWN || wanted->kind == WANT_KNOWN) {
            if ((x == NULL) == (wanted->kind == WANT_UNKNOWN))
                return true;
            continue;
        }
        bool low = x != NULL && strcmp(x, wanted->from) >= 0, high = x != NULL && strcmp(x, wanted->to) <= 0;
        if (test->condition->test == ROWS_AT_LEAST ? low : test->condition->test == ROWS_AT_MOST ? high : low && high)
            return true;
    }
    return false;
}

static bool row_holds(const struct rows_finder *finder, const struct held_against *test, const void *row)
{
    for (size_t i = 0; i < test->n_steps && row != NULL; i++) {
        int64_t id = 0;
        memcpy(&id, (const char *)row + test->steps[i]->offset, sizeof id);
        enum noun target = (enum noun)test->steps[i]->target;
        row = rows_of_id(finder->nouns[target].rows, finder->nouns[target].n, target, id);
    }
    bool holds = false;
    if (row == NULL)
        holds = test->n == 1 && test->wanted[0].kind == WANT_UNKNOWN;
    else if (test->field == NULL)
        holds = number_holds(test, (double)row_id(row));
    else if (as_text(test->field))
        holds = text_holds(test, *(const char *const *)(const void *)((const char *)row + test->field->offset));
    else
        holds = number_holds(test, number_in(test->field, row));
    return test->condition->test == ROWS_IS_NOT ? !holds : holds;
}

/* ---- what is worked out from censuses ---- */

struct by_lives {
    const struct rows_condition *census, *state, *count, *height;
};

static bool census_is(const struct plot_lives *lives, size_t census, const char *day)
{
    int32_t wanted = 0;
    if (strcmp(day, "last") == 0)
        return census + 1 == lives->n_censuses;
    if (strcmp(day, "first") == 0)
        return census == 0;
    return date_read(day, &wanted) && lives->censuses[census].to == wanted;
}

static bool any_census(const struct plot_lives *lives, size_t census, const struct rows_condition *days)
{
    for (size_t i = 0; i < days->n; i++)
        if (census_is(lives, census, days->values[i]))
            return true;
    return false;
}

static bool among(const struct rows_condition *condition, const char *word)
{
    if (condition == NULL)
        return true;
    bool found = false;
    for (size_t i = 0; i < condition->n && !found; i++)
        found = strcmp(condition->values[i], word) == 0;
    return found == (condition->test != ROWS_IS_NOT);
}

static bool counts(const struct plot_lives *lives, size_t plant, const struct rows_condition *condition)
{
    enum origin origin = lives->plants[plant]->origin;
    if (condition == NULL)
        return true;
    return origin == ORIGIN_FIRST_PLANTING ? evidence_planted_first(lives, plant) && among(condition, "first_planting")
                                           : among(condition, word_of(WORDS_ORIGIN, (int)origin));
}

static enum outcome word_check(const struct rows_condition *condition, const char *const *words, size_t n, bool days, struct failure *why)
{
    for (size_t i = 0; condition != NULL && i < condition->n; i++) {
        const char *value = condition->values[i], *and = days ? strstr(value, " and ") : NULL;
        char first[16] = "";
        int32_t day = 0;
        snprintf(first, sizeof first, "%.*s", and == NULL ? 15 : (int)(and-value), value);
        bool fine = days && (date_read(first, &day) || strcmp(first, "last") == 0 || strcmp(first, "first") == 0);
        if (and != NULL)
            fine = fine && (date_read(and+5, &day) || strcmp(and+5, "last") == 0 || strcmp(and+5, "first") == 0);
        for (size_t k = 0; k < n && !fine; k++)
            fine = strcmp(value, words[k]) == 0;
        if (fine)
            continue;
        fail(why, OUTCOME_USAGE, "%s is not compared with \"%.80s\".", condition->path, value);
        return failure_remedy(why, days ? "Give the last day of a census, or first, or last." : "There are: %s, %s, %s%s.", words[0],
                              words[1], words[2], n > 3 ? ", not_found, not_seen" : "");
    }
    return OUTCOME_OK;
}

static enum outcome by_lives_check(const struct by_lives *by, struct failure *why)
{
    static const char *const states[] = {"alive", "dead", "removed", "not_found", "not_seen"}, *const origins[] = {"first_planting",
                                                                                                                   "replacement",
                                                                                                                   "natural_arrival"};
    enum outcome outcome = word_check(by->census, states, 0, true, why);
    if (outcome == OUTCOME_OK)
        outcome = word_check(by->height, states, 0, true, why);
    if (outcome == OUTCOME_OK)
        outcome = word_check(by->state, states, 5, false, why);
    return outcome == OUTCOME_OK ? word_check(by->count, origins, 3, false, why) : outcome;
}

struct gathering {
    int64_t *ids;
    size_t n, room;
};

static void gather(struct gathering *out, const void *row)
{
    if (row == NULL)
        return;
    out->ids = column_room(out->ids, out->n, &out->room, sizeof *out->ids);
    out->ids[out->n++] = row_id(row);
}

/* Records or plants with heights at one census, or at both of two. */
static void heights_gather(const struct plot_lives *lives, size_t plant, const struct by_lives *by, enum noun noun, struct gathering *out)
{
    const struct plant_record **measured = lives->measured + plant * lives->n_censuses;
    for (size_t i = 0; i < by->height->n; i++) {
        const char *days = by->height->values[i], *and = strstr(days, " and ");
        char first[16] = "";
        const struct plant_record *one = NULL, *two = NULL;
        snprintf(first, sizeof first, "%.*s", and == NULL ? 15 : (int)(and-days), days);
        for (size_t c = 0; c < lives->n_censuses; c++) {
            one = census_is(lives, c, first) ? measured[c] : one;
            two = and != NULL && census_is(lives, c, and+5) ? measured[c] : two;
        }
        if (one == NULL || (and != NULL && two == NULL))
            continue;
        gather(out, noun == NOUN_PLANT ? (const void *)lives->plants[plant] : one);
        if (noun == NOUN_PLANT_RECORD)
            gather(out, two);
    }
}

static void lives_gather(const struct plot_lives *lives, const struct by_lives *by, enum noun noun, struct gathering *out)
{
    static const char *const words[] = {[LIFE_NOT_SEEN] = "not_seen",
                                        [LIFE_ALIVE] = "alive",
                                        [LIFE_DEAD] = "dead",
                                        [LIFE_NOT_FOUND] = "not_found",
                                        [LIFE_REMOVED] = "removed"};
    for (size_t p = 0; p < lives->n_plants; p++) {
        if (!counts(lives, p, by->count))
            continue;
        if (by->height != NULL) {
            heights_gather(lives, p, by, noun, out);
            continue;
        }
        if (by->census == NULL && noun == NOUN_PLANT)
            gather(out, lives->plants[p]);
        for (size_t c = 0; by->census != NULL && c < lives->n_censuses; c++)
            if (any_census(lives, c, by->census) && among(by->state, words[lives->states[p * lives->n_censuses + c]]))
                gather(out, noun == NOUN_PLANT ? (const void *)lives->plants[p] : (const void *)lives->deciding[p * lives->n_censuses + c]);
    }
}

static int by_number(const void *a, const void *b)
{
    int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

static enum outcome evidence_ready(struct rows_finder *finder, struct failure *why)
{
    if (finder->has_evidence)
        return OUTCOME_OK;
    enum outcome outcome = evidence_load(finder->store, finder->arena, &finder->evidence, why);
    finder->has_evidence = outcome == OUTCOME_OK;
    const struct evidence_facts *facts = &finder->evidence.facts;
    const struct {
        enum noun noun;
        const void *rows;
        size_t n;
    } shared[] = {{NOUN_PLANT_RECORD, facts->records, facts->n_records}, {NOUN_PLANT, facts->plants, facts->n_plants}};
    for (size_t i = 0; outcome == OUTCOME_OK && i < sizeof shared / sizeof *shared; i++)
        if (!finder->nouns[shared[i].noun].loaded) {
            finder->nouns[shared[i].noun].rows = shared[i].rows;
            finder->nouns[shared[i].noun].n = shared[i].n;
            finder->nouns[shared[i].noun].loaded = true;
        }
    return outcome;
}

/* The rows that the worked-out conditions leave, in order of id. */
static enum outcome candidates_find(struct rows_finder *finder, enum noun noun, const struct by_lives *by, const void ***rows, size_t *n,
                                    struct failure *why)
{
    const void *all = NULL;
    size_t n_all = 0;
    struct gathering found = {0};
    if (by->state != NULL && by->census == NULL) {
        fail(why, OUTCOME_USAGE, "A state is that at a census.");
        return failure_remedy(why, "Add census=DAY, or census=last.");
    }
    if (noun == NOUN_PLANT_RECORD && by->count != NULL && by->census == NULL && by->height == NULL) {
        fail(why, OUTCOME_USAGE, "counts_as chooses plants; of records it goes with census=DAY or height_at=DAY.");
        return failure_remedy(why, "For every record of such plants, write plant.origin=first_planting.");
    }
    enum outcome outcome = by_lives_check(by, why);
    if (outcome == OUTCOME_OK)
        outcome = evidence_ready(finder, why);
    if (outcome == OUTCOME_OK)
        outcome = rows_all(finder, noun, &all, &n_all, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    for (size_t i = 0; i < finder->evidence.facts.n_plots; i++)
        lives_gather(&finder->evidence.lives[i], by, noun, &found);
    qsort(found.ids, found.n, sizeof *found.ids, by_number);
    *rows = arena_array(finder->arena, found.n, sizeof **rows);
    *n = 0;
    for (size_t i = 0; i < found.n; i++)
        if (i == 0 || found.ids[i] != found.ids[i - 1])
            (*rows)[(*n)++] = rows_of_id(all, n_all, noun, found.ids[i]);
    free(found.ids);
    return OUTCOME_OK;
}

/* Conditions on the row's own fields that the file can answer, so that it need not be read whole. */
static size_t asked_of_file(const struct held_against *tests, size_t n, struct store_where *where)
{
    size_t asked = 0;
    for (size_t i = 0; i < n && asked < 8; i++) {
        const struct held_against *test = &tests[i];
        const struct wanted *wanted = test->wanted;
        if (test->worked_out != NOT_WORKED_OUT || test->n_steps > 0 || test->condition->test != ROWS_IS || test->n != 1)
            continue;
        bool whole = test->field == NULL || test->field->kind == FIELD_REF || test->field->kind == FIELD_INT ||
                     test->field->kind == FIELD_DATE || test->field->kind == FIELD_ENUM;
        const char *name = test->field == NULL ? "id" : test->field->name;
        if (whole && wanted->kind == WANT_NUMBER && !(wanted->low < wanted->high) && fabs(wanted->low) < 9e15 &&
            wanted->low == floor(wanted->low))
            where[asked++] = (struct store_where){.field = name, .value = (int64_t)wanted->low};
        else if (test->field != NULL && test->field->kind == FIELD_TEXT && wanted->kind == WANT_TEXT && text_same(wanted->from, wanted->to))
            where[asked++] = (struct store_where){.field = name, .text = wanted->from};
    }
    return asked;
}

/* The rows that the conditions are held against one by one: of the file, or all that is loaded already. */
static enum outcome plain_candidates(struct rows_finder *finder, enum noun noun, const struct held_against *tests, size_t n_tests,
                                     const void ***rows, size_t *n, struct failure *why)
{
    struct store_where where[8];
    size_t asked = finder->nouns[noun].loaded ? 0 : asked_of_file(tests, n_tests, where);
    const void *all = NULL;
    void *some = NULL;
    enum outcome outcome = asked > 0 ? store_load(finder->store, noun, where, asked, false, finder->arena, &some, n, why)
                                     : rows_all(finder, noun, &all, n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    *rows = arena_array(finder->arena, *n, sizeof **rows);
    for (size_t i = 0; i < *n; i++)
        (*rows)[i] = (const char *)(asked > 0 ? some : all) + i * noun_infos[noun].size;
    return OUTCOME_OK;
}

enum outcome rows_find(struct rows_finder *finder, enum noun noun, const char *where, const void ***rows, size_t *n, struct failure *why)
{
    struct rows_condition *conditions = NULL;
    struct held_against tests[MOST_CONDITIONS];
    struct by_lives by = {0};
    size_t n_conditions = 0, kept = 0;
    enum outcome outcome = rows_parse(where, finder->arena, &conditions, &n_conditions, why);
    if (outcome == OUTCOME_OK && n_conditions > MOST_CONDITIONS)
        outcome = fail(why, OUTCOME_USAGE, "A selection takes at most %d conditions.", MOST_CONDITIONS);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n_conditions; i++) {
        outcome = test_read(finder, noun, &conditions[i], &tests[i], why);
        const struct rows_condition **place[] = {NULL, &by.census, &by.state, &by.count, &by.height};
        if (outcome == OUTCOME_OK && tests[i].worked_out != NOT_WORKED_OUT)
            *place[tests[i].worked_out] = &conditions[i];
        for (size_t k = 0; outcome == OUTCOME_OK && k < tests[i].n_steps; k++) {
            const void *loaded = NULL;
            size_t ignored = 0;
            outcome = rows_all(finder, (enum noun)tests[i].steps[k]->target, &loaded, &ignored, why);
        }
    }
    if (outcome != OUTCOME_OK)
        return outcome;
    const void **found = NULL;
    size_t n_found = 0;
    bool worked_out = by.census != NULL || by.state != NULL || by.count != NULL || by.height != NULL;
    outcome = worked_out ? candidates_find(finder, noun, &by, &found, &n_found, why)
                         : plain_candidates(finder, noun, tests, n_conditions, &found, &n_found, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n_found; i++) {
        bool holds = true;
        for (size_t k = 0; k < n_conditions && holds; k++)
            holds = tests[k].worked_out != NOT_WORKED_OUT || row_holds(finder, &tests[k], found[i]);
        if (holds)
            found[kept++] = found[i];
    }
    *rows = found;
    *n = kept;
    return outcome;
}
