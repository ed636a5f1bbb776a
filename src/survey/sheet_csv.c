/* SPDX-License-Identifier: GPL-3.0-or-later
 * Delimited text as programs and people write it: encoding, delimiter and rows (RFC 4180, read leniently, nothing trimmed).
 * Files of a few rows to a few hundred megabytes; one pass to decode, one to split. */
#include "survey/sheet_private.h"
#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* Code points of Windows-1252 80 to 9F (Unicode's CP1252.TXT); the five without a meaning stay control codes. */
static const unsigned short windows_1252[32] = {0x20AC, 0x81,   0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021, 0x02C6, 0x2030, 0x0160,
                                                0x2039, 0x0152, 0x8D,   0x017D, 0x8F,   0x90,   0x2018, 0x2019, 0x201C, 0x201D, 0x2022,
                                                0x2013, 0x2014, 0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0x9D,   0x017E, 0x0178};

static size_t utf8_put(unsigned code, char *out)
{
    if (code < 0x80) {
        out[0] = (char)code;
        return 1;
    }
    if (code < 0x800) {
        out[0] = (char)(0xC0 | (code >> 6));
        out[1] = (char)(0x80 | (code & 63));
        return 2;
    }
    if (code < 0x10000) {
        out[0] = (char)(0xE0 | (code >> 12));
        out[1] = (char)(0x80 | ((code >> 6) & 63));
        out[2] = (char)(0x80 | (code & 63));
        return 3;
    }
    out[0] = (char)(0xF0 | (code >> 18));
    out[1] = (char)(0x80 | ((code >> 12) & 63));
    out[2] = (char)(0x80 | ((code >> 6) & 63));
    out[3] = (char)(0x80 | (code & 63));
    return 4;
}

/* Length of the valid UTF-8 sequence at p, or 0 (Unicode 15, table 3-7). */
static size_t utf8_length(const unsigned char *p, size_t left)
{
    if (p[0] < 0x80)
        return 1;
    size_t n = p[0] >= 0xC2 && p[0] <= 0xDF ? 2 : p[0] >= 0xE0 && p[0] <= 0xEF ? 3 : p[0] >= 0xF0 && p[0] <= 0xF4 ? 4 : 0;
    if (n == 0 || n > left)
        return 0;
    for (size_t i = 1; i < n; i++)
        if ((p[i] & 0xC0) != 0x80)
            return 0;
    if ((p[0] == 0xE0 && p[1] < 0xA0) || (p[0] == 0xED && p[1] > 0x9F) || (p[0] == 0xF0 && p[1] < 0x90) || (p[0] == 0xF4 && p[1] > 0x8F))
        return 0;
    return n;
}

static bool utf8_whole(const unsigned char *p, size_t n)
{
    for (size_t at = 0; at < n;) {
        size_t step = utf8_length(p + at, n - at);
        if (step == 0)
            return false;
        at += step;
    }
    return true;
}

/* 'L', 'B' or 0: UTF-16 by its mark, or by every second byte of the start being NUL. */
static char utf16_order(const unsigned char *p, size_t n)
{
    if (n >= 2 && p[0] == 0xFF && p[1] == 0xFE)
        return 'L';
    if (n >= 2 && p[0] == 0xFE && p[1] == 0xFF)
        return 'B';
    size_t zero[2] = {0, 0}, look = n < 2000 ? n : 2000;
    for (size_t i = 0; i < look; i++)
        zero[i % 2] += p[i] == 0;
    if (look >= 8 && zero[1] > look / 2 * 7 / 10 && zero[0] == 0)
        return 'L';
    if (look >= 8 && zero[0] > look / 2 * 7 / 10 && zero[1] == 0)
        return 'B';
    return 0;
}

static char *from_utf16(const unsigned char *p, size_t n, char order, size_t *out_n, size_t *broken)
{
    char *out = memory_get(n / 2 * 3 + 4, 1);
    size_t at = 0, wide = 0;
    for (size_t i = 0; i + 1 < n; i += 2) {
        unsigned code = order == 'L' ? (unsigned)(p[i] | p[i + 1] << 8) : (unsigned)(p[i] << 8 | p[i + 1]);
        if (i == 0 && code == 0xFEFF)
            continue;
        if (code >= 0xD800 && code < 0xDC00 && i + 3 < n) {
            unsigned low = order == 'L' ? (unsigned)(p[i + 2] | p[i + 3] << 8) : (unsigned)(p[i + 2] << 8 | p[i + 3]);
            if (low >= 0xDC00 && low < 0xE000) {
                code = 0x10000 + ((code - 0xD800) << 10) + (low - 0xDC00);
                i += 2;
            }
        }
        if (code >= 0xD800 && code < 0xE000) {
            wide++;
            code = 0xFFFD;
        }
        at += utf8_put(code, out + at);
    }
    *broken = wide + n % 2;
    *out_n = at;
    return out;
}

