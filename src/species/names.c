/* SPDX-License-Identifier: GPL-3.0-or-later
 * Looking a name up: exact, synonym, English name, or suggestions. Nothing is ever corrected. */
#include "species/species.h"
#include <stdlib.h>
#include <string.h>
#include <utf8proc.h>

enum { LONGEST_NAME = 400 };

/* Lower case without marks; bytes that are not UTF-8 only lose their case. */
static char *plain(struct arena *arena, const char *name)
{
    utf8proc_uint8_t *folded = NULL;
    const utf8proc_option_t options = UTF8PROC_NULLTERM | UTF8PROC_STABLE | UTF8PROC_DECOMPOSE | UTF8PROC_STRIPMARK | UTF8PROC_CASEFOLD;
    char *out;
    if (utf8proc_map((const utf8proc_uint8_t *)name, 0, &folded, options) >= 0) {
        out = arena_text(arena, (const char *)folded);
        free(folded);
        return out;
    }
    free(folded);
    out = arena_text(arena, name);
    for (char *c = out; *c != '\0'; c++)
        if (*c >= 'A' && *c <= 'Z')
            *c = (char)(*c - 'A' + 'a');
    return out;
}

/* Hybrid signs become blanks, as does a cultivar name in quotes; true if there was one. */
static bool signs_drop(char *a)
{
    bool cultivar = false, inside = false;
    for (size_t i = 0; a[i] != '\0'; i++) {
        bool curly = strncmp(a + i, "\xE2\x80\x98", 3) == 0 || strncmp(a + i, "\xE2\x80\x99", 3) == 0;
        bool quote = a[i] == '"' || curly || (a[i] == '\'' && (inside || i == 0 || a[i - 1] == ' '));
        if (strncmp(a + i, "\xC3\x97", 2) == 0) {
            a[i] = a[i + 1] = ' ';
        } else if (quote) {
            inside = !inside;
            cultivar = true;
            a[i] = ' ';
            if (curly) {
                a[i + 1] = a[i + 2] = ' ';
                i += 2;
            }
        } else if (inside) {
            a[i] = ' ';
        }
    }
    return cultivar;
}

static bool one_of(const char *word, const char *const *list)
{
    for (; *list != NULL; list++)
        if (strcmp(word, *list) == 0)
            return true;
    return false;
}

/* The compared form; *epithet tells whether there is more than a genus. */
static char *key_make(struct arena *arena, const char *name, bool *epithet, bool *cultivar)
{
    static const char *const skip[] = {"x", "cf.", "cf", "aff.", "aff", "?", NULL};
    static const char *const below[] = {"subsp.", "subsp", "ssp.", "ssp", "subspecies", NULL};
    static const char *const variety[] = {"var.", "var", "varietas", NULL};
    static const char *const open[] = {"sp.", "sp", "spp.", "spp", NULL};
    *epithet = false;
    char *text = plain(arena, name);
    *cultivar = signs_drop(text);
    char *key = arena_alloc(arena, strlen(text) + 32), *rest = NULL;
    int taken = 0;
    const char *rank = NULL;
    for (char *word = strtok_r(text, " \t\r\n_", &rest); word != NULL; word = strtok_r(NULL, " \t\r\n_", &rest)) {
        if (one_of(word, skip))
            continue;
        if (taken >= 2 && one_of(word, below))
            rank = " subsp ";
        else if (taken >= 2 && one_of(word, variety))
            rank = " var ";
        else if (taken == 0) {
            strcat(key, word);
            taken = 1;
        } else if (taken == 1) {
            size_t n = strlen(word);
            if (one_of(word, open) || word[n - 1] == '.' || *word == '(')
                break; /* a genus, perhaps with its author */
            strcat(strcat(key, " "), word);
            taken = 2;
        } else if (rank != NULL) {
            strcat(strcat(key, rank), word);
            rank = NULL;
        } /* else: an author */
    }
    *epithet = taken == 2;
    return key;
}

