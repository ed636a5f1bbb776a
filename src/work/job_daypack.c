/* SPDX-License-Identifier: GPL-3.0-or-later
 * daypack: what the people on a planting day need on paper, worked out from the plans of a site. */
#include "geo/geo.h"
#include "paper/paper.h"
#include "work/jobs.h"
#include "work/plan_load.h"
#include "work/site_map.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const struct option daypack_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (the only one if not given)"},
    {"plots", OPTION_TEXT, false, "CODE;CODE", "plots planted that day (all with a plan if not given)"},
    {"on", OPTION_DATE, false, "DAY", "day of planting"},
    {"people", OPTION_INTEGER, false, "N", "adults expected (20 if not given)"},
    {"children", OPTION_INTEGER, false, "N", "under-age helpers expected (0); groups then sign in by number, never by name"},
    {"child_ages", OPTION_TEXT, false, "WORD", "4-8, 9-12 or 13-18: how many one adult looks after"},
    {"rate", OPTION_NUMBER, false, "N", "plants a person puts in in an hour (12 for novices on loosened soil; practised pairs 20-30)"},
    {"start", OPTION_TEXT, false, "HH:MM", "when people arrive (10:00)"},
    {"meet_at", OPTION_TEXT, false, "TEXT", "where people meet"},
    {"entrance", OPTION_TEXT, false, "TEXT", "entrance for an ambulance"},
    {"emergency_number", OPTION_TEXT, false, "TEXT", "112 in the European Union, Britain and Ireland if not given"},
    {"emergency_department", OPTION_TEXT, false, "TEXT", "nearest emergency department"},
    {"lead", OPTION_TEXT, false, "WHO", "site lead (a pseudonym or role)"},
    {"first_aider", OPTION_TEXT, false, "WHO", "first-aider"},
    {"phone", OPTION_TEXT, false, "TEXT", "telephone on site"},
    {"pdf", OPTION_FILE_OUT, false, "FILE", "write the pack as PDF"},
    {"html", OPTION_FILE_OUT, false, "FILE", "write the pack as one HTML page"},
};
static const char *const daypack_bare[] = {"site", NULL};

enum { MOST_LINES = 20 };

struct packing {
    struct programme programme;
    struct site site;
    struct site_facts facts;
    struct species_library library;
    struct plot *plots;
    size_t n_plots, n_chosen;
    struct day_plot *days;
    struct day_bag *bags;
    size_t n_bags, room_bags;
    int64_t plants, cards;
    struct day_line times[MOST_LINES], roles[MOST_LINES], tools[MOST_LINES];
    struct day_pack pack;
    struct map map;
    struct shape outline; ///< of the first plot planted that day
    struct preparation preparation;
    bool has_outline, has_preparation;
    struct site_plant *species;
    size_t n_species;
    double hours; ///< of planting
    int64_t people, children, leaders, minders;
};

static bool listed(const char *list, const char *site, const char *code)
{
    struct arena arena = {0};
    bool found = list == NULL;
    char *copy = arena_text(&arena, list == NULL ? "" : list), *rest = NULL;
    const char *whole = arena_print(&arena, "%s/%s", site, code);
    for (char *part = strtok_r(copy, "; ,", &rest); part != NULL && !found; part = strtok_r(NULL, "; ,", &rest))
        found = text_same_nocase(part, code) || text_same_nocase(part, whole);
    arena_clear(&arena);
    return found;
}

struct kind {
    const char *species;
    int64_t plants;
};

static int kind_order(const void *a, const void *b)
{
    return strcmp(((const struct kind *)a)->species, ((const struct kind *)b)->species);
}

