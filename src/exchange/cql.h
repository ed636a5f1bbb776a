/* SPDX-License-Identifier: GPL-3.0-or-later
 * Conditions on rows in the text form of the Common Query Language (OGC 21-065r2, CQL2): comparisons, AND, OR, NOT, LIKE, BETWEEN,
 * IN, IS NULL, S_INTERSECTS with WKT or BBOX. Unknown is neither true nor false, as in the standard. */
#ifndef SPINNEY_EXCHANGE_CQL_H
#define SPINNEY_EXCHANGE_CQL_H
#include "exchange/inside.h"

struct cql; ///< a condition, in the arena it was read into

/// Read a condition on rows of this noun. Property names are its columns, "id" and, for a noun with a place, "geometry". Shapes are
/// longitude and latitude (CRS84); Fails with OUTCOME_USAGE,
/// saying where and what was expected. At most 64 levels and 100,000 characters.
enum outcome cql_read(const char *text, enum noun noun, struct arena *arena, struct cql **out, struct failure *why);

/// A row with what a condition needs besides.
struct cql_row {
    const struct exchange_set *set;
    const void *row;
    const struct shape *place; ///< in CRS84; NULL: none
};
/// Whether the condition is true of the row.
bool cql_holds(const struct cql *cql, const struct cql_row *row);
#endif
