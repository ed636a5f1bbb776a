/* SPDX-License-Identifier: GPL-3.0-or-later
 * The invented ledgers: soil, weather, care, costs and hours, as the people of the town hand them over, mistakes among them. */
#include "town.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- soil ---- */

struct ground {
    double sand, silt, clay, density, stones, ph, soc, infiltration, lead;
    double mpa[3]; ///< at 10, 30 and 50 cm
    int worms;
    const char *mottles;
};
static const struct ground grounds[SITES] = {
    {12, 44, 44, 1.42, 6, 7.8, 2.1, 4, 410, {1.6, 2.9, 3.4}, 4, "yes"},
    {66, 22, 12, 1.30, 52, 8.2, 6.9, 600, 130, {2.8, 4.2, 5.0}, 1, "no"},
    {26, 38, 36, 1.40, 8, 7.1, 2.4, 15, 60, {1.4, 2.9, 3.1}, 7, "no"},
    {62, 26, 12, 1.55, 18, 6.4, 1.9, 22, 45, {2.4, 3.8, 2.6}, 5, "no"},
    {38, 40, 22, 1.22, 4, 6.7, 3.5, 40, 70, {0.9, 2.6, 1.8}, 19, "no"},
    {90, 6, 4, 1.48, 12, 5.2, 0.5, 480, 20, {0.8, 1.4, 1.9}, 0, "no"},
};
static const char *const surveyed[SITES] = {"2021-08-12", "2021-08-18", "2021-08-24", "2021-08-30", "2022-08-09", "2022-08-16"};
static const char *const amended[SITES] = {"2021-12-10", "2022-01-14", "2021-12-17", "2022-02-04", "2022-11-25", "2022-12-09"};

static void soil_survey(const char *folder)
{
    struct text out = {0};
    text_add(&out, "site,composite,time_point,sampled_on,depth_top_cm,depth_bottom_cm,sand,silt,clay,bulk_density_g_cm3,stones,pH "
                   "(water),organic carbon %,"
                   "penetration_mpa,near_field_capacity,infiltration_mm_h,earthworms,mottles\n");
    for (int s = 0; s < SITES; s++)
        for (int layer = 0; layer < 3; layer++) {
            const struct ground *g = &grounds[s];
            static const double depth[] = {0, 20, 40, 60};
            text_print(&out, "%s,P1,before_works,%s,%.0f,%.0f,%.0f,%.0f,%.0f,%.2f,%.0f,%.1f,", town_sites[s].code, surveyed[s],
                       depth[layer], depth[layer + 1], g->sand - layer, g->silt - layer, g->clay + 2 * layer, g->density + 0.08 * layer,
                       g->stones + 3 * layer, g->ph + 0.1 * layer);
            text_print(&out, "%.2f,%.1f,yes,", g->soc * pow(0.6, layer), g->mpa[layer]);
            if (layer == 0)
                text_print(&out, "%.0f,%d,%s\n", g->infiltration, g->worms, g->mottles);
            else
                text_print(&out, ",,%s\n", g->mottles);
        }
    file_put(folder, "soil-survey.csv", &out);
}

/* Organic carbon in per cent of a plot at a time: compost came with the works and goes slowly; cinder at the siding stays. */
static double carbon(const struct town_plot *plot, int time, bool deep, const struct ground *g)
{
    double base = g->soc * (deep ? 0.7 : 1), compost = 0;
    if ((plot->letter == 'D' || plot->letter == 'P') && time > 0)
        compost = (deep ? 0.6 : 2.0) - (time == 2 ? (deep ? 0.1 : 0.15 * (2025 - town_sites[plot->site].cohort + 1)) : 0);
    return base + compost;
}

/* Total nitrogen in per cent: the soil's carbon over 12, the compost's over 14; cinder carbon (BS) has none. */
static double nitrogen(const struct town_plot *plot, int time, bool deep, const struct ground *g)
{
    double base = (g->soc - (plot->site == BS ? 4.5 : 0)) * (deep ? 0.7 : 1);
    double compost = carbon(plot, time, deep, g) - g->soc * (deep ? 0.7 : 1);
    return base / 12 + compost / 14;
}

enum soil_mistake { SOIL_NONE, SOIL_PH, SOIL_LOI, SOIL_NITROGEN, SOIL_LEAD };

