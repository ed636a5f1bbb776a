/* SPDX-License-Identifier: GPL-3.0-or-later
 * What describes a noun and its fields, so that storing, showing, importing and exporting need no code per noun. */
#ifndef SPINNEY_MODEL_FIELD_H
#define SPINNEY_MODEL_FIELD_H
#include "base/base.h"

enum field_kind { FIELD_TEXT, FIELD_JSON, FIELD_MOMENT, FIELD_INT, FIELD_REAL, FIELD_DATE, FIELD_BYTES, FIELD_REF, FIELD_ENUM };
enum geometry_kind { GEOMETRY_NONE, GEOMETRY_POINT, GEOMETRY_POLYGON, GEOMETRY_ANY };

/// One field. In a struct: text, json and moment are `const char *` (NULL unknown); int and ref int64_t (INT_UNKNOWN;
/// a ref of 0 is unknown); real double (NaN); date int32_t (DATE_UNKNOWN); bytes struct bytes; enum its enum (0 unknown).
struct field {
    const char *name; ///< column and JSON key, unit in the name
    enum field_kind kind;
    size_t offset;    ///< in the noun's struct
    const char *unit; ///< "" if none
    double least, most;
    bool required;
    int words;  ///< enum word_list, for FIELD_ENUM
    int target; ///< enum noun, for FIELD_REF
    const char *about;
};

struct noun_info {
    const char *name; ///< table and layer name
    const char *about;
    enum geometry_kind geometry;
    size_t geometry_offset; ///< of x_m (point) or wkb
    size_t size;            ///< of the struct
    const struct field *fields;
    size_t n_fields;
};

struct words {
    const char *name;
    const char *const *word; ///< word[0] is "unknown"
    int n;
};
#endif
