/* SPDX-License-Identifier: GPL-3.0-or-later
 * Any bytes as a table of records (delimited text or XLSX), mapped and read dry as each kind: refused, or counts that add up. */
#include "survey/survey.h"
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

static struct survey_ground ground_make(struct arena *arena)
{
    struct site *site = arena_alloc(arena, sizeof *site);
    struct plot *plot = arena_alloc(arena, sizeof *plot);
    struct plant *plants = arena_array(arena, 4, sizeof *plants);
    noun_init(NOUN_SITE, site);
    noun_init(NOUN_PLOT, plot);
    site->id = 1;
    site->code = "LK";
    plot->id = 2;
    plot->site_id = 1;
    plot->code = "D1";
    for (int i = 0; i < 4; i++) {
        noun_init(NOUN_PLANT, &plants[i]);
        plants[i].id = 10 + i;
        plants[i].plot_id = 2;
        plants[i].cell_code = i < 2 ? "A01" : "A02";
        plants[i].number = i % 2 + 1;
        plants[i].tag = arena_print(arena, "%d", i + 1);
        plants[i].species = "Quercus robur";
    }
    return (struct survey_ground){.sites = site, .n_sites = 1, .plots = plot, .n_plots = 1, .plants = plants, .n_plants = 4};
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    struct arena arena = {0};
    struct workbook book;
    struct failure why = {0};
    struct survey_ground ground = ground_make(&arena);
    if (n < 200000 && workbook_read("fuzz", (const char *)data, n, &arena, &book, &why) == OUTCOME_OK)
        for (size_t s = 0; s < book.n && s < 3; s++)
            for (int kind = 0; kind < RECORD_KINDS; kind++) {
                struct mapping mapping;
                struct import_options options = {.limits = survey_limits_usual()};
                struct import_result r;
                if (book.sheets[s].rows > 2000 || book.sheets[s].widest > 200 ||
                    mapping_guess(&book.sheets[s], (enum record_kind)kind, &ground, &arena, &mapping, &why) != OUTCOME_OK)
                    continue;
                for (int answered = 0; answered < 2; answered++) {
                    if (answered == 1) {
                        mapping_answer(&mapping, "new_plants", "make", &arena, &why);
                        mapping_answer(&mapping, "blank_means", "missing", &arena, &why);
                        mapping_answer(&mapping, "census_day", "middle", &arena, &why);
                        mapping_answer(&mapping, "wide_field", "height_cm", &arena, &why);
                        mapping_answer(&mapping, "wide_unit", "cm", &arena, &why);
                        mapping_answer(&mapping, "dates", "dmy", &arena, &why);
                        mapping_answer(&mapping, "decimal", "both", &arena, &why);
                        if (kind == RECORD_PLANTS)
                            mapping_answer(&mapping, "species", "Quercus robur", &arena, &why);
                    }
                    if (import_dry_run(&book, &book.sheets[s], &mapping, &ground, &options, &arena, &r, &why) != OUTCOME_OK)
                        abort();
                    if (r.read != r.n_ready + r.n_held + r.n_refused + r.n_empty + r.n_zero)
                        abort();
                }
            }
    arena_clear(&arena);
    return 0;
}