static char *from_1252(const unsigned char *p, size_t n, size_t *out_n)
{
    char *out = memory_get(n * 3 + 1, 1);
    size_t at = 0;
    for (size_t i = 0; i < n; i++)
        at += utf8_put(p[i] >= 0x80 && p[i] < 0xA0 ? windows_1252[p[i] - 0x80] : p[i], out + at);
    *out_n = at;
    return out;
}

/* Fields of one line split by `delimiter`, quotes respected. */
static size_t line_fields(const char *p, size_t n, char delimiter)
{
    size_t fields = 1;
    bool quoted = false, start = true;
    for (size_t i = 0; i < n; i++) {
        if (p[i] == '"' && (quoted || start))
            quoted = !quoted;
        else if (p[i] == delimiter && !quoted)
            fields++;
        start = p[i] == delimiter;
    }
    return fields;
}

/* How well a delimiter fits: the share of lines with the commonest count of fields, halved if the first line differs. */
static double delimiter_score(const char *p, size_t n, char delimiter)
{
    enum { LOOK = 200, COUNTS = 512 };
    size_t counts[COUNTS] = {0}, lines = 0, first = 0;
    for (size_t at = 0; at < n && lines < LOOK;) {
        size_t end = at;
        while (end < n && p[end] != '\n' && p[end] != '\r')
            end++;
        size_t from = at;
        while (from < end && p[from] == ' ')
            from++;
        if (from < end && p[from] != '#') {
            size_t fields = line_fields(p + at, end - at, delimiter);
            if (lines == 0)
                first = fields;
            counts[fields < COUNTS ? fields : COUNTS - 1]++;
            lines++;
        }
        at = end + 1;
    }
    size_t best = 2;
    for (size_t i = 2; i < COUNTS; i++)
        if (counts[i] > counts[best])
            best = i;
    if (lines == 0 || counts[best] == 0)
        return 0;
    double score = (double)counts[best] / (double)lines;
    return first == best ? score : first > 1 ? 0.75 * score : 0.5 * score;
}

/* First line "sep=;" names the delimiter; *skip is then its length. */
static char delimiter_named(const char *p, size_t n, size_t *skip)
{
    if (n >= 5 && strncasecmp(p, "sep=", 4) == 0 && (n == 5 || p[5] == '\r' || p[5] == '\n')) {
        *skip = n > 6 && p[5] == '\r' && p[6] == '\n' ? 7 : n > 5 ? 6 : 5;
        return p[4];
    }
    return 0;
}

static char delimiter_guess(const char *p, size_t n)
{
    static const char candidates[] = {'\t', ';', '|', ','};
    char best = 0;
    double most = 0.3;
    for (size_t i = 0; i < sizeof candidates; i++) {
        double score = delimiter_score(p, n, candidates[i]);
        if (score > most + 1e-9) {
            most = score;
            best = candidates[i];
        }
    }
    if (best == 0 && delimiter_score(p, n, ' ') > 0.6)
        best = ' ';
    return best == 0 ? ',' : best;
}

struct splitting {
    struct sheet_build build;
    const char *p;
    size_t n, at;
    char delimiter;
    long line;
    size_t stray; ///< quotes that never end, taken as plain characters
    char *cell;   ///< the quoted cell being put together
    size_t cell_room;
};

/* End of a quoted cell that starts at `from` (after its quote), or SIZE_MAX: none within 30 lines. */
static size_t quote_end(const struct splitting *s, size_t from, long *lines)
{
    enum { LINES = 30 };
    *lines = 0;
    for (size_t i = from; i < s->n; i++) {
        if (s->p[i] == '\n' && ++*lines > LINES)
            return SIZE_MAX;
        if (s->p[i] != '"')
            continue;
        if (i + 1 < s->n && s->p[i + 1] == '"') {
            i++;
            continue;
        }
        size_t next = i + 1;
        while (next < s->n && s->p[next] == ' ' && s->delimiter != ' ')
            next++;
        if (next >= s->n || s->p[next] == s->delimiter || s->p[next] == '\n' || s->p[next] == '\r')
            return i;
    }
    return SIZE_MAX;
}

static char *quoted_text(struct splitting *s, size_t from, size_t to)
{
    char *out = arena_alloc(s->build.arena, to - from + 1);
    size_t at = 0;
    for (size_t i = from; i < to; i++) {
        out[at++] = s->p[i];
        if (s->p[i] == '"' && i + 1 < to && s->p[i + 1] == '"')
            i++;
    }
    out[at] = '\0';
    return out;
}

