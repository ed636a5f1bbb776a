/* SPDX-License-Identifier: GPL-3.0-or-later
 * Species names: another than planted, misspelt, synonyms. A name is never corrected by itself. */
#include "survey/plausible.h"
#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

struct verdict {
    const char *seen, *planted, *meant;
    enum name_verdict verdict;
    bool set;
};
struct names {
    const struct survey_name *all; ///< in order of name, letters' case apart
    size_t n;
    struct verdict *met; ///< verdicts on names already judged
    size_t slots, n_met;
};

static int name_order(const void *a, const void *b)
{
    const struct survey_name *x = a, *y = b;
    int order = strcasecmp(x->name, y->name);
    return order != 0 ? order : strcmp(x->accepted, y->accepted);
}

struct names *names_make(struct checking *c)
{
    struct names *names = arena_alloc(c->arena, sizeof *names);
    size_t n = 0;
    bool *listed = memory_get(c->n_species + 2, sizeof *listed);
    struct survey_name *all = arena_array(c->arena, c->ground->n_names + c->n_species + 1, sizeof *all);
    for (size_t i = 0; i < c->ground->n_names; i++)
        if (c->ground->names[i].name != NULL && c->ground->names[i].accepted != NULL)
            all[n++] = c->ground->names[i];
    for (size_t p = 0; p < c->ground->n_plants; p++) { /* what the programme has planted is known too */
        const char *species = c->ground->plants[p].species;
        uint32_t id = c->species_id[p];
        if (species == NULL || id > c->n_species || listed[id])
            continue;
        listed[id] = true;
        bool known = false;
        for (size_t i = 0; i < c->ground->n_names && !known; i++)
            known = text_same_nocase(c->ground->names[i].name, species);
        if (!known)
            all[n++] = (struct survey_name){species, species};
    }
    free(listed);
    qsort(all, n, sizeof *all, name_order);
    *names = (struct names){.all = all, .n = n, .slots = 8192};
    names->met = arena_array(c->arena, names->slots, sizeof *names->met);
    return names;
}

static const struct survey_name *name_known(const struct names *names, const char *name)
{
    size_t low = 0, high = names->n;
    while (low < high) {
        size_t m = (low + high) / 2;
        if (strcasecmp(names->all[m].name, name) < 0)
            low = m + 1;
        else
            high = m;
    }
    return low < names->n && strcasecmp(names->all[low].name, name) == 0 ? &names->all[low] : NULL;
}

/* Name without what stands behind it: authors, blanks twice, "L." and so on stay; only blanks are put right. */
static char *name_tidy(struct arena *arena, const char *name)
{
    char *out = text_trim(arena, name);
    size_t at = 0;
    for (char *p = out; *p != '\0'; p++)
        if (!(isspace((unsigned char)*p) && at > 0 && out[at - 1] == ' '))
            out[at++] = isspace((unsigned char)*p) ? ' ' : *p;
    out[at] = '\0';
    return out;
}

static char *lower(struct arena *arena, const char *a)
{
    char *out = arena_text(arena, a);
    for (char *p = out; *p != '\0'; p++)
        *p = (char)tolower((unsigned char)*p);
    return out;
}

static enum name_verdict judge(struct checking *c, const char *seen, const char *planted, const char **meant)
{
    char *tidy = name_tidy(c->arena, seen);
    *meant = planted;
    if (planted != NULL && text_same_nocase(tidy, planted))
        return NAME_SAME;
    const struct survey_name *known = name_known(c->names, tidy), *own = planted == NULL ? NULL : name_known(c->names, planted);
    if (known != NULL) {
        *meant = known->accepted;
        const char *accepted = own == NULL ? planted : own->accepted;
        if (accepted == NULL)
            return text_same_nocase(known->accepted, tidy) ? NAME_SAME : NAME_SYNONYM;
        return text_same_nocase(known->accepted, accepted) ? NAME_SYNONYM : NAME_OTHER;
    }
    char *low = lower(c->arena, tidy);
    size_t n = strlen(low);
    int limit = n < 5 ? 0 : n < 8 ? 1 : 2, best = limit + 1;
    if (planted != NULL && text_distance(lower(c->arena, planted), low, n < 5 ? 1 : 3) <= (n < 5 ? 1 : 3))
        return NAME_MISSPELT;
    *meant = NULL;
    for (size_t i = 0; i < c->names->n; i++) {
        size_t m = strlen(c->names->all[i].name);
        if (m > n + 2 || n > m + 2)
            continue;
        int d = text_distance(lower(c->arena, c->names->all[i].name), low, limit);
        if (d < best) {
            best = d;
            *meant = c->names->all[i].name;
        }
    }
    return *meant != NULL ? NAME_MISSPELT : NAME_UNKNOWN;
}

