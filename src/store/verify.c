/* SPDX-License-Identifier: GPL-3.0-or-later
 * What a full check of a programme file finds: pages, references, spatial index, values, and what the log says. */
#include "store/inside.h"
#include <stdlib.h>
#include <string.h>

/// Findings being gathered.
struct report {
    struct arena *arena;
    const char **words;
    size_t n, room;
};

static void report_add(struct report *report, const char *sentence)
{
    report->words = column_room(report->words, report->n, &report->room, sizeof *report->words);
    report->words[report->n++] = sentence;
}

enum outcome verify_foreign_keys(struct store *store, int64_t *broken, const char **words, struct arena *arena, struct failure *why)
{
    sqlite3_stmt *statement = NULL;
    bool row = false;
    *broken = 0;
    enum outcome outcome = sql_prepare(store, &statement, why, "SELECT \"table\", rowid, \"parent\" FROM pragma_foreign_key_check");
    while (outcome == OUTCOME_OK && (outcome = sql_next(store, statement, &row, why)) == OUTCOME_OK && row)
        if ((*broken)++ == 0)
            *words = arena_print(arena, "%s %lld refers to a %s that is not in the file", (const char *)sqlite3_column_text(statement, 0),
                                 (long long)sqlite3_column_int64(statement, 1), (const char *)sqlite3_column_text(statement, 2));
    sqlite3_finalize(statement);
    return outcome;
}

enum outcome verify_index(struct store *store, enum noun noun, bool *whole, struct failure *why)
{
    const char *t = noun_infos[noun].name;
    int64_t shapes = 0, entries = 0;
    enum outcome outcome =
        sql_integer(store, &shapes, 0, why, "SELECT count(*) FROM \"%w\" WHERE geom NOT NULL AND NOT ST_IsEmpty(geom)", t);
    if (outcome == OUTCOME_OK)
        outcome = sql_integer(store, &entries, 0, why, "SELECT count(*) FROM \"rtree_%w_geom_rowid\"", t);
    *whole = shapes == entries;
    return outcome;
}

static enum outcome check_pages(struct store *store, struct report *report, struct failure *why)
{
    sqlite3_stmt *statement = NULL;
    bool row = false;
    enum outcome outcome = sql_prepare(store, &statement, why, "PRAGMA integrity_check(20)");
    while (outcome == OUTCOME_OK && (outcome = sql_next(store, statement, &row, why)) == OUTCOME_OK && row) {
        const char *said = sql_text(statement, 0, report->arena);
        if (!text_same(said, "ok"))
            report_add(report, arena_print(report->arena, "The file is damaged: %s.", said));
    }
    sqlite3_finalize(statement);
    return outcome;
}

static enum outcome check_references(struct store *store, struct report *report, struct failure *why)
{
    int64_t broken = 0;
    const char *words = NULL;
    enum outcome outcome = verify_foreign_keys(store, &broken, &words, report->arena, why);
    if (broken > 0)
        report_add(report, arena_print(report->arena, "%lld references lead nowhere; the first: %s.", (long long)broken, words));
    for (int i = 0; i < NOUN_COUNT && outcome == OUTCOME_OK; i++)
        for (size_t k = 0; k < noun_infos[i].n_fields && outcome == OUTCOME_OK; k++) {
            const struct field *field = &noun_infos[i].fields[k];
            int64_t n = 0;
            if (field->kind != FIELD_REF || !store->field_there[i][k])
                continue;
            outcome = sql_integer(store, &n, 0, why,
                                  "SELECT count(*) FROM \"%w\" t CROSS JOIN \"%w\" c ON c.\"%w\" = t.fid AND c.deleted_at IS NULL WHERE "
                                  "t.deleted_at IS NOT NULL",
                                  noun_infos[field->target].name, noun_infos[i].name, field->name);
            if (n > 0)
                report_add(report, arena_print(report->arena, "%lld rows of %s refer by %s to rows that are deleted.", (long long)n,
                                               noun_infos[i].name, field->name));
        }
    return outcome;
}

static enum outcome check_places(struct store *store, enum noun noun, struct report *report, struct failure *why)
{
    const char *t = noun_infos[noun].name;
    int64_t off = 0;
    bool whole = true;
    enum outcome outcome = verify_index(store, noun, &whole, why);
    if (outcome == OUTCOME_OK)
        outcome = sql_integer(
            store, &off, 0, why,
            "SELECT count(*) FROM \"%w\" t LEFT JOIN \"rtree_%w_geom\" r ON r.id = t.fid WHERE geom NOT NULL AND NOT ST_IsEmpty(geom) AND"
            " (r.id IS NULL OR r.minx > ST_MinX(geom) OR r.maxx < ST_MaxX(geom) OR r.miny > ST_MinY(geom) OR r.maxy < ST_MaxY(geom))",
            t, t);
    if (outcome == OUTCOME_OK && (!whole || off > 0))
        report_add(report,
                   arena_print(report->arena,
                               "The spatial index of %s does not fit its shapes; it is made anew when the file is next opened to write.",
                               t));
    if (outcome == OUTCOME_OK) /* bytes 5 to 8 of the head, little-endian or big-endian by bit 0 of byte 4 */
        outcome = sql_integer(
            store, &off, 0, why,
            "SELECT count(*) FROM \"%w\" WHERE geom NOT NULL AND substr(geom, 5, 4) NOT IN (x'%02x%02x%02x%02x', x'%02x%02x%02x%02x')", t,
            store->srs & 255, store->srs >> 8 & 255, store->srs >> 16 & 255, 0, 0, store->srs >> 16 & 255, store->srs >> 8 & 255,
            store->srs & 255);
    if (outcome == OUTCOME_OK && off > 0)
        report_add(report, arena_print(report->arena, "%lld shapes of %s are not in the programme's reference system.", (long long)off, t));
    return outcome;
}

