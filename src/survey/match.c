/* SPDX-License-Identifier: GPL-3.0-or-later
 * Finding the plant a row speaks of: by label, by plot, square and number, or by plot and label; and the nearest
 * candidates where none fits. Built once over all plants (millions), then a few look-ups for each row. */
#include "survey/survey.h"
#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/// Plants in the order of one key; equal keys stand together.
struct key_entry {
    uint64_t hash;
    uint32_t plant;
};
struct key_list {
    struct key_entry *at;
    size_t n;
};
/// How labels are given on a site, by what the programme holds.
struct site_labels {
    int64_t site;
    bool by_plot; ///< the same labels stand in several plots: they are numbered anew in each
};
struct plant_index {
    const struct survey_ground *ground;
    struct key_list in_plot, on_site, anywhere; ///< by label, within plot, site, programme
    struct key_list place;                      ///< by plot, square and number
    struct id_place *plots;                     ///< plots in order of id
    struct site_labels *sites;                  ///< sites in order of id
    size_t n_sites;
};
/// A plot's id and where it stands in ground->plots.
struct id_place {
    int64_t id;
    size_t at;
};

/* A square in one spelling, without an arena: they are read by the million. False if it is none. */
static bool code_parse(const char *text, char out[16], int *row, int *column)
{
    while (text != NULL && isspace((unsigned char)*text))
        text++;
    int letters = 0, value = 0, number = 0, digits = 0;
    for (; text != NULL && isalpha((unsigned char)*text) && letters < 3; text++, letters++)
        value = value * 26 + (toupper((unsigned char)*text) - 'A' + 1);
    if (letters == 0 || letters > 2)
        return false;
    while (*text == ' ' || *text == '-' || *text == '/' || *text == '.')
        text++;
    for (; isdigit((unsigned char)*text) && digits < 4; text++, digits++)
        number = number * 10 + (*text - '0');
    while (isspace((unsigned char)*text))
        text++;
    if (*text != '\0' || number == 0)
        return false;
    *row = value - 1;
    *column = number - 1;
    char name[3] = {0};
    if (value > 26)
        name[0] = (char)('A' + (value - 1) / 26 - 1);
    name[value > 26] = (char)('A' + (value - 1) % 26);
    snprintf(out, 16, "%s%02d", name, number);
    return true;
}

char *cell_code_read(const char *text, int *row, int *column, struct arena *arena)
{
    char code[16];
    int r = 0, c = 0;
    if (!code_parse(text, code, &r, &c))
        return NULL;
    if (row != NULL)
        *row = r;
    if (column != NULL)
        *column = c;
    return arena_text(arena, code);
}

static uint64_t text_hash(const char *text)
{
    uint64_t h = 1469598103934665603u;
    for (; *text != '\0'; text++)
        if (!isspace((unsigned char)*text))
            h = (h ^ (uint64_t)tolower((unsigned char)*text)) * 1099511628211u;
    return h;
}

static bool tag_same(const char *a, const char *b)
{
    if (a == NULL || b == NULL)
        return false;
    for (;;) {
        while (isspace((unsigned char)*a))
            a++;
        while (isspace((unsigned char)*b))
            b++;
        if (tolower((unsigned char)*a) != tolower((unsigned char)*b))
            return false;
        if (*a == '\0')
            return true;
        a++;
        b++;
    }
}

/* The code in one spelling, on the stack: equal to what cell_code_read makes, or the text itself without blanks. */
static void place_code(const char *text, char out[32])
{
    int row = 0, column = 0;
    if (code_parse(text, out, &row, &column))
        return;
    size_t at = 0;
    for (const char *p = text == NULL ? "" : text; *p != '\0' && at < 31; p++)
        if (!isspace((unsigned char)*p))
            out[at++] = (char)toupper((unsigned char)*p);
    out[at] = '\0';
}

