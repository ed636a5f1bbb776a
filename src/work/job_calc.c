/* SPDX-License-Identifier: GPL-3.0-or-later
 * calc: every single computation as a calculator with its working. check: published numbers against them. */
#include "calc/calc.h"
#include "work/jobs.h"
#include "work/note.h"
#include <string.h>

static const struct option calc_options[] = {
    {"name", OPTION_TEXT, false, "NAME", "which calculator; without it, all are listed"},
    {"in", OPTION_TEXT, false, "NAME=VALUE …", "inputs, as name=value, several separated by blanks or ;"},
    {"csv", OPTION_FILE_IN, false, "FILE", "inputs as a CSV file whose columns are inputs"},
    {"about", OPTION_FLAG, false, NULL, "describe the calculator instead of running it"},
};

static const char *const calc_bare[] = {"name", "in", NULL};

static void describe(const struct calc *calc, json_t *note)
{
    note_answer(note, "%s: %s.", calc->name, calc->title);
    for (int side = 0; side < 2; side++) {
        json_t *table = section_table(note_section(note, side == 0 ? "Inputs" : "Outputs"));
        table_column(table, "name", "name", "", -1);
        table_column(table, "unit", "unit", "", -1);
        table_column(table, "needed", side == 0 ? "needed" : "kind", "", -1);
        table_column(table, "about", "what it is", "", -1);
        const struct calc_value *values = side == 0 ? calc->in : calc->out;
        static const char *const kinds[] = {"number", "numbers", "word", "words"};
        for (size_t i = 0; i < (side == 0 ? calc->n_in : calc->n_out); i++) {
            json_t *row = table_row(table);
            row_text(row, values[i].name);
            row_text(row, values[i].unit);
            row_text(row, side == 1 ? kinds[values[i].kind] : values[i].required ? "needed" : "optional");
            row_text(row, values[i].about);
        }
    }
    note_source(note, "%s", calc->source);
}

/* One side of a calculator as JSON: what the page of calculators and the promise about their names are made from. */
static json_t *side_json(const struct calc_value *values, size_t n)
{
    static const char *const kinds[] = {"number", "numbers", "word", "words"};
    json_t *list = json_array();
    for (size_t i = 0; i < n; i++) {
        json_t *one = json_object();
        json_object_set_new(one, "name", json_string(values[i].name));
        json_object_set_new(one, "unit", json_string(values[i].unit));
        json_object_set_new(one, "kind", json_string(kinds[values[i].kind]));
        json_object_set_new(one, "required", json_boolean(values[i].required));
        json_object_set_new(one, "about", json_string(values[i].about));
        json_array_append_new(list, one);
    }
    return list;
}

static void list_all(json_t *note)
{
    size_t n = 0;
    json_t *all = json_array();
    json_object_set_new(note_data(note), "calculators", all);
    json_t *table = section_table(note_section(note, "Calculators"));
    table_column(table, "name", "name", "", -1);
    table_column(table, "title", "what it computes", "", -1);
    table_column(table, "source", "source", "", -1);
    for (size_t i = 0; i < calc_n_rooms; i++)
        for (const struct calc *calc = calc_rooms[i]; calc->name != NULL; calc++, n++) {
            json_t *row = table_row(table);
            row_text(row, calc->name);
            row_text(row, calc->title);
            row_text(row, calc->source);
            json_t *one = json_object();
            json_object_set_new(one, "name", json_string(calc->name));
            json_object_set_new(one, "title", json_string(calc->title));
            json_object_set_new(one, "source", json_string(calc->source));
            json_object_set_new(one, "in", side_json(calc->in, calc->n_in));
            json_object_set_new(one, "out", side_json(calc->out, calc->n_out));
            json_array_append_new(all, one);
        }
    note_answer(note, "%zu calculators. Describe one with: spinney calc NAME --about", n);
}

static enum outcome inputs_from_text(const struct calc *calc, const char *text, json_t *in, struct failure *why)
{
    char *copy = memory_text(text), *rest = NULL;
    enum outcome outcome = OUTCOME_OK;
    for (char *part = strtok_r(copy, ";\n", &rest); part != NULL && outcome == OUTCOME_OK; part = strtok_r(NULL, ";\n", &rest)) {
        while (*part == ' ')
            part++;
        if (*part == '\0')
            continue;
        char *equals = strchr(part, '=');
        if (equals == NULL) {
            fail(why, OUTCOME_USAGE, "\"%.80s\" is not an input.", part);
            outcome = failure_remedy(why, "Write name=value.");
            break;
        }
        *equals = '\0';
        outcome = calc_read(calc, in, part, equals + 1, why);
    }
    free(copy);
    return outcome;
}

static enum outcome inputs_from_csv(const struct job_context *context, const struct calc *calc, const char *path, json_t *in,
                                    struct failure *why)
{
    struct arena arena = {0};
    char *bytes = NULL;
    size_t n = 0;
    struct csv_table table;
    enum outcome outcome = OUTCOME_OK;
    if (context->upload != NULL) {
        bytes = arena_text_n(&arena, context->upload, context->upload_n);
        n = context->upload_n;
    } else {
        outcome = file_read(path, 64 << 20, &arena, &bytes, &n, why);
    }
    if (outcome == OUTCOME_OK)
        outcome = csv_read(path, bytes, n, ',', 0, &arena, &table, why);
    for (size_t j = 0; outcome == OUTCOME_OK && table.rows > 0 && j < table.widths[0]; j++) {
        struct text list = {0};
        for (size_t i = 1; i < table.rows; i++) {
            const char *cell = csv_cell(&table, i, j);
            if (i > 1)
                text_add(&list, ",");
            text_add(&list, text_blank(cell) ? "NA" : cell);
        }
        outcome = calc_read(calc, in, table.cells[0][j], text_get(&list), why);
        text_free(&list);
    }
    arena_clear(&arena);
    return outcome;
}