/* Every living row must be readable and satisfy what is asked of it. */
static enum outcome check_values(struct store *store, enum noun noun, struct report *report, struct failure *why)
{
    struct arena arena = {0};
    struct failure said = {0};
    void *rows = NULL;
    size_t n = 0, bad = 0, size = noun_infos[noun].size;
    enum outcome outcome = store_load(store, noun, NULL, 0, true, &arena, &rows, &n, &said);
    if (outcome == OUTCOME_DATA) {
        report_add(report, arena_text(report->arena, said.sentence));
        outcome = OUTCOME_OK;
        n = 0;
    } else if (outcome != OUTCOME_OK && why != NULL) {
        *why = said;
    }
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        const char *row = (const char *)rows + i * size;
        struct extent extent = {0};
        struct failure one = {0};
        const struct bytes *wkb = (const struct bytes *)(row + noun_infos[noun].geometry_offset);
        bool shape = noun_infos[noun].geometry != GEOMETRY_NONE && noun_infos[noun].geometry != GEOMETRY_POINT && wkb->n > 0;
        if (value_check(noun, row, &one) == OUTCOME_OK &&
            (!shape || blob_check(noun_infos[noun].geometry, *wkb, &extent, &one) == OUTCOME_OK))
            continue;
        if (bad++ == 0)
            report_add(report, arena_print(report->arena, "%s %lld: %s", noun_infos[noun].name, (long long)row_id(row), one.sentence));
    }
    if (bad > 1)
        report_add(report, arena_print(report->arena, "%zu more rows of %s have values that do not fit.", bad - 1, noun_infos[noun].name));
    arena_clear(&arena);
    return outcome;
}

/* Rows that the change log knows nothing of were written by another program. */
static enum outcome check_log(struct store *store, enum noun noun, struct report *report, struct failure *why)
{
    const char *t = noun_infos[noun].name;
    int64_t rows = 0, logged = 0, nameless = 0;
    enum outcome outcome = sql_integer(store, &rows, 0, why, "SELECT count(*) FROM \"%w\"", t);
    if (outcome == OUTCOME_OK)
        outcome =
            sql_integer(store, &logged, 0, why,
                        "SELECT sum(coalesce(last_row_id, row_id) - row_id + 1) FROM spinney_change WHERE noun = %Q AND kind = 'added'", t);
    if (outcome == OUTCOME_OK)
        outcome = sql_integer(store, &nameless, 0, why, "SELECT count(*) FROM \"%w\" WHERE uuid IS NULL", t);
    if (outcome == OUTCOME_OK && rows > logged)
        report_add(report, arena_print(report->arena, "%lld rows of %s were added by another program; the change log does not know them.",
                                       (long long)(rows - logged), t));
    if (outcome == OUTCOME_OK && rows < logged)
        report_add(report, arena_print(report->arena, "%lld rows of %s were removed by another program; a copy may still hold them.",
                                       (long long)(logged - rows), t));
    if (outcome == OUTCOME_OK && nameless > 0)
        report_add(report, arena_print(report->arena, "%lld rows of %s have no uuid.", (long long)nameless, t));
    return outcome;
}

enum outcome store_verify(struct store *store, struct arena *arena, const char ***findings, size_t *n, struct failure *why)
{
    struct report report = {.arena = arena};
    enum outcome outcome = check_pages(store, &report, why);
    if (outcome == OUTCOME_OK && report.n == 0) { /* a damaged file is not read further */
        outcome = check_references(store, &report, why);
        for (int i = 0; i < NOUN_COUNT && outcome == OUTCOME_OK; i++) {
            if (!store->table_there[i])
                continue;
            if (noun_infos[i].geometry != GEOMETRY_NONE)
                outcome = check_places(store, (enum noun)i, &report, why);
            if (outcome == OUTCOME_OK)
                outcome = check_values(store, (enum noun)i, &report, why);
            if (outcome == OUTCOME_OK)
                outcome = check_log(store, (enum noun)i, &report, why);
        }
    }
    if (outcome == OUTCOME_OK) {
        *findings = arena_array(arena, report.n + 1, sizeof **findings);
        if (report.n > 0)
            memcpy(*findings, report.words, report.n * sizeof *report.words);
        *n = report.n;
    }
    free(report.words);
    return outcome;
}
