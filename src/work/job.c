/* SPDX-License-Identifier: GPL-3.0-or-later
 * Checking the options of a job and running it. */
#include "work/job.h"
#include <string.h>

const struct job *job_find(const char *name)
{
    for (size_t i = 0; i < n_jobs; i++)
        if (strcmp(jobs[i]->name, name) == 0)
            return jobs[i];
    return NULL;
}

static const struct option *option_find(const struct job *job, const char *name)
{
    for (size_t i = 0; i < job->n_options; i++)
        if (strcmp(job->options[i].name, name) == 0)
            return &job->options[i];
    return NULL;
}

static const char *option_wrong(const struct option *option, const json_t *value)
{
    int32_t date = 0;
    switch (option->kind) {
    case OPTION_TEXT:
    case OPTION_FILE_IN:
    case OPTION_FILE_OUT:
        return json_is_string(value) ? NULL : "text";
    case OPTION_NUMBER:
        return json_is_number(value) ? NULL : "a number";
    case OPTION_INTEGER:
        return json_is_integer(value) ? NULL : "a whole number";
    case OPTION_DATE:
        return json_is_string(value) && date_read(json_string_value(value), &date) ? NULL : "a day such as 2024-09-14";
    case OPTION_FLAG:
        return json_is_boolean(value) ? NULL : "true or false";
    }
    return "of a known kind";
}

enum outcome job_run(const struct job *job, const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    json_t *copy = json_copy((json_t *)(uintptr_t)in), *value = NULL, *out = NULL;
    const char *name = NULL;
    void *next = NULL;
    enum outcome outcome = OUTCOME_OK;
    json_object_foreach_safe(copy, next, name, value)
    {
        const struct option *option = option_find(job, name);
        if (option == NULL) {
            fail(why, OUTCOME_USAGE, "%s has no option %s.", job->name, name);
            outcome = failure_remedy(why, "See: spinney %s --help.", job->name);
            goto done;
        }
        if (json_is_null(value)) {
            json_object_del(copy, name);
            continue;
        }
        const char *wrong = option_wrong(option, value);
        if (wrong != NULL) {
            outcome = fail(why, OUTCOME_USAGE, "%s must be %s.", name, wrong);
            failure_at(why, NULL, 0, name);
            goto done;
        }
    }
    for (size_t i = 0; i < job->n_options; i++) {
        if (job->options[i].required && json_object_get(copy, job->options[i].name) == NULL) {
            fail(why, OUTCOME_USAGE, "%s needs %s: %s.", job->name, job->options[i].name, job->options[i].about);
            outcome = failure_at(why, NULL, 0, job->options[i].name);
            goto done;
        }
    }
    if (job->access != JOB_FREE && context->store == NULL) {
        fail(why, OUTCOME_USAGE, "%s works on a programme file.", job->name);
        outcome = failure_remedy(why, "Name it: %s", job->example);
        goto done;
    }
    outcome = job->run(context, copy, &out, why);
    if (outcome == OUTCOME_OK) {
        require(out != NULL);
        *note = out;
    }
done:
    json_decref(copy);
    return outcome;
}

const char *option_text(const json_t *in, const char *name, const char *otherwise)
{
    const json_t *value = json_object_get(in, name);
    return value == NULL ? otherwise : json_string_value(value);
}

double option_number(const json_t *in, const char *name, double otherwise)
{
    const json_t *value = json_object_get(in, name);
    return value == NULL ? otherwise : json_number_value(value);
}

int64_t option_integer(const json_t *in, const char *name, int64_t otherwise)
{
    const json_t *value = json_object_get(in, name);
    return value == NULL ? otherwise : json_integer_value(value);
}

int32_t option_date(const json_t *in, const char *name, int32_t otherwise)
{
    int32_t date = otherwise;
    const json_t *value = json_object_get(in, name);
    if (value != NULL)
        date_read(json_string_value(value), &date);
    return date;
}

bool option_flag(const json_t *in, const char *name)
{
    return json_is_true(json_object_get(in, name));
}