char *species_key(struct arena *arena, const char *name)
{
    bool epithet = false, cultivar = false;
    return key_make(arena, name == NULL ? "" : name, &epithet, &cultivar);
}

struct nearest {
    struct species_match *match;
    int limit;
};

/* Keep the nearest few, nearest first, then by name. */
static void suggest(struct nearest *nearest, const struct species_fact *fact, int edits)
{
    struct species_match *match = nearest->match;
    if (edits > nearest->limit)
        return;
    size_t at = match->n_suggestions;
    for (size_t i = 0; i < match->n_suggestions; i++)
        if (match->suggestion[i] == fact) {
            if (match->edits[i] <= edits)
                return;
            match->n_suggestions--;
            memmove(&match->suggestion[i], &match->suggestion[i + 1], (match->n_suggestions - i) * sizeof *match->suggestion);
            memmove(&match->edits[i], &match->edits[i + 1], (match->n_suggestions - i) * sizeof *match->edits);
            at = match->n_suggestions;
            break;
        }
    while (at > 0 &&
           (match->edits[at - 1] > edits || (match->edits[at - 1] == edits && strcmp(match->suggestion[at - 1]->name, fact->name) > 0)))
        at--;
    if (at >= MATCH_SUGGESTIONS)
        return;
    size_t keep = match->n_suggestions < MATCH_SUGGESTIONS ? match->n_suggestions : MATCH_SUGGESTIONS - 1;
    for (size_t i = keep; i > at; i--) {
        match->suggestion[i] = match->suggestion[i - 1];
        match->edits[i] = match->edits[i - 1];
    }
    match->suggestion[at] = fact;
    match->edits[at] = edits;
    match->n_suggestions = keep + 1;
}

static const struct species_fact *fact_of(const struct species_library *library, const char *accepted)
{
    for (size_t i = 0; i < library->n_facts; i++)
        if (strcmp(library->facts[i].name, accepted) == 0)
            return &library->facts[i];
    return NULL;
}

static void suggest_all(const struct species_library *library, const char *key, struct arena *arena, struct species_match *match)
{
    size_t n = strlen(key);
    struct nearest nearest = {match, n <= 5 ? 1 : n <= 9 ? 2 : n <= 15 ? 3 : 4};
    for (size_t i = 0; i < library->n_facts; i++) {
        const struct species_fact *fact = &library->facts[i];
        suggest(&nearest, fact, text_distance(species_key(arena, fact->name), key, nearest.limit));
        if (fact->common_name != NULL)
            suggest(&nearest, fact, text_distance(plain(arena, fact->common_name), key, nearest.limit));
    }
    for (size_t i = 0; i < library->n_synonyms; i++) {
        const struct species_fact *fact = fact_of(library, library->synonyms[i].accepted);
        if (fact != NULL)
            suggest(&nearest, fact, text_distance(species_key(arena, library->synonyms[i].name), key, nearest.limit));
    }
}

static void match_genus(const struct species_library *library, const char *genus, struct arena *arena, struct species_match *match)
{
    for (size_t i = 0; i < library->n_facts && match->n_suggestions < MATCH_SUGGESTIONS; i++)
        if (strcmp(plain(arena, library->facts[i].genus), genus) == 0)
            match->suggestion[match->n_suggestions++] = &library->facts[i];
}

