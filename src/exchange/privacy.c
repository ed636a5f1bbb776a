/* SPDX-License-Identifier: GPL-3.0-or-later
 * What may leave: fields withheld, people coded anew, places moved. */
#include "exchange/inside.h"
#include <math.h>
#include <string.h>

struct listed {
    enum noun noun;
    const char *fields; ///< separated by blanks
};

/* Texts that describe the work and not people or places. */
static const struct listed open_texts[] = {
    {NOUN_PROGRAMME, "currency language definition_established"},
    {NOUN_SITE, "code region"},
    {NOUN_LOCAL_RULE, "topic unit"},
    {NOUN_PREPARATION, "name mulch_kind"},
    {NOUN_PLOT, "code community library"},
    {NOUN_COMPARISON, "name question outcome"},
    {NOUN_PROTOCOL, "version primary_outcome survey_window established replacement_policy stopping_rules analysis_plan differs"},
    {NOUN_SOIL_SAMPLE, "zone composite"},
    {NOUN_LIBRARY, "name region facts_csv communities_csv sha256 source"},
    {NOUN_PLAN, "settings proof"},
    {NOUN_MIX_LINE, "species reason"},
    {NOUN_CELL, "code"},
    {NOUN_POSITION, "species"},
    {NOUN_PLANT, "cell_code tag species cohort batch"},
    {NOUN_PLANT_RECORD, "species_seen"},
    {NOUN_IMPORT, "sha256 kind"},
    {NOUN_HELD_ROW, "kind"},
    {NOUN_WILDLIFE_VISIT, "protocol effort_unit weather"},
    {NOUN_WILDLIFE_RECORD, "taxon"},
    {NOUN_COST_ITEM, "split item unit"},
    {NOUN_WORK_HOURS, "task"},
    {NOUN_ORDER_LINE, "species size_cm provenance"},
    {NOUN_DELIVERY_LINE, "offered_species"},
    {NOUN_WEATHER_DAY, "source flags"},
    {NOUN_ISSUED_DOCUMENT, "kind sha256"},
    {NOUN_RECIPE, "name version sha256"},
    {NOUN_RECIPE_STEP, "topic words unit"},
    {NOUN_CONFLICT, "noun row_uuid field"},
};
static const struct listed coded_texts[] = {
    {NOUN_PERSON, "code"},           {NOUN_ALLOCATION, "drawn_by witness"}, {NOUN_VISIT, "observers"},
    {NOUN_PLANT_RECORD, "observer"}, {NOUN_WILDLIFE_VISIT, "observers"},    {NOUN_CARE_EVENT, "who"},
    {NOUN_HELD_ROW, "decided_by"},   {NOUN_PHENOLOGY_RECORD, "observer"},
};

static bool is_listed(const struct listed *list, size_t n, enum noun noun, const char *name)
{
    size_t length = strlen(name);
    for (size_t i = 0; i < n; i++) {
        if (list[i].noun != noun)
            continue;
        for (const char *at = strstr(list[i].fields, name); at != NULL; at = strstr(at + 1, name))
            if ((at == list[i].fields || at[-1] == ' ') && (at[length] == ' ' || at[length] == '\0'))
                return true;
    }
    return false;
}

enum exchange_care exchange_care_of(enum noun noun, const struct field *field)
{
    if (field->kind != FIELD_TEXT && field->kind != FIELD_JSON && field->kind != FIELD_BYTES)
        return CARE_OPEN;
    if (is_listed(open_texts, sizeof open_texts / sizeof *open_texts, noun, field->name))
        return CARE_OPEN;
    if (is_listed(coded_texts, sizeof coded_texts / sizeof *coded_texts, noun, field->name))
        return CARE_CODED;
    return CARE_WITHHELD;
}

/* Codes given anew: the nth different name met is `lead`, then n. */
struct codes {
    const char *lead;
    const char **name;
    size_t n, room;
    struct arena *arena;
};

