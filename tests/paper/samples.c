/* SPDX-License-Identifier: GPL-3.0-or-later
 * Invented content for documents, for tests and for looking at. */
#include "samples.h"
#include "../draw/samples.h"
#include <math.h>
#include <stdio.h>

static const struct {
    const char *species, *local;
    int layer;
} kinds[] = {{"Quercus robur", "pedunculate oak", 1},
             {"Betula pendula", "silver birch", 1},
             {"Acer campestre", "field maple", 2},
             {"Sorbus aucuparia", "rowan", 2},
             {"Corylus avellana", "hazel", 3},
             {"Crataegus monogyna", "hawthorn", 3},
             {"Viburnum opulus", NULL, 3},
             {"Lonicera periclymenum", "honeysuckle", 4}};

void sample_cards(struct arena *arena, int rows, int columns, struct cards *out)
{
    size_t n = (size_t)(rows * columns);
    struct card *cards = arena_array(arena, n, sizeof *cards);
    struct random_stream r = random_make(4, 1);
    size_t *order = arena_array(arena, n, sizeof *order);
    for (size_t i = 0; i < n; i++)
        order[i] = i;
    random_shuffle(&r, order, n);
    for (size_t i = 0; i < n; i++) {
        int row = (int)order[i] / columns, column = (int)order[i] % columns;
        size_t m = order[i] == 5 ? 0 : order[i] == 6 ? 7 : order[i] % 11 == 0 ? 4 : order[i] % 7 == 0 ? 2 : 3;
        struct card_plant *plants = arena_array(arena, m + 1, sizeof *plants);
        for (size_t p = 0; p < m; p++) {
            size_t kind = (order[i] * 3 + p * 3 + random_below(&r, 2)) % 8;
            plants[p] = (struct card_plant){
                kinds[kind].species, kinds[kind].local, kinds[kind].layer, 0.15 + 0.7 * random_uniform(&r), 0.15 + 0.7 * random_uniform(&r),
                (int)p + 1};
        }
        cards[i] = (struct card){arena_print(arena, "%c%02d", 'A' + row, column + 1), row, column, plants, m, row == 0};
    }
    *out = (struct cards){.programme = "Hedge and Thicket",
                          .site = "Alder Bank",
                          .site_code = "AB",
                          .plot_code = "D1",
                          .plan = "plan 2 of 2026-11-02",
                          .cards = cards,
                          .n_cards = n,
                          .date = date_make(2026, 11, 2),
                          .up_north_known = true,
                          .up_deg = 25};
}

