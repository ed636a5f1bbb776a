/* SPDX-License-Identifier: GPL-3.0-or-later
 * site, constraint, plot: outlines come in, mended or refused with words. */
#include "work/jobs.h"
#include "work/outline.h"

/* Add one row with its outline as a step, and say so. */
static enum outcome outline_add(const struct job_context *context, enum noun noun, void *row, const char *what, struct failure *why)
{
    enum outcome outcome = store_begin(context->store, context->author, what, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = store_add(context->store, noun, row, 1, why);
    outcome = store_end(context->store, outcome, why);
    return outcome;
}

static const struct option site_options[] = {
    {"code", OPTION_TEXT, true, "CODE", "short code on cards and labels, such as LK"},
    {"name", OPTION_TEXT, false, "TEXT", "what people call it"},
    OUTLINE_OPTIONS,
    {"history", OPTION_TEXT, false, "TEXT", "what was here before"},
    {"owner", OPTION_TEXT, false, "TEXT", "who owns the land"},
    {"region", OPTION_TEXT, false, "NAME", "where the species must be native, as the library names it"},
    {"clay", OPTION_TEXT, false, "WORD", "shrinkable or not_shrinkable, where somebody has checked"},
    {"stage", OPTION_TEXT, false, "WORD", "stage it is at (idea if not given)"},
    {"note", OPTION_TEXT, false, "TEXT", "anything else"},
};
static const char *const site_bare[] = {"code", "map", NULL};

static enum outcome site_fill(const json_t *in, struct arena *arena, struct site *site, struct failure *why)
{
    static const char *const fields[] = {"code", "history", "owner", "region", "clay", "note"};
    noun_init(NOUN_SITE, site);
    for (size_t i = 0; i < sizeof fields / sizeof *fields; i++) {
        enum outcome outcome = field_read(noun_field(NOUN_SITE, fields[i]), site, option_text(in, fields[i], NULL), arena, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    site->name = option_text(in, "name", site->code);
    return field_read(noun_field(NOUN_SITE, "stage"), site, option_text(in, "stage", "idea"), arena, why);
}

static enum outcome code_free(struct store *store, const char *code, struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(store, NOUN_SITE, arena, &rows, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++)
        if (text_same_nocase(((const struct site *)rows)[i].code, code)) {
            fail(why, OUTCOME_DATA, "There is already a site %s.", code);
            outcome = failure_remedy(why, "Take another code, or change the site that is there.");
        }
    return outcome;
}

static enum outcome site_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct programme programme;
    struct site site;
    struct map_data data = {0};
    const struct map_feature *one = NULL;
    bool drawn = option_text(in, "map", NULL) != NULL || option_text(in, "wkt", NULL) != NULL;
    enum outcome outcome = load_programme(context->store, &arena, &programme, why);
    if (outcome == OUTCOME_OK)
        outcome = site_fill(in, &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = code_free(context->store, site.code, &arena, why);
    if (outcome == OUTCOME_OK && drawn)
        outcome = outline_read(context, in, crs_code(&programme, &arena), MAP_BOUNDARY, NULL, &arena, &data, why);
    if (outcome == OUTCOME_OK && drawn)
        outcome = outline_one(&data, in, &one, why);
    if (outcome == OUTCOME_OK && one != NULL)
        site.wkb = shape_to_wkb(&one->shape, &arena);
    if (outcome == OUTCOME_OK)
        outcome = outline_add(context, NOUN_SITE, &site, arena_print(&arena, "site %s", site.code), why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        if (one != NULL) {
            note_answer(out, "Site %s is in: %.0f m² in %zu %s, read as %s from %s.", site.code, shape_area_m2(&one->shape),
                        one->shape.n_parts, one->shape.n_parts == 1 ? "part" : "parts", data.format, data.from_crs);
            outline_said(out, &data, one);
            json_object_set_new(note_data(out), "area_m2", json_real(shape_area_m2(&one->shape)));
            json_object_set_new(note_data(out), "perimeter_m", json_real(shape_length_m(&one->shape)));
        } else {
            note_answer(out, "Site %s is in, without a boundary.", site.code);
            note_unknown(out, "The boundary of %s is not drawn: areas and distances cannot be computed.", site.code);
        }
        json_object_set_new(note_data(out), "id", json_integer(site.id));
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_site = {
    .name = "site",
    .summary = "add a site with its boundary",
    .about = "Brings a site's boundary in from a map file or pasted text, in any reference system. What was mended is said; what cannot be "
             "used is "
             "refused with the reason.",
    .example = "spinney site wood.gpkg LK lockside.geojson --name 'Lockside Bank'",
    .access = JOB_WRITES,
    .options = site_options,
    .n_options = sizeof site_options / sizeof *site_options,
    .bare = site_bare,
    .run = site_run,
};

static const struct option constraint_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (the only one if not given)"},
    {"kind", OPTION_TEXT, false, "WORD",
     "what it is, such as buried_service, existing_tree, building, path, water; else read from the file"},
    {"label", OPTION_TEXT, false, "TEXT", "what people call it; else read from the file"},
    OUTLINE_OPTIONS,
    {"service", OPTION_TEXT, false, "WORD", "which service, for buried_service"},
    {"stem_diameter_m", OPTION_NUMBER, false, "M", "stem diameter of an existing tree at 1.5 m"},
    {"stem_count", OPTION_INTEGER, false, "N", "its stems"},
    {"canopy_radius_m", OPTION_NUMBER, false, "M", "reach of its crown"},
    {"height_m", OPTION_NUMBER, false, "M", "height of the thing"},
    {"depth_m", OPTION_NUMBER, false, "M", "depth of a service"},
    {"standoff_m", OPTION_NUMBER, false, "M", "stand-off set by an operator or by hand"},
    {"standoff_source", OPTION_TEXT, false, "TEXT", "who set it and when"},
    {"checked_on", OPTION_DATE, false, "DAY", "when its position was checked on the ground"},
    {"source", OPTION_TEXT, false, "TEXT", "where the geometry comes from"},
};
static const char *const constraint_bare[] = {"map", NULL};

/* A field from the options, else from the attribute of the same name in the file. */
static enum outcome constraint_field(const json_t *in, const struct map_feature *feature, const struct field *field, struct constraint *row,
                                     struct arena *arena, struct failure *why)
{
    const json_t *given = json_object_get(in, field->name);
    char number[40];
    const char *text = json_string_value(given);
    if (json_is_number(given)) {
        number_write(json_number_value(given), number);
        text = number;
    }
    for (size_t i = 0; text == NULL && i < feature->n_values; i++)
        if (text_same_nocase(feature->keys[i], field->name))
            text = feature->values[i];
    for (size_t i = 0; text == NULL && text_same(field->name, "label") && i < feature->n_values; i++)
        if (text_same_nocase(feature->keys[i], "name"))
            text = feature->values[i];
    enum outcome outcome = field_read(field, row, text, arena, why);
    if (outcome == OUTCOME_OK && field->kind != FIELD_REF)
        outcome = field_check(field, row, why);
    return outcome;
}

static enum outcome constraint_fill(const json_t *in, const struct map_feature *feature, const struct site *site, struct arena *arena,
                                    struct constraint *row, struct failure *why)
{
    noun_init(NOUN_CONSTRAINT, row);
    row->site_id = site->id;
    row->wkb = shape_to_wkb(&feature->shape, arena);
    const struct noun_info *info = &noun_infos[NOUN_CONSTRAINT];
    for (size_t i = 0; i < info->n_fields; i++) {
        if (info->fields[i].kind == FIELD_REF)
            continue;
        enum outcome outcome = constraint_field(in, feature, &info->fields[i], row, arena, why);
        if (outcome != OUTCOME_OK) {
            failure_at(why, option_text(in, "map", NULL), feature->number, info->fields[i].name);
            return outcome;
        }
    }
    return OUTCOME_OK;
}

static enum outcome constraint_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct programme programme;
    struct site site;
    struct shape boundary = {0};
    struct map_data data = {0};
    struct constraint *rows = NULL;
    size_t n = 0;
    int64_t wanted = option_integer(in, "feature", 0);
    enum outcome outcome = load_programme(context->store, &arena, &programme, why);
    if (outcome == OUTCOME_OK)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = load_shape(site.wkb, &arena, &boundary, why);
    if (outcome == OUTCOME_OK)
        outcome = outline_read(context, in, crs_code(&programme, &arena), MAP_ANY, boundary.kind == SHAPE_NONE ? NULL : &boundary, &arena,
                               &data, why);
    if (outcome == OUTCOME_OK)
        rows = arena_array(&arena, data.n + 1, sizeof *rows);
    for (size_t i = 0; outcome == OUTCOME_OK && i < data.n; i++)
        if (!data.features[i].refused && (wanted == 0 || data.features[i].number == wanted))
            outcome = constraint_fill(in, &data.features[i], &site, &arena, &rows[n++], why);
    if (outcome == OUTCOME_OK && n == 0) {
        if (data.n == 1 && data.features[0].refused) {
            *why = data.features[0].refusal;
            outcome = why->kind;
        } else {
            outcome = fail(why, OUTCOME_DATA, "None of the %zu features can be used.", data.n);
        }
    }
    if (outcome == OUTCOME_OK)
        outcome = store_begin(context->store, context->author, arena_print(&arena, "%zu constraints of site %s", n, site.code), why);
    if (outcome == OUTCOME_OK) {
        outcome = store_add(context->store, NOUN_CONSTRAINT, rows, n, why);
        outcome = store_end(context->store, outcome, why);
    }
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new(), *ids = json_array();
        note_answer(out, "%zu constraints are in for site %s%s.", n, site.code, data.n_refused > 0 ? "; some features were refused" : "");
        json_t *table = section_table(note_section(out, "Features"));
        table_column(table, "feature", "feature", "", -1);
        table_column(table, "kind", "kind", "", -1);
        table_column(table, "label", "label", "", -1);
        table_column(table, "said", "said", "", -1);
        for (size_t i = 0, at = 0; i < data.n; i++) {
            const struct map_feature *feature = &data.features[i];
            if (wanted != 0 && feature->number != wanted)
                continue;
            json_t *row = table_row(table);
            row_integer(row, feature->number);
            if (feature->refused) {
                row_text(row, "refused");
                row_text(row, NULL);
                row_print(row, "%s %s", feature->refusal.sentence, feature->refusal.remedy);
                continue;
            }
            row_text(row, word_of(WORDS_CONSTRAINT_KIND, (int)rows[at].kind));
            row_text(row, rows[at].label);
            row_text(row, feature->n_said > 0 ? feature->said[0] : "as it came");
            json_array_append_new(ids, json_integer(rows[at++].id));
        }
        for (size_t i = 0; i < n; i++)
            if (rows[i].checked_on == DATE_UNKNOWN)
                note_unknown(out, "%s: position not checked on the ground.",
                             rows[i].label == NULL ? word_of(WORDS_CONSTRAINT_KIND, (int)rows[i].kind) : rows[i].label);
        outline_said(out, &data, NULL);
        json_object_set_new(note_data(out), "ids", ids);
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_constraint = {
    .name = "constraint",
    .summary = "add what planting must keep away from",
    .about = "Brings in buried services, existing trees, buildings, paths, water and other things on or near a site. Kind, label and "
             "figures come "
             "from the options, else from attributes of the same name in the file.",
    .example = "spinney constraint wood.gpkg trees.geojson --site LK --kind existing_tree --stem-diameter-m 0.8",
    .access = JOB_WRITES,
    .options = constraint_options,
    .n_options = sizeof constraint_options / sizeof *constraint_options,
    .bare = constraint_bare,
    .run = constraint_run,
};

static const struct option plot_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (the only one if not given)"},
    {"code", OPTION_TEXT, true, "CODE", "code such as D1, unique on its site"},
    {"regime", OPTION_TEXT, false, "WORD",
     "dense_prepared, conventional, sparse_prepared, dense_unprepared, unplanted or other_regime; not with --redraw"},
    {"redraw", OPTION_FLAG, false, NULL, "the plot is there: give it this outline; plans made for the old one stay beside new ones"},
    {"reason", OPTION_TEXT, false, "TEXT", "why it is redrawn; kept with the plot"},
    OUTLINE_OPTIONS,
    {"density", OPTION_NUMBER, false, "PER_M2", "plants per square metre (3 where dense, 1 where not)"},
    {"community", OPTION_TEXT, false, "ID", "reference community of the mix"},
    {"preparation", OPTION_INTEGER, false, "ID", "preparation row"},
    {"note", OPTION_TEXT, false, "TEXT", "anything else"},
};
static const char *const plot_bare[] = {"code", "map", NULL};

double regime_density_m2(enum regime regime)
{
    switch (regime) {
    case REGIME_DENSE_PREPARED:
    case REGIME_DENSE_UNPREPARED:
        return 3;
    case REGIME_CONVENTIONAL:
    case REGIME_SPARSE_PREPARED:
        return 1;
    case REGIME_UNPLANTED:
        return 0;
    default:
        return unknown_real();
    }
}

static enum outcome plot_within(const struct site *site, const struct shape *outline, struct arena *arena, double *outside_m2,
                                struct failure *why)
{
    struct shape boundary, rest;
    *outside_m2 = 0;
    enum outcome outcome = load_shape(site->wkb, arena, &boundary, why);
    if (outcome != OUTCOME_OK || boundary.kind == SHAPE_NONE)
        return outcome;
    outcome = shape_subtract(outline, &boundary, arena, &rest, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    *outside_m2 = shape_area_m2(&rest);
    if (*outside_m2 > 0.5 * shape_area_m2(outline)) {
        fail(why, OUTCOME_DATA, "More than half of the plot lies outside site %s.", site->code);
        return failure_remedy(why, "Check the reference system (--from-crs) and the site.");
    }
    return OUTCOME_OK;
}

/* A new plot of the options, or with --redraw the one that is there; nothing is stored yet. */
static enum outcome plot_fill(const struct job_context *context, const json_t *in, struct site *site, struct arena *arena,
                              struct plot *plot, struct failure *why)
{
    noun_init(NOUN_PLOT, plot);
    if (option_flag(in, "redraw")) {
        const char *reason = option_text(in, "reason", NULL), *code = option_text(in, "code", NULL);
        if (text_blank(reason))
            return fail(why, OUTCOME_USAGE, "Say with --reason why the plot is redrawn.");
        enum outcome outcome = load_plot(context->store, arena_print(arena, "%s/%s", site->code, code), arena, plot, site, why);
        char day[16];
        if (outcome == OUTCOME_OK && plot->planted_on != DATE_UNKNOWN) {
            fail(why, OUTCOME_DATA, "Plot %s/%s is planted: its plants stand where they stand.", site->code, plot->code);
            return failure_remedy(why, "Draw a plot anew before it is planted.");
        }
        if (outcome != OUTCOME_OK)
            return outcome;
        date_write(context->today, day);
        plot->note =
            arena_print(arena, "%s%sredrawn %s: %s", plot->note == NULL ? "" : plot->note, plot->note == NULL ? "" : "; ", day, reason);
        return OUTCOME_OK;
    }
    if (option_text(in, "regime", NULL) == NULL)
        return fail(why, OUTCOME_USAGE, "Say which recipe the plot gets: --regime.");
    enum outcome outcome = field_read(noun_field(NOUN_PLOT, "regime"), plot, option_text(in, "regime", NULL), arena, why);
    plot->site_id = site->id;
    plot->code = option_text(in, "code", NULL);
    plot->density_m2 = option_number(in, "density", regime_density_m2(plot->regime));
    plot->community = option_text(in, "community", NULL);
    plot->preparation_id = option_integer(in, "preparation", 0);
    plot->note = option_text(in, "note", NULL);
    return outcome;
}

static enum outcome plot_store(const struct job_context *context, struct plot *plot, bool redrawn, const char *what, struct failure *why)
{
    if (!redrawn)
        return outline_add(context, NOUN_PLOT, plot, what, why);
    enum outcome outcome = store_begin(context->store, context->author, what, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    return store_end(context->store, store_change(context->store, NOUN_PLOT, plot, why), why);
}

static enum outcome plot_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct programme programme;
    struct site site;
    struct shape boundary = {0};
    struct plot plot;
    struct map_data data = {0};
    const struct map_feature *one = NULL;
    double outside_m2 = 0;
    bool redrawn = option_flag(in, "redraw");
    enum outcome outcome = load_programme(context->store, &arena, &programme, why);
    if (outcome == OUTCOME_OK)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = load_shape(site.wkb, &arena, &boundary, why);
    if (outcome == OUTCOME_OK)
        outcome = outline_read(context, in, crs_code(&programme, &arena), MAP_BOUNDARY, boundary.kind == SHAPE_NONE ? NULL : &boundary,
                               &arena, &data, why);
    if (outcome == OUTCOME_OK)
        outcome = outline_one(&data, in, &one, why);
    if (outcome == OUTCOME_OK)
        outcome = plot_within(&site, &one->shape, &arena, &outside_m2, why);
    if (outcome == OUTCOME_OK)
        outcome = plot_fill(context, in, &site, &arena, &plot, why);
    if (outcome == OUTCOME_OK) {
        plot.wkb = shape_to_wkb(&one->shape, &arena);
        outcome =
            plot_store(context, &plot, redrawn, arena_print(&arena, "plot %s/%s%s", site.code, plot.code, redrawn ? " redrawn" : ""), why);
    }
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        note_answer(out, "Plot %s/%s is %s: %.1f m², %s.", site.code, plot.code, redrawn ? "redrawn" : "in", shape_area_m2(&one->shape),
                    word_of(WORDS_REGIME, (int)plot.regime));
        if (redrawn)
            note_unknown(out, "Plans of %s/%s made before are of the old outline: make mix and layout anew; both versions stay.", site.code,
                         plot.code);
        if (outside_m2 > 0.5)
            note_unknown(out, "%.1f m² of the plot lie outside the site's boundary: nobody has said that this ground may be planted.",
                         outside_m2);
        outline_said(out, &data, one);
        json_object_set_new(note_data(out), "id", json_integer(plot.id));
        json_object_set_new(note_data(out), "area_m2", json_real(shape_area_m2(&one->shape)));
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_plot = {
    .name = "plot",
    .summary = "add a plot with its outline",
    .about = "Adds a plot from a map file or pasted text, or with --redraw gives one that is not planted yet another outline. To make a "
             "dense plot and its comparison plot from one site by lot, use split.",
    .example = "spinney plot wood.gpkg D1 --site LK --regime dense_prepared --wkt 'POLYGON((…))'",
    .access = JOB_WRITES,
    .options = plot_options,
    .n_options = sizeof plot_options / sizeof *plot_options,
    .bare = plot_bare,
    .run = plot_run,
};
