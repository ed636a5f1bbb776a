/* SPDX-License-Identifier: GPL-3.0-or-later
 * quality: how good the records are, survey by survey: who was found, what was looked at twice and how alike, whether figures heap, and what
 * became of doubtful rows. */
#include "survey/quality.h"
#include "draw/draw.h"
#include "work/jobs.h"
#include "work/note.h"
#include "work/survey_load.h"
#include <math.h>
#include <string.h>

static const double LEVEL = 0.95;

static const struct option quality_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "only this site (all if not given)"},
    {"observers", OPTION_FLAG, false, NULL, "also by observer, for the coordinator alone: not to be published, and no ranking"},
};
static const char *const quality_bare[] = {"site", NULL};

static void row_share(json_t *row, const struct estimate *e)
{
    char shown[160];
    if (!is_known(e->value)) {
        row_text(row, NULL);
        return;
    }
    value_write((struct draw_value){100 * e->value, 100 * e->low, 100 * e->high}, 0, "%", shown);
    row_text(row, shown);
}

/* −0.04 is shown as 0.0, not as −0.0. */
static double tenths(double x)
{
    double rounded = round(10 * x) / 10;
    return rounded == 0 ? 0 : rounded;
}

/* Under half of the plants due: no survey of every plant, but a sample that does not say so, or an incident. */
static bool part_only(const struct visit_quality *v)
{
    return v->due > 0 && v->recorded * 2 < v->due;
}

static json_t *number(double x)
{
    return isfinite(x) ? json_real(x) : json_null();
}

static json_t *estimate_json(const struct estimate *e)
{
    return json_pack("{s:o, s:o, s:o}", "value", number(e->value), "low", number(e->low), "high", number(e->high));
}

static json_t *twice_json(const struct twice *t)
{
    return json_pack("{s:I, s:o, s:o, s:o, s:I, s:o, s:o, s:o, s:o, s:I, s:o}", "pairs", (json_int_t)t->pairs, "state",
                     estimate_json(&t->state), "kappa", estimate_json(&t->kappa), "species", estimate_json(&t->species), "heights",
                     (json_int_t)t->heights, "bias_cm", estimate_json(&t->height.bias), "limit_low_cm", number(t->height.limit_low),
                     "limit_high_cm", number(t->height.limit_high), "height_within", estimate_json(&t->height_within), "diameters",
                     (json_int_t)t->diameters, "diameter_within", estimate_json(&t->diameter_within));
}

static json_t *digits_json(const struct digits *d)
{
    return json_pack("{s:I, s:o, s:o, s:o, s:o, s:b}", "n", (json_int_t)d->heaping.n, "index",
                     d->heaping.n == 0 ? json_null() : number(d->heaping.index), "low", number(d->low), "high", number(d->high), "p",
                     d->heaping.n == 0 ? json_null() : number(d->heaping.p_value), "heaped", (int)d->heaping.heaped);
}

static void columns(json_t *table, const char *const *titles, size_t n)
{
    for (size_t i = 0; i < n; i++)
        table_column(table, titles[i], titles[i], "", -1);
}

