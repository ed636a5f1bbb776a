/* SPDX-License-Identifier: GPL-3.0-or-later
 * split: a dense plot and its comparison plot from one site, by lot. compare: what differs and what may be said of it.
 * protocol: the rules of judging, locked with version and date. */
#include "trial/trial.h"
#include "site/site.h"
#include "work/jobs.h"
#include "work/load.h"
#include "work/outline.h"
#include "work/seal.h"
#include "work/site_load.h"
#include <math.h>
#include <string.h>

/* ---- split ---- */

static const struct option split_options[] = {
    {"site", OPTION_TEXT, false, "CODE", "which site (the only one if not given)"},
    {"buffer_m", OPTION_NUMBER, false, "M", "gap between the plots; at least the height expected in the comparison (5 if not given)"},
    {"regimes", OPTION_TEXT, false, "A,B", "the treatments (dense_prepared,conventional if not given)"},
    {"codes", OPTION_TEXT, false, "A,B", "codes of the plots (D1,C1 … by regime if not given)"},
    {"bearing_deg", OPTION_NUMBER, false, "DEG", "bearing of the strip between; the one that loses least ground if not given"},
    {"area_m2", OPTION_NUMBER, false, "M2", "plots of this area each, cut from the middle of their piece; all of it if not given"},
    {"gross", OPTION_FLAG, false, NULL, "split the whole outline, not only what the constraints leave"},
    {"name", OPTION_TEXT, false, "TEXT", "name of the comparison"},
    {"question", OPTION_TEXT, false, "TEXT", "what is asked"},
    {"outcome", OPTION_TEXT, false, "TEXT", "the one primary outcome"},
    {"decide_on", OPTION_DATE, false, "DAY", "when it is to be answered"},
    {"margin_points", OPTION_NUMBER, false, "POINTS", "smallest difference worth having"},
    {"seed", OPTION_INTEGER, false, "N", "seed of the draw (the programme's if not given)"},
    {"witness", OPTION_TEXT, false, "WHO", "who saw the draw"},
    {"choose", OPTION_FLAG, false, NULL, "do not draw: the pieces get the treatments in the order given"},
    {"reason", OPTION_TEXT, false, "TEXT", "why chosen and not drawn; it is printed in every report"},
};

enum { MOST_PIECES = 8 };

/* "a,b,c" into at most MOST_PIECES words. */
static size_t words_split(const char *text, struct arena *arena, const char *out[MOST_PIECES])
{
    size_t n = 0;
    char *copy = arena_text(arena, text), *rest = NULL;
    for (char *part = strtok_r(copy, ", ", &rest); part != NULL && n < MOST_PIECES; part = strtok_r(NULL, ", ", &rest))
        out[n++] = part;
    return n;
}

static const char *regime_letter(int regime)
{
    static const char *const letters[] = {"X", "D", "C", "P", "N", "U", "X"};
    return regime >= 0 && regime < REGIME_COUNT ? letters[regime] : "X";
}

/* The next free code of a letter on a site: D1, D2 … */
static const char *code_free(const struct plot *plots, size_t n, const char *letter, int64_t site, int from, struct arena *arena)
{
    for (int i = from;; i++) {
        const char *code = arena_print(arena, "%s%d", letter, i);
        bool taken = false;
        for (size_t j = 0; j < n && !taken; j++)
            taken = plots[j].site_id == site && text_same_nocase(plots[j].code, code);
        if (!taken)
            return code;
    }
}

struct splitting {
    struct programme programme;
    struct site site;
    struct split split;
    double net_m2, gross_m2;
    const char **open;
    size_t n_open;
    const char *regimes[MOST_PIECES], *codes[MOST_PIECES], *pieces[MOST_PIECES];
    size_t n;
    struct trial_allocation allocation;
};

/* A band across the strips' bearing, `half_m` to either side of the piece's middle. */
static enum outcome band_cut(const struct shape *piece, double bearing_deg, double half_m, struct arena *arena, struct shape *out,
                             struct failure *why)
{
    double x = 0, y = 0, turn = (90 - bearing_deg) * 3.14159265358979323846 / 180, ux = cos(turn), uy = sin(turn);
    enum { REACH = 5000 };
    shape_centre(piece, &x, &y);
    struct shape band = shape_rectangle(arena, x - ux * half_m + uy * REACH, y - uy * half_m - ux * REACH, 2 * half_m, 2 * REACH, turn);
    return shape_intersect(piece, &band, arena, out, why);
}

