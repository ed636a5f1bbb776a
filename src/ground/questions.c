/* SPDX-License-Identifier: GPL-3.0-or-later
 * Questions about what was typed: another unit, another method, layers that do not fit together. Nothing is changed here. */
#include "ground/pits.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static bool ask(struct soil_question *out, enum question_kind kind, const char *field, double given, double suggested, const char *sentence)
{
    *out = (struct soil_question){.kind = kind, .field = field, .given = given, .suggested = suggested, .sentence = sentence};
    return true;
}

static bool ask_depth(const char *field, double typed, bool metres, struct arena *arena, struct soil_question *out)
{
    double m = metres ? typed : typed / 100;
    if (m <= 3)
        return false;
    /* 4 m is 40 cm with a slipped place; 30 m is 30 cm in the wrong unit. */
    double cm = m < 10 ? m * 10 : m;
    double suggested = metres ? cm / 100 : cm;
    return ask(out, QUESTION_UNIT, field, typed, suggested,
               arena_print(arena, "A depth of %g %s is deeper than a soil pit. Is it %g cm?", typed, metres ? "m" : "cm", cm));
}

static bool ask_penetration(double typed, struct arena *arena, struct soil_question *out)
{
    if (typed <= 15)
        return false;
    if (typed >= 1000)
        return ask(out, QUESTION_UNIT, "penetration_mpa", typed, typed / 1000,
                   arena_print(arena, "%g is no penetration resistance in MPa. Is it kPa? That would be %g MPa.", typed, typed / 1000));
    if (typed >= 100)
        return ask(out, QUESTION_UNIT, "penetration_mpa", typed, typed / 1000,
                   arena_print(arena, "%g is no penetration resistance in MPa. Is it kPa (%g MPa), or pounds per square inch (%.2f MPa)?",
                               typed, typed / 1000, typed / 145.038));
    return ask(
        out, QUESTION_UNIT, "penetration_mpa", typed, typed / 10,
        arena_print(arena, "%g is no penetration resistance in MPa. Is it bar or kg/cm²? That would be about %g MPa.", typed, typed / 10));
}

struct slip {
    const char *field;
    double above;  /* ask where the figure exceeds this */
    double divide; /* by this if the answer is yes; 0: only unlikely */
    const char *unit, *given_unit, *what;
};
static const struct slip slips[] = {
    {"bulk_density_g_cm3", 500, 1000, "g/cm³", "kg/m³", "no soil is so dense"},
    {"bulk_density_g_cm3", 2.65, 0, "g/cm³", NULL, "solid mineral is 2.65 g/cm³; check the figure and its unit"},
    {"soc_pct", 20, 10, "%", "g/kg", "that is peat, not mineral soil"},
    {"loi_pct", 60, 10, "%", "g/kg", "that is peat, not mineral soil"},
    {"total_n_pct", 1.5, 10, "%", "g/kg", "that is more than mineral soil holds"},
    {"olsen_p_mg_l", 300, 0, "mg/L", NULL, "available phosphorus is seldom above 300; is it total phosphorus?"},
    {"infiltration_mm_h", 2000, 0, "mm/h", NULL, "that is faster than gravel; was a day's or a minute's figure typed?"},
    {"earthworms", 100, 0, "", NULL, "a cube of 20 cm seldom holds more than 100; is it a number per m²?"},
    {"lead_mg_kg", 20000, 1000, "mg/kg", "µg/kg", "that is ore"},
};

