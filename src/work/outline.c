/* SPDX-License-Identifier: GPL-3.0-or-later
 * Map data coming into a job. */
#include "model/model_json.h"
#include "work/outline.h"

enum outcome outline_read(const struct job_context *context, const json_t *in, const char *to_crs, enum map_use use,
                          const struct shape *near, struct arena *arena, struct map_data *out, struct failure *why)
{
    const char *map = option_text(in, "map", NULL), *wkt = option_text(in, "wkt", NULL);
    struct map_wish wish = {.to_crs = to_crs,
                            .from_crs = option_text(in, "from_crs", NULL),
                            .layer = option_text(in, "layer", NULL),
                            .use = use,
                            .swap = option_flag(in, "swap"),
                            .near = near};
    if (context->progress != NULL)
        wish.progress = *context->progress;
    if ((map == NULL) == (wkt == NULL)) {
        fail(why, OUTCOME_USAGE, map == NULL ? "No outline was given." : "Both a map file and pasted text were given.");
        failure_remedy(why, "Give --map FILE or --wkt 'POLYGON ((…))'.");
        return OUTCOME_USAGE;
    }
    if (wkt != NULL) {
        if (wish.from_crs == NULL)
            wish.from_crs = to_crs;
        return map_read_wkt(wkt, &wish, arena, out, why);
    }
    if (context->upload == NULL)
        return map_read_path(map, &wish, arena, out, why);
    struct bytes bytes = {(const unsigned char *)context->upload, context->upload_n};
    return map_read_bytes(map, bytes, &wish, arena, out, why);
}

static void feature_words(const struct map_feature *feature, struct text *out)
{
    text_print(out, "%ld", feature->number);
    for (size_t i = 0, shown = 0; i < feature->n_values && shown < 2; i++)
        if (!text_blank(feature->values[i]))
            text_print(out, "%s%.40s", shown++ == 0 ? " (" : ", ", feature->values[i]);
    if (text_get(out)[out->n - 1] != ')' && feature->n_values > 0)
        text_add(out, "");
}

enum outcome outline_one(const struct map_data *data, const json_t *in, const struct map_feature **out, struct failure *why)
{
    int64_t wanted = option_integer(in, "feature", 0);
    const struct map_feature *found = NULL;
    size_t good = 0;
    for (size_t i = 0; i < data->n; i++) {
        bool named = wanted != 0 && data->features[i].number == wanted;
        if (!data->features[i].refused)
            good++;
        if (named || (wanted == 0 && !data->features[i].refused))
            found = &data->features[i];
        if (named)
            break;
    }
    if (found == NULL && data->n == 1) {
        *why = data->features[0].refusal;
        return why->kind;
    }
    if (found == NULL) {
        fail(why, OUTCOME_DATA, wanted != 0 ? "The file has no feature %lld." : "The file holds no outline that can be used (%lld).",
             (long long)wanted);
        return failure_remedy(why, "It holds %zu features, %zu of them refused.", data->n, data->n_refused);
    }
    if (found->refused) {
        *why = found->refusal;
        return why->kind;
    }
    if (wanted == 0 && good > 1) {
        struct text list = {0};
        for (size_t i = 0; i < data->n && list.n < 700; i++) {
            if (data->features[i].refused)
                continue;
            struct text one = {0};
            feature_words(&data->features[i], &one);
            text_print(&list, "%s%s", list.n > 0 ? "; " : "", text_get(&one));
            text_free(&one);
        }
        fail(why, OUTCOME_DATA, "The file holds %zu outlines.", good);
        failure_remedy(why, "Say which with --feature N: %.900s%s", text_get(&list), list.n >= 700 ? " …" : "");
        text_free(&list);
        return OUTCOME_DATA;
    }
    *out = found;
    return OUTCOME_OK;
}

void outline_said(json_t *note, const struct map_data *data, const struct map_feature *one)
{
    if (data->n_said == 0 && (one == NULL || one->n_said == 0))
        return;
    json_t *table = section_table(note_section(note, "What was mended or is worth a look"));
    table_column(table, "what", "what", "", -1);
    for (size_t i = 0; i < data->n_said; i++)
        row_text(table_row(table), data->said[i]);
    for (size_t i = 0; one != NULL && i < one->n_said; i++)
        row_text(table_row(table), one->said[i]);
}

json_t *outline_json(const struct shape *shape)
{
    struct arena arena = {0};
    json_t *out = NULL;
    if (shape->kind == SHAPE_NONE || wkb_to_json(shape_to_wkb(shape, &arena), &out, NULL) != OUTCOME_OK)
        out = json_null();
    arena_clear(&arena);
    return out;
}
