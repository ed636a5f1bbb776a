/* SPDX-License-Identifier: GPL-3.0-or-later
 * Heads of PNG and JPEG files. Every byte is looked at only after its place was checked against the length. */
#include "geo/picture.h"
#include <string.h>

static int64_t big_endian(const unsigned char *at, int n)
{
    int64_t x = 0;
    for (int i = 0; i < n; i++)
        x = x << 8 | at[i];
    return x;
}

static bool png_head(struct bytes bytes, struct picture *out)
{
    static const unsigned char mark[16] = {0x89, 'P', 'N', 'G', '\r', '\n', 0x1a, '\n', 0, 0, 0, 13, 'I', 'H', 'D', 'R'};
    if (bytes.n < 24 || memcmp(bytes.at, mark, sizeof mark) != 0)
        return false;
    *out = (struct picture){"image/png", big_endian(bytes.at + 16, 4), big_endian(bytes.at + 20, 4)};
    return true;
}

/* Markers follow each other, each with its length, until the frame begins. */
static bool jpeg_head(struct bytes bytes, struct picture *out)
{
    if (bytes.n < 4 || bytes.at[0] != 0xff || bytes.at[1] != 0xd8)
        return false;
    for (size_t at = 2; at + 9 < bytes.n;) {
        unsigned char marker = bytes.at[at + 1];
        if (bytes.at[at] != 0xff)
            return false;
        if (marker == 0xff) { /* fill */
            at++;
            continue;
        }
        bool frame = marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc;
        if (frame) {
            *out = (struct picture){"image/jpeg", big_endian(bytes.at + at + 7, 2), big_endian(bytes.at + at + 5, 2)};
            return true;
        }
        int64_t length = big_endian(bytes.at + at + 2, 2);
        if (length < 2)
            return false;
        at += 2 + (size_t)length;
    }
    return false;
}

enum outcome picture_head(struct bytes bytes, struct picture *out, struct failure *why)
{
    struct picture found;
    if (!png_head(bytes, &found) && !jpeg_head(bytes, &found)) {
        fail(why, OUTCOME_DATA, "This is neither a PNG nor a JPEG picture.");
        return failure_remedy(why, "Save it as PNG or JPEG. The workbench also reads GeoTIFF.");
    }
    if (found.width < 1 || found.height < 1 || found.width > 65535 || found.height > 65535)
        return fail(why, OUTCOME_DATA, "The picture says it is %lld by %lld pixels, which cannot be.", (long long)found.width,
                    (long long)found.height);
    *out = found;
    return OUTCOME_OK;
}
