/* SPDX-License-Identifier: GPL-3.0-or-later
 * How labels are given: once on a site or anew in every plot, and new plants whose label stands in two plots of the file. */
#include "survey/import.h"
#include <stdlib.h>
#include <string.h>

enum label_scope labels_said(const struct running *r)
{
    return r->mapping->labels == NULL ? LABELS_AS_FOUND : strcmp(r->mapping->labels, "plot") == 0 ? LABELS_BY_PLOT : LABELS_BY_SITE;
}

/// A new plant's label on its site.
struct label_entry {
    int64_t site, plot;
    const char *tag;
    size_t plant;
};

static int label_order(const void *a, const void *b)
{
    const struct label_entry *x = a, *y = b;
    if (x->site != y->site)
        return x->site < y->site ? -1 : 1;
    int order = strcmp(x->tag, y->tag);
    return order != 0 ? order : (x->plot > y->plot) - (x->plot < y->plot);
}

/* New plants under one label in two plots: held, unless labels of the site are numbered anew in every plot. */
size_t labels_settle(struct running *r, const struct plant *plants, size_t n_plants)
{
    if (labels_said(r) == LABELS_BY_PLOT || n_plants == 0)
        return 0;
    struct label_entry *labels = memory_get(n_plants, sizeof *labels);
    bool *twice = memory_get(n_plants, sizeof *twice);
    size_t n = 0, held = 0;
    for (size_t i = 0; i < n_plants; i++) {
        int64_t site = 0;
        for (size_t k = 0; k < r->ground->n_plots && site == 0; k++)
            site = r->ground->plots[k].id == plants[i].plot_id ? r->ground->plots[k].site_id : 0;
        if (!text_blank(plants[i].tag))
            labels[n++] = (struct label_entry){site, plants[i].plot_id, plants[i].tag, i};
    }
    qsort(labels, n, sizeof *labels, label_order);
    for (size_t first = 0, end = 0; first < n; first = end) {
        size_t distinct = 0, repeated = 0;
        for (end = first; end < n && labels[end].site == labels[first].site; end++) {
            bool same = end > first && strcmp(labels[end].tag, labels[end - 1].tag) == 0;
            bool again = same && labels[end].plot != labels[end - 1].plot;
            distinct += !same;
            repeated += again && !twice[labels[end - 1].plant];
            if (again)
                twice[labels[end].plant] = twice[labels[end - 1].plant] = true;
        }
        for (size_t k = first; k < end && labels_said(r) == LABELS_AS_FOUND && labels_by_plot(distinct, repeated); k++)
            twice[labels[k].plant] = false;
    }
    for (size_t i = 0; i < r->n_entries; i++) {
        int64_t plant = ((const struct plant_record *)record_at(r, i))->plant_id;
        if (r->entries[i].refused != NULL || r->entries[i].empty || plant >= 0 || !twice[-plant - 1])
            continue;
        struct doubt *doubt =
            doubt_add(&r->doubts, "label_elsewhere", (int64_t)i, "tag",
                      "Label %s stands in several plots of this file, though other labels stand in one.", plants[-plant - 1].tag);
        doubt_usual(&r->doubts, doubt, "two plants have this label, each in its plot");
    }
    free(labels);
    free(twice);
    return held;
}
