/* SPDX-License-Identifier: GPL-3.0-or-later
 * CQL2 text: a reader by recursive descent, and the three-valued answer for a row. */
#include "exchange/cql.h"
#include <ctype.h>
#include <math.h>
#include <string.h>

enum { MOST_DEPTH = 64, MOST_TEXT = 100000, MOST_LIST = 1000 };

enum cql_op {
    CQL_AND,
    CQL_OR,
    CQL_NOT,
    CQL_TRUE,
    CQL_FALSE,
    CQL_EQUAL,
    CQL_UNEQUAL,
    CQL_LESS,
    CQL_MORE,
    CQL_AT_MOST,
    CQL_AT_LEAST, /* in the order of `compare` */
    CQL_LIKE,
    CQL_BETWEEN,
    CQL_IN,
    CQL_IS_NULL,
    CQL_INTERSECTS
};

/* A property or a literal. */
struct cql_value {
    bool is_property, is_id, is_null, is_number, is_truth;
    const struct field *field;
    double number; ///< number, or 1 and 0 for true and false
    const char *text;
};

struct cql {
    enum cql_op op;
    struct cql *left, *right;
    struct cql_value *values; ///< operands
    size_t n;
    enum noun noun;
    struct shape shape;
};

enum truth3 { NO, YES, NEITHER };

/* ---- reading ------------------------------------------------------------------------------------------------------ */

struct reader {
    const char *start, *at;
    enum noun noun;
    struct arena *arena;
    struct failure *why;
    int depth;
};

static void blanks(struct reader *r)
{
    while (*r->at == ' ' || *r->at == '\t' || *r->at == '\n' || *r->at == '\r')
        r->at++;
}

static struct cql *wrong(struct reader *r, const char *expected)
{
    fail(r->why, OUTCOME_USAGE, "The filter is not understood at character %zu (\"%.30s\"): %s was expected.",
         (size_t)(r->at - r->start) + 1, r->at, expected);
    return NULL;
}

static bool name_letter(char c)
{
    return isalnum((unsigned char)c) || c == '_' || c == '.' || c == ':';
}

/* Whether the next word is this one, whatever its case; passes it if so. */
static bool word(struct reader *r, const char *word)
{
    size_t n = strlen(word);
    blanks(r);
    for (size_t i = 0; i < n; i++)
        if (toupper((unsigned char)r->at[i]) != word[i])
            return false;
    if (name_letter(r->at[n]))
        return false;
    r->at += n;
    return true;
}

static bool sign(struct reader *r, char c)
{
    blanks(r);
    if (*r->at != c)
        return false;
    r->at++;
    return true;
}

static char *quoted(struct reader *r)
{
    struct text out = {0};
    text_add(&out, "");
    for (r->at++; *r->at != '\0'; r->at++) {
        if (*r->at == '\'' && r->at[1] != '\'')
            break;
        if (*r->at == '\'')
            r->at++;
        text_add_n(&out, r->at, 1);
    }
    char *kept = *r->at == '\0' ? NULL : arena_text(r->arena, text_get(&out));
    if (kept != NULL)
        r->at++;
    text_free(&out);
    return kept;
}

static bool property(struct reader *r, struct cql_value *out)
{
    bool marks = *r->at == '"';
    const char *begin = r->at + marks, *end = begin;
    while (marks ? *end != '"' && *end != '\0' : name_letter(*end))
        end++;
    char *name = arena_text_n(r->arena, begin, (size_t)(end - begin));
    r->at = end + (marks && *end == '"');
    *out = (struct cql_value){.is_property = true, .is_id = strcmp(name, "id") == 0, .text = name};
    out->field = out->is_id ? NULL : noun_field(r->noun, name);
    if (!out->is_id && (out->field == NULL || out->field->kind == FIELD_BYTES)) {
        fail(r->why, OUTCOME_USAGE, "%s has no property called \"%.60s\".", noun_infos[r->noun].name, name);
        failure_remedy(r->why, "Its queryables list them.");
        return false;
    }
    return true;
}

