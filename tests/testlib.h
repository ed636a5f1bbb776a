/* SPDX-License-Identifier: GPL-3.0-or-later
 * What every test program needs: cmocka with its headers, and the folder of real data, which may be absent. */
#ifndef SPINNEY_TESTLIB_H
#define SPINNEY_TESTLIB_H
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

/// Two doubles closer than `tolerance`; says both when not.
#define assert_near(got, wanted, tolerance)                                                                                           \
    do {                                                                                                                              \
        double got_ = (got), wanted_ = (wanted);                                                                                      \
        if (!(fabs(got_ - wanted_) <= (tolerance)))                                                                                   \
            fail_msg("%s is %.12g, wanted %.12g within %g", #got, got_, wanted_, (double)(tolerance));                                \
    } while (0)

/// Path of a file of the shared real data, or NULL if it is not there: then call skip().
static inline const char *shared_path(const char *name)
{
    static char path[4096];
    const char *folder = getenv("SPINNEY_SHARED");
    snprintf(path, sizeof path, "%s/%s", folder == NULL ? "../shared" : folder, name);
    return access(path, R_OK) == 0 ? path : NULL;
}
#endif
