/* SPDX-License-Identifier: GPL-3.0-or-later
 * Spreadsheets in Office Open XML (ECMA-376 part 1, SpreadsheetML): shared and inline strings, dates by style, merged
 * cells, the values formulas had when saved. Streams every part; refuses entities, bombs and sheets beyond the limits. */
#include "survey/sheet_private.h"
#include <ctype.h>
#include <expat.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zip.h>

enum { DEEPEST = 64, MOST_STYLES = 65536, MOST_STRINGS = 8000000, MOST_MERGES = 200000 };
#define MOST_UNPACKED ((uint64_t)1 << 30)
#define FREE_UNPACKED ((uint64_t)50 << 20)
enum { MOST_RATIO = 150, MOST_CELL_TEXT = 1 << 20 };

struct relation {
    const char *id, *type, *target;
};
struct sheet_entry {
    const char *name, *relation;
    bool hidden;
};
struct merge {
    size_t top, left, bottom, right; ///< rows as numbered in the sheet, from 1; columns from 0
};

struct opened {
    struct arena *arena;
    const char *file;
    zip_t *zip;
    size_t packed;
    uint64_t unpacked; ///< bytes so far
    struct failure *why;
    enum outcome outcome;
    XML_Parser parser;
    int depth;
    struct text text; ///< of the element being read
    bool taking;
    struct relation *relations;
    size_t n_relations, relations_room;
    struct sheet_entry *entries;
    size_t n_entries, entries_room;
    bool since_1904;
    const char **strings;
    size_t n_strings, strings_room;
    bool phonetic;
    bool *style_date; ///< of each cell style
    size_t n_styles, styles_room;
    int *format_ids; ///< own number formats that are dates
    size_t n_formats, formats_room;
    bool in_cell_styles;
    /* the sheet being read */
    struct sheet_build build;
    struct merge *merges;
    size_t n_merges, merges_room;
    long row;
    size_t column, style, formulas;
    bool formula, in_cell;
    char type[16];
    const char *value;
};

static const char *local(const char *name)
{
    const char *colon = strrchr(name, ':');
    return colon == NULL ? name : colon + 1;
}

static const char *attribute(const char **attributes, const char *name)
{
    for (size_t i = 0; attributes[i] != NULL; i += 2)
        if (strcmp(attributes[i], name) == 0)
            return attributes[i + 1];
    for (size_t i = 0; attributes[i] != NULL; i += 2)
        if (strcmp(local(attributes[i]), name) == 0)
            return attributes[i + 1];
    return NULL;
}

static void stop(struct opened *o, const char *sentence, const char *remedy)
{
    if (o->outcome != OUTCOME_OK)
        return;
    fail(o->why, OUTCOME_DATA, "%s", sentence);
    failure_at(o->why, o->file, o->row, NULL);
    o->outcome = failure_remedy(o->why, "%s", remedy);
    if (o->parser != NULL)
        XML_StopParser(o->parser, XML_FALSE);
}

static void too_large(struct opened *o)
{
    stop(o, "The spreadsheet unpacks to more than a table of records can be.", "Save the one sheet that is needed as CSV (UTF-8).");
}

static void on_text(void *data, const char *at, int n)
{
    struct opened *o = data;
    if (!o->taking)
        return;
    if (o->text.n + (size_t)n > MOST_CELL_TEXT) {
        too_large(o);
        return;
    }
    text_add_n(&o->text, at, (size_t)n);
}

static void on_doctype(void *data, const char *name, const char *system, const char *public, int internal)
{
    (void)name;
    (void)system;
    (void)public;
    (void)internal;
    stop(data, "The spreadsheet declares a document type, which none saved by a spreadsheet program does; it is not read.",
         "Open it in a spreadsheet program and save it again, or save it as CSV (UTF-8).");
}

static void text_start(struct opened *o)
{
    o->taking = true;
    o->text.n = 0;
    if (o->text.at != NULL)
        o->text.at[0] = '\0';
}

static bool deeper(struct opened *o)
{
    if (++o->depth > DEEPEST)
        too_large(o);
    return o->depth <= DEEPEST;
}