bool soil_question_number(const char *field, double typed, struct arena *arena, struct soil_question *out)
{
    if (!is_known(typed))
        return false;
    if (strcmp(field, "depth_m") == 0)
        return ask_depth("depth_m", typed, true, arena, out);
    if (strcmp(field, "depth_top_cm") == 0 || strcmp(field, "depth_bottom_cm") == 0 || strcmp(field, "refusal_cm") == 0)
        return ask_depth(field, typed, false, arena, out);
    if (strcmp(field, "penetration_mpa") == 0)
        return ask_penetration(typed, arena, out);
    if (strcmp(field, "ph") == 0 && (typed < 2.5 || typed > 10.5))
        return ask(out, QUESTION_UNLIKELY, "ph", typed, typed > 25 && typed < 105 ? typed / 10 : unknown_real(),
                   arena_print(arena,
                               typed > 25 && typed < 105 ? "A pH of %g cannot be. Is a decimal point missing?"
                                                         : "A pH of %g is hardly found in soil. Is it right?",
                               typed));
    for (size_t i = 0; i < sizeof slips / sizeof *slips; i++) {
        const struct slip *slip = &slips[i];
        if (strcmp(field, slip->field) != 0 || typed <= slip->above)
            continue;
        if (slip->divide > 0)
            return ask(out, QUESTION_UNIT, slip->field, typed, typed / slip->divide,
                       arena_print(arena, "%g %s: %s. Is it %s? That would be %g %s.", typed, slip->unit, slip->what, slip->given_unit,
                                   typed / slip->divide, slip->unit));
        return ask(out, QUESTION_UNLIKELY, slip->field, typed, unknown_real(),
                   arena_print(arena, "%g %s: %s.", typed, slip->unit, slip->what));
    }
    return false;
}

struct asking {
    struct arena *arena;
    struct soil_question *all; /* heap while it grows */
    size_t n, room;
};

static void add(struct asking *asking, struct soil_question question, size_t sample)
{
    asking->all = column_room(asking->all, asking->n, &asking->room, sizeof *asking->all);
    question.sample = sample;
    asking->all[asking->n++] = question;
}

static void ask_numbers(struct asking *asking, const struct soil_sample *s, size_t i)
{
    const struct {
        const char *field;
        double value;
    } numbers[] = {
        {"depth_top_cm", s->depth_top_cm},
        {"depth_bottom_cm", s->depth_bottom_cm},
        {"bulk_density_g_cm3", s->bulk_density_g_cm3},
        {"ph", s->ph},
        {"soc_pct", s->soc_pct},
        {"loi_pct", s->loi_pct},
        {"total_n_pct", s->total_n_pct},
        {"olsen_p_mg_l", s->olsen_p_mg_l},
        {"lead_mg_kg", s->lead_mg_kg},
        {"penetration_mpa", s->penetration_mpa},
        {"infiltration_mm_h", s->infiltration_mm_h},
        {"refusal_cm", s->refusal_cm},
        {"earthworms", s->earthworms == INT_UNKNOWN ? unknown_real() : (double)s->earthworms},
    };
    struct soil_question question;
    for (size_t k = 0; k < sizeof numbers / sizeof *numbers; k++)
        if (soil_question_number(numbers[k].field, numbers[k].value, asking->arena, &question))
            add(asking, question, i);
}

