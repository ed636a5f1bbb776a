/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of site/: what planting must keep away from and by how much, what is left to plant, which questions about a
 * site are open, and the cautions that its data raise.
 *
 * Nothing here ever says that a place is safe. A figure carries where it comes from; what was not asked is "not checked".
 * Typical sizes: 1 to 300 constraints, 30 checks, 60 species; answers within a few milliseconds. */
#ifndef SPINNEY_SITE_H
#define SPINNEY_SITE_H
#include "geo/geo.h"
#include "model/model.h"

/// All that is recorded of one site. Pointers are borrowed. A list of NULL with n 0 is a list nobody filled.
struct site_facts {
    const struct site *site;              ///< never NULL
    const struct constraint *constraints; ///< with WKB shapes in the programme's metres; those of other sites are passed over
    size_t n_constraints;
    const struct site_check *checks; ///< those of other sites are passed over
    size_t n_checks;
    const struct local_rule *rules; ///< of this site or the whole programme
    size_t n_rules;
    int32_t today; ///< day to judge stale replies by; DATE_UNKNOWN: every dated reply counts as stale
};

/* ---- single figures ----------------------------------------------------------------------------------------------- */

/// Evidence behind a figure: read in its source; published, from memory; common practice; decided locally.
enum site_grade { GRADE_NONE, GRADE_READ, GRADE_PUBLISHED, GRADE_PRACTICE, GRADE_LOCAL };
const char *site_grade_word(enum site_grade grade);

/// A default stand-off of a kind of constraint, which a local rule of the same key replaces.
struct site_default {
    const char *key;    ///< such as standoff.buried_service.gas
    double metres;      ///< NaN: no figure; an operator or specialist has to give one
    double meanwhile_m; ///< drawn and netted off while there is no figure
    enum site_grade grade;
    const char *source; ///< publication, or who has to be asked
    const char *about;  ///< what the figure is for
};
extern const struct site_default site_defaults[];
extern const size_t site_n_defaults;

/// Diameter that stands for several stems (BS 5837:2012, 4.6.1): 1 stem itself; 2 to 5 √Σd²; more √(n · mean²).
/// NaN if n is 0 or one is not in 0 … 5 m. Metres in and out.
double site_stem_combined_m(const double *diameters_m, size_t n);
/// Radius of the root protection area: 12 × diameter, at most 15 m (707 m²). NaN outside 0 … 5 m. BS 5837:2012, 4.6 and annex D.
double site_root_radius_m(double diameter_m);
/// Buffer of a veteran tree: the larger of 15 × diameter and canopy radius + 5 m. A NaN is left out of the two; both NaN: NaN.
double site_veteran_radius_m(double diameter_m, double canopy_radius_m);
/// Reach of a plant's roots on shrinkable clay: 1.25, 0.75 or 0.5 × mature height for high, moderate, low water demand
/// (NHBC Standards 4.2). Unknown demand counts as high. NaN for an unknown height.
double site_clay_zone_m(enum water_demand demand, double mature_height_m);

/* ---- what to keep away from --------------------------------------------------------------------------------------- */

/// How far any planting keeps from one constraint, and why.
struct site_zone {
    size_t constraint;   ///< index into the facts
    bool figure_known;   ///< false: `standoff_m` is only drawn meanwhile, and somebody has to give the figure
    double standoff_m;   ///< distance drawn from the geometry (for a tree: from the stem)
    double default_m;    ///< what the table would have said; NaN none
    double root_area_m2; ///< of the root protection area (full circle); NaN where the constraint is no tree
    enum site_grade grade;
    const char *key;        ///< key of the figure, for a local rule
    const char *figures;    ///< the numbers used, in a sentence
    const char *source;     ///< who says so
    const char *remark;     ///< NULL, or what is doubtful: no figure, smaller than the default, position not checked
    struct shape ground;    ///< the zone
    double alone_m2;        ///< of the plot's outline, were this the only constraint
    double more_m2;         ///< what it takes beyond the constraints before it in the list
    double root_overlap_m2; ///< of a tree: plot's outline within its root protection area; 0 for others
};

/// What is left of a wanted plot.
struct site_net {
    double gross_m2, net_m2; ///< outline, plantable
    struct shape plantable;  ///< empty if nothing is left
    struct site_zone *zones; ///< one for each constraint of the site that has a shape
    size_t n_zones;
    double root_overlap_m2; ///< outline within any root protection area (each square metre once)
    bool figures_complete;  ///< every figure is known and the services question is answered and fresh; never "safe"
    const char **open;      ///< what is not known or not checked, a sentence each
    size_t n_open;
    double least_width_m; ///< widest circle that fits the plantable ground, diameter; NaN if none. Under 4 m it is a hedge
};

/// Zone of every constraint. Fails with OUTCOME_DATA on a stem of more than 5 m, a stand-off below 0 or above 500 m, a
/// geometry that cannot be read, a local rule for a distance that is not in metres. `failure.row` is the constraint from 1.
enum outcome site_zones(const struct site_facts *facts, struct arena *arena, struct site_zone **out, size_t *n, struct failure *why);
/// Net the zones off a wanted outline.
enum outcome site_net_off(const struct site_facts *facts, const struct shape *outline, struct arena *arena, struct site_net *out,
                          struct failure *why);

/* ---- by species --------------------------------------------------------------------------------------------------- */

/// What matters here of a species. Unknown: NaN and 0.
struct site_plant {
    const char *name;
    enum layer layer;
    double mature_height_m; ///< tallest on record where it grows
    double clay_height_m;   ///< mature height in the table of water demand; NaN: mature_height_m is used
    enum water_demand water_demand;
    enum truth thorny;
    const char *hazard; ///< poisonous or irritant, in words; NULL none recorded
};

