/* SPDX-License-Identifier: GPL-3.0-or-later
 * The tables of the invented town, and what follows from them directly. */
#include "town.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const struct town_site town_sites[SITES] = {
    {"LK", 2022, "2022-02-12", 611200, 5372400, 1.3, 0.90}, {"BS", 2022, "2022-03-05", 610300, 5373300, 1.6, 0.60},
    {"LH", 2022, "2022-02-19", 611900, 5373700, 1.1, 0.85}, {"TS", 2022, "2022-03-12", 610900, 5373000, 1.2, 0.90},
    {"GL", 2023, "2023-01-21", 609700, 5372700, 0.8, 1.15}, {"FB", 2023, "2023-02-11", 612500, 5372900, 1.5, 0.70},
};

/* Laundry Hill and Tern Street are split by the program itself, so their rectangles are only told here. */
const struct town_plot town_plots[PLOTS] = {
    {LK, "D1", 'D', 4, 4, 12, 15, 540, 1.0, 1.00, false},  {LK, "C1", 'C', 22, 4, 12, 15, 180, 1.9, 0.65, false},
    {LK, "U1", 'U', 40, 4, 10, 10, 0, 1.0, 1.00, false},   {BS, "D1", 'D', 4, 4, 8, 25, 600, 1.0, 1.00, false},
    {BS, "C1", 'C', 18, 4, 8, 25, 200, 1.9, 0.65, false},  {BS, "P1", 'P', 32, 4, 8, 12, 96, 1.0, 0.95, false},
    {LH, "D1", 'D', 0, 0, 14, 10, 420, 1.0, 1.00, false},  {LH, "C1", 'C', 0, 15, 14, 10, 140, 1.5, 0.65, false},
    {TS, "D1", 'D', 0, 0, 10, 10, 300, 1.0, 1.00, true},   {TS, "C1", 'C', 0, 12, 10, 10, 100, 1.9, 0.65, false},
    {GL, "D1", 'D', 4, 4, 15, 15, 675, 1.0, 1.00, false},  {GL, "C1", 'C', 25, 4, 15, 15, 225, 1.05, 0.95, false},
    {GL, "P1", 'P', 4, 25, 10, 10, 100, 1.0, 0.95, false}, {GL, "N1", 'N', 25, 25, 10, 10, 300, 1.1, 0.95, false},
    {FB, "D1", 'D', 4, 4, 10, 20, 600, 1.0, 1.00, true},   {FB, "C1", 'C', 20, 4, 10, 20, 200, 1.9, 0.65, false},
    {FB, "P1", 'P', 36, 4, 10, 10, 100, 1.0, 0.95, false}, {FB, "U1", 'U', 36, 18, 10, 10, 0, 1.0, 1.00, false},
};

