/* SPDX-License-Identifier: GPL-3.0-or-later
 * The species library: tables read from bytes, the built-in ones and the user's own in the same format. */
#include "species/table.h"
#include <string.h>

#define AT(member) offsetof(struct species_fact, member)
#define TEXT(name)                                                                                                                         \
    {                                                                                                                                      \
#name, CELL_TEXT, AT(name), 0, 0, 0, NULL, 0, false                                                                                \
    }
#define LIST(name)                                                                                                                         \
    {                                                                                                                                      \
#name, CELL_WORDS, AT(name), AT(n_##name), 0, 0, NULL, 0, false                                                                    \
    }
#define NUMBER(name, member, least, most)                                                                                                  \
    {                                                                                                                                      \
        name, CELL_NUMBER, AT(member), 0, least, most, NULL, 0, false                                                                      \
    }
#define TRUTH(name)                                                                                                                        \
    {                                                                                                                                      \
#name, CELL_TRUTH, AT(name), 0, 0, 0, NULL, 0, false                                                                               \
    }
#define WORD(name, words, count)                                                                                                           \
    {                                                                                                                                      \
#name, CELL_WORD, AT(name), 0, 0, 0, words, count, false                                                                           \
    }

static const char *const layer_words[] = {NULL, "canopy", "subcanopy", "shrub", "climber", "ground"};
static const char *const role_words[] = {NULL, "pioneer", "mid", "late"};
static const char *const demand_words[] = {NULL, "low", "moderate", "high"};

/* water_demand_of is a word in the table and a flag in the struct: read by itself. */
static const struct column columns[] = {
    {"name", CELL_TEXT, AT(name), 0, 0, 0, NULL, 0, true},
    TEXT(family),
    TEXT(common_name),
    WORD(form, form_words, FORM_COUNT),
    {"layer", CELL_WORD, AT(layer), 0, 0, 0, layer_words, LAYER_COUNT, false},
    WORD(role, role_words, ROLE_COUNT),
    NUMBER("light", light.value, 0, 10),
    NUMBER("light_width", light.spread, 0, 20),
    NUMBER("moisture", moisture.value, 0, 10),
    NUMBER("moisture_width", moisture.spread, 0, 20),
    NUMBER("reaction", reaction.value, 0, 10),
    NUMBER("reaction_width", reaction.spread, 0, 20),
    NUMBER("nutrients", nutrients.value, 0, 10),
    NUMBER("nutrients_width", nutrients.spread, 0, 20),
    NUMBER("warmth", warmth.value, 0, 10),
    NUMBER("warmth_width", warmth.spread, 0, 20),
    NUMBER("ph_least", ph_least, 1, 12),
    NUMBER("ph_most", ph_most, 1, 12),
    /* a few published means run just below 1 or above 5 */
    NUMBER("shade", shade.value, 0, 5.5),
    NUMBER("shade_se", shade.spread, 0, 3),
    NUMBER("drought", drought.value, 0, 5.5),
    NUMBER("drought_se", drought.spread, 0, 3),
    NUMBER("waterlogging", waterlogging.value, 0, 5.5),
    NUMBER("waterlogging_se", waterlogging.spread, 0, 3),
    NUMBER("coldest_c", coldest_c, -70, 20),
    NUMBER("height_most_m", height_most_m, 0.01, 130),
    NUMBER("height_20_years_m", height_20_years_m, 0.01, 60),
    WORD(water_demand, demand_words, WATER_DEMAND_COUNT),
    {"water_demand_of", CELL_TEXT, AT(water_demand_of), 0, 0, 0, NULL, 0, false},
    NUMBER("clay_height_m", clay_height_m, 0.5, 60),
    WORD(growth, growth_words, GROWTH_COUNT),
    TRUTH(nitrogen_fixer),
    TRUTH(evergreen),
    TRUTH(thorny),
    TEXT(hazard),
    LIST(pests),
    TEXT(pests_watched),
    WORD(health, health_words, HEALTH_COUNT),
    TEXT(health_note),
    TEXT(health_date),
    TEXT(flowers),
    TRUTH(fruit_for_birds),
    TEXT(size_cm),
    TEXT(stock),
    TEXT(not_by_default),
    TEXT(sources),
    LIST(from_memory),
    LIST(uncertain),
    TEXT(note),
};
enum { N_COLUMNS = sizeof columns / sizeof *columns };

static struct species_fact fact_new(void)
{
    double u = unknown_real();
    struct species_value v = {u, u};
    return (struct species_fact){.light = v,
                                 .moisture = v,
                                 .reaction = v,
                                 .nutrients = v,
                                 .warmth = v,
                                 .ph_least = u,
                                 .ph_most = u,
                                 .shade = v,
                                 .drought = v,
                                 .waterlogging = v,
                                 .coldest_c = u,
                                 .height_most_m = u,
                                 .height_20_years_m = u,
                                 .clay_height_m = u};
}

static bool column_known(const struct table_head *head, const char *name)
{
    for (size_t i = 0; i < N_COLUMNS; i++)
        if (strcmp(columns[i].name, name) == 0)
            return true;
    for (size_t i = 0; i < head->n_natives; i++)
        if (text_same(csv_cell(head->table, 0, head->natives[i]), name))
            return true;
    return false;
}