/* One part of the package through a parser with these handlers. A part that is not there is an empty one if `optional`. */
static void part_read(struct opened *o, const char *path, bool optional, XML_StartElementHandler start, XML_EndElementHandler end)
{
    if (o->outcome != OUTCOME_OK)
        return;
    zip_file_t *part = zip_fopen(o->zip, path, ZIP_FL_NOCASE);
    if (part == NULL) {
        if (!optional)
            stop(o, "A part of the spreadsheet is missing or damaged.", "Open it in a spreadsheet program and save it again.");
        return;
    }
    o->parser = XML_ParserCreate(NULL);
    require(o->parser != NULL);
    XML_SetUserData(o->parser, o);
    XML_SetElementHandler(o->parser, start, end);
    XML_SetCharacterDataHandler(o->parser, on_text);
    XML_SetStartDoctypeDeclHandler(o->parser, on_doctype);
    o->depth = 0;
    o->taking = false;
    enum { BUFFER = 1 << 16 };
    char *buffer = memory_get(BUFFER, 1);
    for (zip_int64_t got = 1; got > 0 && o->outcome == OUTCOME_OK;) {
        got = zip_fread(part, buffer, BUFFER);
        if (got < 0) {
            stop(o, "The spreadsheet is damaged: a part of it does not unpack.", "Fetch it again, or save it again from its program.");
            break;
        }
        o->unpacked += (uint64_t)got;
        if (o->unpacked > MOST_UNPACKED || (o->unpacked > FREE_UNPACKED && o->unpacked / MOST_RATIO > o->packed)) {
            too_large(o);
            break;
        }
        if (XML_Parse(o->parser, buffer, (int)got, got == 0) == XML_STATUS_ERROR)
            stop(o, "The spreadsheet is damaged: a part of it is not well-formed XML.",
                 "Open it in a spreadsheet program and save it again.");
    }
    free(buffer);
    XML_ParserFree(o->parser);
    o->parser = NULL;
    zip_fclose(part);
}

/* ---- relations, workbook, styles, strings ---- */

static void relation_start(void *data, const char *name, const char **attributes)
{
    struct opened *o = data;
    if (!deeper(o) || strcmp(local(name), "Relationship") != 0)
        return;
    if (o->n_relations >= 4096) {
        too_large(o);
        return;
    }
    o->relations = column_room(o->relations, o->n_relations, &o->relations_room, sizeof *o->relations);
    const char *id = attribute(attributes, "Id"), *type = attribute(attributes, "Type"), *target = attribute(attributes, "Target");
    o->relations[o->n_relations++] =
        (struct relation){arena_text(o->arena, id == NULL ? "" : id), arena_text(o->arena, type == NULL ? "" : type),
                          arena_text(o->arena, target == NULL ? "" : target)};
}

static void plain_end(void *data, const char *name)
{
    (void)name;
    struct opened *o = data;
    o->depth--;
}

static void workbook_start(void *data, const char *name, const char **attributes)
{
    struct opened *o = data;
    if (!deeper(o))
        return;
    if (strcmp(local(name), "workbookPr") == 0) {
        const char *since = attribute(attributes, "date1904");
        o->since_1904 = since != NULL && (strcmp(since, "1") == 0 || strcmp(since, "true") == 0);
    } else if (strcmp(local(name), "sheet") == 0) {
        if (o->n_entries >= MOST_SHEETS) {
            too_large(o);
            return;
        }
        o->entries = column_room(o->entries, o->n_entries, &o->entries_room, sizeof *o->entries);
        const char *title = attribute(attributes, "name"), *state = attribute(attributes, "state");
        const char *id = NULL;
        for (size_t i = 0; attributes[i] != NULL; i += 2)
            if (strchr(attributes[i], ':') != NULL && strcmp(local(attributes[i]), "id") == 0)
                id = attributes[i + 1];
        o->entries[o->n_entries++] =
            (struct sheet_entry){arena_text(o->arena, title == NULL ? "" : title), arena_text(o->arena, id == NULL ? "" : id),
                                 state != NULL && strcmp(state, "visible") != 0};
    }
}

