/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the tests of the jobs share. */
#include "help.h"
#include "model/model_json.h"

static char folder[64];

static void folder_remove(void)
{
    char command[128];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    (void)!system(command);
}

struct desk *desk_open(void)
{
    static unsigned next;
    char path[160];
    if (folder[0] == '\0') {
        snprintf(folder, sizeof folder, "/tmp/spinney-test-XXXXXX");
        assert_non_null(mkdtemp(folder));
        atexit(folder_remove);
    }
    snprintf(path, sizeof path, "%s/%u.gpkg", folder, next++);
    struct desk *desk = calloc(1, sizeof *desk);
    struct programme programme;
    noun_init(NOUN_PROGRAMME, &programme);
    programme.name = "Invented";
    programme.crs = 25832;
    programme.currency = "EUR";
    programme.seed = 7;
    if (store_create(path, &programme, "V001", &desk->store, &desk->why) != OUTCOME_OK)
        fail_msg("%s", desk->why.sentence);
    json_decref(desk_do(desk, "add", NULL, "{'noun': 'site', 'set': 'code=LK;name=Lockside;stage=monitored'}"));
    json_decref(desk_do(desk, "add", NULL, "{'noun': 'site', 'set': 'code=BS;name=Ballast;stage=monitored'}"));
    static const char *const plots[] = {"site_id=1;code=D1", "site_id=1;code=C1", "site_id=2;code=D1"};
    for (size_t i = 0; i < 3; i++)
        json_decref(desk_do(desk, "add", NULL, "{'noun': 'plot', 'set': '%s;regime=dense_prepared;planted_on=2021-02-01'}", plots[i]));
    return desk;
}

void desk_close(struct desk *desk)
{
    store_close(desk->store);
    free(desk);
}

static json_t *desk_run(struct desk *desk, const char *name, const char *file, const char *options)
{
    char *text = strdup(options);
    for (char *p = text; *p != '\0'; p++)
        *p = *p == '\'' ? '"' : *p;
    json_error_t error;
    json_t *in = json_loads(text, 0, &error), *note = NULL, *data = NULL;
    if (in == NULL)
        fail_msg("%s: %s", options, error.text);
    free(text);
    struct job_context context = {.store = desk->store,
                                  .author = "V001",
                                  .today = date_make(2026, 1, 1),
                                  .upload = file,
                                  .upload_n = file == NULL ? 0 : strlen(file)};
    const struct job *job = job_find(name);
    assert_non_null(job);
    desk->why = (struct failure){0};
    if (job_run(job, &context, in, &note, &desk->why) == OUTCOME_OK)
        data = json_incref(json_object_get(note, "data"));
    json_decref(note);
    json_decref(in);
    return data;
}

json_t *desk_try(struct desk *desk, const char *job, const char *file, const char *options, ...)
{
    char text[4096];
    va_list list;
    va_start(list, options);
    vsnprintf(text, sizeof text, options, list);
    va_end(list);
    return desk_run(desk, job, file, text);
}

json_t *desk_do(struct desk *desk, const char *job, const char *file, const char *options, ...)
{
    char text[4096];
    va_list list;
    va_start(list, options);
    vsnprintf(text, sizeof text, options, list);
    va_end(list);
    json_t *data = desk_run(desk, job, file, text);
    if (data == NULL)
        fail_msg("%s %s: %s %s", job, text, desk->why.sentence, desk->why.remedy);
    return data;
}

int64_t desk_number(struct desk *desk, const char *name, const char *job, const char *file, const char *options)
{
    json_t *data = desk_do(desk, job, file, "%s", options);
    int64_t n = json_integer_value(json_object_get(data, name));
    json_decref(data);
    return n;
}

int64_t desk_count(struct desk *desk, enum noun noun)
{
    int64_t n = 0;
    assert_int_equal(store_count(desk->store, noun, NULL, 0, &n, &desk->why), OUTCOME_OK);
    return n;
}

int64_t desk_held(struct desk *desk, int64_t row_number)
{
    json_t *data = desk_do(desk, "held", NULL, "{}"), *row = NULL;
    size_t i = 0;
    int64_t id = 0;
    json_array_foreach(json_object_get(data, "rows"), i, row)
    {
        if (json_integer_value(json_object_get(row, "row")) == row_number)
            id = json_integer_value(json_object_get(row, "id"));
    }
    json_decref(data);
    return id;
}

uint64_t desk_state(struct desk *desk)
{
    struct arena arena = {0};
    uint64_t h = 1469598103934665603u;
    static const enum noun nouns[] = {NOUN_SITE,      NOUN_PLOT,       NOUN_PLANT,          NOUN_VISIT,       NOUN_PLANT_RECORD,
                                      NOUN_IMPORT,    NOUN_HELD_ROW,   NOUN_WILDLIFE_VISIT, NOUN_SOIL_SAMPLE, NOUN_WILDLIFE_RECORD,
                                      NOUN_COST_ITEM, NOUN_CARE_EVENT, NOUN_WORK_HOURS,     NOUN_WEATHER_DAY};
    for (size_t k = 0; k < sizeof nouns / sizeof *nouns; k++) {
        void *rows = NULL;
        size_t n = 0;
        assert_int_equal(store_load(desk->store, nouns[k], NULL, 0, true, &arena, &rows, &n, &desk->why), OUTCOME_OK);
        for (size_t i = 0; i < n; i++)
            for (size_t f = 0; f < noun_infos[nouns[k]].n_fields; f++) {
                const struct field *field = &noun_infos[nouns[k]].fields[f];
                const void *row = (char *)rows + i * noun_infos[nouns[k]].size;
                if (field->kind == FIELD_REF || field->kind == FIELD_BYTES || field_unknown(field, row))
                    continue;
                for (const char *c = field_write(field, row, &arena); *c != '\0'; c++)
                    h = (h ^ (unsigned char)*c) * 1099511628211u;
            }
        h = (h ^ n) * 1099511628211u;
    }
    arena_clear(&arena);
    return h;
}
