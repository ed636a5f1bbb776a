/* SPDX-License-Identifier: GPL-3.0-or-later
 * Papers to ask for with plants: a prompt to ask, never advice. The lists are short and stand with their source. */
#include "money/money.h"
#include <string.h>

#define PASSPORT "Regulation (EU) 2016/2031, art. 78–79; from memory"
#define FOREST "Directive 1999/105/EC, art. 14 and Annex I; list from memory, verify"
#define FIRE_BLIGHT "EPPO Reporting Service 2004, hosts of Erwinia amylovora; Implementing Regulation (EU) 2019/2072, protected zones"

/* Trees of the forest list that grow in Atlantic lowlands. A name without epithet is the whole genus. */
static const char *const forest_list[] = {"Acer platanoides",
                                          "Acer pseudoplatanus",
                                          "Alnus glutinosa",
                                          "Alnus incana",
                                          "Betula pendula",
                                          "Betula pubescens",
                                          "Carpinus betulus",
                                          "Castanea sativa",
                                          "Fagus sylvatica",
                                          "Fraxinus angustifolia",
                                          "Fraxinus excelsior",
                                          "Larix",
                                          "Picea abies",
                                          "Picea sitchensis",
                                          "Pinus nigra",
                                          "Pinus sylvestris",
                                          "Populus",
                                          "Prunus avium",
                                          "Pseudotsuga menziesii",
                                          "Quercus cerris",
                                          "Quercus petraea",
                                          "Quercus pubescens",
                                          "Quercus robur",
                                          "Quercus rubra",
                                          "Robinia pseudoacacia",
                                          "Tilia cordata",
                                          "Tilia platyphyllos"};
static const char *const fire_blight_hosts[] = {"Amelanchier", "Chaenomeles", "Cotoneaster", "Crataegus", "Cydonia",
                                                "Malus",       "Mespilus",    "Pyracantha",  "Pyrus",     "Sorbus"};

static bool named(const char *species, const char *const *list, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        size_t length = strlen(list[i]);
        if (strncmp(species, list[i], length) == 0 && (species[length] == '\0' || species[length] == ' '))
            return true;
    }
    return false;
}

size_t order_papers(const char *species, struct order_paper out[MOST_PAPERS])
{
    size_t n = 0;
    out[n++] = (struct order_paper){
        "plant passport", "on every trade unit: botanical name, number of the professional operator, lot, country of origin", PASSPORT};
    if (species == NULL)
        return n;
    if (named(species, forest_list, sizeof forest_list / sizeof *forest_list))
        out[n++] = (struct order_paper){
            "supplier's document", "where planted as woodland: master certificate number, category, region of provenance, age", FOREST};
    if (named(species, fire_blight_hosts, sizeof fire_blight_hosts / sizeof *fire_blight_hosts))
        out[n++] = (struct order_paper){"passport for the protected zone",
                                        "host of fire blight: within a protected zone the passport must say PZ or ZP for it", FIRE_BLIGHT};
    return n;
}
