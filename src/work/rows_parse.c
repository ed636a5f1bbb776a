/* SPDX-License-Identifier: GPL-3.0-or-later
 * Selections as text: cut into conditions, and said in words. */
#include "work/rows.h"
#include <string.h>

enum { MOST_VALUES = 4000 };

/* One value up to "|" or the end; `*at` moves past it. */
static char *value_cut(const char **at, const char *end, bool *quoted, struct arena *arena)
{
    struct text out = {0};
    const char *p = *at;
    while (p < end && *p == ' ')
        p++;
    *quoted = p < end && *p == '"';
    if (*quoted) {
        for (p++; p < end; p++) {
            if (*p == '"' && !(p + 1 < end && p[1] == '"'))
                break;
            p += *p == '"';
            text_add_n(&out, p, 1);
        }
        p += p < end;
        while (p < end && *p != '|')
            p++;
    } else {
        const char *from = p;
        while (p < end && *p != '|')
            p++;
        text_add_n(&out, from, (size_t)(p - from));
    }
    *at = p < end ? p + 1 : p;
    char *value = *quoted ? arena_text(arena, text_get(&out)) : text_trim(arena, text_get(&out));
    text_free(&out);
    return value;
}

static enum outcome condition_cut(const char *from, const char *end, struct arena *arena, struct rows_condition *out, struct failure *why)
{
    const char *p = from;
    while (p < end && strchr("=!<>", *p) == NULL)
        p++;
    const bool two = p + 1 < end && p[1] == '=';
    if (p == end || (*p != '=' && !two)) {
        fail(why, OUTCOME_USAGE, "\"%.80s\" is no condition.", arena_text_n(arena, from, (size_t)(end - from)));
        return failure_remedy(why, "Write field=value, such as status=alive or plant.plot=LK/D1.");
    }
    *out = (struct rows_condition){.path = text_trim(arena, arena_text_n(arena, from, (size_t)(p - from))),
                                   .test = *p == '!'   ? ROWS_IS_NOT
                                           : *p == '>' ? ROWS_AT_LEAST
                                           : *p == '<' ? ROWS_AT_MOST
                                                       : ROWS_IS};
    p += *p == '=' ? 1 : 2;
    size_t most = 1;
    for (const char *q = p; q < end; q++)
        most += *q == '|';
    if (most > MOST_VALUES)
        return fail(why, OUTCOME_USAGE, "A condition takes at most %d values.", MOST_VALUES);
    bool *quoted = arena_array(arena, most, sizeof *quoted);
    out->values = arena_array(arena, most, sizeof *out->values);
    do {
        out->values[out->n] = value_cut(&p, end, &quoted[out->n], arena);
        out->n++;
    } while (p < end);
    out->quoted = quoted;
    return OUTCOME_OK;
}

enum outcome rows_parse(const char *where, struct arena *arena, struct rows_condition **out, size_t *n, struct failure *why)
{
    size_t most = 1;
    *n = 0;
    if (where == NULL)
        where = "";
    for (const char *p = where; *p != '\0'; p++)
        most += *p == ';';
    *out = arena_array(arena, most, sizeof **out);
    for (const char *p = where; *p != '\0';) {
        bool inside = false;
        const char *end = p;
        for (; *end != '\0' && (inside || *end != ';'); end++)
            inside = inside != (*end == '"');
        const char *first = p;
        while (first < end && *first == ' ')
            first++;
        if (first < end) {
            enum outcome outcome = condition_cut(first, end, arena, &(*out)[*n], why);
            if (outcome != OUTCOME_OK)
                return outcome;
            (*n)++;
        }
        p = *end == '\0' ? end : end + 1;
    }
    return OUTCOME_OK;
}

