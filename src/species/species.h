/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of species/: the species library, names, reference communities, and how well a species fits a place.
 *
 * Typical size: some hundred taxa, a dozen communities. Nothing here is a recommendation: every species carries why it
 * is in and why it is out, and what is not known is unknown, never "no". Table format: docs/species-format.md.
 * Methods and sources: docs/methods/species.md. */
#ifndef SPINNEY_SPECIES_H
#define SPINNEY_SPECIES_H
#include "base/base.h"
#include "model/model.h"

/* ---- the library ------------------------------------------------------------------------------------------------ */

enum species_form { FORM_UNKNOWN = 0, FORM_TREE, FORM_SHRUB, FORM_CLIMBER, FORM_HERB, FORM_FERN, FORM_COUNT };
enum species_growth { GROWTH_UNKNOWN = 0, GROWTH_SLOW, GROWTH_MEDIUM, GROWTH_FAST, GROWTH_COUNT };
/// How a species stands to a region.
enum species_native {
    NATIVE_UNKNOWN = 0,
    NATIVE_YES,
    NATIVE_NO,       ///< introduced or absent
    NATIVE_ANCIENT,  ///< brought by people before about 1500
    NATIVE_DOUBTFUL, ///< the sources do not agree
    NATIVE_COUNT
};
/// Plant health at the date beside it.
enum species_health {
    HEALTH_UNKNOWN = 0, ///< nothing looked up: not the same as nothing known against it
    HEALTH_NO_RULE,     ///< looked up, no rule found at that date
    HEALTH_ADVICE,      ///< conditions or papers: ask the national service
    HEALTH_STOP,        ///< an epidemic or a ban: not to be planted without written advice
    HEALTH_COUNT
};

/// An indicator or tolerance value with the spread that its source gives.
struct species_value {
    double value;  ///< NaN unknown
    double spread; ///< niche width (indicator values) or standard error (tolerances); NaN unknown
};

/// What is known of one taxon. Text NULL, numbers NaN, enums 0: unknown.
struct species_fact {
    const char *name;        ///< scientific name without author
    const char *genus;       ///< first word of it
    const char *family;      ///< APG IV or PPG
    const char *common_name; ///< in English
    enum species_form form;
    enum layer layer; ///< storey it is planted for
    enum role role;   ///< part it plays in the succession
    /* Indicator values, EIVE scale 0 to 10: 10 is full light, wettest, most base-rich, richest, warmest. */
    struct species_value light, moisture, reaction, nutrients, warmth;
    double ph_least, ph_most; ///< pH range, where the source gives one instead of a reaction value
    /* Tolerances 1 (least) to 5 (most), with standard error. */
    struct species_value shade, drought, waterlogging;
    double coldest_c;               ///< lowest winter temperature it stands [degC]
    double height_most_m;           ///< tallest on record in its source [m]
    double height_20_years_m;       ///< at 20 years [m]
    enum water_demand water_demand; ///< on shrinkable clay (NHBC)
    const char *water_demand_of;    ///< "species": listed by name; "genus": only its genus is listed
    double clay_height_m;           ///< mature height in the same table [m]
    enum species_growth growth;
    enum truth nitrogen_fixer, evergreen, thorny, fruit_for_birds;
    const char *flowers; ///< worth to flower visitors, in words
    const char *hazard;  ///< poisonous or irritant, in words. NULL: none recorded, which is not harmless
    const char **pests;  ///< scientific names
    size_t n_pests;
    const char *pests_watched; ///< named organisms thought absent from the region
    enum species_health health;
    const char *health_note;           ///< what the rule or the epidemic is
    const char *health_date;           ///< year or day the note stands for
    const char *not_by_default;        ///< why it is not offered unless asked for; NULL: it is
    const char *size_cm;               ///< usual nursery size
    const char *stock;                 ///< usual stock form, in words
    const enum species_native *native; ///< for each region of the library
    const char *sources;               ///< codes of data/species/sources.csv
    const char **from_memory;          ///< columns whose value was not read in a document
    size_t n_from_memory;
    const char **uncertain; ///< columns in which two readings differ
    size_t n_uncertain;
    const char *note;
    long row; ///< row in the table
};