/* One bag for each row of squares: its letter, the plants by species. */
static void bags_make(struct packing *job, const char *plot, const struct position *positions, size_t n, const struct cell *cells,
                      size_t n_cells, struct arena *arena)
{
    int64_t most = -1;
    for (size_t c = 0; c < n_cells; c++)
        most = cells[c].row_index > most ? cells[c].row_index : most;
    struct kind *kinds = arena_array(arena, n + 1, sizeof *kinds);
    for (int64_t row = 0; row <= most; row++) {
        size_t n_kinds = 0, length = 0;
        int64_t plants = 0;
        const char *code = NULL;
        for (size_t i = 0; i < n; i++) {
            const struct cell *cell = NULL;
            for (size_t c = 0; c < n_cells && cell == NULL; c++)
                cell = cells[c].id == positions[i].cell_id ? &cells[c] : NULL;
            if (cell == NULL || cell->row_index != row)
                continue;
            code = cell->code;
            plants++;
            size_t k = 0;
            while (k < n_kinds && !text_same(kinds[k].species, positions[i].species))
                k++;
            if (k == n_kinds)
                kinds[n_kinds++] = (struct kind){positions[i].species, 0};
            kinds[k].plants++;
        }
        if (code == NULL)
            continue;
        qsort(kinds, n_kinds, sizeof *kinds, kind_order);
        struct text words = {0};
        for (size_t k = 0; k < n_kinds; k++)
            text_print(&words, "%s%s %lld", k == 0 ? "" : ", ", kinds[k].species, (long long)kinds[k].plants);
        while (code[length] >= 'A' && code[length] <= 'Z')
            length++;
        job->bags = column_room(job->bags, job->n_bags, &job->room_bags, sizeof *job->bags);
        job->bags[job->n_bags++] = (struct day_bag){plot, arena_text_n(arena, code, length), plants, arena_text(arena, text_get(&words))};
        text_free(&words);
    }
}

/* Outline, preparation and species, for the cautions. */
static enum outcome plot_facts(struct store *store, const struct plot *plot, const struct position *positions, size_t n,
                               struct packing *job, struct arena *arena, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    if (!job->has_outline) {
        outcome = load_shape(plot->wkb, arena, &job->outline, why);
        job->has_outline = outcome == OUTCOME_OK && job->outline.kind == SHAPE_POLYGONS;
    }
    if (outcome == OUTCOME_OK && !job->has_preparation && plot->preparation_id != 0) {
        outcome = store_get(store, NOUN_PREPARATION, plot->preparation_id, arena, &job->preparation, why);
        job->has_preparation = outcome == OUTCOME_OK;
    }
    if (job->species == NULL)
        job->species = arena_array(arena, job->library.n_facts + 1, sizeof *job->species);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        bool known = false;
        for (size_t k = 0; k < job->n_species && !known; k++)
            known = text_same(job->species[k].name, positions[i].species);
        for (size_t f = 0; f < job->library.n_facts && !known && job->n_species < job->library.n_facts; f++)
            if (text_same(job->library.facts[f].name, positions[i].species)) {
                job->species[job->n_species++] = site_plant_of(&job->library.facts[f], positions[i].species, positions[i].layer);
                known = true;
            }
    }
    return outcome;
}

static enum outcome plots_load(const struct job_context *context, const json_t *in, struct packing *job, struct arena *arena,
                               struct failure *why)
{
    void *rows = NULL;
    enum outcome outcome = load_of(context->store, NOUN_PLOT, "site_id", job->site.id, arena, &rows, &job->n_plots, why);
    job->plots = rows;
    job->days = arena_array(arena, job->n_plots + 1, sizeof *job->days);
    for (size_t i = 0; outcome == OUTCOME_OK && i < job->n_plots; i++) {
        const struct plot *plot = &job->plots[i];
        struct plan plan;
        struct position *positions = NULL;
        struct cell *cells = NULL;
        size_t n = 0, n_cells = 0;
        struct failure none;
        if (!listed(option_text(in, "plots", NULL), job->site.code, plot->code) ||
            load_plan(context->store, plot, 0, arena, &plan, &none) != OUTCOME_OK)
            continue;
        outcome = plan_parts_load(context->store, plan.id, arena, NULL, NULL, &positions, &n, &cells, &n_cells, why);
        int64_t cards = 0;
        for (size_t c = 0; c < n_cells; c++) {
            bool used = false;
            for (size_t k = 0; k < n && !used; k++)
                used = positions[k].cell_id == cells[c].id;
            cards += used;
        }
        job->days[job->n_chosen++] = (struct day_plot){.code = plot->code,
                                                       .recipe = word_plain(WORDS_REGIME, (int)plot->regime, arena),
                                                       .cards = n == 0 ? INT_UNKNOWN : cards,
                                                       .plants = n == 0 ? INT_UNKNOWN : (int64_t)n,
                                                       .area_m2 = plan.net_area_m2};
        job->plants += (int64_t)n;
        job->cards += cards;
        if (outcome == OUTCOME_OK)
            outcome = plot_facts(context->store, plot, positions, n, job, arena, why);
        bags_make(job, plot->code, positions, n, cells, n_cells, arena);
    }
    if (outcome == OUTCOME_OK && job->plants == 0) {
        fail(why, OUTCOME_DATA, "No plot of site %s has been laid out.", job->site.code);
        outcome = failure_remedy(why, "Lay one out first: spinney layout FILE PLOT");
    }
    return outcome;
}