static void soil_file(const char *folder, uint64_t seed, int time)
{
    static const char *const names[] = {"soil-before.csv", "soil-amended.csv", "soil-2025.csv"};
    static const char *const points[] = {"before_works", "after_amendment", "follow_up"};
    struct text out = {0};
    long row = 1;
    int leads = 0;
    text_add(&out,
             "site,plot,composite,time_point,sampled_on,depth_top_cm,depth_bottom_cm,bulk_density_g_cm3,stones,pH,ph_method,SOC %,total N "
             "%,lead_mg_kg\n");
    for (int p = 0; p < PLOTS; p++)
        for (int k = 0; k < 3; k++)
            for (int layer = 0; layer < 2; layer++) {
                const struct town_plot *plot = &town_plots[p];
                const struct ground *g = &grounds[plot->site];
                struct random_stream r = random_make(seed, STREAM_SOIL + (uint64_t)(time * 1000 + p * 10 + k * 2 + layer));
                double patch = exp(0.20 * random_normal(&r) - 0.02), soc = carbon(plot, time, layer == 1, g) * patch,
                       n = nitrogen(plot, time, layer == 1, g) * patch * exp(0.05 * random_normal(&r));
                double ph = g->ph + 0.12 * random_normal(&r),
                       density = g->density + 0.05 * random_normal(&r) - (time > 0 && plot->letter != 'C' ? 0.12 : 0);
                double lead = g->lead * exp(0.1 * random_normal(&r));
                char truth[40], written[40];
                row++;
                snprintf(truth, sizeof truth, "%.2f", ph);
                if (time == 2 && (plot->site == LH || plot->site == TS)) {
                    ph -= 0.6;
                    snprintf(written, sizeof written, "%.2f", ph);
                    mistake_add(names[time], row, "pH in calcium chloride called water", town_sites[plot->site].code, "ph_method", truth,
                                written, "ph_method_mixed");
                    decision_add(names[time], row, "correct:ph_method=calcium_chloride", "the laboratory says it was calcium chloride");
                }
                snprintf(truth, sizeof truth, "%.2f", soc);
                if (time == 2 && plot->site == FB) {
                    soc *= 1.85;
                    snprintf(written, sizeof written, "%.2f", soc);
                    mistake_add(names[time], row, "loss on ignition headed SOC", town_sites[plot->site].code, "soc_pct", truth, written,
                                "loi_as_soc");
                    char what[120];
                    snprintf(what, sizeof what, "correct:loi_pct=%s;soc_pct=;carbon_method=loss_on_ignition", written);
                    decision_add(names[time], row, what, "the laboratory says it was loss on ignition");
                }
                snprintf(truth, sizeof truth, "%.3f", n);
                if (time == 1 && plot->site == GL) {
                    n *= 10;
                    snprintf(written, sizeof written, "%.3f", n);
                    mistake_add(names[time], row, "grams per kilogram as per cent", town_sites[plot->site].code, "total_n_pct", truth,
                                written, "g_kg_as_pct");
                    char what[80];
                    snprintf(what, sizeof what, "correct:total_n_pct=%s", truth);
                    decision_add(names[time], row, what, "the laboratory reports in g/kg");
                }
                if (time == 0 && plot->site == FB && layer == 0 && leads < 4) {
                    leads++;
                    lead = 0;
                    mistake_add(names[time], row, "below detection written as 0", town_sites[plot->site].code, "lead_mg_kg", "<5", "0",
                                "below_detection_zero");
                    decision_add(names[time], row, "correct:lead_mg_kg=;lead_below_detection=yes", "below the detection limit");
                }
                text_print(&out, "%s,%s,%s-%d,%s,%s,%d,%d,%.2f,%.0f,%.2f,water,%.2f,%.3f,%.0f\n", town_sites[plot->site].code, plot->code,
                           plot->code, k + 1, points[time],
                           time == 0   ? surveyed[plot->site]
                           : time == 1 ? amended[plot->site]
                                       : "2025-10-06",
                           layer == 0 ? 0 : 10, layer == 0 ? 10 : 30, density, g->stones, ph, soc, n, lead);
            }
    file_put(folder, names[time], &out);
}

/* ---- weather ---- */