static void visits_table(json_t *note, const struct quality *q, struct arena *arena)
{
    static const char *const titles[] = {"survey",    "plants due",      "recorded",        "of those due found",
                                         "not found", "looked at twice", "odd values kept", "Whipple's index"};
    json_t *section = note_section(note, "Survey by survey"), *table = section_table(section), *list = json_array();
    section_text(section,
                 "Due: plants that stood by then and were not known dead. Looked at twice: by a second observer or as a blind repeat; "
                 "one in ten is the aim. A part only: under half of the plants due, so a sample or an incident. Whipple's index of heights "
                 "under 2 m: 100 none, 500 all on 0 or 5.");
    columns(table, titles, sizeof titles / sizeof *titles);
    for (size_t i = 0; i < q->n_visits; i++) {
        const struct visit_quality *v = &q->visits[i];
        json_t *row = table_row(table);
        const char *code = v->site == NULL ? "" : v->site->code, *day = day_words(v->visit->from_on, arena);
        row_print(row, "%s, %s", code, day);
        if (v->due > 0)
            row_integer(row, (int64_t)v->due);
        else
            row_text(row, "a sample");
        row_integer(row, (int64_t)v->recorded);
        if (part_only(v))
            row_text(row, "a part only");
        else
            row_share(row, &v->found);
        row_integer(row, (int64_t)v->not_found);
        if (v->twice.pairs == 0)
            row_text(row, "none");
        else
            row_share(row, &v->again);
        row_integer(row, (int64_t)v->kept);
        if (v->digits.heaping.n < 20)
            row_text(row, "too few to tell");
        else
            row_print(row, "%.0f (%.0f–%.0f)%s", v->digits.heaping.index, v->digits.low, v->digits.high,
                      v->digits.heaping.heaped ? ", heaped" : "");
        json_array_append_new(list,
                              json_pack("{s:I, s:s, s:s, s:I, s:I, s:o, s:I, s:o, s:I, s:o, s:o}", "visit", (json_int_t)v->visit->id,
                                        "site", code, "from", day, "due", (json_int_t)v->due, "recorded", (json_int_t)v->recorded, "found",
                                        estimate_json(&v->found), "not_found", (json_int_t)v->not_found, "again", estimate_json(&v->again),
                                        "kept", (json_int_t)v->kept, "digits", digits_json(&v->digits), "twice", twice_json(&v->twice)));
    }
    json_object_set_new(note_data(note), "visits", list);
}

/* One measure of agreement against its target. */
static void measure(json_t *table, const char *what, size_t n, const struct estimate *e, double target, const char *words)
{
    json_t *row = table_row(table);
    row_text(row, what);
    row_integer(row, (int64_t)n);
    row_share(row, e);
    row_text(row, words);
    row_text(row, !is_known(e->value) || n == 0 ? NULL
                  : !is_known(target)           ? "none set"
                  : e->low >= target            ? "met"
                  : e->high < target            ? "missed"
                                                : "cannot be told from so few");
}

static void agreement_section(json_t *note, const struct twice *t)
{
    static const char *const titles[] = {"what", "pairs", "alike", "target", "and is it met"};
    json_t *section = note_section(note, "Two looks at the same plant");
    if (t->pairs == 0) {
        section_text(section,
                     "No plant was looked at twice at one survey, so how alike observers record is not known. Let one plant in ten be "
                     "looked at again by somebody who has not seen the first record.");
        return;
    }
    json_t *table = section_table(section);
    columns(table, titles, sizeof titles / sizeof *titles);
    measure(table, "state", t->pairs, &t->state, 0.98, "98 %");
    measure(table, "species", t->pairs, &t->species, 0.95, "95 %");
    measure(table, "height", t->heights, &t->height_within, unknown_real(), "within 5 cm or 5 %");
    measure(table, "diameter", t->diameters, &t->diameter_within, unknown_real(), "within 1 mm");
    if (is_known(t->kappa.value))
        section_text(section, "State, beyond what chance would give: Cohen's kappa %.2f (%.2f–%.2f).", t->kappa.value, t->kappa.low,
                     t->kappa.high);
    if (is_known(t->height.bias.value) && t->heights >= 10)
        section_text(
            section,
            "The second height was %+.1f cm (%+.1f to %+.1f) off the first on average; of %zu pairs about 95 %% differ by %.0f to %.0f "
            "cm. Growth smaller than that cannot be told from measuring on a single plant.",
            tenths(t->height.bias.value), tenths(t->height.bias.low), tenths(t->height.bias.high), t->heights, t->height.limit_low,
            t->height.limit_high);
}

