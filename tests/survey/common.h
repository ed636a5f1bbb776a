/* SPDX-License-Identifier: GPL-3.0-or-later
 * A small invented programme for the tests of survey/, and short ways through its trip. */
#ifndef SPINNEY_TEST_SURVEY_COMMON_H
#define SPINNEY_TEST_SURVEY_COMMON_H
#include "survey/survey.h"

/// Two sites; on the first plots D1 and C1 with squares A01 to H08, two plants in each (labels D-0001 …, C-0001 …).
struct town {
    struct arena arena;
    struct survey_ground ground;
    struct plant *plants;
    struct plant_record *records; ///< room for `room`
    size_t room;
};
struct town *town_make(void);
void town_free(struct town *town);
/// Plant of a plot (0: D1, 1: C1) by row, column and number from 1.
struct plant *town_plant(struct town *town, int plot, int row, int column, int number);
/// A record of every plant on this visit, alive, with these heights times a seeded spread.
void town_census(struct town *town, int64_t visit, int32_t day, double height_cm);
/// The record of a plant on a visit among the earlier ones.
struct plant_record *town_record(struct town *town, const struct plant *plant, int64_t visit);

/// What came of a file brought in with these options and answers ("height_cm=Höhe", "?dates=dmy"), ended by NULL.
struct trip {
    struct workbook book;
    struct mapping mapping;
    struct import_result result;
    struct failure why;
    enum outcome outcome;
};
struct trip bring(struct town *town, enum record_kind kind, const char *text, const char *const *said);
struct trip bring_bytes(struct town *town, enum record_kind kind, const char *bytes, size_t n, const char *const *said);
const struct question *asked(const struct trip *trip, const char *id);
/// Held rows with a doubt of this check; *first (may be NULL) gets one of them.
size_t held_by(const struct import_result *result, const char *check, const struct held **first);
size_t remarked(const struct import_result *result, const char *check, const struct doubt **first);
const struct doubt *doubt_of(const struct held *held, const char *check);
bool remedy_offered(const struct doubt *doubt, const char *decision);
void assert_adds_up(const struct import_result *result);
#endif
