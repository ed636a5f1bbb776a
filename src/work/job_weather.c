/* SPDX-License-Identifier: GPL-3.0-or-later
 * weather: a station's daily file, read by a form that stays with the programme. rain: what the gauge read, typed. */
#include "water/water.h"
#include "work/jobs.h"
#include "work/load.h"
#include <math.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

static const struct option weather_options[] = {
    {"file", OPTION_FILE_IN, false, "FILE", "daily CSV of a station; without one the weather held is shown"},
    {"site", OPTION_TEXT, false, "CODE", "whose weather it is (of the whole programme if not given)"},
    {"form", OPTION_TEXT, false, "NAME", "how the file is written: plain, nl_daily or ghcn_daily; the form used last if not given"},
    {"day", OPTION_TEXT, false, "COLUMN", "own form: column of the day"},
    {"columns", OPTION_TEXT, false, "WHAT=COLUMN*FACTOR",
     "own form: rain=RR*0.1;t_min=TN*0.1 … of rain, t_min, t_max, t_mean, humidity, wind, radiation, sunshine, evaporation"},
    {"missing", OPTION_NUMBER, false, "CODE", "own form: figure that means missing"},
    {"trace", OPTION_NUMBER, false, "CODE", "own form: figure that means a trace of rain or sun"},
    {"trace_is", OPTION_NUMBER, false, "X", "own form: what a trace counts as (0.025 if not given)"},
    {"wind_height_m", OPTION_NUMBER, false, "M", "height of the wind gauge (10 if not given)"},
    {"station", OPTION_TEXT, false, "TEXT", "name of the station (the file's name if not given)"},
    {"skip", OPTION_TEXT, false, "MARK", "lines that begin with this are no data (# if not given)"},
};
static const char *const weather_bare[] = {"file", NULL};

/* ---- forms: built in, or the user's own, kept as JSON with the import ---- */

enum { PARTS = 9 };
static const char *const part_names[PARTS] = {"rain", "t_min",     "t_max",    "t_mean",     "humidity",
                                              "wind", "radiation", "sunshine", "evaporation"};

static struct weather_column *part_of(struct weather_form *form, int part)
{
    struct weather_column *const parts[PARTS] = {&form->rain, &form->t_min,     &form->t_max,    &form->t_mean,     &form->humidity,
                                                 &form->wind, &form->radiation, &form->sunshine, &form->evaporation};
    return parts[part];
}

static enum outcome column_read(const char *text, double missing, double trace, double trace_is, struct arena *arena,
                                struct weather_form *form, struct failure *why)
{
    char *copy = arena_text(arena, text), *equals = strchr(copy, '=');
    int part = 0;
    double scale = 1;
    if (equals != NULL)
        *equals = '\0';
    while (part < PARTS && !text_same(part_names[part], copy))
        part++;
    char *times = equals == NULL ? NULL : strrchr(equals + 1, '*');
    if (times != NULL)
        *times = '\0';
    if (equals == NULL || part == PARTS || (times != NULL && !number_read(times + 1, &scale))) {
        fail(why, OUTCOME_USAGE, "columns: \"%.60s\" is not WHAT=COLUMN*FACTOR.", text);
        return failure_remedy(why, "WHAT is rain, t_min, t_max, t_mean, humidity, wind, radiation, sunshine or evaporation.");
    }
    bool small = part == 0 || part == 7;
    *part_of(form, part) = (struct weather_column){equals + 1, scale, small ? trace : unknown_real(), trace_is, missing};
    return OUTCOME_OK;
}