static void ask_methods(struct asking *asking, const struct soil_sample *s, size_t i)
{
    struct soil_question question;
    struct arena *arena = asking->arena;
    double unknown = unknown_real();
    if (is_known(s->soc_pct) && s->carbon_method == CARBON_METHOD_LOSS_ON_IGNITION) {
        ask(&question, QUESTION_METHOD, "soc_pct", s->soc_pct, unknown,
            arena_print(arena,
                        "%g %% organic carbon is said to come from loss on ignition. Is it the loss itself, or carbon worked out from it "
                        "(× 0.58, a rough screen)?",
                        s->soc_pct));
        add(asking, question, i);
    }
    if (is_known(s->soc_pct) && is_known(s->loi_pct) && s->loi_pct > 0 && s->soc_pct >= 0.8 * s->loi_pct) {
        ask(&question, QUESTION_METHOD, "soc_pct", s->soc_pct, unknown,
            arena_print(
                arena,
                "Organic carbon (%g %%) is nearly the loss on ignition (%g %%). Was the loss named as carbon? Carbon is about half of it.",
                s->soc_pct, s->loi_pct));
        add(asking, question, i);
    }
    if (is_known(s->soc_pct) && is_known(s->total_n_pct) && s->total_n_pct > 0 && s->soc_pct > 0.3) {
        double ratio = s->soc_pct / s->total_n_pct;
        if (ratio < 5 || ratio > 60) {
            ask(&question, QUESTION_UNIT, "total_n_pct", s->total_n_pct, ratio < 5 && ratio > 0.5 ? s->total_n_pct / 10 : unknown,
                arena_print(arena, "Carbon to nitrogen is %.1f. %s", ratio,
                            ratio < 5 ? "Is nitrogen in g/kg while carbon is in per cent?"
                                      : "Is carbon in g/kg while nitrogen is in per cent, or is there coal, clinker or fresh wood in it?"));
            add(asking, question, i);
        }
    }
    enum texture class = TEXTURE_UNKNOWN;
    struct failure why = {0};
    if (is_known(s->sand_pct) && is_known(s->silt_pct) && is_known(s->clay_pct)) {
        if (texture_of(s->sand_pct, s->silt_pct, s->clay_pct, 1, &class, &why) != OUTCOME_OK) {
            ask(&question, QUESTION_SUM, "sand_pct", s->sand_pct + s->silt_pct + s->clay_pct, unknown, arena_text(arena, why.sentence));
            add(asking, question, i);
        } else if (s->texture != TEXTURE_UNKNOWN && s->texture != class) {
            ask(&question, QUESTION_METHOD, "texture", unknown, unknown,
                arena_print(arena, "By feel it is %s, by the laboratory %s. The laboratory's class is used.", texture_words(s->texture),
                            texture_words(class)));
            add(asking, question, i);
        }
    }
}

static void ask_layers(struct asking *asking, const struct placed *placed, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const struct soil_sample *s = placed[i].sample;
        struct soil_question question;
        double top = s->depth_top_cm, bottom = s->depth_bottom_cm;
        if (is_known(top) && is_known(bottom) && bottom <= top) {
            ask(&question, QUESTION_UNLIKELY, "depth_bottom_cm", bottom, unknown_real(),
                arena_print(asking->arena, "The layer ends at %g cm but begins at %g cm. Are the two exchanged?", bottom, top));
            add(asking, question, placed[i].index);
            continue;
        }
        if (i == 0 || !pits_same(placed[i - 1].sample, s))
            continue;
        const struct soil_sample *before = placed[i - 1].sample;
        double end = before->depth_bottom_cm;
        if (!is_known(top) || !is_known(end) || !is_known(before->depth_top_cm))
            continue;
        if (top < end - 1e-9) {
            ask(&question, QUESTION_LAYER_OVERLAP, "depth_top_cm", top, end,
                arena_print(asking->arena, "The layers %g–%g cm and %g–%g cm overlap. Where does one end and the other begin?",
                            before->depth_top_cm, end, top, bottom));
            add(asking, question, placed[i].index);
        } else if (top > end + 1e-9) {
            ask(&question, QUESTION_LAYER_GAP, "depth_top_cm", top, unknown_real(),
                arena_print(asking->arena, "Nothing is recorded between %g and %g cm.", end, top));
            add(asking, question, placed[i].index);
        }
    }
}

struct soil_question *soil_questions(const struct soil_sample *samples, size_t n, struct arena *arena, size_t *n_out)
{
    struct asking asking = {.arena = arena};
    for (size_t i = 0; i < n; i++) {
        ask_numbers(&asking, &samples[i], i);
        ask_methods(&asking, &samples[i], i);
    }
    ask_layers(&asking, pits_place(samples, n, arena), n);
    struct soil_question *out = arena_array(arena, asking.n == 0 ? 1 : asking.n, sizeof *out);
    if (asking.n > 0)
        memcpy(out, asking.all, asking.n * sizeof *out);
    free(asking.all);
    *n_out = asking.n;
    return out;
}