static bool value(struct reader *r, struct cql_value *out)
{
    blanks(r);
    *out = (struct cql_value){0};
    if (*r->at == '\'') {
        out->text = quoted(r);
        return out->text != NULL || wrong(r, "the closing quote") != NULL;
    }
    if (isdigit((unsigned char)*r->at) || *r->at == '-' || *r->at == '+' || *r->at == '.') {
        const char *end = r->at;
        while (isalnum((unsigned char)*end) || *end == '.' ||
               ((*end == '-' || *end == '+') && (end == r->at || end[-1] == 'e' || end[-1] == 'E')))
            end++;
        char *text = arena_text_n(r->arena, r->at, (size_t)(end - r->at));
        if (!number_read(text, &out->number))
            return wrong(r, "a number") != NULL;
        out->is_number = true;
        r->at = end;
        return true;
    }
    if (word(r, "TRUE") || word(r, "FALSE")) {
        out->is_truth = true;
        out->number = tolower((unsigned char)r->at[-2]) == 'u';
        return true;
    }
    if (word(r, "NULL")) {
        out->is_null = true;
        return true;
    }
    if (word(r, "DATE") || word(r, "TIMESTAMP")) {
        if (!sign(r, '(') || (blanks(r), *r->at != '\''))
            return wrong(r, "a date in quotes") != NULL;
        out->text = quoted(r);
        return (out->text != NULL && sign(r, ')')) || wrong(r, "the end of the date") != NULL;
    }
    if (*r->at == '"' || isalpha((unsigned char)*r->at) || *r->at == '_')
        return property(r, out);
    return wrong(r, "a property, a number or a text in quotes") != NULL;
}

static struct cql *node(struct reader *r, enum cql_op op, size_t n)
{
    struct cql *out = arena_alloc(r->arena, sizeof *out);
    *out = (struct cql){.op = op, .n = n, .values = n == 0 ? NULL : arena_array(r->arena, n, sizeof *out->values), .noun = r->noun};
    return out;
}

static struct cql *expression(struct reader *r);

/* POLYGON((…)) and its like as text up to its closing bracket, or BBOX(w,s,e,n). */
static struct cql *intersects(struct reader *r)
{
    struct cql *out = node(r, CQL_INTERSECTS, 0);
    blanks(r);
    bool own = word(r, "GEOMETRY") || word(r, "\"GEOMETRY\"");
    if (!own || noun_infos[r->noun].geometry == GEOMETRY_NONE)
        return wrong(r, "geometry, of a collection that has places");
    if (!sign(r, ','))
        return wrong(r, "a comma");
    blanks(r);
    const char *begin = r->at;
    int open = 0;
    for (; *r->at != '\0'; r->at++) {
        open += (*r->at == '(') - (*r->at == ')');
        if (open < 0)
            break;
    }
    char *wkt = arena_text_n(r->arena, begin, (size_t)(r->at - begin));
    double box[4];
    if (sscanf(wkt, " BBOX ( %lf , %lf , %lf , %lf )", &box[0], &box[1], &box[2], &box[3]) == 4 ||
        sscanf(wkt, " bbox ( %lf , %lf , %lf , %lf )", &box[0], &box[1], &box[2], &box[3]) == 4) {
        if (!(box[0] < box[2] && box[1] < box[3]))
            return wrong(r, "a box of west, south, east, north");
        out->shape = shape_rectangle(r->arena, box[0], box[1], box[2] - box[0], box[3] - box[1], 0);
    } else if (shape_from_wkt(wkt, r->arena, &out->shape, r->why) != OUTCOME_OK) {
        return NULL;
    }
    return sign(r, ')') ? out : wrong(r, "a closing bracket");
}

static struct cql *negated(struct reader *r, bool not, struct cql *inner)
{
    if (!not || inner == NULL)
        return inner;
    struct cql *out = node(r, CQL_NOT, 0);
    out->left = inner;
    return out;
}

static struct cql *list(struct reader *r, struct cql_value first)
{
    struct cql_value values[MOST_LIST] = {first};
    size_t n = 1;
    if (!sign(r, '('))
        return wrong(r, "an opening bracket");
    do {
        if (n == MOST_LIST)
            return wrong(r, "a shorter list");
        if (!value(r, &values[n++]))
            return NULL;
    } while (sign(r, ','));
    struct cql *out = node(r, CQL_IN, n);
    memcpy(out->values, values, n * sizeof *values);
    return sign(r, ')') ? out : wrong(r, "a closing bracket");
}

