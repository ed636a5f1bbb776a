/* SPDX-License-Identifier: GPL-3.0-or-later
 * The limiting factor of each pit in words, and what it means for the design; also when the answer is to leave the ground alone. */
#include "ground/layer.h"
#include "ground/pits.h"
#include <math.h>
#include <string.h>

/* How deep the ground must be known to be open before loosening is called needless [cm]: loosening is 60–100 cm deep. */
static const double OPEN_TO_CM = 60;

struct judging {
    const struct ground_options *options;
    struct arena *arena;
    struct ground_pit *pit;
    const struct placed *placed; /* samples of this pit, from the top */
    size_t n, room_limits, room_unknown;
    double open_to_cm; /* from the surface down without a gap, known not to be compacted */
};

static void limit_add(struct judging *j, enum limit_kind kind, double top, double bottom, double value, const char *words,
                      const char *consequence)
{
    struct ground_pit *pit = j->pit;
    if (pit->n_limits == j->room_limits) {
        size_t room = j->room_limits == 0 ? 8 : 2 * j->room_limits;
        struct ground_limit *more = arena_array(j->arena, room, sizeof *more);
        if (pit->n_limits > 0)
            memcpy(more, pit->limits, pit->n_limits * sizeof *more);
        pit->limits = more;
        j->room_limits = room;
    }
    pit->limits[pit->n_limits++] = (struct ground_limit){kind, top, bottom, value, words, consequence};
}

static void unknown_add(struct judging *j, const char *words)
{
    struct ground_pit *pit = j->pit;
    if (pit->n_not_known == j->room_unknown) {
        size_t room = j->room_unknown == 0 ? 8 : 2 * j->room_unknown;
        const char **more = arena_array(j->arena, room, sizeof *more);
        if (pit->n_not_known > 0)
            memcpy(more, pit->not_known, pit->n_not_known * sizeof *more);
        pit->not_known = more;
        j->room_unknown = room;
    }
    pit->not_known[pit->n_not_known++] = words;
}

enum openness { OPEN_UNKNOWN, OPEN_YES, OPEN_NO };

/* Whether a layer lets roots through, and the reading that says so. A reading near field capacity goes before the density. */
static enum openness layer_open(const struct judging *j, size_t i, const char **reason, double *value)
{
    const struct soil_sample *s = j->placed[i].sample;
    const struct ground_layer *layer = &j->pit->layers[i];
    enum penetration_state state = penetration_judge(s->penetration_mpa, s->near_field_capacity, NULL);
    bool dense = layer->has_density && (layer->density.verdict == DENSITY_RESTRICTS ||
                                        (layer->density.verdict == DENSITY_AFFECTS && !is_known(layer->density.limit.restricts_above)));
    if (state == PENETRATION_RESTRICTING || state == PENETRATION_NEARLY_NO_ROOTS) {
        *reason = arena_print(j->arena, "%g MPa near field capacity", s->penetration_mpa);
        *value = s->penetration_mpa;
        return OPEN_NO;
    }
    if (dense) {
        *reason = layer->density.words;
        *value = s->bulk_density_g_cm3;
        return OPEN_NO;
    }
    return state == PENETRATION_FREE || layer->has_density ? OPEN_YES : OPEN_UNKNOWN;
}

static void find_compaction(struct judging *j)
{
    double reached = 0, top = unknown_real(), bottom = unknown_real(), worst = unknown_real(), known_open = 0;
    const char *reason = NULL;
    bool unbroken = true;
    for (size_t i = 0; i < j->n; i++) {
        const struct soil_sample *s = j->placed[i].sample;
        const char *why = NULL;
        double value = unknown_real();
        enum openness open = layer_open(j, i, &why, &value);
        double from = s->depth_top_cm, to = s->depth_bottom_cm;
        if (is_known(from) != is_known(to)) /* a reading at one depth */
            from = to = is_known(from) ? from : to;
        if (open == OPEN_NO) {
            bool joins = is_known(bottom) && is_known(from) && from <= bottom + 1e-9;
            if (reason != NULL && !joins) {
                limit_add(j, LIMIT_COMPACTED, top, bottom, worst, arena_print(j->arena, "compacted %g–%g cm: %s", top, bottom, reason),
                          NULL);
                reason = NULL;
            }
            if (reason == NULL) {
                top = from;
                bottom = to;
                worst = value;
                reason = why;
            } else {
                bottom = fmax(bottom, to);
                if (value > worst) {
                    worst = value;
                    reason = why;
                }
            }
        }
        if (!is_known(from) || from > reached + 1e-9)
            unbroken = unbroken && !is_known(from);
        if (is_known(to))
            reached = fmax(reached, to);
        unbroken = unbroken && (open == OPEN_YES || !is_known(from));
        if (unbroken && open == OPEN_YES && is_known(to))
            known_open = reached;
    }
    if (reason != NULL)
        limit_add(j, LIMIT_COMPACTED, top, bottom, worst,
                  is_known(top) ? arena_print(j->arena, "compacted %g–%g cm: %s", top, bottom, reason)
                                : arena_print(j->arena, "compacted: %s; the depth is not recorded", reason),
                  NULL);
    j->open_to_cm = known_open;
}

