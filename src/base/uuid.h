/* SPDX-License-Identifier: GPL-3.0-or-later
 * Names that are unique over all copies of all files (RFC 9562). */
#ifndef SPINNEY_BASE_UUID_H
#define SPINNEY_BASE_UUID_H
#include <stdbool.h>
#include <stdint.h>

struct uuid {
    uint8_t b[16];
};
/// A fresh random one (version 4) from the system.
struct uuid uuid_fresh(void);
/// A repeatable one from a seed and a number (version 8), for generated data.
struct uuid uuid_from(uint64_t seed, uint64_t number);
bool uuid_unset(const struct uuid *uuid); ///< all zero
void uuid_write(const struct uuid *uuid, char out[37]);
bool uuid_read(const char *a, struct uuid *out);
#endif