static const char *clock_words(int start, int minutes, struct arena *arena)
{
    int at = (start + minutes) % (24 * 60);
    return arena_print(arena, "%02d:%02d", at / 60, at % 60);
}

/* Hours, leaders and the shape of the day. */
static enum outcome day_make(const json_t *in, struct packing *job, struct arena *arena, struct failure *why)
{
    double rate = option_number(in, "rate", 12);
    int hour = 10, minute = 0;
    const char *ages = option_text(in, "child_ages", NULL), *start = option_text(in, "start", "10:00");
    job->people = option_integer(in, "people", 20);
    job->children = option_integer(in, "children", 0);
    if (job->people < 1 || job->people > 5000 || job->children < 0 || job->children > 5000 || !(rate > 0 && rate <= 200))
        return fail(why, OUTCOME_USAGE, "People, children and plants an hour must be counts that can be.");
    if (sscanf(start, "%d:%d", &hour, &minute) != 2 || hour < 0 || hour > 23 || minute < 0 || minute > 59)
        return fail(why, OUTCOME_USAGE, "\"%.20s\" is no time of day such as 10:00.", start);
    int each = ages == NULL ? 8 : text_same(ages, "4-8") ? 6 : text_same(ages, "9-12") ? 8 : text_same(ages, "13-18") ? 10 : 0;
    if (each == 0)
        return fail(why, OUTCOME_USAGE, "Ages are 4-8, 9-12 or 13-18.");
    job->leaders = (job->people + 8) / 9;
    job->minders = (job->children + each - 1) / each;
    job->hours = (double)job->plants / ((double)job->people * rate);
    int planting = (int)ceil(job->hours * 60 / 5) * 5, t = hour * 60 + minute;
    size_t n = 0;
    job->times[n++] = (struct day_line){clock_words(t, -60, arena), "60",
                                        "site lead, marshal and tool marshal: weather decision, stop lines, toilet, tools out"};
    job->times[n++] = (struct day_line){clock_words(t, 0, arena), "15", "sign-in"};
    job->times[n++] = (struct day_line){clock_words(t, 15, arena), "10", "briefing; nobody takes a tool before it"};
    job->times[n++] = (struct day_line){clock_words(t, 25, arena), "15", "one square planted together by everybody, with its card"};
    job->times[n++] = (struct day_line){
        clock_words(t, 40, arena), arena_print(arena, "%d", planting),
        arena_print(arena, "planting: %lld plants, %.0f an hour and person; a break every hour", (long long)job->plants, rate)};
    job->times[n++] =
        (struct day_line){clock_words(t, 40 + planting, arena), "20", "cards counted, tools counted, reserve counted, hours written down"};
    job->pack.n_times = n;
    return OUTCOME_OK;
}

static void roles_make(const json_t *in, struct packing *job, struct arena *arena)
{
    size_t n = 0;
    struct day_line *r = job->roles;
    r[n++] = (struct day_line){"site lead", option_text(in, "lead", NULL), "weather decision, briefing, may stop the day"};
    r[n++] = (struct day_line){"first-aider", option_text(in, "first_aider", NULL), "kit, emergency card, near misses"};
    r[n++] = (struct day_line){"plant marshal", NULL, "the only one who gives out plants and cards; keeps roots covered"};
    r[n++] = (struct day_line){arena_print(arena, "row leaders, %lld", (long long)job->leaders), NULL,
                               "one for 8 to 10 adults: shows, firms, checks species against the card"};
    r[n++] = (struct day_line){"tool marshal", NULL, "counts out and back, keeps tools 2 m apart"};
    r[n++] = (struct day_line){"card checker", NULL, "takes cards back, names what is missing"};
    r[n++] = (struct day_line){"registrar", NULL, "sign-in, brief heard, photo yes or no, hours"};
    if (job->children > 0)
        r[n++] = (struct day_line){arena_print(arena, "adults with children, %lld at least", (long long)job->minders), NULL,
                                   "stay with their group; the organisation's own ratios go before this one"};
    r[n++] = (struct day_line){"photographer", NULL, "fixed points first; people only who said yes"};
    r[n++] = (struct day_line){"tea", NULL, "hands first"};
    job->pack.n_roles = n;
}

static const char *count_words(int64_t n, struct arena *arena)
{
    return arena_print(arena, "%lld", (long long)n);
}

