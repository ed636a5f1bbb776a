/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the files behind store.h share: the open file, SQL with failures in words, and the GeoPackage's geometry blobs. */
#ifndef SPINNEY_STORE_INSIDE_H
#define SPINNEY_STORE_INSIDE_H
#include "model/model_json.h"
#include "store/store.h"
#include <jansson.h>
#include <sqlite3.h>

enum { PATIENCE_MS = 5000, MOMENT_ROOM = 32 };

/// Smallest upright rectangle round shapes, in metres; `any` is false for none.
struct extent {
    bool any;
    double x_least, y_least, x_most, y_most;
};

struct store {
    sqlite3 *db;
    char *path;
    enum store_mode mode;
    int patience_ms;
    int srs;                       ///< EPSG code of every geometry in the file
    bool table_there[NOUN_COUNT];  ///< false for nouns younger than the file (only when looking)
    bool *field_there[NOUN_COUNT]; ///< the same for fields
    sqlite3_stmt *add[NOUN_COUNT]; ///< prepared insert, made when first used
    bool wrote;                    ///< something was committed through this store

    bool in_step;
    bool whole_rows;           ///< rows being changed were loaded with their bytes, so empty bytes are meant
    bool lost;                 ///< a write failed: this step can only be rolled back
    int64_t step, last_step;
    int64_t changes;           ///< rows changed in this step
    char moment[MOMENT_ROOM];  ///< when the step began
    char *author;
    bool touched[NOUN_COUNT];          ///< in this step
    struct extent grown[NOUN_COUNT];   ///< round what was written in this step
    struct {
        int64_t change, last_row; ///< the change row of the additions just logged, to be lengthened; 0: none
        enum noun noun;
    } run;
};

/* sql.c */
/// Open a connection with everything every connection needs: functions, limits, foreign keys, patience.
enum outcome sql_connect(const char *path, int flags, sqlite3 **db, struct failure *why);
/// What went wrong in the words of a person, from the last error of the connection. A fault of the disk loses the step.
enum outcome sql_fail(struct store *store, struct failure *why);
enum outcome sql_words(sqlite3 *db, int code, const char *path, struct failure *why);
/// Run SQL made with sqlite3_mprintf's formats (%Q, %w, %lld).
enum outcome sql_run(struct store *store, struct failure *why, const char *format, ...);
enum outcome sql_prepare(struct store *store, sqlite3_stmt **out, struct failure *why, const char *format, ...);
/// First column of the first row; `otherwise` where there is none or it is NULL.
enum outcome sql_integer(struct store *store, int64_t *out, int64_t otherwise, struct failure *why, const char *format, ...);
/// Step to the next row. OUTCOME_OK with *row false at the end.
enum outcome sql_next(struct store *store, sqlite3_stmt *statement, bool *row, struct failure *why);
/// Run a prepared statement to its end and make it ready again.
enum outcome sql_done(struct store *store, sqlite3_stmt *statement, struct failure *why);
/// Now in UTC, "2026-03-01T09:30:00.000Z"; SOURCE_DATE_EPOCH stands still where it is set.
void sql_moment(sqlite3 *db, char out[MOMENT_ROOM]);
/// Column text in the arena; NULL stays NULL.
const char *sql_text(sqlite3_stmt *statement, int column, struct arena *arena);

/* blob.c: GeoPackage 1.3, clause 2.1.3 */
enum outcome blob_check(enum geometry_kind kind, struct bytes wkb, struct extent *extent, struct failure *why);
/// The stored form of a row's geometry in a heap block (NULL: unknown) and the extent round it.
enum outcome blob_make(const struct noun_info *info, const void *row, int srs, unsigned char **blob, size_t *n, struct extent *extent,
                       struct failure *why);
/// The geometry of a stored blob into the row. False where it cannot be read.
bool blob_read(const struct noun_info *info, const void *blob, size_t n, void *row, struct arena *arena);
/// Whether two rows have the same geometry once stored.
bool blob_same(const struct noun_info *info, const void *a, const void *b);
/// Head of a blob: its reference system. False if it is none.
bool blob_srs(const void *blob, size_t n, int *srs);
void blob_register(sqlite3 *db); ///< ST_IsEmpty, ST_MinX, ST_MaxX, ST_MinY, ST_MaxY
void extent_add(struct extent *to, const struct extent *more);

