/* SPDX-License-Identifier: GPL-3.0-or-later
 * The rows behind the numbers of a note, found again and put into a document. */
#include "work/rows.h"
#include <string.h>

/* Text of a field that stands in every row alike; NULL where rows differ. */
static const char *same_in_all(const struct field *field, const void *const *rows, size_t n, struct arena *arena)
{
    struct arena scratch = {0};
    const char *first = n > 0 ? field_write(field, rows[0], arena) : NULL;
    bool same = first != NULL;
    for (size_t i = 1; i < n && same; i++) {
        same = text_same(first, field_write(field, rows[i], &scratch));
        if (scratch.total > (1u << 20))
            arena_clear(&scratch);
    }
    arena_clear(&scratch);
    return same ? first : NULL;
}

static bool any_known(const struct field *field, const void *const *rows, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (!field_unknown(field, rows[i]))
            return true;
    return false;
}

static const char *plant_tag(struct rows_finder *finder, const void *record)
{
    const void *plants = NULL;
    size_t n = 0;
    struct failure none;
    int64_t id = ((const struct plant_record *)record)->plant_id;
    const void *plant = rows_all(finder, NOUN_PLANT, &plants, &n, &none) == OUTCOME_OK ? rows_of_id(plants, n, NOUN_PLANT, id) : NULL;
    return plant == NULL ? arena_print(finder->arena, "plant %lld", (long long)id) : row_words(finder, NOUN_PLANT, plant);
}

/* A table of the rows: id, what each is called, and every field in which they differ; what is alike goes into a sentence. */
static void table_make(struct rows_finder *finder, struct document *document, enum noun noun, const void *const *rows, size_t n,
                       struct document_rows *out)
{
    const struct noun_info *info = &noun_infos[noun];
    const struct field **shown = arena_array(&document->arena, info->n_fields, sizeof *shown);
    struct document_table *table = arena_alloc(&document->arena, sizeof *table);
    struct text common = {0};
    size_t n_shown = 0;
    document_column(document, table, "id", NULL, ALIGN_RIGHT);
    document_column(document, table, "row", NULL, ALIGN_LEFT);
    for (size_t j = 0; j < info->n_fields; j++) {
        const struct field *field = &info->fields[j];
        if (field->kind == FIELD_BYTES || !any_known(field, rows, n) ||
            (noun == NOUN_PLANT_RECORD && field->kind == FIELD_REF && field->target == NOUN_PLANT))
            continue; /* a record is named by its plant */
        const char *same = n > 1 ? same_in_all(field, rows, n, &document->arena) : NULL;
        if (same != NULL) {
            text_print(&common, "%s%s %s%s%s", common.n > 0 ? "; " : "", field->name, same, *field->unit == '\0' ? "" : " ", field->unit);
            continue;
        }
        shown[n_shown++] = field;
        document_column(document, table, field->name, field->unit, ALIGN_LEFT);
    }
    for (size_t i = 0; i < n; i++) {
        struct document_cell *cells = document_row(document, table);
        cells[0].words = arena_print(&document->arena, "%lld", (long long)row_id(rows[i]));
        cells[1].words = noun == NOUN_PLANT_RECORD ? plant_tag(finder, rows[i]) : row_words(finder, noun, rows[i]);
        for (size_t j = 0; j < n_shown; j++)
            cells[2 + j].words = field_write(shown[j], rows[i], &document->arena);
    }
    out->common = common.n > 0 ? arena_text(&document->arena, text_get(&common)) : NULL;
    out->table = table;
    text_free(&common);
}

static enum outcome selection_fill(struct rows_finder *finder, struct document *document, const json_t *set, bool whole,
                                   struct document_rows *out, struct failure *why)
{
    struct arena *arena = &document->arena;
    const char *where = json_string_value(json_object_get(set, "where"));
    const json_t *counted = json_object_get(set, "count");
    int noun = noun_find(json_string_value(json_object_get(set, "noun")));
    const void **rows = NULL;
    size_t n = 0;
    require(noun >= 0);
    enum outcome outcome = rows_find(finder, (enum noun)noun, where, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    out->count = n;
    out->words = rows_words((enum noun)noun, where, arena);
    out->command = rows_command((enum noun)noun, where, arena);
    out->fingerprint = rows_fingerprint((enum noun)noun, rows, n, arena);
    if (n > 0) {
        out->first = arena_print(arena, "%s (id %lld)", row_words(finder, (enum noun)noun, rows[0]), (long long)row_id(rows[0]));
        out->last = arena_print(arena, "%s (id %lld)", row_words(finder, (enum noun)noun, rows[n - 1]), (long long)row_id(rows[n - 1]));
    }
    if (json_is_integer(counted) && json_integer_value(counted) != (json_int_t)n)
        out->remark = arena_print(arena, "The number was computed from %lld rows; the selection finds %zu. Do not rely on it.",
                                  (long long)json_integer_value(counted), n);
    if (whole)
        table_make(finder, document, (enum noun)noun, rows, n, out);
    return OUTCOME_OK;
}

static void together_fill(struct document *document, const json_t *set, struct document_rows *out)
{
    const json_t *of = json_object_get(set, "of");
    int64_t *numbers = arena_array(&document->arena, json_array_size(of), sizeof *numbers);
    for (size_t i = 0; i < json_array_size(of); i++)
        numbers[out->n_of++] = json_integer_value(json_array_get(of, i));
    out->of = numbers;
}

enum outcome rows_to_document(struct document *document, const json_t *note, struct store *store, bool whole, int level,
                              struct failure *why)
{
    const json_t *sets = json_object_get(note, "rows");
    size_t n = store == NULL ? 0 : json_array_size(sets);
    bool any = false;
    document->rows = arena_array(&document->arena, n, sizeof *document->rows);
    document->n_rows = n;
    for (size_t i = 0; i < n; i++)
        if (json_object_get(json_array_get(sets, i), "of") != NULL)
            together_fill(document, json_array_get(sets, i), &document->rows[i]);
    document_rows_mark(document);
    struct rows_finder finder;
    rows_finder_begin(&finder, store, &document->arena);
    for (size_t i = 0; i < n; i++) {
        struct document_rows *set = &document->rows[i];
        any = any || set->used;
        if (!set->used || set->of != NULL)
            continue;
        enum outcome outcome = selection_fill(&finder, document, json_array_get(sets, i), whole, set, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < document->rows[i].n_of; k++)
            document->rows[i].count += document->rows[document->rows[i].of[k] - 1].count;
    if (!any)
        return OUTCOME_OK;
    document_heading(document, level, "Rows behind the numbers", "rows-behind-numbers");
    document_paragraph(document,
                       "A small r with a number beside a figure names the set of rows it was computed from. Each set is listed here "
                       "with its selection, how many rows it holds, the fingerprint of their content, and the command that lists "
                       "them; FILE stands for the programme file. A fingerprint that has changed means that the rows have changed "
                       "since.");
    document_add(document, PART_ROWS);
    return OUTCOME_OK;
}
