/* SPDX-License-Identifier: GPL-3.0-or-later
 * Thinning of points with an indexed heap of how crowded each one is. */
#include "layout/thin.h"
#include "layout/hood.h"
#include "layout/layout.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/// The most crowded on top; of equals the one with the higher index.
struct heap {
    uint32_t *at;    ///< point at each place of the heap
    uint32_t *place; ///< place of each point, UINT32_MAX when it is not in
    double *weight;  ///< of each point
    size_t n;
};

static bool above(const struct heap *h, uint32_t a, uint32_t b)
{
    double of_a = h->weight[a], of_b = h->weight[b];
    return of_a > of_b || (of_a == of_b && a > b);
}

static void put(struct heap *h, size_t place, uint32_t point)
{
    h->at[place] = point;
    h->place[point] = (uint32_t)place;
}

static void sift_down(struct heap *h, size_t place)
{
    uint32_t point = h->at[place];
    for (;;) {
        size_t child = 2 * place + 1;
        if (child >= h->n)
            break;
        if (child + 1 < h->n && above(h, h->at[child + 1], h->at[child]))
            child++;
        if (!above(h, h->at[child], point))
            break;
        put(h, place, h->at[child]);
        place = child;
    }
    put(h, place, point);
}

static uint32_t heap_pop(struct heap *h)
{
    uint32_t top = h->at[0];
    h->place[top] = UINT32_MAX;
    h->n--;
    if (h->n > 0) {
        put(h, 0, h->at[h->n]);
        sift_down(h, 0);
    }
    return top;
}

static double eighth(double a)
{
    a *= a;
    a *= a;
    return a * a;
}

double thin_crowding(double distance, double reach)
{
    return distance >= reach ? 0 : eighth(1 - distance / reach);
}

/* Crowding with very short distances held down, so that the last ones left are judged by their room (Yuksel, §3.3). */
static double crowd(double far2, double reach, double least)
{
    double far = sqrt(far2);
    return thin_crowding(far < least ? least : far, reach);
}

static void weigh(const struct thin *t, const struct hood *hood, double reach, double least, double *weight)
{
    struct found near = {0};
    for (size_t i = 0; i < t->n; i++) {
        hood_within(hood, t->uv[2 * i], t->uv[2 * i + 1], reach, i, &near);
        weight[i] = t->extra == NULL ? 0 : t->extra[i];
        for (size_t m = 0; m < near.n; m++)
            weight[i] += crowd(near.far2[m], reach, least);
    }
    found_free(&near);
}

/* Take one away: its neighbours have more room now. */
static void ease(const struct thin *t, const struct hood *hood, struct heap *heap, uint32_t gone, double reach, double least,
                 struct found *near)
{
    hood_within(hood, t->uv[2 * gone], t->uv[2 * gone + 1], reach, gone, near);
    for (size_t m = 0; m < near->n; m++) {
        uint32_t i = near->at[m];
        if (heap->place[i] == UINT32_MAX)
            continue;
        heap->weight[i] -= crowd(near->far2[m], reach, least);
        sift_down(heap, heap->place[i]);
    }
}

void thin_points(const struct thin *t, bool *kept)
{
    size_t free_points = 0, anchors = 0;
    for (size_t i = 0; i < t->n; i++) {
        kept[i] = true;
        if (t->anchor != NULL && t->anchor[i])
            anchors++;
        else
            free_points++;
    }
    if (free_points <= t->keep)
        return;
    struct arena scratch = {0};
    double reach = layout_hexagon_m(t->area_m2, (double)(t->keep + anchors > 0 ? t->keep + anchors : 1));
    double least = reach * (1 - pow((double)t->keep / (double)free_points, 1.5)) * 0.65;
    struct hood hood;
    hood_make(t->uv, t->n, reach, &scratch, &hood);
    struct heap heap = {arena_array(&scratch, t->n, sizeof(uint32_t)), arena_array(&scratch, t->n, sizeof(uint32_t)),
                        arena_array(&scratch, t->n, sizeof(double)), 0};
    size_t *left = arena_array(&scratch, t->n_classes + 1, sizeof *left);
    weigh(t, &hood, reach, least, heap.weight);
    for (size_t i = 0; i < t->n; i++) {
        heap.place[i] = UINT32_MAX;
        if (t->anchor != NULL && t->anchor[i])
            continue;
        put(&heap, heap.n++, (uint32_t)i);
        if (t->class != NULL)
            left[t->class[i]]++;
    }
    for (size_t k = heap.n / 2; k-- > 0;)
        sift_down(&heap, k);
    struct found near = {0};
    size_t over = free_points - t->keep;
    while (over > 0 && heap.n > 0) {
        uint32_t worst = heap_pop(&heap);
        if (t->class != NULL) {
            uint32_t c = t->class[worst];
            if (left[c] <= t->class_keep[c])
                continue;
            left[c]--;
        }
        kept[worst] = false;
        over--;
        ease(t, &hood, &heap, worst, reach, least, &near);
    }
    found_free(&near);
    arena_clear(&scratch);
}
