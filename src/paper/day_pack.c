/* SPDX-License-Identifier: GPL-3.0-or-later
 * The day pack as a document. What to say and when to stop is common practice, no source, unless said. */
#include "paper/day_pack.h"
#include <stdio.h>

static void weighted(struct document *document, struct document_table *table, const char *title, double weight)
{
    document_column(document, table, title, NULL, ALIGN_LEFT);
    table->columns[table->n_columns - 1].weight = weight;
}

static void lines_add(struct document *document, const char *titles[3], const double weights[3], const struct day_line *lines, size_t n)
{
    struct document_table *table = document_table(document, NULL, NULL);
    for (size_t c = 0; c < 3; c++)
        weighted(document, table, titles[c], weights[c]);
    table->row_height_pt = 16;
    for (size_t i = 0; i < n; i++) {
        struct document_cell *row = document_row(document, table);
        const char *cells[3] = {lines[i].what, lines[i].number, lines[i].words};
        for (size_t c = 0; c < 3; c++)
            document_cell(document, &row[c], "%s", cells[c] == NULL ? " " : cells[c]);
        row[0].strong = true;
    }
}

static void said_or_line(struct document *document, const char *label, const char *words)
{
    if (words != NULL) {
        struct document_part *part = document_add(document, PART_PARAGRAPH);
        document_words(document, part, label, NULL, true);
        document_words(document, part, ": ", NULL, false);
        document_words(document, part, words, NULL, false);
    } else {
        document_fields(document, &label, 1);
    }
}

static void day_page(struct document *document, const struct day_pack *pack)
{
    static const char *times[] = {"When", "Minutes", "What"}, *roles[] = {"Role", "Who", "Does"};
    static const double wide[] = {1.4, 1, 4}, role_wide[] = {1.6, 1.4, 4};
    document_heading(document, 1, "The day on one page", NULL);
    said_or_line(document, "Meet at", pack->meet_at);
    if (pack->people_words != NULL)
        document_paragraph(document, "%s", pack->people_words);
    struct document_table *table = document_table(document, NULL, NULL);
    weighted(document, table, "Plot", 1);
    weighted(document, table, "Recipe", 2.4);
    weighted(document, table, "Area, m²", 1);
    weighted(document, table, "Cards", 1);
    weighted(document, table, "Plants", 1);
    for (size_t i = 0; i < pack->n_plots; i++) {
        struct document_cell *row = document_row(document, table);
        document_cell(document, &row[0], "%s", pack->plots[i].code);
        row[0].strong = true;
        document_cell(document, &row[1], "%s", pack->plots[i].recipe == NULL ? " " : pack->plots[i].recipe);
        if (is_known(pack->plots[i].area_m2))
            document_cell(document, &row[2], "%.0f", pack->plots[i].area_m2);
        if (pack->plots[i].cards != INT_UNKNOWN)
            document_cell(document, &row[3], "%lld", (long long)pack->plots[i].cards);
        if (pack->plots[i].plants != INT_UNKNOWN)
            document_cell(document, &row[4], "%lld", (long long)pack->plots[i].plants);
    }
    document_heading(document, 2, "Times", NULL);
    lines_add(document, times, wide, pack->times, pack->n_times);
    document_heading(document, 2, "Roles", NULL);
    lines_add(document, roles, role_wide, pack->roles, pack->n_roles);
}

static void weather_page(struct document *document)
{
    static const char *const stops[] = {"ground frozen, or snow on it",
                                        "ground waterlogged: water stands in a spade hole, or a 3 mm thread of soil rolls without cracking",
                                        "gale, or gusts that move branches overhead",
                                        "lightning seen or thunder heard",
                                        "heat, cold or rain that people are not dressed for",
                                        "roots have dried, or plants came without passport",
                                        "the site lead or the first-aider is absent",
                                        "an object nobody planned for is in the ground"};
    document_heading(document, 1, "Go, or not", NULL);
    document_paragraph(document,
                       "Look twice: the evening before, in time to reach everybody, and on the site before anybody starts. One tick under "
                       "“stops” is enough: the day moves. Cancel early; nobody has ever regretted it.");
    struct document_table *table = document_table(document, NULL, NULL);
    weighted(document, table, "What stops the day", 4.5);
    weighted(document, table, "Evening: no", 1);
    weighted(document, table, "stops", 0.8);
    weighted(document, table, "Morning: no", 1);
    weighted(document, table, "stops", 0.8);
    table->row_height_pt = 20;
    for (size_t i = 0; i < sizeof stops / sizeof *stops; i++) {
        struct document_cell *row = document_row(document, table);
        document_cell(document, &row[0], "%s", stops[i]);
        for (size_t c = 1; c < 5; c++)
            row[c].words = "☐";
    }
    static const char *const fields[] = {"Forecast from", "Decided by", "At"};
    document_fields(document, fields, 3);
    document_note(document, "Authority to stop lies with the site lead alone and needs no reason. Any person may ask for it.");
}

