/* SPDX-License-Identifier: GPL-3.0-or-later
 * Reference communities and synonyms, read from tables. */
#include "species/table.h"
#include <string.h>

/// A row of the table of communities: either the community itself (species blank) or one of its species.
struct row {
    const char *id, *name, *alliance, *units, *about, *moisture_words, *nutrient_words, *species, *advice, *sources;
    double samples, ph_least, ph_most, light_mean, cover_pct;
    double least[3], mean[3], most[3]; ///< moisture, reaction, nutrients
    int layer, constancy;
    const char **from_memory;
    size_t n_from_memory;
};

static const char *const layer_words[] = {NULL, "canopy", "subcanopy", "shrub", "climber", "ground"};
static const char *const class_words[] = {NULL, "I", "II", "III", "IV", "V"};

#define AT(member) offsetof(struct row, member)
#define TEXT(name)                                                                                                                         \
    {                                                                                                                                      \
#name, CELL_TEXT, AT(name), 0, 0, 0, NULL, 0, false                                                                                \
    }
#define NUMBER(name, member, least, most)                                                                                                  \
    {                                                                                                                                      \
        name, CELL_NUMBER, AT(member), 0, least, most, NULL, 0, false                                                                      \
    }

static const struct column columns[] = {
    {"community", CELL_TEXT, AT(id), 0, 0, 0, NULL, 0, true},
    TEXT(name),
    TEXT(alliance),
    TEXT(units),
    NUMBER("samples", samples, 0, 1e7),
    TEXT(about),
    TEXT(moisture_words),
    TEXT(nutrient_words),
    NUMBER("ph_least", ph_least, 1, 12),
    NUMBER("ph_most", ph_most, 1, 12),
    NUMBER("moisture_least", least[0], 0, 10),
    NUMBER("moisture_mean", mean[0], 0, 10),
    NUMBER("moisture_most", most[0], 0, 10),
    NUMBER("reaction_least", least[1], 0, 10),
    NUMBER("reaction_mean", mean[1], 0, 10),
    NUMBER("reaction_most", most[1], 0, 10),
    NUMBER("nutrients_least", least[2], 0, 10),
    NUMBER("nutrients_mean", mean[2], 0, 10),
    NUMBER("nutrients_most", most[2], 0, 10),
    NUMBER("light_mean", light_mean, 0, 10),
    {"species", CELL_TEXT, AT(species), 0, 0, 0, NULL, 0, false},
    {"layer", CELL_WORD, AT(layer), 0, 0, 0, layer_words, LAYER_COUNT, false},
    {"constancy", CELL_WORD, AT(constancy), 0, 0, 0, class_words, 6, false},
    NUMBER("cover_pct", cover_pct, 0, 100),
    TEXT(advice),
    TEXT(sources),
    {"from_memory", CELL_WORDS, AT(from_memory), AT(n_from_memory), 0, 0, NULL, 0, false},
};
enum { N_COLUMNS = sizeof columns / sizeof *columns };

static struct row row_new(void)
{
    double u = unknown_real();
    return (struct row){.samples = u,
                        .ph_least = u,
                        .ph_most = u,
                        .light_mean = u,
                        .cover_pct = u,
                        .least = {u, u, u},
                        .mean = {u, u, u},
                        .most = {u, u, u}};
}

static struct community community_of(const struct row *row)
{
    return (struct community){.id = row->id,
                              .name = row->name == NULL ? row->id : row->name,
                              .alliance = row->alliance,
                              .units = row->units,
                              .about = row->about,
                              .moisture_words = row->moisture_words,
                              .nutrient_words = row->nutrient_words,
                              .sources = row->sources,
                              .ph = {row->ph_least, row->ph_most},
                              .moisture = {row->least[0], row->most[0]},
                              .reaction = {row->least[1], row->most[1]},
                              .nutrients = {row->least[2], row->most[2]},
                              .mean_moisture = row->mean[0],
                              .mean_reaction = row->mean[1],
                              .mean_nutrients = row->mean[2],
                              .mean_light = row->light_mean,
                              .samples = row->samples};
}

static enum outcome refuse(const char *file, size_t row, const char *column, const char *sentence, const char *remedy, struct failure *why)
{
    fail(why, OUTCOME_DATA, "%s", sentence);
    failure_at(why, file, (long)row + 1, column);
    return failure_remedy(why, "%s", remedy);
}

/* Room for one more species: the array doubles whenever its count is a power of two. */
static void community_grow(struct community *community, struct arena *arena)
{
    size_t n = community->n_species;
    if (n != 0 && (n & (n - 1)) != 0)
        return;
    struct community_species *more = arena_array(arena, n == 0 ? 1 : 2 * n, sizeof *more);
    if (n > 0)
        memcpy(more, community->species, n * sizeof *more);
    community->species = more;
}

