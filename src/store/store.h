/* SPDX-License-Identifier: GPL-3.0-or-later
 * The programme file: an OGC GeoPackage with one table per noun, a change log, and undo. The only room that speaks SQL. */
#ifndef SPINNEY_STORE_H
#define SPINNEY_STORE_H
#include "model/model.h"

struct store; ///< an open programme file

enum store_mode {
    STORE_READ,  ///< look only; works beside a writer
    STORE_WRITE, ///< may take steps; writers take turns, one step at a time
};

/// The version of the file's layout this program writes. Newer files are refused; older ones are migrated after a copy.
enum { STORE_VERSION = 1 };

/// Make a new programme file at `path` (refused if something is there) holding this programme row, and open it to write.
/// The reference system must be projected, in metres; its definition is written into the file.
enum outcome store_create(const char *path, const struct programme *programme, const char *author, struct store **out, struct failure *why);
/// Open a programme file. Checks that it is one, its integrity, its version, foreign keys and the spatial index; migrates
/// an older one forward after writing a copy beside it. OUTCOME_DATA: not a programme, damaged, or newer than this program.
enum outcome store_open(const char *path, enum store_mode mode, struct store **out, struct failure *why);
/// Another connection, for looking, to the file that `checked` has open, without checking it again.
enum outcome store_join(const struct store *checked, struct store **out, struct failure *why);
/// Close; back to one file. Safe on NULL. What was not committed is rolled back.
void store_close(struct store *store);
const char *store_path(const struct store *store);
/// A number that changes once another connection has committed to the file (SQLite's data_version); it costs microseconds.
enum outcome store_seen(struct store *store, int64_t *number, struct failure *why);
/// Bring the write-ahead log into the file as far as readers let it, so that the file by itself is whole; nothing is waited for.
void store_gather(struct store *store);
/// How long store_begin waits for another writer to end its step; 5,000 ms at first.
void store_patience(struct store *store, int wait_ms);

/// A step groups changes that are done, kept in the log and undone together. Steps do not nest. Beginning one while
/// another writer is inside a step waits, then is refused (OUTCOME_SYSTEM). A step that changed nothing leaves no trace.
/// Where a write fails for want of room or by a fault of the disk, the whole step is lost and the commit is refused: the
/// file is as it was when the step began. To base a change on what was read, begin the step before reading.
enum outcome store_begin(struct store *store, const char *author, const char *what, struct failure *why);
enum outcome store_commit(struct store *store, struct failure *why);
void store_rollback(struct store *store);
/// End a step by how its work went: commits where `outcome` is OUTCOME_OK, else takes everything back. Returns `outcome`, or
/// how the commit ended, with nothing changed where that failed.
enum outcome store_end(struct store *store, enum outcome outcome, struct failure *why);
/// The step being taken, or else the last one committed through this store; 0: none yet.
int64_t store_last_step(const struct store *store);

/// Add rows (`n` structs of the noun's type, one after another) within a step. Fills id and, where unset, uuid in each.
/// Every row is checked (noun_check) first; the failure's row is the index from 1. Nothing is added on failure.
enum outcome store_add(struct store *store, enum noun noun, void *rows, size_t n, struct failure *why);
/// Change a row by its id to what the struct holds, within a step; the old values go to the change log. Only fields that
/// differ are written. The uuid of a row never changes.
enum outcome store_change(struct store *store, enum noun noun, const void *row, struct failure *why);
/// Mark a row as deleted, within a step. Refused while other living rows refer to it, naming them.
enum outcome store_delete(struct store *store, enum noun noun, int64_t id, struct failure *why);

/// A condition on one field: it equals `value`, or `text` if that is set. `value` is compared with ids, whole numbers, days
/// and enum values as they stand in the struct, so that unknown (0, INT_UNKNOWN, DATE_UNKNOWN) finds what is unknown.
struct store_where {
    const char *field; ///< column of the noun, "id" or (with text) "uuid"
    int64_t value;
    const char *text; ///< as field_read takes it: a text, an enum's word, a day
};
/// Load living rows in order of id. `where` may be NULL (n_where 0); conditions are joined by "and". *rows is an array of
/// the noun's structs in the arena, *n their number. Bytes fields are loaded only if `with_bytes`.
enum outcome store_load(struct store *store, enum noun noun, const struct store_where *where, size_t n_where, bool with_bytes,
                        struct arena *arena, void **rows, size_t *n, struct failure *why);
