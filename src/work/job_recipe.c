/* SPDX-License-Identifier: GPL-3.0-or-later
 * recipe: what a site did, written down for other teams. adopt: follow such a recipe on a site of one's own. fidelity: what was kept. */
#include "exchange/recipe.h"
#include "work/jobs.h"
#include "work/load.h"
#include "work/package_files.h"
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

static const struct option recipe_options[] = {
    {"to", OPTION_FILE_OUT, true, "FOLDER", "folder to make, or a file that ends in .zip; nothing may be there"},
    {"site", OPTION_TEXT, false, "CODE", "from the dense plots of this site (all sites if not given)"},
    {"name", OPTION_TEXT, true, "TEXT", "what the recipe is called"},
    {"version", OPTION_TEXT, false, "TEXT", "its version (1.0 if not given)"},
    {"words", OPTION_TEXT, false, "TEXT", "what it is for and where it was tried"},
};
static const char *const recipe_bare[] = {"to", NULL};

static const char *class_plain(const struct recipe_step *step)
{
    return word_of(WORDS_STEP_CLASS, (int)step->class);
}

static const char *limits_words(const struct recipe_step *step, struct arena *arena)
{
    char low[64] = "", high[64] = "";
    if (is_known(step->least))
        number_fixed(step->least, step->least == (double)(int64_t)step->least ? 0 : 2, low);
    if (is_known(step->most))
        number_fixed(step->most, step->most == (double)(int64_t)step->most ? 0 : 2, high);
    const char *unit = step->unit == NULL ? "" : step->unit;
    if (*low != '\0' && *high != '\0')
        return arena_print(arena, "%s to %s %s", low, high, unit);
    return *low != '\0'    ? arena_print(arena, "at least %s %s", low, unit)
           : *high != '\0' ? arena_print(arena, "at most %s %s", high, unit)
                           : "as it says";
}

static void steps_section(json_t *out, const struct recipe_pack *pack, struct arena *arena)
{
    json_t *table = section_table(note_section(out, "Steps"));
    table_column(table, "number", "no.", "", 0);
    table_column(table, "class", "class", "", -1);
    table_column(table, "words", "step", "", -1);
    table_column(table, "figure", "figure", "", 2);
    table_column(table, "limits", "kept within", "", -1);
    for (size_t i = 0; i < pack->n_steps; i++) {
        json_t *row = table_row(table);
        row_integer(row, pack->steps[i].number);
        row_text(row, class_plain(&pack->steps[i]));
        row_text(row, pack->steps[i].words);
        row_number(row, pack->steps[i].figure);
        row_text(row, limits_words(&pack->steps[i], arena));
    }
}

/* A sheet with the head of every table a team fills in, ready to be brought in again. */
static void forms_add(struct exchange_files *files, struct arena *arena)
{
    static const enum noun nouns[] = {NOUN_PLANT_RECORD, NOUN_SOIL_SAMPLE, NOUN_WILDLIFE_VISIT, NOUN_WILDLIFE_RECORD,
                                      NOUN_CARE_EVENT,   NOUN_INCIDENT,    NOUN_COST_ITEM,      NOUN_WORK_HOURS};
    for (size_t i = 0; i < sizeof nouns / sizeof *nouns; i++) {
        const struct noun_info *info = &noun_infos[nouns[i]];
        struct text csv = {0};
        for (size_t j = 0; j < info->n_fields; j++)
            if (info->fields[j].kind != FIELD_BYTES)
                csv_add(&csv, info->fields[j].name, j == 0, false);
        text_add(&csv, "\r\n");
        exchange_add(files, arena_print(arena, "forms/%s.csv", info->name), text_get(&csv), csv.n, arena);
        text_free(&csv);
    }
}