/* Whether a number format shows a date or a time: day, month, year, hour or second letters outside quotes and brackets. */
static bool format_is_date(const char *code)
{
    bool quoted = false;
    for (const char *p = code; *p != '\0'; p++) {
        if (*p == '"') {
            quoted = !quoted;
        } else if (quoted) {
            continue;
        } else if (*p == '\\' || *p == '_' || *p == '*') {
            if (p[1] != '\0')
                p++;
        } else if (*p == '[') {
            const char *end = strchr(p, ']');
            if (end == NULL)
                return false;
            bool elapsed = end - p == 2 || (end - p == 3 && tolower((unsigned char)p[1]) == tolower((unsigned char)p[2]));
            if (elapsed && strchr("hmsHMS", p[1]) != NULL)
                return true;
            p = end;
        } else if (*p == 'G' || *p == 'g') {
            return false; /* General */
        } else if (strchr("dDmMyYhHsS", *p) != NULL) {
            return true;
        } else if (*p == ';') {
            return false; /* only the first section speaks of positive numbers */
        }
    }
    return false;
}

static bool builtin_is_date(long id)
{
    return (id >= 14 && id <= 22) || (id >= 27 && id <= 36) || (id >= 45 && id <= 47) || (id >= 50 && id <= 58); /* ECMA-376 §18.8.30 */
}

static void styles_start(void *data, const char *name, const char **attributes)
{
    struct opened *o = data;
    if (!deeper(o))
        return;
    const char *is = local(name), *id = attribute(attributes, "numFmtId");
    if (strcmp(is, "cellXfs") == 0) {
        o->in_cell_styles = true;
    } else if (strcmp(is, "numFmt") == 0 && id != NULL) {
        const char *code = attribute(attributes, "formatCode");
        if (code != NULL && format_is_date(code) && o->n_formats < MOST_STYLES) {
            o->format_ids = column_room(o->format_ids, o->n_formats, &o->formats_room, sizeof *o->format_ids);
            o->format_ids[o->n_formats++] = (int)strtol(id, NULL, 10);
        }
    } else if (strcmp(is, "xf") == 0 && o->in_cell_styles) {
        if (o->n_styles >= MOST_STYLES) {
            too_large(o);
            return;
        }
        long number = id == NULL ? 0 : strtol(id, NULL, 10);
        bool date = builtin_is_date(number);
        for (size_t i = 0; i < o->n_formats && !date; i++)
            date = o->format_ids[i] == number;
        o->style_date = column_room(o->style_date, o->n_styles, &o->styles_room, sizeof *o->style_date);
        o->style_date[o->n_styles++] = date;
    }
}

static void styles_end(void *data, const char *name)
{
    struct opened *o = data;
    o->depth--;
    if (strcmp(local(name), "cellXfs") == 0)
        o->in_cell_styles = false;
}

static void strings_start(void *data, const char *name, const char **attributes)
{
    (void)attributes;
    struct opened *o = data;
    if (!deeper(o))
        return;
    const char *is = local(name);
    if (strcmp(is, "si") == 0) {
        text_start(o);
        o->taking = false;
        o->phonetic = false;
    } else if (strcmp(is, "rPh") == 0) {
        o->phonetic = true;
    } else if (strcmp(is, "t") == 0 && !o->phonetic) {
        o->taking = true;
    }
}

static void strings_end(void *data, const char *name)
{
    struct opened *o = data;
    o->depth--;
    const char *is = local(name);
    if (strcmp(is, "t") == 0) {
        o->taking = false;
    } else if (strcmp(is, "rPh") == 0) {
        o->phonetic = false;
    } else if (strcmp(is, "si") == 0) {
        if (o->n_strings >= MOST_STRINGS) {
            too_large(o);
            return;
        }
        o->strings = column_room(o->strings, o->n_strings, &o->strings_room, sizeof *o->strings);
        o->strings[o->n_strings++] = arena_text_n(o->arena, text_get(&o->text), o->text.n);
    }
}

/* ---- one sheet ---- */

/* "AB12" → column 27, row 12. False if it is no reference. */
static bool reference_read(const char *a, size_t *column, long *row)
{
    size_t c = 0;
    const char *p = a;
    while (*p == '$')
        p++;
    const char *letters = p;
    for (; isalpha((unsigned char)*p) && p - letters < 4; p++)
        c = c * 26 + (size_t)(toupper((unsigned char)*p) - 'A' + 1);
    if (p == letters)
        return false;
    while (*p == '$')
        p++;
    char *end = NULL;
    long r = strtol(p, &end, 10);
    if (end == p || r < 1 || r > 10000000)
        return false;
    *column = c - 1;
    *row = r;
    return true;
}

