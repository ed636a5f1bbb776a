/* SPDX-License-Identifier: GPL-3.0-or-later
 * Rows of any noun as JSON and back, for every face; geometry as in GeoJSON (RFC 7946) but in the programme's metres. */
#ifndef SPINNEY_MODEL_JSON_H
#define SPINNEY_MODEL_JSON_H
#include "model/model.h"
#include <jansson.h>

/// A row as a new JSON object: "id" (0: not stored yet), "uuid" (null where unset), then "x_m" and "y_m" for points or
/// "geometry" for shapes, then every field by its name. Unknown is null; dates are ISO text, enums their words, truths
/// true or false, json fields the value they hold, bytes lower-case hexadecimal. The caller releases it.
json_t *row_json(enum noun noun, const void *row);
/// Fill a row from such an object. `only_given`: fields that are absent stay as they are; otherwise the row is begun anew
/// and absent is unknown. A null is unknown. A member that is no field of the noun is refused, by name, and so is a value
/// of the wrong kind (OUTCOME_DATA; the column is the field). Limits are not checked: noun_check does that. Text and
/// geometry live in the arena. `row` is untouched on failure.
enum outcome row_from_json(enum noun noun, const json_t *json, bool only_given, void *row, struct arena *arena, struct failure *why);

/// ISO WKB (point, line, polygon, their multi forms, collections; two-dimensional, either byte order) as a new GeoJSON
/// geometry, coordinates as they stand. Fails with OUTCOME_DATA on anything else.
enum outcome wkb_to_json(struct bytes wkb, json_t **out, struct failure *why);
/// A GeoJSON geometry as little-endian ISO WKB in the arena. A third coordinate is refused, not dropped.
enum outcome wkb_from_json(const json_t *json, struct arena *arena, struct bytes *out, struct failure *why);
#endif