/// A species of a reference community.
struct community_species {
    const char *name;
    const struct species_fact *fact; ///< NULL: not in the library
    enum layer layer;
    int constancy;      ///< class 1 to 5 (I to V); 0 unknown
    double cover_pct;   ///< mean cover where present [%]; NaN unknown
    bool from_memory;   ///< the class was not read in a table
    const char *advice; ///< such as "do not plant"; NULL none
};
struct range {
    double least, most; ///< NaN unknown
};
/// A reference community.
struct community {
    const char *id, *name, *alliance, *units, *about, *moisture_words, *nutrient_words, *sources;
    struct range ph, moisture, reaction, nutrients;                  ///< envelope: pH and EIVE scale
    double mean_moisture, mean_reaction, mean_nutrients, mean_light; ///< EIVE scale
    double samples;                                                  ///< vegetation samples behind it
    struct community_species *species;
    size_t n_species;
};
/// Another name for a taxon of the library.
struct species_synonym {
    const char *name, *accepted, *note, *sources;
};
/// A library: a table of one part of the world.
struct species_library {
    const char *name;     ///< such as "atlantic-europe"
    const char **regions; ///< names of its native_… columns without "native_"
    size_t n_regions;
    struct species_fact *facts; ///< in the order of the table
    size_t n_facts;
    struct community *communities;
    size_t n_communities;
    struct species_synonym *synonyms;
    size_t n_synonyms;
};
/// Rows that were refused, with row, column, reason and remedy.
struct species_problems {
    struct failure *list;
    size_t n;       ///< listed, at most 200
    size_t refused; ///< rows refused in all
};

enum { SPECIES_BUILTIN = 2 };
/// Names of the built-in libraries: "atlantic-europe", "eastern-north-america".
extern const char *const species_builtin_names[SPECIES_BUILTIN];
/// A built-in library by name. The arena owns it. Fails with OUTCOME_USAGE for a name it does not know.
enum outcome species_builtin(const char *name, struct arena *arena, struct species_library *out, struct failure *why);
/// Bytes of a built-in table as it is shipped: "atlantic-europe.csv", "communities.csv", "synonyms.csv", "sources.csv" …
/// NULL bytes: no such table.
struct bytes species_table(const char *file);
/// Read a table in the documented format. Good rows go in, bad rows are listed in `problems` and left out. Fails if the
/// header lacks a needed column or has one that is not known, or no row is good. The arena owns everything.
enum outcome species_library_read(const char *file, const char *bytes, size_t n, struct arena *arena, struct species_library *out,
                                  struct species_problems *problems, struct failure *why);
/// Add communities to a library that has its facts. Species that the library lacks stay in, with fact NULL.
enum outcome species_communities_read(const char *file, const char *bytes, size_t n, struct arena *arena, struct species_library *library,
                                      struct species_problems *problems, struct failure *why);
/// Add synonyms. A row whose accepted name the library lacks is passed over: the table serves several libraries.
enum outcome species_synonyms_read(const char *file, const char *bytes, size_t n, struct arena *arena, struct species_library *library,
                                   struct species_problems *problems, struct failure *why);
/// Index of a region of this library, or SIZE_MAX. "Great Britain", "great_britain" and "GREAT BRITAIN" are one.
size_t species_region(const struct species_library *library, const char *region);
/// Refuse a library that says nothing about the region: a list of another continent is never offered.
enum outcome species_library_suits(const struct species_library *library, const char *region, struct failure *why);
const struct community *species_community(const struct species_library *library, const char *id_or_name);
/// Whether the value in this column was not read in a document, or whether two readings differ.
bool species_from_memory(const struct species_fact *fact, const char *column);
bool species_uncertain(const struct species_fact *fact, const char *column);
/// Weight of a species in a community: the middle of its strongest constancy class over the layers (0.1, 0.3 … 0.9); 0 where it is absent.
double community_frequency(const struct community *community, const struct species_fact *fact);
/// A tall canopy dominant: a canopy tree whose mature height (clay_height_m) is 20 m or more, or whose highest record is 30 m or more
/// where no mature height is listed. Common practice, no source.
bool species_tall(const struct species_fact *fact);
const char *species_form_word(enum species_form form);
const char *species_native_word(enum species_native native);
const char *species_health_word(enum species_health health);

/* ---- names ------------------------------------------------------------------------------------------------------ */

