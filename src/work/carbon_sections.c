/* SPDX-License-Identifier: GPL-3.0-or-later
 * The ground as sections of a note: what held roots back before works, what carbon lies in it, what was brought in and what was
 * gained, and what can pass for carbon that plants put there. The job carbon and the report use
 * the same. */
#include "draw/draw.h"
#include "ground/ground.h"
#include "work/behind.h"
#include "work/site_map.h"
#include "work/rows.h"
#include <math.h>
#include <string.h>

static const double LEVEL = 0.95;
static const double CARBONATE_PH = 7.5; ///< from here on carbonate is to be expected; common practice, no source

/* Conditions that choose the samples of one composite or round of a place. */
static const char *sample_where(const char *place, const char *zone, const char *composite, enum time_point time_point, int32_t day,
                                struct arena *arena)
{
    const char *z = zone == NULL ? "unknown" : rows_value(zone, arena);
    const char *c = composite == NULL ? "" : arena_print(arena, ";composite=%s", rows_value(composite, arena));
    const char *d = day == DATE_UNKNOWN ? "unknown" : day_words(day, arena);
    return arena_print(arena, "%s;zone=%s%s;time_point=%s;sampled_on=%s", place, z, c, word_of(WORDS_TIME_POINT, (int)time_point), d);
}

static const char *range_words(double value, double low, double high, int digits)
{
    static char out[120];
    if (!is_known(value))
        return NULL;
    value_write((struct draw_value){value, low, high}, digits, "", out);
    return out;
}

/* ---- what held roots back ---- */

