/* SPDX-License-Identifier: GPL-3.0-or-later
 * Putting doubts together: a check, a row, a sentence with its numbers, and the ways out. */
#ifndef SPINNEY_SURVEY_DOUBTS_H
#define SPINNEY_SURVEY_DOUBTS_H
#include "survey/survey.h"

struct doubts {
    struct arena *arena;
    struct doubt *at; ///< on the heap until doubts_done
    size_t n, room;
};
/// A new doubt; the pointer holds until the next one. `check` must be in survey_checks.
struct doubt *doubt_add(struct doubts *doubts, const char *check, int64_t row, const char *field, const char *sentence, ...)
    __attribute__((format(printf, 5, 6)));
/// One more way out. `decision` is copied.
void doubt_remedy(struct doubts *doubts, struct doubt *doubt, const char *decision, const char *words, ...)
    __attribute__((format(printf, 4, 5)));
/// "accept" with these words, and "reject".
void doubt_usual(struct doubts *doubts, struct doubt *doubt, const char *accept_words);
void doubt_evidence(struct doubt *doubt, double seen, double before, double limit);
/// Sort by row (the whole file first), then check, into the arena; frees the heap.
void doubts_done(struct doubts *doubts, struct doubt **out, size_t *n);
/// A figure as people read it: no more than two digits after the point, without trailing noughts.
const char *figure(struct arena *arena, double x);
#endif