static void readme_add(const struct recipe_pack *pack, struct exchange_files *files, struct arena *arena)
{
    static const char *const titles[] = {"", "Core: to be kept", "Adaptable: within these limits, by your ground", "Forbidden shortcuts"};
    struct text out = {0};
    text_print(&out, "# Recipe %s, version %s\n\n%s\n", pack->name, pack->version, pack->words == NULL ? "" : pack->words);
    for (int class = STEP_CLASS_CORE; class < STEP_CLASS_COUNT; class ++) {
        text_print(&out, "\n## %s\n\n", titles[class]);
        for (size_t i = 0; i < pack->n_steps; i++)
            if ((int)pack->steps[i].class == class)
                text_print(&out, "%lld. %s (%s)\n", (long long)pack->steps[i].number, pack->steps[i].words,
                           limits_words(&pack->steps[i], arena));
    }
    text_add(&out, "\n## To be filled in locally\n\n");
    for (size_t i = 0; i < pack->n_rules; i++)
        text_print(&out, "- %s (`%s`)%s%s: ______ who said so, and when: ______\n",
                   pack->rules[i].words == NULL ? "" : pack->rules[i].words, pack->rules[i].topic,
                   pack->rules[i].unit == NULL ? "" : " in ", pack->rules[i].unit == NULL ? "" : pack->rules[i].unit);
    text_add(&out, "\n## What it cost there\n\nPrices of another place and year, without tax: a start, not an estimate.\n\n");
    for (size_t i = 0; i < pack->n_costs; i++) {
        char price[64] = "";
        number_fixed(pack->costs[i].unit_price, 2, price);
        text_print(&out, "- %s: %s %s per %s\n", pack->costs[i].item, price, pack->costs[i].currency == NULL ? "" : pack->costs[i].currency,
                   pack->costs[i].unit == NULL ? "unit" : pack->costs[i].unit);
    }
    text_add(&out, "\n## Before anybody digs\n\nLocal codes, the answers of the owners of services, licensed people and your own look at "
                   "the ground come "
                   "before anything written here. A recipe that worked on one ground says little about another: plant a comparison plot.\n"
                   "\n`recipe.json` is the same for the program; `forms/` holds the heads of the tables to fill in.\n");
    exchange_add(files, "README.md", text_get(&out), out.n, arena);
    text_free(&out);
}

