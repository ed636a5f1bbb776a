/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the files behind the mapping share. */
#ifndef SPINNEY_SURVEY_MAPPING_H
#define SPINNEY_SURVEY_MAPPING_H
#include "survey/words.h"

/// A text that occurs in a column, and how often.
struct distinct {
    const char *text;
    unsigned char kind; ///< enum sheet_cell_kind
    size_t rows;
    size_t first_row;
};
/// The different texts of a column below the headings, in order of first occurrence, at most `most` of them.
struct distinct *column_distinct(const struct record_sheet *sheet, size_t header, size_t column, size_t most, struct arena *arena,
                                 size_t *n);

/// Heading without its unit, folded; *unit as spelled where the field has such a unit, else NULL.
char *heading_base(const char *heading, const char *want, const char **unit, struct arena *arena);
/// Census days of wide columns from their headings, by the order of dates and the answers given so far.
void mapping_resolve(struct mapping *mapping);
/// The descriptor of a mapped field, NULL for keys.
const struct field *mapped_field(enum record_kind kind, const char *name);
/// The use of this field, or NULL; census columns are passed over.
const struct column_use *mapping_column(const struct mapping *mapping, const char *field);
const char *mapping_fixed_value(const struct mapping *mapping, const char *field); ///< or NULL
/// What a word in the file means by the mapping, or NULL.
const char *mapping_word_value(const struct mapping *mapping, const char *field, const char *word);
void mapping_fix(struct mapping *mapping, const char *field, const char *value, struct arena *arena);
void mapping_word_add(struct mapping *mapping, const char *field, const char *from, const char *to, struct arena *arena);
/// Rows passed over: blank, or a comment whose first cell starts with #, or the headings again.
bool row_passed_over(const struct record_sheet *sheet, size_t header, size_t row);
#endif
