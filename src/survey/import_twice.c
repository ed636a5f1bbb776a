/* SPDX-License-Identifier: GPL-3.0-or-later
 * The same again: rows equal to another row of the file, and rows the programme has already from an earlier file. */
#include "survey/import.h"
#include <stdlib.h>
#include <string.h>

struct row_hash {
    uint64_t hash;
    size_t entry;
};

static int hash_order(const void *a, const void *b)
{
    const struct row_hash *x = a, *y = b;
    if (x->hash != y->hash)
        return x->hash < y->hash ? -1 : 1;
    return x->entry < y->entry ? -1 : x->entry > y->entry;
}

static bool rows_same(const struct running *r, size_t a, size_t b)
{
    size_t wide = r->sheet->widths[a] > r->sheet->widths[b] ? r->sheet->widths[a] : r->sheet->widths[b];
    for (size_t c = 0; c < wide; c++)
        if (!text_same(record_sheet_text(r->sheet, a, c), record_sheet_text(r->sheet, b, c)))
            return false;
    return true;
}

void twins(struct running *r)
{
    struct row_hash *rows = memory_get(r->n_entries + 1, sizeof *rows);
    for (size_t i = 0; i < r->n_entries; i++) {
        uint64_t h = 1469598103934665603u;
        for (size_t c = 0; c < r->sheet->widths[r->entries[i].row]; c++) {
            const char *text = record_sheet_text(r->sheet, r->entries[i].row, c);
            for (const char *p = text == NULL ? "" : text; *p != '\0'; p++)
                h = (h ^ (unsigned char)*p) * 1099511628211u;
            h = (h ^ 0x1F) * 1099511628211u;
        }
        /* blank cells at the end do not tell rows apart; a false difference only costs a missed remark */
        rows[i] = (struct row_hash){h, i};
    }
    qsort(rows, r->n_entries, sizeof *rows, hash_order);
    for (size_t i = 1; i < r->n_entries; i++) {
        size_t first = i;
        while (first > 0 && rows[first - 1].hash == rows[i].hash)
            first--;
        if (first == i || !rows_same(r, r->entries[rows[first].entry].row, r->entries[rows[i].entry].row))
            continue;
        struct doubt *doubt =
            doubt_add(&r->doubts, "exact_duplicate", (int64_t)rows[i].entry, "", "This row is the same in every cell as row %ld.",
                      r->sheet->lines[r->entries[rows[first].entry].row]);
        doubt->other = (int64_t)rows[first].entry;
        doubt_remedy(&r->doubts, doubt, "reject", "it is the same row twice: leave this one out");
        doubt_remedy(&r->doubts, doubt, "accept", "there were two: keep both");
    }
    free(rows);
}

/* A row as one text: equal rows have equal texts. Wildlife: the look it belongs to stands before it. */
static char *row_text(enum noun noun, const void *row, const struct wildlife_visit *look)
{
    json_t *json = survey_row_json(noun, row), *all = json_pack("{s:o}", "row", json);
    json_object_del(json, "wildlife_visit_id");
    if (look != NULL) {
        json_t *at = survey_row_json(NOUN_WILDLIFE_VISIT, look);
        static const char *const kept[] = {"site_id", "plot_id", "seen_on", "group", "protocol", "observers", "minutes", "nothing_seen"};
        json_t *some = json_object();
        for (size_t i = 0; i < sizeof kept / sizeof *kept; i++)
            if (json_object_get(at, kept[i]) != NULL)
                json_object_set(some, kept[i], json_object_get(at, kept[i]));
        json_object_set_new(all, "look", some);
        json_decref(at);
    }
    char *text = json_dumps(all, JSON_COMPACT | JSON_SORT_KEYS);
    json_decref(all);
    return text;
}

static int text_order(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static const struct wildlife_visit *look_of(const struct survey_ground *ground, int64_t id)
{
    for (size_t i = 0; i < ground->n_looks; i++)
        if (ground->looks[i].id == id)
            return &ground->looks[i];
    return NULL;
}

/* Texts of what the programme has: every row of the noun, and every look at which nothing was seen. */
static char **known_texts(const struct running *r, size_t *n)
{
    const struct survey_ground *g = r->ground;
    char **texts = memory_get(g->n_already + g->n_looks + 1, sizeof *texts);
    *n = 0;
    for (size_t i = 0; i < g->n_already; i++) {
        const void *row = (const char *)g->already + i * r->size;
        const struct wildlife_visit *look =
            r->noun == NOUN_WILDLIFE_RECORD ? look_of(g, ((const struct wildlife_record *)row)->wildlife_visit_id) : NULL;
        texts[(*n)++] = row_text(r->noun, row, look);
    }
    struct wildlife_record none;
    noun_init(NOUN_WILDLIFE_RECORD, &none);
    for (size_t i = 0; r->noun == NOUN_WILDLIFE_RECORD && i < g->n_looks; i++)
        if (g->looks[i].nothing_seen == TRUTH_YES)
            texts[(*n)++] = row_text(NOUN_WILDLIFE_RECORD, &none, &g->looks[i]);
    qsort(texts, *n, sizeof *texts, text_order);
    return texts;
}

void already_there(struct running *r)
{
    if (r->ground->n_already + r->ground->n_looks == 0)
        return;
    size_t n = 0;
    char **texts = known_texts(r, &n);
    struct wildlife_record none;
    noun_init(NOUN_WILDLIFE_RECORD, &none);
    for (size_t i = 0; i < r->n_entries && n > 0; i++) {
        const struct entry *e = &r->entries[i];
        if (e->refused != NULL || e->empty)
            continue;
        const struct wildlife_visit *look = e->look == SIZE_MAX ? NULL : &r->result->looks[e->look];
        char *text = row_text(r->noun, e->zero ? (const void *)&none : record_at(r, i), look);
        if (bsearch(&text, texts, n, sizeof *texts, text_order) != NULL) {
            struct doubt *doubt =
                doubt_add(&r->doubts, "already_recorded", (int64_t)i, "", "The programme has this row already, equal in every field.");
            doubt_remedy(&r->doubts, doubt, "reject", "it came with an earlier file: leave it out");
            doubt_remedy(&r->doubts, doubt, "accept", "there were two alike: keep both");
        }
        free(text);
    }
    for (size_t i = 0; i < n; i++)
        free(texts[i]);
    free(texts);
}
