/* SPDX-License-Identifier: GPL-3.0-or-later
 * One form for values everywhere: 78 % (71–84), 234 of 300. */
#ifndef SPINNEY_DRAW_VALUE_H
#define SPINNEY_DRAW_VALUE_H
#include "base/base.h"

/// An estimate with its interval. `low` and `high` are unknown where there is no interval; all unknown: not known.
struct draw_value {
    double value, low, high;
};

/// "78 % (71–84)": `digits` after the point, the unit once, an en dash between the limits ("to" where a limit is
/// negative), a true minus sign. No interval: "78 %". Value unknown but limits known: "between 71 and 84 %".
/// All unknown: "not known". `unit` may be NULL or "".
void value_write(struct draw_value value, int digits, const char *unit, char out[120]);
/// The same with its count: "78 % (71–84), 234 of 300". Below `n_least` (10 where 0) no percentage is shown:
/// "4 of 5 (interval 38–96 %)". `value` in per cent.
void value_write_share(struct draw_value value, int64_t k, int64_t n, int n_least, char out[160]);
/// A plain number with thousands set apart by a narrow space: "12 480". Unknown: "not known".
void value_write_number(double x, int digits, char out[80]);
#endif