static enum outcome recipe_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct exchange_set set = {0};
    struct recipe_pack pack;
    struct exchange_files files = {0};
    struct site site = {0};
    const char *code = option_text(in, "site", NULL), *to = option_text(in, "to", "");
    enum outcome outcome = rows_load(context->store, &arena, &set, why);
    if (outcome == OUTCOME_OK && code != NULL)
        outcome = load_site(context->store, code, &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = recipe_write(&set, site.id, option_text(in, "name", ""), option_text(in, "version", "1.0"),
                               option_text(in, "words", NULL), context->today, &arena, &pack, why);
    if (outcome == OUTCOME_OK) {
        const char *text = recipe_text(&pack, &arena);
        exchange_add(&files, "recipe.json", text, strlen(text), &arena);
        readme_add(&pack, &files, &arena);
        forms_add(&files, &arena);
        outcome = package_write(to, &files, context->today, why);
    }
    if (outcome == OUTCOME_OK) {
        json_t *out = *note = note_new();
        note_answer(out, "The recipe \"%s\" has %zu steps, %zu rules to be filled in locally and %zu unit prices.", pack.name, pack.n_steps,
                    pack.n_rules, pack.n_costs);
        steps_section(out, &pack, &arena);
        note_caution(out, "C33", "Law, ground and climate differ from place to place: a recipe is a prompt, not leave to dig or plant.",
                     "Local codes and licensed people where it is followed.");
        note_unknown(out, "What nobody recorded on the plots is not a step of the recipe.");
        note_source(out, "Limits of a tenth (core) and a third (adaptable) to either side: common practice, no source");
        note_written(out, "recipe", to);
        json_object_set_new(note_data(out), "steps", json_integer((json_int_t)pack.n_steps));
        json_object_set_new(note_data(out), "rules", json_integer((json_int_t)pack.n_rules));
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_recipe = {
    .name = "recipe",
    .summary = "write down what was done, for other teams to follow",
    .about = "Writes a recipe pack from the dense plots: core steps, adaptable steps with their limits, forbidden shortcuts, rules to be "
             "filled in "
             "locally, unit prices, the rules of judging and the heads of the forms.",
    .example = "spinney recipe wood.gpkg --to recipe.zip --name 'Small dense wood' --site GL",
    .access = JOB_LOOKS,
    .options = recipe_options,
    .n_options = sizeof recipe_options / sizeof *recipe_options,
    .bare = recipe_bare,
    .run = recipe_run,
};

/* ---- adopt -------------------------------------------------------------------------------------------------------- */

static const struct option adopt_options[] = {
    {"from", OPTION_FILE_IN, true, "PACK", "recipe.json, or the zip or folder that holds it"},
    {"site", OPTION_TEXT, true, "CODE", "site on which it is followed"},
};
static const char *const adopt_bare[] = {"from", "site", NULL};

static enum outcome pack_bytes(const struct job_context *context, const char *path, struct arena *arena, struct bytes *out,
                               struct failure *why)
{
    struct exchange_files files = {0};
    struct bytes upload = {.at = (const unsigned char *)context->upload, .n = context->upload == NULL ? 0 : context->upload_n};
    bool zip = upload.n > 2 ? memcmp(upload.at, "PK", 2) == 0 : strstr(path, ".json") == NULL;
    if (!zip)
        return input_bytes(context, path, 16 << 20, arena, out, why);
    enum outcome outcome = package_load_one(path, upload, "recipe.json", arena, &files, why);
    if (outcome == OUTCOME_OK && files.n == 0) {
        fail(why, OUTCOME_DATA, "There is no recipe.json in it.");
        outcome = failure_remedy(why, "Give a pack that recipe wrote.");
    }
    if (outcome == OUTCOME_OK)
        *out = files.file[0].bytes;
    return outcome;
}

static enum outcome rules_take(struct store *store, const struct recipe_pack *pack, const struct site *site, const char *author,
                               int32_t today, struct arena *arena, size_t *missing, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(store, NOUN_LOCAL_RULE, arena, &rows, &n, why);
    const struct local_rule *rules = rows;
    *missing = 0;
    for (size_t i = 0; i < pack->n_rules && outcome == OUTCOME_OK; i++) {
        bool known = false;
        for (size_t k = 0; k < n && !known; k++)
            known = text_same(rules[k].topic, pack->rules[i].topic) && (rules[k].site_id == 0 || rules[k].site_id == site->id);
        if (known)
            continue;
        struct local_rule rule;
        noun_init(NOUN_LOCAL_RULE, &rule);
        rule.site_id = site->id;
        rule.topic = pack->rules[i].topic;
        rule.unit = pack->rules[i].unit;
        rule.words = arena_print(arena, "fill in locally: %s", pack->rules[i].words == NULL ? pack->rules[i].topic : pack->rules[i].words);
        rule.said_by = author;
        rule.said_on = today;
        rule.source = arena_print(arena, "asked for by the recipe %s", pack->name);
        outcome = store_add(store, NOUN_LOCAL_RULE, &rule, 1, why);
        ++*missing;
    }
    return outcome;
}

static enum outcome adopt_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct bytes bytes = {0};
    struct recipe_pack pack = {0};
    struct recipe recipe;
    struct site site;
    size_t missing = 0;
    char hash[crypto_hash_sha256_BYTES * 2 + 1];
    unsigned char raw[crypto_hash_sha256_BYTES];
    bool begun = false;
    enum outcome outcome = pack_bytes(context, option_text(in, "from", ""), &arena, &bytes, why);
    if (outcome == OUTCOME_OK)
        outcome = recipe_read((const char *)bytes.at, bytes.n, &arena, &pack, why);
    if (outcome == OUTCOME_OK)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK) {
        outcome =
            store_begin(context->store, context->author, arena_print(&arena, "recipe %s taken over for %s", pack.name, site.code), why);
        begun = outcome == OUTCOME_OK;
    }
    if (outcome == OUTCOME_OK) {
        crypto_hash_sha256(raw, bytes.at, bytes.n);
        sodium_bin2hex(hash, sizeof hash, raw, sizeof raw);
        noun_init(NOUN_RECIPE, &recipe);
        recipe.site_id = site.id;
        recipe.name = pack.name;
        recipe.version = pack.version;
        recipe.made_on = pack.made_on;
        recipe.taken_on = context->today;
        recipe.sha256 = hash;
        recipe.words = pack.words;
        outcome = store_add(context->store, NOUN_RECIPE, &recipe, 1, why);
    }
    for (size_t i = 0; i < pack.n_steps && outcome == OUTCOME_OK; i++)
        pack.steps[i].recipe_id = recipe.id;
    if (outcome == OUTCOME_OK)
        outcome = store_add(context->store, NOUN_RECIPE_STEP, pack.steps, pack.n_steps, why);
    if (outcome == OUTCOME_OK)
        outcome = rules_take(context->store, &pack, &site, context->author, context->today, &arena, &missing, why);
    if (begun)
        outcome = store_end(context->store, outcome, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = *note = note_new();
        note_answer(out, "The recipe \"%s\" (version %s) is followed on %s; %zu rules are to be filled in locally.", pack.name,
                    pack.version, site.code, missing);
        steps_section(out, &pack, &arena);
        json_t *table = section_table(note_section(out, "Fill in locally"));
        table_column(table, "topic", "key", "", -1);
        table_column(table, "words", "what", "", -1);
        table_column(table, "value", "here", "", -1);
        for (size_t i = 0; i < pack.n_rules; i++) {
            json_t *row = table_row(table);
            row_text(row, pack.rules[i].topic);
            row_text(row, pack.rules[i].words);
            row_text(row, "fill in locally");
        }
        note_caution(out, "C33", "Law, ground and climate differ from place to place: a recipe is a prompt, not leave to dig or plant.",
                     "Local codes and licensed people.");
        json_object_set_new(note_data(out), "recipe", json_integer(recipe.id));
        json_object_set_new(note_data(out), "missing", json_integer((json_int_t)missing));
        json_object_set_new(out, "step", json_integer(store_last_step(context->store)));
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_adopt = {
    .name = "adopt",
    .summary = "follow another team's recipe on a site",
    .about =
        "Takes a recipe pack over for a site: its steps, and its local rules as places to be filled in. fidelity then holds what is done "
        "against it.",
    .example = "spinney adopt wood.gpkg recipe.zip LK",
    .access = JOB_WRITES,
    .options = adopt_options,
    .n_options = sizeof adopt_options / sizeof *adopt_options,
    .bare = adopt_bare,
    .run = adopt_run,
};

/* ---- fidelity ----------------------------------------------------------------------------------------------------- */

static const struct option fidelity_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "site that follows a recipe (the only one if not given)"},
    {"number", OPTION_INTEGER, false, "N", "put a deviation from this step on record"},
    {"plot", OPTION_TEXT, false, "CODE", "on this plot (the site if not given)"},
    {"words", OPTION_TEXT, false, "TEXT", "what was done instead"},
    {"reason", OPTION_TEXT, false, "TEXT", "why"},
    {"approved_by", OPTION_TEXT, false, "CODE", "who approved it"},
    {"on", OPTION_DATE, false, "DAY", "day it was noticed (today if not given)"},
};
static const char *const fidelity_bare[] = {"site", NULL};