enum name_verdict name_judge(struct checking *c, const char *seen, const char *planted, const char **meant)
{
    if (planted != NULL && strcmp(seen, planted) == 0) {
        *meant = planted;
        return NAME_SAME;
    }
    uint64_t h = 1469598103934665603u;
    for (const char *p = seen; *p != '\0'; p++)
        h = (h ^ (unsigned char)*p) * 1099511628211u;
    for (const char *p = planted == NULL ? "" : planted; *p != '\0'; p++)
        h = (h ^ (unsigned char)*p) * 1099511628211u;
    struct names *names = c->names;
    size_t at = (size_t)(h % names->slots);
    for (size_t k = 0; k < 32 && names->met[at].set; k++, at = (at + 1) % names->slots)
        if (strcmp(names->met[at].seen, seen) == 0 && text_same(names->met[at].planted, planted)) {
            *meant = names->met[at].meant;
            return names->met[at].verdict;
        }
    enum name_verdict verdict = judge(c, seen, planted, meant);
    if (!names->met[at].set && names->n_met < names->slots / 2) {
        names->met[at] = (struct verdict){seen, planted, *meant, verdict, true};
        names->n_met++;
    }
    return verdict;
}

static bool leafless(const struct checking *c, const struct plant_record *r)
{
    for (size_t i = 0; i < c->ground->n_visits; i++)
        if (c->ground->visits[i].id == r->visit_id)
            return c->ground->visits[i].leaf_on == TRUTH_NO;
    return false;
}

static bool first_of_plant(const struct checking *c, size_t i)
{
    return c->first[c->plant_of[i]] == c->where[i];
}

void names_check(struct checking *c, size_t i)
{
    const struct plant_record *r = &c->records[i];
    const struct plant *plant = plant_at(c, c->plant_of[i]);
    bool fresh = c->plant_of[i] >= c->ground->n_plants;
    const char *seen = fresh ? plant->species : r->species_seen, *planted = fresh ? NULL : plant->species, *meant = NULL;
    if (text_blank(seen) || (fresh && (!first_of_plant(c, i) || c->ground->n_names == 0)))
        return;
    enum name_verdict verdict = name_judge(c, seen, planted, &meant);
    struct doubt *d = NULL;
    switch (verdict) {
    case NAME_SAME:
        return;
    case NAME_SYNONYM:
        d = doubt_add(&c->doubts, "species_synonym", (int64_t)i, "species_seen", "“%s” is another name of %s.", seen, meant);
        return;
    case NAME_OTHER: {
        const char *space = strchr(planted, ' ');
        bool genus = space != NULL && strncasecmp(planted, meant, (size_t)(space - planted) + 1) == 0;
        d = doubt_add(&c->doubts, "species_change", (int64_t)i, "species_seen", "Recorded as %s, planted as %s.%s%s", meant, planted,
                      genus ? " The two are of one genus and easily taken for each other." : "",
                      leafless(c, r) ? " The survey was made without leaves." : "");
        doubt_remedy(&c->doubts, d, "correct:species_seen=", "it is %s as planted: the observer was mistaken", planted);
        doubt_remedy(&c->doubts, d, "accept", "it is %s: it was misnamed at planting", meant);
        doubt_remedy(&c->doubts, d, "reject", "another plant was recorded: leave the row out");
        c->odd[i] |= ODD_NAME;
        return;
    }
    case NAME_MISSPELT:
        d = doubt_add(&c->doubts, "species_misspelt", (int64_t)i, "species_seen", "No species is called “%s”; the nearest name is %s%s.",
                      seen, meant, planted != NULL && text_same_nocase(planted, meant) ? ", which was planted there" : "");
        doubt_remedy(&c->doubts, d, arena_print(c->arena, "correct:species_seen=%s", meant), "it is %s", meant);
        doubt_usual(&c->doubts, d, "the name is right as written");
        return;
    case NAME_UNKNOWN:
        d = doubt_add(&c->doubts, "species_unknown", (int64_t)i, "species_seen",
                      "The species library has no “%s”, and no name near it.%s%s", seen, planted == NULL ? "" : " Planted there was ",
                      planted == NULL ? "" : planted);
        if (planted != NULL)
            doubt_remedy(&c->doubts, d, "correct:species_seen=", "it is %s as planted", planted);
        doubt_usual(&c->doubts, d, "the name is right as written");
        c->odd[i] |= planted != NULL ? ODD_NAME : 0;
        return;
    }
}
