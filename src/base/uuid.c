/* SPDX-License-Identifier: GPL-3.0-or-later
 * UUIDs: fresh from the system, or repeatable from a seed. */
#include "base/uuid.h"
#include "base/outcome.h"
#include "base/random.h"
#include <string.h>
#include <sys/random.h>

static struct uuid stamped(struct uuid uuid, unsigned version)
{
    uuid.b[6] = (uint8_t)((uuid.b[6] & 0x0f) | (version << 4));
    uuid.b[8] = (uint8_t)((uuid.b[8] & 0x3f) | 0x80);
    return uuid;
}

struct uuid uuid_fresh(void)
{
    struct uuid uuid;
    require(getentropy(uuid.b, sizeof uuid.b) == 0);
    return stamped(uuid, 4);
}

struct uuid uuid_from(uint64_t seed, uint64_t number)
{
    uint32_t counter[4] = {(uint32_t)number, (uint32_t)(number >> 32), 0x75756964u, 0}, key[2] = {(uint32_t)seed, (uint32_t)(seed >> 32)};
    uint32_t words[4];
    random_philox(counter, key, words);
    struct uuid uuid;
    for (int i = 0; i < 16; i++)
        uuid.b[i] = (uint8_t)(words[i / 4] >> (8 * (i % 4)));
    return stamped(uuid, 8);
}

bool uuid_unset(const struct uuid *uuid)
{
    static const struct uuid none;
    return memcmp(uuid->b, none.b, sizeof none.b) == 0;
}

void uuid_write(const struct uuid *uuid, char out[37])
{
    static const char digits[] = "0123456789abcdef";
    char *p = out;
    for (int i = 0; i < 16; i++) {
        if (i == 4 || i == 6 || i == 8 || i == 10)
            *p++ = '-';
        *p++ = digits[uuid->b[i] >> 4];
        *p++ = digits[uuid->b[i] & 15];
    }
    *p = '\0';
}

static int hex_digit(char a)
{
    return a >= '0' && a <= '9' ? a - '0' : a >= 'a' && a <= 'f' ? a - 'a' + 10 : a >= 'A' && a <= 'F' ? a - 'A' + 10 : -1;
}

bool uuid_read(const char *a, struct uuid *out)
{
    struct uuid uuid;
    if (a == NULL || strlen(a) != 36)
        return false;
    for (int i = 0, at = 0; i < 16; i++, at += 2) {
        if (i == 4 || i == 6 || i == 8 || i == 10)
            if (a[at++] != '-')
                return false;
        int high = hex_digit(a[at]), low = hex_digit(a[at + 1]);
        if (high < 0 || low < 0)
            return false;
        uuid.b[i] = (uint8_t)(high * 16 + low);
    }
    *out = uuid;
    return true;
}
