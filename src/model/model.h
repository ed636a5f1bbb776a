/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of model/: the nouns as plain structs, their descriptions, and validation of one value. */
#ifndef SPINNEY_MODEL_H
#define SPINNEY_MODEL_H
#include "model/field.h"
#include "nouns.h"

extern const struct noun_info noun_infos[NOUN_COUNT];
extern const struct words words_of[WORDS_COUNT];

/// A row of this noun with every field unknown. `row` points to a struct of the noun's type.
void noun_init(enum noun noun, void *row);
/// Noun by name, or -1.
int noun_find(const char *name);
/// Field of a noun by name, or NULL.
const struct field *noun_field(enum noun noun, const char *name);
/// The word of an enum value ("unknown" for 0), and the value of a word or -1.
const char *word_of(enum word_list list, int value);
int word_find(enum word_list list, const char *word);
/// Whether one field of a row is unknown.
bool field_unknown(const struct field *field, const void *row);
/// Check one field: required, within limits, an enum value that exists. The failure's column is the field.
enum outcome field_check(const struct field *field, const void *row, struct failure *why);
/// Check all fields of a row, in order; the first failure is returned.
enum outcome noun_check(enum noun noun, const void *row, struct failure *why);
/// Set a field from text as people and files write it (ISO dates, decimal point, enum words, yes/no). Blank: unknown.
/// Does not check limits; fails where the text is not of the field's type.
enum outcome field_read(const struct field *field, void *row, const char *text, struct arena *arena, struct failure *why);
/// The field as text that field_read reads back to the same value; NULL if unknown. Bytes are not written.
char *field_write(const struct field *field, const void *row, struct arena *arena);
/// Reach of a plant's roots on shrinkable clay in parts of its mature height: 1.25, 0.75 or 0.5 for high, moderate, low water
/// demand; NaN for unknown. NHBC Standards 4.2, figures from memory.
double water_demand_reach(enum water_demand demand);
#endif