static void observers_section(json_t *note, const struct quality *q, bool shown)
{
    json_t *section = note_section(note, "Observers"), *list = json_array();
    section_text(section, "Heights of %zu of %zu observers heap on 0 and 5.%s", q->heaped, q->n_observers,
                 shown ? " For the coordinator alone: to talk it over with each, not to be published. In order of the alphabet; this is no "
                         "ranking, for plots and seasons differ."
                       : " Which, --observers tells the coordinator.");
    json_object_set_new(note_data(note), "observers_heaped", json_integer((json_int_t)q->heaped));
    if (!shown) {
        json_decref(list);
        return;
    }
    static const char *const titles[] = {"observer", "records", "Whipple's index", "looked again at", "state alike", "height off by, cm"};
    json_t *table = section_table(section);
    columns(table, titles, sizeof titles / sizeof *titles);
    for (size_t i = 0; i < q->n_observers; i++) {
        const struct observer_quality *o = &q->observers[i];
        json_t *row = table_row(table);
        row_text(row, o->observer);
        row_integer(row, (int64_t)o->records);
        if (o->digits.heaping.n < 20)
            row_text(row, "too few to tell");
        else
            row_print(row, "%.0f (%.0f–%.0f)%s", o->digits.heaping.index, o->digits.low, o->digits.high,
                      o->digits.heaping.heaped ? ", heaped" : "");
        row_integer(row, (int64_t)o->twice.pairs);
        row_share(row, &o->twice.state);
        if (is_known(o->twice.height.bias.value))
            row_print(row, "%+.1f (%+.1f to %+.1f)", tenths(o->twice.height.bias.value), tenths(o->twice.height.bias.low),
                      tenths(o->twice.height.bias.high));
        else
            row_text(row, NULL);
        json_array_append_new(list, json_pack("{s:s, s:I, s:o, s:o}", "observer", o->observer, "records", (json_int_t)o->records, "digits",
                                              digits_json(&o->digits), "twice", twice_json(&o->twice)));
    }
    json_object_set_new(note_data(note), "observers", list);
}

/// What became of the rows one check held.
struct alarm {
    const char *check;
    size_t n, waiting, kept, corrected, refused;
};

static struct alarm *alarm_of(struct alarm *alarms, size_t *n, const char *check)
{
    for (size_t i = 0; i < *n; i++)
        if (text_same(alarms[i].check, check))
            return &alarms[i];
    alarms[*n] = (struct alarm){.check = check};
    return &alarms[(*n)++];
}

static size_t alarms_count(const struct held_row *rows, size_t n, struct alarm *alarms, struct arena *arena)
{
    size_t n_alarms = 0;
    for (size_t i = 0; i < n; i++) {
        char *kinds = arena_text(arena, rows[i].kind), *rest = NULL;
        for (char *kind = strtok_r(kinds, " ", &rest); kind != NULL; kind = strtok_r(NULL, " ", &rest)) {
            struct alarm *alarm = alarm_of(alarms, &n_alarms, kind);
            alarm->n++;
            alarm->waiting += rows[i].state == HELD_STATE_WAITING;
            alarm->kept += rows[i].state == HELD_STATE_ACCEPTED;
            alarm->corrected += rows[i].state == HELD_STATE_CORRECTED;
            alarm->refused += rows[i].state == HELD_STATE_REJECTED;
        }
    }
    return n_alarms;
}

