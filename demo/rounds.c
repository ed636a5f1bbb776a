/* SPDX-License-Identifier: GPL-3.0-or-later
 * Invented rounds and mishaps: growth stages of five tagged plants of five species week by week, and the incident book. */
#include "lives.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { FOLLOWED = 5, KINDS = 5, FIRST_LEAF = 11 };

struct kind {
    const char *species;
    double day; ///< of first leaves, counted from 1 January, in a middling spring
};
static const struct kind kinds[KINDS] = {
    {"Crataegus monogyna", 84}, {"Corylus avellana", 92}, {"Prunus avium", 97}, {"Betula pendula", 100}, {"Acer campestre", 106}};

/* The plants a round can follow to its end: labelled throughout and alive in the summer of 2025. */
static size_t followed(const struct lives *lives, enum site_number site, const char *species, size_t out[FOLLOWED])
{
    size_t n = 0;
    int32_t end = date_make(2025, 7, 1);
    for (size_t i = 0; i < lives->n_first && n < FOLLOWED; i++) {
        const struct life *life = &lives->at[i];
        const struct town_plot *plot = &town_plots[life->plot];
        if (plot->site == site && plot->letter == 'D' && strcmp(town_species[life->species].name, species) == 0 && life_alive(life, end) &&
            !life->tag_lost_2023 && !life->tag_lost_2024 && !life->pulled && !life->snapped && life->true_species < 0)
            out[n++] = i;
    }
    return n;
}

/* Days later than in 2023. The site's own spring shifts all plants alike; nobody in the town knows these figures. */
static double year_shift(int year)
{
    return year == 2024 ? -6 : year == 2025 ? 1 : 0;
}

void rounds_write(const struct lives *lives, const char *folder, const char *truth_folder)
{
    struct text out = {0}, truth = {0};
    text_add(&out, "Site;Plot;Label;Date;BBCH;Reached?;Observer\n");
    text_add(&truth, "site,tag,species,year,phase,day_of_year\n");
    for (int s = 0; s < 2; s++)
        for (int k = 0; k < KINDS; k++) {
            enum site_number site = s == 0 ? GL : TS;
            size_t at[FOLLOWED], n = followed(lives, site, kinds[k].species, at);
            for (size_t i = 0; i < n; i++)
                for (int year = 2023; year <= 2025; year++) {
                    struct random_stream r =
                        random_make(lives->seed, STREAM_ROUND + (uint64_t)((s * 10 + k) * 100 + (int)i * 10 + year - 2023));
                    const struct life *life = &lives->at[at[i]];
                    double own = kinds[k].day + (site == GL ? -1 : 0) + 1.5 * ((double)i - 2),
                           day = own + year_shift(year) + 1.2 * random_normal(&r);
                    text_print(&truth, "%s,%s,%s,%d,%d,%.1f\n", town_sites[site].code, life->tag, kinds[k].species, year, FIRST_LEAF, day);
                    for (int week = 0; week < 11; week++) {
                        char iso[16];
                        int32_t when = date_make(year, 3, 4 + year - 2023) + 7 * week;
                        bool open = date_day_of_year(when) >= day;
                        if (year == 2025 && site == TS && week == 5)
                            continue; /* the week nobody went */
                        date_write(when, iso);
                        text_print(&out, "%s;%s;%s;%s;%d;%s;V0%d\n", town_sites[site].code, town_plots[life->plot].code, life->tag, iso,
                                   FIRST_LEAF, open ? "yes" : "not yet", site == GL ? 12 : 29);
                        if (open)
                            break;
                    }
                }
        }
    file_put(folder, "phenology.csv", &out);
    file_put(truth_folder, "phenology.csv", &truth);
}

void incidents_write(const char *folder)
{
    struct text out = {0};
    text_add(&out, "site,plot,date,what kind,plants touched,what happened,reference\n"
                   "LK,,2022-02-12,near miss,0,a volunteer slipped on the bank; boards laid before the next load,\n"
                   "TS,,2022-02-28,service found,0,\"lighting cable that no plan shows, found by hand dig at 0.35 m; work stopped, plots "
                   "moved 1.5 m\",\n"
                   "LH,C1,2022-06-21,mower,17,stems ringed by the grass contractor,\n"
                   "GL,,2022-09-03,glass,0,\"bag of sharps and glass under the old bed, lifted with tongs, taken away by the council\",\n"
                   "BS,D1,2022-11-05,fire,18,six square metres scorched in the night,KV-1105\n"
                   "LK,,2023-06-17,tick bite,0,\"one tick found after weeding, removed at once; asked to watch the spot and see a doctor "
                   "if it reddens\",\n"
                   "GL,C1,2024-01-15,rabbits,38,rabbits through a gap in the fence,\n"
                   "LK,C1,2024-02-10,flooding,0,standing water for five weeks in the hollow,\n"
                   "TS,D1,2024-11-03,vandalism,85,\"71 plants pulled, 14 snapped, a fence panel cut, 23 put back within a day\",KV-1103\n"
                   "TS,C1,2024-11-03,vandalism,9,9 plants pulled,KV-1103\n");
    file_put(folder, "incidents.csv", &out);
}
