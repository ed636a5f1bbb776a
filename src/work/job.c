/* SPDX-License-Identifier: GPL-3.0-or-later
 * Checking the options of a job and running it. */
#include "work/job.h"
#include "paper/paper.h"
#include "work/rows.h"
#include <string.h>

const struct job *job_find(const char *name)
{
    for (size_t i = 0; i < n_jobs; i++)
        if (strcmp(jobs[i]->name, name) == 0)
            return jobs[i];
    return NULL;
}

bool job_stores(const struct job *job, const json_t *in)
{
    static const char *const looking[] = {"try", "stored"}, *const storing[] = {"keep", "take"};
    if (job->access != JOB_WRITES)
        return false;
    for (size_t i = 0; i < sizeof looking / sizeof *looking; i++)
        if (option_flag(in, looking[i]))
            return false;
    for (size_t i = 0; i < job->n_options; i++)
        for (size_t j = 0; j < sizeof storing / sizeof *storing; j++)
            if (strcmp(job->options[i].name, storing[j]) == 0)
                return option_flag(in, storing[j]);
    return true;
}

const struct option common_options[] = {
    {"to_pdf", OPTION_FILE_OUT, false, "FILE", "write the answer as PDF to print"},
    {"to_html", OPTION_FILE_OUT, false, "FILE", "write the answer as one HTML page"},
    {"to_xlsx", OPTION_FILE_OUT, false, "FILE", "write its tables as a workbook"},
};
const size_t n_common_options = sizeof common_options / sizeof *common_options;

static bool same_name(const char *own, const char *name, size_t n)
{
    if (strlen(own) != n)
        return false;
    for (size_t i = 0; i < n; i++)
        if (own[i] != name[i] && !(own[i] == '_' && name[i] == '-'))
            return false;
    return true;
}

const struct option *option_find(const struct job *job, const char *name, size_t n)
{
    for (size_t i = 0; i < job->n_options; i++)
        if (same_name(job->options[i].name, name, n))
            return &job->options[i];
    for (size_t i = 0; i < n_common_options; i++)
        if (same_name(common_options[i].name, name, n))
            return &common_options[i];
    return NULL;
}

static enum outcome pdf_write(const struct document *document, struct text *out, struct failure *why)
{
    return document_pdf(document, out, NULL, why);
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

/* Write a note as the common options ask. */
static enum outcome note_write(const struct job *job, const struct job_context *context, const json_t *in, json_t *note,
                               struct failure *why)
{
    static enum outcome (*const writers[])(const struct document *, struct text *, struct failure *) = {pdf_write, document_html,
                                                                                                        document_xlsx};
    static const char *const kinds[] = {"PDF", "page", "workbook"};
    for (size_t i = 0; i < n_common_options; i++) {
        const char *path = option_text(in, common_options[i].name, NULL);
        if (path == NULL)
            continue;
        struct text bytes = {0};
        struct document *document = document_new(job->summary);
        document->kind = "spinney";
        document->subject = job->name;
        document->date = context->today;
        enum outcome outcome = note_to_document(document, note, NULL, 1, why);
        if (outcome == OUTCOME_OK)
            outcome = rows_to_document(document, note, context->store, writers[i] == document_html, 1, why);
        if (outcome == OUTCOME_OK)
            outcome = writers[i](document, &bytes, why);
        document_free(document);
        if (outcome == OUTCOME_OK)
            outcome = file_write(path, bytes.at, bytes.n, why);
        text_free(&bytes);
        if (outcome != OUTCOME_OK)
            return outcome;
        note_written(note, kinds[i], path);
    }
    return OUTCOME_OK;
}

enum outcome job_run(const struct job *job, const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    json_t *copy = json_copy((json_t *)(uintptr_t)in), *value = NULL, *out = NULL;
    const char *name = NULL;
    void *next = NULL;
    enum outcome outcome = OUTCOME_OK;
    json_object_foreach_safe(copy, next, name, value)
    {
        const struct option *option = option_find(job, name, strlen(name));
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
    if (outcome == OUTCOME_OK)
        note_close(out);
    if (outcome == OUTCOME_OK)
        outcome = note_write(job, context, copy, out, why);
    if (outcome == OUTCOME_OK) {
        require(out != NULL);
        *note = json_incref(out);
    }
done:
    json_decref(out);
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
