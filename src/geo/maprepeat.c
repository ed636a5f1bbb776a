/* SPDX-License-Identifier: GPL-3.0-or-later
 * Features of a map file that repeat another one, point for point, and the count of what was refused. */
#include "geo/mapread.h"
#include <stdlib.h>
#include <string.h>

struct print_of {
    uint64_t hash;
    size_t i;
};

static int by_hash(const void *a, const void *b)
{
    const struct print_of *p = a, *q = b;
    if (p->hash != q->hash)
        return p->hash < q->hash ? -1 : 1;
    return (p->i > q->i) - (p->i < q->i);
}

static uint64_t shape_hash(const struct shape *shape)
{
    uint64_t hash = 1469598103934665603u + (uint64_t)shape->kind; /* FNV-1a over the coordinates' bytes */
    for (size_t i = 0; i < shape->n_parts; i++)
        for (size_t k = 0; k < shape->parts[i].n_rings; k++) {
            const unsigned char *at = (const unsigned char *)shape->parts[i].rings[k].xy;
            for (size_t j = 0; j < shape->parts[i].rings[k].n * 2 * sizeof(double); j++)
                hash = (hash ^ at[j]) * 1099511628211u;
        }
    return hash;
}

static bool shape_same(const struct shape *a, const struct shape *b)
{
    if (a->kind != b->kind || a->n_parts != b->n_parts)
        return false;
    for (size_t i = 0; i < a->n_parts; i++) {
        if (a->parts[i].n_rings != b->parts[i].n_rings)
            return false;
        for (size_t k = 0; k < a->parts[i].n_rings; k++) {
            const struct ring *p = &a->parts[i].rings[k], *q = &b->parts[i].rings[k];
            if (p->n != q->n || memcmp(p->xy, q->xy, p->n * 2 * sizeof(double)) != 0)
                return false;
        }
    }
    return true;
}

static bool values_same(const struct map_feature *a, const struct map_feature *b)
{
    if (a->n_values != b->n_values)
        return false;
    for (size_t i = 0; i < a->n_values; i++)
        if (!text_same(a->keys[i], b->keys[i]) || !text_same(a->values[i], b->values[i]))
            return false;
    return true;
}

void map_finish(struct map_job *job)
{
    size_t n = job->out->n, kept = 0;
    struct map_feature *features = job->out->features;
    struct print_of *prints = memory_get(n + 1, sizeof *prints);
    for (size_t i = 0; i < n; i++)
        if (!features[i].refused)
            prints[kept++] = (struct print_of){shape_hash(&features[i].shape), i};
    qsort(prints, kept, sizeof *prints, by_hash);
    for (size_t i = 1; i < kept; i++)
        for (size_t k = i; k-- > 0 && i - k < 50 && prints[k].hash == prints[i].hash;) {
            struct map_feature *feature = &features[prints[i].i], *before = &features[prints[k].i];
            if (before->refused || !shape_same(&feature->shape, &before->shape))
                continue;
            if (values_same(feature, before))
                map_refuse(feature, "Nothing is lost: the first one is kept.", "It repeats feature %ld of layer %s, point for point.",
                           before->number, before->layer);
            else
                say(SAID, "It has the same shape as feature %ld of layer %s, with other attributes: look whether both are meant.",
                    before->number, before->layer);
            break;
        }
    free(prints);
    for (size_t i = 0; i < n; i++)
        job->out->n_refused += features[i].refused;
}