static enum outcome names_check(const struct table_head *head, const char *column, const char *const *names, size_t n, struct failure *why)
{
    for (size_t i = 0; i < n; i++)
        if (!column_known(head, names[i])) {
            fail(why, OUTCOME_DATA, "“%.60s” is not a column of this table.", names[i]);
            failure_at(why, head->table->file, 0, column);
            return failure_remedy(why, "List column names between semicolons.");
        }
    return OUTCOME_OK;
}

/* What one cell cannot tell: pairs of cells, the regions, columns named in cells. */
static enum outcome fact_finish(const struct table_head *head, size_t row, struct species_fact *fact, struct arena *arena,
                                struct failure *why)
{
    const struct csv_table *table = head->table;
    if (is_known(fact->ph_least) && is_known(fact->ph_most) && fact->ph_least > fact->ph_most) {
        fail(why, OUTCOME_DATA, "The lower pH is above the upper one.");
        return failure_at(why, NULL, 0, "ph_least");
    }
    if (fact->water_demand_of != NULL && !text_same(fact->water_demand_of, "species") && !text_same(fact->water_demand_of, "genus")) {
        fail(why, OUTCOME_DATA, "“%.60s” is not a word of this column.", fact->water_demand_of);
        failure_at(why, NULL, 0, "water_demand_of");
        return failure_remedy(why, "Use species or genus.");
    }
    enum species_native *native = arena_array(arena, head->n_natives + 1, sizeof *native);
    for (size_t i = 0; i < head->n_natives; i++) {
        int value = table_word(native_words, NATIVE_COUNT, table_text(table, row, head->natives[i], arena));
        if (value < 0) {
            fail(why, OUTCOME_DATA, "“%.60s” is not a word of this column.", csv_cell(table, row, head->natives[i]));
            failure_at(why, NULL, 0, csv_cell(table, 0, head->natives[i]));
            return failure_remedy(why, "Use yes, no, ancient or doubtful; or leave it blank for unknown.");
        }
        native[i] = (enum species_native)value;
    }
    fact->native = native;
    const char *space = strchr(fact->name, ' ');
    fact->genus = space == NULL ? fact->name : arena_text_n(arena, fact->name, (size_t)(space - fact->name));
    enum outcome outcome = names_check(head, "from_memory", fact->from_memory, fact->n_from_memory, why);
    if (outcome == OUTCOME_OK)
        outcome = names_check(head, "uncertain", fact->uncertain, fact->n_uncertain, why);
    return outcome;
}