void sample_plan(struct arena *arena, struct planting_plan *out)
{
    static const struct plan_plot plots[] = {{"D1", "dense, prepared", "loosened 0.6 m, compost 5 cm, mulch 10 cm", 225, 3.0, INT_UNKNOWN},
                                             {"B1", "conventional", "turf killed, no loosening", 180, 0.25, INT_UNKNOWN}};
    static const int64_t counts[8][2] = {{84, 12},  {96, 10}, {75, 8},           {66, INT_UNKNOWN},
                                         {130, 10}, {104, 5}, {84, INT_UNKNOWN}, {36, INT_UNKNOWN}};
    struct plan_species_line *species = arena_array(arena, 8, sizeof *species);
    for (int i = 0; i < 8; i++)
        species[i] = (struct plan_species_line){kinds[i].species, kinds[i].local, kinds[i].layer, counts[i]};
    static const struct plan_zone_line zones[] = {
        {"gas main", "gas 3.0 m", 3, "operator's letter of 2026-05-11", "2026-06-02"},
        {"root protection area of an oak", "oak, 4.8 m", 4.8, "12 times the stem diameter, BS 5837:2012, 4.6", NULL},
        {"building", "shed 3.0 m", NAN, NULL, NULL}};
    static const char *const densities[] = {"3.0 plants/m²", "0.25 plants/m²"}, *const soils[] = {"loosened 0.6 m", "not loosened"},
                             *const mixes[] = {"8 species", "5 species"};
    static const struct plan_difference differences[] = {{"density", densities}, {"soil preparation", soils}, {"mix", mixes}};
    static const struct plan_caution cautions[] = {
        {"C03", "A gas main crosses the site. Dig by hand only, never deeper than a spade within its stand-off.",
         "the gas operator, in writing, and the site lead"},
        {"C11", "The ground has not been checked for shrinkable clay near the shed.",
         "a structural engineer or the local building authority"}};
    static const char *const unknown[] = {"Whether the site lies on shrinkable clay: not checked.", "Height of the shed's foundations.",
                                          "The drain on the east side was not surveyed."};
    static const char *const sources[] = {"BS 5837:2012, Trees in relation to design, demolition and construction, 4.6."};
    static const struct document_revision revisions[] = {{"1", "2026-10-12", "V004", "First issue"},
                                                         {"2", "2026-11-02", "V004", "B1 moved 2 m east, clear of the oak"}};
    struct map *detail = arena_alloc(arena, sizeof *detail);
    struct box *extent = arena_alloc(arena, sizeof *extent);
    *out = (struct planting_plan){.programme = "Hedge and Thicket",
                                  .organisation = "Green Corner Volunteers",
                                  .site = "Alder Bank",
                                  .site_code = "AB",
                                  .place = "E 155020 N 463015",
                                  .crs = "EPSG:28992, Amersfoort / RD New",
                                  .date = date_make(2026, 11, 2),
                                  .plots = plots,
                                  .n_plots = 2,
                                  .species = species,
                                  .n_species = 8,
                                  .zones = zones,
                                  .n_zones = 3,
                                  .differences = differences,
                                  .n_differences = 3,
                                  .allocation =
                                      "Drawn by lot on 2026-09-30 with seed 20260930; piece 1 received the dense treatment. Witness: V009.",
                                  .protocol = "1.0",
                                  .proof = "proven optimal",
                                  .cautions = cautions,
                                  .n_cautions = 2,
                                  .unknown = unknown,
                                  .n_unknown = 3,
                                  .sources = sources,
                                  .n_sources = 1,
                                  .revisions = revisions,
                                  .n_revisions = 2};
    sample_map(arena, 675, &out->map);
    *detail = out->map;
    out->map.n_cells = 0;
    out->map.n_plants = 0;
    *extent = (struct box){155001.5, 463001.5, 155017.5, 463017.5};
    detail->extent = extent;
    detail->title = "Setting out D1";
    out->details = detail;
    out->n_details = 1;
}

void sample_order(struct arena *arena, struct order_list *out)
{
    struct order_list_line *lines = arena_array(arena, 9, sizeof *lines);
    for (int i = 0; i < 8; i++)
        lines[i] = (struct order_list_line){kinds[i].species,
                                            kinds[i].local,
                                            "bare-root",
                                            "40-60",
                                            i == 3 ? NULL : "zone 404",
                                            kinds[i].layer,
                                            84 + 7 * i,
                                            9 + i,
                                            25,
                                            100 + 25 * (i % 3),
                                            i == 6 ? NAN : 0.42 + 0.11 * i,
                                            "2026-11-20",
                                            i == 1 ? "Betula pubescens accepted with written approval" : NULL,
                                            NULL,
                                            NULL};
    lines[8] = (struct order_list_line){.species = "=HYPERLINK(\"http://example.org\",\"x\")",
                                        .local = "+1+1",
                                        .needed = INT_UNKNOWN,
                                        .reserve = INT_UNKNOWN,
                                        .bundle = INT_UNKNOWN,
                                        .ordered = INT_UNKNOWN,
                                        .unit_price = NAN,
                                        .note = "@SUM(A1)"};
    static const char *const terms[] = {
        "No substitution without written approval; species, form, size and seed source are part of the order.",
        "Plants are counted and looked over at delivery; dry roots, wrong species or missing passports are refused on the spot."};
    *out = (struct order_list){.programme = "Hedge and Thicket",
                               .organisation = "Green Corner Volunteers",
                               .supplier = "Nursery A",
                               .currency = "EUR",
                               .date = date_make(2026, 9, 1),
                               .lines = lines,
                               .n_lines = 9,
                               .terms = terms,
                               .n_terms = 2};
}