/* One cell; leaves `at` on the delimiter, line end or end of the text. */
static struct sheet_cell cell_next(struct splitting *s)
{
    size_t from = s->at;
    if (s->at < s->n && s->p[s->at] == '"') {
        long lines = 0;
        size_t end = quote_end(s, s->at + 1, &lines);
        if (end != SIZE_MAX) {
            char *text = quoted_text(s, s->at + 1, end);
            s->line += lines;
            s->at = end + 1;
            while (s->at < s->n && s->p[s->at] == ' ' && s->delimiter != ' ')
                s->at++;
            return (struct sheet_cell){.text = text, .kind = (unsigned char)text_kind(text)};
        }
        s->stray++;
    }
    while (s->at < s->n && s->p[s->at] != s->delimiter && s->p[s->at] != '\n' && s->p[s->at] != '\r')
        s->at++;
    char *text = arena_text_n(s->build.arena, s->p + from, s->at - from);
    return (struct sheet_cell){.text = text, .kind = (unsigned char)text_kind(text)};
}

static bool split_rows(struct splitting *s)
{
    while (s->at < s->n) {
        long line = s->line;
        size_t column = 0;
        for (bool more = true; more;) {
            if (s->delimiter == ' ')
                while (s->at < s->n && s->p[s->at] == ' ')
                    s->at++;
            struct sheet_cell cell = cell_next(s);
            bool trailing = s->delimiter == ' ' && cell.kind == SHEET_EMPTY;
            if (!trailing && !build_cell(&s->build, column++, cell))
                return false;
            more = s->at < s->n && s->p[s->at] == s->delimiter;
            s->at += more ? 1 : 0;
        }
        if (s->at < s->n && s->p[s->at] == '\r')
            s->at++;
        if (s->at < s->n && s->p[s->at] == '\n')
            s->at++;
        s->line++;
        if (!build_row(&s->build, line))
            return false;
    }
    return true;
}

static const char *delimiter_words(char delimiter)
{
    switch (delimiter) {
    case '\t':
        return "tab";
    case ';':
        return "semicolon";
    case '|':
        return "bar";
    case ' ':
        return "space";
    default:
        return "comma";
    }
}

enum outcome delimited_read(const char *file, const char *bytes, size_t n, struct arena *arena, struct workbook *out, struct failure *why)
{
    const unsigned char *raw = (const unsigned char *)bytes;
    struct splitting s = {.build = {.arena = arena}, .line = 1};
    char *owned = NULL;
    const char *encoding = "UTF-8";
    size_t broken = 0;
    char order = utf16_order(raw, n);
    enum outcome outcome = OUTCOME_OK;
    s.p = bytes;
    s.n = n;
    if (order != 0) {
        owned = from_utf16(raw, n, order, &s.n, &broken);
        s.p = owned;
        encoding = order == 'L' ? "UTF-16LE" : "UTF-16BE";
    } else if (n >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0 && utf8_whole(raw, n)) {
        s.p += 3;
        s.n -= 3;
    } else if (!utf8_whole(raw, n)) {
        owned = from_1252(raw, n, &s.n);
        s.p = owned;
        encoding = "Windows-1252";
        build_note(&s.build, "The text is not UTF-8; its letters were read as Windows-1252. Check that accents and umlauts look right.");
    }
    if (broken > 0)
        build_note(&s.build, "%zu characters of the UTF-16 text are broken.", broken);
    if (s.n > 0 && memchr(s.p, '\0', s.n) != NULL) {
        fail(why, OUTCOME_DATA, "The file holds NUL bytes, so it is not plain text.");
        failure_at(why, file, 0, NULL);
        outcome = failure_remedy(why, "Save the table as XLSX or as CSV (UTF-8) and try again.");
        goto done;
    }
    size_t skip = 0;
    s.delimiter = delimiter_named(s.p, s.n, &skip);
    if (skip > 0) {
        s.at = skip;
        s.line = 2;
    } else {
        s.delimiter = delimiter_guess(s.p, s.n);
    }
    if (!split_rows(&s)) {
        fail(why, OUTCOME_DATA, "The table has more than %d rows, %d columns or %d cells.", MOST_ROWS, MOST_COLUMNS, MOST_CELLS);
        failure_at(why, file, s.line, NULL);
        outcome = failure_remedy(why, "Split it into several files.");
        goto done;
    }
    if (s.stray > 0)
        build_note(&s.build, "%zu quotation marks never end; they were taken as plain characters. Look at the rows around them.", s.stray);
    build_note(&s.build, "Read as %s, cells separated by a %s.", encoding, delimiter_words(s.delimiter));
    struct record_sheet *sheet = arena_alloc(arena, sizeof *sheet);
    *sheet = build_done(&s.build);
    sheet->file = arena_text(arena, file);
    sheet->encoding = encoding;
    sheet->delimiter = s.delimiter;
    *out = (struct workbook){.sheets = sheet, .n = 1};
done:
    build_free(&s.build);
    free(owned);
    return outcome;
}
