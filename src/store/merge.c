/* SPDX-License-Identifier: GPL-3.0-or-later
 * Two copies of one programme that were edited apart, brought together. A value that one copy's log shows as older gives way to
 * the newer one; where both copies changed the same field, neither does: both are told. */
#include "store/inside.h"
#include <stdlib.h>
#include <string.h>

/// A row that a copy touched after the copies parted.
struct touch {
    enum noun noun;
    int64_t id;
    bool added, changed, marked; ///< marked: deleted or restored
    const char **before;         ///< values each change found, as logged, oldest first
    size_t n_before, room;
    const char *author, *moment; ///< of the last change
};
struct touches {
    struct touch *list; ///< in order of noun and id
    size_t n, room;
};

/// A row there that is the same as one here under another uuid: both copies brought in the same file.
struct twin {
    enum noun noun;
    int64_t there, here;
};

struct merging {
    struct store *here, *there;
    struct arena *arena;
    struct touches ours, theirs;
    struct twin *twins;
    size_t n_twins, twins_room;
    struct store_merge_report *report;
};

/* ---- where they parted -------------------------------------------------------------------------------------------- */

static enum outcome same_programme(struct merging *m, struct failure *why)
{
    void *rows[2] = {NULL, NULL};
    size_t n[2] = {0, 0};
    struct store *stores[2] = {m->here, m->there};
    enum outcome outcome = OUTCOME_OK;
    for (int i = 0; i < 2 && outcome == OUTCOME_OK; i++)
        outcome = store_load(stores[i], NOUN_PROGRAMME, NULL, 0, false, m->arena, &rows[i], &n[i], why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (n[0] == 1 && n[1] == 1 && memcmp(row_uuid(rows[0]), row_uuid(rows[1]), sizeof(struct uuid)) == 0)
        return OUTCOME_OK;
    fail(why, OUTCOME_DATA, "The two files are different programmes, not copies of one.");
    return failure_remedy(why, "Only copies of one programme can be merged. Programmes of several teams are compared side by side.");
}

/* The last step that both logs have in common. */
static enum outcome parted_at(struct merging *m, int64_t *fork, struct failure *why)
{
    struct store *stores[2] = {m->here, m->there};
    sqlite3_stmt *statement[2] = {NULL, NULL};
    bool row[2] = {true, true};
    enum outcome outcome = OUTCOME_OK;
    *fork = 0;
    for (int i = 0; i < 2 && outcome == OUTCOME_OK; i++)
        outcome =
            sql_prepare(stores[i], &statement[i], why, "SELECT id, moment || '|' || author || '|' || what FROM spinney_step ORDER BY id");
    while (outcome == OUTCOME_OK) {
        for (int i = 0; i < 2 && outcome == OUTCOME_OK; i++)
            outcome = sql_next(stores[i], statement[i], &row[i], why);
        if (outcome != OUTCOME_OK || !row[0] || !row[1])
            break;
        if (sqlite3_column_int64(statement[0], 0) != sqlite3_column_int64(statement[1], 0) ||
            !text_same((const char *)sqlite3_column_text(statement[0], 1), (const char *)sqlite3_column_text(statement[1], 1)))
            break;
        *fork = sqlite3_column_int64(statement[0], 0);
    }
    sqlite3_finalize(statement[0]);
    sqlite3_finalize(statement[1]);
    return outcome;
}

/* ---- what each touched -------------------------------------------------------------------------------------------- */

static int by_row(const void *a, const void *b)
{
    const struct touch *p = a, *q = b;
    return p->noun != q->noun ? (p->noun < q->noun ? -1 : 1) : p->id < q->id ? -1 : p->id > q->id;
}

static struct touch *touch_find(const struct touches *touches, enum noun noun, int64_t id)
{
    struct touch want = {.noun = noun, .id = id};
    return touches->n == 0 ? NULL : bsearch(&want, touches->list, touches->n, sizeof want, by_row);
}

static void touch_put(struct touches *touches, const struct touch *touch)
{
    touches->list = column_room(touches->list, touches->n, &touches->room, sizeof *touch);
    touches->list[touches->n++] = *touch;
}

/* Several entries of one row become one, with all values found, oldest first. */
static void touches_join(struct touches *touches)
{
    size_t n = 0;
    qsort(touches->list, touches->n, sizeof *touches->list, by_row);
    for (size_t i = 0; i < touches->n; i++) {
        struct touch *last = n > 0 ? &touches->list[n - 1] : NULL, *one = &touches->list[i];
        if (last == NULL || by_row(last, one) != 0) {
            touches->list[n++] = *one;
            continue;
        }
        last->added |= one->added, last->changed |= one->changed, last->marked |= one->marked;
        for (size_t k = 0; k < one->n_before; k++) {
            last->before = column_room(last->before, last->n_before, &last->room, sizeof *last->before);
            last->before[last->n_before++] = one->before[k];
        }
        if (strcmp(one->moment, last->moment) >= 0)
            last->author = one->author, last->moment = one->moment;
        free(one->before);
    }
    touches->n = n;
}

static enum outcome touches_read(struct store *store, int64_t fork, struct arena *arena, struct touches *out, struct failure *why)
{
    sqlite3_stmt *statement = NULL;
    bool row = true;
    enum outcome outcome =
        sql_prepare(store, &statement, why,
                    "SELECT c.noun, c.row_id, coalesce(c.last_row_id, c.row_id), c.kind, c.old_values, s.author, s.moment"
                    " FROM spinney_change c JOIN spinney_step s ON s.id = c.step_id WHERE c.step_id > %lld ORDER BY c.id",
                    (long long)fork);
    while (outcome == OUTCOME_OK && (outcome = sql_next(store, statement, &row, why)) == OUTCOME_OK && row) {
        int noun = noun_find((const char *)sqlite3_column_text(statement, 0));
        const char *kind = (const char *)sqlite3_column_text(statement, 3);
        if (noun < 0) {
            outcome = fail(why, OUTCOME_DATA, "The change log of a copy names something this program does not know.");
            failure_remedy(why, "Merge with the newer program that wrote it.");
            break;
        }
        struct touch touch = {.noun = (enum noun)noun,
                              .added = text_same(kind, "added"),
                              .changed = text_same(kind, "changed"),
                              .marked = text_same(kind, "deleted") || text_same(kind, "restored"),
                              .author = sql_text(statement, 5, arena),
                              .moment = sql_text(statement, 6, arena)};
        int64_t last = sqlite3_column_int64(statement, 2);
        for (touch.id = sqlite3_column_int64(statement, 1); touch.id <= last; touch.id++) {
            struct touch one = touch;
            if (touch.changed) {
                one.before = column_room(NULL, 0, &one.room, sizeof *one.before);
                one.before[one.n_before++] = sql_text(statement, 4, arena);
            }
            touch_put(out, &one);
        }
    }
    sqlite3_finalize(statement);
    touches_join(out);
    return outcome;
}

static void touches_free(struct touches *touches)
{
    for (size_t i = 0; i < touches->n; i++)
        free(touches->list[i].before);
    free(touches->list);
}

/* ---- rows of one copy in the other -------------------------------------------------------------------------------- */

/* The row here that is the row there; 0: none. *deleted tells whether it is marked so. */
static enum outcome counterpart(struct merging *m, enum noun noun, int64_t there, int64_t *here, bool *deleted, struct failure *why)
{
    sqlite3_stmt *statement = NULL;
    bool row = false;
    *here = 0;
    *deleted = false;
    for (size_t i = 0; i < m->n_twins; i++)
        if (m->twins[i].noun == noun && m->twins[i].there == there)
            *here = m->twins[i].here;
    char *uuid = NULL;
    enum outcome outcome = OUTCOME_OK;
    if (*here == 0) {
        outcome =
            sql_prepare(m->there, &statement, why, "SELECT uuid FROM \"%w\" WHERE fid = %lld", noun_infos[noun].name, (long long)there);
        if (outcome == OUTCOME_OK)
            outcome = sql_next(m->there, statement, &row, why);
        if (outcome == OUTCOME_OK && row && sqlite3_column_type(statement, 0) != SQLITE_NULL)
            uuid = memory_text((const char *)sqlite3_column_text(statement, 0));
        sqlite3_finalize(statement);
        statement = NULL;
        if (outcome != OUTCOME_OK || uuid == NULL)
            return outcome;
    }
    outcome = uuid != NULL ? sql_prepare(m->here, &statement, why, "SELECT fid, deleted_at IS NOT NULL FROM \"%w\" WHERE uuid = %Q",
                                         noun_infos[noun].name, uuid)
                           : sql_prepare(m->here, &statement, why, "SELECT fid, deleted_at IS NOT NULL FROM \"%w\" WHERE fid = %lld",
                                         noun_infos[noun].name, (long long)*here);
    if (outcome == OUTCOME_OK)
        outcome = sql_next(m->here, statement, &row, why);
    if (outcome == OUTCOME_OK && row) {
        *here = sqlite3_column_int64(statement, 0);
        *deleted = sqlite3_column_int(statement, 1) != 0;
    }
    sqlite3_finalize(statement);
    free(uuid);
    return outcome;
}

static enum outcome is_deleted(struct store *store, enum noun noun, int64_t id, bool *deleted, struct failure *why)
{
    int64_t marked = 0;
    enum outcome outcome = sql_integer(store, &marked, 0, why, "SELECT deleted_at IS NOT NULL FROM \"%w\" WHERE fid = %lld",
                                       noun_infos[noun].name, (long long)id);
    *deleted = marked != 0;
    return outcome;
}

/* Keys of a row from there, turned to the ids here. *lost is the first field whose row is not here or deleted; NULL: none. */
static enum outcome turn_keys(struct merging *m, enum noun noun, void *row, const struct field **lost, struct failure *why)
{
    *lost = NULL;
    for (size_t i = 0; i < noun_infos[noun].n_fields; i++) {
        const struct field *field = &noun_infos[noun].fields[i];
        int64_t *at = field->kind == FIELD_REF ? field_at(field, row) : NULL, here = 0;
        bool deleted = false;
        if (at == NULL || *at == 0)
            continue;
        enum outcome outcome = counterpart(m, (enum noun)field->target, *at, &here, &deleted, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        if ((here == 0 || deleted) && *lost == NULL)
            *lost = field;
        *at = here;
    }
    return OUTCOME_OK;
}

/* ---- what cannot be decided here ---------------------------------------------------------------------------------- */

static void conflict_put(struct merging *m, enum store_conflict_kind kind, enum noun noun, int64_t here, const void *row_there,
                         const struct field *field, const char *ours, const char *theirs, const char *values, const struct touch *our,
                         const struct touch *their)
{
    struct store_merge_report *report = m->report;
    report->conflicts = column_room(report->conflicts, report->n_conflicts, &report->room, sizeof *report->conflicts);
    char label[120];
    if (here != 0)
        row_label(m->here, noun, here, label, sizeof label);
    else
        row_label(m->there, noun, row_id(row_there), label, sizeof label);
    struct store_conflict *one = &report->conflicts[report->n_conflicts++];
    *one = (struct store_conflict){.kind = kind,
                                   .noun = noun,
                                   .here = here,
                                   .uuid = *row_uuid(row_there),
                                   .label = arena_text(m->arena, label),
                                   .field = field == NULL ? NULL : field->name,
                                   .ours = arena_text(m->arena, ours),
                                   .theirs = arena_text(m->arena, theirs),
                                   .values = arena_text(m->arena, values),
                                   .our_author = our == NULL ? NULL : our->author,
                                   .our_moment = our == NULL ? NULL : our->moment,
                                   .their_author = their == NULL ? NULL : their->author,
                                   .their_moment = their == NULL ? NULL : their->moment};
}

/* Whether a value stands among those that a copy's log shows as older. `scratch` is a row to put them into; `there` tells that the log
 * is the other copy's, whose keys must be turned. */
static enum outcome is_older(struct merging *m, const struct touch *touch, bool there, enum noun noun, const struct field *field,
                             const void *row, bool place, void *scratch, struct arena *arena, bool *older, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    *older = false;
    for (size_t i = 0; touch != NULL && i < touch->n_before && !*older; i++) {
        json_t *json = json_loads(touch->before[i] == NULL ? "{}" : touch->before[i], 0, NULL);
        bool named = place ? json_object_get(json, "x_m") != NULL || json_object_get(json, "geometry") != NULL
                           : json_object_get(json, field->name) != NULL;
        json_decref(json);
        if (!named)
            continue;
        noun_init(noun, scratch);
        enum outcome outcome = change_apply(noun, touch->before[i], scratch, arena, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        int64_t *key = !place && field->kind == FIELD_REF ? field_at(field, scratch) : NULL;
        bool deleted = false;
        int64_t turned = 0;
        if (there && key != NULL && *key != 0)
            outcome = counterpart(m, (enum noun)field->target, *key, &turned, &deleted, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        if (there && key != NULL)
            *key = turned;
        *older = place ? blob_same(info, scratch, row) : value_same(field, scratch, row);
    }
    return OUTCOME_OK;
}

/* ---- a row that both copies have ---------------------------------------------------------------------------------- */

struct both {
    enum noun noun;
    void *here, *there, *merged, *scratch;
    const struct touch *our, *their;
};

/* The value there as a change that can be taken later: {field: value} as the log writes it. */
static char *value_json(enum noun noun, const struct field *field, const void *row)
{
    json_t *all = row_json(noun, row), *one = json_object();
    if (field == NULL && noun_infos[noun].geometry == GEOMETRY_POINT) {
        json_object_set(one, "x_m", json_object_get(all, "x_m"));
        json_object_set(one, "y_m", json_object_get(all, "y_m"));
    } else if (field == NULL) {
        json_object_set(one, "geometry", json_object_get(all, "geometry"));
    } else if (field->kind == FIELD_JSON) {
        const char *raw = *(const char *const *)field_at(field, row);
        json_object_set_new(one, field->name, raw == NULL ? json_null() : json_string(raw));
    } else {
        json_object_set(one, field->name, json_object_get(all, field->name));
    }
    char *text = json_dumps(one, JSON_COMPACT);
    json_decref(one);
    json_decref(all);
    return text;
}

static const char *value_words(struct store *store, const struct field *field, const void *row, struct arena *arena)
{
    if (field->kind == FIELD_REF) {
        char label[120] = "";
        int64_t id = *(const int64_t *)field_at(field, row);
        if (id != 0)
            row_label(store, (enum noun)field->target, id, label, sizeof label);
        return id == 0 ? NULL : arena_text(arena, label);
    }
    return field->kind == FIELD_BYTES ? "a file" : field_write(field, row, arena);
}

static enum outcome merge_value(struct merging *m, const struct both *both, const struct field *field, bool *took, struct failure *why)
{
    const struct noun_info *info = &noun_infos[both->noun];
    bool place = field == NULL, our_old = false, their_old = false;
    if (place ? blob_same(info, both->here, both->there) : value_same(field, both->here, both->there))
        return OUTCOME_OK;
    enum outcome outcome = is_older(m, both->their, true, both->noun, field, both->here, place, both->scratch, m->arena, &our_old, why);
    if (outcome == OUTCOME_OK)
        outcome = is_older(m, both->our, false, both->noun, field, both->there, place, both->scratch, m->arena, &their_old, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (our_old && !their_old) {
        *took = true;
        if (!place)
            memcpy(field_at(field, both->merged), field_at(field, both->there),
                   field->kind == FIELD_ENUM    ? sizeof(int)
                   : field->kind == FIELD_DATE  ? sizeof(int32_t)
                   : field->kind == FIELD_BYTES ? sizeof(struct bytes)
                                                : 8);
        else if (info->geometry == GEOMETRY_POINT)
            memcpy((char *)both->merged + info->geometry_offset, (const char *)both->there + info->geometry_offset, 2 * sizeof(double));
        else
            memcpy((char *)both->merged + info->geometry_offset, (const char *)both->there + info->geometry_offset, sizeof(struct bytes));
        return OUTCOME_OK;
    }
    if (their_old)
        return OUTCOME_OK;
    static const struct field geometry = {.name = "geometry"};
    char *values = value_json(both->noun, field, both->there);
    conflict_put(m, CONFLICT_VALUE, both->noun, row_id(both->here), both->there, place ? &geometry : field,
                 place ? "the shape here" : value_words(m->here, field, both->here, m->arena),
                 place ? "the shape there" : value_words(m->here, field, both->there, m->arena), values, both->our, both->their);
    free(values);
    return OUTCOME_OK;
}

static enum outcome merge_both(struct merging *m, const struct both *both, struct failure *why)
{
    const struct noun_info *info = &noun_infos[both->noun];
    bool took = false;
    enum outcome outcome = OUTCOME_OK;
    memcpy(both->merged, both->here, info->size);
    if (info->geometry != GEOMETRY_NONE)
        outcome = merge_value(m, both, NULL, &took, why);
    for (size_t i = 0; i < info->n_fields && outcome == OUTCOME_OK; i++)
        outcome = merge_value(m, both, &info->fields[i], &took, why);
    if (outcome == OUTCOME_OK && took) {
        bool bytes = m->here->whole_rows;
        m->here->whole_rows = true;
        outcome = store_change(m->here, both->noun, both->merged, why);
        m->here->whole_rows = bytes;
        m->report->changed[both->noun]++;
    }
    return outcome;
}

/* A row that one copy deleted. */
static enum outcome merge_marks(struct merging *m, const struct both *both, bool gone_here, bool gone_there, struct failure *why)
{
    bool we_changed = both->our != NULL && (both->our->changed || both->our->marked);
    struct failure refused = {0};
    if (gone_here && gone_there)
        return OUTCOME_OK;
    if (gone_here) {
        if (both->their->changed || both->their->marked)
            conflict_put(m, CONFLICT_DELETED_HERE, both->noun, row_id(both->here), both->there, NULL, "deleted", "changed", NULL, both->our,
                         both->their);
        return OUTCOME_OK;
    }
    if (!both->their->marked)
        return OUTCOME_OK;
    if (!we_changed && store_delete(m->here, both->noun, row_id(both->here), &refused) == OUTCOME_OK) {
        m->report->deleted[both->noun]++;
        return OUTCOME_OK;
    }
    if (!we_changed && refused.kind == OUTCOME_SYSTEM)
        return fail(why, OUTCOME_SYSTEM, "%s", refused.sentence);
    conflict_put(m, CONFLICT_DELETED_THERE, both->noun, row_id(both->here), both->there, NULL,
                 we_changed ? "changed" : "others refer to it", "deleted", NULL, both->our, both->their);
    return OUTCOME_OK;
}

/* ---- a row that only the other copy has --------------------------------------------------------------------------- */

static enum outcome add_theirs(struct merging *m, enum noun noun, void *row, const struct touch *their, bool last_round, bool *waits,
                               struct failure *why)
{
    const struct field *lost = NULL;
    void *copy = memory_get(1, noun_infos[noun].size);
    memcpy(copy, row, noun_infos[noun].size);
    enum outcome outcome = turn_keys(m, noun, copy, &lost, why);
    *waits = false;
    if (outcome == OUTCOME_OK && lost != NULL && !last_round && lost->target == (int)noun) {
        *waits = true;
    } else if (outcome == OUTCOME_OK && lost != NULL) {
        json_t *json = row_json(noun, row);
        char *values = json_dumps(json, JSON_COMPACT);
        conflict_put(m, CONFLICT_NOT_ADDED, noun, 0, row, lost, "what it refers to is deleted or missing here", "a new row", values, NULL,
                     their);
        free(values);
        json_decref(json);
    } else if (outcome == OUTCOME_OK) {
        *(int64_t *)copy = 0;
        outcome = store_add(m->here, noun, copy, 1, why);
        m->report->added[noun]++;
    }
    free(copy);
    return outcome;
}

static enum outcome merge_touch(struct merging *m, const struct touch *their, bool last_round, bool *waits, struct failure *why)
{
    enum noun noun = their->noun;
    size_t size = noun_infos[noun].size;
    struct arena arena = {0};
    bool gone_here = false, gone_there = false;
    int64_t here = 0;
    struct both both = {.noun = noun,
                        .here = memory_get(1, size),
                        .there = memory_get(1, size),
                        .merged = memory_get(1, size),
                        .scratch = memory_get(1, size),
                        .their = their};
    *waits = false;
    enum outcome outcome = load_one(m->there, noun, their->id, true, &arena, both.there, why);
    if (outcome == OUTCOME_OK)
        outcome = is_deleted(m->there, noun, their->id, &gone_there, why);
    if (outcome == OUTCOME_OK)
        outcome = counterpart(m, noun, their->id, &here, &gone_here, why);
    if (outcome == OUTCOME_OK && here == 0) {
        if (!gone_there) /* what came and went there was never here */
            outcome = add_theirs(m, noun, both.there, their, last_round, waits, why);
    } else if (outcome == OUTCOME_OK) {
        const struct field *lost = NULL;
        both.our = touch_find(&m->ours, noun, here);
        outcome = load_one(m->here, noun, here, true, &arena, both.here, why);
        if (outcome == OUTCOME_OK && (gone_here || gone_there))
            outcome = merge_marks(m, &both, gone_here, gone_there, why);
        else if (outcome == OUTCOME_OK && (outcome = turn_keys(m, noun, both.there, &lost, why)) == OUTCOME_OK)
            outcome = merge_both(m, &both, why);
    }
    free(both.here);
    free(both.there);
    free(both.merged);
    free(both.scratch);
    arena_clear(&arena);
    return outcome;
}

/* ---- the same file brought in by both ----------------------------------------------------------------------------- */

/* Rows of a noun that the step added. */
static enum outcome added_by(struct store *store, int64_t step, enum noun noun, struct arena *arena, int64_t **ids, size_t *n,
                             struct failure *why)
{
    sqlite3_stmt *statement = NULL;
    bool row = true;
    size_t room = 0;
    int64_t *list = NULL;
    *n = 0;
    enum outcome outcome = sql_prepare(store, &statement, why,
                                       "SELECT row_id, coalesce(last_row_id, row_id) FROM spinney_change WHERE step_id = %lld AND noun = %Q"
                                       " AND kind = 'added' ORDER BY id",
                                       (long long)step, noun_infos[noun].name);
    while (outcome == OUTCOME_OK && (outcome = sql_next(store, statement, &row, why)) == OUTCOME_OK && row)
        for (int64_t id = sqlite3_column_int64(statement, 0); id <= sqlite3_column_int64(statement, 1); id++) {
            list = column_room(list, *n, &room, sizeof *list);
            list[(*n)++] = id;
        }
    sqlite3_finalize(statement);
    *ids = arena_array(arena, *n + 1, sizeof **ids);
    if (*n > 0)
        memcpy(*ids, list, *n * sizeof **ids);
    free(list);
    return outcome;
}

static enum outcome step_of_import(struct store *store, int64_t id, int64_t *step, struct failure *why)
{
    return sql_integer(
        store, step, 0, why,
        "SELECT step_id FROM spinney_change WHERE noun = 'import' AND kind = 'added' AND %lld BETWEEN row_id AND coalesce(last_row_id, "
        "row_id)",
        (long long)id);
}

static enum outcome twins_of(struct merging *m, int64_t here, int64_t there, struct failure *why)
{
    int64_t step_here = 0, step_there = 0, *ours = NULL, *theirs = NULL;
    size_t n_ours = 0, n_theirs = 0;
    enum outcome outcome = step_of_import(m->here, here, &step_here, why);
    if (outcome == OUTCOME_OK)
        outcome = step_of_import(m->there, there, &step_there, why);
    for (int noun = 0; noun < NOUN_COUNT && outcome == OUTCOME_OK; noun++) {
        outcome = added_by(m->here, step_here, (enum noun)noun, m->arena, &ours, &n_ours, why);
        if (outcome == OUTCOME_OK)
            outcome = added_by(m->there, step_there, (enum noun)noun, m->arena, &theirs, &n_theirs, why);
        /* read by different answers the file gives other rows: those stay apart and are both there to be looked at */
        for (size_t i = 0; outcome == OUTCOME_OK && n_ours == n_theirs && i < n_ours; i++) {
            m->twins = column_room(m->twins, m->n_twins, &m->twins_room, sizeof *m->twins);
            m->twins[m->n_twins++] = (struct twin){(enum noun)noun, theirs[i], ours[i]};
        }
    }
    m->report->same_files++;
    return outcome;
}

static enum outcome twins_find(struct merging *m, struct failure *why)
{
    void *here_rows = NULL, *there_rows = NULL;
    size_t n_here = 0, n_there = 0;
    enum outcome outcome = store_load(m->here, NOUN_IMPORT, NULL, 0, false, m->arena, &here_rows, &n_here, why);
    if (outcome == OUTCOME_OK)
        outcome = store_load(m->there, NOUN_IMPORT, NULL, 0, false, m->arena, &there_rows, &n_there, why);
    const struct import *ours = here_rows, *theirs = there_rows;
    for (size_t i = 0; i < n_there && outcome == OUTCOME_OK; i++) {
        const struct touch *touch = touch_find(&m->theirs, NOUN_IMPORT, theirs[i].id);
        if (touch == NULL || !touch->added || theirs[i].undone == TRUTH_YES)
            continue;
        for (size_t j = 0; j < n_here && outcome == OUTCOME_OK; j++)
            if (text_same(ours[j].sha256, theirs[i].sha256) && text_same(ours[j].kind, theirs[i].kind) && ours[j].undone != TRUTH_YES &&
                memcmp(&ours[j].uuid, &theirs[i].uuid, sizeof(struct uuid)) != 0) {
                outcome = twins_of(m, ours[j].id, theirs[i].id, why);
                break;
            }
    }
    return outcome;
}

/* ------------------------------------------------------------------------------------------------------------------- */

static enum outcome merge_all(struct merging *m, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    bool *done = memory_get(m->theirs.n + 1, sizeof *done), progress = true;
    /* rows that refer to others of their noun wait until those are in; the last round tells what never came */
    for (bool last = false; outcome == OUTCOME_OK && !last;) {
        last = !progress;
        progress = false;
        bool left = false;
        for (size_t i = 0; i < m->theirs.n && outcome == OUTCOME_OK; i++) {
            bool waits = false;
            if (done[i])
                continue;
            outcome = merge_touch(m, &m->theirs.list[i], last, &waits, why);
            done[i] = !waits;
            progress |= !waits;
            left |= waits;
        }
        if (!left)
            break;
    }
    free(done);
    return outcome;
}

enum outcome store_merge(struct store *store, struct store *other, struct arena *arena, struct store_merge_report *out, struct failure *why)
{
    struct store_merge_report report = {0};
    struct merging m = {.here = store, .there = other, .arena = arena, .report = &report};
    enum outcome outcome = step_needed(store, why);
    if (outcome == OUTCOME_OK)
        outcome = same_programme(&m, why);
    if (outcome == OUTCOME_OK)
        outcome = parted_at(&m, &report.fork, why);
    /* the step being taken is not part of what this copy did before */
    if (outcome == OUTCOME_OK)
        outcome = touches_read(store, report.fork, arena, &m.ours, why);
    if (outcome == OUTCOME_OK)
        outcome = touches_read(other, report.fork, arena, &m.theirs, why);
    if (outcome == OUTCOME_OK)
        outcome = twins_find(&m, why);
    if (outcome == OUTCOME_OK)
        outcome = merge_all(&m, why);
    touches_free(&m.ours);
    touches_free(&m.theirs);
    free(m.twins);
    struct store_conflict *kept = arena_array(arena, report.n_conflicts + 1, sizeof *kept);
    if (report.n_conflicts > 0)
        memcpy(kept, report.conflicts, report.n_conflicts * sizeof *kept);
    free(report.conflicts);
    report.conflicts = kept;
    if (outcome == OUTCOME_OK)
        *out = report;
    return outcome;
}

enum outcome store_change_json(struct store *store, enum noun noun, int64_t id, const char *values, struct failure *why)
{
    struct arena arena = {0};
    void *row = memory_get(1, noun_infos[noun].size);
    enum outcome outcome = load_one(store, noun, id, false, &arena, row, why);
    if (outcome == OUTCOME_OK)
        outcome = change_apply(noun, values, row, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = store_change(store, noun, row, why);
    free(row);
    arena_clear(&arena);
    return outcome;
}
