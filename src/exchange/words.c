/* SPDX-License-Identifier: GPL-3.0-or-later
 * What a person reads first in a package: README, licence, protocol, checksums; and the shapes for a map. */
#include "exchange/inside.h"
#include <string.h>

static void protocols(const struct exchange_set *set, struct text *out)
{
    const struct protocol *rules = set->of[NOUN_PROTOCOL].rows;
    text_add(out, "# Rules of judging\n\nEach version as it stood. A change after results were known is a new version.\n");
    if (set->of[NOUN_PROTOCOL].n == 0)
        text_add(out, "\nNo rules were written down before the outcome was known: differences are findings made afterwards.\n");
    for (size_t i = 0; i < set->of[NOUN_PROTOCOL].n; i++) {
        char day[24] = "not locked: a draft";
        if (rules[i].locked_on != DATE_UNKNOWN)
            date_write(rules[i].locked_on, day);
        text_print(out, "\n## Version %s (locked %s)\n", rules[i].version, day);
        const struct noun_info *info = &noun_infos[NOUN_PROTOCOL];
        for (size_t j = 0; j < info->n_fields; j++) {
            const char *words = info->fields[j].kind == FIELD_TEXT
                                    ? *(const char *const *)(const void *)((const char *)&rules[i] + info->fields[j].offset)
                                    : NULL;
            if (words != NULL && strcmp(info->fields[j].name, "version") != 0)
                text_print(out, "\n- %s: %s", info->fields[j].about, words);
        }
        text_add(out, "\n");
    }
}

static void readme(const struct exchange_set *set, const struct exchange_terms *terms, const struct exchange_withheld *held,
                   struct arena *arena, struct text *out)
{
    const struct programme *programme = exchange_programme(set);
    char day[16];
    date_write(terms->made_on, day);
    text_print(out, "# %s\n\n%s\n\nMade on %s with spinney %s. Licence: %s. Credit: %s.\n", exchange_title(set, terms),
               exchange_abstract(set, arena), day, terms->version, terms->licence,
               terms->contributor == NULL ? "not named" : terms->contributor);
    if (programme != NULL)
        text_print(out, "Coordinates of the tables: EPSG:%lld, metres. Money: %s without tax.\n", (long long)programme->crs,
                   programme->currency);
    text_add(out, "\n## What is here\n\n"
                  "- `datapackage.json`: describes every table of `data/` (Frictionless Data Package, version 2)\n"
                  "- `data/*.csv`: UTF-8, comma, decimal point, ISO dates; a blank is unknown, never zero; a leading apostrophe only keeps "
                  "a spreadsheet from running the text as a formula\n"
                  "- `dictionary.csv`: every column with its unit, its words and how it leaves the programme\n"
                  "- `known_errors.csv`: rows of spreadsheets that were held for a decision, with what was found\n"
                  "- `protocol.md`: the rules of judging, with the day they were locked\n"
                  "- `places/*.geojson`: sites, constraints, plots, plants for a map (WGS 84)\n"
                  "- `programme.gpkg`: the same rows as a GeoPackage\n"
                  "- `darwin_core/` and `darwin_core.zip`: Darwin Core Archive with Humboldt Extension and EML\n"
                  "- `LICENCE.md`, `checksums.sha256` (`sha256sum -c checksums.sha256`)\n\n## What was changed on the way out\n\n");
    size_t fields = 0;
    for (int noun = 0; noun < NOUN_COUNT; noun++)
        fields += held->fields[noun];
    if (terms->keep_names)
        text_add(out, "- Names and free text stand as recorded: look them through before you publish.\n");
    else
        text_print(out,
                   "- %zu values of free text, organisations and letters are withheld; %zu codes of people are given anew (O01, O02 …).\n",
                   fields, held->coded);
    if (terms->keep_places)
        text_add(out, "- Places are true. Sensitive wildlife stands with its place in the tables: think before you publish.\n");
    else
        text_print(
            out,
            "- Every site was moved, whole, to the middle of its square of %.0f m; what lies on it moved with it, so areas, lengths and "
            "distances within a site are true, places and distances between sites are not. The outline of a site can still be "
            "recognised by someone who has a map.\n"
            "- %zu records of sensitive wildlife: the taxon is coded here; in the Darwin Core Archive it stands without day or plot, in a "
            "square of 10 km.\n",
            terms->square_m, held->sensitive);
    text_add(out, "- Files that were brought in are not here, only their fingerprints.\n\n## What to be careful of\n\n"
                  "- Planted trees are not wild occurrences; natural arrivals may be their offspring.\n"
                  "- One site is one replicate. Plants of one plot are alike, and say little about other plots.\n"
                  "- A plant that was not found is neither alive nor dead.\n"
                  "- Wildlife: looks differ in time and method; nothing was scoped as complete unless its protocol says so.\n"
                  "- Soil carbon after compost is mostly the compost.\n");
}

