/* SPDX-License-Identifier: GPL-3.0-or-later
 * A look at the bytes of a map file before any reader of them: what they are, and whether they are made to do harm. */
#include "geo/mapread.h"
#include <ctype.h>
#include <string.h>

static bool starts(struct bytes bytes, const char *mark, size_t n)
{
    return bytes.n >= n && memcmp(bytes.at, mark, n) == 0;
}

static bool ends(const char *name, const char *ending)
{
    size_t n = name == NULL ? 0 : strlen(name), m = strlen(ending);
    return n >= m && text_same_nocase(name + n - m, ending);
}

enum map_format map_format_of(const char *name, struct bytes bytes)
{
    if (starts(bytes, "PK\x03\x04", 4))
        return MAP_ZIP;
    if (starts(bytes, "SQLite format 3", 16))
        return MAP_GPKG;
    if (starts(bytes, "\x00\x00\x27\x0a", 4))
        return MAP_SHP;
    size_t i = starts(bytes, "\xef\xbb\xbf", 3) ? 3 : 0;
    while (i < bytes.n && isspace(bytes.at[i]))
        i++;
    if (i == bytes.n)
        return MAP_UNKNOWN;
    if (bytes.at[i] == '{' || bytes.at[i] == '[')
        return MAP_GEOJSON;
    if (bytes.at[i] == '<')
        return MAP_KML;
    if (isalpha(bytes.at[i]) && (ends(name, ".wkt") || ends(name, ".txt")))
        return MAP_WKT;
    return MAP_UNKNOWN;
}

size_t map_depth(struct bytes bytes, const char *open, const char *close)
{
    size_t depth = 0, most = 0;
    bool quoted = false;
    for (size_t i = 0; i < bytes.n; i++) {
        unsigned char c = bytes.at[i];
        if (quoted && c == '\\')
            i++;
        else if (c == '"')
            quoted = !quoted;
        else if (!quoted && c != 0 && strchr(open, c) != NULL && ++depth > most)
            most = depth;
        else if (!quoted && c != 0 && strchr(close, c) != NULL && depth > 0)
            depth--;
    }
    return most;
}

static const unsigned char *find(struct bytes bytes, size_t from, const char *words)
{
    return from >= bytes.n ? NULL : memmem(bytes.at + from, bytes.n - from, words, strlen(words));
}

static enum outcome scan_xml(struct bytes bytes, struct failure *why)
{
    if (memchr(bytes.at, 0, bytes.n) != NULL) {
        fail(why, OUTCOME_DATA, "The file is not in UTF-8.");
        return failure_remedy(why, "Save it as UTF-8.");
    }
    if (find(bytes, 0, "<!DOCTYPE") != NULL || find(bytes, 0, "<!ENTITY") != NULL) {
        fail(why, OUTCOME_DATA, "The file defines its own XML entities, which map data do not need.");
        return failure_remedy(why, "Take out the DOCTYPE, or save it again from the program it came from.");
    }
    struct bytes head = {bytes.at, bytes.n < 4096 ? bytes.n : 4096};
    if (find(head, 0, "<kml") == NULL && find(head, 0, ":kml") == NULL)
        return fail(why, OUTCOME_DATA, "The file is XML, but not KML.");
    size_t depth = 0;
    for (size_t i = 0; i + 1 < bytes.n; i++) {
        if (bytes.at[i] != '<')
            continue;
        unsigned char c = bytes.at[i + 1];
        const char *end = c == '?' ? "?>" : c != '!' ? ">" : starts((struct bytes){bytes.at + i, bytes.n - i}, "<!--", 4) ? "-->" : "]]>";
        const unsigned char *stop = find(bytes, i + 2, end);
        if (stop == NULL)
            return fail(why, OUTCOME_DATA, "The file breaks off inside a tag.");
        bool alone = stop[-1] == '/';
        i = (size_t)(stop - bytes.at) + strlen(end) - 1;
        if (c == '/')
            depth -= depth > 0;
        else if (c != '?' && c != '!' && !alone && ++depth > MAP_MOST_DEPTH)
            return fail(why, OUTCOME_DATA, "The file has more than %d elements inside each other.", MAP_MOST_DEPTH);
    }
    return OUTCOME_OK;
}

/* A layer that is a query could run without end; map files have no need of one. */
static bool has_view(struct bytes bytes)
{
    for (const unsigned char *at = find(bytes, 0, "CREATE"); at != NULL; at = find(bytes, (size_t)(at - bytes.at) + 6, "CREATE")) {
        size_t i = (size_t)(at - bytes.at) + 6;
        while (i < bytes.n && isspace(bytes.at[i]))
            i++;
        if (i + 4 <= bytes.n && strncasecmp((const char *)bytes.at + i, "VIEW", 4) == 0)
            return true;
    }
    return false;
}

enum outcome map_scan(enum map_format format, struct bytes bytes, struct failure *why)
{
    if (bytes.n > MAP_MOST_BYTES)
        return fail(why, OUTCOME_DATA, "The file is larger than the %d MiB that are read.", MAP_MOST_BYTES >> 20);
    if (format == MAP_KML)
        return scan_xml(bytes, why);
    if (format == MAP_GEOJSON && map_depth(bytes, "[{", "]}") > MAP_MOST_DEPTH)
        return fail(why, OUTCOME_DATA, "The file has more than %d brackets inside each other.", MAP_MOST_DEPTH);
    if (format == MAP_WKT && bytes.n > MAP_MOST_WKT)
        return fail(why, OUTCOME_DATA, "The text is longer than the %d MiB that are read.", MAP_MOST_WKT >> 20);
    if (format == MAP_WKT && map_depth(bytes, "(", ")") > MAP_MOST_DEPTH)
        return fail(why, OUTCOME_DATA, "The text has more than %d brackets inside each other.", MAP_MOST_DEPTH);
    if (format == MAP_GPKG && has_view(bytes)) {
        fail(why, OUTCOME_DATA, "The GeoPackage holds views (stored queries), which are not run here.");
        return failure_remedy(why, "Save the layer as a plain table, or as GeoJSON.");
    }
    return OUTCOME_OK;
}