/* Put one row where it belongs; the species of a community follow its own row. */
static enum outcome row_place(const char *file, size_t number, const struct row *row, struct species_library *library, struct arena *arena,
                              struct failure *why)
{
    struct community *community = NULL;
    for (size_t i = 0; i < library->n_communities && community == NULL; i++)
        if (strcmp(library->communities[i].id, row->id) == 0)
            community = &library->communities[i];
    if (row->species == NULL) {
        if (community != NULL)
            return refuse(file, number, "community", "This community is described twice.", "Keep one row without species for each.", why);
        library->communities[library->n_communities++] = community_of(row);
        return OUTCOME_OK;
    }
    if (community == NULL)
        return refuse(file, number, "community", "The community of this species has not been described above it.",
                      "Put the row that describes the community, with species blank, before its species.", why);
    if (row->constancy == 0)
        return refuse(file, number, "constancy", "The constancy class is blank.", "Give I, II, III, IV or V.", why);
    for (size_t i = 0; i < community->n_species; i++)
        if (strcmp(community->species[i].name, row->species) == 0 && (int)community->species[i].layer == row->layer)
            return refuse(file, number, "species", "The species stands twice in this layer of the community.", "Keep one of the rows.",
                          why);
    struct community_species line = {.name = row->species,
                                     .layer = (enum layer)row->layer,
                                     .constancy = row->constancy,
                                     .cover_pct = row->cover_pct,
                                     .advice = row->advice};
    for (size_t i = 0; i < row->n_from_memory; i++)
        line.from_memory |= strcmp(row->from_memory[i], "constancy") == 0;
    for (size_t i = 0; i < library->n_facts && line.fact == NULL; i++)
        if (strcmp(library->facts[i].name, row->species) == 0)
            line.fact = &library->facts[i];
    community_grow(community, arena);
    community->species[community->n_species++] = line;
    return OUTCOME_OK;
}

enum outcome species_communities_read(const char *file, const char *bytes, size_t n, struct arena *arena, struct species_library *library,
                                      struct species_problems *problems, struct failure *why)
{
    enum { MOST_ROWS = 50000 };
    struct csv_table table;
    struct table_head head;
    enum outcome outcome = csv_read(file, bytes, n, ',', MOST_ROWS, arena, &table, why);
    if (outcome == OUTCOME_OK)
        outcome = table_head_read(&table, columns, N_COLUMNS, false, arena, &head, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct species_library with = *library;
    with.communities = arena_array(arena, table.rows + library->n_communities, sizeof *with.communities);
    if (library->n_communities > 0)
        memcpy(with.communities, library->communities, library->n_communities * sizeof *with.communities);
    size_t before = library->n_communities;
    for (size_t r = 1; r < table.rows; r++) {
        struct row row = row_new();
        struct failure bad = {0};
        if (table_row_read(&head, r, &row, arena, &bad) != OUTCOME_OK) {
            problems_add(problems, arena, &bad);
            continue;
        }
        if (row_place(file, r, &row, &with, arena, &bad) != OUTCOME_OK)
            problems_add(problems, arena, &bad);
    }
    if (with.n_communities == before) {
        fail(why, OUTCOME_DATA, "The table describes no community.");
        return failure_at(why, file, 0, NULL);
    }
    *library = with;
    return OUTCOME_OK;
}

static const struct column synonym_columns[] = {
    {"name", CELL_TEXT, offsetof(struct species_synonym, name), 0, 0, 0, NULL, 0, true},
    {"accepted", CELL_TEXT, offsetof(struct species_synonym, accepted), 0, 0, 0, NULL, 0, true},
    {"note", CELL_TEXT, offsetof(struct species_synonym, note), 0, 0, 0, NULL, 0, false},
    {"sources", CELL_TEXT, offsetof(struct species_synonym, sources), 0, 0, 0, NULL, 0, false},
};

enum outcome species_synonyms_read(const char *file, const char *bytes, size_t n, struct arena *arena, struct species_library *library,
                                   struct species_problems *problems, struct failure *why)
{
    struct csv_table table;
    struct table_head head;
    enum outcome outcome = csv_read(file, bytes, n, ',', 50000, arena, &table, why);
    if (outcome == OUTCOME_OK)
        outcome = table_head_read(&table, synonym_columns, 4, false, arena, &head, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct species_synonym *all = arena_array(arena, library->n_synonyms + table.rows, sizeof *all);
    size_t n_all = library->n_synonyms;
    if (n_all > 0)
        memcpy(all, library->synonyms, n_all * sizeof *all);
    for (size_t r = 1; r < table.rows; r++) {
        struct species_synonym synonym = {0};
        struct failure bad = {0};
        if (table_row_read(&head, r, &synonym, arena, &bad) != OUTCOME_OK) {
            problems_add(problems, arena, &bad);
            continue;
        }
        for (size_t i = 0; i < library->n_facts; i++)
            if (strcmp(library->facts[i].name, synonym.accepted) == 0) {
                all[n_all++] = synonym;
                break;
            }
    }
    library->synonyms = all;
    library->n_synonyms = n_all;
    return OUTCOME_OK;
}

const struct community *species_community(const struct species_library *library, const char *id_or_name)
{
    if (id_or_name == NULL)
        return NULL;
    for (size_t i = 0; i < library->n_communities; i++)
        if (text_same_nocase(library->communities[i].id, id_or_name) || text_same_nocase(library->communities[i].name, id_or_name))
            return &library->communities[i];
    return NULL;
}