/* Cut every piece down to the area asked for, from its middle. */
static enum outcome pieces_cut(double area_m2, struct arena *arena, struct split *split, struct failure *why)
{
    if (split->piece_m2 < area_m2) {
        fail(why, OUTCOME_DATA, "Each piece holds %.0f m², less than the %.0f m² asked for.", split->piece_m2, area_m2);
        return failure_remedy(why, "Ask for less, or narrow the strip between.");
    }
    for (size_t i = 0; i < split->n; i++) {
        double low = 0, high = 5000;
        struct shape cut = split->pieces[i];
        for (int step = 0; step < 60 && high - low > 1e-6; step++) {
            double half = (low + high) / 2;
            enum outcome outcome = band_cut(&split->pieces[i], split->bearing_deg, half, arena, &cut, why);
            if (outcome != OUTCOME_OK)
                return outcome;
            if (shape_area_m2(&cut) < area_m2)
                low = half;
            else
                high = half;
        }
        split->pieces[i] = cut;
    }
    split->piece_m2 = area_m2;
    return OUTCOME_OK;
}

static enum outcome split_ground(const struct job_context *context, const json_t *in, struct arena *arena, struct splitting *out,
                                 struct failure *why)
{
    struct site_facts facts;
    struct site_net net;
    struct shape outline;
    enum outcome outcome = load_shape(out->site.wkb, arena, &outline, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    if (outline.kind != SHAPE_POLYGONS) {
        fail(why, OUTCOME_DATA, "Site %s has no boundary to split.", out->site.code);
        return failure_remedy(why, "Bring one in first: spinney site, or change the site.");
    }
    outcome = site_facts_load(context->store, &out->site, context->today, arena, &facts, why);
    if (outcome == OUTCOME_OK)
        outcome = site_net_off(&facts, &outline, arena, &net, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    out->gross_m2 = net.gross_m2;
    out->net_m2 = net.net_m2;
    out->open = net.open;
    out->n_open = net.n_open;
    const struct shape *ground = option_flag(in, "gross") ? &outline : &net.plantable;
    outcome = shape_split_pieces(ground, out->n, option_number(in, "bearing_deg", unknown_real()), option_number(in, "buffer_m", 5), arena,
                                 &out->split, why);
    if (outcome == OUTCOME_OK && json_object_get(in, "area_m2") != NULL)
        outcome = pieces_cut(option_number(in, "area_m2", 0), arena, &out->split, why);
    return outcome;
}

static enum outcome split_draw(const struct job_context *context, const json_t *in, struct arena *arena, struct splitting *out,
                               struct failure *why)
{
    (void)context;
    const char *name = option_text(in, "name", arena_print(arena, "%s comparison", out->site.code));
    for (size_t i = 0; i < out->n; i++)
        out->pieces[i] = arena_print(arena, "piece %zu", i + 1);
    if (option_flag(in, "choose"))
        return trial_choose(out->pieces, out->codes, out->n, option_text(in, "reason", NULL), arena, &out->allocation, why);
    return trial_draw(name, out->pieces, out->codes, out->n, (uint64_t)option_integer(in, "seed", out->programme.seed), arena,
                      &out->allocation, why);
}

static enum outcome split_names(const struct job_context *context, const json_t *in, struct arena *arena, struct splitting *out,
                                struct failure *why)
{
    void *rows = NULL;
    size_t n_plots = 0;
    enum outcome outcome = load_of(context->store, NOUN_PLOT, "site_id", out->site.id, arena, &rows, &n_plots, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    out->n = words_split(option_text(in, "regimes", "dense_prepared,conventional"), arena, out->regimes);
    size_t n_codes = words_split(option_text(in, "codes", ""), arena, out->codes);
    if (out->n < 2 || (n_codes != 0 && n_codes != out->n))
        return fail(why, OUTCOME_USAGE, "%zu treatments and %zu codes were given; there must be two or more, and as many codes.", out->n,
                    n_codes);
    for (size_t i = 0; i < out->n; i++) {
        int regime = word_find(WORDS_REGIME, out->regimes[i]);
        if (regime <= 0) {
            fail(why, OUTCOME_USAGE, "\"%.60s\" is no regime.", out->regimes[i]);
            failure_remedy(why, "Use dense_prepared, conventional, sparse_prepared, dense_unprepared, unplanted or other_regime.");
            return OUTCOME_USAGE;
        }
        int same = 1;
        for (size_t j = 0; j < i; j++)
            same += text_same(out->regimes[j], out->regimes[i]);
        if (n_codes == 0)
            out->codes[i] = code_free(rows, n_plots, regime_letter(regime), out->site.id, same, arena);
    }
    return OUTCOME_OK;
}

static enum outcome split_store(const struct job_context *context, const json_t *in, struct arena *arena, struct splitting *made,
                                struct plot plots[MOST_PIECES], struct failure *why)
{
    struct comparison comparison;
    struct allocation allocation;
    noun_init(NOUN_COMPARISON, &comparison);
    noun_init(NOUN_ALLOCATION, &allocation);
    comparison.site_id = made->site.id;
    comparison.name = option_text(in, "name", arena_print(arena, "%s comparison", made->site.code));
    comparison.question = option_text(in, "question", NULL);
    comparison.outcome = option_text(in, "outcome", NULL);
    comparison.decide_on = option_date(in, "decide_on", DATE_UNKNOWN);
    comparison.margin_points = option_number(in, "margin_points", unknown_real());
    comparison.buffer_m = option_number(in, "buffer_m", 5);
    enum outcome outcome =
        store_begin(context->store, context->author, arena_print(arena, "split site %s into %zu plots", made->site.code, made->n), why);
    if (outcome != OUTCOME_OK)
        return outcome;
    json_t *pieces = json_array();
    for (size_t i = 0; i < made->n; i++) {
        size_t which = 0; /* the treatment that piece i received */
        for (size_t j = 0; j < made->n; j++)
            if (text_same(made->codes[j], made->allocation.treatments[i]))
                which = j;
        noun_init(NOUN_PLOT, &plots[i]);
        plots[i].site_id = made->site.id;
        plots[i].code = made->codes[which];
        plots[i].regime = (enum regime)word_find(WORDS_REGIME, made->regimes[which]);
        plots[i].density_m2 = regime_density_m2(plots[i].regime);
        plots[i].wkb = shape_to_wkb(&made->split.pieces[i], arena);
        json_array_append_new(pieces, json_pack("{s:s, s:s, s:f}", "piece", made->allocation.pieces[i], "treatment",
                                                made->allocation.treatments[i], "area_m2", shape_area_m2(&made->split.pieces[i])));
    }
    char *text = json_dumps(pieces, JSON_COMPACT);
    outcome = store_add(context->store, NOUN_PLOT, plots, made->n, why);
    if (outcome == OUTCOME_OK)
        outcome = store_add(context->store, NOUN_COMPARISON, &comparison, 1, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < made->n; i++) {
        struct comparison_plot member;
        noun_init(NOUN_COMPARISON_PLOT, &member);
        member.comparison_id = comparison.id;
        member.plot_id = plots[i].id;
        outcome = store_add(context->store, NOUN_COMPARISON_PLOT, &member, 1, why);
    }
    allocation.comparison_id = comparison.id;
    allocation.method = made->allocation.method;
    allocation.seed = made->allocation.method == ALLOCATION_METHOD_DRAWN_BY_LOT ? (int64_t)made->allocation.seed : INT_UNKNOWN;
    allocation.drawn_on = context->today;
    allocation.drawn_by = context->author;
    allocation.witness = option_text(in, "witness", NULL);
    allocation.pieces = text;
    allocation.reason = made->allocation.reason;
    if (outcome == OUTCOME_OK)
        outcome = store_add(context->store, NOUN_ALLOCATION, &allocation, 1, why);
    outcome = store_end(context->store, outcome, why);
    free(text);
    json_decref(pieces);
    return outcome;
}

static json_t *split_note(const struct job_context *context, const json_t *in, const struct splitting *made,
                          const struct plot plots[MOST_PIECES], struct arena *arena)
{
    json_t *out = note_new();
    note_answer(out, "Site %s is split into %zu plots of %.0f m² each with %.1f m between them. %s", made->site.code, made->n,
                made->split.piece_m2, option_number(in, "buffer_m", 5), made->allocation.sentence);
    json_t *table = section_table(note_section(out, "Plots"));
    table_column(table, "piece", "piece, left to right", "", -1);
    table_column(table, "plot", "plot", "", -1);
    table_column(table, "regime", "regime", "", -1);
    table_column(table, "area_m2", "area", "m²", 1);
    table_column(table, "density", "density", "per m²", 1);
    for (size_t i = 0; i < made->n; i++) {
        json_t *row = table_row(table);
        row_text(row, made->allocation.pieces[i]);
        row_text(row, plots[i].code);
        row_text(row, word_of(WORDS_REGIME, (int)plots[i].regime));
        row_number(row, shape_area_m2(&made->split.pieces[i]));
        row_number(row, plots[i].density_m2);
    }
    json_t *numbers = note_section(out, "Ground");
    section_text(numbers, "Outline %.0f m², plantable %.0f m² after the constraints, strips %.0f m² along a bearing of %.0f°.",
                 made->gross_m2, made->net_m2, made->split.strip_m2, made->split.bearing_deg);
    if (made->allocation.method == ALLOCATION_METHOD_DRAWN_BY_LOT)
        section_text(note_section(out, "The lot"), "Seed %llu, drawn on %s by %s%s%s.", (unsigned long long)made->allocation.seed,
                     day_words(context->today, arena), context->author,
                     option_text(in, "witness", NULL) == NULL ? ", no witness recorded" : ", seen by ", option_text(in, "witness", ""));
    for (size_t i = 0; i < made->n_open; i++)
        note_unknown(out, "%s", made->open[i]);
    note_source(out, "Allocation by lot: Fisher–Yates with Philox4x32-10 (Salmon et al. 2011), so that the seed repeats it.");
    return out;
}

static enum outcome split_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct splitting made = {.n = 0};
    struct plot plots[MOST_PIECES];
    enum outcome outcome = load_programme(context->store, &arena, &made.programme, why);
    if (outcome == OUTCOME_OK)
        outcome = load_site(context->store, option_text(in, "site", NULL), &arena, &made.site, why);
    if (outcome == OUTCOME_OK)
        outcome = split_names(context, in, &arena, &made, why);
    if (outcome == OUTCOME_OK)
        outcome = split_ground(context, in, &arena, &made, why);
    if (outcome == OUTCOME_OK)
        outcome = split_draw(context, in, &arena, &made, why);
    if (outcome == OUTCOME_OK)
        outcome = split_store(context, in, &arena, &made, plots, why);
    if (outcome == OUTCOME_OK)
        *note = split_note(context, in, &made, plots, &arena);
    arena_clear(&arena);
    return outcome;
}

const struct job job_split = {
    .name = "split",
    .summary = "make a dense plot and its comparison plot from one site, by lot",
    .about = "Cuts what may be planted of a site into plots of equal area with a gap between them, and draws by lot which gets which "
             "treatment. The "
             "draw is recorded with its seed; choosing instead needs a reason, which every report prints.",
    .example = "spinney split wood.gpkg --site LK --buffer-m 5 --witness V017",
    .access = JOB_WRITES,
    .options = split_options,
    .n_options = sizeof split_options / sizeof *split_options,
    .run = split_run,
};

/* ---- protocol ---- */

static const struct option protocol_options[] = {
    {"primary_outcome", OPTION_TEXT, false, "TEXT", "the one outcome that decides"},
    {"survey_window", OPTION_TEXT, false, "TEXT", "weeks of the year for the census"},
    {"established", OPTION_TEXT, false, "TEXT", "what counts as established"},
    {"replacement_policy", OPTION_TEXT, false, "TEXT", "when losses are replaced"},
    {"stopping_rules", OPTION_TEXT, false, "TEXT", "when a plot is given up"},
    {"analysis_plan", OPTION_TEXT, false, "TEXT", "how it will be judged"},
    {"margin_points", OPTION_NUMBER, false, "POINTS", "smallest worthwhile difference, percentage points"},
    {"lock", OPTION_FLAG, false, NULL, "lock it today"},
    {"reason", OPTION_TEXT, false, "TEXT", "why a locked protocol changes, or is locked late"},
};

static enum outcome protocol_newest(struct store *store, struct arena *arena, struct protocol *out, bool *found, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    enum outcome outcome = load_all(store, NOUN_PROTOCOL, arena, &rows, &n, why);
    *found = outcome == OUTCOME_OK && n > 0;
    if (*found)
        *out = ((struct protocol *)rows)[n - 1];
    return outcome;
}

static enum outcome protocol_wanted(const json_t *in, struct protocol *wanted, bool *any, struct arena *arena, struct failure *why)
{
    static const char *const fields[] = {"primary_outcome",    "survey_window",  "established",
                                         "replacement_policy", "stopping_rules", "analysis_plan"};
    for (size_t i = 0; i < sizeof fields / sizeof *fields; i++) {
        const char *text = option_text(in, fields[i], NULL);
        if (text == NULL)
            continue;
        *any = true;
        enum outcome outcome = field_read(noun_field(NOUN_PROTOCOL, fields[i]), wanted, text, arena, why);
        if (outcome != OUTCOME_OK)
            return outcome;
    }
    if (json_object_get(in, "margin_points") != NULL) {
        wanted->margin_points = option_number(in, "margin_points", 0);
        *any = true;
    }
    return OUTCOME_OK;
}

static void protocol_show(json_t *out, const struct protocol *protocol, struct arena *arena)
{
    json_t *table = section_table(note_section(out, "The rules"));
    table_column(table, "rule", "rule", "", -1);
    table_column(table, "words", "in words", "", -1);
    const struct noun_info *info = &noun_infos[NOUN_PROTOCOL];
    for (size_t i = 0; i < info->n_fields; i++) {
        if (info->fields[i].kind == FIELD_REF || info->fields[i].kind == FIELD_JSON)
            continue;
        json_t *row = table_row(table);
        row_text(row, info->fields[i].about);
        row_text(row, field_write(&info->fields[i], protocol, arena));
    }
}

static void seal_show(json_t *out, const struct seal_state *seal)
{
    json_t *section = note_section(out, "The seal"), *list = json_array();
    section_text(section, "%s", seal->sentence);
    if (seal->late != NULL)
        note_unknown(out, "%s", seal->late);
    if (seal->n_changes > 0) {
        json_t *table = section_table(section);
        table_column(table, "change", "changed since sealing", "", -1);
        for (size_t i = 0; i < seal->n_changes; i++)
            row_text(table_row(table), seal->changes[i]);
    }
    for (size_t i = 0; i < seal->n_changes; i++)
        json_array_append_new(list, json_string(seal->changes[i]));
    json_object_set_new(note_data(out), "sealed", json_boolean(seal->sealed));
    json_object_set_new(note_data(out), "seal_holds", seal->sealed ? json_boolean(seal->whole) : json_null());
    json_object_set_new(note_data(out), "changes", list);
}

/* The seals of all earlier versions that were locked. */
static enum outcome earlier_show(struct store *store, const struct protocol *now, json_t *out, struct arena *arena, struct failure *why)
{
    void *rows = NULL;
    size_t n = 0;
    json_t *table = NULL, *list = json_array();
    enum outcome outcome = load_all(store, NOUN_PROTOCOL, arena, &rows, &n, why);
    for (size_t i = 0; outcome == OUTCOME_OK && i < n; i++) {
        const struct protocol *one = &((struct protocol *)rows)[i];
        struct seal_state seal;
        if (one->id == now->id || one->locked_on == DATE_UNKNOWN)
            continue;
        outcome = seal_check(store, one, arena, &seal, why);
        if (outcome != OUTCOME_OK)
            break;
        if (table == NULL) {
            table = section_table(note_section(out, "Versions before this one"));
            table_column(table, "version", "version", "", -1);
            table_column(table, "locked", "locked on", "", -1);
            table_column(table, "seal", "seal", "", -1);
        }
        json_t *row = table_row(table);
        row_text(row, one->version);
        row_text(row, day_words(one->locked_on, arena));
        row_text(row, seal.sentence);
        json_array_append_new(list, json_pack("{s:s, s:b}", "version", one->version, "seal_holds", (int)(seal.sealed && seal.whole)));
    }
    json_object_set_new(note_data(out), "earlier", list);
    return outcome;
}

static enum outcome protocol_run(const struct job_context *context, const json_t *in, json_t **note, struct failure *why)
{
    struct arena arena = {0};
    struct protocol old, now;
    bool found = false, any = false;
    int32_t result_day = DATE_UNKNOWN;
    const char *remark = NULL, **open = NULL;
    size_t n_open = 0;
    struct seal_state seal;
    noun_init(NOUN_PROTOCOL, &now);
    enum outcome outcome = protocol_newest(context->store, &arena, &old, &found, why);
    if (outcome == OUTCOME_OK && found)
        now = old;
    if (outcome == OUTCOME_OK)
        outcome = protocol_wanted(in, &now, &any, &arena, why);
    bool fresh = !found, lock = option_flag(in, "lock");
    if (outcome == OUTCOME_OK && !found)
        now.version = "1.0";
    if (outcome == OUTCOME_OK && !found && !any) {
        fail(why, OUTCOME_DATA, "There is no protocol yet.");
        outcome = failure_remedy(why, "Write one: spinney protocol FILE --primary-outcome '…' --established '…' … --lock");
    }
    if (outcome == OUTCOME_OK && found && any) {
        struct protocol wanted = now;
        outcome = trial_amend(&old, &wanted, option_text(in, "reason", NULL), &arena, &now, why);
        fresh = outcome == OUTCOME_OK && old.locked_on != DATE_UNKNOWN;
        if (fresh) {
            now.id = 0;
            now.uuid = (struct uuid){{0}};
            now.supersedes_id = old.id;
            now.seal = now.sealed = NULL;
        } else {
            now.id = old.id;
        }
    }
    if (outcome == OUTCOME_OK && lock)
        outcome = first_result(context->store, &arena, &result_day, why);
    if (outcome == OUTCOME_OK && lock)
        outcome = trial_lock(&now, context->today, result_day, option_text(in, "reason", NULL), &arena, &remark, why);
    if (outcome == OUTCOME_OK && lock)
        outcome = seal_make(context->store, &now, remark, &arena, &open, &n_open, why);
    if (outcome == OUTCOME_OK && (any || lock)) {
        outcome =
            store_begin(context->store, context->author, arena_print(&arena, "protocol %s%s", now.version, lock ? " locked" : ""), why);
        if (outcome == OUTCOME_OK) {
            outcome =
                fresh ? store_add(context->store, NOUN_PROTOCOL, &now, 1, why) : store_change(context->store, NOUN_PROTOCOL, &now, why);
            outcome = store_end(context->store, outcome, why);
        }
    }
    if (outcome == OUTCOME_OK)
        outcome = seal_check(context->store, &now, &arena, &seal, why);
    if (outcome == OUTCOME_OK) {
        json_t *out = note_new();
        note_answer(out, "Protocol %s, %s%s%s%s", now.version, now.locked_on == DATE_UNKNOWN ? "a draft that is not locked" : "locked on ",
                    now.locked_on == DATE_UNKNOWN ? "" : day_words(now.locked_on, &arena), remark == NULL ? "." : ". ",
                    remark == NULL ? "" : remark);
        protocol_show(out, &now, &arena);
        if (found && fresh) {
            const char **sentences = NULL;
            size_t n = trial_differences(&old, &now, &arena, &sentences);
            json_t *table = section_table(note_section(out, "What changed since the version before"));
            table_column(table, "change", "change", "", -1);
            for (size_t i = 0; i < n; i++)
                row_text(table_row(table), sentences[i]);
        }
        seal_show(out, &seal);
        outcome = earlier_show(context->store, &now, out, &arena, why);
        for (size_t i = 0; i < n_open; i++)
            note_unknown(out, "%s", open[i]);
        json_object_set_new(note_data(out), "seal", now.seal == NULL ? json_null() : json_string(now.seal));
        json_object_set_new(note_data(out), "id", json_integer(now.id));
        json_object_set_new(note_data(out), "version", json_string(now.version));
        *note = out;
    }
    arena_clear(&arena);
    return outcome;
}

const struct job job_protocol = {
    .name = "protocol",
    .summary = "the rules of judging, locked with version and date",
    .about = "Shows the protocol, writes a draft, or locks it. A locked version stays for ever; a change makes the next one and says what "
             "differs and "
             "why.",
    .example = "spinney protocol wood.gpkg --primary-outcome 'cohort survival at the third autumn' --lock",
    .access = JOB_WRITES,
    .options = protocol_options,
    .n_options = sizeof protocol_options / sizeof *protocol_options,
    .run = protocol_run,
};
