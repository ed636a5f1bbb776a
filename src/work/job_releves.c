/* SPDX-License-Identifier: GPL-3.0-or-later
 * releves: reference stands coming in, and their constancy table by layer. */
#include "work/ground_place.h"
#include "work/jobs.h"
#include "work/releves_load.h"
#include <math.h>
#include <string.h>

enum outcome releves_load(struct store *store, int64_t site, const struct species_library *library, struct arena *arena,
                          struct community *out, size_t *n_stands, struct releve_pair **pairs, size_t *n_pairs, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, kept = 0, n_here = 0;
    struct releve_pair *here = NULL;
    *n_stands = 0;
    enum outcome outcome = load_all(store, NOUN_RELEVE, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct releve_row *lines = arena_array(arena, n + 1, sizeof *lines);
    for (size_t i = 0; i < n; i++) {
        const struct releve *row = &((const struct releve *)rows)[i];
        if (site == 0 || row->site_id == 0 || row->site_id == site)
            lines[kept++] = (struct releve_row){row->stand, row->species, row->layer, row->cover_pct};
    }
    if (kept == 0)
        return OUTCOME_OK;
    outcome = species_constancy(library, lines, kept, NULL, 0, arena, out, pairs == NULL ? &here : pairs,
                                n_pairs == NULL ? &n_here : n_pairs, why);
    if (outcome == OUTCOME_OK)
        *n_stands = (size_t)out->samples;
    return outcome;
}

static const struct option releves_options[] = {
    {"file", OPTION_FILE_IN, false, "FILE", "CSV with the columns stand, species, layer, cover (and date, area, observer)"},
    {"stand", OPTION_TEXT, false, "NAME", "one line instead: the stand"},
    {"species", OPTION_TEXT, false, "NAME", "its species"},
    {"layer", OPTION_TEXT, false, "WORD", "its layer: canopy, subcanopy, shrub, climber or ground"},
    {"cover", OPTION_TEXT, false, "COVER", "its cover on the scale"},
    {"scale", OPTION_TEXT, false, "WORD", "percent, braun_blanquet or domin (percent if not given)"},
    {"merge", OPTION_TEXT, false, "NAME;NAME", "take these names for the ones the library knows them by; all for all of them"},
    {"site", OPTION_TEXT, false, "CODE", "site they are a reference for; without it for the whole programme"},
    {"library", OPTION_TEXT, false, "NAME", "species library"},
    {"take", OPTION_FLAG, false, NULL, "store them; without it they are only shown"},
};
static const char *const releves_bare[] = {"file", NULL};

enum { MOST_ROWS = 20000, MOST_SHOWN = 200 };
struct reading {
    struct species_library library;
    struct site site;
    bool has_site;
    struct releve *rows;
    size_t n;
    struct failure *refused;
    size_t n_refused;
    struct releve_pair *pairs; ///< names written and the library's, not merged
    size_t n_pairs;
};

/* Middle of a class of cover, in per cent. Braun-Blanquet: Mueller-Dombois & Ellenberg 1974, from memory; Domin: middles of the
 * classes 4–10, 11–25, 26–33, 34–50, 51–75, 76–90, 91–100 %, the three below 4 % common practice, no source. */
static bool cover_read(const char *text, const char *scale, double *out)
{
    static const struct {
        const char *scale, *code;
        double cover;
    } classes[] = {
        {"braun_blanquet", "r", 0.1},
        {"braun_blanquet", "+", 0.5},
        {"braun_blanquet", "1", 2.5},
        {"braun_blanquet", "2", 15},
        {"braun_blanquet", "2m", 2.5},
        {"braun_blanquet", "2a", 8.8},
        {"braun_blanquet", "2b", 20},
        {"braun_blanquet", "3", 37.5},
        {"braun_blanquet", "4", 62.5},
        {"braun_blanquet", "5", 87.5},
        {"domin", "+", 0.1},
        {"domin", "1", 0.3},
        {"domin", "2", 1},
        {"domin", "3", 3},
        {"domin", "4", 7},
        {"domin", "5", 18},
        {"domin", "6", 29.5},
        {"domin", "7", 42},
        {"domin", "8", 63},
        {"domin", "9", 83},
        {"domin", "10", 95.5},
    };
    *out = unknown_real();
    if (text_blank(text))
        return true;
    if (text_same(scale, "percent"))
        return number_read(text, out);
    for (size_t i = 0; i < sizeof classes / sizeof *classes; i++)
        if (text_same(classes[i].scale, scale) && text_same_nocase(classes[i].code, text)) {
            *out = classes[i].cover;
            return true;
        }
    return false;
}

static enum layer layer_read(const char *text)
{
    static const struct {
        const char *word;
        enum layer layer;
    } words[] = {{"tree", LAYER_CANOPY},          {"trees", LAYER_CANOPY}, {"sub-canopy", LAYER_SUBCANOPY},
                 {"sub_canopy", LAYER_SUBCANOPY}, {"shrubs", LAYER_SHRUB}, {"field", LAYER_GROUND},
                 {"herb", LAYER_GROUND},          {"herbs", LAYER_GROUND}, {"field layer", LAYER_GROUND},
                 {"ground layer", LAYER_GROUND}};
    int word = text == NULL ? -1 : word_find(WORDS_LAYER, text);
    for (size_t i = 0; word <= 0 && text != NULL && i < sizeof words / sizeof *words; i++)
        if (text_same_nocase(words[i].word, text))
            word = (int)words[i].layer;
    return word <= 0 ? LAYER_UNKNOWN : (enum layer)word;
}

static bool merges(const char *list, const char *name, struct arena *arena)
{
    if (text_same(list, "all"))
        return true;
    char *copy = arena_text(arena, list), *rest = NULL;
    for (char *part = strtok_r(copy, ";", &rest); part != NULL; part = strtok_r(NULL, ";", &rest))
        if (text_same(text_trim(arena, part), name))
            return true;
    return false;
}

static void refuse(struct reading *r, long line, const char *column, const char *sentence, const char *remedy)
{
    if (r->n_refused++ >= MOST_SHOWN)
        return;
    struct failure *f = &r->refused[r->n_refused - 1];
    memset(f, 0, sizeof *f);
    fail(f, OUTCOME_DATA, "%s", sentence);
    failure_at(f, NULL, line, column);
    failure_remedy(f, "%s", remedy);
}

/* One line: good ones join the rows, others the refused. */
static enum outcome line_take(const json_t *in, struct reading *r, const char *const cells[7], long line, struct arena *arena,
                              struct failure *why)
{
    const char *scale = option_text(in, "scale", "percent"), *stand = cells[0], *name = cells[1];
    struct releve *row = &r->rows[r->n];
    struct species_match match;
    double cover = 0;
    noun_init(NOUN_RELEVE, row);
    enum layer layer = layer_read(cells[2] == NULL ? NULL : text_trim(arena, cells[2]));
    const char *written = cells[3] == NULL ? "" : text_trim(arena, cells[3]);
    if (text_blank(stand) || text_blank(name))
        return refuse(r, line, text_blank(stand) ? "stand" : "species", "A line needs a stand and a species.", "Fill it in."), OUTCOME_OK;
    if (layer == LAYER_UNKNOWN)
        return refuse(r, line, "layer", arena_print(arena, "\"%.40s\" is no layer.", cells[2] == NULL ? "" : cells[2]),
                      "Write canopy, subcanopy, shrub, climber or ground."),
               OUTCOME_OK;
    if (!cover_read(written, scale, &cover))
        return refuse(r, line, "cover", arena_print(arena, "\"%.40s\" is no cover on the scale %.40s.", written, scale),
                      "Say which scale: --scale percent, braun_blanquet or domin."),
               OUTCOME_OK;
    if (is_known(cover) && (cover < 0 || cover > 100))
        return refuse(r, line, "cover",
                      arena_print(arena, "%s covers %g %% in stand %s: one species cannot cover more than 100 %%, or less than nothing.",
                                  name, cover, stand),
                      "A layer may add up to more than 100 %, one species may not. What was meant?"),
               OUTCOME_OK;
    enum outcome outcome = species_find(&r->library, text_trim(arena, name), arena, &match, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    name = match.kind == MATCH_EXACT ? match.fact->name : text_trim(arena, name);
    bool other = match.kind == MATCH_SYNONYM || match.kind == MATCH_COMMON,
         merged = other && merges(option_text(in, "merge", ""), name, arena);
    if (other && !merged) {
        bool had = false;
        for (size_t i = 0; i < r->n_pairs && !had; i++)
            had = text_same(r->pairs[i].name, name);
        if (!had)
            r->pairs[r->n_pairs++] = (struct releve_pair){name, match.fact->name};
    }
    row->stand = text_trim(arena, stand);
    row->species = merged ? match.fact->name : name;
    row->layer = layer;
    row->cover_pct = cover;
    row->site_id = r->has_site ? r->site.id : 0;
    row->observer = cells[6];
    if (merged || !text_same(scale, "percent"))
        row->written = arena_print(arena, "%s, %s on the scale %s", name, *written == '\0' ? "no cover" : written, scale);
    double area = 0;
    row->area_m2 = cells[5] != NULL && number_read(cells[5], &area) ? area : unknown_real();
    if (!text_blank(cells[4]))
        outcome = field_read(noun_field(NOUN_RELEVE, "seen_on"), row, cells[4], arena, why);
    r->n++;
    return outcome;
}

static enum outcome file_take(const struct job_context *context, const json_t *in, struct reading *r, struct arena *arena,
                              struct failure *why)
{
    static const char *const names[7][4] = {{"stand", "releve", "plot", "sample"}, {"species", "name", "taxon", "scientific_name"},
                                            {"layer", "stratum", "storey", NULL},  {"cover", "cover_pct", "cover_abundance", NULL},
                                            {"date", "seen_on", "day", NULL},      {"area_m2", "area", NULL, NULL},
                                            {"observer", "by", NULL, NULL}};
    const char *path = option_text(in, "file", "");
    struct bytes bytes;
    struct csv_table table;
    size_t column[7];
    enum outcome outcome = input_bytes(context, path, 8 << 20, arena, &bytes, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const char *line_end = memchr(bytes.at, '\n', bytes.n);
    size_t first = line_end == NULL ? bytes.n : (size_t)(line_end - (const char *)bytes.at);
    char delimiter = memchr(bytes.at, ';', first) != NULL ? ';' : memchr(bytes.at, '\t', first) != NULL ? '\t' : ',';
    outcome = csv_read(path, (const char *)bytes.at, bytes.n, delimiter, MOST_ROWS, arena, &table, why);
    for (size_t k = 0; outcome == OUTCOME_OK && k < 7; k++) {
        column[k] = SIZE_MAX;
        for (size_t i = 0; i < 4 && names[k][i] != NULL && column[k] == SIZE_MAX; i++)
            for (size_t c = 0; c < table.widest && column[k] == SIZE_MAX; c++)
                if (csv_cell(&table, 0, c) != NULL && text_same_nocase(text_trim(arena, csv_cell(&table, 0, c)), names[k][i]))
                    column[k] = c;
        if (k < 3 && column[k] == SIZE_MAX) {
            fail(why, OUTCOME_DATA, "The file has no column \"%s\".", names[k][0]);
            failure_at(why, path, 1, names[k][0]);
            outcome = failure_remedy(why, "Its first row must name the columns: stand, species, layer, cover.");
        }
    }
    for (size_t i = 1; outcome == OUTCOME_OK && i < table.rows; i++) {
        const char *cells[7];
        for (size_t k = 0; k < 7; k++)
            cells[k] = column[k] == SIZE_MAX ? NULL : csv_cell(&table, i, column[k]);
        if (!text_blank(cells[0]) || !text_blank(cells[1]))
            outcome = line_take(in, r, cells, table.lines[i], arena, why);
    }
    return outcome;
}

static void table_of(json_t *out, const struct community *own)
{
    static const char *const classes[] = {"", "I", "II", "III", "IV", "V"};
    json_t *list = json_array();
    for (enum layer layer = LAYER_CANOPY; layer < LAYER_COUNT; layer++) {
        json_t *table = NULL;
        for (size_t i = 0; i < own->n_species; i++) {
            const struct community_species *one = &own->species[i];
            if (one->layer != layer)
                continue;
            if (table == NULL) {
                json_t *section = note_section(out, "Constancy");
                section_text(section,
                             "Layer: %s. Class I: in up to 20 %% of the stands, II up to 40, III up to 60, IV up to 80, V over 80.",
                             word_of(WORDS_LAYER, (int)layer));
                table = section_table(section);
                table_column(table, "species", "species", "", -1);
                table_column(table, "constancy", "constancy", "class", -1);
                table_column(table, "cover", "mean cover where present", "%", 1);
                table_column(table, "known", "in the library", "", -1);
            }
            json_t *row = table_row(table);
            row_text(row, one->name);
            row_text(row, classes[one->constancy]);
            row_number(row, one->cover_pct);
            row_text(row, one->fact == NULL ? "no: its traits are unknown" : "yes");
            json_array_append_new(list, json_pack("{s:s, s:s, s:i, s:o}", "species", one->name, "layer", word_of(WORDS_LAYER, (int)layer),
                                                  "constancy", one->constancy, "cover_pct",
                                                  is_known(one->cover_pct) ? json_real(one->cover_pct) : json_null()));
        }
    }
    json_object_set_new(note_data(out), "constancy", list);
}

static void reading_note(json_t *out, const struct reading *r)
{
    if (r->n_refused > 0) {
        json_t *table = section_table(note_section(out, "Lines that are not taken"));
        table_column(table, "line", "line", "", -1);
        table_column(table, "column", "column", "", -1);
        table_column(table, "why", "why, and what to do", "", -1);
        for (size_t i = 0; i < r->n_refused && i < MOST_SHOWN; i++) {
            json_t *row = table_row(table);
            row_integer(row, r->refused[i].row);
            row_text(row, r->refused[i].column);
            row_print(row, "%s %s", r->refused[i].sentence, r->refused[i].remedy);
        }
    }
    if (r->n_refused > MOST_SHOWN)
        note_unknown(out, "%zu more lines are not taken for reasons like these.", r->n_refused - MOST_SHOWN);
    for (size_t i = 0; i < r->n_pairs; i++)
        note_unknown(out, "Is %s the %s of the library? They stay two names until you say so: --merge '%s'.", r->pairs[i].name,
                     r->pairs[i].accepted, r->pairs[i].name);
    json_object_set_new(note_data(out), "taken", json_integer((json_int_t)r->n));
    json_object_set_new(note_data(out), "refused", json_integer((json_int_t)r->n_refused));
    json_object_set_new(note_data(out), "names_to_settle", json_integer((json_int_t)r->n_pairs));
}

static enum outcome reading_take(const struct job_context *context, const json_t *in, struct reading *r, struct arena *arena,
                                 struct failure *why)
{
    r->rows = arena_array(arena, MOST_ROWS, sizeof *r->rows);
    r->refused = arena_array(arena, MOST_SHOWN, sizeof *r->refused);
    r->pairs = arena_array(arena, MOST_ROWS, sizeof *r->pairs);
    const char *cells[7] = {option_text(in, "stand", NULL),
                            option_text(in, "species", NULL),
                            option_text(in, "layer", NULL),
                            option_text(in, "cover", NULL),
                            NULL,
                            NULL,
                            context->author};
    enum outcome outcome =
        option_text(in, "file", NULL) != NULL ? file_take(context, in, r, arena, why) : line_take(in, r, cells, 1, arena, why);
    if (outcome != OUTCOME_OK || !option_flag(in, "take") || r->n == 0)
        return outcome;
    outcome = store_begin(context->store, context->author, arena_print(arena, "%zu lines of reference stands", r->n), why);
    return outcome == OUTCOME_OK ? store_end(context->store, store_add(context->store, NOUN_RELEVE, r->rows, r->n, why), why) : outcome;
}

static enum outcome releves_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct reading r = {.n = 0};
    struct community own;
    struct releve_pair *pairs = NULL;
    size_t stands = 0, n_pairs = 0;
    json_t *out = note_new();
    bool reads = option_text(in, "file", NULL) != NULL || option_text(in, "stand", NULL) != NULL, takes = option_flag(in, "take");
    r.has_site = option_text(in, "site", NULL) != NULL;
    enum outcome outcome = library_load(context->store, option_text(in, "library", NULL), &arena, &r.library, why);
    if (outcome == OUTCOME_OK && r.has_site)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &r.site, why);
    if (outcome == OUTCOME_OK && reads)
        outcome = reading_take(context, in, &r, &arena, why);
    if (outcome == OUTCOME_OK && reads && !takes && r.n > 0) {
        struct releve_row *lines = arena_array(&arena, r.n, sizeof *lines);
        for (size_t i = 0; i < r.n; i++)
            lines[i] = (struct releve_row){r.rows[i].stand, r.rows[i].species, r.rows[i].layer, r.rows[i].cover_pct};
        outcome = species_constancy(&r.library, lines, r.n, NULL, 0, &arena, &own, &pairs, &n_pairs, why);
        stands = outcome == OUTCOME_OK ? (size_t)own.samples : 0;
    } else if (outcome == OUTCOME_OK && (!reads || takes)) {
        outcome = releves_load(context->store, r.has_site ? r.site.id : 0, &r.library, &arena, &own, &stands, &pairs, &n_pairs, why);
    }
    if (outcome != OUTCOME_OK) {
        json_decref(out);
        arena_clear(&arena);
        return outcome;
    }
    if (reads && takes)
        note_answer(out, "%zu lines are stored, %zu are not taken; %zu stands are recorded now.", r.n, r.n_refused, stands);
    else if (reads)
        note_answer(out, "%zu lines of %zu stands can be taken, %zu cannot; nothing is stored without --take.", r.n, stands, r.n_refused);
    else
        note_answer(out, stands == 0 ? "No reference stand is recorded yet." : "%zu reference stands, as a constancy table by layer.",
                    stands);
    if (stands > 0)
        table_of(out, &own);
    if (stands > 0 && stands < 3)
        note_unknown(out, "Fewer than three stands: a constancy says little.");
    if (!reads) {
        r.pairs = pairs;
        r.n_pairs = n_pairs;
    }
    reading_note(out, &r);
    json_object_set_new(note_data(out), "stands", json_integer((json_int_t)stands));
    note_source(
        out, "Middles of cover classes: Braun-Blanquet after Mueller-Dombois & Ellenberg 1974 (from memory), Domin by its class limits.");
    *note = out;
    arena_clear(&arena);
    return OUTCOME_OK;
}

const struct job job_releves = {
    .name = "releves",
    .summary = "reference stands you looked at yourself, and their constancy table by layer",
    .about = "Takes relevés from a CSV or line by line: stand, species, layer and cover in per cent, Braun-Blanquet or Domin. Two names "
             "for one species "
             "become one only when you say so; cover over 100 % of one species is not taken. Reference communities are then ranked by "
             "likeness to "
             "your stands too.",
    .example = "spinney releves wood.gpkg stands.csv --scale domin --take",
    .access = JOB_WRITES,
    .options = releves_options,
    .n_options = sizeof releves_options / sizeof *releves_options,
    .bare = releves_bare,
    .run = releves_run,
};
