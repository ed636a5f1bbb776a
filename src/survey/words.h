/* SPDX-License-Identifier: GPL-3.0-or-later
 * The words people use in headings and cells, in several languages, and how values are read. */
#ifndef SPINNEY_SURVEY_WORDS_H
#define SPINNEY_SURVEY_WORDS_H
#include "survey/survey.h"

/// Lower case, without accents and punctuation, words parted by one blank: "Höhe (cm)" → "hohe cm".
char *text_fold(const char *text, struct arena *arena);

/// A field a column can fill, with its headings.
struct field_words {
    unsigned kinds; ///< bit 1 << record_kind
    struct import_field field;
    const char *noun_field; ///< where the value goes; NULL for keys
    const char *headings;   ///< folded, parted by |
};
extern const struct field_words import_field_words[];
extern const size_t n_import_field_words;
const struct field_words *field_words_find(enum record_kind kind, const char *name);
/// How well a folded heading names a field: 100 exactly, 0 not at all.
int heading_score(const struct field_words *words, const char *folded);

/// A unit by any of its spellings, for a field of the unit `want`; false if it is none. value × factor + offset.
bool unit_find(const char *want, const char *spelling, const char **unit, double *factor, double *offset);
/// Other units that may be meant, parted by |; NULL where only one is in use.
const char *unit_choices(const char *want, const char *field);

/// Meaning of a word in a cell of an enum field, in any of the languages; −1 if not known or not certain.
int cell_word_find(enum word_list list, const char *folded, const char *folded_heading);
/// Whether a cell says "nothing here": blank, NA, n/a, -, ?, k.A. …
bool cell_says_nothing(const char *text);

enum number_reading { NUMBER_NOT, NUMBER_READ, NUMBER_BELOW, NUMBER_NONE };
/// A number as people write it: 45,5 · 1.234,5 · 1 234.5 · 45 cm · <5 (NUMBER_BELOW). `unit` (may be NULL) gets what
/// stands behind the figure, as written, or NULL.
enum number_reading cell_number(const char *text, char decimal, double *value, const char **unit, struct arena *arena);
/// What a number's marks tell: '.', ',' for sure; 't' three digits behind one mark, so it may be thousands; 0 nothing.
char number_mark(const char *text);
/// A cell such as 1-2 that a spreadsheet turned into a date: "2-Jan", "02. Jan", "2024-01-02". Gives day and month.
bool cell_was_date(const struct sheet_cell *cell, int *day, int *month);
#endif
