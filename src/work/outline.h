/* SPDX-License-Identifier: GPL-3.0-or-later
 * Map data coming into a job: from a file or pasted, one feature or several, mended or refused with words. */
#ifndef SPINNEY_WORK_OUTLINE_H
#define SPINNEY_WORK_OUTLINE_H
#include "work/load.h"

/* The options that such a job has; use them first in its table. */
#define OUTLINE_OPTIONS                                                                                                                    \
    {"map", OPTION_FILE_IN, false, "FILE", "GeoJSON, GeoPackage, Shapefile (zipped too) or KML"},                                          \
        {"wkt", OPTION_TEXT, false, "WKT", "outline as pasted text instead of a file"},                                                    \
        {"from_crs", OPTION_TEXT, false, "EPSG:N", "reference system of the file or text, where it names none"},                           \
        {"layer", OPTION_TEXT, false, "NAME", "this layer of the file"},                                                                   \
        {"feature", OPTION_INTEGER, false, "N", "this feature, counted from 1"},                                                           \
    {                                                                                                                                      \
        "swap", OPTION_FLAG, false, NULL, "latitude and longitude are the wrong way round in the file"                                     \
    }

/// Read what the options name into `to_crs`. `near` is the site where there is one.
enum outcome outline_read(const struct job_context *context, const json_t *in, const char *to_crs, enum map_use use,
                          const struct shape *near, struct arena *arena, struct map_data *out, struct failure *why);
/// The one feature that the options name, or the only one. With several it lists them in the remedy.
enum outcome outline_one(const struct map_data *data, const json_t *in, const struct map_feature **out, struct failure *why);
/// What was mended, as a section of the note; nothing where nothing was.
void outline_said(json_t *note, const struct map_data *data, const struct map_feature *one);
/// A shape as GeoJSON geometry in the programme's metres, for the data of a note.
json_t *outline_json(const struct shape *shape);
#endif