void sample_census(struct arena *arena, size_t n, struct census_sheet *out)
{
    struct census_plant *plants = arena_array(arena, n, sizeof *plants);
    for (size_t i = 0; i < n; i++)
        plants[i] = (struct census_plant){.cell = arena_print(arena, "%c%02d", (int)('A' + i / 60), (int)(i / 4 % 15) + 1),
                                          .number = (int)(i % 4) + 1,
                                          .species = kinds[i % 8].species,
                                          .layer = kinds[i % 8].layer,
                                          .tag = arena_print(arena, "D%04zu", i + 1),
                                          .last_state = i % 9 == 0 ? "not found" : "alive",
                                          .last_height_cm = i % 9 == 0 ? NAN : 40 + (double)(i % 70)};
    *out = (struct census_sheet){
        .head = {.version = "form 1", .programme = "Hedge and Thicket", .site = "Alder Bank", .plot = "D1", .date = date_make(2027, 8, 30)},
        .plants = plants,
        .n_plants = n,
        .show_last = true,
        .spare_rows = 6};
}

json_t *sample_note(void)
{
    json_t *note = json_pack("{s:s, s:[], s:[{s:s, s:s, s:s}], s:[s, s], s:[s]}", "answer",
                             "At three years 78 % (71–84), 234 of 300, of the plants of D1 were alive.", "sections", "cautions", "code",
                             "C21", "words", "Do not read survivors' growth as the growth of the plot.", "defer", "the programme's analyst",
                             "unknown", "12 plants were not found: if all are dead the share is 74 %, if all live 78 %.",
                             "B1 was not visited in 2026.", "sources", "Wilson 1927, J. Am. Stat. Assoc. 22, 209.");
    json_t *sections = json_object_get(note, "sections"), *table = NULL, *rows = json_array();
    for (int i = 0; i < 70; i++)
        json_array_append_new(
            rows,
            json_pack("[s, i, o, o]", kinds[i % 8].species, 20 + i, i % 13 == 0 ? json_null() : json_real(50.0 + i / 3.0),
                      i % 5 == 0 ? json_null() : json_string("some words that are long enough to need more than one line in the cell")));
    json_t *behind = json_array();
    for (int i = 0; i < 70; i++) /* every count leads to its rows, a share to two sets together */
        json_array_append_new(behind, json_pack("[n, i, i]", 1 + i % 2, 3));
    table = json_pack("{s:[{s:s,s:s,s:s},{s:s,s:s,s:s},{s:s,s:s,s:s,s:i},{s:s,s:s,s:s}], s:o}", "columns", "name", "species", "title",
                      "Species", "unit", "", "name", "n", "title", "Plants", "unit", "", "name", "alive_pct", "title", "Alive", "unit", "%",
                      "digits", 1, "name", "words", "title", "Remarks", "unit", "", "rows", rows);
    json_object_set_new(table, "behind", behind);
    json_object_set_new(note, "answer_behind", json_integer(3));
    json_array_append_new(sections, json_pack("{s:s, s:s, s:o}", "title", "Survival by species", "text",
                                              "Each line counts the plants put in, not those found.", "table", table));
    for (int i = 0; i < SAMPLE_COUNT - 1; i++) {
        const char *name = NULL;
        struct drawing *drawing = sample_draw(i, &name);
        struct text svg = {0};
        drawing_svg(drawing, false, &svg);
        json_array_append_new(sections, json_pack("{s:s, s:{s:s, s:s, s:s}}", "title", i < 3 ? "Figures" : name, "figure", "title",
                                                  drawing_title(drawing), "svg", text_get(&svg), "alt", drawing_about(drawing)));
        text_free(&svg);
        drawing_free(drawing);
    }
    json_array_append_new(sections, json_pack("{s:s, s:{s:s, s:s, s:s}}", "title", "Elsewhere", "figure", "title",
                                              "A picture from elsewhere", "svg", "<svg/>", "alt", "not one of ours"));
    return note;
}