enum outcome ground_sections(struct store *store, const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why)
{
    const struct store_where of_sites = {.field = "plot_id", .value = 0};
    void *rows = NULL;
    size_t n = 0;
    struct ground_options options = {0};
    struct ground_judgement judged;
    enum outcome outcome = store_load(store, NOUN_SOIL_SAMPLE, &of_sites, 1, false, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    outcome = ground_judge(rows, n, &options, arena, &judged, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    json_t *section = note_section(note, "The ground before works"), *table = section_table(section);
    section_text(section, "From pits and composites of the sites; those of single plots are in the part on carbon.");
    table_column(table, "site", "site", "", -1);
    table_column(table, "pit", "pit", "", -1);
    table_column(table, "sampled_on", "sampled", "", -1);
    table_column(table, "layers", "layers", "", -1);
    table_column(table, "available_mm", "water that roots could take", "mm", 0);
    table_column(table, "statement", "what holds roots back", "", -1);
    for (size_t i = 0; i < judged.n_pits; i++) {
        const struct ground_pit *pit = &judged.pits[i];
        const char *site = "";
        for (size_t s = 0; s < evidence->facts.n_sites; s++)
            if (evidence->facts.sites[s].id == pit->site_id)
                site = evidence->facts.sites[s].code;
        int64_t set = note_rows(note, NOUN_SOIL_SAMPLE,
                                sample_where(arena_print(arena, "site=%s;plot=unknown", site), pit->zone, pit->composite, pit->time_point,
                                             pit->sampled_on, arena),
                                (int64_t)pit->n_layers);
        json_t *row = table_row(table);
        row_text(row, site);
        row_text(row, pit->composite != NULL ? pit->composite : pit->zone);
        row_text(row, day_words(pit->sampled_on, arena));
        row_integer(row, (int64_t)pit->n_layers);
        row_number(row, pit->available_mm);
        row_text(row, pit->statement);
        cells_behind(table, 4, set);
    }
    note_source(note, "Densities held against: %s. Soil water: Saxton & Rawls 2006, Soil Sci. Soc. Am. J. 70:1569.",
                density_sources[options.source].title);
    return OUTCOME_OK;
}

/* ---- carbon ---- */

/* What can pass for carbon that plants put into the ground of a site. */
static enum outcome confusions_note(struct store *store, const struct site *site, json_t *note, struct arena *arena, struct failure *why)
{
    static const char *const burnt[] = {"cinder", "ash", "clinker", "coal", "coke", "slag", "soot", "siding", "gasworks"};
    void *rows = NULL;
    size_t n = 0, alkaline = 0;
    double made = 0, ph = 0;
    enum outcome outcome = load_of(store, NOUN_SOIL_SAMPLE, "site_id", site->id, arena, &rows, &n, why);
    const struct soil_sample *samples = rows;
    for (size_t i = 0; i < n; i++) {
        made = fmax(made, is_known(samples[i].made_ground_pct) ? samples[i].made_ground_pct : 0);
        if (is_known(samples[i].soc_pct) && samples[i].ph >= CARBONATE_PH && samples[i].carbon_method == CARBON_METHOD_DRY_COMBUSTION) {
            alkaline++;
            ph = fmax(ph, samples[i].ph);
        }
    }
    bool said = false;
    const char *history = site->history == NULL ? "" : site->history;
    for (size_t i = 0; i < sizeof burnt / sizeof *burnt && !said; i++) {
        const char *at = strstr(history, burnt[i]);
        said = at != NULL && (at == history || at[-1] == ' ');
    }
    if (made > 0 || said)
        note_caution(note, "C30",
                     arena_print(arena,
                                 "%s: %s. Cinder, coal and soot are black carbon: a laboratory finds them as organic carbon, and no plant "
                                 "put them there.",
                                 site->name,
                                 made > 0 ? arena_print(arena, "made ground up to %.0f %% is recorded", made)
                                          : arena_print(arena, "what the site was (%s) lets burnt matter lie in the ground", history)),
                     "the laboratory, by a method that tells black carbon apart");
    if (alkaline > 0)
        note_caution(note, "C30",
                     arena_print(arena,
                                 "%s: %zu samples have a pH of %.1f and more, up to %.1f, where carbonate (lime, concrete, shell) is to be "
                                 "expected. Dry combustion counts it as carbon unless acid took it off first, and whether it did is not "
                                 "recorded.",
                                 site->name, alkaline, CARBONATE_PH, ph),
                     "the laboratory");
    return outcome;
}

/* Whether most of a plot's samples hold so much carbon to nitrogen that cinder is a doubt; `ratio` their mean. */
static bool may_be_cinder(const struct soil_sample *samples, size_t n, double *ratio, size_t *known)
{
    size_t doubtful = 0;
    *known = 0;
    *ratio = 0;
    for (size_t i = 0; i < n; i++) {
        double one = carbon_nitrogen_ratio(samples[i].soc_pct, samples[i].total_n_pct);
        if (!is_known(one) || samples[i].carbon_method == CARBON_METHOD_LOSS_ON_IGNITION)
            continue;
        doubtful += carbon_may_be_cinder(samples[i].soc_pct, samples[i].total_n_pct) == TRUTH_YES;
        *ratio += one;
        ++*known;
    }
    *ratio = *known == 0 ? unknown_real() : *ratio / (double)*known;
    return *known > 0 && 2 * doubtful > *known;
}

static void rounds_table(const struct carbon_survey *survey, const char *name, const struct soil_sample *samples, size_t n, json_t *table,
                         json_t *note, struct arena *arena)
{
    for (size_t i = 0; i < survey->n_rounds; i++) {
        const struct carbon_round *round = &survey->rounds[i];
        int64_t count = 0;
        for (size_t k = 0; k < n; k++)
            count += text_same(samples[k].zone, round->zone) && samples[k].time_point == round->time_point &&
                     samples[k].sampled_on == round->sampled_on;
        int64_t set = note_rows(
            note, NOUN_SOIL_SAMPLE,
            sample_where(arena_print(arena, "plot=%s", name), round->zone, NULL, round->time_point, round->sampled_on, arena), count);
        json_t *row = table_row(table);
        row_text(row, name);
        row_text(row, round->zone == NULL
                          ? word_plain(WORDS_TIME_POINT, (int)round->time_point, arena)
                          : arena_print(arena, "%s, zone %s", word_plain(WORDS_TIME_POINT, (int)round->time_point, arena), round->zone));
        row_text(row, day_words(round->sampled_on, arena));
        cell_behind(table, set);
        row_integer(row, (int64_t)round->composites);
        row_number(row, round->depth_cm);
        row_text(row, range_words(round->fixed_mean, round->fixed_low, round->fixed_high, 1));
        row_text(row, range_words(round->mass_mean, round->mass_low, round->mass_high, 1));
        row_number(row, round->mineral_mass_t_ha);
        cells_behind(table, 5, set);
    }
}

/* The rounds that a difference is between. */
static int64_t between(const struct carbon_survey *survey, const struct carbon_difference *d, const char *name, json_t *note,
                       struct arena *arena)
{
    bool before = strcmp(d->what, "gained") != 0, amended = strcmp(d->what, "changed") != 0, now = strcmp(d->what, "added") != 0;
    int64_t sets[64];
    size_t n = 0;
    for (size_t i = 0; i < survey->n_rounds && n < 64; i++) {
        const struct carbon_round *round = &survey->rounds[i];
        bool in = (round->time_point == TIME_POINT_BEFORE_WORKS && before) ||
                  (round->time_point == TIME_POINT_AFTER_AMENDMENT && amended) || (round->time_point == TIME_POINT_FOLLOW_UP && now);
        if (in && text_same(round->zone, d->zone))
            sets[n++] =
                note_rows(note, NOUN_SOIL_SAMPLE,
                          sample_where(arena_print(arena, "plot=%s", name), round->zone, NULL, round->time_point, round->sampled_on, arena),
                          INT_UNKNOWN);
    }
    return note_rows_of(note, sets, n);
}

/* Whether a gain can be told from none, in words that claim no more. */
static const char *gain_words(const struct carbon_difference *d, const char *name, struct arena *arena)
{
    bool mass = is_known(d->mass);
    double value = mass ? d->mass : d->fixed, low = mass ? d->mass_low : d->fixed_low, high = mass ? d->mass_high : d->fixed_high;
    if (!is_known(value))
        return arena_print(arena, "%s: what the ground gained since amendment is not known.", name);
    char number[64];
    number_fixed(value, 1, number);
    if (!is_known(low))
        return arena_print(arena, "%s: one composite only, so no gain can be told from chance (%s t/ha).", name, number);
    const char *shown = arena_text(arena, range_words(value, low, high, 1)), *at = mass ? "in the same mass of soil" : "to the same depth";
    if (low <= 0 && high >= 0)
        return arena_print(arena,
                           "%s: no detectable sequestration. %s t/ha of carbon since amendment %s; a difference under %.0f %% of the stock "
                           "would be missed.",
                           name, shown, at, d->detectable_pct);
    return arena_print(
        arena,
        "%s: the ground %s carbon since amendment, %s t/ha %s. The interval is that of the composites of this one plot; it names "
        "no cause.",
        name, value > 0 ? "gained" : "lost", shown, at);
}

/* What is gathered over the plots. */
struct carbon_told {
    json_t *section, *differences, *rounds, *list;
    struct figure_row *rows;
    int64_t *sets;
    size_t n_rows, most;
};

static void difference_told(const struct carbon_difference *d, const char *name, double ratio, bool cinder, int64_t set,
                            struct carbon_told *told, struct arena *arena)
{
    json_t *row = table_row(told->differences),
           *object = json_pack("{s:s, s:s, s:b}", "plot", name, "what", d->what, "cinder", (int)cinder);
    row_text(row, d->zone == NULL ? name : arena_print(arena, "%s, zone %s", name, d->zone));
    row_text(row, d->what);
    row_text(row, range_words(d->fixed, d->fixed_low, d->fixed_high, 1));
    row_text(row, range_words(d->mass, d->mass_low, d->mass_high, 1));
    row_number(row, d->detectable_pct);
    cells_behind(told->differences, 3, set);
    const struct {
        const char *key;
        double value;
    } numbers[] = {{"mass", d->mass},   {"low", d->mass_low}, {"high", d->mass_high},
                   {"fixed", d->fixed}, {"ratio", ratio},     {"detectable_pct", d->detectable_pct}};
    for (size_t k = 0; k < sizeof numbers / sizeof *numbers; k++) {
        json_object_set_new(object, numbers[k].key, isfinite(numbers[k].value) ? json_real(numbers[k].value) : json_null());
        data_behind(object, numbers[k].key, set);
    }
    bool gained = strcmp(d->what, "gained") == 0;
    if (gained) {
        const char *words = gain_words(d, name, arena);
        section_line(told->section, set, "%s", words);
        json_object_set_new(object, "sentence", json_string(words));
    }
    if (told->n_rows < told->most && (gained || strcmp(d->what, "added") == 0)) {
        told->sets[told->n_rows] = set;
        told->rows[told->n_rows++] = (struct figure_row){
            .label = arena_print(arena, "%s %s", name, d->what), .value = {d->mass, d->mass_low, d->mass_high}, .group = gained};
    }
    json_array_append_new(told->list, object);
}

static void carbon_figure(const struct carbon_told *told, json_t *note)
{
    struct figure_intervals figure = {.head = {.title = "Carbon brought in, and gained since",
                                               .x_title = "carbon [t/ha], in the same mass of soil",
                                               .foot = "Welch's t interval between composites, 95 %. Gained: now less after amendment."},
                                      .rows = told->rows,
                                      .n_rows = told->n_rows,
                                      .unit = "t/ha",
                                      .digits = 1,
                                      .reference = 0,
                                      .less = "lost",
                                      .more = "more"};
    json_t *section = note_section(note, "Carbon brought in, and gained since");
    section_drawing(section, figure_intervals(&figure));
    figure_behind(section, note_rows_of(note, told->sets, told->n_rows));
}

static void carbon_columns(json_t *rounds, json_t *differences)
{
    static const char *const sampled[] = {"plot", "time", "sampled_on", "composites", "depth_cm", "fixed", "mass", "mineral_mass"},
                             *const sampled_titles[] =
                                 {"plot", "when", "sampled", "composites", "to", "to that depth", "in the same mass of soil", "that mass"},
                             *const sampled_units[] = {"", "", "", "", "cm", "t/ha", "t/ha", "t/ha"},
                             *const changed[] = {"plot", "what", "fixed", "mass", "detectable"},
                             *const changed_titles[] = {"plot", "carbon", "to the same depth", "in the same mass of soil",
                                                        "smallest difference that would be found"},
                             *const changed_units[] = {"", "", "t/ha", "t/ha", "% of the stock"};
    for (size_t i = 0; i < 8; i++)
        table_column(rounds, sampled[i], sampled_titles[i], sampled_units[i], i >= 4 ? 0 : -1);
    for (size_t i = 0; i < 5; i++)
        table_column(differences, changed[i], changed_titles[i], changed_units[i], i == 4 ? 0 : -1);
}

/* The sections, made when the first plot has something to tell. */
static void carbon_begin(struct carbon_told *told, json_t *note)
{
    if (told->section != NULL)
        return;
    told->section = note_section(note, "Carbon in the ground");
    told->differences = section_table(told->section);
    told->rounds = section_table(note_section(note, "Stocks of carbon at each sampling"));
    carbon_columns(told->rounds, told->differences);
    section_line(
        told->section, 0, "%s",
        "Tonnes of carbon per hectare of ground, which is not carbon dioxide. Added is what the works brought in with compost; gained "
        "is what came after; changed is both. Stocks are compared in the same mass of mineral soil, because loosened ground holds "
        "less soil in the same depth.");
}

static enum outcome plot_told(struct store *store, const struct evidence *evidence, size_t plot, struct carbon_told *told, json_t *note,
                              struct arena *arena, struct failure *why)
{
    struct carbon_survey survey;
    struct failure none;
    void *samples = NULL;
    size_t n = 0, known = 0;
    double ratio = 0;
    enum outcome outcome = load_of(store, NOUN_SOIL_SAMPLE, "plot_id", evidence->facts.plots[plot].id, arena, &samples, &n, why);
    if (outcome != OUTCOME_OK || n == 0)
        return outcome;
    const char *name = evidence_plot_name(evidence, plot, arena);
    bool cinder = may_be_cinder(samples, n, &ratio, &known);
    if (cinder)
        note_caution(
            note, "C30",
            arena_print(arena,
                        "%s: carbon to nitrogen is %.0f on the mean of %zu samples. Part of this carbon may be cinder, coal or soot, "
                        "which the laboratory cannot tell from humus: no stock of it is a gain of the wood.",
                        name, ratio, known),
            "a soil laboratory that can tell black carbon apart");
    if (carbon_survey(samples, n, LEVEL, arena, &survey, &none) != OUTCOME_OK) {
        note_unknown(note, "%s: no carbon figure. %s", name, none.sentence);
        return OUTCOME_OK;
    }
    carbon_begin(told, note);
    rounds_table(&survey, name, samples, n, told->rounds, note, arena);
    for (size_t i = 0; i < survey.n_differences; i++)
        difference_told(&survey.differences[i], name, ratio, cinder, between(&survey, &survey.differences[i], name, note, arena), told,
                        arena);
    for (size_t k = 0; k < survey.n_notes; k++)
        note_unknown(note, "%s: %s", name, survey.notes[k]);
    return OUTCOME_OK;
}

enum outcome carbon_sections(struct store *store, const struct evidence *evidence, const struct site *site, json_t *note,
                             struct arena *arena, struct failure *why)
{
    size_t most = 8 * evidence->facts.n_plots + 1; /* zones and follow-ups are few; more are in the table, not in the picture */
    struct carbon_told told = {.list = json_array(),
                               .most = most,
                               .rows = arena_array(arena, most, sizeof *told.rows),
                               .sets = arena_array(arena, most, sizeof *told.sets)};
    enum outcome outcome = OUTCOME_OK;
    int64_t said_of = 0;
    json_object_set_new(note_data(note), "carbon", told.list);
    for (size_t i = 0; i < evidence->facts.n_plots && outcome == OUTCOME_OK; i++) {
        int64_t own = evidence->facts.plots[i].site_id;
        if (site != NULL && own != site->id)
            continue;
        size_t before = json_array_size(told.list);
        outcome = plot_told(store, evidence, i, &told, note, arena, why);
        if (outcome == OUTCOME_OK && json_array_size(told.list) > before && said_of != own) {
            outcome = confusions_note(store, evidence->lives[i].site, note, arena, why);
            said_of = own;
        }
    }
    if (outcome != OUTCOME_OK || told.section == NULL)
        return outcome;
    if (told.n_rows > 0)
        carbon_figure(&told, note);
    note_caution(note, "C30", "Small plots store little, the range is wide, and compost that was brought in is not carbon that was gained.",
                 "an independent verifier; no offset is claimed here");
    note_source(note,
                "Carbon in the same mass of soil: Ellert & Bettany 1995, Can. J. Soil Sci. 75:529; Wendt & Hauser 2013, Eur. J. Soil Sci. "
                "64:58; spline: von Haden, Yang & DeLucia 2020, Glob. Change Biol. 26:3759. Intervals: Welch's t between composites. "
                "Carbon to nitrogen above 25 as a doubt: common practice, no source.");
    return OUTCOME_OK;
}
