/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the tests of the jobs share: a programme in a folder of its own, and jobs run in one line, as a face runs them. */
#ifndef SPINNEY_TEST_WORK_HELP_H
#define SPINNEY_TEST_WORK_HELP_H
#include "store/store.h"
#include "work/job.h"
#include "testlib.h"

/// A programme with sites LK (plots D1, C1) and BS (plot D1), open to write.
struct desk {
    struct store *store;
    struct failure why; ///< of the last job that failed
};
struct desk *desk_open(void);
void desk_close(struct desk *desk);
/// Run a job with options written as JSON with ' for "; `file` (may be NULL) is the content of its one file. The note's data, to be released
/// with json_decref, or NULL where the job failed.
json_t *desk_try(struct desk *desk, const char *job, const char *file, const char *options, ...) __attribute__((format(printf, 4, 5)));
/// The same; the test fails with the job's words if it fails.
json_t *desk_do(struct desk *desk, const char *job, const char *file, const char *options, ...) __attribute__((format(printf, 4, 5)));
/// desk_do, one whole number of its data; releases it.
int64_t desk_number(struct desk *desk, const char *name, const char *job, const char *file, const char *options);
int64_t desk_count(struct desk *desk, enum noun noun);
/// Id of the held row of this row of its file that waits; 0: none.
int64_t desk_held(struct desk *desk, int64_t row_number);
/// Everything living in the file as one number: equal files have equal numbers. Ids and moments do not count.
uint64_t desk_state(struct desk *desk);
#endif