static enum outcome recipe_of(const struct exchange_set *set, const struct site *site, const struct recipe **out, struct failure *why)
{
    const struct recipe *rows = set->of[NOUN_RECIPE].rows;
    *out = NULL;
    for (size_t i = 0; i < set->of[NOUN_RECIPE].n; i++)
        if (rows[i].site_id == site->id)
            *out = &rows[i]; /* the last taken over */
    if (*out != NULL)
        return OUTCOME_OK;
    fail(why, OUTCOME_DATA, "%s follows no recipe.", site->code);
    return failure_remedy(why, "Take one over with: spinney adopt FILE PACK %s", site->code);
}

static enum outcome deviation_add(const struct job_context *context, const json_t *in, const struct exchange_set *set,
                                  const struct recipe *recipe, struct arena *arena, struct failure *why)
{
    const struct recipe_step *steps = set->of[NOUN_RECIPE_STEP].rows;
    struct deviation row;
    struct plot plot = {0};
    struct site site;
    noun_init(NOUN_DEVIATION, &row);
    for (size_t i = 0; i < set->of[NOUN_RECIPE_STEP].n; i++)
        if (steps[i].recipe_id == recipe->id && steps[i].number == option_integer(in, "number", 0))
            row.recipe_step_id = steps[i].id;
    if (row.recipe_step_id == 0)
        return fail(why, OUTCOME_USAGE, "The recipe has no step %lld.", (long long)option_integer(in, "number", 0));
    if (option_text(in, "words", NULL) == NULL)
        return fail(why, OUTCOME_USAGE, "Say with --words what was done instead.");
    enum outcome outcome = option_text(in, "plot", NULL) == NULL
                               ? OUTCOME_OK
                               : load_plot(context->store, option_text(in, "plot", NULL), arena, &plot, &site, why);
    row.plot_id = plot.id;
    row.noticed_on = option_date(in, "on", context->today);
    row.words = option_text(in, "words", "");
    row.reason = option_text(in, "reason", NULL);
    row.approved_by = option_text(in, "approved_by", NULL);
    if (outcome == OUTCOME_OK)
        outcome = store_begin(context->store, context->author, "deviation from the recipe", why);
    if (outcome != OUTCOME_OK)
        return outcome;
    return store_end(context->store, store_add(context->store, NOUN_DEVIATION, &row, 1, why), why);
}