static uint64_t place_hash(int64_t plot, const char *code, int64_t number)
{
    return (text_hash(code) ^ (uint64_t)plot * 0x9E3779B97F4A7C15u) * 1099511628211u ^ (uint64_t)number * 0xC2B2AE3D27D4EB4Fu;
}

static int entry_order(const void *a, const void *b)
{
    const struct key_entry *x = a, *y = b;
    if (x->hash != y->hash)
        return x->hash < y->hash ? -1 : 1;
    return x->plant < y->plant ? -1 : x->plant > y->plant;
}

static int id_order(const void *a, const void *b)
{
    const struct id_place *x = a, *y = b;
    return (x->id > y->id) - (x->id < y->id);
}

static const struct plot *plot_of(const struct plant_index *index, int64_t id)
{
    struct id_place key = {.id = id};
    size_t n = index->ground->n_plots;
    const struct id_place *found = n == 0 ? NULL : bsearch(&key, index->plots, n, sizeof *index->plots, id_order);
    return found == NULL ? NULL : &index->ground->plots[found->at];
}

static int64_t site_of_plot(const struct plant_index *index, int64_t plot)
{
    const struct plot *p = plot_of(index, plot);
    return p == NULL ? 0 : p->site_id;
}

static const char *plot_code(const struct plant_index *index, int64_t plot)
{
    const struct plot *p = plot_of(index, plot);
    return p == NULL || p->code == NULL ? "" : p->code;
}

static uint64_t label_hash(int64_t within, const char *tag)
{
    return text_hash(tag) ^ ((uint64_t)within + 1) * 0x9E3779B97F4A7C15u;
}

static void key_add(struct key_list *list, uint64_t hash, size_t plant)
{
    list->at[list->n++] = (struct key_entry){hash, (uint32_t)plant};
}

static void keys_sort(struct key_list *list)
{
    qsort(list->at, list->n, sizeof *list->at, entry_order);
}

static int labels_order(const void *a, const void *b)
{
    const struct site_labels *x = a, *y = b;
    return (x->site > y->site) - (x->site < y->site);
}

static struct site_labels *labels_of(const struct plant_index *index, int64_t site)
{
    struct site_labels key = {.site = site};
    return index->n_sites == 0 ? NULL : bsearch(&key, index->sites, index->n_sites, sizeof *index->sites, labels_order);
}

bool labels_by_plot(size_t labels, size_t repeated)
{
    return repeated >= 2 && repeated * 10 >= labels;
}

/* Whether the labels of each site are numbered anew in every plot: runs of one label on one site are compared. */
static void sites_settle(struct plant_index *index)
{
    const struct survey_ground *g = index->ground;
    size_t *labels = memory_get(index->n_sites + 1, sizeof *labels), *repeated = memory_get(index->n_sites + 1, sizeof *repeated);
    const struct key_list *list = &index->on_site;
    for (size_t i = 0, end = 0; i < list->n; i = end) {
        const struct plant *first = &g->plants[list->at[i].plant];
        const struct site_labels *site = labels_of(index, site_of_plot(index, first->plot_id));
        bool again = false;
        for (end = i; end < list->n && list->at[end].hash == list->at[i].hash; end++)
            again = again || g->plants[list->at[end].plant].plot_id != first->plot_id;
        if (site == NULL)
            continue;
        labels[site - index->sites]++;
        repeated[site - index->sites] += again;
    }
    for (size_t k = 0; k < index->n_sites; k++)
        index->sites[k].by_plot = labels_by_plot(labels[k], repeated[k]);
    free(labels);
    free(repeated);
}

