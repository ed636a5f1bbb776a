/* SPDX-License-Identifier: GPL-3.0-or-later
 * Loading by the codes people use. */
#include "work/load.h"
#include <string.h>

enum outcome load_all(struct store *store, enum noun noun, struct arena *arena, void **rows, size_t *n, struct failure *why)
{
    return store_load(store, noun, NULL, 0, false, arena, rows, n, why);
}

enum outcome load_of(struct store *store, enum noun noun, const char *field, int64_t id, struct arena *arena, void **rows, size_t *n,
                     struct failure *why)
{
    struct store_where where = {.field = field, .value = id};
    return store_load(store, noun, &where, 1, false, arena, rows, n, why);
}

enum outcome load_programme(struct store *store, struct arena *arena, struct programme *out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(store, NOUN_PROGRAMME, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (n != 1) {
        fail(why, OUTCOME_DATA, "The file holds %zu programme rows; it must hold one.", n);
        return failure_remedy(why, "Restore it from a backup.");
    }
    *out = *(struct programme *)rows;
    return OUTCOME_OK;
}

static enum outcome no_such(const char *what, const char *code, const char *codes, struct failure *why)
{
    if (code == NULL)
        fail(why, OUTCOME_DATA, *codes == '\0' ? "There is no %s yet." : "There are several: say which %s.", what);
    else
        fail(why, OUTCOME_DATA, "There is no %s \"%.80s\".", what, code);
    return *codes == '\0' ? failure_remedy(why, "Add a %s first.", what) : failure_remedy(why, "There are: %.900s.", codes);
}

enum outcome load_site(struct store *store, const char *code, struct arena *arena, struct site *out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(store, NOUN_SITE, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct site *sites = rows;
    struct text codes = {0};
    for (size_t i = 0; i < n; i++) {
        if ((code == NULL && n == 1) || text_same_nocase(sites[i].code, code)) {
            *out = sites[i];
            text_free(&codes);
            return OUTCOME_OK;
        }
        text_print(&codes, "%s%s", i > 0 ? ", " : "", sites[i].code);
    }
    outcome = no_such("site", code, text_get(&codes), why);
    text_free(&codes);
    return outcome;
}

enum outcome load_plot(struct store *store, const char *code, struct arena *arena, struct plot *out, struct site *site, struct failure *why)
{
    void *plot_rows = NULL, *site_rows = NULL;
    size_t n = 0, n_sites = 0, found = 0;
    enum outcome outcome = load_all(store, NOUN_PLOT, arena, &plot_rows, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = load_all(store, NOUN_SITE, arena, &site_rows, &n_sites, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct plot *plots = plot_rows, *match = NULL;
    const struct site *sites = site_rows;
    struct text codes = {0};
    for (size_t i = 0; i < n; i++) {
        const char *name = plot_name(sites, n_sites, &plots[i], arena);
        text_print(&codes, "%s%s", i > 0 ? ", " : "", name);
        if ((code == NULL && n == 1) || text_same_nocase(name, code) || text_same_nocase(plots[i].code, code)) {
            match = &plots[i];
            found++;
        }
    }
    if (found != 1) {
        outcome = no_such("plot", found > 1 ? NULL : code, text_get(&codes), why);
    } else {
        *out = *match;
        for (size_t i = 0; site != NULL && i < n_sites; i++)
            if (sites[i].id == match->site_id)
                *site = sites[i];
    }
    text_free(&codes);
    return outcome;
}

enum outcome load_plan(struct store *store, const struct plot *plot, int64_t version, struct arena *arena, struct plan *out,
                       struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_of(store, NOUN_PLAN, "plot_id", plot->id, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct plan *plans = rows, *best = NULL;
    for (size_t i = 0; i < n; i++) {
        if (version != 0 ? plans[i].version == version
                         : best == NULL || plans[i].chosen == TRUTH_YES || (best->chosen != TRUTH_YES && plans[i].version > best->version))
            best = &plans[i];
    }
    if (best == NULL) {
        fail(why, OUTCOME_DATA, version != 0 ? "Plot %s has no plan %lld." : "Plot %s has no plan yet.", plot->code, (long long)version);
        return failure_remedy(why, "Make one with: spinney mix FILE %s", plot->code);
    }
    *out = *best;
    return OUTCOME_OK;
}

enum outcome load_shape(struct bytes wkb, struct arena *arena, struct shape *out, struct failure *why)
{
    *out = (struct shape){0};
    return wkb.n == 0 ? OUTCOME_OK : shape_from_wkb(wkb, arena, out, why);
}

const char *plot_name(const struct site *sites, size_t n, const struct plot *plot, struct arena *arena)
{
    for (size_t i = 0; i < n; i++)
        if (sites[i].id == plot->site_id)
            return arena_print(arena, "%s/%s", sites[i].code, plot->code);
    return plot->code;
}

const char *crs_code(const struct programme *programme, struct arena *arena)
{
    return arena_print(arena, "EPSG:%lld", (long long)programme->crs);
}

const char *day_words(int32_t day, struct arena *arena)
{
    char out[16];
    date_write(day, out);
    return *out == '\0' ? "unknown" : arena_text(arena, out);
}

const char *word_plain(enum word_list list, int value, struct arena *arena)
{
    char *out = arena_text(arena, word_of(list, value));
    for (char *p = out; *p != '\0'; p++)
        if (*p == '_')
            *p = ' ';
    return out;
}

enum outcome input_bytes(const struct job_context *context, const char *path, size_t most, struct arena *arena, struct bytes *out,
                         struct failure *why)
{
    if (context->upload != NULL) {
        *out = (struct bytes){(const unsigned char *)context->upload, context->upload_n};
        return OUTCOME_OK;
    }
    char *bytes = NULL;
    size_t n = 0;
    enum outcome outcome = file_read(path, most, arena, &bytes, &n, why);
    if (outcome == OUTCOME_OK)
        *out = (struct bytes){(const unsigned char *)bytes, n};
    return outcome;
}

bool plot_listed(const char *list, const char *name, const char *code)
{
    if (list == NULL)
        return true;
    struct arena arena = {0};
    bool found = false;
    char *copy = arena_text(&arena, list), *rest = NULL;
    for (char *part = strtok_r(copy, ";, ", &rest); part != NULL && !found; part = strtok_r(NULL, ";, ", &rest))
        found = text_same_nocase(part, name) || text_same_nocase(part, code);
    arena_clear(&arena);
    return found;
}