static void briefing_page(struct document *document, const struct day_pack *pack)
{
    static const char *const points[] = {
        "Who leads, who is the first-aider, where the first-aid kit, water and toilet are. Where we gather if we are called.",
        "Dig no deeper than a spade. Where a cable or pipe is marked: by hand, and stop if the ground looks other than told.",
        "Glass, needles, asbestos-like sheet, unknown metal: do not touch, stay away, call the site lead.",
        "Two metres between people with tools. Tools lie flat, blades down. Nobody goes where a machine works.",
        "Lift with the legs, share heavy loads, half a barrow is enough.",
        "Long sleeves where there is grass or thorn; look for ticks in the evening. Is your tetanus cover in date?",
        "Hands before food. Nobody eats a berry or a fungus.",
        "Plants stay in their bags, roots moist and covered, until the hole is open. The plant marshal alone gives out plants.",
        "One card, one square. What the card says goes in, no more: left-over plants go back to the marshal.",
        "Root collar at the soil, not at the mulch; roots spread, heel firm; mulch a hand's breadth from the stem.",
        "Tick the card and bring it back, also when something went wrong: a gap that is known is better than one that is not.",
        "Photographs only of people who said yes; children stay with their adult, and nobody writes a child's name."};
    document_heading(document, 1, "Briefing: ten minutes, before anybody takes a tool", NULL);
    struct document_part *list = document_list(document, true);
    for (size_t i = 0; i < sizeof points / sizeof *points; i++)
        document_words(document, list, points[i], NULL, false);
    if (pack->n_cautions > 0) {
        document_heading(document, 2, "What this site asks to be careful of", NULL);
        for (size_t i = 0; i < pack->n_cautions; i++)
            document_caution(document, pack->cautions[i].code, pack->cautions[i].words, pack->cautions[i].defer);
    }
    if (pack->n_open > 0) {
        document_heading(document, 2, "Not checked for this site", NULL);
        document_paragraph(document, "That nothing stands above does not mean that nothing is there.");
        struct document_part *open = document_list(document, false);
        for (size_t i = 0; i < pack->n_open; i++)
            document_words(document, open, pack->open[i], NULL, false);
    }
}

static void emergency_page(struct document *document, const struct day_pack *pack)
{
    document_heading(document, 1, "Emergency card", NULL);
    document_heading(document, 1, pack->emergency_number == NULL ? "Ring the emergency number: ________" : pack->emergency_number, NULL);
    document_paragraph(document, "Say, slowly, and let them end the call:");
    struct document_part *say = document_list(document, true);
    char where[400];
    snprintf(where, sizeof where, "Where we are: %.120s. %s%.120s", pack->site,
             pack->degrees == NULL ? "" : "Latitude, longitude: ", pack->degrees == NULL ? "" : pack->degrees);
    document_words(document, say, where, NULL, false);
    document_words(document, say, "What happened, how many are hurt, and how: breathing, bleeding, awake?", NULL, false);
    document_words(document, say, "How to get in: the entrance below. Somebody will stand there and wave.", NULL, false);
    document_words(document, say, "The number you call from.", NULL, false);
    said_or_line(document, "Grid reference", pack->grid_reference);
    said_or_line(document, "Latitude, longitude (WGS 84)", pack->degrees);
    said_or_line(document, "Entrance for an ambulance", pack->entrance);
    said_or_line(document, "Nearest emergency department", pack->emergency_department);
    said_or_line(document, "Site lead", pack->lead);
    said_or_line(document, "First-aider", pack->first_aider);
    said_or_line(document, "Telephone on site", pack->site_phone);
    static const char *const gas[] = {"Gas emergency line", "Electricity emergency line", "Who was told, and when"};
    document_fields(document, gas, 3);
    document_note(document,
                  "A struck cable or pipe: everybody away, upwind of gas, no phone or spark near it; ring from afar. Write an accident "
                  "or a near miss down the same day, without names of children.");
    document_paragraph(document,
                       "Fill in every open line and read the card aloud at the briefing. Check numbers and places locally: this card "
                       "repeats what was typed.");
}

static void tools_page(struct document *document, const struct day_pack *pack)
{
    static const char *titles[] = {"Tool", "Number", "For what, and where it is"};
    static const double wide[] = {2, 1, 3.6};
    document_heading(document, 1, "Tools and materials", NULL);
    document_paragraph(document,
                       "Numbers follow from the people expected and the plants (common practice, no source): change them to yours. Count "
                       "out, count back.");
    lines_add(document, titles, wide, pack->tools, pack->n_tools);
}