static void decide_loosening(struct judging *j)
{
    struct ground_pit *pit = j->pit;
    pit->loosen_to_cm = unknown_real();
    bool compacted = false;
    for (size_t i = 0; i < pit->n_limits; i++) {
        struct ground_limit *limit = &pit->limits[i];
        compacted = true;
        if (is_known(limit->bottom_cm) && !(pit->loosen_to_cm >= limit->bottom_cm))
            pit->loosen_to_cm = limit->bottom_cm;
        limit->consequence =
            is_known(limit->bottom_cm)
                ? arena_print(
                      j->arena,
                      "Break it up to %g cm when dry (a 3 mm thread of soil from that depth must crack), the machine working backwards; "
                      "stop above services, water table, finds and contamination.",
                      fmin(100, limit->bottom_cm))
                : "Find out how deep it goes before digging.";
    }
    if (compacted) {
        pit->loosening = TRUTH_YES;
    } else if (j->open_to_cm >= OPEN_TO_CM) {
        pit->loosening = TRUTH_NO;
    } else {
        pit->loosening = TRUTH_UNKNOWN;
        unknown_add(j, j->open_to_cm > 0 ? arena_print(j->arena, "whether the ground is compacted below %g cm", j->open_to_cm)
                                         : "whether the ground is compacted (no density, and no penetration reading near field capacity)");
    }
}

static void find_layer_limits(struct judging *j, const struct soil_sample *s)
{
    double stones = !is_known(s->stones_pct)       ? s->made_ground_pct
                    : is_known(s->made_ground_pct) ? s->stones_pct + s->made_ground_pct
                                                   : s->stones_pct;
    double top = s->depth_top_cm, bottom = s->depth_bottom_cm;
    const char *depth = is_known(top) && is_known(bottom) ? arena_print(j->arena, " %g–%g cm", top, bottom) : "";
    const char *words = NULL;
    if (stones > 25)
        limit_add(j, LIMIT_STONES, top, bottom, stones,
                  arena_print(j->arena, "%s %g %% by volume%s",
                              is_known(s->made_ground_pct) && s->made_ground_pct > 25 ? "rubble" : "stones", stones, depth),
                  stones >= 40
                      ? "40 % or more: roots and tools find little soil; take the coarse pieces out, or plant what bears stony, dry ground."
                      : "Less soil holds water: count the available water of the whole soil.");
    enum ph_state ph = ph_judge(s->ph, s->ph_method, &words);
    if (ph == PH_OUTSIDE || ph == PH_ACID || ph == PH_LIME)
        limit_add(j,
                  ph == PH_OUTSIDE ? LIMIT_PH_OUTSIDE
                  : ph == PH_ACID  ? LIMIT_ACID
                                   : LIMIT_LIME,
                  top, bottom, s->ph, arena_print(j->arena, "pH %g%s", s->ph, depth), words);
    if (s->mottles == TRUTH_YES && !(top > 60))
        limit_add(j, LIMIT_WET, top, bottom, unknown_real(), arena_print(j->arena, "grey and orange spots%s: wet in winter", depth),
                  "Plant what stands wet in winter, or mound; say where the water will go.");
    if (s->water_table_cm < 60)
        limit_add(j, LIMIT_WET, unknown_real(), unknown_real(), s->water_table_cm,
                  arena_print(j->arena, "standing water at %g cm", s->water_table_cm),
                  "Stop loosening above the water; plant what stands wet, or mound.");
    enum infiltration_state infiltration = infiltration_judge(s->infiltration_mm_h, &words);
    if (infiltration == INFILTRATION_POOR || infiltration == INFILTRATION_SLOW || infiltration == INFILTRATION_DROUGHTY)
        limit_add(j, infiltration == INFILTRATION_DROUGHTY ? LIMIT_DROUGHTY : LIMIT_WET, unknown_real(), unknown_real(),
                  s->infiltration_mm_h, arena_print(j->arena, "infiltration %g mm/h", s->infiltration_mm_h), words);
    if (s->refusal_cm < 100)
        limit_add(j, LIMIT_REFUSAL, s->refusal_cm, unknown_real(), s->refusal_cm,
                  arena_print(j->arena, "the auger stopped at %g cm", s->refusal_cm),
                  "Open a pit to see whether it is one stone, a layer or a structure before a depth is planned.");
    double rich = j->options->rich_olsen_p_mg_l > 0 ? j->options->rich_olsen_p_mg_l : 25;
    if (s->olsen_p_mg_l > rich)
        limit_add(j, LIMIT_RICH, top, bottom, s->olsen_p_mg_l,
                  arena_print(j->arena, "available phosphorus %g mg/L%s", s->olsen_p_mg_l, depth),
                  "Rich ground grows nettles, not woodland flora: use little compost or none.");
    if (j->options->lead_screen_mg_kg > 0 && s->lead_below_detection != TRUTH_YES && s->lead_mg_kg > j->options->lead_screen_mg_kg)
        limit_add(j, LIMIT_CONTAMINANT, top, bottom, s->lead_mg_kg,
                  arena_print(j->arena, "lead %g mg/kg%s, above the screening figure of %g given here", s->lead_mg_kg, depth,
                              j->options->lead_screen_mg_kg),
                  "Do not dig, bag or sift until a contaminated-land specialist has looked; the local regulator decides.");
}

