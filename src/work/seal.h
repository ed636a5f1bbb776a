/* SPDX-License-Identifier: GPL-3.0-or-later
 * The seal on the rules of judging: rules, questions, outcomes, dates, lots and samples as they stood when they were locked,
 * with a fingerprint, so that a later change is shown as such. */
#ifndef SPINNEY_WORK_SEAL_H
#define SPINNEY_WORK_SEAL_H
#include "work/load.h"

/// Seal a protocol: fills its `sealed` (JSON with sorted members) and `seal` (SHA-256, hexadecimal) from what the file holds
/// now. `late` is why it is locked after the first result, or NULL. `open` gets a sentence for each comparison without a
/// question, outcome or date.
enum outcome seal_make(struct store *store, struct protocol *protocol, const char *late, struct arena *arena, const char ***open,
                       size_t *n_open, struct failure *why);

/// What a check of a sealed protocol finds.
struct seal_state {
    bool sealed;          ///< false: a draft, or locked without a seal
    bool whole;           ///< the fingerprint belongs to what is stored, and nothing sealed has changed since
    const char *late;     ///< why it was locked after the first result; NULL if it was not
    const char **changes; ///< what was changed since, with day, author and, where so, that results were known
    size_t n_changes;
    const char *sentence; ///< for the report
};
enum outcome seal_check(struct store *store, const struct protocol *protocol, struct arena *arena, struct seal_state *out,
                        struct failure *why);
/// Day of the first follow-up census; DATE_UNKNOWN if there is none.
enum outcome first_result(struct store *store, struct arena *arena, int32_t *day, struct failure *why);
#endif