static void tools_make(struct packing *job, struct arena *arena)
{
    int64_t pairs = (job->people + 1) / 2;
    double string_m = 0;
    for (size_t i = 0; i < job->n_chosen; i++) /* a grid of 1 m strings over an area A is about 2 A long, and its edge */
        string_m += is_known(job->days[i].area_m2) ? 2 * job->days[i].area_m2 + 4 * sqrt(job->days[i].area_m2) : 0;
    const struct day_line tools[] = {
        {"spades or planting bars", count_words(pairs, arena), "one for two people"},
        {"buckets or bags with lids", count_words(pairs, arena), "roots covered, moist"},
        {"gloves, pairs", count_words(job->people + job->children, arena), "several sizes"},
        {"forks", count_words((job->people + 9) / 10, arena), "to loosen where it is firm"},
        {"rakes", count_words((job->people + 9) / 10, arena), "mulch back"},
        {"barrows", count_words((job->people + 14) / 15, arena), "half full"},
        {"string for squares, m", count_words((int64_t)ceil(string_m / 10) * 10, arena), "1 m grid of all plots, and its edge"},
        {"pegs and mallets", "2 mallets", "corners with known coordinates, 3-4-5 square"},
        {"tapes, 30 m or more", "2", "check the diagonals"},
        {"cards, in sleeves", count_words(job->cards, arena), "one for every square"},
        {"labels", count_words(job->plants, arena), "put on with the plant, never from memory"},
        {"watering cans or hose", count_words((job->people + 19) / 20, arena), "if dry"},
        {"first-aid kit", count_words(1 + (job->people + job->children) / 50, arena), "with eye wash"},
        {"sharps box, litter pickers", "1, 2", "only the site lead picks up sharps"},
        {"boot brush, disinfectant, hand wash", "1", "in and out of the site"},
        {"high-visibility vests", count_words(job->leaders + 3, arena), "leaders, and everybody beside a road"},
        {"whistle or radio", "1", "to gather everybody"},
    };
    job->pack.n_tools = sizeof tools / sizeof *tools;
    memcpy(job->tools, tools, sizeof tools);
}

/* Where the site is, in metres and in degrees. */
static enum outcome place_make(struct packing *job, struct arena *arena, struct failure *why)
{
    struct shape outline;
    struct crs_way *way = NULL;
    const char *code = crs_code(&job->programme, arena);
    double xy[2] = {0, 0};
    enum outcome outcome = load_shape(job->site.wkb, arena, &outline, why);
    if (outcome != OUTCOME_OK || outline.kind != SHAPE_POLYGONS)
        return outcome;
    shape_centre(&outline, &xy[0], &xy[1]);
    job->pack.grid_reference = arena_print(arena, "east %.0f m, north %.0f m (%s), middle of the site", xy[0], xy[1], code);
    outcome = crs_way_new(code, "EPSG:4326", &way, why);
    if (outcome == OUTCOME_OK)
        outcome = crs_way_points(way, xy, 1, why);
    crs_way_free(way);
    if (outcome == OUTCOME_OK) /* longitude first, as everywhere in geo/ */
        job->pack.degrees =
            arena_print(arena, "%.5f° %c, %.5f° %c", fabs(xy[1]), xy[1] < 0 ? 'S' : 'N', fabs(xy[0]), xy[0] < 0 ? 'W' : 'E');
    return outcome;
}

static enum outcome cautions_make(struct packing *job, struct arena *arena, struct failure *why)
{
    struct site_caution *all = NULL;
    struct site_plan plan = site_plan_new();
    int year = 0, month = 0, of_month = 0;
    if (job->pack.day != DATE_UNKNOWN) {
        date_parts(job->pack.day, &year, &month, &of_month);
        plan.month_from = plan.month_to = month;
    }
    plan.outline = job->has_outline ? &job->outline : NULL;
    plan.preparation = job->has_preparation ? &job->preparation : NULL;
    plan.plants = job->species;
    plan.n_plants = job->n_species;
    plan.volunteers = TRUTH_YES;
    plan.children = job->children > 0 ? TRUTH_YES : TRUTH_NO;
    enum outcome outcome = site_cautions(&job->facts, &plan, arena, &all, why);
    struct day_caution *raised = arena_array(arena, SITE_CAUTIONS, sizeof *raised);
    const char **open = arena_array(arena, SITE_CAUTIONS, sizeof *open);
    for (size_t i = 0; outcome == OUTCOME_OK && i < SITE_CAUTIONS; i++) {
        if ((all[i].moments & MOMENT_PLANTING) == 0 || all[i].state == CAUTION_NO_TRIGGER)
            continue;
        if (all[i].state == CAUTION_RAISED)
            raised[job->pack.n_cautions++] = (struct day_caution){
                all[i].code,
                arena_print(arena, "%s%s%s", all[i].words, all[i].figures == NULL ? "" : " ", all[i].figures == NULL ? "" : all[i].figures),
                all[i].defer};
        else
            open[job->pack.n_open++] = arena_print(arena, "%s: %s", all[i].topic, all[i].figures == NULL ? "not checked" : all[i].figures);
    }
    job->pack.cautions = raised;
    job->pack.open = open;
    return outcome;
}

