/* SPDX-License-Identifier: GPL-3.0-or-later
 * What a picture is, from its first bytes: PNG or JPEG, and how large. Nothing is decoded. */
#ifndef SPINNEY_PICTURE_H
#define SPINNEY_PICTURE_H
#include "base/base.h"

struct picture {
    const char *media;     ///< "image/png" or "image/jpeg"
    int64_t width, height; ///< pixels, 1 to 65,535
};

/// Read the head of a PNG (W3C PNG, 11.2.2: IHDR is the first chunk) or of a JPEG (ITU-T T.81, B.2.2: a start-of-frame marker).
/// Fails with OUTCOME_DATA on anything else, and on a width or height of 0 or over 65,535. Whether the picture can be decoded
/// is not checked.
enum outcome picture_head(struct bytes bytes, struct picture *out, struct failure *why);
#endif