static void bags_page(struct document *document, const struct day_pack *pack)
{
    document_heading(document, 1, "Plants by row, for the plant marshal", NULL);
    document_paragraph(
        document, "Bag the evening before, in shade, roots moist and covered: one bag for a row of squares. The reserve stays heeled in.");
    struct document_table *table = document_table(document, NULL, NULL);
    weighted(document, table, "Plot", 0.8);
    weighted(document, table, "Row", 0.5);
    document_column(document, table, "Plants", NULL, ALIGN_RIGHT);
    table->columns[table->n_columns - 1].weight = 0.7;
    weighted(document, table, "Species and number", 6);
    weighted(document, table, "Bagged", 0.8);
    table->narrow = true;
    int64_t sum = 0;
    for (size_t i = 0; i < pack->n_bags; i++) {
        struct document_cell *row = document_row(document, table);
        document_cell(document, &row[0], "%s", pack->bags[i].plot);
        document_cell(document, &row[1], "%s", pack->bags[i].row);
        row[1].strong = true;
        document_cell(document, &row[2], "%lld", (long long)pack->bags[i].plants);
        document_cell(document, &row[3], "%s", pack->bags[i].species);
        row[4].words = "☐";
        sum += pack->bags[i].plants;
    }
    document_paragraph(document, "%lld plants in %zu bags.", (long long)sum, pack->n_bags);
}

static void blank_table(struct document *document, const char *const *titles, const double *weights, size_t n, size_t rows)
{
    struct document_table *table = document_table(document, NULL, NULL);
    for (size_t c = 0; c < n; c++)
        weighted(document, table, titles[c], weights[c]);
    table->row_height_pt = 19;
    for (size_t i = 0; i < rows; i++) {
        struct document_cell *row = document_row(document, table);
        for (size_t c = 0; c < n; c++)
            row[c].words = " ";
    }
}

static void sign_in_page(struct document *document, const struct day_pack *pack)
{
    static const char *const adults[] = {"Adult: first name or pseudonym", "In", "Out", "Brief heard", "Photo yes/no"};
    static const char *const groups[] = {"Group leader (adult)", "Number under age", "Ages from–to", "In", "Out",
                                         "Brief heard",          "Photo yes/no"};
    static const double adult_wide[] = {4, 1, 1, 1.2, 1.3}, group_wide[] = {3, 1.5, 1.3, 1, 1, 1.2, 1.3};
    document_heading(document, 1, "Sign-in", NULL);
    document_paragraph(document,
                       "This sheet serves to count hours and to know who is here if something happens. It is kept by the organisation for "
                       "that alone, is not put into the programme file, and is destroyed when the hours are entered. A first name or "
                       "pseudonym is enough. You may be taken off it at any time: ask the registrar.");
    if (pack->children) {
        document_heading(document, 2, "Groups with under-age helpers", NULL);
        document_paragraph(
            document, "No child's name is written anywhere. The adult who is responsible signs in and gives the number. Photographs of "
                      "children only with their guardians' consent in writing.");
        blank_table(document, groups, group_wide, 7, pack->group_rows);
    }
    document_heading(document, 2, "Adults", NULL);
    blank_table(document, adults, adult_wide, 5, pack->sign_rows);
}

static bool map_page(struct document *document, const struct day_pack *pack, int *scale, struct failure *why)
{
    struct drawing *drawing = NULL;
    struct map sized = *pack->map;
    int used = 0;
    char caption[300];
    sized.width_pt = sized.width_pt > 0 ? sized.width_pt : 515;
    sized.height_pt = sized.height_pt > 0 ? sized.height_pt : 560;
    if (map_draw(&sized, &drawing, &used, why) != OUTCOME_OK)
        return false;
    document_heading(document, 1, "Map", NULL);
    snprintf(caption, sizeof caption,
             "%.120s at 1:%d when printed at 100 %% on A4. Mark the entrance, the gathering point, water and toilet by hand.", pack->site,
             used);
    document_figure(document, drawing, caption)->true_scale = true;
    if (scale != NULL)
        *scale = used;
    return true;
}

struct document *day_pack_document(const struct day_pack *pack, int *scale, struct failure *why)
{
    struct document *document = document_new("Planting day");
    document->kind = "Day pack";
    document->subject = pack->site;
    document->author = pack->organisation;
    document->date = pack->printed;
    char day[16] = "day to be set";
    if (pack->day != DATE_UNKNOWN)
        date_write(pack->day, day);
    char subtitle[200];
    snprintf(subtitle, sizeof subtitle, "%.100s, %.60s", pack->site, day);
    document->subtitle = arena_text(&document->arena, subtitle);
    day_page(document, pack);
    document_page(document, false);
    emergency_page(document, pack);
    document_page(document, false);
    weather_page(document);
    document_page(document, false);
    briefing_page(document, pack);
    document_page(document, false);
    tools_page(document, pack);
    if (pack->n_bags > 0) {
        document_page(document, false);
        bags_page(document, pack);
    }
    document_page(document, false);
    sign_in_page(document, pack);
    if (pack->map != NULL) {
        document_page(document, false);
        if (!map_page(document, pack, scale, why)) {
            document_free(document);
            return NULL;
        }
    }
    return document;
}