static enum outcome alarms_section(struct store *store, json_t *note, struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(store, NOUN_HELD_ROW, arena, &rows, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    json_t *section = note_section(note, "Doubtful rows and what became of them"), *list = json_array();
    struct alarm *alarms = arena_array(arena, n_survey_checks + 64, sizeof *alarms);
    size_t n_alarms = n == 0 ? 0 : alarms_count(rows, n, alarms, arena);
    if (n == 0)
        section_text(section, "No row was held.");
    else {
        static const char *const titles[] = {
            "check", "held", "waiting", "right as it was", "corrected", "refused", "of those decided, a mistake"};
        json_t *table = section_table(section);
        section_text(section,
                     "A row held by two checks counts under both. Where most rows of a check prove right, its threshold suits this "
                     "ground badly; say so before loosening it.");
        columns(table, titles, sizeof titles / sizeof *titles);
        for (size_t i = 0; i < n_alarms && outcome == OUTCOME_OK; i++) {
            const struct alarm *a = &alarms[i];
            const struct check_info *info = survey_check_find(a->check);
            size_t mistakes = a->corrected + a->refused, decided = mistakes + a->kept;
            struct estimate share = estimate_unknown();
            if (decided > 0)
                outcome = proportion_wilson((double)mistakes, (double)decided, LEVEL, false, &share, why);
            json_t *row = table_row(table);
            row_text(row, info == NULL ? a->check : info->title);
            row_integer(row, (int64_t)a->n);
            row_integer(row, (int64_t)a->waiting);
            row_integer(row, (int64_t)a->kept);
            row_integer(row, (int64_t)a->corrected);
            row_integer(row, (int64_t)a->refused);
            row_share(row, &share);
            json_array_append_new(list,
                                  json_pack("{s:s, s:I, s:I, s:I, s:I, s:I, s:o}", "check", a->check, "held", (json_int_t)a->n, "waiting",
                                            (json_int_t)a->waiting, "kept", (json_int_t)a->kept, "corrected", (json_int_t)a->corrected,
                                            "refused", (json_int_t)a->refused, "mistake", estimate_json(&share)));
        }
    }
    json_object_set_new(note_data(note), "checks", list);
    return outcome;
}

static void answer_make(json_t *note, const struct quality *q)
{
    char again[160] = "none";
    size_t recorded = 0, below = 0;
    for (size_t i = 0; i < q->n_visits; i++) {
        recorded += q->visits[i].recorded;
        below += is_known(q->visits[i].found.high) && q->visits[i].found.high < 0.95 && !part_only(&q->visits[i]);
    }
    if (q->all.pairs > 0)
        value_write((struct draw_value){100 * q->all.state.value, 100 * q->all.state.low, 100 * q->all.state.high}, 0, "%", again);
    note_answer(
        note,
        "%zu surveys with %zu plant records at the first look. %zu plants were looked at twice%s%s%s. %zu surveys found clearly fewer "
        "than 95 %% of the plants due.",
        q->n_visits, recorded, q->all.pairs, q->all.pairs > 0 ? ": the same state in " : "", q->all.pairs > 0 ? again : "",
        q->all.pairs > 0 && (double)q->all.pairs < 0.1 * (double)recorded ? ", fewer than the one in ten that is aimed at" : "", below);
}

static enum outcome quality_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct survey_ground ground;
    struct quality q;
    struct site site = {.id = 0};
    json_t *out = note_new();
    enum outcome outcome = survey_ground_load(context->store, RECORD_PLANTS, &arena, &ground, why);
    if (outcome == OUTCOME_OK && option_text(in, "site", NULL) != NULL)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &site, why);
    if (outcome == OUTCOME_OK)
        outcome = survey_quality(&ground, site.id, LEVEL, &arena, &q, why);
    if (outcome == OUTCOME_OK && q.n_visits == 0) {
        fail(why, OUTCOME_DATA, "There is no survey with plant records yet.");
        outcome = failure_remedy(why, "Import one: spinney import FILE census.csv");
    }
    if (outcome == OUTCOME_OK) {
        answer_make(out, &q);
        visits_table(out, &q, &arena);
        agreement_section(out, &q.all);
        observers_section(out, &q, option_flag(in, "observers"));
        json_object_set_new(note_data(out), "twice", twice_json(&q.all));
        json_object_set_new(note_data(out), "digits", digits_json(&q.digits));
        outcome = alarms_section(context->store, out, &arena, why);
    }
    if (outcome == OUTCOME_OK) {
        note_unknown(
            out, "Mistakes that fit what was expected (a label exchanged between plants alike, a slip within plausible growth) leave no "
                 "trace and are not counted here.");
        note_source(
            out,
            "Aims of agreement: common practice of national inventories, no source. Kappa: Cohen 1960; its error Fleiss, Cohen & Everitt "
            "1969. Limits of agreement: Bland & Altman 1986. Whipple's index: Shryock & Siegel 1976. Shares: Wilson 1927.");
        *note = out;
    } else {
        json_decref(out);
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_quality = {
    .name = "quality",
    .summary = "how good the records are, survey by survey",
    .about =
        "Which plants a survey found of those that were due, what was looked at twice and how alike the two looks are (state, species, "
        "height, "
        "diameter, against the aims), whether heights heap on 0 and 5, and what became of doubtful rows. Observers are told apart only "
        "for the coordinator.",
    .example = "spinney quality wood.gpkg LK",
    .access = JOB_LOOKS,
    .options = quality_options,
    .n_options = sizeof quality_options / sizeof *quality_options,
    .bare = quality_bare,
    .run = quality_run,
};