static void merge_add(struct opened *o, const char *reference)
{
    struct merge m = {0};
    long top = 0, bottom = 0;
    const char *colon = reference == NULL ? NULL : strchr(reference, ':');
    if (colon == NULL || o->n_merges >= MOST_MERGES || !reference_read(reference, &m.left, &top) ||
        !reference_read(colon + 1, &m.right, &bottom))
        return;
    m.top = (size_t)top;
    m.bottom = (size_t)bottom;
    o->merges = column_room(o->merges, o->n_merges, &o->merges_room, sizeof *o->merges);
    o->merges[o->n_merges++] = m;
}

static void sheet_start(void *data, const char *name, const char **attributes)
{
    struct opened *o = data;
    if (!deeper(o))
        return;
    const char *is = local(name);
    if (strcmp(is, "row") == 0) {
        const char *r = attribute(attributes, "r");
        long row = r == NULL ? o->row + 1 : strtol(r, NULL, 10);
        o->row = row > o->row && row <= 10000000 ? row : o->row + 1;
        o->column = 0;
    } else if (strcmp(is, "c") == 0) {
        const char *r = attribute(attributes, "r"), *t = attribute(attributes, "t"), *s = attribute(attributes, "s");
        long row = 0;
        size_t column = 0;
        if (r != NULL && reference_read(r, &column, &row) && column >= o->column)
            o->column = column;
        snprintf(o->type, sizeof o->type, "%s", t == NULL ? "n" : t);
        o->style = s == NULL ? 0 : (size_t)strtoul(s, NULL, 10);
        o->formula = false;
        o->in_cell = true;
        o->value = NULL;
        text_start(o);
        o->taking = false;
    } else if (o->in_cell && strcmp(is, "f") == 0) {
        o->formula = true;
    } else if (o->in_cell && strcmp(is, "rPh") == 0) {
        o->phonetic = true;
    } else if (o->in_cell && ((strcmp(is, "v") == 0) || (strcmp(is, "t") == 0 && !o->phonetic))) {
        o->taking = true;
    } else if (strcmp(is, "mergeCell") == 0) {
        merge_add(o, attribute(attributes, "ref"));
    }
}

/* A serial day as ISO 8601, with the time of day where there is one. NULL: not a day. */
static const char *serial_date(const struct opened *o, const char *stored)
{
    double serial = 0;
    if (!number_read(stored, &serial) || serial < 0 || serial > 2958466)
        return NULL;
    double day = floor(serial);
    long seconds = lround((serial - day) * 86400);
    if (seconds == 86400) {
        day += 1;
        seconds = 0;
    }
    if (day == 0 && !o->since_1904)
        return arena_print(o->arena, "%02ld:%02ld", seconds / 3600, seconds / 60 % 60);
    /* Serial 60 of the 1900 system is 29 February 1900, which never was; days before it are one later than the rest. */
    int32_t epoch = o->since_1904 ? date_make(1904, 1, 1) : day < 60 ? date_make(1899, 12, 31) : date_make(1899, 12, 30);
    char iso[16];
    date_write(epoch + (int32_t)day, iso);
    if (iso[0] == '\0' || (day == 60 && !o->since_1904))
        return NULL;
    return seconds == 0 ? arena_text(o->arena, iso) : arena_print(o->arena, "%sT%02ld:%02ld", iso, seconds / 3600, seconds / 60 % 60);
}

