/* SPDX-License-Identifier: GPL-3.0-or-later
 * The list of checks: what each looks for, whether it holds a row, where its threshold comes from, what can set it off
 * wrongly. Grades: L read in the source, P published and recalled, C common practice without a source. */
#include "survey/doubts.h"
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PRACTICE "C: common practice, no source"
const struct check_info survey_checks[] = {
    /* reading */
    {"open_question", "A question is not answered yet", true, "none: the row cannot be read before",
     "nothing; it goes when the question is answered"},
    {"date_order", "Date against the order given", true, "none: no such day", "nothing"},
    {"out_of_limits", "Outside what can be stored", true, "the limits of the field", "a giant, or another unit"},
    {"no_plot", "Plot not known", true, "none: no such plot", "a plot that is not in the programme yet"},
    {"no_plant", "Plant not known", true, "none: no such plant", "a plant that is not in the programme yet, a self-sown one"},
    {"several_plants", "Several plants fit", true, "none", "labels used twice"},
    {"tag_disagrees", "Label and place disagree", true, "none", "a label moved on purpose"},
    {"wrong_plot", "Plot letter may be wrong", true, PRACTICE, "the same square, number and species planted in both plots"},
    {"label_elsewhere", "One label in two plots of the file", true, "none: labels of this site are not numbered anew in every plot",
     "labels that are numbered in each plot: answer the question “labels”"},
    {"cell_outside", "Square outside the plot", true, "the squares known of the plot", "a plot that was enlarged"},
    {"cell_date", "Square turned into a date by a spreadsheet", true, "none: a square is no date", "nothing"},
    {"blank_status", "State not recorded", true, "none", "a form on which a height means alive"},
    {"required_blank", "Something that must be known is blank", true, "none", "nothing"},
    {"zero_size", "A size of nought", true, "none: a living plant has a size", "nought written for dead or not measured"},
    {"exact_duplicate", "The same row again", true, "none: all fields equal", "two plants alike with the same label"},
    {"already_recorded", "Already in the programme", true, "none: all fields equal", "nothing"},
    {"recorded_twice", "One observer, one plant, one day, two findings", true, "none", "a second measurement not marked as one"},
    {"two_observers", "One plant by two observers", false, "none: both are kept", "nothing"},
    {"coordinates_swapped", "Latitude and longitude may be swapped", true, "the programme's own place, half a degree around",
     "a site far off"},
    /* plants against the last survey */
    {"shrinkage", "Smaller than last time without damage", true, PRACTICE " (loss of more than 15 %, and of more than measuring error)",
     "dieback not coded, another tip or another point measured, soil raised around the stem"},
    {"ten_times", "Ten times what it should be", true, PRACTICE " (a tenth of it fits, it does not)",
     "growth at the limit of T78 in a small plant"},
    {"tenth", "A tenth of what it should be", true, PRACTICE, "cut or browsed to the ground and not coded"},
    {"metres", "Metres where centimetres belong", true, PRACTICE, "a seedling under 10 cm"},
    {"too_fast", "More growth than is plausible", true, "C: T78, height up to 150 cm and collar up to 20 mm a year",
     "coppice shoots, poplar and willow on rich wet ground"},
    {"unlike_others", "Change unlike that of the others of this survey", true,
     "C: 6 robust standard deviations of the log ratio (median, MAD × 1.4826)",
     "one in some thousands of true records; more where growth is very uneven"},
    {"resurrection", "Dead last time, alive now", true, "none: one of the two is wrong, or it has resprouted",
     "bud dormancy, basal resprout"},
    {"tag_reused", "A replacement under the dead plant's label", true, "none: a new plant has a new identity", "a resprout that is small"},
    {"species_change", "Another species than planted", true, "none", "the as-planted name was wrong"},
    {"species_misspelt", "Species name misspelt", true, "C: up to 2 letters off a known name", "a real name that is near another"},
    {"species_unknown", "Species name not known", true, "none: the library has no such name", "a species the library lacks"},
    {"species_given", "The species given for all rows is not in the library", false, "none: the library has no such name",
     "a species the library lacks"},
    {"species_synonym", "Another name of the same species", false, "the library's synonyms", "nothing"},
    {"swapped_pair", "Two records may be exchanged", true, "C: exchanging them mends both", "two odd plants by chance"},
    {"swapped_rows", "Two rows of squares may be exchanged", true, "C: exchanging them mends at least 3 squares and 60 % of them",
     "very even stands do not show it at all"},
    {"diameter_height", "Diameter taken at another height than last time", true, "none: the two are never compared",
     "an overlap survey on purpose"},
    {"observer_diameter", "One observer's diameters run low or high", false,
     "C: median log ratio 4 standard errors and 8 % off the other observers'", "an observer who had the poorer plots"},
    {"outside_visit", "Day outside the visit", true, "the days of the visit", "a visit finished later"},
    {"future", "Day not come yet", true, "none", "a wrong clock"},
    {"before_planting", "Day before the plant was planted", true, "none", "a wrong day of planting"},
    {"window", "Outside the survey window", false, "C: T77, mid-August to end of September, or the protocol's",
     "a protocol with another window"},
    {"leafless", "Surveyed without leaves", false, "C: T77", "evergreens"},
    {"heaping", "Heights heaped on 0 and 5", false, "Whipple's index 175 (very rough; Shryock & Siegel 1976, P) and binomial p < 0.001",
     "a protocol that asks for 5 cm steps"},
    /* soil */
    {"ph_method_mixed", "pH may have been measured in another solution", true,
     "P: pH in calcium chloride reads 0.3 to 1.2 lower than in water", "liming, or acid litter over years"},
    {"loi_as_soc", "Loss on ignition headed as carbon", true,
     "C: 1.45 to 2.4 times the former carbon (conventional factor 1.724) throughout the plot", "compost newly worked in"},
    {"g_kg_as_pct", "Grams per kilogram read as per cent", true,
     "C: carbon to nitrogen below 4 or above 60, and right after a factor of ten", "pure compost, charcoal, cinder"},
    {"below_detection_zero", "Zero where a laboratory gives a limit", true, "none: no soil holds none", "nothing"},
    {"depth_order", "Depths the wrong way round", true, "none", "nothing"},
    {"texture_sum", "Sand, silt and clay do not add up", true, "C: 95 to 105 %", "carbonate or organic matter left in"},
    /* wildlife */
    {"effort_blank", "No effort recorded", true, "none: a count without effort cannot be compared", "nothing"},
    {"zero_or_blank", "Nothing seen, or not looked?", true, "none", "nothing"},
    {"missing_zero", "A look that may be missing because nothing was seen", false,
     "C: the other plots of the round were looked at that day", "a plot left out on purpose"},
    /* weather */
    {"rain_blank", "Rain blank", false, "none: blank is not zero", "nothing"},
    {"rain_zero_run", "A long run of dry days", false, "C: fewer than 1 in 1,000 by the file's own dry spells",
     "a true drought; rain has memory"},
    {"day_missing", "Days left out", false, "none", "nothing"},
    {"day_twice", "A day given twice", true, "none", "two gauges"},
    {"t_min_above_max", "Lowest temperature above highest", true, "none", "nothing"},
    /* costs and hours */
    {"tax_mixed", "Tax may be in this price", true,
     "C: the amount is quantity times price times a usual tax rate, or the same item elsewhere times it",
     "a price that rose by that share"},
    {"amount_differs", "Amount is not quantity times price", true, "C: more than 1 % and 0.02 off", "a discount"},
    {"day_doubled", "The same hours may be entered twice", true, "none: same site, day and task, and the same people or hours",
     "two groups of equal size"},
};
const size_t n_survey_checks = sizeof survey_checks / sizeof *survey_checks;

