/* SPDX-License-Identifier: GPL-3.0-or-later
 * Who gets which ground: by recorded lot, or chosen with a reason that is printed. */
#include "trial/trial.h"
#include <ctype.h>
#include <string.h>

/* A stream of its own for each comparison: FNV-1a of its name. */
static uint64_t stream_of(const char *name)
{
    uint64_t h = 0xcbf29ce484222325ull;
    for (size_t i = 0; name != NULL && name[i] != '\0'; i++)
        h = (h ^ (unsigned char)name[i]) * 0x100000001b3ull;
    return h;
}

static enum outcome names_check(const char *const *pieces, const char *const *treatments, size_t n, struct failure *why)
{
    if (n < 2)
        return fail(why, OUTCOME_USAGE, "It takes two pieces of ground at least to allot treatments.");
    for (size_t i = 0; i < n; i++) {
        if (text_blank(pieces[i]) || text_blank(treatments[i]))
            return fail(why, OUTCOME_USAGE, "Piece %zu or its treatment has no name.", i + 1);
        for (size_t j = 0; j < i; j++) {
            if (text_same(pieces[i], pieces[j]))
                return fail(why, OUTCOME_USAGE, "Two pieces of ground are called \"%s\".", pieces[i]);
        }
    }
    return OUTCOME_OK;
}

static char *list(const struct trial_allocation *a, struct arena *arena)
{
    struct text text = {0};
    for (size_t i = 0; i < a->n; i++)
        text_print(&text, "%s%s to \"%s\"", i == 0 ? "" : i + 1 == a->n ? " and " : ", ", a->treatments[i], a->pieces[i]);
    char *out = arena_text(arena, text_get(&text));
    text_free(&text);
    return out;
}

static void pieces_copy(const char *const *pieces, size_t n, struct arena *arena, struct trial_allocation *out)
{
    out->n = n;
    out->pieces = arena_array(arena, n, sizeof *out->pieces);
    out->treatments = arena_array(arena, n, sizeof *out->treatments);
    for (size_t i = 0; i < n; i++)
        out->pieces[i] = arena_text(arena, pieces[i]);
}

enum outcome trial_draw(const char *comparison, const char *const *pieces, const char *const *treatments, size_t n, uint64_t seed,
                        struct arena *arena, struct trial_allocation *out, struct failure *why)
{
    enum outcome outcome = names_check(pieces, treatments, n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct trial_allocation a = {.method = ALLOCATION_METHOD_DRAWN_BY_LOT, .seed = seed};
    struct random_stream random = random_make(seed, stream_of(comparison));
    size_t *order = arena_array(arena, n, sizeof *order);
    for (size_t i = 0; i < n; i++)
        order[i] = i;
    random_shuffle(&random, order, n);
    pieces_copy(pieces, n, arena, &a);
    for (size_t i = 0; i < n; i++)
        a.treatments[i] = arena_text(arena, treatments[order[i]]);
    a.sentence = arena_print(arena,
                             "Drawn by lot with seed %llu for the comparison \"%s\": %s. The same seed and the same order of pieces "
                             "give the same draw again.",
                             (unsigned long long)seed, comparison == NULL ? "" : comparison, list(&a, arena));
    *out = a;
    return OUTCOME_OK;
}

static size_t words_count(const char *text)
{
    size_t n = 0;
    bool in = false;
    for (; text != NULL && *text != '\0'; text++) {
        bool space = isspace((unsigned char)*text) != 0;
        n += !space && !in;
        in = !space;
    }
    return n;
}

enum outcome trial_choose(const char *const *pieces, const char *const *treatments, size_t n, const char *reason, struct arena *arena,
                          struct trial_allocation *out, struct failure *why)
{
    enum outcome outcome = names_check(pieces, treatments, n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (words_count(reason) < 3) {
        fail(why, OUTCOME_USAGE, "Treatments that are chosen, not drawn, need a reason in words.");
        return failure_remedy(why, "Draw by lot, or say why not; the reason is printed in every report.");
    }
    struct trial_allocation a = {.method = ALLOCATION_METHOD_CHOSEN};
    pieces_copy(pieces, n, arena, &a);
    for (size_t i = 0; i < n; i++)
        a.treatments[i] = arena_text(arena, treatments[i]);
    a.reason = arena_text(arena, reason);
    a.sentence = arena_print(arena,
                             "Chosen, not drawn by lot: %s. Reason given: %s. A difference between the pieces of ground themselves "
                             "is mixed into every comparison of these plots.",
                             list(&a, arena), reason);
    *out = a;
    return OUTCOME_OK;
}
