/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the formats share: finding rows by id, fingerprints, cells that do no harm, and what the package is called. */
#include "exchange/inside.h"
#include <sodium.h>
#include <string.h>

const void *exchange_find(const struct exchange_set *set, enum noun noun, int64_t id)
{
    const char *rows = set->of[noun].rows;
    size_t low = 0, high = set->of[noun].n, size = noun_infos[noun].size;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        int64_t here = *(const int64_t *)(const void *)(rows + middle * size);
        if (here == id)
            return rows + middle * size;
        if (here < id)
            low = middle + 1;
        else
            high = middle;
    }
    return NULL;
}

size_t exchange_row(const struct exchange_set *set, enum noun noun, int64_t id)
{
    const char *row = exchange_find(set, noun, id);
    return row == NULL ? SIZE_MAX : (size_t)(row - (const char *)set->of[noun].rows) / noun_infos[noun].size;
}

static const struct uuid *uuid_in(const void *row)
{
    return (const struct uuid *)(const void *)((const char *)row + sizeof(int64_t));
}

const char *exchange_uuid(const struct exchange_set *set, enum noun noun, int64_t id, struct arena *arena)
{
    const void *row = id == 0 ? NULL : exchange_find(set, noun, id);
    if (row == NULL)
        return NULL;
    char out[37];
    uuid_write(uuid_in(row), out);
    return arena_text(arena, out);
}

void exchange_sha256(const void *bytes, size_t n, char out[65])
{
    unsigned char hash[crypto_hash_sha256_BYTES];
    crypto_hash_sha256(hash, bytes, n);
    sodium_bin2hex(out, 65, hash, sizeof hash);
}

const char *exchange_guard(const char *text, struct arena *arena)
{
    return text != NULL && *text != '\0' && strchr("=+-@'\t\r", *text) != NULL ? arena_print(arena, "'%s", text) : text;
}

const struct programme *exchange_programme(const struct exchange_set *set)
{
    return set->of[NOUN_PROGRAMME].n > 0 ? set->of[NOUN_PROGRAMME].rows : NULL;
}

const char *exchange_title(const struct exchange_set *set, const struct exchange_terms *terms)
{
    const struct programme *programme = exchange_programme(set);
    if (terms->title != NULL)
        return terms->title;
    return terms->keep_names && programme != NULL ? programme->name : "A programme of small dense native woods beside comparison plots";
}

const char *exchange_abstract(const struct exchange_set *set, struct arena *arena)
{
    size_t planted = 0;
    const struct plot *plots = set->of[NOUN_PLOT].rows;
    for (size_t i = 0; i < set->of[NOUN_PLOT].n; i++)
        planted += plots[i].planted_on != DATE_UNKNOWN;
    return arena_print(
        arena,
        "Small, densely planted native woods on urban ground, each beside a conventionally planted comparison plot where one is "
        "given: %zu sites, %zu plots (%zu planted), %zu plants, %zu visits with %zu records of plants, %zu looks for wildlife with "
        "%zu records, %zu soil samples and %zu lines of cost. Planted stock is no wild occurrence.",
        set->of[NOUN_SITE].n, set->of[NOUN_PLOT].n, planted, set->of[NOUN_PLANT].n, set->of[NOUN_VISIT].n, set->of[NOUN_PLANT_RECORD].n,
        set->of[NOUN_WILDLIFE_VISIT].n, set->of[NOUN_WILDLIFE_RECORD].n, set->of[NOUN_SOIL_SAMPLE].n, set->of[NOUN_COST_ITEM].n);
}

const char *exchange_licence_page(const char *licence)
{
    static const char *const pages[][2] = {
        {"CC0-1.0", "https://creativecommons.org/publicdomain/zero/1.0/"},
        {"CC-BY-4.0", "https://creativecommons.org/licenses/by/4.0/"},
        {"CC-BY-SA-4.0", "https://creativecommons.org/licenses/by-sa/4.0/"},
        {"CC-BY-NC-4.0", "https://creativecommons.org/licenses/by-nc/4.0/"},
        {"ODbL-1.0", "https://opendatacommons.org/licenses/odbl/1-0/"},
        {"ODC-By-1.0", "https://opendatacommons.org/licenses/by/1-0/"},
        {"PDDL-1.0", "https://opendatacommons.org/licenses/pddl/1-0/"},
    };
    for (size_t i = 0; i < sizeof pages / sizeof *pages; i++)
        if (text_same(pages[i][0], licence))
            return pages[i][1];
    return NULL;
}

void exchange_add(struct exchange_files *files, const char *path, const void *bytes, size_t n, struct arena *arena)
{
    if (files->n == files->room) {
        size_t room = files->room == 0 ? 32 : 2 * files->room;
        struct exchange_file *more = arena_array(arena, room, sizeof *more);
        if (files->n > 0)
            memcpy(more, files->file, files->n * sizeof *more);
        files->file = more;
        files->room = room;
    }
    files->file[files->n++] =
        (struct exchange_file){.path = arena_text(arena, path),
                               .bytes = {.at = (const unsigned char *)arena_text_n(arena, bytes == NULL ? "" : bytes, n), .n = n}};
}