static void weather(const char *folder, uint64_t seed)
{
    static const double mean_c[] = {6.0, 6.2, 7.9, 9.8, 12.4, 14.9, 16.5, 16.6, 14.9, 12.1, 8.9, 6.8};
    static const double rain_mm[] = {96, 74, 70, 62, 60, 56, 52, 66, 76, 104, 108, 116};
    struct text out = {0};
    struct random_stream r = random_make(seed, STREAM_WEATHER);
    bool wet = true;
    long row = 1;
    text_add(&out, "day,rain mm,t min C,t max C,station\n");
    for (int32_t at = date_make(2022, 1, 1); at <= date_make(2025, 10, 31); at++) {
        int year = 0, month = 0, of_month = 0;
        char iso[16];
        date_parts(at, &year, &month, &of_month);
        date_write(at, iso);
        double factor = year == 2022               ? 0.95
                        : year == 2024             ? 1.12
                        : year == 2025             ? 0.98
                        : month >= 4 && month <= 7 ? 0.35
                        : month == 8               ? 0.80
                                                   : 1.05;
        double share = rain_mm[month - 1] / 30 / 6.0 * sqrt(factor); /* share of wet days */
        double stay = 0.45 + 0.55 * share, turn = share * (1 - stay) / (1 - share);
        wet = random_uniform(&r) < (wet ? stay : turn);
        double rain = wet ? random_gamma(&r, 0.8) * 6.0 / 0.8 * sqrt(factor) : 0, mean = mean_c[month - 1] + 2.2 * random_normal(&r),
               half = 3 + 2 * random_uniform(&r);
        row++;
        if (wet && rain < 0.1)
            rain = 0.1;
        bool unread = (year == 2022 && month == 12 && of_month >= 19 && of_month <= 25) ||
                      (year == 2024 && month == 2 && of_month >= 5 && of_month <= 11) ||
                      (year == 2025 && month == 8 && of_month >= 11 && of_month <= 17);
        if (unread && (of_month == 19 || of_month == 5 || (of_month == 11 && month == 8)))
            mistake_add("weather.csv", row, "rain blank for a week", "gauge", "rain_mm", "not read", "", "rain_blank");
        text_print(&out, unread ? "%s,,%.1f,%.1f,Telm gauge\n" : "%s,%.1f,%.1f,%.1f,Telm gauge\n", iso, unread ? mean - half : rain,
                   unread ? mean + half : mean - half, mean + half);
    }
    file_put(folder, "weather.csv", &out);
}

/* ---- care ---- */

static void care_line(struct text *out, const struct town_plot *plot, const char *day, const char *kind, const char *litres, double hours)
{
    text_print(out, "%s,%s,%s,%s,done,%s,%.1f,%s,\n", town_sites[plot->site].code, plot->code, day, kind, litres, hours,
               town_sites[plot->site].code);
}

static void care(const char *folder)
{
    static const char *const days[] = {"2023-05-20", "2023-06-03", "2023-06-17", "2023-07-01", "2023-07-15", "2023-08-05"};
    struct text out = {0};
    text_add(&out, "site,plot,day,care,state,litres m2,hours,team,why\n");
    for (int p = 0; p < PLOTS; p++) {
        const struct town_plot *plot = &town_plots[p];
        if (plot->plants == 0)
            continue;
        bool dry = plot->site == TS || plot->site == FB, even = plot->site == GL || plot->site == LH;
        for (int k = 0; k < (dry ? (plot->watered ? 6 : 1) : even ? 1 : 0); k++)
            care_line(&out, plot, days[k + (even ? 2 : 0)], "watering", "15", 3);
        if (plot->site == LK || plot->site == BS)
            text_print(&out, "%s,%s,2023-06-17,watering,skipped,,,%s,%s\n", town_sites[plot->site].code, plot->code,
                       town_sites[plot->site].code,
                       plot->site == LK ? "no way in for the bowser on the last 40 m" : "no standpipe within reach of the siding");
        for (int year = town_sites[plot->site].cohort; year <= 2025; year++) {
            char day[40];
            snprintf(day, sizeof day, "%d-06-1%d", year, p % 9);
            care_line(&out, plot, day, "weeding", "", 4);
        }
    }
    file_put(folder, "care.csv", &out);
}

/* ---- costs ---- */

struct ledger {
    struct text text;
    long row;
    int lines;
};

/* Every seventh line until there are 17 was written with tax in the amount. */
static void cost(struct ledger *ledger, const char *site, const char *plot, const char *phase, const char *item, const char *day,
                 double quantity, const char *unit, double price)
{
    static int taxed;
    double amount = quantity * price;
    char truth[40], written[40];
    ledger->row++;
    ledger->lines++;
    snprintf(truth, sizeof truth, "%.2f", amount);
    if (ledger->lines % 7 == 4 && taxed < 17) {
        taxed++;
        amount *= 1.21;
        snprintf(written, sizeof written, "%.2f", amount);
        mistake_add("costs.csv", ledger->row, "tax in the amount", plot, "amount", truth, written, "tax_mixed");
        char what[120];
        snprintf(what, sizeof what, "correct:amount=%s;tax_pct=21", truth);
        decision_add("costs.csv", ledger->row, what, "the invoice says so");
    }
    text_print(&ledger->text, "%s,%s,%s,%s,%s,%.4g,%s,%.2f,%.2f\n", site, plot, phase, item, day, quantity, unit, price, amount);
}