static struct cql *predicate(struct reader *r)
{
    if (word(r, "S_INTERSECTS"))
        return sign(r, '(') ? intersects(r) : wrong(r, "an opening bracket");
    struct cql_value left;
    if (!value(r, &left))
        return NULL;
    if (word(r, "IS")) {
        bool not = word(r, "NOT");
        if (!word(r, "NULL"))
            return wrong(r, "NULL");
        struct cql *out = node(r, CQL_IS_NULL, 1);
        out->values[0] = left;
        return negated(r, not, out);
    }
    bool not = word(r, "NOT");
    if (word(r, "IN"))
        return negated(r, not, list(r, left));
    if (word(r, "LIKE") || word(r, "BETWEEN")) {
        bool like = toupper((unsigned char)r->at[-1]) == 'E';
        struct cql *out = node(r, like ? CQL_LIKE : CQL_BETWEEN, like ? 2 : 3);
        out->values[0] = left;
        if (!value(r, &out->values[1]))
            return NULL;
        if (!like && !word(r, "AND"))
            return wrong(r, "AND");
        if (!like && !value(r, &out->values[2]))
            return NULL;
        if (like && out->values[1].text == NULL)
            return wrong(r, "a pattern in quotes");
        return negated(r, not, out);
    }
    static const struct {
        const char *sign;
        enum cql_op op;
    } signs[] = {{"<>", CQL_UNEQUAL}, {"<=", CQL_AT_MOST}, {">=", CQL_AT_LEAST}, {"=", CQL_EQUAL}, {"<", CQL_LESS}, {">", CQL_MORE}};
    blanks(r);
    for (size_t i = 0; i < sizeof signs / sizeof *signs; i++) {
        if (strncmp(r->at, signs[i].sign, strlen(signs[i].sign)) != 0)
            continue;
        r->at += strlen(signs[i].sign);
        struct cql *out = node(r, signs[i].op, 2);
        out->values[0] = left;
        return value(r, &out->values[1]) ? out : NULL;
    }
    if (left.is_truth) {
        return node(r, left.number > 0 ? CQL_TRUE : CQL_FALSE, 0);
    }
    return wrong(r, "a comparison");
}

static struct cql *factor(struct reader *r)
{
    if (++r->depth > MOST_DEPTH)
        return wrong(r, "fewer brackets");
    struct cql *out = NULL;
    if (word(r, "NOT")) {
        out = negated(r, true, factor(r));
    } else if (sign(r, '(')) {
        out = expression(r);
        if (out != NULL && !sign(r, ')'))
            out = wrong(r, "a closing bracket");
    } else {
        out = predicate(r);
    }
    r->depth--;
    return out;
}

static struct cql *both(struct reader *r, enum cql_op op, struct cql *left, struct cql *right)
{
    struct cql *out = node(r, op, 0);
    out->left = left;
    out->right = right;
    return right == NULL ? NULL : out;
}

static struct cql *term(struct reader *r)
{
    struct cql *out = factor(r);
    while (out != NULL && word(r, "AND"))
        out = both(r, CQL_AND, out, factor(r));
    return out;
}

static struct cql *expression(struct reader *r)
{
    struct cql *out = term(r);
    while (out != NULL && word(r, "OR"))
        out = both(r, CQL_OR, out, term(r));
    return out;
}

enum outcome cql_read(const char *text, enum noun noun, struct arena *arena, struct cql **out, struct failure *why)
{
    struct failure own = {0};
    struct reader reader = {.start = text, .at = text, .noun = noun, .arena = arena, .why = why == NULL ? &own : why};
    if (strlen(text) > MOST_TEXT)
        return fail(why, OUTCOME_USAGE, "The filter is longer than %d characters.", MOST_TEXT);
    struct cql *cql = expression(&reader);
    blanks(&reader);
    if (cql != NULL && *reader.at != '\0')
        cql = wrong(&reader, "AND, OR or the end");
    if (cql == NULL)
        return OUTCOME_USAGE;
    *out = cql;
    return OUTCOME_OK;
}

/* ---- answering ---------------------------------------------------------------------------------------------------- */

/* What a value is for a row: a number, a text, a truth, or unknown. */
static struct cql_value known_as(const struct cql_value *value, const struct cql_row *row, enum noun noun, struct arena *arena)
{
    struct cql_value out = *value;
    if (!value->is_property)
        return out;
    out = (struct cql_value){0};
    if (value->is_id) {
        out.text = exchange_uuid(row->set, noun, *(const int64_t *)row->row, arena);
        return out;
    }
    const struct field *field = value->field;
    const char *at = (const char *)row->row + field->offset;
    if (field_unknown(field, row->row)) {
        out.is_null = true;
    } else if (field->kind == FIELD_REAL || field->kind == FIELD_INT) {
        out.is_number = true;
        out.number = field->kind == FIELD_REAL ? *(const double *)(const void *)at : (double)*(const int64_t *)(const void *)at;
    } else if (field->kind == FIELD_REF) {
        out.text = exchange_uuid(row->set, (enum noun)field->target, *(const int64_t *)(const void *)at, arena);
        out.is_null = out.text == NULL;
    } else {
        out.text = field_write(field, row->row, arena);
        out.is_truth = field->kind == FIELD_ENUM && field->words == WORDS_TRUTH;
        out.number = out.is_truth && text_same(out.text, "yes");
    }
    return out;
}