/// The one living row of this id. OUTCOME_DATA if there is none.
enum outcome store_get(struct store *store, enum noun noun, int64_t id, struct arena *arena, void *row, struct failure *why);
enum outcome store_count(struct store *store, enum noun noun, const struct store_where *where, size_t n_where, int64_t *n,
                         struct failure *why);

/// A step as the log shows it.
struct store_step {
    int64_t id;
    const char *at; ///< moment, ISO 8601 in UTC
    const char *author;
    const char *what;
    int64_t changes;   ///< rows it touched
    int64_t undoes;    ///< the step it takes back, or 0
    int64_t undone_by; ///< the step that took it back, or 0
};
/// Steps, newest first, at most `most`.
enum outcome store_steps(struct store *store, size_t most, struct arena *arena, struct store_step **steps, size_t *n, struct failure *why);
/// Take a step back by a new step, so that nothing is forgotten. Refused with the reason where later steps changed the
/// same rows. Undoing an undo brings the change back.
enum outcome store_undo(struct store *store, int64_t step, const char *author, int64_t *new_step, struct failure *why);

/// One old value of a row, for its history.
struct store_past {
    int64_t step;
    const char *at, *author, *what;
    const char *kind;   ///< "added", "changed", "deleted", "restored"
    const char *before; ///< JSON object of the fields that changed, old values
    const char *after;  ///< the same with new values
};
enum outcome store_history(struct store *store, enum noun noun, int64_t id, struct arena *arena, struct store_past **past, size_t *n,
                           struct failure *why);

/* Two copies of one programme that were edited apart. */
enum store_conflict_kind {
    CONFLICT_VALUE,         ///< both changed the same field
    CONFLICT_DELETED_HERE,  ///< deleted here, changed there
    CONFLICT_DELETED_THERE, ///< deleted there; here it was changed or others refer to it
    CONFLICT_NOT_ADDED,     ///< new there, but what it refers to is deleted or missing here
};
struct store_conflict {
    enum store_conflict_kind kind;
    enum noun noun;
    int64_t here;       ///< row here; 0: none
    struct uuid uuid;   ///< the row, as the other copy names it
    const char *label;  ///< such as "plot D1"
    const char *field;  ///< NULL: the whole row
    const char *ours, *theirs;                ///< in words; NULL unknown
    const char *values;                       ///< JSON of what is there: for store_change_json, or the whole row
    const char *our_author, *our_moment;      ///< who changed it last here, and when; NULL: nobody since they parted
    const char *their_author, *their_moment;
};
struct store_merge_report {
    int64_t fork; ///< last step both have in common
    size_t added[NOUN_COUNT], changed[NOUN_COUNT], deleted[NOUN_COUNT];
    size_t same_files; ///< files that both brought in: their rows are taken as the same, none is doubled
    struct store_conflict *conflicts;
    size_t n_conflicts, room;
};
/// Bring what `other` (a copy of the same programme, open to read) changed since the two parted into this one, within a step.
/// A value that one log shows as older gives way; where both changed a field, or one deleted what the other changed, this copy
/// stays as it is and the conflict is told. Rows keep their identity; merging the same copy again brings nothing twice.
/// OUTCOME_DATA where the files are different programmes. The report lives in the arena.
enum outcome store_merge(struct store *store, struct store *other, struct arena *arena, struct store_merge_report *out, struct failure *why);
/// Change fields of a row to values as a conflict or the log holds them (JSON object), within a step.
enum outcome store_change_json(struct store *store, enum noun noun, int64_t id, const char *values, struct failure *why);

/// A consistent copy of the whole file while it is open (SQLite's backup, never a file copy). Refuses to overwrite.
enum outcome store_backup(struct store *store, const char *path, struct failure *why);
/// What could be read of a damaged file, of one noun.
struct store_rescued {
    void *rows; ///< living rows in order of id
    size_t n;
    int64_t last;   ///< highest id ever given; 0: not known
    size_t unread;  ///< rows that are there but cannot be understood
    size_t gaps;    ///< places where pages could not be read
    bool no_table;  ///< the whole table is gone
};
/// Read a damaged programme file as far as it goes, row by row round what cannot be read; the file is not touched. `of` has one
/// entry per noun. OUTCOME_DATA where not even the list of tables can be read, or it is no programme file.
enum outcome store_rescue(const char *path, struct arena *arena, struct store_rescued of[NOUN_COUNT], struct failure *why);
/// What a full check of the file finds, as sentences; n 0: nothing wrong.
enum outcome store_verify(struct store *store, struct arena *arena, const char ***findings, size_t *n, struct failure *why);
#endif