const struct town_species town_species[SPECIES] = {
    {"Quercus robur", "canopy", 9, 0.07, 1.3, {8, 20, 35, 45}, false, false},
    {"Betula pendula", "canopy", 8, 0.10, 1.9, {35, 70, 80, 70}, false, true},
    {"Alnus glutinosa", "canopy", 7, 0.08, 2.2, {40, 80, 90, 80}, false, false},
    {"Tilia cordata", "canopy", 5, 0.07, 1.4, {10, 25, 40, 45}, false, false},
    {"Prunus avium", "canopy", 5, 0.09, 1.6, {30, 55, 65, 60}, false, false},
    {"Populus tremula", "canopy", 3, 0.12, 1.8, {30, 60, 80, 80}, false, true},
    {"Quercus petraea", "canopy", 2, 0.08, 1.2, {8, 18, 32, 42}, false, false},
    {"Betula pubescens", "canopy", 1, 0.10, 2.0, {30, 60, 70, 60}, false, true},
    {"Acer campestre", "subcanopy", 6, 0.05, 1.1, {15, 30, 40, 40}, false, false},
    {"Sorbus aucuparia", "subcanopy", 6, 0.09, 1.7, {25, 45, 45, 40}, false, false},
    {"Carpinus betulus", "subcanopy", 5, 0.06, 1.4, {15, 30, 40, 45}, true, false},
    {"Malus sylvestris", "subcanopy", 3, 0.06, 1.2, {12, 25, 30, 30}, false, false},
    {"Salix caprea", "subcanopy", 3, 0.10, 2.1, {50, 80, 80, 60}, false, true},
    {"Ilex aquifolium", "subcanopy", 3, 0.09, 1.5, {4, 8, 12, 15}, true, false},
    {"Prunus padus", "subcanopy", 2, 0.07, 1.5, {25, 45, 50, 45}, false, false},
    {"Corylus avellana", "shrub", 8, 0.07, 1.3, {20, 40, 45, 40}, false, false},
    {"Crataegus monogyna", "shrub", 6, 0.04, 0.9, {20, 35, 40, 35}, false, false},
    {"Viburnum opulus", "shrub", 3, 0.06, 1.4, {15, 30, 30, 25}, false, false},
    {"Euonymus europaeus", "shrub", 3, 0.06, 1.2, {15, 30, 30, 25}, false, false},
    {"Cornus sanguinea", "shrub", 3, 0.05, 1.1, {20, 40, 40, 30}, false, false},
    {"Frangula alnus", "shrub", 2, 0.07, 1.5, {20, 40, 40, 30}, false, false},
    {"Rosa canina", "shrub", 2, 0.05, 0.9, {30, 50, 30, 20}, false, true},
    {"Sambucus nigra", "shrub", 2, 0.09, 1.5, {40, 70, 50, 20}, false, true},
    {"Rhamnus cathartica", "shrub", 1, 0.06, 1.0, {12, 25, 28, 25}, false, false},
    {"Ligustrum vulgare", "shrub", 1, 0.05, 1.0, {20, 35, 30, 25}, false, false},
    {"Prunus spinosa", "shrub", 1, 0.05, 0.9, {15, 30, 30, 25}, false, false},
};

/* What each site leaves out, doubles or raises (the site's own choice); terms are NAME×factor or NAME+points. */
struct choice {
    enum site_number site;
    const char *species;
    double factor, points;
};
static const struct choice choices[] = {
    {LK, "Tilia cordata", 0, 0},   {LK, "Ilex aquifolium", 0, 0},     {LK, "Quercus petraea", 0, 0},    {LK, "Alnus glutinosa", 2, 0},
    {LK, "Salix caprea", 1, 6},    {BS, "Populus tremula", 0, 0},     {BS, "Tilia cordata", 0, 0},      {LH, "Quercus robur", 0, 0},
    {LH, "Acer campestre", 0, 0},  {LH, "Quercus petraea", 0, 0},     {LH, "Crataegus monogyna", 0, 0}, {LH, "Salix caprea", 0, 0},
    {LH, "Populus tremula", 0, 0}, {TS, "Euonymus europaeus", 0, 0},  {TS, "Rhamnus cathartica", 0, 0}, {TS, "Ligustrum vulgare", 0, 0},
    {TS, "Prunus spinosa", 0, 0},  {FB, "Cornus sanguinea", 0, 0},    {FB, "Viburnum opulus", 0, 0},    {FB, "Acer campestre", 0, 0},
    {FB, "Tilia cordata", 0, 0},   {FB, "Rhamnus cathartica", 0, 0},  {FB, "Betula pendula", 1, 4},     {FB, "Sorbus aucuparia", 1, 4},
    {FB, "Quercus robur", 0, 0},   {FB, "Quercus petraea", 1, 9 + 4}, {FB, "Frangula alnus", 1, 3},
};
static const char *const usual[] = {"Betula pendula",     "Alnus glutinosa", "Quercus robur",    "Corylus avellana",
                                    "Crataegus monogyna", "Acer campestre",  "Sorbus aucuparia", "Prunus avium"};

int town_site_find(const char *code)
{
    for (int i = 0; i < SITES; i++)
        if (strcmp(town_sites[i].code, code) == 0)
            return i;
    return -1;
}

int town_plot_find(int site, const char *code)
{
    for (int i = 0; i < PLOTS; i++)
        if ((int)town_plots[i].site == site && strcmp(town_plots[i].code, code) == 0)
            return i;
    return -1;
}

