/* SPDX-License-Identifier: GPL-3.0-or-later
 * Which rows a number was computed from: a kind of row and a selection in words that a person can read and type. This is the
 * one place that turns a selection into the rows themselves; the `rows` job, documents and tests all ask here.
 *
 * A selection is conditions joined by ";", all of which hold:
 *   FIELD=VALUE          status=alive, plot=LK/D1, site=LK, id=17
 *   FIELD!=VALUE  FIELD>=VALUE  FIELD<=VALUE
 *   REF.FIELD=VALUE      plant.plot=LK/D1, wildlife_visit.group=butterflies: the field of the row referred to
 * VALUE is one value, several by "|" (any of them), a range "2025-09-01..2025-09-30", or the words known and unknown.
 * A value that holds ; | or " stands in double quotes, a double quote in it twice.
 * For plant_record and plant four conditions are worked out from the censuses of the plant's plot (evidence/evidence.h):
 *   census=DAY           the census whose last day this is (also first, last); of plant_record: the one record of each plant
 *                        that decides its state there, which may be of a later or an earlier day
 *   state=alive          its state there: alive, dead, not_found, removed, not_seen
 *   counts_as=first_planting   in the count of the first planting; or replacement, natural_arrival
 *   height_at=DAY        has a height at the census of that day; of plant_record: the record it stands in. "DAY and DAY":
 *                        measured at both, and both records */
#ifndef SPINNEY_WORK_ROWS_H
#define SPINNEY_WORK_ROWS_H
#include "paper/document.h"
#include "work/evidence_load.h"

/// Finds rows and keeps what it has loaded. Everything lives in the arena.
struct rows_finder {
    struct store *store;
    struct arena *arena;
    struct {
        const void *rows;
        size_t n;
        bool loaded;
    } nouns[NOUN_COUNT];
    struct evidence evidence;
    bool has_evidence;
};
void rows_finder_begin(struct rows_finder *finder, struct store *store, struct arena *arena);
/// The rows of a selection in order of id, as pointers to the noun's structs; `where` NULL or "": all. OUTCOME_USAGE: not a
/// selection, with what is wrong in it.
enum outcome rows_find(struct rows_finder *finder, enum noun noun, const char *where, const void ***rows, size_t *n, struct failure *why);
/// All rows of a noun, loaded once.
enum outcome rows_all(struct rows_finder *finder, enum noun noun, const void **rows, size_t *n, struct failure *why);
/// The row of this id among those rows; NULL.
const void *rows_of_id(const void *rows, size_t n, enum noun noun, int64_t id);
int64_t row_id(const void *row);

/// The selection as a phrase: "records of plants (plant_record) where the plant's plot is LK/D1 and the status is dead standing".
const char *rows_words(enum noun noun, const char *where, struct arena *arena);
/// What people call a row: a plant's tag and the day, a plot's code, a cost's item.
const char *row_words(struct rows_finder *finder, enum noun noun, const void *row);
/// SHA-256 of the rows as JSON, one to a line in order, as lower-case hexadecimal.
const char *rows_fingerprint(enum noun noun, const void *const *rows, size_t n, struct arena *arena);
/// SHA-256 of a text, as lower-case hexadecimal.
const char *text_fingerprint(const char *text, struct arena *arena);
/// The command that lists them: spinney rows FILE plant_record 'plant.plot=LK/D1;…'.
const char *rows_command(enum noun noun, const char *where, struct arena *arena);
/// Rows as comma-separated text with every field, unknown left empty, geometry left out.
void rows_csv(enum noun noun, const void *const *rows, size_t n, struct arena *arena, struct text *out);
/// Put the sets of a note's rows into a document made of it (paper/note_document.h): a part of its own at the end, each set
/// found again in the file and said in words; `whole`: with every row, as a page of HTML takes it. Nothing where nothing in
/// the document leads to a set. A set whose number of rows is not the one the note counted says so.
enum outcome rows_to_document(struct document *document, const json_t *note, struct store *store, bool whole, int level,
                              struct failure *why);
/// A value as it stands in a selection, quoted where it must be.
const char *rows_value(const char *value, struct arena *arena);

/// A part of what a selection is made of.
struct rows_condition {
    const char *path; ///< as written
    enum rows_test { ROWS_IS, ROWS_IS_NOT, ROWS_AT_LEAST, ROWS_AT_MOST } test;
    const char **values; ///< one or more, without quotes
    const bool *quoted;
    size_t n;
};
/// Cut a selection into conditions; the fields are not looked up.
enum outcome rows_parse(const char *where, struct arena *arena, struct rows_condition **out, size_t *n, struct failure *why);
#endif