static enum truth3 compare(enum cql_op op, const struct cql_value *a, const struct cql_value *b)
{
    double order = 0;
    if (a->is_null || b->is_null)
        return NEITHER;
    if ((a->is_number || a->is_truth) && (b->is_number || b->is_truth))
        order = a->number - b->number;
    else if (a->text != NULL && b->text != NULL)
        order = (double)strcmp(a->text, b->text);
    else
        return NEITHER; /* not to be compared */
    bool holds = op == CQL_EQUAL     ? order == 0
                 : op == CQL_UNEQUAL ? order != 0
                 : op == CQL_LESS    ? order < 0
                 : op == CQL_MORE    ? order > 0
                 : op == CQL_AT_MOST ? order <= 0
                                     : order >= 0;
    return holds ? YES : NO;
}

/* % any run, _ one character, \ takes the next as it is. */
static bool like(const char *text, const char *pattern)
{
    const char *star = NULL, *held = NULL;
    while (*text != '\0') {
        if (*pattern == '%') {
            star = ++pattern;
            held = text;
            continue;
        }
        bool escaped = *pattern == '\\' && pattern[1] != '\0';
        const char *p = pattern + escaped;
        if (*p != '\0' && ((!escaped && *p == '_') || *p == *text)) {
            pattern = p + 1;
            text++;
        } else if (star != NULL) {
            pattern = star;
            text = ++held;
        } else {
            return false;
        }
    }
    while (*pattern == '%')
        pattern++;
    return *pattern == '\0';
}

static enum truth3 any_of(const struct cql *cql, const struct cql_value *values)
{
    enum truth3 answer = NO;
    for (size_t i = 1; i < cql->n; i++) {
        enum truth3 one = compare(CQL_EQUAL, &values[0], &values[i]);
        if (one == YES)
            return YES;
        answer = one == NEITHER ? NEITHER : answer;
    }
    return answer;
}

static enum truth3 holds(const struct cql *cql, const struct cql_row *row, struct arena *arena)
{
    struct cql_value *values = cql->n == 0 ? NULL : arena_array(arena, cql->n, sizeof *values);
    for (size_t i = 0; i < cql->n; i++)
        values[i] = known_as(&cql->values[i], row, cql->noun, arena);
    enum truth3 left, right;
    double distance;
    switch (cql->op) {
    case CQL_TRUE:
        return YES;
    case CQL_FALSE:
        return NO;
    case CQL_NOT:
        left = holds(cql->left, row, arena);
        return left == NEITHER ? NEITHER : left == YES ? NO : YES;
    case CQL_AND:
        left = holds(cql->left, row, arena);
        right = left == NO ? NO : holds(cql->right, row, arena);
        return left == NO || right == NO ? NO : left == YES && right == YES ? YES : NEITHER;
    case CQL_OR:
        left = holds(cql->left, row, arena);
        right = left == YES ? YES : holds(cql->right, row, arena);
        return left == YES || right == YES ? YES : left == NO && right == NO ? NO : NEITHER;
    case CQL_IS_NULL:
        return values[0].is_null ? YES : NO;
    case CQL_LIKE:
        return values[0].is_null || values[0].text == NULL ? NEITHER : like(values[0].text, values[1].text) ? YES : NO;
    case CQL_BETWEEN:
        left = compare(CQL_AT_LEAST, &values[0], &values[1]);
        right = compare(CQL_AT_MOST, &values[0], &values[2]);
        return left == NO || right == NO ? NO : left == YES && right == YES ? YES : NEITHER;
    case CQL_IN:
        return any_of(cql, values);
    case CQL_INTERSECTS:
        if (row->place == NULL)
            return NO;
        return shape_distance(row->place, &cql->shape, &distance, NULL) == OUTCOME_OK && distance <= 0 ? YES : NO;
    case CQL_EQUAL:
    case CQL_UNEQUAL:
    case CQL_LESS:
    case CQL_MORE:
    case CQL_AT_MOST:
    case CQL_AT_LEAST:
        return compare(cql->op, &values[0], &values[1]);
    }
    return NEITHER;
}

bool cql_holds(const struct cql *cql, const struct cql_row *row)
{
    struct arena arena = {0};
    bool yes = holds(cql, row, &arena) == YES;
    arena_clear(&arena);
    return yes;
}
