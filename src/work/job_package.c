/* SPDX-License-Identifier: GPL-3.0-or-later
 * package: the whole programme in open formats, for people who have no spinney. unpack: a programme from such a package. */
#include "work/jobs.h"
#include "work/load.h"
#include "work/package_files.h"
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const struct option package_options[] = {
    {"to", OPTION_FILE_OUT, true, "FOLDER", "folder to make, or a file that ends in .zip; nothing may be there"},
    {"licence", OPTION_TEXT, false, "CODE", "licence of the data, such as CC0-1.0, CC-BY-4.0 (if not given) or ODbL-1.0"},
    {"title", OPTION_TEXT, false, "TEXT", "title of the data set"},
    {"credit", OPTION_TEXT, false, "TEXT", "whom to credit: an organisation or a role"},
    {"keep_names", OPTION_FLAG, false, NULL, "leave free text, organisations and people's codes as recorded"},
    {"true_places", OPTION_FLAG, false, NULL, "leave places as they are, those of sensitive wildlife too"},
    {"square_m", OPTION_NUMBER, false, "M", "sites are moved to the middle of a square of this side (1000 if not given)"},
};
static const char *const package_bare[] = {"to", NULL};

static enum outcome terms_read(const struct job_context *context, const json_t *in, struct exchange_terms *terms, struct failure *why)
{
    *terms = (struct exchange_terms){.licence = option_text(in, "licence", "CC-BY-4.0"),
                                     .title = option_text(in, "title", NULL),
                                     .contributor = option_text(in, "credit", NULL),
                                     .version = SPINNEY_VERSION,
                                     .keep_names = option_flag(in, "keep_names"),
                                     .keep_places = option_flag(in, "true_places"),
                                     .square_m = option_number(in, "square_m", 1000),
                                     .made_on = context->today};
    if (!(terms->square_m >= 100 && terms->square_m <= 100000)) {
        fail(why, OUTCOME_USAGE, "The square must be 100 to 100,000 m wide.");
        return failure_remedy(why, "Leave square_m out for 1,000 m.");
    }
    return OUTCOME_OK;
}

/* The rows as a GeoPackage of their own, as bytes. */
static enum outcome geopackage_add(const struct exchange_set *set, struct arena *arena, struct exchange_files *files, struct failure *why)
{
    char folder[] = "/tmp/spinney-XXXXXX", path[64];
    char *bytes = NULL;
    size_t n = 0;
    if (mkdtemp(folder) == NULL)
        return fail(why, OUTCOME_SYSTEM, "There is no room for a temporary file.");
    snprintf(path, sizeof path, "%s/programme.gpkg", folder);
    enum outcome outcome = rows_store(path, set, "package", "rows of a data package", why);
    if (outcome == OUTCOME_OK)
        outcome = file_read(path, 0, arena, &bytes, &n, why);
    if (outcome == OUTCOME_OK)
        exchange_add(files, "programme.gpkg", bytes, n, arena);
    unlink(path);
    rmdir(folder);
    return outcome;
}

static enum outcome package_build(const struct exchange_set *whole, const struct exchange_terms *terms, struct arena *arena,
                                  struct exchange_files *files, struct exchange_withheld *held, struct failure *why)
{
    struct exchange_set set;
    enum outcome outcome = exchange_withhold(whole, terms, arena, &set, held, why);
    if (outcome == OUTCOME_OK)
        outcome = exchange_package(&set, terms, arena, files, why);
    if (outcome == OUTCOME_OK)
        outcome = exchange_places(&set, arena, files, why);
    if (outcome == OUTCOME_OK)
        outcome = exchange_darwin_core(&set, whole, terms, arena, files, why);
    if (outcome == OUTCOME_OK) {
        struct bytes zip = {0};
        outcome = package_zip(files, "darwin_core/", terms->made_on, arena, &zip, why);
        if (outcome == OUTCOME_OK)
            exchange_add(files, "darwin_core.zip", zip.at, zip.n, arena);
    }
    if (outcome == OUTCOME_OK)
        outcome = geopackage_add(&set, arena, files, why);
    if (outcome == OUTCOME_OK)
        exchange_words(&set, terms, held, arena, files);
    return outcome;
}

