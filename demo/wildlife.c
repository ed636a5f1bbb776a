/* SPDX-License-Identifier: GPL-3.0-or-later
 * Invented looks for wildlife, with unequal effort, forgotten empty looks and blank minutes among them. */
#include "town.h"
#include <stdio.h>
#include <string.h>

static const char *const visitors[] = {"Bombus terrestris group",
                                       "Bombus pascuorum",
                                       "Apis mellifera",
                                       "small mining bees",
                                       "large hoverflies",
                                       "small hoverflies",
                                       "blowflies",
                                       "Pieris butterflies",
                                       "Vanessa butterflies",
                                       "other flies",
                                       "Bombus lapidarius",
                                       "Bombus hortorum group",
                                       "mason bees",
                                       "furrow bees",
                                       "leafcutter bees",
                                       "bee flies",
                                       "dance flies",
                                       "Maniola butterflies",
                                       "Polyommatus butterflies",
                                       "Pararge butterflies",
                                       "skippers",
                                       "day moths"};
static const char *const litter[] = {"Isopoda",    "Diplopoda",   "Chilopoda",  "Coleoptera", "Araneae", "Collembola",  "Opiliones",
                                     "Gastropoda", "Oligochaeta", "Dermaptera", "Hemiptera",  "Diptera", "Hymenoptera", "Lepidoptera"};
static const char *const birds[] = {"Turdus merula",       "Erithacus rubecula",  "Parus major",         "Fringilla coelebs",
                                    "Prunella modularis",  "Carduelis carduelis", "Cyanistes caeruleus", "Troglodytes troglodytes",
                                    "Sturnus vulgaris",    "Passer domesticus",   "Columba palumbus",    "Turdus philomelos",
                                    "Chloris chloris",     "Pica pica",           "Motacilla alba",      "Phylloscopus collybita",
                                    "Aegithalos caudatus", "Sylvia atricapilla",  "Pyrrhula pyrrhula"};
/* Autumn walks: what grows on wood-chip mulch first, as it does; the tenth and those behind it live with roots. */
static const char *const fungi[] = {"Coprinellus micaceus", "Tubaria furfuracea",  "Psathyrella candolleana", "Agrocybe praecox",
                                    "Leratiomyces ceres",   "Crucibulum laeve",    "Cyathus striatus",        "Peziza vesiculosa",
                                    "Coprinopsis lagopus",  "Laccaria laccata",    "Mycena leptocephala",     "Lepista nuda",
                                    "Bolbitius titubans",   "Parasola plicatilis", "Stropharia aurantiaca",   "Conocybe apala",
                                    "Mycena speirea",       "Hebeloma mesophaeum", "Trametes versicolor",     "Xylaria hypoxylon",
                                    "Thelephora terrestris"};
enum { ROOT_FUNGUS = 9 };

struct looking {
    struct text text;
    long row;
    struct random_stream r;
    int zeros, blanks, looks;
};

static void look(struct looking *l, const char *site, const char *plot, const char *day, const char *group, const char *how, int minutes,
                 const char *const *pool, size_t n, double mean, bool blank)
{
    int seen = 0, who = 10 + l->looks++ % 3;
    char time[16] = "";
    if (!blank)
        snprintf(time, sizeof time, "%d", minutes);
    for (size_t i = 0; i < n; i++) {
        int64_t count = random_poisson(&l->r, mean / (double)(i + 2));
        if (count == 0)
            continue;
        l->row++;
        seen++;
        text_print(&l->text, "%s,%s,%s,%s,%s,%s,V0%d,%s,%lld,,,\n", site, plot, day, group, how, time, who, pool[i], (long long)count);
        if (blank && seen == 1)
            mistake_add("wildlife.csv", l->row, "effort blank", plot, "minutes", "10", "", "effort_blank");
    }
    if (seen == 0) {
        l->row++;
        text_print(&l->text, "%s,%s,%s,%s,%s,%s,V0%d,,0,yes,,\n", site, plot, day, group, how, time, who);
        if (blank)
            mistake_add("wildlife.csv", l->row, "effort blank", plot, "minutes", "10", "", "effort_blank");
    }
}