static enum outcome map_make(struct packing *job, struct arena *arena, struct failure *why)
{
    if (job->site.wkb.n == 0)
        return OUTCOME_OK;
    struct site_map_wish wish = {.programme = &job->programme,
                                 .site = &job->site,
                                 .facts = &job->facts,
                                 .plots = job->plots,
                                 .n_plots = job->n_plots,
                                 .title = arena_print(arena, "%s on planting day", job->site.name)};
    enum outcome outcome = site_map_fill(&wish, arena, &job->map, why);
    if (outcome == OUTCOME_OK)
        job->pack.map = &job->map;
    return outcome;
}

static void pack_fill(const struct job_context *context, const json_t *in, struct packing *job, struct arena *arena)
{
    struct day_pack *p = &job->pack;
    p->programme = job->programme.name;
    p->organisation = job->programme.organisation;
    p->site = job->site.name;
    p->site_code = job->site.code;
    p->day = option_date(in, "on", DATE_UNKNOWN);
    p->printed = context->today;
    p->meet_at = option_text(in, "meet_at", NULL);
    p->entrance = option_text(in, "entrance", NULL);
    p->emergency_number = arena_print(arena, "Ring %s", option_text(in, "emergency_number", "112"));
    p->emergency_department = option_text(in, "emergency_department", NULL);
    p->lead = option_text(in, "lead", NULL);
    p->first_aider = option_text(in, "first_aider", NULL);
    p->site_phone = option_text(in, "phone", NULL);
    p->people_words = arena_print(arena, "%lld adults%s put %lld plants into %lld squares in about %.1f hours.%s", (long long)job->people,
                                  job->children > 0 ? arena_print(arena, " and %lld under-age helpers", (long long)job->children) : "",
                                  (long long)job->plants, (long long)job->cards, job->hours,
                                  job->hours < 1   ? " That is less than an hour: fewer people at a time plant better."
                                  : job->hours > 4 ? " That is more than four hours: take two days, or more people."
                                                   : "");
    p->plots = job->days;
    p->n_plots = job->n_chosen;
    p->times = job->times;
    p->roles = job->roles;
    p->tools = job->tools;
    p->bags = job->bags;
    p->n_bags = job->n_bags;
    p->children = job->children > 0;
    p->sign_rows = (size_t)(job->people < 12 ? 12 : job->people > 60 ? 60 : job->people);
    p->group_rows = job->children == 0 ? 0 : (size_t)(job->minders < 4 ? 4 : job->minders > 20 ? 20 : job->minders);
}

static enum outcome pack_write(const json_t *in, struct packing *job, json_t *out, struct failure *why)
{
    const char *pdf = option_text(in, "pdf", NULL), *html = option_text(in, "html", NULL);
    struct text bytes = {0};
    size_t pages = 0;
    struct document *document = day_pack_document(&job->pack, NULL, why);
    if (document == NULL)
        return OUTCOME_DATA;
    enum outcome outcome = OUTCOME_OK;
    if (pdf != NULL) {
        outcome = document_pdf(document, &bytes, &pages, why);
        if (outcome == OUTCOME_OK)
            outcome = file_write(pdf, bytes.at, bytes.n, why);
        if (outcome == OUTCOME_OK)
            note_written(out, "day pack", pdf);
        text_free(&bytes);
    }
    if (outcome == OUTCOME_OK && html != NULL) {
        outcome = document_html(document, &bytes, why);
        if (outcome == OUTCOME_OK)
            outcome = file_write(html, bytes.at, bytes.n, why);
        if (outcome == OUTCOME_OK)
            note_written(out, "day pack", html);
        text_free(&bytes);
    }
    document_free(document);
    return outcome;
}

