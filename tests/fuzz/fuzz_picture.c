/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as a picture: refused, or a kind and a size that can be. */
#include "geo/picture.h"
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    struct picture picture;
    struct failure why = {0};
    if (picture_head((struct bytes){data, n}, &picture, &why) == OUTCOME_OK) {
        if (picture.media == NULL || picture.width < 1 || picture.height < 1 || picture.width > 65535 || picture.height > 65535)
            abort();
    } else if (why.sentence[0] == '\0')
        abort();
    return 0;
}
