/* SPDX-License-Identifier: GPL-3.0-or-later
 * Rows to look at: what each is called, its fingerprint, and all of them as comma-separated text. */
#include "model/model_json.h"
#include "work/rows.h"
#include <sodium.h>
#include <string.h>

static const void *of_id(struct rows_finder *finder, enum noun noun, int64_t id)
{
    const void *rows = NULL;
    size_t n = 0;
    struct failure none;
    return id != 0 && rows_all(finder, noun, &rows, &n, &none) == OUTCOME_OK ? rows_of_id(rows, n, noun, id) : NULL;
}

static const char *place_words(struct rows_finder *finder, int64_t site_id, int64_t plot_id)
{
    const struct plot *plot = of_id(finder, NOUN_PLOT, plot_id);
    const struct site *site = of_id(finder, NOUN_SITE, plot != NULL ? plot->site_id : site_id);
    if (plot != NULL && site != NULL)
        return arena_print(finder->arena, "%s/%s", site->code, plot->code);
    return site != NULL ? site->code : "whole programme";
}

static const char *plant_words(struct rows_finder *finder, int64_t id)
{
    const struct plant *plant = of_id(finder, NOUN_PLANT, id);
    if (plant == NULL)
        return arena_print(finder->arena, "plant %lld", (long long)id);
    if (plant->tag != NULL)
        return plant->tag;
    return arena_print(finder->arena, "%s, plant %lld", place_words(finder, 0, plant->plot_id), (long long)id);
}

static const char *soil_words(struct rows_finder *finder, const struct soil_sample *s)
{
    const char *depth = is_known(s->depth_top_cm) && is_known(s->depth_bottom_cm)
                            ? arena_print(finder->arena, ", %.0f–%.0f cm", s->depth_top_cm, s->depth_bottom_cm)
                            : "";
    return arena_print(finder->arena, "%s%s%s%s, %s", place_words(finder, s->site_id, s->plot_id), s->composite == NULL ? "" : " ",
                       s->composite == NULL ? "" : s->composite, depth, day_words(s->sampled_on, finder->arena));
}

const char *row_words(struct rows_finder *finder, enum noun noun, const void *row)
{
    struct arena *arena = finder->arena;
    switch ((int)noun) {
    case NOUN_SITE:
        return ((const struct site *)row)->code;
    case NOUN_PLOT:
        return place_words(finder, 0, row_id(row));
    case NOUN_PLANT:
        return plant_words(finder, row_id(row));
    case NOUN_PLANT_RECORD: {
        const struct plant_record *r = row;
        return arena_print(arena, "%s, %s", plant_words(finder, r->plant_id), day_words(r->observed_on, arena));
    }
    case NOUN_VISIT: {
        const struct visit *v = row;
        return arena_print(arena, "%s %s, %s", place_words(finder, v->site_id, v->plot_id),
                           word_plain(WORDS_VISIT_KIND, (int)v->kind, arena), day_words(v->from_on, arena));
    }
    case NOUN_SOIL_SAMPLE:
        return soil_words(finder, row);
    case NOUN_COST_ITEM: {
        const struct cost_item *c = row;
        return arena_print(arena, "%s: %s", place_words(finder, c->site_id, c->plot_id), c->item);
    }
    case NOUN_WORK_HOURS: {
        const struct work_hours *h = row;
        return arena_print(arena, "%s: %s, %s", place_words(finder, h->site_id, h->plot_id), h->task, day_words(h->worked_on, arena));
    }
    case NOUN_CARE_EVENT: {
        const struct care_event *c = row;
        return arena_print(arena, "%s: %s, %s", place_words(finder, 0, c->plot_id), word_plain(WORDS_CARE_KIND, (int)c->kind, arena),
                           day_words(c->done_on, arena));
    }
    case NOUN_WILDLIFE_VISIT: {
        const struct wildlife_visit *v = row;
        return arena_print(arena, "%s %s, %s", place_words(finder, v->site_id, v->plot_id),
                           word_plain(WORDS_WILDLIFE_GROUP, (int)v->group, arena), day_words(v->seen_on, arena));
    }
    case NOUN_WILDLIFE_RECORD: {
        const struct wildlife_record *r = row;
        const struct wildlife_visit *v = of_id(finder, NOUN_WILDLIFE_VISIT, r->wildlife_visit_id);
        return v == NULL ? r->taxon
                         : arena_print(arena, "%s at %s, %s", r->taxon, place_words(finder, v->site_id, v->plot_id),
                                       day_words(v->seen_on, arena));
    }
    case NOUN_CONSTRAINT: {
        const struct constraint *c = row;
        return arena_print(arena, "%s: %s", place_words(finder, c->site_id, 0),
                           c->label != NULL ? c->label : word_plain(WORDS_CONSTRAINT_KIND, (int)c->kind, arena));
    }
    case NOUN_MIX_LINE:
        return ((const struct mix_line *)row)->species;
    case NOUN_ORDER_LINE:
        return ((const struct order_line *)row)->species;
    default:
        return arena_print(arena, "%s %lld", noun_infos[noun].name, (long long)row_id(row));
    }
}

const char *rows_fingerprint(enum noun noun, const void *const *rows, size_t n, struct arena *arena)
{
    crypto_hash_sha256_state state;
    unsigned char hash[crypto_hash_sha256_BYTES];
    char *hex = arena_alloc(arena, 2 * sizeof hash + 1);
    crypto_hash_sha256_init(&state);
    for (size_t i = 0; i < n; i++) {
        json_t *object = row_json(noun, rows[i]);
        char *line = json_dumps(object, JSON_COMPACT | JSON_SORT_KEYS);
        crypto_hash_sha256_update(&state, (const unsigned char *)line, strlen(line));
        crypto_hash_sha256_update(&state, (const unsigned char *)"\n", 1);
        free(line);
        json_decref(object);
    }
    crypto_hash_sha256_final(&state, hash);
    sodium_bin2hex(hex, 2 * sizeof hash + 1, hash, sizeof hash);
    return hex;
}

const char *text_fingerprint(const char *text, struct arena *arena)
{
    unsigned char hash[crypto_hash_sha256_BYTES];
    char *hex = arena_alloc(arena, 2 * sizeof hash + 1);
    crypto_hash_sha256(hash, (const unsigned char *)text, strlen(text));
    sodium_bin2hex(hex, 2 * sizeof hash + 1, hash, sizeof hash);
    return hex;
}

void rows_csv(enum noun noun, const void *const *rows, size_t n, struct arena *arena, struct text *out)
{
    const struct noun_info *info = &noun_infos[noun];
    csv_add(out, "id", true, false);
    for (size_t j = 0; j < info->n_fields; j++)
        if (info->fields[j].kind != FIELD_BYTES)
            csv_add(out, info->fields[j].name, false, false);
    text_add(out, "\n");
    for (size_t i = 0; i < n; i++) {
        csv_add(out, arena_print(arena, "%lld", (long long)row_id(rows[i])), true, false);
        for (size_t j = 0; j < info->n_fields; j++)
            if (info->fields[j].kind != FIELD_BYTES) {
                const char *cell = field_write(&info->fields[j], rows[i], arena);
                csv_add(out, cell == NULL ? "" : cell, false, info->fields[j].kind == FIELD_TEXT);
            }
        text_add(out, "\n");
    }
}