static void flowers(struct looking *l, int year)
{
    static const int wanted[] = {24, 11, 9};
    static const char *const plots[] = {"D1", "C1", "U1"};
    for (int visit = 0; visit < 24; visit++)
        for (int p = 0; p < 3; p++) {
            char day[48];
            if (visit >= (year == 2023 ? wanted[p] : 8))
                continue;
            snprintf(day, sizeof day, "%d-%02d-%02d", year, 4 + visit / 4, 3 + 7 * (visit % 4));
            look(l, "LK", plots[p], day, "flower_visitors", "10 minutes at flowers", 10, visitors, sizeof visitors / sizeof *visitors, 5,
                 year == 2024 && p == 0 && visit < 4);
        }
}

/* Rounds on all plots of a site; in some the plot with nothing was left out of the file. */
static void rounds(struct looking *l, const char *site, const char *const *plots, size_t n_plots, int year, int visits, const char *group,
                   const char *how, int minutes, const char *const *pool, size_t n, const double *means)
{
    for (int visit = 0; visit < visits; visit++)
        for (size_t p = 0; p < n_plots; p++) {
            char day[48];
            snprintf(day, sizeof day, "%d-%02d-%02d", year, 4 + visit * 3 / 4, 8 + visit);
            if (p > 0 && l->zeros < 9 && visit % 4 == 2) {
                l->zeros++;
                mistake_add("wildlife.csv", 0, "a look with nothing seen left out", plots[p], "nothing_seen", "yes", day, "missing_zero");
                continue;
            }
            bool blank = year == 2025 && p == 0 && visit < 3 && l->blanks < 3;
            l->blanks += blank;
            look(l, site, plots[p], day, group, how, minutes, pool, n, means[p], blank);
        }
}

/* One autumn walk over four plots: 3 taxa in the dry autumn of 2023, 21 in 2024, 17 in 2025, most of them on the mulch. */
static void fungus_walks(struct looking *l)
{
    static const int taxa[] = {3, 21, 17};
    static const struct {
        const char *site, *plot;
        bool mulched;
    } plots[] = {{"LK", "D1", true}, {"LK", "C1", false}, {"GL", "D1", true}, {"GL", "C1", false}};
    enum { PLACES = sizeof plots / sizeof *plots };
    for (int year = 2023; year <= 2025; year++)
        for (int p = 0; p < PLACES; p++) {
            int seen = 0;
            for (int i = 0; i < taxa[year - 2023]; i++) {
                bool first = (i % 2 == 0) == (p == 0), bare = i % 6 == 5;
                if (plots[p].mulched ? !first && year == 2023 : !(bare && (p == 1) == (i % 4 == 1)))
                    continue;
                if (i == ROOT_FUNGUS && p != 0)
                    continue;
                l->row++;
                seen++;
                text_print(&l->text, "%s,%s,%d-10-%d,fungi,autumn walk,45,V033,%s,%lld,,,%s\n", plots[p].site, plots[p].plot, year,
                           14 + p % 2, fungi[i], (long long)(1 + random_below(&l->r, 9)),
                           i == ROOT_FUNGUS                      ? "under birch and alder"
                           : i < ROOT_FUNGUS && plots[p].mulched ? "on the mulch"
                                                                 : "");
            }
            if (seen == 0) {
                l->row++;
                text_print(&l->text, "%s,%s,%d-10-%d,fungi,autumn walk,45,V033,,0,yes,,\n", plots[p].site, plots[p].plot, year, 14 + p % 2);
            }
        }
}

void wildlife_write(const char *folder, uint64_t seed)
{
    static const char *const all[] = {"D1", "C1", "P1"};
    struct looking l = {.row = 1, .r = random_make(seed, STREAM_WILDLIFE)};
    text_add(&l.text, "site,plot,day,group,method,minutes,observer,taxon,count,nothing seen,sensitive,note\n");
    for (int year = 2022; year <= 2025; year++) {
        flowers(&l, year);
        if (year < 2023)
            continue;
        rounds(&l, "GL", all, 2, year, 8, "birds", "10 minutes from one point", 10, birds, sizeof birds / sizeof *birds,
               (const double[]){3.9, 3.0});
        rounds(&l, "FB", all, 3, year, 6, "litter_animals", "hand search", 15, litter, sizeof litter / sizeof *litter,
               (const double[]){year > 2023 ? 9 : 6, 6, year > 2023 ? 9 : 6});
    }
    fungus_walks(&l);
    text_add(&l.text, "LK,,2024-04-12,other_group,signs along the bank,30,V012,Lutra lutra,1,,yes,spraint on the second stone\n");
    file_put(folder, "wildlife.csv", &l.text);
}
