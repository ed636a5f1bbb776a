/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of exchange/: the programme's rows as open formats that need no spinney, and back: a Data Package (tables as CSV
 * with their schema), a Darwin Core Archive, and the metadata of both. Rows in, files as bytes out; nothing is written here.
 * Workload: tens of thousands of records; everything is built in memory. */
#ifndef SPINNEY_EXCHANGE_H
#define SPINNEY_EXCHANGE_H
#include "geo/geo.h"
#include "model/model.h"
#include <jansson.h>

/// Living rows of every noun, by noun: of[noun].n structs of its type, one after another, in order of id.
struct exchange_rows {
    void *rows;
    size_t n;
};
struct exchange_set {
    struct exchange_rows of[NOUN_COUNT];
};

/// Where the row of this id stands in its noun, or SIZE_MAX.
size_t exchange_row(const struct exchange_set *set, enum noun noun, int64_t id);

/// On what terms the data leave.
struct exchange_terms {
    const char *licence;     ///< SPDX or Creative Commons identifier, such as CC-BY-4.0
    const char *title;       ///< NULL: the programme's name where names are kept, else "A programme of small dense woods"
    const char *contributor; ///< role or organisation to credit; NULL: "not named"
    const char *version;     ///< version of this program
    bool keep_names;         ///< free text, organisations and people's codes as they stand; false: withheld or coded anew
    bool keep_places;        ///< true places; false: every site is moved, whole, to the middle of its square
    double square_m;         ///< side of that square, 100 to 100,000 m
    int32_t made_on;         ///< day the package is made
};

/// A file of the package, at a path with forward slashes below its folder.
struct exchange_file {
    const char *path;
    struct bytes bytes;
};
struct exchange_files {
    struct exchange_file *file;
    size_t n, room;
};
/// Add one; bytes are copied into the arena.
void exchange_add(struct exchange_files *files, const char *path, const void *bytes, size_t n, struct arena *arena);

/// How a field leaves by default.
enum exchange_care {
    CARE_OPEN,     ///< as it stands
    CARE_WITHHELD, ///< left out ("withheld" where a value is required)
    CARE_CODED,    ///< people's codes, given anew as O01, O02 … in order of appearance, the same throughout
};
/// A text, JSON or bytes field that is not listed as open or coded is withheld, so that a new field cannot leak. All other
/// kinds (numbers, days, words of a list, keys) are open. common practice, no source.
enum exchange_care exchange_care_of(enum noun noun, const struct field *field);

/// What was held back, for the reader of the package.
struct exchange_withheld {
    size_t fields[NOUN_COUNT]; ///< values left out, by noun
    size_t coded;              ///< values coded anew
    size_t sensitive;          ///< wildlife records whose taxon was coded
    size_t sites_moved;
};
/// Copies of all rows as they may leave on these terms. The shapes of a site and all that is on it are moved together by whole
/// metres, so that areas, lengths and distances within it stay; the taxon of a record marked sensitive is coded. Rows, keys
/// and counts stay. Fails with OUTCOME_DATA where a shape cannot be read.
enum outcome exchange_withhold(const struct exchange_set *in, const struct exchange_terms *terms, struct arena *arena,
                               struct exchange_set *out, struct exchange_withheld *held, struct failure *why);

/// Data Package (Frictionless Data, version 2): data/<noun>.csv for each noun with rows or referred to, datapackage.json with a
/// table schema each (types, units in the description, limits, keys between tables by UUID, SHA-256 and size), dictionary.csv
/// with every column, known_errors.csv with the rows that wait for a decision. Shapes stand as WKT in the programme's metres.
/// CSV: UTF-8, comma, decimal point, ISO dates, blank is unknown; text that a spreadsheet would run as a formula, or that
/// begins with an apostrophe, is led by one apostrophe.
enum outcome exchange_package(const struct exchange_set *set, const struct exchange_terms *terms, struct arena *arena,
                              struct exchange_files *files, struct failure *why);
/// README.md, LICENCE.md, protocol.md and checksums.sha256 (of every file added before).
void exchange_words(const struct exchange_set *set, const struct exchange_terms *terms, const struct exchange_withheld *held,
                    struct arena *arena, struct exchange_files *files);
/// places/<layer>.geojson (RFC 7946, WGS 84) of sites, constraints, plots and plants.
enum outcome exchange_places(const struct exchange_set *set, struct arena *arena, struct exchange_files *files, struct failure *why);

/// Darwin Core Archive: event.csv (core: site, plot, visit to a plot, look for wildlife, soil sample), occurrence.csv,
/// measurement.csv (extended measurement or fact), humboldt.csv (Humboldt Extension 2024), meta.xml, eml.xml. `whole` is the
/// set before anything was withheld: a record marked sensitive appears with its taxon on an event of its own, in a square
/// of 10 km and without day or plot. Planted stock is degreeOfEstablishment "cultivated" and never native (Darwin Core
/// controlled vocabularies 2021). What was not scoped beforehand is not called complete, and no zero is inferred.
enum outcome exchange_darwin_core(const struct exchange_set *set, const struct exchange_set *whole, const struct exchange_terms *terms,
                                  struct arena *arena, struct exchange_files *files, struct failure *why);

/// What is asked of a collection of features (OGC API – Features, Part 1 and Part 3). Blank: no condition.
struct features_query {
    const char *id;       ///< this row's UUID
    const char *bbox;     ///< "west,south,east,north" in degrees; west > east goes over the antimeridian
    const char *datetime; ///< a day or an interval of days, open ends as ".."
    const char *filter;   ///< CQL2 text
    const struct features_equal {
        const char *name, *value;
    } * equal; ///< properties that equal a value
    size_t n_equal, limit, offset;
};
struct features_found {
    size_t matched, returned;
};
/// Rows of a noun that fit, in order of id, from `offset` on and at most `limit`, as a GeoJSON FeatureCollection in WGS 84 that the caller
/// releases. Rows without place have a null geometry; keys to other rows are UUIDs. OUTCOME_USAGE where the query is not understood.
enum outcome exchange_features(const struct exchange_set *set, enum noun noun, const struct features_query *query, json_t **out,
                               struct features_found *found, struct failure *why);
/// Where and when the rows of a noun are: west, south, east, north in degrees (NaN: no place), first and last day.
enum outcome exchange_extent(const struct exchange_set *set, enum noun noun, double box_deg[4], int32_t days[2], struct failure *why);
/// The date that `datetime` asks about: the first that is required, else the first; NULL: none.
const struct field *exchange_date_field(enum noun noun);
/// The columns of a noun as a new JSON Schema (draft 2020-12) of its queryables, with `id` as its address.
json_t *exchange_queryables(enum noun noun, const char *id);

/// The rows of a package, read back: files by path as they were written (only datapackage.json and data/<noun>.csv are looked at;
/// the hash of each table is checked where datapackage.json gives one). Keys between rows are resolved from UUIDs; the ids are
/// provisional, from 1 in each noun in the order of the file. Fails with OUTCOME_DATA, naming file, row and column.
enum outcome exchange_read(const struct exchange_file *files, size_t n, struct arena *arena, struct exchange_set *out, struct failure *why);
#endif