static const char *code_for(struct codes *codes, const char *name)
{
    size_t at = 0;
    while (at < codes->n && !text_same_nocase(codes->name[at], name))
        at++;
    if (at == codes->n) {
        codes->name = column_room(codes->name, codes->n, &codes->room, sizeof *codes->name);
        codes->name[codes->n++] = arena_text(codes->arena, name);
    }
    return arena_print(codes->arena, "%s%02zu", codes->lead, at + 1);
}

/* A list of people as it stands in one text. */
static const char *coded_list(struct codes *codes, const char *text)
{
    struct text out = {0};
    char *copy = arena_text(codes->arena, text), *rest = NULL;
    for (char *part = strtok_r(copy, ",;/&+", &rest); part != NULL; part = strtok_r(NULL, ",;/&+", &rest)) {
        part = text_trim(codes->arena, part);
        if (*part != '\0')
            text_print(&out, "%s%s", out.n > 0 ? ", " : "", code_for(codes, part));
    }
    const char *kept = out.n == 0 ? NULL : arena_text(codes->arena, out.at);
    text_free(&out);
    return kept;
}

static void withhold_row(enum noun noun, void *row, const struct exchange_terms *terms, struct codes *people,
                         struct exchange_withheld *held)
{
    const struct noun_info *info = &noun_infos[noun];
    for (size_t j = 0; j < info->n_fields; j++) {
        const struct field *field = &info->fields[j];
        enum exchange_care care = exchange_care_of(noun, field);
        void *at = (char *)row + field->offset;
        if (field->kind == FIELD_BYTES) {
            *(struct bytes *)at = (struct bytes){0};
            continue;
        }
        if (terms->keep_names || care == CARE_OPEN || field_unknown(field, row))
            continue;
        const char **text = at;
        if (care == CARE_CODED) {
            *text = coded_list(people, *text);
            held->coded++;
        } else {
            /* a value that was kept although unlikely stays marked as looked at */
            bool marks = noun == NOUN_PLANT_RECORD && strcmp(field->name, "confirmed") == 0;
            *text = field->kind == FIELD_JSON ? (field->required ? "{}" : NULL) : field->required || marks ? "withheld" : NULL;
            held->fields[noun]++;
        }
    }
}

/* How far the rows of a site are moved. */
struct move {
    int64_t site;
    double x_m, y_m;
};

static enum outcome move_shape(struct bytes *wkb, const struct move *move, struct arena *arena, struct failure *why)
{
    struct shape shape;
    if (wkb->n == 0)
        return OUTCOME_OK;
    enum outcome outcome = shape_from_wkb(*wkb, arena, &shape, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    for (size_t p = 0; p < shape.n_parts; p++)
        for (size_t r = 0; r < shape.parts[p].n_rings; r++)
            for (size_t i = 0; i < shape.parts[p].rings[r].n; i++) {
                shape.parts[p].rings[r].xy[2 * i] += move->x_m;
                shape.parts[p].rings[r].xy[2 * i + 1] += move->y_m;
            }
    *wkb = shape_to_wkb(&shape, arena);
    return OUTCOME_OK;
}

static enum outcome moves_of_sites(const struct exchange_set *set, const struct exchange_terms *terms, struct arena *arena,
                                   struct move **out, struct failure *why)
{
    const struct site *sites = set->of[NOUN_SITE].rows;
    size_t n = set->of[NOUN_SITE].n;
    *out = arena_array(arena, n + 1, sizeof **out);
    for (size_t i = 0; i < n; i++) {
        (*out)[i].site = sites[i].id;
        if (sites[i].wkb.n == 0)
            continue;
        struct shape shape;
        enum outcome outcome = shape_from_wkb(sites[i].wkb, arena, &shape, why);
        if (outcome != OUTCOME_OK)
            return outcome;
        double x_m = 0, y_m = 0, square = terms->square_m;
        shape_centre(&shape, &x_m, &y_m);
        (*out)[i].x_m = round((floor(x_m / square) + 0.5) * square - x_m);
        (*out)[i].y_m = round((floor(y_m / square) + 0.5) * square - y_m);
    }
    return OUTCOME_OK;
}

static const struct move *move_of(const struct move *moves, size_t n, int64_t site)
{
    for (size_t i = 0; i < n; i++)
        if (moves[i].site == site)
            return &moves[i];
    return NULL;
}

/* The site a row is on: its own, or that of the plot, plan or other row it refers to. 0: none. */
static int64_t site_of(const struct exchange_set *set, enum noun noun, const void *row)
{
    if (noun == NOUN_SITE)
        return *(const int64_t *)row;
    const struct noun_info *info = &noun_infos[noun];
    for (size_t j = 0; j < info->n_fields; j++) {
        const struct field *field = &info->fields[j];
        if (field->kind != FIELD_REF || field->target == (int)noun)
            continue;
        int64_t id = *(const int64_t *)((const char *)row + field->offset);
        if (field->target == NOUN_SITE)
            return id;
        if (field->target != NOUN_PLOT && field->target != NOUN_PLAN && field->target != NOUN_CELL)
            continue;
        const void *target = exchange_find(set, (enum noun)field->target, id);
        if (target != NULL)
            return site_of(set, (enum noun)field->target, target);
    }
    return 0;
}

static enum outcome move_rows(const struct exchange_set *in, enum noun noun, const struct move *moves, size_t n_moves, struct arena *arena,
                              void *rows, size_t n, struct failure *why)
{
    const struct noun_info *info = &noun_infos[noun];
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        char *row = (char *)rows + i * info->size;
        const struct move *move = move_of(moves, n_moves, site_of(in, noun, row));
        if (move == NULL && info->geometry != GEOMETRY_POINT) /* a river or a street in its true place would give the sites away */
            *(struct bytes *)(void *)(row + info->geometry_offset) = (struct bytes){0};
        if (move == NULL)
            continue;
        if (info->geometry == GEOMETRY_POINT) {
            double *xy = (double *)(void *)(row + info->geometry_offset);
            xy[0] += move->x_m;
            xy[1] += move->y_m;
        } else {
            outcome = move_shape((struct bytes *)(void *)(row + info->geometry_offset), move, arena, why);
        }
    }
    return outcome;
}