/// How far a species keeps from a constraint.
struct site_keep {
    size_t constraint; ///< index into the facts
    bool figure_known; ///< false: nobody can say from what is recorded; `metres` is the stand-off drawn meanwhile
    bool if_clay;      ///< holds only if the ground is shrinkable clay, which is not checked
    double metres;     ///< from the constraint's geometry
    enum site_grade grade;
    const char *why; ///< the numbers, in a sentence
    const char *source;
};
/// One species against every constraint: keeps[n], in the order of site_zones.
enum outcome site_species_distance(const struct site_facts *facts, const struct site_plant *plant, struct arena *arena,
                                   struct site_keep **keeps, size_t *n, struct failure *why);

/// Ground where some species may not stand although others may, for layout.
struct site_species_zone {
    const char *why; ///< such as "Crataegus monogyna within 12.5 m of the ward block (1.25 × 10 m, if clay)"
    struct shape ground;
    bool *forbids; ///< forbids[n_plants]
    size_t constraint;
    double metres;
};
enum outcome site_species_zones(const struct site_facts *facts, const struct site_plant *plants, size_t n_plants, struct arena *arena,
                                struct site_species_zone **out, size_t *n, struct failure *why);

/// Whether a species may stand in a place.
struct site_answer {
    bool allowed;       ///< no recorded distance forbids it; says nothing of what is not recorded
    double clearance_m; ///< distance to the constraint less the distance it keeps, least of all; negative: too near
    size_t constraint;  ///< the one that decides; SIZE_MAX if there is none
    double distance_m;  ///< from that constraint
    double keep_m;      ///< distance to keep from it
    const char *why;    ///< the sentence of the distance
};
/// Prepared for many places. On the heap: free with site_watch_free, which takes NULL. Only read once made.
struct site_watch;
enum outcome site_watch_new(const struct site_facts *facts, const struct site_plant *plants, size_t n_plants, struct site_watch **out,
                            struct failure *why);
void site_watch_free(struct site_watch *watch);
struct site_answer site_watch_ask(const struct site_watch *watch, size_t plant, double x_m, double y_m);

/* ---- the register of checks --------------------------------------------------------------------------------------- */

/// Where one topic stands, over all questions put about it.
struct site_topic {
    enum check_topic topic;
    enum check_state state; ///< the least settled of its checks; not_checked where there is none
    bool stale;             ///< a reply has run out, or has no date though its topic needs one
    int32_t stale_on;       ///< day it ran or runs out; DATE_UNKNOWN: never, or not known
    bool needed;            ///< for "ready to dig"
    bool passes;            ///< answered, fresh and in order; only this lets a gate open
    size_t n_checks;
    const char *words;   ///< "services: clear (operator A, 2025-09-01), stale since 2025-11-30"
    const char *missing; ///< NULL if it passes; else what to do
};
/// Every topic, in the order of the list. `topics` has as many as there are topics.
enum outcome site_register(const struct site_facts *facts, struct arena *arena, struct site_topic **topics, size_t *n, struct failure *why);
/// Whether one check may be recorded: "not applicable" needs a reason, a reply needs a day that is not before the question.
enum outcome site_check_sound(const struct site_check *check, struct failure *why);

/// Whether a site may be given a stage.
struct site_gate {
    bool open;
    const char **missing; ///< what stands in the way, a sentence each
    size_t n_missing;
};
enum outcome site_stage_gate(const struct site_facts *facts, enum stage stage, struct arena *arena, struct site_gate *out,
                             struct failure *why);

/* ---- cautions ----------------------------------------------------------------------------------------------------- */

enum caution_state {
    CAUTION_NOT_CHECKED, ///< the data that would decide it are missing
    CAUTION_RAISED,
    CAUTION_NO_TRIGGER, ///< nothing recorded raises it, which is not a pass
};
/// When a caution belongs before somebody's eyes; several may be joined.
enum site_moment {
    MOMENT_SURVEY = 1,
    MOMENT_DESIGN = 2,
    MOMENT_ORDER = 4,
    MOMENT_GROUND_WORK = 8,
    MOMENT_PLANTING = 16,
    MOMENT_CARE = 32,
    MOMENT_RECORDS = 64,
    MOMENT_REPORT = 128,
};
struct site_caution {
    const char *code;  ///< C01 … C33
    const char *topic; ///< a few words
    enum caution_state state;
    unsigned moments;    ///< joined site_moment
    const char *words;   ///< what to show
    const char *defer;   ///< who decides
    const char *figures; ///< what in the data raised it, with its numbers; or what is not checked
};
enum { SITE_CAUTIONS = 33 };

/// What is planned, as far as it is. NULL, NaN and 0 where it is not known yet.
struct site_plan {
    const struct shape *outline;           ///< the wanted plot
    const struct preparation *preparation; ///< NULL not decided
    const struct site_plant *plants;       ///< chosen species
    size_t n_plants;
    int month_from, month_to; ///< months of the works, 1 to 12; 0 not known
    double species_per_m2;    ///< most plant species found in one square metre of the ground; NaN not looked
    int64_t n_sites;          ///< sites a report speaks of; INT_UNKNOWN
    int64_t age_years;        ///< of the planting; INT_UNKNOWN: not planted yet
    enum truth volunteers;    ///< whether volunteers come
    enum truth children;      ///< whether children come
    int64_t sensitive;        ///< wildlife records marked sensitive
    int64_t trouble;          ///< incidents of vandalism, theft or fire on the site
};
struct site_plan site_plan_new(void);
/// All of them, in order, with their state. out[SITE_CAUTIONS] in the arena.
enum outcome site_cautions(const struct site_facts *facts, const struct site_plan *plan, struct arena *arena, struct site_caution **out,
                           struct failure *why);
#endif
