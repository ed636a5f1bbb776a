/* SPDX-License-Identifier: GPL-3.0-or-later
 * rescue: a new programme file from what can still be read of a damaged one, with a list of what is gone. */
#include "work/jobs.h"
#include "work/load.h"
#include "work/package_files.h"
#include <stdlib.h>
#include <string.h>

static const struct option rescue_options[] = {
    {"damaged", OPTION_TEXT, true, "FILE", "the damaged programme file; it is not touched"},
    {"file", OPTION_TEXT, true, "FILE", "programme file to make; nothing may be there"},
};
static const char *const rescue_bare[] = {"damaged", "file", NULL};

/* What had to be left out or blanked because another row is gone. */
struct losses {
    size_t orphans[NOUN_COUNT]; ///< rows whose needed row is gone
    size_t blanked[NOUN_COUNT]; ///< keys to rows that are gone, now unknown
};

/* Rows that need a row which is gone go too, again and again until none is left; other keys to it become unknown. */
static void orphans_out(struct exchange_set *set, struct losses *losses)
{
    for (bool again = true; again;) {
        again = false;
        for (int noun = 0; noun < NOUN_COUNT; noun++) {
            const struct noun_info *info = &noun_infos[noun];
            char *rows = set->of[noun].rows;
            size_t kept = 0;
            for (size_t i = 0; i < set->of[noun].n; i++) {
                char *row = rows + i * info->size;
                bool orphan = false;
                for (size_t j = 0; j < info->n_fields; j++) {
                    const struct field *field = &info->fields[j];
                    int64_t *key = field->kind == FIELD_REF ? (int64_t *)(void *)(row + field->offset) : NULL;
                    if (key == NULL || *key == 0 || exchange_row(set, (enum noun)field->target, *key) != SIZE_MAX)
                        continue;
                    orphan |= field->required;
                    if (!field->required) {
                        *key = 0;
                        losses->blanked[noun]++;
                    }
                }
                if (!orphan)
                    memmove(rows + kept++ * info->size, row, info->size);
            }
            again |= kept < set->of[noun].n;
            losses->orphans[noun] += set->of[noun].n - kept;
            set->of[noun].n = kept;
        }
    }
}

static void rescue_note(json_t *out, const struct store_rescued *found, const struct exchange_set *set, const struct losses *losses,
                        size_t *kept, size_t *lost)
{
    json_t *table = section_table(note_section(out, "What is there and what is gone"));
    table_column(table, "noun", "kind of row", "", -1);
    table_column(table, "kept", "kept", "", 0);
    table_column(table, "unread", "not understood", "", 0);
    table_column(table, "orphans", "left out, for what they belong to is gone", "", 0);
    table_column(table, "blanked", "keys now unknown", "", 0);
    table_column(table, "gaps", "places that cannot be read", "", 0);
    table_column(table, "last", "ids given so far", "", 0);
    *kept = *lost = 0;
    for (int noun = 0; noun < NOUN_COUNT; noun++) {
        size_t gone = found[noun].unread + losses->orphans[noun] + found[noun].gaps + losses->blanked[noun];
        *kept += set->of[noun].n;
        *lost += found[noun].unread + losses->orphans[noun];
        if (set->of[noun].n == 0 && gone == 0)
            continue;
        json_t *row = table_row(table);
        row_text(row, noun_infos[noun].name);
        row_integer(row, (int64_t)set->of[noun].n);
        row_integer(row, (int64_t)found[noun].unread);
        row_integer(row, (int64_t)losses->orphans[noun]);
        row_integer(row, (int64_t)losses->blanked[noun]);
        row_integer(row, (int64_t)found[noun].gaps);
        row_integer(row, found[noun].last == 0 ? INT_UNKNOWN : found[noun].last);
    }
}

static enum outcome rescue_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct store_rescued found[NOUN_COUNT] = {0};
    struct exchange_set set = {0};
    struct losses losses = {0};
    size_t kept = 0, lost = 0, gaps = 0;
    enum outcome outcome = store_rescue(option_text(in, "damaged", ""), &arena, found, why);
    for (int noun = 0; noun < NOUN_COUNT; noun++) {
        set.of[noun] = (struct exchange_rows){found[noun].rows, found[noun].n};
        gaps += found[noun].gaps;
    }
    if (outcome == OUTCOME_OK && set.of[NOUN_PROGRAMME].n != 1) {
        fail(why, OUTCOME_DATA,
             "The row of the programme itself cannot be read, so it is not known in which reference system the rest is.");
        outcome = failure_remedy(why, "Go on with the newest copy.");
    }
    if (outcome == OUTCOME_OK) {
        orphans_out(&set, &losses);
        outcome = rows_store(option_text(in, "file", ""), &set, context->author, "rescued from a damaged file", why);
    }
    if (outcome == OUTCOME_OK) {
        json_t *out = *note = note_new();
        rescue_note(out, found, &set, &losses, &kept, &lost);
        note_answer(out, "%zu rows are kept in a new file; %zu rows are known to be gone, and %zu places of the file could not be read.",
                    kept, lost, gaps);
        if (gaps > 0)
            note_unknown(
                out,
                "How many rows stood in the places that cannot be read is not known; ids given so far less rows kept is the most there "
                "can have been, deleted ones among them.");
        note_unknown(
            out,
            "The change log is not taken over: the new file begins a new one. Keep the damaged file; compare with the newest copy (merge "
            "brings in what a copy has and this has not).");
        note_written(out, "programme", option_text(in, "file", ""));
        json_object_set_new(note_data(out), "kept", json_integer((json_int_t)kept));
        json_object_set_new(note_data(out), "lost", json_integer((json_int_t)lost));
        json_object_set_new(note_data(out), "gaps", json_integer((json_int_t)gaps));
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_rescue = {
    .name = "rescue",
    .summary = "a new file from what can be read of a damaged one",
    .about =
        "Reads a damaged programme file row by row round what cannot be read, and makes a new file of it, with a list of what is gone. The "
        "damaged file is not touched. A newer copy, if there is one, is the better way.",
    .example = "spinney rescue broken.gpkg rescued.gpkg",
    .access = JOB_FREE,
    .options = rescue_options,
    .n_options = sizeof rescue_options / sizeof *rescue_options,
    .bare = rescue_bare,
    .run = rescue_run,
};