int town_species_find(const char *name)
{
    for (int i = 0; i < SPECIES; i++)
        if (strcmp(town_species[i].name, name) == 0)
            return i;
    return -1;
}

const struct town_plot *town_plot_of(enum site_number site, char letter)
{
    for (int i = 0; i < PLOTS; i++)
        if (town_plots[i].site == site && town_plots[i].letter == letter)
            return &town_plots[i];
    return NULL;
}

static double share_of(const struct town_plot *plot, int species)
{
    bool all = plot->letter != 'C' || plot->site == GL || plot->site == FB;
    double share = all ? town_species[species].share : 0;
    for (size_t i = 0; !all && i < sizeof usual / sizeof *usual; i++)
        if (strcmp(usual[i], town_species[species].name) == 0)
            share = 12.5;
    for (size_t i = 0; share > 0 && i < sizeof choices / sizeof *choices; i++)
        if (choices[i].site == plot->site && strcmp(choices[i].species, town_species[species].name) == 0 && (all || choices[i].factor == 0))
            share = share * choices[i].factor + choices[i].points;
    return share;
}

void town_mix(const struct town_plot *plot, int counts[SPECIES])
{
    double shares[SPECIES], sum = 0;
    int given = 0;
    for (int i = 0; i < SPECIES; i++)
        sum += shares[i] = share_of(plot, i);
    for (int i = 0; i < SPECIES; i++) {
        shares[i] *= plot->plants / sum;
        counts[i] = (int)floor(shares[i]);
        given += counts[i];
    }
    for (; given < plot->plants; given++) {
        int most = 0;
        for (int i = 1; i < SPECIES; i++)
            if (shares[i] - counts[i] > shares[most] - counts[most] + 1e-9)
                most = i;
        counts[most]++;
    }
}

bool town_dense_first(enum site_number site, uint64_t seed)
{
    struct random_stream r = random_make(seed, STREAM_LOT + 7 * (uint64_t)site);
    return random_below(&r, 2) == 0;
}

double town_hazard(const struct town_plot *plot, const struct town_species *species, int year, int calendar)
{
    static const double age[] = {1.0, 0.5, 0.35, 0.35};
    double hazard = -log(1 - species->hazard) * age[year < 4 ? year - 1 : 3] * town_sites[plot->site].hazard * plot->treatment;
    if (calendar == 2023)
        hazard *= 1 + (species->drought - 0.5) * (plot->watered ? 0.25 : 1.0);
    return hazard;
}

double town_competition(const struct town_plot *plot, const struct town_species *species, int year)
{
    return (plot->letter == 'D' || plot->letter == 'N') && year >= 3 ? (species->light ? 0.05 : 0.015) : 0;
}

void file_put(const char *folder, const char *name, struct text *text)
{
    struct failure why = {0};
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    if (file_write(path, text_get(text), text->n, &why) != OUTCOME_OK) {
        fprintf(stderr, "spinney-demo: %s %s\n", why.sentence, why.remedy);
        exit(3);
    }
    text_free(text);
}

/* ---- mistakes ---- */

static struct text mistakes;

void mistake_add(const char *file, long row, const char *kind, const char *plant, const char *field, const char *truth, const char *written,
                 const char *check)
{
    char number[24];
    snprintf(number, sizeof number, "%ld", row);
    const char *const cells[] = {
        file, number, kind, plant, field, truth, written, check == NULL ? "" : check, check == NULL ? "no" : "yes"};
    if (mistakes.n == 0)
        text_add(&mistakes, "file,row,kind,plant,field,truth,written,check,findable\n");
    for (size_t i = 0; i < sizeof cells / sizeof *cells; i++)
        csv_add(&mistakes, cells[i], i == 0, false);
    text_add(&mistakes, "\n");
}

static struct text decisions;

void decision_add(const char *file, long row, const char *what, const char *reason)
{
    if (decisions.n == 0)
        text_add(&decisions, "file,row,what,reason\n");
    text_print(&decisions, "%s,%ld,%s,%s\n", file, row, what, reason);
}

void decisions_write(const char *folder, const char *name)
{
    file_put(folder, name, &decisions);
}

void mistakes_write(const char *folder, const char *name)
{
    file_put(folder, name, &mistakes);
}