/* crs.c */
/// Name and WKT 1 definition of a projected system in metres, east then north. OUTCOME_DATA for any other.
enum outcome crs_define(int64_t epsg, struct arena *arena, const char **name, const char **wkt, struct failure *why);

/* layout.c */
enum outcome layout_write(struct store *store, const struct programme *programme, struct failure *why);
enum outcome layout_noun(struct store *store, enum noun noun, struct failure *why);
enum outcome layout_field(struct store *store, enum noun noun, const struct field *field, struct failure *why);
/// Learn which tables and columns the file has; *missing counts those it lacks.
enum outcome layout_learn(struct store *store, size_t *missing, struct failure *why);
enum outcome layout_index_again(struct store *store, enum noun noun, struct failure *why);
const char *layout_about(struct store *store, const char *key, struct arena *arena); ///< NULL if not there
enum outcome layout_about_set(struct store *store, const char *key, const char *value, struct failure *why);

/* migrate.c */
/// Bring an older file forward after a copy beside it. `missing` as layout_learn counted.
enum outcome migrate(struct store *store, int version, size_t missing, struct failure *why);

/* values.c */
static inline void *field_at(const struct field *field, const void *row)
{
    return (void *)((uintptr_t)row + field->offset);
}
static inline int64_t row_id(const void *row)
{
    return *(const int64_t *)row;
}
static inline struct uuid *row_uuid(const void *row)
{
    return (struct uuid *)((uintptr_t)row + sizeof(int64_t));
}
/// Everything a row must satisfy before it is stored: noun_check, and text that is UTF-8, JSON that is JSON.
enum outcome value_check(enum noun noun, const void *row, struct failure *why);
void value_bind(sqlite3_stmt *statement, int parameter, const struct field *field, const void *row);
/// What was read last from a column, so that repeated text is kept once.
struct value_memo {
    const char *text;
    size_t n;
    int word;
    int32_t date;
};
bool value_read(sqlite3_stmt *statement, int column, const struct field *field, void *row, struct value_memo *memo, struct arena *arena);
bool value_same(const struct field *field, const void *a, const void *b);

/* load.c */
/// The columns of a noun's SELECT: fid, uuid, geom where there is one, then its fields; what the file lacks is NULL.
void load_columns(struct store *store, enum noun noun, bool with_bytes, struct text *sql);
/// One row of such a SELECT into a struct begun anew. `memos`: one per field, begun with date DATE_UNKNOWN.
enum outcome load_row(struct store *store, sqlite3_stmt *statement, enum noun noun, struct value_memo *memos, void *row,
                      struct arena *arena, struct failure *why);
/// "plot D1", or "plot 17" where the row has no code or name.
void row_label(struct store *store, enum noun noun, int64_t id, char *out, size_t n);
/// As store_get, for rows that are marked deleted as well.
enum outcome load_one(struct store *store, enum noun noun, int64_t id, bool deleted_too, struct arena *arena, void *row, struct failure *why);

/* change.c */
enum outcome step_needed(const struct store *store, struct failure *why);
/// Log one change of one row; texts may be NULL.
enum outcome log_change(struct store *store, enum noun noun, int64_t id, const char *kind, const char *before, const char *after,
                        struct failure *why);
enum outcome change_to(struct store *store, enum noun noun, const void *old, const void *new, struct failure *why);
/// Put logged values back into a row.
enum outcome change_apply(enum noun noun, const char *logged, void *row, struct arena *arena, struct failure *why);
enum outcome mark_deleted(struct store *store, enum noun noun, int64_t id, bool deleted, struct failure *why);

/* add.c */
/// Refuse a row of the noun between two ids that refers to a row which is marked deleted.
enum outcome references_live(struct store *store, enum noun noun, int64_t first, int64_t last, struct failure *why);

/* verify.c */
enum outcome verify_foreign_keys(struct store *store, int64_t *broken, const char **words, struct arena *arena, struct failure *why);
enum outcome verify_index(struct store *store, enum noun noun, bool *whole, struct failure *why);
#endif