const char *rows_value(const char *value, struct arena *arena)
{
    size_t n = strlen(value);
    bool plain = n > 0 && value[0] != ' ' && value[n - 1] != ' ' && strpbrk(value, ";|\"") == NULL && strstr(value, "..") == NULL &&
                 !text_same(value, "known") && !text_same(value, "unknown");
    if (plain)
        return arena_text(arena, value);
    struct text out = {0};
    text_add(&out, "\"");
    for (const char *p = value; *p != '\0'; p++)
        text_add_n(&out, *p == '"' ? "\"\"" : p, *p == '"' ? 2 : 1);
    text_add(&out, "\"");
    char *quoted = arena_text(arena, text_get(&out));
    text_free(&out);
    return quoted;
}

/* ---- in words ---- */

static void plain_add(struct text *out, const char *word)
{
    for (const char *p = word; *p != '\0'; p++)
        text_add_n(out, *p == '_' ? " " : p, 1);
}

/* "plant.plot" as "the plant's plot". */
static void path_add(struct text *out, const char *path)
{
    text_add(out, "the ");
    for (const char *p = path; *p != '\0'; p++)
        if (*p == '.')
            text_add(out, "'s ");
        else
            text_add_n(out, *p == '_' ? " " : p, 1);
}

static void values_add(struct text *out, const struct rows_condition *one)
{
    for (size_t i = 0; i < one->n; i++) {
        const char *range = one->quoted[i] ? NULL : strstr(one->values[i], "..");
        text_add(out, i == 0 ? "" : i + 1 == one->n ? " or " : ", ");
        if (range != NULL)
            text_print(out, "%.*s to %s", (int)(range - one->values[i]), one->values[i], range + 2);
        else if (one->quoted[i])
            text_print(out, "“%s”", one->values[i]);
        else
            plain_add(out, *one->values[i] == '\0' ? "unknown" : one->values[i]);
    }
}

static void condition_add(struct text *out, const struct rows_condition *one, bool of_plants)
{
    static const struct {
        const char *path, *before;
    } phrases[] = {{"census", "the census is that of "},
                   {"state", "the plant was then "},
                   {"counts_as", "the plant counts as "},
                   {"height_at", "the height counts at the census of "}};
    static const char *const verbs[] = {" is ", " is not ", " is at least ", " is at most "};
    for (size_t i = 0; of_plants && i < sizeof phrases / sizeof *phrases; i++)
        if (text_same(one->path, phrases[i].path)) {
            bool named = text_same(one->values[0], "last") || text_same(one->values[0], "first");
            text_add(out, i == 0 && named ? "the census is the " : phrases[i].before);
            values_add(out, one);
            return;
        }
    path_add(out, one->path);
    text_add(out, verbs[one->test]);
    values_add(out, one);
}

const char *rows_words(enum noun noun, const char *where, struct arena *arena)
{
    struct rows_condition *conditions = NULL;
    struct failure none;
    size_t n = 0;
    struct text out = {0};
    plain_add(&out, noun_infos[noun].name);
    text_add(&out, " rows");
    if (rows_parse(where, arena, &conditions, &n, &none) != OUTCOME_OK)
        n = 0;
    for (size_t i = 0; i < n; i++) {
        text_add(&out, i == 0 ? " where " : i + 1 == n ? " and " : ", ");
        condition_add(&out, &conditions[i], noun == NOUN_PLANT || noun == NOUN_PLANT_RECORD);
    }
    if (n == 0)
        text_add(&out, ", all of them");
    char *words = arena_text(arena, text_get(&out));
    text_free(&out);
    return words;
}

const char *rows_command(enum noun noun, const char *where, struct arena *arena)
{
    if (text_blank(where))
        return arena_print(arena, "spinney rows FILE %s", noun_infos[noun].name);
    struct text out = {0};
    text_print(&out, "spinney rows FILE %s '", noun_infos[noun].name);
    for (const char *p = where; *p != '\0'; p++)
        text_add_n(&out, *p == '\'' ? "'\\''" : p, *p == '\'' ? 4 : 1);
    text_add(&out, "'");
    char *command = arena_text(arena, text_get(&out));
    text_free(&out);
    return command;
}