static void find_unknowns(struct judging *j)
{
    bool ph = false, water = false, stones = false, texture = false, dry = false, infiltration = false;
    for (size_t i = 0; i < j->n; i++) {
        const struct soil_sample *s = j->placed[i].sample;
        ph = ph || is_known(s->ph);
        infiltration = infiltration || is_known(s->infiltration_mm_h);
        water = water || s->mottles != TRUTH_UNKNOWN || is_known(s->water_table_cm);
        stones = stones || is_known(s->stones_pct) || is_known(s->made_ground_pct);
        texture = texture || j->pit->layers[i].texture != TEXTURE_UNKNOWN;
        dry = dry || penetration_judge(s->penetration_mpa, s->near_field_capacity, NULL) == PENETRATION_NOT_COMPARABLE;
    }
    if (!texture)
        unknown_add(j, "texture");
    if (!stones)
        unknown_add(j, "stones and made ground");
    if (!ph)
        unknown_add(j, "pH");
    if (!water && !infiltration)
        unknown_add(j, "whether it is wet in winter (spots, standing water, infiltration)");
    if (dry)
        unknown_add(j, "penetration resistance: read when dry or not recorded, so not comparable");
}

static void find_available(struct judging *j)
{
    struct soil_layer_water *layers = arena_array(j->arena, j->n == 0 ? 1 : j->n, sizeof *layers);
    size_t n = 0;
    for (size_t i = 0; i < j->n; i++) {
        const struct soil_sample *s = j->placed[i].sample;
        if (!j->pit->layers[i].has_water || !is_known(s->depth_top_cm) || !is_known(s->depth_bottom_cm))
            continue;
        layers[n++] = (struct soil_layer_water){s->depth_top_cm / 100, s->depth_bottom_cm / 100, j->pit->layers[i].water.available_whole};
    }
    double depth = j->options->root_depth_m > 0 ? j->options->root_depth_m : 1;
    j->pit->available_mm = soil_available_mm(layers, n, depth, &j->pit->available_to_m);
}