void exchange_words(const struct exchange_set *set, const struct exchange_terms *terms, const struct exchange_withheld *held,
                    struct arena *arena, struct exchange_files *files)
{
    struct text out = {0}, sums = {0};
    readme(set, terms, held, arena, &out);
    exchange_add(files, "README.md", text_get(&out), out.n, arena);
    text_free(&out);
    const char *page = exchange_licence_page(terms->licence);
    text_print(&out, "# Licence of these data\n\n%s%s%s\n\nCredit: %s.\n", terms->licence, page == NULL ? "" : ": ",
               page == NULL ? "" : page, terms->contributor == NULL ? "not named" : terms->contributor);
    exchange_add(files, "LICENCE.md", text_get(&out), out.n, arena);
    text_free(&out);
    protocols(set, &out);
    exchange_add(files, "protocol.md", text_get(&out), out.n, arena);
    text_free(&out);
    for (size_t i = 0; i < files->n; i++) {
        char hash[65];
        exchange_sha256(files->file[i].bytes.at, files->file[i].bytes.n, hash);
        text_print(&sums, "%s  %s\n", hash, files->file[i].path);
    }
    exchange_add(files, "checksums.sha256", text_get(&sums), sums.n, arena);
    text_free(&sums);
}

static enum outcome layer(const struct exchange_set *set, enum noun noun, const char *crs, struct arena *arena,
                          struct exchange_files *files, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    size_t n = set->of[noun].n, kept = 0, n_keys = 0;
    struct map_out *out = arena_array(arena, n + 1, sizeof *out);
    const char **keys = arena_array(arena, info->n_fields, sizeof *keys);
    enum outcome outcome = OUTCOME_OK;
    for (size_t j = 0; j < info->n_fields; j++)
        if (info->fields[j].kind != FIELD_BYTES && info->fields[j].kind != FIELD_JSON)
            keys[n_keys++] = info->fields[j].name;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        const char *row = (const char *)set->of[noun].rows + i * info->size;
        struct shape *shape = arena_alloc(arena, sizeof *shape);
        const char **values = arena_array(arena, n_keys + 1, sizeof *values);
        if (info->geometry == GEOMETRY_POINT) {
            const double *xy = (const double *)(const void *)(row + info->geometry_offset);
            if (!is_known(xy[0]) || !is_known(xy[1]))
                continue;
            *shape = shape_points(arena, xy, 1);
        } else {
            struct bytes wkb = *(const struct bytes *)(const void *)(row + info->geometry_offset);
            if (wkb.n == 0)
                continue;
            outcome = shape_from_wkb(wkb, arena, shape, why);
        }
        for (size_t j = 0, at = 0; j < info->n_fields && outcome == OUTCOME_OK; j++) {
            const struct field *field = &info->fields[j];
            if (field->kind == FIELD_BYTES || field->kind == FIELD_JSON)
                continue;
            values[at++] = field->kind == FIELD_REF
                               ? exchange_uuid(set, (enum noun)field->target, *(const int64_t *)(const void *)(row + field->offset), arena)
                               : field_write(field, row, arena);
        }
        out[kept++] = (struct map_out){.id = exchange_uuid(set, noun, *(const int64_t *)(const void *)row, arena),
                                       .shape = shape,
                                       .keys = keys,
                                       .values = values,
                                       .n_values = n_keys};
    }
    if (outcome == OUTCOME_OK && kept > 0) {
        struct text json = {0};
        outcome = map_write_geojson(crs, out, kept, &json, why);
        if (outcome == OUTCOME_OK)
            exchange_add(files, arena_print(arena, "places/%s.geojson", info->name), text_get(&json), json.n, arena);
        text_free(&json);
    }
    return outcome;
}

enum outcome exchange_places(const struct exchange_set *set, struct arena *arena, struct exchange_files *files, struct failure *why)
{
    static const enum noun layers[] = {NOUN_SITE, NOUN_CONSTRAINT, NOUN_PLOT, NOUN_PLANT};
    const struct programme *programme = exchange_programme(set);
    enum outcome outcome = OUTCOME_OK;
    if (programme == NULL)
        return OUTCOME_OK;
    const char *crs = arena_print(arena, "EPSG:%lld", (long long)programme->crs);
    for (size_t i = 0; i < sizeof layers / sizeof *layers && outcome == OUTCOME_OK; i++)
        outcome = layer(set, layers[i], crs, arena, files, why);
    return outcome;
}
