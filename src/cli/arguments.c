/* SPDX-License-Identifier: GPL-3.0-or-later
 * Arguments by the option table of a job: --name VALUE, --name=VALUE, and bare ones in the order the job names. */
#include "cli/cli.h"
#include <string.h>

static json_t *text_value(const struct option *option, const char *text, const json_t *in)
{
    const json_t *before = json_object_get(in, option->name);
    if (before == NULL || option->kind != OPTION_TEXT)
        return json_string(text);
    struct text joined = {0};
    text_print(&joined, "%s;%s", json_string_value(before), text);
    json_t *value = json_string(text_get(&joined));
    text_free(&joined);
    return value;
}

static enum outcome option_set(const struct option *option, const char *text, json_t *in, struct failure *why)
{
    double number = 0;
    int64_t whole = 0;
    int32_t date = 0;
    json_t *value = NULL;
    const char *wanted = "text in UTF-8";
    switch (option->kind) {
    case OPTION_FLAG:
        value = json_true();
        break;
    case OPTION_NUMBER:
        wanted = "a number with a decimal point";
        value = number_read(text, &number) ? json_real(number) : NULL;
        break;
    case OPTION_INTEGER:
        wanted = "a whole number";
        value = integer_read(text, &whole) ? json_integer(whole) : NULL;
        break;
    case OPTION_DATE:
        wanted = "a day such as 2024-09-14";
        value = date_read(text, &date) ? json_string(text) : NULL;
        break;
    case OPTION_TEXT:
    case OPTION_FILE_IN:
    case OPTION_FILE_OUT:
        value = text_value(option, text, in);
        break;
    }
    if (value == NULL)
        return fail(why, OUTCOME_USAGE, "--%s: \"%.80s\" is not %s.", option->name, text, wanted);
    json_object_set_new(in, option->name, value);
    return OUTCOME_OK;
}

static enum outcome named_read(const struct job *job, int argc, char **argv, int *at, struct asked *out, struct failure *why)
{
    const char *name = argv[*at] + 2, *equals = strchr(name, '=');
    size_t n = equals == NULL ? strlen(name) : (size_t)(equals - name);
    if (strcmp(name, "json") == 0 || strcmp(name, "quiet") == 0 || strcmp(name, "help") == 0) {
        out->json = out->json || *name == 'j';
        out->quiet = out->quiet || *name == 'q';
        out->help = out->help || *name == 'h';
        return OUTCOME_OK;
    }
    bool author = n == 6 && strncmp(name, "author", 6) == 0;
    const struct option *option = option_find(job, name, n);
    if (option == NULL && !author) {
        fail(why, OUTCOME_USAGE, "%s has no option --%.*s.", job->name, (int)n, name);
        failure_remedy(why, "See: spinney %s --help", job->name);
        return OUTCOME_USAGE;
    }
    const char *value = equals == NULL ? NULL : equals + 1;
    if (value == NULL && (author || option->kind != OPTION_FLAG)) {
        if (*at + 1 >= argc)
            return fail(why, OUTCOME_USAGE, "--%.*s needs a value.", (int)n, name);
        value = argv[++*at];
    }
    if (author) {
        out->author = value;
        return OUTCOME_OK;
    }
    return option_set(option, value, out->in, why);
}

enum outcome arguments_read(const struct job *job, int argc, char **argv, struct asked *out, struct failure *why)
{
    *out = (struct asked){.job = job, .in = json_object()};
    const char *const *bare = job->bare;
    bool names_over = false;
    for (int i = 0; i < argc; i++) {
        enum outcome outcome = OUTCOME_OK;
        if (!names_over && strcmp(argv[i], "--") == 0) {
            names_over = true;
        } else if (!names_over && strcmp(argv[i], "-h") == 0) {
            out->help = true;
        } else if (!names_over && strncmp(argv[i], "--", 2) == 0) {
            outcome = named_read(job, argc, argv, &i, out, why);
        } else if (job->access != JOB_FREE && out->file == NULL) {
            out->file = argv[i];
        } else if (bare != NULL && *bare != NULL) {
            outcome = option_set(option_find(job, *bare, strlen(*bare)), argv[i], out->in, why);
            if (bare[1] != NULL)
                bare++;
        } else {
            fail(why, OUTCOME_USAGE, "\"%.80s\" is one argument too many for %s.", argv[i], job->name);
            outcome = failure_remedy(why, "See: spinney %s --help", job->name);
        }
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    return OUTCOME_OK;
}