static void statement_write(struct judging *j)
{
    struct ground_pit *pit = j->pit;
    struct text text = {0};
    for (size_t i = 0; i < pit->n_limits; i++)
        text_print(&text, "%s%s", i > 0 ? "; " : "", pit->limits[i].words);
    if (pit->n_limits > 0)
        text_add(&text, ". ");
    if (pit->loosening == TRUTH_YES) {
        if (is_known(pit->loosen_to_cm))
            text_print(&text, "Loosen to %g cm.", fmin(100, pit->loosen_to_cm));
        else
            text_add(&text, "Loosening is needed; how deep is not known.");
    } else if (pit->loosening == TRUTH_NO) {
        text_print(&text, "No deep loosening needed here: open to %g cm.", j->open_to_cm);
    } else if (j->open_to_cm > 0) {
        text_print(&text, "Nothing compacted down to %g cm; deeper is not known: look before digging.", j->open_to_cm);
    } else {
        text_add(&text, "Whether loosening is needed is not known.");
    }
    for (size_t i = 0; i < pit->n_not_known; i++)
        text_print(&text, "%s%s", i == 0 ? " Not known: " : "; ", pit->not_known[i]);
    if (pit->n_not_known > 0)
        text_add(&text, ".");
    pit->statement = arena_text(j->arena, text_get(&text));
    text_free(&text);
}

static void pit_judge(const struct ground_options *options, const struct placed *placed, size_t n, struct arena *arena,
                      struct ground_pit *pit)
{
    const struct soil_sample *first = placed[0].sample;
    *pit = (struct ground_pit){.site_id = first->site_id,
                               .plot_id = first->plot_id,
                               .zone = first->zone,
                               .composite = first->composite,
                               .time_point = first->time_point,
                               .sampled_on = first->sampled_on,
                               .n_layers = n};
    pit->layers = arena_array(arena, n, sizeof *pit->layers);
    struct judging j = {.options = options, .arena = arena, .pit = pit, .placed = placed, .n = n};
    for (size_t i = 0; i < n; i++)
        layer_judge(placed[i].sample, placed[i].index, options, arena, &pit->layers[i]);
    find_compaction(&j);
    decide_loosening(&j);
    for (size_t i = 0; i < n; i++)
        find_layer_limits(&j, placed[i].sample);
    find_unknowns(&j);
    find_available(&j);
    statement_write(&j);
}

static const char *pit_name(const struct ground_pit *pit, struct arena *arena)
{
    return arena_print(arena, "%s%s%s%s", pit->zone != NULL ? "Zone " : "", pit->zone != NULL ? pit->zone : "",
                       pit->zone != NULL && pit->composite != NULL ? ", " : "",
                       pit->composite != NULL ? pit->composite
                       : pit->zone == NULL    ? "Sample without a name"
                                              : "");
}

enum outcome ground_judge(const struct soil_sample *samples, size_t n, const struct ground_options *options, struct arena *arena,
                          struct ground_judgement *out, struct failure *why)
{
    if (n == 0) {
        fail(why, OUTCOME_DATA, "There is no soil sample to judge.");
        return failure_remedy(why, "Dig two pits in each zone, or sample by auger, and record depths.");
    }
    require(options->source < DENSITY_SOURCES);
    struct ground_judgement judged = {0};
    const struct placed *placed = pits_place(samples, n, arena);
    judged.pits = arena_array(arena, n, sizeof *judged.pits);
    size_t needed = 0, needless = 0;
    for (size_t i = 0; i < n;) {
        size_t end = i + 1;
        while (end < n && pits_same(placed[i].sample, placed[end].sample))
            end++;
        struct ground_pit *pit = &judged.pits[judged.n_pits++];
        pit_judge(options, placed + i, end - i, arena, pit);
        needed += pit->loosening == TRUTH_YES;
        needless += pit->loosening == TRUTH_NO;
        i = end;
    }
    struct text text = {0};
    if (judged.n_pits > 1)
        text_print(&text, "%zu pits or composites, kept apart: loosening is needed at %zu, not needed at %zu, not known at %zu.",
                   judged.n_pits, needed, needless, judged.n_pits - needed - needless);
    for (size_t i = 0; i < judged.n_pits && i < 6; i++)
        text_print(&text, "%s%s: %s", text.n > 0 ? " " : "", pit_name(&judged.pits[i], arena), judged.pits[i].statement);
    if (judged.n_pits > 6)
        text_print(&text, " The other %zu stand in the table.", judged.n_pits - 6);
    judged.answer = arena_text(arena, text_get(&text));
    text_free(&text);
    judged.questions = soil_questions(samples, n, arena, &judged.n_questions);
    *out = judged;
    return OUTCOME_OK;
}