enum species_match_kind {
    MATCH_NONE = 0, ///< unknown name: its traits are unknown
    MATCH_EXACT,    ///< case, accents, author and hybrid sign apart
    MATCH_SYNONYM,  ///< another name of a taxon; said, not silently replaced
    MATCH_COMMON,   ///< the English name
    MATCH_NEAR,     ///< misspelt, perhaps; suggestions only
    MATCH_GENUS,    ///< a genus without species; suggestions are its species
};
enum { MATCH_SUGGESTIONS = 6 };
struct species_match {
    enum species_match_kind kind;
    const struct species_fact *fact;                          ///< for EXACT, SYNONYM and COMMON; else NULL
    const struct species_fact *suggestion[MATCH_SUGGESTIONS]; ///< for NEAR and GENUS, nearest first
    int edits[MATCH_SUGGESTIONS];                             ///< letters that differ
    size_t n_suggestions;
    bool cultivar;    ///< a cultivar name in quotes was given; the table holds the wild species
    const char *said; ///< one sentence for the user
};
/// Look a name up. Never corrects: a misspelling gives suggestions and no fact.
enum outcome species_find(const struct species_library *library, const char *name, struct arena *arena, struct species_match *out,
                          struct failure *why);
/// The name as it is compared: lower case, no accents, no author, no hybrid sign.
char *species_key(struct arena *arena, const char *name);

/* ---- a place, and how well a species fits ----------------------------------------------------------------------- */

/// A figure of the ground with its spread (one standard deviation); NaN unknown.
struct figure {
    double value, spread;
};
enum species_position { POSITION_UNKNOWN = 0, POSITION_OPEN, POSITION_EDGE, POSITION_INSIDE };
/// The place. Everything may be unknown.
struct species_ground {
    struct figure ph;               ///< in water
    struct figure reaction;         ///< EIVE scale; unknown: taken from pH, with a wide spread
    struct figure moisture;         ///< EIVE scale
    struct figure nutrients;        ///< EIVE scale
    double shade_pct;               ///< open sky taken by buildings and trees that are there
    double water_mm;                ///< available water over the rooting depth [mm]
    double wet_1to5;                ///< waterlogging it must stand, 1 none to 5 standing water
    double coldest_c;               ///< coldest night in about ten years [degC]
    enum species_position position; ///< within the planting
};
/// Ground in words to the EIVE moisture scale: dry, fairly_dry, fresh, moist, wet, very_wet. Unknown word: NaN.
struct figure species_moisture_of(const char *word);
/// Nutrients: very_poor, poor, medium, rich, very_rich.
struct figure species_nutrients_of(const char *word);
/// Reaction (EIVE) from pH in water, with its spread. From memory; see docs/methods/species.md.
struct figure species_reaction_of_ph(double ph);

enum fit_factor { FIT_REACTION, FIT_MOISTURE, FIT_NUTRIENTS, FIT_LIGHT, FIT_DROUGHT, FIT_WATERLOGGING, FIT_COLD, FIT_FACTORS };
/// One factor of a fit: 0 (does not fit) to 1.
struct fit_part {
    double fit, low, high;  ///< NaN unknown; low and high over one standard deviation of species and ground values
    double species, ground; ///< the two figures that were compared
    bool estimated;         ///< the species figure was estimated from other traits
    bool ground_estimated;  ///< the ground figure was: reaction from pH
    bool in_ph;             ///< FIT_REACTION judged in pH units, not on the indicator scale
};
struct species_fit {
    double fit, low, high; ///< the least of the known factors; NaN when none is known
    int limiting;          ///< factor that sets it, or −1
    int n_known;           ///< factors that could be judged
    struct fit_part part[FIT_FACTORS];
};
const char *fit_factor_word(enum fit_factor factor);
/// Fit of one species to a place. `layer` LAYER_UNKNOWN: that of the fact. Never fails; what is unknown is left out and counted.
struct species_fit species_fit(const struct species_fact *fact, const struct species_ground *ground, enum layer layer);

/// How well a community matches the ground, and the user's own relevés if there are any.
struct community_match {
    const struct community *community;
    double match;                             ///< 0 to 1; NaN unknown
    double ph, moisture, reaction, nutrients; ///< its parts; NaN not judged
    double shared;                            ///< likeness to the relevés, 0 to 1 (constancy-weighted Sørensen); NaN without relevés
    double native_share;                      ///< share of its woody constancy that is native to the region; NaN unknown
    const char *why;
};
/// Communities of the library, best match first; ties by id. `own` (may be NULL) is a constancy table from relevés.
/// `region` may be NULL.
enum outcome species_rank_communities(const struct species_library *library, const struct species_ground *ground, const char *region,
                                      const struct community *own, struct arena *arena, struct community_match **out, size_t *n,
                                      struct failure *why);

