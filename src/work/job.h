/* SPDX-License-Identifier: GPL-3.0-or-later
 * The user's jobs: load, compute, save, draw. Each job once; the command line and the server only call them. */
#ifndef SPINNEY_WORK_JOB_H
#define SPINNEY_WORK_JOB_H
#include "base/base.h"
#include <jansson.h>

enum option_kind { OPTION_TEXT, OPTION_NUMBER, OPTION_INTEGER, OPTION_DATE, OPTION_FLAG, OPTION_FILE_IN, OPTION_FILE_OUT };

/// An option of a job: `--name VALUE` on the command line, a member of the request from the browser.
struct option {
    const char *name;
    enum option_kind kind;
    bool required;
    const char *value; ///< what to call the value in help, such as "M2"
    const char *about;
};

enum job_access {
    JOB_FREE,  ///< needs no programme file
    JOB_LOOKS, ///< reads one
    JOB_WRITES ///< changes one, as one step that can be undone
};

struct stand_spread; ///< stand/stand.h

/// What a job works with. Owned by the face that runs it.
struct job_context {
    struct store *store; ///< open programme, or NULL for JOB_FREE
    const char *author;  ///< pseudonym of the person
    int32_t today;       ///< the day, given by the face: rooms have no clock
    const struct progress *progress;
    const char *upload; ///< content of the one OPTION_FILE_IN sent by the browser, or NULL: read the path
    size_t upload_n;
    const struct stand_spread *spread; ///< runs of a look ahead are spread over processes; NULL: all here
};

struct job {
    const char *name;    ///< command name
    const char *summary; ///< one line
    const char *about;   ///< a paragraph
    const char *example; ///< one command line
    enum job_access access;
    const struct option *options;
    size_t n_options;
    /// Options that may be given without their name, in this order (after the programme file), ended by NULL; NULL: none.
    /// The last takes all that is left, joined by ";".
    const char *const *bare;
    bool spreads; ///< its runs may be spread over processes
    /// `in` has been checked against the options. *note is a new note (work/note.h) that the caller releases.
    enum outcome (*run)(const struct job_context *context, const json_t *in, json_t **note, struct failure *why);
};

/// Options that every job takes: its answer as a document to print (to_pdf, to_html) or its tables as a workbook (to_xlsx).
extern const struct option common_options[];
extern const size_t n_common_options;
/// An option of a job or a common one, by name ("-" and "_" are the same); NULL if there is none.
const struct option *option_find(const struct job *job, const char *name, size_t n);

/// All jobs, in the order of the loop.
extern const struct job *const jobs[];
extern const size_t n_jobs;
const struct job *job_find(const char *name);
/// Whether the job would change the file with these options. What is only tried, judged or shown takes no turn among writers.
bool job_stores(const struct job *job, const json_t *in);
/// Check the options, run, and give the note.
enum outcome job_run(const struct job *job, const struct job_context *context, const json_t *in, json_t **note, struct failure *why);

/* For the jobs. */
const char *option_text(const json_t *in, const char *name, const char *otherwise);
double option_number(const json_t *in, const char *name, double otherwise);
int64_t option_integer(const json_t *in, const char *name, int64_t otherwise);
int32_t option_date(const json_t *in, const char *name, int32_t otherwise);
bool option_flag(const json_t *in, const char *name);
#endif