static json_t *daypack_note(const struct packing *job)
{
    json_t *out = note_new();
    const struct day_pack *p = &job->pack;
    note_answer(out, "%s", p->people_words);
    static const char *const titles[] = {"Times", "Roles", "Tools"};
    static const char *const heads[][3] = {{"when", "minutes", "what"}, {"role", "who", "does"}, {"tool", "number", "for"}};
    const struct day_line *lists[] = {job->times, job->roles, job->tools};
    size_t counts[] = {p->n_times, p->n_roles, p->n_tools};
    for (size_t t = 0; t < 3; t++) {
        json_t *table = section_table(note_section(out, titles[t]));
        for (size_t c = 0; c < 3; c++)
            table_column(table, heads[t][c], heads[t][c], "", -1);
        for (size_t i = 0; i < counts[t]; i++) {
            json_t *row = table_row(table);
            row_text(row, lists[t][i].what);
            row_text(row, lists[t][i].number == NULL ? "to be named" : lists[t][i].number);
            row_text(row, lists[t][i].words);
        }
    }
    for (size_t i = 0; i < p->n_cautions; i++)
        note_caution(out, p->cautions[i].code, p->cautions[i].words, p->cautions[i].defer);
    for (size_t i = 0; i < p->n_open; i++)
        note_unknown(out, "%s", p->open[i]);
    if (p->entrance == NULL || p->emergency_department == NULL || p->lead == NULL || p->first_aider == NULL)
        note_unknown(
            out,
            "The emergency card has open lines: entrance, emergency department, lead and first-aider must be written in before the day.");
    note_source(
        out,
        "Plants an hour, leaders and tools: common practice, no source; replace them by what your own days showed. Ratios of adults to "
        "children: child-protection guidance, from memory; the organisation's own go first.");
    json_object_set_new(note_data(out), "plants", json_integer(job->plants));
    json_object_set_new(note_data(out), "cards", json_integer(job->cards));
    json_object_set_new(note_data(out), "bags", json_integer((json_int_t)job->n_bags));
    json_object_set_new(note_data(out), "hours", json_real(job->hours));
    json_object_set_new(note_data(out), "leaders", json_integer(job->leaders));
    json_object_set_new(note_data(out), "degrees", p->degrees == NULL ? json_null() : json_string(p->degrees));
    return out;
}

static enum outcome daypack_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct packing *job = arena_alloc(&arena, sizeof *job);
    memset(job, 0, sizeof *job);
    enum outcome outcome = load_programme(context->store, &arena, &job->programme, why);
    if (outcome == OUTCOME_OK)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &job->site, why);
    if (outcome == OUTCOME_OK)
        outcome = site_facts_load(context->store, &job->site, context->today, &arena, &job->facts, why);
    if (outcome == OUTCOME_OK)
        outcome = library_load(context->store, NULL, &arena, &job->library, why);
    if (outcome == OUTCOME_OK)
        outcome = plots_load(context, in, job, &arena, why);
    job->pack.day = option_date(in, "on", DATE_UNKNOWN);
    if (outcome == OUTCOME_OK)
        outcome = day_make(in, job, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = place_make(job, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = cautions_make(job, &arena, why);
    if (outcome == OUTCOME_OK)
        outcome = map_make(job, &arena, why);
    if (outcome == OUTCOME_OK) {
        roles_make(in, job, &arena);
        tools_make(job, &arena);
        pack_fill(context, in, job, &arena);
        json_t *out = daypack_note(job);
        outcome = pack_write(in, job, out, why);
        if (outcome == OUTCOME_OK)
            *note = out;
        else
            json_decref(out);
    }
    free(job->bags);
    arena_clear(&arena);
    return outcome;
}

const struct job job_daypack = {
    .name = "daypack",
    .summary = "the pack for a planting day: roles, briefing, emergency card, weather decision, tools, sign-in",
    .about =
        "Works out how long the planting takes, how many leaders and tools it needs and which plants go into which bag, and prints it with "
        "the briefing, the cautions of the site, an emergency card, the weather decision and a sign-in that never asks for a child's name.",
    .example = "spinney daypack wood.gpkg LK --on 2027-02-10 --people 40 --children 12 --pdf day.pdf",
    .access = JOB_LOOKS,
    .options = daypack_options,
    .n_options = sizeof daypack_options / sizeof *daypack_options,
    .bare = daypack_bare,
    .run = daypack_run,
};
