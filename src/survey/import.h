/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the files of the dry run share: columns made ready for reading, and entries on their way. */
#ifndef SPINNEY_SURVEY_IMPORT_H
#define SPINNEY_SURVEY_IMPORT_H
#include "survey/doubts.h"
#include "survey/mapping.h"

/// A column ready to be read.
struct column_plan {
    size_t column;
    const struct field_words *words;
    const struct field *field; ///< NULL for keys
    enum noun noun;            ///< the struct the field is in
    double factor, offset;
    bool open; ///< its unit is still to be asked
    int32_t census, census_end;
    const char *census_text; ///< NULL: not of a wide table
    const char *last_word;   ///< the last word looked up, and what it meant
    int last_value;
};

/// A row, or one census of a row, on its way.
struct entry {
    size_t row;     ///< of the sheet
    int32_t census; ///< DATE_UNKNOWN: not of a wide table
    const char *census_text;
    struct failure *refused; ///< NULL: not refused
    bool empty, held;
    bool zero; ///< wildlife: a look at which nothing was seen; it has no record
    int64_t site_id, plot_id;
    const char *site, *plot, *species; ///< as written
    double latitude, longitude;
    size_t look;  ///< wildlife: index of the look
    size_t plant; ///< new plant that only held rows speak of: its index + 1 among all proposed; 0: none
};

struct running {
    const struct record_sheet *sheet;
    const struct mapping *mapping;
    const struct survey_ground *ground;
    const struct import_options *options;
    struct arena *arena;
    enum noun noun;
    size_t size; ///< of the noun's struct
    struct column_plan *plans;
    size_t n_plans;
    struct entry *entries;
    size_t n_entries, entries_room;
    char *records; ///< n_entries structs, beside the entries
    size_t records_room;
    struct record_place *places; ///< beside the entries
    size_t places_room;
    struct doubts doubts; ///< rows are entries
    struct question *questions;
    size_t n_questions;
    struct import_result *result;
    const struct plant *proposed;           ///< all new plants; those of `result` are the ones clear rows speak of
    const struct wildlife_visit *all_looks; ///< likewise
};

static inline void *record_at(const struct running *r, size_t i)
{
    return r->records + i * r->size;
}
const char *plan_text(const struct running *r, const struct column_plan *plan, size_t row);
/// Read one cell into a struct. False if the entry was refused (then entry->refused is set). Doubts are added as needed.
bool cell_take(struct running *r, size_t entry, struct column_plan *plan, const struct sheet_cell *cell, void *into);
/// Fill a field from the mapping's fixed value.
bool fixed_take(struct running *r, size_t entry, const struct field_words *words, const char *value, void *into, enum noun noun);
void refuse(struct running *r, size_t entry, const char *column, const char *remedy, const char *sentence, ...)
    __attribute__((format(printf, 5, 6)));
struct doubt *question_doubt(struct running *r, size_t entry, const char *field, const char *id);
/// Site and plot from the entry's words; doubts where they are not known.
void place_find(struct running *r, size_t entry);
struct column_plan *plan_find(struct running *r, const char *name);

/// How the user says labels are given.
enum label_scope labels_said(const struct running *r);
/// Hold rows of new plants whose label stands in two plots of a site, unless labels are numbered anew in every plot; how
/// many.
size_t labels_settle(struct running *r, const struct plant *plants, size_t n_plants);
/// Give every record its visit; new ones are proposed in r->result.
void visits_settle(struct running *r);

/// Doubts about rows equal to another row of the file, and about rows the programme has already.
void twins(struct running *r);
void already_there(struct running *r);

enum outcome plants_take(struct running *r, struct failure *why);
enum outcome others_take(struct running *r, struct failure *why);
void question_more(struct running *r, struct question question);
#endif