static void value_row(json_t *table, const char *name, const char *unit, const json_t *value)
{
    json_t *row = table_row(table);
    row_text(row, name);
    if (json_is_array(value)) {
        struct text list = {0};
        for (size_t i = 0; i < json_array_size(value); i++) {
            const json_t *one = json_array_get(value, i);
            char shown[40];
            number_write(json_number_value(one), shown);
            text_print(&list, "%s%s", i > 0 ? ", " : "",
                       json_is_string(one) ? json_string_value(one)
                       : json_is_null(one) ? "unknown"
                                           : shown);
        }
        row_text(row, text_get(&list));
        text_free(&list);
    } else {
        json_array_append(row, (json_t *)(uintptr_t)value);
    }
    row_text(row, unit);
}

static enum outcome calc_job(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    const char *name = option_text(in, "name", NULL);
    json_t *out = note_new(), *inputs = json_object(), *result = NULL;
    enum outcome outcome = OUTCOME_OK;
    const struct calc *calc = name == NULL ? NULL : calc_find(name);
    if (name == NULL) {
        list_all(out);
        goto done;
    }
    if (calc == NULL) {
        fail(why, OUTCOME_USAGE, "There is no calculator called %s.", name);
        outcome = failure_remedy(why, "List them with: spinney calc");
        goto done;
    }
    if (option_flag(in, "about")) {
        describe(calc, out);
        goto done;
    }
    if (option_text(in, "csv", NULL) != NULL)
        outcome = inputs_from_csv(context, calc, option_text(in, "csv", NULL), inputs, why);
    if (outcome == OUTCOME_OK)
        outcome = inputs_from_text(calc, option_text(in, "in", ""), inputs, why);
    if (outcome == OUTCOME_OK)
        outcome = calc_run(calc, inputs, &result, why);
    if (outcome != OUTCOME_OK)
        goto done;
    note_answer(out, "%s.", calc->title);
    json_t *table = section_table(note_section(out, "Result"));
    table_column(table, "name", "what", "", -1);
    table_column(table, "value", "value", "", -1);
    table_column(table, "unit", "unit", "", -1);
    for (size_t i = 0; i < calc->n_out; i++)
        value_row(table, calc->out[i].name, calc->out[i].unit, json_object_get(result, calc->out[i].name));
    const json_t *working = json_object_get(result, "working");
    for (size_t i = 0; i < json_array_size(working); i++) {
        if (i == 0)
            section_table(note_section(out, "Working"));
        json_t *section = json_array_get(json_object_get(out, "sections"), json_array_size(json_object_get(out, "sections")) - 1);
        if (i == 0)
            table_column(json_object_get(section, "table"), "step", "step", "", -1);
        row_text(table_row(json_object_get(section, "table")), json_string_value(json_array_get(working, i)));
    }
    note_source(out, "%s", calc->source);
    json_object_set(note_data(out), "inputs", inputs);
    json_object_set(note_data(out), "result", result);
done:
    json_decref(inputs);
    json_decref(result);
    if (outcome == OUTCOME_OK)
        *note = out;
    else
        json_decref(out);
    return outcome;
}

const struct job job_calc = {
    .name = "calc",
    .summary = "one computation with its working",
    .about =
        "Every computation that spinney makes can be run alone here, on inputs typed as name=value or read from a CSV file, to check one "
        "number. Without a name the calculators are listed.",
    .example = "spinney calc wilson x=81 n=263",
    .access = JOB_FREE,
    .options = calc_options,
    .n_options = sizeof calc_options / sizeof *calc_options,
    .bare = calc_bare,
    .run = calc_job,
};

static const struct option check_options[] = {
    {"file", OPTION_FILE_IN, true, "FILE", "a check file (docs/checks.md)"},
    {"every", OPTION_FLAG, false, NULL, "list also the checks that hold"},
};

static const char *const check_bare[] = {"file", NULL};

static void check_tell(void *who, const char *line)
{
    row_text(table_row(who), line);
}

static enum outcome check_job(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    (void)context;
    json_t *out = note_new(), *table = section_table(note_section(out, "Checks"));
    table_column(table, "check", "check", "", -1);
    struct check_count count = {0};
    enum outcome outcome = check_run(option_text(in, "file", ""), option_flag(in, "every"), check_tell, table, &count, why);
    if (outcome != OUTCOME_OK) {
        json_decref(out);
        return outcome;
    }
    note_answer(out, "%zu checks hold, %zu do not.", count.passed, count.failed);
    json_object_set_new(note_data(out), "passed", json_integer((json_int_t)count.passed));
    json_object_set_new(note_data(out), "failed", json_integer((json_int_t)count.failed));
    *note = out;
    return OUTCOME_OK;
}

const struct job job_check = {
    .name = "check",
    .summary = "published numbers against the calculators",
    .about = "Runs the blocks of a check file: a calculator, its inputs, what a publication gives, and how near it must come. Anyone can "
             "add one.",
    .example = "spinney check tests/checks/stats.check",
    .access = JOB_FREE,
    .options = check_options,
    .n_options = sizeof check_options / sizeof *check_options,
    .bare = check_bare,
    .run = check_job,
};
