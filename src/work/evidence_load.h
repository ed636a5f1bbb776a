/* SPDX-License-Identifier: GPL-3.0-or-later
 * Everything the findings rest on, loaded once, with the lives of the plants worked out. */
#ifndef SPINNEY_WORK_EVIDENCE_LOAD_H
#define SPINNEY_WORK_EVIDENCE_LOAD_H
#include "evidence/evidence.h"
#include "work/load.h"

struct evidence {
    struct programme programme;
    struct evidence_facts facts;
    struct plot_lives *lives;
    struct trial_table design;
    bool has_design; ///< false: fewer than two plots on any site
};
enum outcome evidence_load(struct store *store, struct arena *arena, struct evidence *out, struct failure *why);
/// The same with the plots of one site only (0: all) and what belongs to them; all sites are listed.
enum outcome evidence_load_site(struct store *store, int64_t site, struct arena *arena, struct evidence *out, struct failure *why);
/// "LK/D1" of a plot by index. In the arena.
const char *evidence_plot_name(const struct evidence *evidence, size_t plot, struct arena *arena);

/* Parts that the jobs and the report share: each adds sections to a note. */
enum outcome survival_sections(const struct evidence *evidence, const struct site *site, json_t *note, struct arena *arena,
                               struct failure *why);
enum outcome difference_sections(const struct evidence *evidence, enum regime a, enum regime b, json_t *note, struct arena *arena,
                                 struct failure *why);
enum outcome growth_sections(const struct evidence *evidence, const struct site *site, json_t *note, struct arena *arena,
                             struct failure *why);
enum outcome wildlife_sections(const struct evidence *evidence, const struct site *site, json_t *note, struct arena *arena,
                               struct failure *why);
enum outcome care_sections(const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why);
enum outcome cost_sections(struct store *store, const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why);
/// Doubtful rows, tags lost, censuses missed: what the figures rest on.
/// Every pair of regimes that occurs, on each site and over sites.
enum outcome comparisons_all(const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why);
/// What held roots back before works, pit by pit.
enum outcome ground_sections(struct store *store, const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why);
/// Carbon of each plot (of one site, or NULL: all) that was sampled: stocks, added and gained, what can pass for it.
enum outcome carbon_sections(struct store *store, const struct evidence *evidence, const struct site *site, json_t *note,
                             struct arena *arena, struct failure *why);
enum outcome quality_sections(struct store *store, const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why);
/// The league of these plots, added to "leagues" in the data. OUTCOME_DATA where there is nothing to rank.
enum outcome league_section(const struct evidence *evidence, const size_t *plots, size_t n, const char *name, json_t *note, bool figure,
                            struct arena *arena, struct failure *why);
/// Whether the difference of these two regimes is one that findings look at by themselves.
bool regimes_compared(enum regime a, enum regime b);
/// Which sites report; the differences of a pair pooled over sites; all plots in one model.
enum outcome roll_section(const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why);
enum outcome pool_section(const struct evidence *evidence, enum regime a, enum regime b, json_t *note, struct arena *arena,
                          struct failure *why);
enum outcome model_section(const struct evidence *evidence, bool squares, json_t *note, struct arena *arena, struct failure *why);
/// Growth further: season by season, fans, pairs over sites and one model (all sites only), edge of `strip_m` and inside, crowns.
enum outcome growth_more_sections(const struct evidence *evidence, const struct site *site, double strip_m, json_t *note,
                                  struct arena *arena, struct failure *why);
/// Wildlife further: accumulation, equal coverage, regimes over sites and likeness (all sites only), years, fungi.
enum outcome wildlife_more_sections(const struct evidence *evidence, const struct site *site, json_t *note, struct arena *arena,
                                    struct failure *why);
/// The findings as records: five plain sentences, each finding with what it presumes, under "findings" in the data.
enum outcome findings_records(struct store *store, const struct evidence *evidence, json_t *note, struct arena *arena, struct failure *why);
#endif
