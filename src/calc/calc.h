/* SPDX-License-Identifier: GPL-3.0-or-later
 * Every single computation as a calculator, so that a person can check one number and a test can too. */
#ifndef SPINNEY_CALC_H
#define SPINNEY_CALC_H
#include "base/base.h"
#include <jansson.h>

enum calc_kind { CALC_NUMBER, CALC_NUMBERS, CALC_WORD, CALC_WORDS };

/// An input or output. A required input has no default; an optional one that is left out is simply absent from `in`.
struct calc_value {
    const char *name;
    const char *unit; ///< "" if none
    enum calc_kind kind;
    bool required;
    const char *about; ///< what it is, with range and default
};

/// A calculator. `run` gets an object whose members have been checked against `in` for name and kind, and adds every
/// member of `out` to `result` (json null for unknown). It may add "working": an array of sentences.
struct calc {
    const char *name; ///< noun_verb or noun, lower case with underscores
    const char *title;
    const char *source; ///< publication with equation, table or page; or "common practice, no source"
    const struct calc_value *in;
    size_t n_in;
    const struct calc_value *out;
    size_t n_out;
    enum outcome (*run)(const json_t *in, json_t *result, struct failure *why);
};

/// The calculators of one room: an array ended by a calculator without name. Each room has its file calc_<room>.c.
extern const struct calc *const calc_rooms[];
extern const size_t calc_n_rooms;

const struct calc *calc_find(const char *name);
/// Check `in` (unknown names, kinds, what is missing) and run. *result is a new object that the caller releases.
enum outcome calc_run(const struct calc *calc, const json_t *in, json_t **result, struct failure *why);
/// Set a member of an input object from text, by the kind the calculator declares ("1,2,3" for several).
enum outcome calc_read(const struct calc *calc, json_t *in, const char *name, const char *text, struct failure *why);

/* For the bindings. */
double calc_number(const json_t *in, const char *name, double otherwise);
const char *calc_word(const json_t *in, const char *name, const char *otherwise);
/// Numbers as an array in the arena; *n is 0 if absent.
double *calc_numbers(const json_t *in, const char *name, struct arena *arena, size_t *n);
void calc_put(json_t *result, const char *name, double value); ///< NaN becomes null
void calc_put_all(json_t *result, const char *name, const double *values, size_t n);
void calc_put_word(json_t *result, const char *name, const char *word);
/// Add one line of the working.
void calc_say(json_t *result, const char *format, ...) __attribute__((format(printf, 2, 3)));

/// Run the blocks of a check file (docs/checks.md). `tell` gets one line per block that fails, or all if `every`.
struct check_count {
    size_t passed, failed;
};
enum outcome check_run(const char *path, bool every, void (*tell)(void *who, const char *line), void *who, struct check_count *count,
                       struct failure *why);
#endif