enum outcome exchange_withhold(const struct exchange_set *in, const struct exchange_terms *terms, struct arena *arena,
                               struct exchange_set *out, struct exchange_withheld *held, struct failure *why)
{
    struct codes people = {.lead = "O", .arena = arena}, taxa = {.lead = "sensitive taxon ", .arena = arena};
    struct move *moves = NULL;
    struct exchange_set set = {0};
    enum outcome outcome = OUTCOME_OK;
    *held = (struct exchange_withheld){0};
    if (!terms->keep_places) {
        outcome = moves_of_sites(in, terms, arena, &moves, why);
        held->sites_moved = in->of[NOUN_SITE].n;
    }
    for (int noun = 0; noun < NOUN_COUNT && outcome == OUTCOME_OK; noun++) {
        const struct noun_info *info = &noun_infos[noun];
        size_t n = in->of[noun].n;
        char *rows = arena_array(arena, n + 1, info->size);
        if (n > 0)
            memcpy(rows, in->of[noun].rows, n * info->size);
        set.of[noun] = (struct exchange_rows){.rows = rows, .n = n};
        for (size_t i = 0; i < n; i++)
            withhold_row((enum noun)noun, rows + i * info->size, terms, &people, held);
        if (!terms->keep_places && info->geometry != GEOMETRY_NONE)
            outcome = move_rows(in, (enum noun)noun, moves, in->of[NOUN_SITE].n, arena, rows, n, why);
    }
    struct wildlife_record *seen = set.of[NOUN_WILDLIFE_RECORD].rows;
    for (size_t i = 0; outcome == OUTCOME_OK && !terms->keep_places && i < set.of[NOUN_WILDLIFE_RECORD].n; i++)
        if (seen[i].sensitive == TRUTH_YES) {
            seen[i].taxon = code_for(&taxa, seen[i].taxon);
            held->sensitive++;
        }
    struct site *sites = set.of[NOUN_SITE].rows;
    for (size_t i = 0; outcome == OUTCOME_OK && !terms->keep_names && i < set.of[NOUN_SITE].n; i++)
        sites[i].name = sites[i].code;
    free(people.name);
    free(taxa.name);
    if (outcome == OUTCOME_OK)
        *out = set;
    return outcome;
}