static void fidelity_note(json_t *out, const struct exchange_set *set, const struct recipe *recipe, const struct fidelity_row *rows,
                          size_t n, struct arena *arena)
{
    static const char *const states[] = {"not known", "kept", "deviated"};
    size_t count[3] = {0}, core_deviated = 0, unlogged = 0;
    json_t *table = section_table(note_section(out, "Step by step"));
    static const char *const columns[][2] = {
        {"number", "no."},         {"class", "class"}, {"words", "step"},  {"plot", "where"},
        {"limits", "kept within"}, {"found", "found"}, {"state", "state"}, {"deviation", "deviation on record"}};
    for (size_t i = 0; i < sizeof columns / sizeof *columns; i++)
        table_column(table, columns[i][0], columns[i][1], "", i == 0 ? 0 : -1);
    for (size_t i = 0; i < n; i++) {
        size_t at = rows[i].plot == 0 ? SIZE_MAX : exchange_row(set, NOUN_PLOT, rows[i].plot);
        json_t *row = table_row(table);
        row_integer(row, rows[i].step->number);
        row_text(row, class_plain(rows[i].step));
        row_text(row, rows[i].step->words);
        row_text(row, at == SIZE_MAX ? "site" : ((const struct plot *)set->of[NOUN_PLOT].rows)[at].code);
        row_text(row, limits_words(rows[i].step, arena));
        row_text(row, rows[i].words);
        row_text(row, states[rows[i].state]);
        row_text(row, rows[i].logged == NULL
                          ? "–"
                          : arena_print(arena, "%s%s%s", rows[i].logged->words, rows[i].logged->reason == NULL ? "" : ": ",
                                        rows[i].logged->reason == NULL ? "" : rows[i].logged->reason));
        count[rows[i].state]++;
        core_deviated += rows[i].step->class == STEP_CLASS_CORE && rows[i].state == FIDELITY_DEVIATED;
        unlogged += rows[i].state == FIDELITY_DEVIATED && rows[i].logged == NULL;
    }
    note_answer(out, "Of the recipe \"%s\" (version %s): %zu steps kept, %zu deviated (%zu of them core), %zu not known.", recipe->name,
                recipe->version, count[FIDELITY_KEPT], count[FIDELITY_DEVIATED], core_deviated, count[FIDELITY_NOT_KNOWN]);
    if (unlogged > 0)
        note_unknown(out, "%zu deviations have no reason on record.", unlogged);
    if (count[FIDELITY_NOT_KNOWN] > 0)
        note_unknown(out, "%zu steps cannot be told from the records; they are not taken for kept.", count[FIDELITY_NOT_KNOWN]);
    json_object_set_new(note_data(out), "kept", json_integer((json_int_t)count[FIDELITY_KEPT]));
    json_object_set_new(note_data(out), "deviated", json_integer((json_int_t)count[FIDELITY_DEVIATED]));
    json_object_set_new(note_data(out), "not_known", json_integer((json_int_t)count[FIDELITY_NOT_KNOWN]));
    json_object_set_new(note_data(out), "core_deviated", json_integer((json_int_t)core_deviated));
}

static enum outcome fidelity_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct exchange_set set = {0};
    struct site site;
    const struct recipe *recipe = NULL;
    struct fidelity_row *rows = NULL;
    size_t n = 0;
    bool logs = option_integer(in, "number", 0) > 0;
    enum outcome outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = rows_load(context->store, &arena, &set, why);
    if (outcome == OUTCOME_OK)
        outcome = recipe_of(&set, &site, &recipe, why);
    if (outcome == OUTCOME_OK && logs) {
        outcome = deviation_add(context, in, &set, recipe, &arena, why);
        if (outcome == OUTCOME_OK)
            outcome = rows_load(context->store, &arena, &set, why);
        if (outcome == OUTCOME_OK)
            outcome = recipe_of(&set, &site, &recipe, why);
    }
    if (outcome == OUTCOME_OK)
        outcome = recipe_hold(&set, recipe->id, &arena, &rows, &n, why);
    if (outcome == OUTCOME_OK) {
        *note = note_new();
        fidelity_note(*note, &set, recipe, rows, n, &arena);
        if (logs)
            json_object_set_new(*note, "step", json_integer(store_last_step(context->store)));
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_fidelity = {
    .name = "fidelity",
    .summary = "what of the recipe was kept, and where it was left",
    .about = "Holds every step of the recipe a site follows against what stands in the records: kept, deviated or not known. With --number "
             "it puts a "
             "deviation on record, with its reason.",
    .example = "spinney fidelity wood.gpkg LK --number 7 --words 'mulch 5 cm' --reason 'delivery short'",
    .access = JOB_WRITES,
    .options = fidelity_options,
    .n_options = sizeof fidelity_options / sizeof *fidelity_options,
    .bare = fidelity_bare,
    .run = fidelity_run,
};