struct plant_index *plant_index_make(const struct survey_ground *ground, struct arena *arena)
{
    struct plant_index *index = arena_alloc(arena, sizeof *index);
    index->ground = ground;
    index->plots = arena_array(arena, ground->n_plots, sizeof *index->plots);
    for (size_t i = 0; i < ground->n_plots; i++)
        index->plots[i] = (struct id_place){ground->plots[i].id, i};
    qsort(index->plots, ground->n_plots, sizeof *index->plots, id_order);
    index->n_sites = ground->n_sites;
    index->sites = arena_array(arena, ground->n_sites, sizeof *index->sites);
    for (size_t i = 0; i < ground->n_sites; i++)
        index->sites[i].site = ground->sites[i].id;
    qsort(index->sites, index->n_sites, sizeof *index->sites, labels_order);
    struct key_list *lists[] = {&index->in_plot, &index->on_site, &index->anywhere, &index->place};
    for (size_t k = 0; k < 4; k++)
        lists[k]->at = arena_array(arena, ground->n_plants, sizeof *lists[k]->at);
    for (size_t i = 0; i < ground->n_plants; i++) {
        const struct plant *p = &ground->plants[i];
        if (!text_blank(p->tag)) {
            key_add(&index->in_plot, label_hash(p->plot_id, p->tag), i);
            key_add(&index->on_site, label_hash(site_of_plot(index, p->plot_id), p->tag), i);
            key_add(&index->anywhere, text_hash(p->tag), i);
        }
        char code[32];
        place_code(p->cell_code, code);
        if (code[0] != '\0' || p->number != INT_UNKNOWN)
            key_add(&index->place, place_hash(p->plot_id, code, p->number), i);
    }
    for (size_t k = 0; k < 4; k++)
        keys_sort(lists[k]);
    sites_settle(index);
    return index;
}