static struct sheet_cell cell_value(struct opened *o)
{
    struct sheet_cell cell = {.formula = o->formula};
    const char *stored = text_get(&o->text);
    if (strcmp(o->type, "s") == 0) {
        char *end = NULL;
        unsigned long at = strtoul(stored, &end, 10);
        if (end != stored && at < o->n_strings)
            cell.text = o->strings[at];
        cell.kind = text_blank(cell.text) ? SHEET_EMPTY : SHEET_TEXT;
        return cell;
    }
    if (o->text.n == 0)
        return cell;
    if (strcmp(o->type, "n") == 0) {
        const char *date = o->style < o->n_styles && o->style_date[o->style] ? serial_date(o, stored) : NULL;
        cell.text = date != NULL ? date : arena_text_n(o->arena, stored, o->text.n);
        cell.kind = date == NULL ? SHEET_NUMBER : strchr(date, '-') == NULL ? SHEET_TEXT : SHEET_DATE;
        double number = 0;
        if (cell.kind == SHEET_NUMBER && !number_read(cell.text, &number))
            cell.kind = SHEET_TEXT;
    } else if (strcmp(o->type, "b") == 0) {
        cell.text = stored[0] == '1' ? "TRUE" : "FALSE";
        cell.kind = SHEET_TRUTH;
    } else if (strcmp(o->type, "d") == 0) {
        cell.text = arena_text_n(o->arena, stored, o->text.n);
        cell.kind = SHEET_DATE;
    } else {
        cell.text = arena_text_n(o->arena, stored, o->text.n);
        cell.kind = strcmp(o->type, "e") == 0 ? SHEET_FAULT : text_blank(stored) ? SHEET_EMPTY : SHEET_TEXT;
    }
    return cell;
}

static void sheet_end(void *data, const char *name)
{
    struct opened *o = data;
    o->depth--;
    const char *is = local(name);
    if (strcmp(is, "v") == 0 || strcmp(is, "t") == 0) {
        o->taking = false;
    } else if (strcmp(is, "rPh") == 0) {
        o->phonetic = false;
    } else if (strcmp(is, "c") == 0 && o->in_cell) {
        o->in_cell = false;
        struct sheet_cell cell = cell_value(o);
        o->formulas += cell.formula && cell.text != NULL;
        if (cell.text != NULL && !build_cell(&o->build, o->column, cell))
            too_large(o);
        o->column++;
    } else if (strcmp(is, "row") == 0 && !build_row(&o->build, o->row)) {
        too_large(o);
    }
}

/* Cells covered by a merged one say what it says. */
static void merges_fill(struct opened *o)
{
    struct sheet_build *b = &o->build;
    for (size_t i = 0; i < o->n_merges; i++) {
        const struct merge *m = &o->merges[i];
        size_t low = 0, high = b->rows; /* first row of the sheet at or below the top */
        while (low < high) {
            size_t middle = (low + high) / 2;
            if ((size_t)b->lines[middle] < m->top)
                low = middle + 1;
            else
                high = middle;
        }
        if (low >= b->rows || (size_t)b->lines[low] != m->top || m->left >= b->widths[low] || b->cells[low][m->left].text == NULL ||
            m->right >= MOST_COLUMNS)
            continue;
        struct sheet_cell from = b->cells[low][m->left];
        from.merged = true;
        for (size_t row = low; row < b->rows && (size_t)b->lines[row] <= m->bottom; row++) {
            if (m->right >= b->widths[row]) {
                if (b->total + m->right >= MOST_CELLS) {
                    too_large(o);
                    return;
                }
                struct sheet_cell *wider = arena_array(o->arena, m->right + 1, sizeof *wider);
                if (b->widths[row] > 0)
                    memcpy(wider, b->cells[row], b->widths[row] * sizeof *wider);
                b->total += m->right + 1;
                b->cells[row] = wider;
                b->widths[row] = m->right + 1;
            }
            for (size_t column = m->left; column <= m->right; column++)
                if (b->cells[row][column].text == NULL)
                    b->cells[row][column] = from;
        }
    }
}

static const struct relation *relation_find(const struct opened *o, const char *id, const char *type_end)
{
    for (size_t i = 0; i < o->n_relations; i++) {
        const struct relation *r = &o->relations[i];
        size_t n = strlen(r->type), m = type_end == NULL ? 0 : strlen(type_end);
        if (id != NULL ? strcmp(r->id, id) == 0 : type_end != NULL && n >= m && strcmp(r->type + n - m, type_end) == 0)
            return r;
    }
    return NULL;
}

/* Path in the package of a target relative to the folder of the workbook. */
static const char *part_path(const struct opened *o, const char *folder, const char *target)
{
    if (target[0] == '/')
        return target + 1;
    while (strncmp(target, "./", 2) == 0)
        target += 2;
    if (strncmp(target, "../", 3) == 0)
        return target + 3;
    return arena_print(o->arena, "%s%s", folder, target);
}