const struct check_info *survey_check_find(const char *id)
{
    for (size_t i = 0; i < n_survey_checks; i++)
        if (strcmp(survey_checks[i].id, id) == 0)
            return &survey_checks[i];
    return NULL;
}

struct doubt *doubt_add(struct doubts *doubts, const char *check, int64_t row, const char *field, const char *sentence, ...)
{
    char words[2 * FAILURE_TEXT];
    va_list list;
    va_start(list, sentence);
    vsnprintf(words, sizeof words, sentence, list);
    va_end(list);
    doubts->at = column_room(doubts->at, doubts->n, &doubts->room, sizeof *doubts->at);
    struct doubt *doubt = &doubts->at[doubts->n++];
    *doubt = (struct doubt){.check = survey_check_find(check),
                            .row = row,
                            .other = NO_ROW,
                            .rows = 1,
                            .field = field,
                            .seen = unknown_real(),
                            .before = unknown_real(),
                            .limit = unknown_real()};
    require(doubt->check != NULL);
    doubt->sentence = arena_text(doubts->arena, words);
    return doubt;
}

void doubt_remedy(struct doubts *doubts, struct doubt *doubt, const char *decision, const char *words, ...)
{
    if (doubt->n_remedies >= MOST_REMEDIES)
        return;
    char said[FAILURE_TEXT];
    va_list list;
    va_start(list, words);
    vsnprintf(said, sizeof said, words, list);
    va_end(list);
    doubt->remedies[doubt->n_remedies++] = (struct remedy){arena_text(doubts->arena, decision), arena_text(doubts->arena, said)};
}

void doubt_usual(struct doubts *doubts, struct doubt *doubt, const char *accept_words)
{
    doubt_remedy(doubts, doubt, "accept", "%s", accept_words);
    doubt_remedy(doubts, doubt, "reject", "leave the row out");
}

void doubt_evidence(struct doubt *doubt, double seen, double before, double limit)
{
    doubt->seen = seen;
    doubt->before = before;
    doubt->limit = limit;
}

static int doubt_order(const void *a, const void *b)
{
    const struct doubt *x = a, *y = b;
    if (x->row != y->row)
        return x->row < y->row ? -1 : 1;
    if (x->check != y->check)
        return x->check < y->check ? -1 : 1;
    if (x->other != y->other)
        return x->other < y->other ? -1 : 1;
    return strcmp(x->sentence, y->sentence);
}

void doubts_done(struct doubts *doubts, struct doubt **out, size_t *n)
{
    if (doubts->n > 0)
        qsort(doubts->at, doubts->n, sizeof *doubts->at, doubt_order);
    *out = arena_array(doubts->arena, doubts->n, sizeof **out);
    if (doubts->n > 0)
        memcpy(*out, doubts->at, doubts->n * sizeof **out);
    *n = doubts->n;
    free(doubts->at);
    doubts->at = NULL;
    doubts->n = doubts->room = 0;
}

const char *figure(struct arena *arena, double x)
{
    char out[64];
    number_fixed(x, 2, out);
    if (strchr(out, '.') != NULL) {
        size_t n = strlen(out);
        while (n > 0 && out[n - 1] == '0')
            out[--n] = '\0';
        if (n > 0 && out[n - 1] == '.')
            out[n - 1] = '\0';
    }
    return arena_text(arena, out);
}