static enum outcome own_form(const char *day, const char *columns, double missing, double trace, double trace_is, struct arena *arena,
                             struct weather_form *form, struct failure *why)
{
    *form = (struct weather_form){.name = "own", .title = "own form", .day = day};
    for (int i = 0; i < PARTS; i++)
        *part_of(form, i) = (struct weather_column){NULL, 1, unknown_real(), 0, unknown_real()};
    char *copy = arena_text(arena, columns), *rest = NULL;
    for (char *part = strtok_r(copy, ";", &rest); part != NULL; part = strtok_r(NULL, ";", &rest)) {
        enum outcome outcome = column_read(text_trim(arena, part), missing, trace, trace_is, arena, form, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    return OUTCOME_OK;
}

static json_t *number_or_null(double x)
{
    return is_known(x) ? json_real(x) : json_null();
}

static double number_of(const json_t *object, const char *name, double otherwise)
{
    const json_t *value = json_object_get(object, name);
    return json_is_number(value) ? json_number_value(value) : otherwise;
}

/* The mapping as it is kept: a form's name, or the columns. */
static json_t *mapping_of(const json_t *in, const char *form)
{
    if (option_text(in, "columns", NULL) == NULL)
        return json_pack("{s:s, s:f}", "weather_form", form, "wind_height_m", option_number(in, "wind_height_m", 10));
    return json_pack("{s:s, s:s, s:s, s:o, s:o, s:f, s:f}", "weather_form", "own", "day", option_text(in, "day", "date"), "columns",
                     option_text(in, "columns", ""), "missing", number_or_null(option_number(in, "missing", unknown_real())), "trace",
                     number_or_null(option_number(in, "trace", unknown_real())), "trace_is", option_number(in, "trace_is", 0.025),
                     "wind_height_m", option_number(in, "wind_height_m", 10));
}

/* The newest weather import that was read by a form. NULL: none. The caller releases it. */
static enum outcome mapping_kept(struct store *store, struct arena *arena, json_t **out, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    *out = NULL;
    enum outcome outcome = load_all(store, NOUN_IMPORT, arena, &rows, &n, why);
    for (size_t i = n; outcome == OUTCOME_OK && i > 0 && *out == NULL; i--) {
        const struct import *row = &((const struct import *)rows)[i - 1];
        json_t *mapping = row->mapping == NULL || row->undone == TRUTH_YES ? NULL : json_loads(row->mapping, 0, NULL);
        if (json_object_get(mapping, "weather_form") != NULL)
            *out = mapping;
        else
            json_decref(mapping);
    }
    return outcome;
}

static enum outcome form_of(const json_t *mapping, struct arena *arena, struct weather_form *form, struct failure *why)
{
    const char *name = json_string_value(json_object_get(mapping, "weather_form"));
    if (text_same(name, "own"))
        return own_form(arena_text(arena, json_string_value(json_object_get(mapping, "day"))),
                        json_string_value(json_object_get(mapping, "columns")), number_of(mapping, "missing", unknown_real()),
                        number_of(mapping, "trace", unknown_real()), number_of(mapping, "trace_is", 0.025), arena, form, why);
    const struct weather_form *known = weather_form_find(name);
    if (known == NULL) {
        struct text list = {0};
        for (size_t i = 0; weather_form_get(i) != NULL; i++)
            text_print(&list, "%s%s (%s)", i > 0 ? "; " : "", weather_form_get(i)->name, weather_form_get(i)->title);
        fail(why, OUTCOME_USAGE, "There is no form \"%.60s\".", name);
        failure_remedy(why, "There are: %.900s. Or describe the file's own with --day and --columns.", text_get(&list));
        text_free(&list);
        return OUTCOME_USAGE;
    }
    *form = *known;
    return OUTCOME_OK;
}

/* ---- reading ---- */

/* Lines before the header, and those that begin with the mark, are passed over; NULL: no header line was found. */
static char *data_lines(const struct bytes *bytes, const char *mark, const struct weather_form *form, struct arena *arena, size_t *n)
{
    struct text out = {0};
    const char *at = (const char *)bytes->at, *end = at + bytes->n;
    bool header = false;
    while (at < end) {
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        size_t length = stop == NULL ? (size_t)(end - at) : (size_t)(stop - at) + 1, skip = strspn(at, " \t");
        const char *line = at + (skip < length ? skip : 0);
        bool marked = mark[0] != '\0' && strncmp(line, mark, strlen(mark)) == 0;
        char *text = arena_text_n(arena, line, length - (size_t)(line - at));
        bool names = !header && strstr(text, form->day) != NULL && strpbrk(text, ",;\t") != NULL;
        if (names && marked)
            text_add_n(&out, line + strlen(mark), length - (size_t)(line - at) - strlen(mark));
        else if (names || (header && !marked))
            text_add_n(&out, line, length - (size_t)(line - at));
        header = header || names;
        at += length;
    }
    char *copy = header ? arena_text_n(arena, text_get(&out), out.n) : NULL;
    *n = out.n;
    text_free(&out);
    return copy;
}

static char separator_of(const char *text)
{
    size_t commas = 0, semicolons = 0;
    for (const char *c = text; *c != '\0' && *c != '\n'; c++) {
        commas += *c == ',';
        semicolons += *c == ';';
    }
    return semicolons > commas ? ';' : ',';
}

struct weathering {
    struct site site;
    struct weather_form form;
    struct weather_series series;
    struct bytes bytes;
    const char *file;
    struct weather_day *rows;
    size_t n, same, other;
    char first_other[16];
};

static bool values_same(const struct weather_day *a, const struct weather_day *b)
{
    const double x[] = {a->rain_mm, a->t_min_c, a->t_max_c}, y[] = {b->rain_mm, b->t_min_c, b->t_max_c};
    for (int i = 0; i < 3; i++)
        if (is_known(x[i]) != is_known(y[i]) || (is_known(x[i]) && fabs(x[i] - y[i]) > 1e-9))
            return false;
    return true;
}

/* Days as rows; a day that is there with the same values is passed over, with others it is counted. */
static enum outcome rows_make(struct store *store, const char *station, double wind_height_m, struct arena *arena, struct weathering *w,
                              struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    const struct weather_series *s = &w->series;
    enum outcome outcome = load_all(store, NOUN_WEATHER_DAY, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    const struct weather_day **there = arena_array(arena, s->n + 1, sizeof *there);
    for (size_t i = 0; i < n; i++) {
        const struct weather_day *day = &((const struct weather_day *)rows)[i];
        if (day->site_id == w->site.id && day->day >= s->day[0] && day->day < s->day[0] + (int32_t)s->n)
            there[day->day - s->day[0]] = day;
    }
    w->rows = arena_array(arena, s->n + 1, sizeof *w->rows);
    for (size_t i = 0; i < s->n; i++) {
        struct weather_day *day = &w->rows[w->n];
        const double values[] = {s->rain_mm[i],  s->t_min_c[i],         s->t_max_c[i],    s->t_mean_c[i],      s->humidity_pct[i],
                                 s->wind_m_s[i], s->radiation_mj_m2[i], s->sunshine_h[i], s->evaporation_mm[i]};
        bool any = false;
        noun_init(NOUN_WEATHER_DAY, day);
        double *const into[] = {&day->rain_mm,  &day->t_min_c,         &day->t_max_c,    &day->t_mean_c,      &day->humidity_pct,
                                &day->wind_m_s, &day->radiation_mj_m2, &day->sunshine_h, &day->evaporation_mm};
        for (size_t k = 0; k < sizeof values / sizeof *values; k++) {
            *into[k] = values[k];
            any = any || is_known(values[k]);
        }
        day->day = s->day[i];
        day->site_id = w->site.id;
        day->source = station;
        day->wind_height_m = is_known(day->wind_m_s) ? wind_height_m : unknown_real();
        const struct weather_column *rain = &w->form.rain;
        if (is_known(rain->trace) && is_known(day->rain_mm) && fabs(day->rain_mm - rain->trace_value) < 1e-12)
            day->flags = "rain:trace";
        if (there[i] != NULL && !values_same(there[i], day) && w->other++ == 0)
            date_write(day->day, w->first_other);
        w->same += there[i] != NULL && values_same(there[i], day);
        w->n += any && there[i] == NULL;
    }
    return OUTCOME_OK;
}

static enum outcome file_take(const struct job_context *context, const json_t *in, const json_t *mapping, struct arena *arena,
                              struct weathering *w, struct failure *why)
{
    struct csv_table table;
    const char *path = option_text(in, "file", ""), *slash = strrchr(path, '/');
    size_t n = 0;
    w->file = slash == NULL ? path : slash + 1;
    enum outcome outcome = form_of(mapping, arena, &w->form, why);
    if (outcome == OUTCOME_OK)
        outcome = input_bytes(context, path, (size_t)64 << 20, arena, &w->bytes, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    char *text = data_lines(&w->bytes, option_text(in, "skip", "#"), &w->form, arena, &n);
    if (text == NULL) {
        fail(why, OUTCOME_DATA, "No line of the file names the column %s of the form %s.", w->form.day, w->form.name);
        failure_at(why, w->file, 0, NULL);
        return failure_remedy(why, "Choose another form, or describe the file's own with --day and --columns.");
    }
    outcome = csv_read(w->file, text, n, separator_of(text), 0, arena, &table, why);
    if (outcome == OUTCOME_OK)
        outcome = weather_read(&table, &w->form, arena, &w->series, why);
    if (outcome == OUTCOME_OK)
        outcome = rows_make(context->store, option_text(in, "station", w->file), number_of(mapping, "wind_height_m", 10), arena, w, why);
    if (outcome == OUTCOME_OK && w->other > 0) {
        fail(why, OUTCOME_DATA, "%zu days are in the programme already with other values, first %s.", w->other, w->first_other);
        failure_at(why, w->file, 0, NULL);
        outcome = failure_remedy(why, "Take the earlier file back with undo, or leave those days out of this one. Nothing was stored.");
    }
    return outcome;
}

static enum outcome file_store(const struct job_context *context, const json_t *mapping, struct arena *arena, struct weathering *w,
                               struct failure *why)
{
    struct import row;
    char *text = json_dumps(mapping, JSON_COMPACT | JSON_SORT_KEYS);
    noun_init(NOUN_IMPORT, &row);
    row.file_name = w->file;
    unsigned char hash[crypto_hash_sha256_BYTES];
    char hex[2 * crypto_hash_sha256_BYTES + 1];
    crypto_hash_sha256(hash, w->bytes.at, w->bytes.n);
    row.sha256 = arena_text(arena, sodium_bin2hex(hex, sizeof hex, hash, sizeof hash));
    row.content = w->bytes;
    row.kind = "weather";
    row.mapping = arena_text(arena, text);
    row.rows_read = (int64_t)w->series.n;
    row.rows_taken = (int64_t)w->n;
    row.rows_held = 0;
    row.imported_on = context->today;
    free(text);
    enum outcome outcome = store_begin(context->store, context->author, arena_print(arena, "weather %s", w->file), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    outcome = store_add(context->store, NOUN_IMPORT, &row, 1, why);
    if (outcome == OUTCOME_OK)
        outcome = store_add(context->store, NOUN_WEATHER_DAY, w->rows, w->n, why);
    return store_end(context->store, outcome, why);
}

/* ---- telling ---- */

static void series_told(json_t *out, const struct weather_series *s, const char *title)
{
    const struct {
        const char *what, *unit;
        const double *values;
    } columns[] = {{"rain", "mm", s->rain_mm},
                   {"lowest temperature", "°C", s->t_min_c},
                   {"highest temperature", "°C", s->t_max_c},
                   {"mean temperature", "°C", s->t_mean_c},
                   {"humidity", "%", s->humidity_pct},
                   {"wind", "m/s", s->wind_m_s},
                   {"radiation", "MJ/m²", s->radiation_mj_m2},
                   {"sunshine", "h", s->sunshine_h},
                   {"evaporation of the agency", "mm", s->evaporation_mm}};
    json_t *table = section_table(note_section(out, title)), *data = json_object();
    table_column(table, "what", "what", "", -1);
    table_column(table, "days", "days known", "", -1);
    table_column(table, "missing", "days not known", "", -1);
    table_column(table, "mean", "mean", "", 1);
    table_column(table, "unit", "unit", "", -1);
    for (size_t c = 0; c < sizeof columns / sizeof *columns; c++) {
        size_t known = 0;
        double sum = 0;
        for (size_t i = 0; i < s->n; i++)
            if (is_known(columns[c].values[i])) {
                known++;
                sum += columns[c].values[i];
            }
        json_t *row = table_row(table);
        row_text(row, columns[c].what);
        row_integer(row, (int64_t)known);
        row_integer(row, (int64_t)(s->n - known));
        row_number(row, known == 0 ? unknown_real() : sum / (double)known);
        row_text(row, columns[c].unit);
        json_object_set_new(data, columns[c].what, json_integer((json_int_t)known));
    }
    json_object_set_new(note_data(out), "known", data);
    json_object_set_new(note_data(out), "days", json_integer((json_int_t)s->n));
}

static enum outcome held_told(const struct job_context *context, const struct site *site, struct arena *arena, json_t *out,
                              struct failure *why)
{
    void *rows = NULL;
    size_t n = 0, kept = 0;
    struct weather_series series;
    enum outcome outcome = load_all(context->store, NOUN_WEATHER_DAY, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct weather_day *days = rows;
    for (size_t i = 0; i < n; i++)
        if (days[i].site_id == site->id)
            days[kept++] = days[i];
    if (kept == 0) {
        fail(why, OUTCOME_DATA, "No weather is held%s%s.", site->id == 0 ? " for the programme" : " for site ",
             site->id == 0 ? "" : site->code);
        return failure_remedy(why, "Bring a station's daily file in: spinney weather FILE station.csv --form nl_daily");
    }
    outcome = weather_from_days(days, kept, arena, &series, why);
    if (outcome == OUTCOME_OK) {
        char from[16], to[16];
        date_write(series.day[0], from);
        date_write(series.day[series.n - 1], to);
        note_answer(out, "%zu days of weather from %s to %s; what was not recorded is not known, and no zero.", series.n, from, to);
        series_told(out, &series, "What is held");
    }
    return outcome;
}

static enum outcome weather_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct weathering w = {.n = 0};
    json_t *out = note_new(), *mapping = NULL;
    const char *form = option_text(in, "form", NULL);
    enum outcome outcome = OUTCOME_OK;
    noun_init(NOUN_SITE, &w.site);
    if (option_text(in, "site", NULL) != NULL)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &w.site, why);
    if (outcome == OUTCOME_OK && option_text(in, "file", NULL) == NULL) {
        outcome = held_told(context, &w.site, &arena, out, why);
        goto done;
    }
    bool said = form != NULL || option_text(in, "columns", NULL) != NULL;
    if (outcome == OUTCOME_OK && said)
        mapping = mapping_of(in, form);
    else if (outcome == OUTCOME_OK)
        outcome = mapping_kept(context->store, &arena, &mapping, why);
    if (outcome == OUTCOME_OK && mapping == NULL) {
        fail(why, OUTCOME_USAGE, "How the file is written is not known yet.");
        outcome = failure_remedy(
            why, "Say --form plain, nl_daily or ghcn_daily, or describe it with --day and --columns; it stays with the programme.");
    }
    if (outcome == OUTCOME_OK)
        outcome = file_take(context, in, mapping, &arena, &w, why);
    if (outcome == OUTCOME_OK)
        outcome = file_store(context, mapping, &arena, &w, why);
    if (outcome == OUTCOME_OK) {
        char from[16], to[16];
        date_write(w.series.day[0], from);
        date_write(w.series.day[w.series.n - 1], to);
        note_answer(out, "%zu days from %s to %s are in%s, read by the form %s%s; %zu were there already.", w.n, from, to,
                    w.site.id == 0 ? "" : arena_print(&arena, " for site %s", w.site.code), w.form.name,
                    said ? ", which stays with the programme" : ", the one used last", w.same);
        series_told(out, &w.series, "What the file holds");
        if (w.series.missing_days > 0)
            note_unknown(out, "%zu days between the first and the last have no row: they are not known, and no zero.",
                         w.series.missing_days);
        if (w.series.traces > 0)
            note_unknown(out, "%zu cells hold the mark for a trace: a small figure stands in for them, and the day is flagged.",
                         w.series.traces);
        json_object_set_new(note_data(out), "taken", json_integer((json_int_t)w.n));
        json_object_set(note_data(out), "mapping", mapping);
    }
done:
    json_decref(mapping);
    if (outcome == OUTCOME_OK)
        *note = json_incref(out);
    json_decref(out);
    arena_clear(&arena);
    return outcome;
}

const struct job job_weather = {
    .name = "weather",
    .summary = "bring in a station's daily weather, or show what is held",
    .about =
        "Reads a daily file as a weather service writes it, with its own units, codes for missing and for a trace; the form stays with "
        "the programme, so that next year's file needs none. Missing is not zero. Without a file it shows what is held.",
    .example = "spinney weather wood.gpkg station.csv --form nl_daily --station 'Telm gauge'",
    .access = JOB_WRITES,
    .options = weather_options,
    .n_options = sizeof weather_options / sizeof *weather_options,
    .bare = weather_bare,
    .run = weather_run,
};

/* ---- rain ---- */

static const struct option rain_options[] = {
    {"day", OPTION_DATE, true, "DAY", "day the gauge was read"},
    {"mm", OPTION_TEXT, true, "MM", "what it read; 0 is dry; \"-\" where nobody can say"},
    {"days", OPTION_INTEGER, false, "N", "it held the rain of so many days (1 if not given)"},
    {"site", OPTION_TEXT, false, "CODE", "whose gauge (the programme's if not given)"},
};
static const char *const rain_bare[] = {"day", "mm", NULL};

static enum outcome rain_store(const struct job_context *context, int64_t site, int32_t day, int days, double mm, struct arena *arena,
                               struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(context->store, NOUN_WEATHER_DAY, arena, &rows, &n, why);
    if (outcome == OUTCOME_OK)
        outcome = store_begin(context->store, context->author, arena_print(arena, "rain typed"), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    for (int back = 0; back < days && outcome == OUTCOME_OK; back++) {
        struct weather_day one;
        const struct weather_day *there = NULL;
        for (size_t i = 0; i < n && there == NULL; i++)
            if (((const struct weather_day *)rows)[i].day == day - back && ((const struct weather_day *)rows)[i].site_id == site)
                there = &((const struct weather_day *)rows)[i];
        noun_init(NOUN_WEATHER_DAY, &one);
        if (there != NULL)
            one = *there;
        one.day = day - back;
        one.site_id = site;
        one.rain_mm = !is_known(mm) || back == 0 ? mm : 0;
        one.source = one.source == NULL ? "typed" : one.source;
        one.flags = days == 1 ? NULL : back == 0 ? arena_print(arena, "rain:sum_of_%d_days", days) : "rain:in_the_sum_of_a_later_day";
        outcome = there != NULL ? store_change(context->store, NOUN_WEATHER_DAY, &one, why)
                                : store_add(context->store, NOUN_WEATHER_DAY, &one, 1, why);
    }
    return store_end(context->store, outcome, why);
}

static enum outcome rain_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct site site = {.id = 0};
    double mm = unknown_real();
    const char *text = option_text(in, "mm", "");
    int32_t day = option_date(in, "day", DATE_UNKNOWN);
    int64_t days = option_integer(in, "days", 1);
    enum outcome outcome = OUTCOME_OK;
    if (option_text(in, "site", NULL) != NULL)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK && !text_same(text, "-") && (!number_read(text, &mm) || !(mm >= 0 && mm <= 600))) {
        fail(why, OUTCOME_DATA, "\"%.40s\" is no rain in mm between 0 and 600.", text);
        outcome = failure_remedy(why, "Type what the gauge read; \"-\" where nobody can say.");
    }
    if (outcome == OUTCOME_OK && (days < 1 || days > 31))
        outcome = fail(why, OUTCOME_DATA, "A gauge holds the rain of 1 to 31 days.");
    if (outcome == OUTCOME_OK && day > context->today) {
        outcome = fail(why, OUTCOME_DATA, "That day has not come yet.");
    }
    if (outcome == OUTCOME_OK)
        outcome = rain_store(context, site.id, day, (int)days, mm, &arena, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        if (!is_known(mm))
            note_answer(out, "%s: rain is noted as not known. It counts as neither wet nor dry.", day_words(day, &arena));
        else if (days == 1)
            note_answer(out, "%s: %g mm of rain.", day_words(day, &arena), mm);
        else
            note_answer(out, "%s: %g mm, the rain of %lld days. Sums over weeks are right; single days of them are not.",
                        day_words(day, &arena), mm, (long long)days);
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_rain = {
    .name = "rain",
    .summary = "type what the rain gauge read",
    .about = "Keeps a gauge's reading, also one that held the rain of several days. 0 is dry; a day nobody read is not known. A reading "
             "typed again replaces the first, which stays in the history.",
    .example = "spinney rain wood.gpkg 2026-06-08 4.5 --days 7",
    .access = JOB_WRITES,
    .options = rain_options,
    .n_options = sizeof rain_options / sizeof *rain_options,
    .bare = rain_bare,
    .run = rain_run,
};
