/* SPDX-License-Identifier: GPL-3.0-or-later
 * How anything can end, and what a person is told when it did not end well. */
#ifndef SPINNEY_BASE_OUTCOME_H
#define SPINNEY_BASE_OUTCOME_H
#include <stdbool.h>
#include <stddef.h>

/// How a function ended. The values are the exit statuses of the command line.
enum outcome {
    OUTCOME_OK = 0,
    OUTCOME_DATA = 1,      ///< the data do not allow it
    OUTCOME_USAGE = 2,     ///< asked for wrongly
    OUTCOME_SYSTEM = 3,    ///< disk, memory, network or another program failed
    OUTCOME_CANCELLED = 4, ///< the user called it off; nothing was changed
};

enum { FAILURE_TEXT = 1024, FAILURE_PLACE = 240 };

/// Why it ended so, in words for the person who has to mend it.
struct failure {
    enum outcome kind;
    char sentence[FAILURE_TEXT]; ///< what is wrong
    char file[FAILURE_PLACE];    ///< where: file, empty if none
    long row;                    ///< where: row counted from 1 with the header, 0 if none
    char column[FAILURE_PLACE];  ///< where: column or field, empty if none
    char remedy[FAILURE_TEXT];   ///< what to do about it
};

/// Fill `why` (may be NULL) and return `kind`: the one place where failures are raised. The sentence is a printf format.
enum outcome fail(struct failure *why, enum outcome kind, const char *sentence, ...) __attribute__((format(printf, 3, 4)));
/// Add the remedy to a failure; returns its kind, so that `return failure_remedy(why, "…")` reads well.
enum outcome failure_remedy(struct failure *why, const char *remedy, ...) __attribute__((format(printf, 2, 3)));
/// Add the place. `file` and `column` may be NULL, `row` 0.
enum outcome failure_at(struct failure *why, const char *file, long row, const char *column);
/// The whole of it as one or two lines of text: "file, row 3, column height_cm: sentence. remedy".
void failure_print(const struct failure *why, char *out, size_t n);

/// Called for programming mistakes and for want of memory: says where and ends the process with status 3.
/// A programme file is never half-written by this: what is not committed is rolled back when it is next opened.
_Noreturn void give_up(const char *what, const char *file, int line);
#define require(condition) ((condition) ? (void)0 : give_up("broken promise: " #condition, __FILE__, __LINE__))
#endif