static enum outcome fact_read(const struct table_head *head, size_t row, struct species_library *library, char *const *keys,
                              struct arena *arena, struct failure *why)
{
    struct species_fact fact = fact_new();
    enum outcome outcome = table_row_read(head, row, &fact, arena, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    fact.row = (long)row + 1;
    const char *key = species_key(arena, fact.name);
    for (size_t i = 0; i < library->n_facts; i++)
        if (strcmp(keys[i], key) == 0) {
            fail(why, OUTCOME_DATA, "%.80s stands in the table twice, first in row %ld.", fact.name, library->facts[i].row);
            failure_at(why, head->table->file, (long)row + 1, "name");
            return failure_remedy(why, "Keep one of the two rows.");
        }
    outcome = fact_finish(head, row, &fact, arena, why);
    if (outcome != OUTCOME_OK)
        return failure_at(why, head->table->file, (long)row + 1, NULL);
    library->facts[library->n_facts] = fact;
    return OUTCOME_OK;
}

enum outcome species_library_read(const char *file, const char *bytes, size_t n, struct arena *arena, struct species_library *out,
                                  struct species_problems *problems, struct failure *why)
{
    enum { MOST_ROWS = 20000 };
    struct csv_table table;
    struct table_head head;
    enum outcome outcome = csv_read(file, bytes, n, ',', MOST_ROWS, arena, &table, why);
    if (outcome == OUTCOME_OK)
        outcome = table_head_read(&table, columns, N_COLUMNS, true, arena, &head, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct species_library library = {.name = arena_text(arena, file), .n_regions = head.n_natives};
    library.regions = arena_array(arena, head.n_natives + 1, sizeof *library.regions);
    for (size_t i = 0; i < head.n_natives; i++)
        library.regions[i] = table_text(&table, 0, head.natives[i], arena) + 7;
    library.facts = arena_array(arena, table.rows, sizeof *library.facts);
    char **keys = arena_array(arena, table.rows, sizeof *keys);
    for (size_t row = 1; row < table.rows; row++) {
        struct failure bad = {0};
        if (fact_read(&head, row, &library, keys, arena, &bad) != OUTCOME_OK) {
            problems_add(problems, arena, &bad);
            continue;
        }
        keys[library.n_facts] = species_key(arena, library.facts[library.n_facts].name);
        library.n_facts++;
    }
    if (library.n_facts == 0) {
        fail(why, OUTCOME_DATA, "No row of the table could be used.");
        failure_at(why, file, problems != NULL && problems->n > 0 ? problems->list[0].row : 0, NULL);
        return failure_remedy(why, "%s", problems != NULL && problems->n > 0 ? problems->list[0].sentence : "Add a row for each species.");
    }
    *out = library;
    return OUTCOME_OK;
}

size_t species_region(const struct species_library *library, const char *region)
{
    if (region == NULL)
        return SIZE_MAX;
    for (size_t i = 0; i < library->n_regions; i++) {
        const char *a = region, *b = library->regions[i];
        while (*a != '\0' && *b != '\0') {
            char x = *a == ' ' || *a == '-' ? '_' : *a, y = *b;
            if (x >= 'A' && x <= 'Z')
                x = (char)(x - 'A' + 'a');
            if (y >= 'A' && y <= 'Z')
                y = (char)(y - 'A' + 'a');
            if (x != y)
                break;
            a++;
            b++;
        }
        if (*a == '\0' && *b == '\0')
            return i;
    }
    return SIZE_MAX;
}

enum outcome species_library_suits(const struct species_library *library, const char *region, struct failure *why)
{
    if (text_blank(region)) {
        fail(why, OUTCOME_DATA, "It is not known in which region the species must be native.");
        return failure_remedy(why, "Give the site its region; this library knows %s%s.",
                              library->n_regions > 0 ? library->regions[0] : "none", library->n_regions > 1 ? " and others" : "");
    }
    if (species_region(library, region) != SIZE_MAX)
        return OUTCOME_OK;
    struct text list = {0};
    for (size_t i = 0; i < library->n_regions; i++)
        text_print(&list, "%s%s", i == 0 ? "" : ", ", library->regions[i]);
    fail(why, OUTCOME_DATA, "The library %s does not say what is native to “%.80s”, so nothing of it is offered there.", library->name,
         region);
    failure_remedy(why, "It knows: %s. Choose one of these, or load a table with a column native_… for your region.", text_get(&list));
    text_free(&list);
    return OUTCOME_DATA;
}

static bool listed(const char *const *names, size_t n, const char *column)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(names[i], column) == 0)
            return true;
    return false;
}
bool species_from_memory(const struct species_fact *fact, const char *column)
{
    return listed(fact->from_memory, fact->n_from_memory, column);
}
bool species_uncertain(const struct species_fact *fact, const char *column)
{
    return listed(fact->uncertain, fact->n_uncertain, column);
}

/* ---- the built-in tables ---- */

#define TABLE(label)                                                                                                                       \
    extern const unsigned char species_table_##label[];                                                                                    \
    extern const unsigned char species_table_##label##_end[];
TABLE(atlantic_europe)
TABLE(eastern_north_america)
TABLE(communities)
TABLE(synonyms)
TABLE(sources)

const char *const species_builtin_names[SPECIES_BUILTIN] = {"atlantic-europe", "eastern-north-america"};

struct bytes species_table(const char *file)
{
    static const struct {
        const char *file;
        const unsigned char *from, *to;
    } tables[] = {
        {"atlantic-europe.csv", species_table_atlantic_europe, species_table_atlantic_europe_end},
        {"eastern-north-america.csv", species_table_eastern_north_america, species_table_eastern_north_america_end},
        {"communities.csv", species_table_communities, species_table_communities_end},
        {"synonyms.csv", species_table_synonyms, species_table_synonyms_end},
        {"sources.csv", species_table_sources, species_table_sources_end},
    };
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++)
        if (text_same(file, tables[i].file))
            return (struct bytes){tables[i].from, (size_t)(tables[i].to - tables[i].from)};
    return (struct bytes){NULL, 0};
}

enum outcome species_builtin(const char *name, struct arena *arena, struct species_library *out, struct failure *why)
{
    struct bytes facts = species_table(arena_print(arena, "%s.csv", name == NULL ? "" : name));
    if (!text_same(name, species_builtin_names[0]) && !text_same(name, species_builtin_names[1])) {
        fail(why, OUTCOME_USAGE, "There is no species library “%.80s”.", name == NULL ? "" : name);
        return failure_remedy(why, "The program carries %s and %s; or load a table of your own.", species_builtin_names[0],
                              species_builtin_names[1]);
    }
    struct bytes synonyms = species_table("synonyms.csv"), communities = species_table("communities.csv");
    struct species_problems problems = {0};
    struct species_library library;
    enum outcome outcome = species_library_read(name, (const char *)facts.at, facts.n, arena, &library, &problems, why);
    if (outcome == OUTCOME_OK)
        outcome = species_synonyms_read("synonyms.csv", (const char *)synonyms.at, synonyms.n, arena, &library, &problems, why);
    if (outcome == OUTCOME_OK && text_same(name, species_builtin_names[0]))
        outcome = species_communities_read("communities.csv", (const char *)communities.at, communities.n, arena, &library, &problems, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (problems.n > 0) {
        *(why != NULL ? why : &(struct failure){0}) = problems.list[0];
        return problems.list[0].kind;
    }
    *out = library;
    return OUTCOME_OK;
}
