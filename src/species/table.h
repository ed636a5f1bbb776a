/* SPDX-License-Identifier: GPL-3.0-or-later
 * Reading one row of a table into a struct, cell by cell, from a description of its columns. Private to species/. */
#ifndef SPINNEY_SPECIES_TABLE_H
#define SPINNEY_SPECIES_TABLE_H
#include "species/species.h"

enum cell_kind { CELL_TEXT, CELL_WORDS, CELL_NUMBER, CELL_TRUTH, CELL_WORD };

/// One column: where its value goes, and what it may be.
struct column {
    const char *name;
    enum cell_kind kind;
    size_t offset;            ///< of the member
    size_t n_offset;          ///< of the count, for CELL_WORDS
    double least, most;       ///< for CELL_NUMBER
    const char *const *words; ///< for CELL_WORD: words[value]; words[0] is NULL
    int n_words;
    bool required;
};

/// A header matched with the columns.
struct table_head {
    const struct csv_table *table;
    const struct column *columns;
    size_t n_columns;
    size_t *at;      ///< [n_columns] column in the file, SIZE_MAX: absent
    size_t *natives; ///< file columns that begin with native_
    size_t n_natives;
};

/// Match the header. `natives` allows native_… columns. Columns that begin with x_ are passed over; any other unknown one,
/// a missing required one or one given twice fails.
enum outcome table_head_read(const struct csv_table *table, const struct column *columns, size_t n_columns, bool natives,
                             struct arena *arena, struct table_head *out, struct failure *why);
/// Read row `row` (0 is the header) into `into`, whose members must stand at unknown. Fails with file, row, column.
enum outcome table_row_read(const struct table_head *head, size_t row, void *into, struct arena *arena, struct failure *why);
/// A word of a list, or −1; blank is 0.
int table_word(const char *const *words, int n, const char *word);
/// Note a refused row.
void problems_add(struct species_problems *problems, struct arena *arena, const struct failure *why);
/// Cell text trimmed, NULL if blank or absent.
char *table_text(const struct csv_table *table, size_t row, size_t column, struct arena *arena);
/// Words between semicolons.
const char **table_split(const char *text, struct arena *arena, size_t *n);

extern const char *const form_words[];
extern const char *const growth_words[];
extern const char *const native_words[];
extern const char *const health_words[];
#endif
