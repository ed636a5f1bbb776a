/* SPDX-License-Identifier: GPL-3.0-or-later
 * Runs a fuzz target without libFuzzer: every seed file named (or in a folder named), then seeded changes of each: bytes
 * altered, cut short, doubled. SPINNEY_FUZZ_RUNS sets how many changes of each seed (100). The same changes every time. */
#include "base/base.h"
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

static long tried;

static void once(const uint8_t *data, size_t n)
{
    uint8_t *exact = memory_get(n, 1); /* so that reading past the end is seen */
    if (n > 0)
        memcpy(exact, data, n);
    LLVMFuzzerTestOneInput(exact, n);
    free(exact);
    tried++;
}

static size_t alter(struct random_stream *r, const uint8_t *seed, size_t n, uint8_t *out)
{
    static const uint8_t telling[] = {0, 1, 0x7f, 0x80, 0xff, '"', '{', '[', ',', '-', '\n', 0xc0};
    memcpy(out, seed, n);
    size_t changes = 1 + random_below(r, 24), here = random_below(r, n);
    for (size_t i = 0; i < changes; i++) {
        size_t at = random_below(r, 3) == 0 ? random_below(r, n) : (here + random_below(r, 200)) % n;
        out[at] = random_below(r, 2) == 0 ? telling[random_below(r, sizeof telling)] : (uint8_t)random_below(r, 256);
    }
    if (random_below(r, 8) == 0)
        return random_below(r, n + 1);
    if (random_below(r, 8) == 0) {
        size_t from = random_below(r, n), length = random_below(r, n - from + 1), to = random_below(r, n - length + 1);
        memmove(out + to, seed + from, length);
    }
    return n;
}

static void replay(const char *path, long runs)
{
    struct stat about;
    struct arena arena = {0};
    struct failure why = {0};
    char *seed = NULL;
    size_t n = 0;
    if (stat(path, &about) == 0 && S_ISDIR(about.st_mode)) {
        struct dirent **names = NULL;
        int found = scandir(path, &names, NULL, alphasort);
        for (int i = 0; i < found; i++) {
            if (names[i]->d_name[0] != '.')
                replay(arena_print(&arena, "%s/%s", path, names[i]->d_name), runs);
            free(names[i]);
        }
        free(names);
        arena_clear(&arena);
        return;
    }
    if (file_read(path, 0, &arena, &seed, &n, &why) != OUTCOME_OK) {
        fprintf(stderr, "%s: %s\n", path, why.sentence);
        exit(1);
    }
    once((const uint8_t *)seed, n);
    struct random_stream r = random_make(n, 77);
    uint8_t *out = memory_get(n, 1);
    for (long i = 0; i < runs && n > 0; i++)
        once(out, alter(&r, (const uint8_t *)seed, n, out));
    free(out);
    arena_clear(&arena);
}

int main(int argc, char **argv)
{
    const char *wish = getenv("SPINNEY_FUZZ_RUNS");
    long runs = wish == NULL ? 100 : atol(wish);
    once(NULL, 0);
    for (int i = 1; i < argc; i++)
        replay(argv[i], runs);
    printf("%ld inputs, none brought it down\n", tried);
    return argc > 1 && tried > 1 ? 0 : 1;
}