static size_t entry_first(const struct key_list *list, uint64_t hash)
{
    size_t low = 0, high = list->n;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (list->at[middle].hash < hash)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* A plant that has been replaced keeps its label; the newest living identity is the one meant, unless both stand equal. */
static bool replaced_by_other(const struct survey_ground *ground, const struct plant *p, const uint32_t *others, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (ground->plants[others[i]].replaces_id == p->id && p->id != 0)
            return true;
    return false;
}

enum { MOST_FOUND = 16 };

static size_t keep_newest(const struct survey_ground *ground, uint32_t *found, size_t n)
{
    size_t kept = 0;
    uint32_t out[MOST_FOUND] = {0};
    for (size_t i = 0; i < n; i++)
        if (!replaced_by_other(ground, &ground->plants[found[i]], found, n))
            out[kept++] = found[i];
    memcpy(found, out, kept * sizeof *found);
    return kept;
}

/* Plants with this label in one list, at most MOST_FOUND of them; *total counts all. Plot and site are compared again, for hashes
   may agree by chance. */
static size_t by_tag(const struct plant_index *index, const struct key_list *list, uint64_t hash, int64_t plot, int64_t site,
                     const char *tag, uint32_t *found)
{
    const struct survey_ground *g = index->ground;
    size_t n = 0;
    for (size_t i = entry_first(list, hash); i < list->n && list->at[i].hash == hash && n < MOST_FOUND; i++) {
        const struct plant *p = &g->plants[list->at[i].plant];
        if (tag_same(p->tag, tag) && (plot == 0 || p->plot_id == plot) && (site == 0 || site_of_plot(index, p->plot_id) == site))
            found[n++] = list->at[i].plant;
    }
    return keep_newest(g, found, n);
}

/* Where labels are looked for: in the plot the row names; elsewhere on its site only where labels are not numbered anew in every
   plot, and then only to say so; without a plot, on the site; without either, everywhere. Never on another site than the row's. */
static size_t labelled(const struct plant_index *index, const struct plant_key *key, uint32_t *found)
{
    int64_t site = key->site_id != 0 ? key->site_id : key->plot_id != 0 ? site_of_plot(index, key->plot_id) : 0;
    if (key->plot_id != 0) {
        size_t n = by_tag(index, &index->in_plot, label_hash(key->plot_id, key->tag), key->plot_id, 0, key->tag, found);
        const struct site_labels *labels = labels_of(index, site);
        bool by_plot = key->labels == LABELS_BY_PLOT || (key->labels == LABELS_AS_FOUND && labels != NULL && labels->by_plot);
        if (n > 0 || by_plot)
            return n;
    }
    if (site != 0)
        return by_tag(index, &index->on_site, label_hash(site, key->tag), 0, site, key->tag, found);
    return by_tag(index, &index->anywhere, text_hash(key->tag), 0, 0, key->tag, found);
}

static size_t by_place(const struct plant_index *index, int64_t plot, const char *cell, int64_t number, uint32_t *found)
{
    const struct survey_ground *g = index->ground;
    char code[32], other[32];
    place_code(cell, code);
    uint64_t hash = place_hash(plot, code, number);
    size_t n = 0;
    const struct key_list *list = &index->place;
    for (size_t i = entry_first(list, hash); i < list->n && list->at[i].hash == hash && n < MOST_FOUND; i++) {
        const struct plant *p = &g->plants[list->at[i].plant];
        place_code(p->cell_code, other);
        if (p->plot_id == plot && p->number == number && strcmp(code, other) == 0)
            found[n++] = list->at[i].plant;
    }
    return keep_newest(g, found, n);
}

/* Plot, square, number, label and species; the site too where the programme has several. */
static const char *plant_words(const struct plant_index *index, const struct plant *p, struct arena *arena)
{
    char number[32] = "";
    const char *site = NULL;
    for (size_t i = 0; index->ground->n_sites > 1 && i < index->ground->n_sites; i++)
        if (index->ground->sites[i].id == site_of_plot(index, p->plot_id))
            site = index->ground->sites[i].code;
    if (p->number != INT_UNKNOWN)
        snprintf(number, sizeof number, "%s%lld", p->cell_code == NULL ? "plant " : " no. ", (long long)p->number);
    return arena_print(arena, "%s%splot %s %s%s%s%s (%s)", site == NULL ? "" : site, site == NULL ? "" : " ", plot_code(index, p->plot_id),
                       p->cell_code == NULL ? "" : p->cell_code, number, p->tag == NULL ? "" : ", label ", p->tag == NULL ? "" : p->tag,
                       p->species == NULL ? "species not known" : p->species);
}

/* Nearest candidates: a label one or two characters off, a neighbouring plot letter, another number in the square. */
static void near_find(const struct plant_index *index, const struct plant_key *key, struct plant_found *found)
{
    const struct survey_ground *g = index->ground;
    int score[3] = {1000, 1000, 1000};
    char code[32], other[32];
    place_code(key->cell, code);
    size_t step = g->n_plants > 20000 ? 0 : 1; /* over all plants only in programmes of usual size */
    for (size_t i = 0; step != 0 && i < g->n_plants; i++) {
        const struct plant *p = &g->plants[i];
        int s = key->plot_id != 0 && p->plot_id != key->plot_id ? 3 : 0;
        s += key->site_id != 0 && site_of_plot(index, p->plot_id) != key->site_id ? 3 : 0;
        if (key->tag != NULL && p->tag != NULL)
            s += 2 * text_distance(p->tag, key->tag, 3);
        else if (code[0] != '\0' || key->number != INT_UNKNOWN) {
            place_code(p->cell_code, other);
            s += 2 * text_distance(other, code, 3) + (p->number == key->number ? 0 : 2);
        } else {
            continue;
        }
        if (s > 6)
            continue;
        for (size_t k = 0; k < 3; k++)
            if (s < score[k]) {
                for (size_t j = 2; j > k; j--) {
                    score[j] = score[j - 1];
                    found->near[j] = found->near[j - 1];
                }
                score[k] = s;
                found->near[k] = p;
                break;
            }
    }
    while (found->n_near < 3 && found->near[found->n_near] != NULL)
        found->n_near++;
}

static struct plant_found none(const struct plant_index *index, const struct plant_key *key, const char *what, struct arena *arena)
{
    struct plant_found found = {.match = MATCH_NONE};
    near_find(index, key, &found);
    struct text words = {0};
    text_print(&words, "%s", what);
    for (size_t i = 0; i < found.n_near; i++)
        text_print(&words, "%s%s", i == 0 ? " Nearest: " : "; ", plant_words(index, found.near[i], arena));
    text_add(&words, found.n_near > 0 ? "." : "");
    found.words = arena_text(arena, text_get(&words));
    text_free(&words);
    return found;
}

static struct plant_found several(const struct plant_index *index, const uint32_t *these, size_t n, struct arena *arena)
{
    struct plant_found found = {.match = MATCH_SEVERAL, .n_near = n < 3 ? n : 3};
    for (size_t i = 0; i < found.n_near; i++)
        found.near[i] = &index->ground->plants[these[i]];
    found.words = arena_print(arena, "%zu%s plants have this label or place, such as %s and %s.", n, n == MOST_FOUND ? " or more" : "",
                              plant_words(index, found.near[0], arena), plant_words(index, found.near[1], arena));
    return found;
}

struct plant_found plant_find(const struct plant_index *index, const struct plant_key *key, struct arena *arena)
{
    const struct survey_ground *g = index->ground;
    struct plant_found found = {.match = MATCH_NONE};
    uint32_t tagged[MOST_FOUND], placed[MOST_FOUND];
    bool has_tag = !text_blank(key->tag), has_place = key->plot_id != 0 && (!text_blank(key->cell) || key->number != INT_UNKNOWN);
    size_t n_tag = has_tag ? labelled(index, key, tagged) : 0;
    size_t n_place = has_place ? by_place(index, key->plot_id, key->cell, key->number, placed) : 0;
    if (n_tag > 0 && n_place > 0) { /* both must speak of the same plant */
        size_t both = 0;
        for (size_t i = 0; i < n_tag; i++)
            for (size_t k = 0; k < n_place; k++)
                if (tagged[i] == placed[k]) {
                    tagged[both++] = tagged[i];
                    break;
                }
        if (both == 1) {
            found.match = MATCH_ONE;
            found.plant = &g->plants[tagged[0]];
            return found;
        }
        if (both > 1)
            return several(index, tagged, both, arena);
        found.match = MATCH_DISAGREES;
        found.plant = &g->plants[tagged[0]];
        found.other = &g->plants[placed[0]];
        found.words = arena_print(arena, "The label belongs to %s, but the square and number to %s.",
                                  plant_words(index, found.plant, arena), plant_words(index, found.other, arena));
        return found;
    }
    if (n_tag + n_place == 0)
        return none(index, key,
                    has_tag || has_place ? "No plant of the programme has this label or place."
                                         : "The row names no label, square or number.",
                    arena);
    const uint32_t *these = n_tag > 0 ? tagged : placed;
    size_t n = n_tag > 0 ? n_tag : n_place;
    found.plant = &g->plants[these[0]];
    if (n > 1)
        return several(index, these, n, arena);
    if (n_tag == 1 && key->plot_id != 0 && found.plant->plot_id != key->plot_id) { /* the label stands in another plot */
        found.match = MATCH_DISAGREES;
        found.words = arena_print(arena, "The label belongs to %s, but the row says plot %s.", plant_words(index, found.plant, arena),
                                  plot_code(index, key->plot_id));
        return found;
    }
    if (n_tag == 1 && has_place && (found.plant->cell_code != NULL || found.plant->number != INT_UNKNOWN) && !text_blank(key->cell)) {
        found.match = MATCH_DISAGREES;
        found.words = arena_print(arena, "The label belongs to %s, but the row says square %s, where no such plant stands.",
                                  plant_words(index, found.plant, arena), key->cell);
        return found;
    }
    found.match = MATCH_ONE;
    return found;
}