static void package_note(json_t *out, const struct exchange_set *whole, const struct exchange_terms *terms,
                         const struct exchange_files *files, const struct exchange_withheld *held, const char *to)
{
    size_t rows = 0, fields = 0;
    json_t *table = section_table(note_section(out, "Tables"));
    table_column(table, "noun", "table", "", -1);
    table_column(table, "rows", "rows", "", 0);
    table_column(table, "withheld", "values withheld", "", 0);
    for (int noun = 0; noun < NOUN_COUNT; noun++) {
        rows += whole->of[noun].n;
        fields += held->fields[noun];
        if (whole->of[noun].n == 0)
            continue;
        json_t *row = table_row(table);
        row_text(row, noun_infos[noun].name);
        row_integer(row, (int64_t)whole->of[noun].n);
        row_integer(row, (int64_t)held->fields[noun]);
    }
    table = section_table(note_section(out, "Files"));
    table_column(table, "path", "file", "", -1);
    table_column(table, "bytes", "size", "bytes", 0);
    for (size_t i = 0; i < files->n; i++) {
        json_t *row = table_row(table);
        row_text(row, files->file[i].path);
        row_integer(row, (int64_t)files->file[i].bytes.n);
    }
    note_answer(out, "%zu rows are packed in %zu files under %s; %s; %s.", rows, files->n, terms->licence,
                terms->keep_names ? "names and free text stand as recorded"
                                  : "names, organisations and free text are withheld and people coded anew",
                terms->keep_places ? "places are true" : "sites are moved to the middle of their square");
    if (terms->keep_names)
        note_caution(out, "C27",
                     "Names and free text leave with this package: collect least, ask, and show how to be removed. No child's name, ever.",
                     "Data-protection law of your country; the safeguarding lead.");
    if (terms->keep_places)
        note_caution(out, "C28", "True places leave with this package, those of sensitive wildlife too.", "The record centre's policy.");
    else
        note_unknown(out, "Whether someone who knows the town recognises a site by its outline cannot be told from here.");
    note_source(out, "Frictionless Data Package and Table Schema, version 2 (datapackage.org)");
    note_source(out, "Darwin Core text guide (TDWG 2009), Humboldt Extension (TDWG 2024), EML 2.2.0");
    json_object_set_new(note_data(out), "rows", json_integer((json_int_t)rows));
    json_object_set_new(note_data(out), "withheld", json_integer((json_int_t)fields));
    json_object_set_new(note_data(out), "coded", json_integer((json_int_t)held->coded));
    json_object_set_new(note_data(out), "sensitive", json_integer((json_int_t)held->sensitive));
    note_written(out, "package", to);
}

static enum outcome package_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct exchange_set whole = {0};
    struct exchange_terms terms;
    struct exchange_files files = {0};
    struct exchange_withheld held = {0};
    const char *to = option_text(in, "to", "");
    enum outcome outcome = terms_read(context, in, &terms, why);
    if (outcome == OUTCOME_OK)
        outcome = rows_load(context->store, &arena, &whole, why);
    if (outcome == OUTCOME_OK)
        outcome = package_build(&whole, &terms, &arena, &files, &held, why);
    if (outcome == OUTCOME_OK)
        outcome = package_write(to, &files, terms.made_on, why);
    if (outcome == OUTCOME_OK) {
        *note = note_new();
        package_note(*note, &whole, &terms, &files, &held, to);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_package = {
    .name = "package",
    .summary = "the data in open formats, for people who have no spinney",
    .about =
        "Writes a folder or a zip that opens without spinney: every table as CSV with its schema (Data Package), a Darwin Core Archive "
        "with "
        "its metadata, shapes for a map, a GeoPackage, licence, dictionary, rules of judging, known errors and checksums. By default names "
        "and free text are withheld, people coded anew, sites moved to the middle of their square and sensitive wildlife blurred.",
    .example = "spinney package wood.gpkg --to wood-data.zip --licence CC-BY-4.0",
    .access = JOB_LOOKS,
    .options = package_options,
    .n_options = sizeof package_options / sizeof *package_options,
    .bare = package_bare,
    .run = package_run,
};

static const struct option unpack_options[] = {
    {"from", OPTION_FILE_IN, true, "PACKAGE", "folder or zip with datapackage.json"},
    {"file", OPTION_TEXT, true, "FILE", "programme file to make; nothing may be there"},
};
static const char *const unpack_bare[] = {"from", "file", NULL};

static enum outcome unpack_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct exchange_files files = {0};
    struct exchange_set set = {0};
    struct bytes upload = {.at = (const unsigned char *)context->upload, .n = context->upload == NULL ? 0 : context->upload_n};
    enum outcome outcome = package_load(option_text(in, "from", ""), upload, &arena, &files, why);
    if (outcome == OUTCOME_OK)
        outcome = exchange_read(files.file, files.n, &arena, &set, why);
    if (outcome == OUTCOME_OK)
        outcome = rows_store(option_text(in, "file", ""), &set, context->author, "taken from a data package", why);
    if (outcome == OUTCOME_OK) {
        json_t *out = *note = note_new(), *table = section_table(note_section(out, "Tables"));
        size_t rows = 0;
        table_column(table, "noun", "table", "", -1);
        table_column(table, "rows", "rows", "", 0);
        for (int noun = 0; noun < NOUN_COUNT; noun++) {
            if (set.of[noun].n == 0)
                continue;
            json_t *row = table_row(table);
            row_text(row, noun_infos[noun].name);
            row_integer(row, (int64_t)set.of[noun].n);
            rows += set.of[noun].n;
        }
        note_answer(out, "A programme of %zu rows is made from the package; every row kept its identity.", rows);
        note_unknown(out,
                     "What was withheld when the package was made stays unknown; files that were brought in are not part of a package.");
        note_written(out, "programme", option_text(in, "file", ""));
        json_object_set_new(note_data(out), "rows", json_integer((json_int_t)rows));
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_unpack = {
    .name = "unpack",
    .summary = "a programme from a data package",
    .about =
        "Makes a programme file from a folder or zip that package wrote. Each table is checked against its fingerprint and row by row; "
        "nothing is made where one row is wrong.",
    .example = "spinney unpack wood-data.zip again.gpkg",
    .access = JOB_FREE,
    .options = unpack_options,
    .n_options = sizeof unpack_options / sizeof *unpack_options,
    .bare = unpack_bare,
    .run = unpack_run,
};