static bool match_whole(const struct species_library *library, const char *key, const char *folded, struct arena *arena,
                        struct species_match *match)
{
    for (size_t i = 0; i < library->n_facts; i++)
        if (strcmp(species_key(arena, library->facts[i].name), key) == 0) {
            match->kind = MATCH_EXACT;
            match->fact = &library->facts[i];
            match->said = arena_print(arena, "%s is in the library.", match->fact->name);
            return true;
        }
    for (size_t i = 0; i < library->n_synonyms; i++)
        if (strcmp(species_key(arena, library->synonyms[i].name), key) == 0) {
            const struct species_synonym *synonym = &library->synonyms[i];
            match->kind = MATCH_SYNONYM;
            match->fact = fact_of(library, synonym->accepted);
            match->said = arena_print(arena, "%s is another name of %s%s%s%s; the library uses the latter.", synonym->name,
                                      synonym->accepted, synonym->note == NULL ? "" : " (", synonym->note == NULL ? "" : synonym->note,
                                      synonym->note == NULL ? "" : ")");
            return true;
        }
    for (size_t i = 0; i < library->n_facts; i++)
        if (library->facts[i].common_name != NULL && strcmp(plain(arena, library->facts[i].common_name), folded) == 0) {
            match->kind = MATCH_COMMON;
            match->fact = &library->facts[i];
            match->said = arena_print(arena, "%s is %s.", match->fact->common_name, match->fact->name);
            return true;
        }
    return false;
}

/* A subspecies or variety that the library does not tell apart: the species is suggested, not put in its place. */
static bool match_below(const struct species_library *library, const char *key, struct arena *arena, struct species_match *match)
{
    const char *rank = strstr(key, " subsp ");
    if (rank == NULL)
        rank = strstr(key, " var ");
    if (rank == NULL)
        return false;
    char *whole = arena_text_n(arena, key, (size_t)(rank - key));
    for (size_t i = 0; i < library->n_facts; i++)
        if (strcmp(species_key(arena, library->facts[i].name), whole) == 0) {
            match->kind = MATCH_NEAR;
            match->suggestion[0] = &library->facts[i];
            match->n_suggestions = 1;
            match->said = arena_print(arena, "The library knows %s but does not tell this form of it apart; say whether to use it.",
                                      library->facts[i].name);
            return true;
        }
    return false;
}

static void near_say(struct arena *arena, const char *name, struct species_match *match)
{
    struct text list = {0};
    for (size_t i = 0; i < match->n_suggestions; i++)
        text_print(&list, "%s%s", i == 0 ? "" : i + 1 == match->n_suggestions ? " or " : ", ", match->suggestion[i]->name);
    if (match->n_suggestions == 0) {
        match->kind = MATCH_NONE;
        match->said = arena_print(arena, "“%.80s” is not in the library: what it is and what it needs are unknown.", name);
    } else if (match->kind == MATCH_GENUS) {
        match->said = arena_print(arena, "“%.80s” is a genus; say which species: %s.", name, text_get(&list));
    } else {
        match->kind = MATCH_NEAR;
        match->said =
            arena_print(arena, "“%.80s” is not in the library. Perhaps %s is meant? Nothing has been changed.", name, text_get(&list));
    }
    text_free(&list);
}

enum outcome species_find(const struct species_library *library, const char *name, struct arena *arena, struct species_match *out,
                          struct failure *why)
{
    struct species_match match = {0};
    if (text_blank(name))
        return fail(why, OUTCOME_DATA, "The name is blank.");
    if (strlen(name) > LONGEST_NAME)
        return fail(why, OUTCOME_DATA, "The name is longer than %d letters.", LONGEST_NAME);
    bool epithet = false;
    const char *given = text_trim(arena, name);
    const char *key = key_make(arena, given, &epithet, &match.cultivar);
    if (match_whole(library, key, plain(arena, given), arena, &match)) {
        if (match.cultivar)
            match.said = arena_print(arena, "%s A cultivar was named; the facts are those of the wild species.", match.said);
    } else if (!match_below(library, key, arena, &match)) {
        if (!epithet)
            match_genus(library, key, arena, &match);
        if (match.n_suggestions > 0)
            match.kind = MATCH_GENUS;
        else
            suggest_all(library, key, arena, &match);
        near_say(arena, given, &match);
    }
    *out = match;
    return OUTCOME_OK;
}