/* ---- relevés ---------------------------------------------------------------------------------------------------- */

struct releve_row {
    const char *stand, *species;
    enum layer layer;
    double cover_pct; ///< 0 to 100; NaN present without cover
};
/// A pair of names in the relevés that the library takes for one taxon; merged only when the user says so.
struct releve_pair {
    const char *name, *accepted;
};
/// Constancy table by layer: the share of stands in classes I (up to 20 %) to V (over 80 %), mean cover where present.
/// Cover over 100 % of one species is refused; a layer may add up to more than 100 %. `merge` names synonyms to merge.
enum outcome species_constancy(const struct species_library *library, const struct releve_row *rows, size_t n, const char *const *merge,
                               size_t n_merge, struct arena *arena, struct community *out, struct releve_pair **pairs, size_t *n_pairs,
                               struct failure *why);

/* ---- from a list to a planting list ------------------------------------------------------------------------------ */

/// What the place asks of a species beside its ground.
struct species_place {
    const char *region; ///< where it must be native
    struct species_ground ground;
    enum clay_state clay;                           ///< unknown: judged as if clay, and said so
    double building_nearest_m, building_farthest_m; ///< from a building to the nearest and farthest planting place; NaN none or unknown
    enum truth play_area, sight_line, livestock;    ///< within reach of the planting
    double overhead_clearance_m;                    ///< greatest height that may grow under a line; NaN no line or unknown
    double sight_height_m;                          ///< greatest height within a sight line; NaN unknown: 0.6
    const char *const *obtainable;                  ///< names that can be had; NULL: not looked into
    size_t n_obtainable;
    const char *community; ///< id of the reference community, or NULL
    double fit_least;      ///< species with a lower fit go out (default 0.3)
    bool ancient_ok;       ///< take long-established introductions as native
    bool later_layers;     ///< also judge ground flora and climbers, which are planted once shade has come
    bool unasked;          ///< also take species that are not offered by default
};
/// Stages in the order of work.
enum species_stage { STAGE_NATIVE, STAGE_GROUND, STAGE_HEALTH, STAGE_CONFLICT, STAGE_OBTAINABLE, STAGE_LAYER, STAGE_LIGHT, STAGE_PASSED };
enum species_answer {
    ANSWER_IN,
    ANSWER_ASK, ///< something that decides is not known, or advice is needed
    ANSWER_OUT
};
struct species_verdict {
    const struct species_fact *fact;
    enum species_answer answer;
    enum species_stage stage; ///< where it went out or was held; STAGE_PASSED otherwise
    struct species_fit fit;
    int constancy;       ///< in the chosen community; 0 not in it
    double clay_zone_m;  ///< reach on shrinkable clay: factor × mature height; NaN unknown
    double keep_away_m;  ///< least distance from buildings for the layout; NaN none
    const char *why_in;  ///< what speaks for it
    const char *why_out; ///< what speaks against it, or is not known; never empty
};
struct species_place species_place_new(void);
/// A verdict for every species of the library, in its order. The arena owns the sentences.
enum outcome species_filter(const struct species_library *library, const struct species_place *place, struct arena *arena,
                            struct species_verdict **out, size_t *n, struct failure *why);
const char *species_stage_word(enum species_stage stage);
/// Reach of a species on shrinkable clay: 1.25, 0.75 or 0.5 × mature height for high, moderate, low demand (NHBC 4.2).
double species_clay_zone_m(enum water_demand demand, double height_m);
/// Caution of open ground worth more than a plot: true from 9 plant species in any square metre. NaN: not checked, false.
bool species_open_ground(double species_per_m2);

/* ---- diversity rule of thumb -------------------------------------------------------------------------------------- */

/// Shares over 10 % species, 20 % genus, 30 % family (Santamour 1990). A warning for a town's stock, not a rule for a stand.
struct diversity_breach {
    const char *what; ///< "species", "genus" or "family"
    const char *name;
    double plants, share_pct, limit_pct;
};
/// `species`, `genus`, `family` and `plants` have n entries; genus and family may hold NULL (unknown: not judged, counted).
enum outcome species_diversity(const char *const *species, const char *const *genus, const char *const *family, const double *plants,
                               size_t n, struct arena *arena, struct diversity_breach **out, size_t *n_out, double *unknown_plants,
                               struct failure *why);
#endif