static void sheet_take(struct opened *o, size_t i, const char *folder, struct record_sheet *out)
{
    const struct relation *r = relation_find(o, o->entries[i].relation, NULL);
    *out = (struct record_sheet){.name = o->entries[i].name, .file = o->file, .encoding = "", .hidden = o->entries[i].hidden};
    if (r == NULL || strstr(r->type, "chartsheet") != NULL)
        return;
    o->row = 0;
    o->formulas = 0;
    o->n_merges = 0;
    o->build = (struct sheet_build){.arena = o->arena};
    part_read(o, part_path(o, folder, r->target), false, sheet_start, sheet_end);
    merges_fill(o);
    if (o->formulas > 0)
        build_note(&o->build, "%zu cells hold formulas; the values they had when the file was last saved were read.", o->formulas);
    if (o->n_merges > 0)
        build_note(&o->build, "%zu merged cells; the cells they cover were read as saying the same.", o->n_merges);
    *out = build_done(&o->build);
    out->name = o->entries[i].name;
    out->file = o->file;
    out->hidden = o->entries[i].hidden;
}

static void package_read(struct opened *o, struct workbook *out)
{
    part_read(o, "_rels/.rels", false, relation_start, plain_end);
    if (o->outcome != OUTCOME_OK)
        return;
    const struct relation *main = relation_find(o, NULL, "/officeDocument");
    const char *path = main == NULL ? "xl/workbook.xml" : part_path(o, "", main->target);
    const char *slash = strrchr(path, '/');
    const char *folder = slash == NULL ? "" : arena_text_n(o->arena, path, (size_t)(slash - path) + 1);
    part_read(o, path, false, workbook_start, plain_end);
    o->n_relations = 0;
    part_read(o, arena_print(o->arena, "%s_rels/%s.rels", folder, path + strlen(folder)), false, relation_start, plain_end);
    if (o->outcome != OUTCOME_OK)
        return;
    const struct relation *styles = relation_find(o, NULL, "/styles"), *strings = relation_find(o, NULL, "/sharedStrings");
    if (styles != NULL)
        part_read(o, part_path(o, folder, styles->target), true, styles_start, styles_end);
    if (strings != NULL)
        part_read(o, part_path(o, folder, strings->target), true, strings_start, strings_end);
    if (o->n_entries == 0)
        stop(o, "The package holds no sheet.", "Choose an XLSX spreadsheet or a CSV file.");
    struct record_sheet *sheets = arena_array(o->arena, o->n_entries, sizeof *sheets);
    for (size_t i = 0; i < o->n_entries && o->outcome == OUTCOME_OK; i++)
        sheet_take(o, i, folder, &sheets[i]);
    if (o->outcome == OUTCOME_OK)
        *out = (struct workbook){.sheets = sheets, .n = o->n_entries};
}

enum outcome xlsx_read(const char *file, const char *bytes, size_t n, struct arena *arena, struct workbook *out, struct failure *why)
{
    struct opened o = {.arena = arena, .file = arena_text(arena, file), .packed = n, .why = why, .build = {.arena = arena}};
    zip_error_t error;
    zip_error_init(&error);
    zip_source_t *source = zip_source_buffer_create(bytes, n, 0, &error);
    require(source != NULL);
    o.zip = zip_open_from_source(source, ZIP_RDONLY, &error);
    if (o.zip == NULL) {
        zip_source_free(source);
        stop(&o, "The spreadsheet is damaged: it does not unpack.", "Fetch it again, or save it again from its program.");
    } else if (zip_name_locate(o.zip, "_rels/.rels", ZIP_FL_NOCASE) < 0) {
        stop(&o, "This is a packed file, but not an XLSX spreadsheet.", "Save the table as XLSX or as CSV (UTF-8).");
    } else {
        package_read(&o, out);
    }
    if (o.zip != NULL)
        zip_discard(o.zip);
    zip_error_fini(&error);
    build_free(&o.build);
    text_free(&o.text);
    free(o.relations);
    free(o.entries);
    free(o.strings);
    free(o.style_date);
    free(o.format_ids);
    free(o.merges);
    return o.outcome;
}
