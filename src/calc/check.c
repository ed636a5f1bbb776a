/* SPDX-License-Identifier: GPL-3.0-or-later
 * Check files: published numbers as plain text, run against the calculators.
 *
 *   # comment
 *   check NAME OF THE CHECK
 *   calc CALCULATOR
 *   in NAME VALUE                       a number, a word, or 1,2,3
 *   out NAME VALUE ±TOLERANCE [rel]     also NAME[3] for the third of a list, from 1; a word without tolerance; "unknown"
 *   fails WORDS                         instead of out: the calculator must refuse, and say these words
 *   because REASON OF THE TOLERANCE     optional
 *   source PUBLICATION, PAGE            required
 */
#include "calc/calc.h"
#include <math.h>
#include <string.h>

enum { MOST_LINES = 40 };

struct block {
    const char *name, *calc, *source, *fails;
    const char *in[MOST_LINES], *out[MOST_LINES];
    size_t n_in, n_out;
    long line;
};

struct telling {
    bool every;
    void (*tell)(void *who, const char *line);
    void *who;
    struct check_count *count;
    const char *path;
};

static void told(const struct telling *telling, const struct block *block, bool good, const char *words)
{
    if (good)
        telling->count->passed++;
    else
        telling->count->failed++;
    if (telling->tell == NULL || (good && !telling->every))
        return;
    char line[1600];
    snprintf(line, sizeof line, "%s %s:%ld: %s: %s", good ? "ok  " : "FAIL", telling->path, block->line,
             block->name == NULL ? "(no name)" : block->name, words);
    telling->tell(telling->who, line);
}

/* Split "name value rest" in place. */
static char *word_next(char **rest)
{
    while (**rest == ' ')
        (*rest)++;
    char *word = *rest;
    while (**rest != '\0' && **rest != ' ')
        (*rest)++;
    if (**rest == ' ')
        *(*rest)++ = '\0';
    return word;
}

static bool out_holds(const json_t *result, const char *line, char *words, size_t n)
{
    char copy[400], shown[40];
    snprintf(copy, sizeof copy, "%s", line);
    char *rest = copy, *name = word_next(&rest), *wanted = word_next(&rest), *tolerance = word_next(&rest), *relative = word_next(&rest);
    char *bracket = strchr(name, '[');
    size_t index = 0;
    if (bracket != NULL) {
        *bracket = '\0';
        index = (size_t)strtoul(bracket + 1, NULL, 10);
    }
    const json_t *value = json_object_get(result, name);
    if (bracket != NULL)
        value = index == 0 ? NULL : json_array_get(value, index - 1);
    if (value == NULL) {
        snprintf(words, n, "no output %s", line);
        return false;
    }
    if (strcmp(wanted, "unknown") == 0) {
        snprintf(words, n, "%s should be unknown", name);
        return json_is_null(value);
    }
    if (json_is_string(value)) {
        char *expected = strstr((char *)(uintptr_t)line, wanted);
        snprintf(words, n, "%s is \"%s\", wanted \"%s\"", name, json_string_value(value), expected == NULL ? wanted : expected);
        return expected != NULL && strcmp(json_string_value(value), expected) == 0;
    }
    double target = 0, width = 0;
    const char *sign = strncmp(tolerance, "±", strlen("±")) == 0 ? tolerance + strlen("±") : tolerance;
    if (!json_is_number(value) || !number_read(wanted, &target) || !number_read(sign, &width)) {
        snprintf(words, n, "cannot compare: out %s", line);
        return false;
    }
    if (strcmp(relative, "rel") == 0)
        width *= fabs(target);
    double got = json_number_value(value);
    number_write(got, shown);
    snprintf(words, n, "%s is %s, wanted %s ±%g", name, shown, wanted, width);
    return fabs(got - target) <= width;
}

static void block_run(const struct telling *telling, const struct block *block)
{
    if (block->name == NULL)
        return;
    char words[1400] = "";
    const struct calc *calc = block->calc == NULL ? NULL : calc_find(block->calc);
    if (calc == NULL || block->source == NULL || (block->n_out == 0) == (block->fails == NULL)) {
        snprintf(words, sizeof words, "%s",
                 calc == NULL            ? "no such calculator"
                 : block->source == NULL ? "has no source"
                                         : "needs out lines, or fails");
        told(telling, block, false, words);
        return;
    }
    json_t *in = json_object(), *result = NULL;
    struct failure why = {0};
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < block->n_in && outcome == OUTCOME_OK; i++) {
        char *copy = memory_text(block->in[i]), *rest = copy, *name = word_next(&rest);
        outcome = calc_read(calc, in, name, rest, &why);
        free(copy);
    }
    if (outcome == OUTCOME_OK)
        outcome = calc_run(calc, in, &result, &why);
    bool good = true;
    if (outcome != OUTCOME_OK) {
        failure_print(&why, words, sizeof words);
        good = block->fails != NULL && strstr(words, block->fails) != NULL;
    } else if (block->fails != NULL) {
        good = false;
        snprintf(words, sizeof words, "was not refused");
    } else {
        for (size_t i = 0; i < block->n_out && good; i++)
            good = out_holds(result, block->out[i], words, sizeof words);
    }
    told(telling, block, good, words);
    json_decref(in);
    json_decref(result);
}

enum outcome check_run(const char *path, bool every, void (*tell)(void *who, const char *line), void *who, struct check_count *count,
                       struct failure *why)
{
    struct arena arena = {0};
    char *text = NULL, *rest = NULL;
    size_t n = 0;
    enum outcome outcome = file_read(path, 16 << 20, &arena, &text, &n, why);
    if (outcome != OUTCOME_OK)
        goto done;
    *count = (struct check_count){0};
    struct telling telling = {every, tell, who, count, path};
    struct block block = {0};
    long line = 0;
    for (char *at = text; at != NULL && outcome == OUTCOME_OK; at = rest) {
        line++;
        rest = strchr(at, '\n');
        if (rest != NULL)
            *rest++ = '\0';
        char *words = text_trim(&arena, at);
        if (*words == '\0' || *words == '#')
            continue;
        char *value = words, *key = word_next(&value);
        value = text_trim(&arena, value);
        if (strcmp(key, "check") == 0) {
            block_run(&telling, &block);
            block = (struct block){.name = value, .line = line};
        } else if (block.name != NULL && strcmp(key, "calc") == 0) {
            block.calc = value;
        } else if (block.name != NULL && strcmp(key, "source") == 0) {
            block.source = *value == '\0' ? NULL : value;
        } else if (block.name != NULL && strcmp(key, "fails") == 0) {
            block.fails = value;
        } else if (block.name != NULL && strcmp(key, "in") == 0 && block.n_in < MOST_LINES) {
            block.in[block.n_in++] = value;
        } else if (block.name != NULL && strcmp(key, "out") == 0 && block.n_out < MOST_LINES) {
            block.out[block.n_out++] = value;
        } else if (strcmp(key, "because") != 0 || block.name == NULL) {
            fail(why, OUTCOME_DATA, "This line of the check file cannot be read: %.200s", words);
            failure_at(why, path, line, NULL);
            outcome = failure_remedy(why, "A block is: check, calc, in …, out … or fails, because, source.");
        }
    }
    if (outcome == OUTCOME_OK)
        block_run(&telling, &block);
done:
    arena_clear(&arena);
    return outcome;
}