static void costs(const char *folder)
{
    struct ledger l = {.row = 1};
    text_add(&l.text, "site,plot,phase,item,paid on,quantity,unit,unit price without tax,amount without tax\n");
    for (int s = 0; s < SITES; s++) {
        const char *site = town_sites[s].code, *planted = town_sites[s].planted;
        cost(&l, site, "", "screening", "services search", surveyed[s], 1, "site", 380);
        cost(&l, site, "", "survey", "soil survey and laboratory", surveyed[s], 1, "site", 620);
        if (s == LK || s == BS || s == FB)
            cost(&l, site, "", "survey", "contamination phase 1", surveyed[s], 1, "site", 1450);
        cost(&l, site, "", "overhead", "coordination", planted, 40, "h", 29);
        for (int p = 0; p < PLOTS; p++) {
            const struct town_plot *plot = &town_plots[p];
            if ((int)plot->site != s || plot->plants == 0)
                continue;
            double area = plot->wide_m * plot->deep_m, outline = 2 * (plot->wide_m + plot->deep_m);
            bool prepared = plot->letter == 'D' || plot->letter == 'P';
            if (prepared) {
                cost(&l, site, plot->code, "preparation", "excavator", amended[s], area, "m2", 4.80);
                cost(&l, site, plot->code, "preparation", "compost", amended[s], area * 0.05, "m3", 38);
                cost(&l, site, plot->code, "preparation", "mulch", amended[s], area * 0.12, "m3", 31);
            }
            cost(&l, site, plot->code, "plants", "whips", planted, plot->plants, "plant", 0.95);
            cost(&l, site, plot->code, "monitoring", "tags", planted, plot->plants, "plant", 0.28);
            if (!(s == BS && plot->letter == 'C'))
                cost(&l, site, plot->code, "protection", "fence", s == LK && plot->letter == 'C' ? "2022-05-14" : planted, outline, "m",
                     22);
            if (plot->letter == 'D')
                cost(&l, site, plot->code, "protection", "gate", planted, 1, "gate", 240);
            if (plot->watered)
                cost(&l, site, plot->code, "watering", "bowser visit", "2023-08-31", 6, "visit", 85);
            cost(&l, site, plot->code, "weeding", "weeding", "2024-06-30", area / 25, "h", 29);
        }
    }
    cost(&l, "TS", "D1", "incident", "fence panel after vandalism", "2024-11-20", 1, "job", 1940);
    cost(&l, "TS", "D1", "incident", "plants after vandalism", "2024-11-20", 1, "job", 410);
    file_put(folder, "costs.csv", &l.text);
}

/* ---- hours ---- */

static void hours(const char *folder, uint64_t seed)
{
    struct text out = {0};
    long row = 1;
    text_add(&out, "site,day,task,volunteer,people,hours,note\n");
    for (int s = 0; s < SITES; s++) {
        struct random_stream r = random_make(seed, STREAM_HOURS + (uint64_t)s);
        int people = 40 + (int)random_below(&r, 26);
        text_print(&out, "%s,%s,planting day,yes,%d,%.1f,\n", town_sites[s].code, town_sites[s].planted, people, people * 3.5);
        row++;
        if (s == LH) {
            row++;
            text_print(&out, "%s,%s,planting day,yes,%d,%.1f,list of the second leader\n", town_sites[s].code, town_sites[s].planted,
                       people, people * 3.5);
            mistake_add("hours.csv", row, "one group counted twice", "LH", "hours", "once", "twice", "day_doubled");
            decision_add("hours.csv", row, "reject", "the same group on two lists");
        }
        for (int year = town_sites[s].cohort; year <= 2025; year++) {
            text_print(&out, "%s,%d-06-1%d,weeding,yes,%d,%d,\n%s,%d-09-1%d,counting,yes,%d,%d,\n", town_sites[s].code, year, s, 6 + s,
                       18 + 3 * s, town_sites[s].code, year, s, 4 + s % 3, 20 + 2 * s);
            row += 2;
        }
    }
    text_add(&out, "TS,2024-11-03,mending after vandalism,yes,16,46,\n");
    file_put(folder, "hours.csv", &out);
}

void ledgers_write(const char *folder, uint64_t seed)
{
    soil_survey(folder);
    for (int time = 0; time < 3; time++)
        soil_file(folder, seed, time);
    weather(folder, seed);
    care(folder);
    costs(folder);
    hours(folder, seed);
}
