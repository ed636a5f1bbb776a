/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of survey/: records coming in. A file's bytes become a table of text; a mapping says what each column means;
 * a dry run gives rows that are ready, rows that are doubtful with every reason, and rows that are refused; a person
 * decides about the doubtful ones. Nothing is assumed silently, changed or dropped: what is not clear comes back as a
 * question. The room is pure: bytes and structs in, structs out; storing is work/'s.
 *
 * The trip:  workbook_read → mapping_guess → mapping_set / mapping_answer (as often as needed) → import_dry_run
 *            → survey_decide for each held row. */
#ifndef SPINNEY_SURVEY_H
#define SPINNEY_SURVEY_H
#include "model/model.h"
#include <jansson.h>

/* ---- 1. Tables of text, from CSV or XLSX --------------------------------------------------------------------------- */

enum sheet_cell_kind {
    SHEET_EMPTY,
    SHEET_TEXT,
    SHEET_NUMBER, ///< stored as a number (XLSX), or text that reads as one with a decimal point (CSV)
    SHEET_DATE,   ///< XLSX: a number shown as a date; `text` is then ISO 8601, `2022-09-14` or `2022-09-14T10:30`
    SHEET_TRUTH,  ///< XLSX: "TRUE" or "FALSE"
    SHEET_FAULT,  ///< XLSX: a formula's error, such as "#DIV/0!"
};
struct sheet_cell {
    const char *text;   ///< as it stood in the file, in UTF-8; NULL where there is no cell
    unsigned char kind; ///< enum sheet_cell_kind
    bool formula;       ///< the value a spreadsheet last computed
    bool merged;        ///< covered by a merged cell: `text` is that of its top left cell
};
/// One table. Rows may differ in length. The arena owns everything.
struct record_sheet {
    const char *file;          ///< name for messages
    const char *name;          ///< of the sheet; "" for CSV
    const char *encoding;      ///< "UTF-8", "UTF-16LE", "UTF-16BE", "Windows-1252"; "" for XLSX
    char delimiter;            ///< 0 for XLSX
    bool hidden;               ///< XLSX: the sheet is hidden
    size_t rows, widest;       ///< rows kept (blank ones too) and cells of the longest
    struct sheet_cell **cells; ///< cells[row][column]
    size_t *widths;            ///< cells of each row
    long *lines;               ///< row (XLSX) or line (CSV) of the file, from 1
    const char **notes;        ///< what the reader noticed or mended, in sentences
    size_t n_notes;
};
struct workbook {
    struct record_sheet *sheets;
    size_t n;
    char sha256[65]; ///< fingerprint of the bytes, in hexadecimal
};
/// Read a file by its content: XLSX (ECMA-376) or delimited text. Text may be UTF-8, UTF-16 or Windows-1252, delimited by
/// comma, semicolon, tab or bar. Refuses what is neither, damaged, encrypted or beyond the limits (64 sheets, 2 million
/// rows, 4,096 columns, 60 million cells, 1 GiB unpacked, a hundred and fifty times the packed size above 50 MiB).
enum outcome workbook_read(const char *file, const char *bytes, size_t n, struct arena *arena, struct workbook *out, struct failure *why);
const struct sheet_cell *record_sheet_at(const struct record_sheet *sheet, size_t row, size_t column); ///< NULL outside
const char *record_sheet_text(const struct record_sheet *sheet, size_t row, size_t column);            ///< NULL outside or empty

/* ---- 2. Dates as people write them --------------------------------------------------------------------------------- */

enum date_order { DATE_ORDER_UNKNOWN, DATE_DMY, DATE_MDY, DATE_YMD };
enum date_reading {
    DATE_NOT,       ///< no date
    DATE_CLEAR,     ///< one day
    DATE_AMBIGUOUS, ///< 03/04/2023: day or month first? `date` is set only if the order was given
    DATE_MONTH,     ///< a month without a day, such as Feb14: `date` is its first day, `approximate` true
};
struct date_read {
    enum date_reading reading;
    int32_t date;
    bool approximate; ///< only the month is known
    bool short_year;  ///< two digits: read as 2000 to 2069 or 1970 to 1999
};
/// 2023-04-03, 3.4.2023, 03/04/23, 3 April 2023, 3 avr. 2023, 3. März 2023, 3 maart 2023, Feb14, 20230403, with or
/// without a time of day behind. Month names in English, French, German, Dutch, Spanish.
struct date_read survey_date(const char *text, enum date_order order);

/* ---- 3. What the columns mean -------------------------------------------------------------------------------------- */

enum record_kind {
    RECORD_PLANTS,
    RECORD_WILDLIFE,
    RECORD_SOIL,
    RECORD_WEATHER,
    RECORD_COSTS,
    RECORD_CARE,
    RECORD_HOURS,
    RECORD_PHENOLOGY,
    RECORD_INCIDENTS,
    RECORD_KINDS
};
const char *
record_kind_word(enum record_kind kind); ///< "plants", "wildlife", "soil", "weather", "costs", "care", "hours", "phenology", "incidents"
int record_kind_find(const char *word);  ///< or −1
enum noun record_noun(enum record_kind kind); ///< what its rows become (wildlife: the records, its looks apart)

/// A field that a column can fill: one of the noun, or a key that finds the plant, plot or site.
struct import_field {
    const char *name;  ///< height_cm, plot, tag …
    const char *title; ///< in words
    const char *unit;  ///< the noun's unit, "" if none
    bool key;          ///< finds something; is not stored itself
};
/// All fields of a kind, in the order they are shown.
const struct import_field *import_fields(enum record_kind kind, struct arena *arena, size_t *n);

struct column_use {
    size_t column;           ///< from 0
    const char *heading;     ///< as in the file
    const char *field;       ///< NULL: left out
    const char *unit;        ///< unit of the file's figures, "" if none or not known yet
    const char *census_text; ///< wide table: the census as the heading names it; NULL otherwise
    int32_t census;          ///< its first day; DATE_UNKNOWN: no census, or not known yet
    int32_t census_end;      ///< the same, or the last day of the month where only the month is known
    const char *because;     ///< why it was guessed so
};
struct mapping_fixed {
    const char *field, *value; ///< the same for all rows, such as plot D1
};
struct mapping_word {
    const char *field, *from, *to; ///< a word in the file and what it means: status, "ok" → alive; site, "left" → LK
};
/// What a file was read with: kept as JSON with the import, so that the same answers serve next year's file.
struct mapping {
    enum record_kind kind;
    const char *sheet; ///< name; "" for CSV
    size_t header;     ///< row index of the headings
    struct column_use *columns;
    size_t n_columns;
    enum date_order dates;  ///< unknown: to be asked, if any date needs it
    char decimal;           ///< '.', ',' or 'b' (both occur, never for thousands); 0: to be asked, if any number needs it
    bool wide;              ///< one column per census
    const char *wide_field; ///< what the census columns hold: diameter_mm, height_cm or status; NULL: to be asked
    const char *wide_unit;
    const char *census_day; ///< where headings name only a month: "first", "middle" or "last" day of it; NULL: to be asked
    const char *
        blank_means; ///< blank or NA measure where there is no status column: dead_standing, not_found, missing, not_measured; NULL: to be asked
    const char *new_plants; ///< plants the programme does not know: "make", "replacements" or "hold"; NULL: to be asked
    const char *labels;     ///< labels are unique in a "plot" or on a "site"; NULL: by what the programme holds
    const char *tax;        ///< costs: amounts "with" or "without" tax; NULL: to be asked if headings do not say
    struct mapping_fixed *fixed;
    size_t n_fixed;
    struct mapping_word *words;
    size_t n_words;
};
struct choice {
    const char *value, *words;
};
/// Something only a person can answer. Answer with mapping_answer(id, value).
struct question {
    const char *
        id; ///< dates, decimal, unit:height_cm, word:status:abc, blank_means, census_day, new_plants, labels, wide_field, plot, site, observed_on, tax
    const char *words;      ///< the question
    const char *evidence;   ///< what in the file raises it, with numbers
    const char *suggestion; ///< the choice that the file speaks for; NULL: none
    struct choice *choices;
    size_t n_choices; ///< 0: free text
    bool required;    ///< without an answer the rows it touches are held
    size_t rows;      ///< rows it touches
};

/// What the programme already knows. All arrays may be empty.
struct survey_ground {
    const struct site *sites;
    size_t n_sites;
    const struct plot *plots;
    size_t n_plots;
    const struct plant *plants;
    size_t n_plants;
    const struct visit *visits;
    size_t n_visits;
    const struct plant_record *records; ///< earlier records, any order
    size_t n_records;
    const struct soil_sample *soils;
    size_t n_soils;
    const struct wildlife_visit *looks;
    size_t n_looks;
    const struct work_hours *hours;
    size_t n_hours;
    const struct weather_day *weather;
    size_t n_weather;
    const struct cost_item *costs;
    size_t n_costs;
    const void *already; ///< rows of the noun this kind of file brings (not plants), to notice what is there already
    size_t n_already;
    const struct import *imports; ///< earlier imports, without their bytes
    size_t n_imports;
    const struct survey_name *names; ///< accepted names and synonyms of the species library
    size_t n_names;
    const struct cell *cells; ///< squares of the plans
    size_t n_cells;
    const struct plan *plans; ///< plans the squares belong to
    size_t n_plans;
};
struct survey_name {
    const char *name;     ///< a name people use
    const char *accepted; ///< the accepted scientific name; the same text where it is the accepted one
};

/// Guess the heading row and what every column means. Fails only where there is no table.
enum outcome mapping_guess(const struct record_sheet *sheet, enum record_kind kind, const struct survey_ground *ground, struct arena *arena,
                           struct mapping *out, struct failure *why);
/// Guess the kind of records from the headings; −1 if nothing fits.
int record_kind_guess(const struct record_sheet *sheet);
/// "height_cm=Höhe", "plot:=D1" (the same for all rows), "height_cm=Höhe [mm]" (with its unit), "note=" (leave out).
enum outcome mapping_set(struct mapping *mapping, const struct record_sheet *sheet, const char *option, struct arena *arena,
                         struct failure *why);
/// Answer a question of mapping_questions by its id.
enum outcome mapping_answer(struct mapping *mapping, const char *id, const char *value, struct arena *arena, struct failure *why);
/// What is still open, each once. Depends on the values in the file.
void mapping_questions(const struct mapping *mapping, const struct record_sheet *sheet, const struct survey_ground *ground,
                       struct arena *arena, struct question **out, size_t *n);
json_t *mapping_json(const struct mapping *mapping);
/// Strict: unknown members and fields are refused. Columns are found by heading, then by number.
enum outcome mapping_from_json(const json_t *json, const struct record_sheet *sheet, struct arena *arena, struct mapping *out,
                               struct failure *why);

/* ---- 4. Doubts ----------------------------------------------------------------------------------------------------- */

/// A check that can raise a doubt. `holds`: rows wait for a decision; otherwise a remark beside rows that go in.
struct check_info {
    const char *id;    ///< shrinkage, ten_times, …
    const char *title; ///< in words
    bool holds;
    const char *source; ///< where its threshold comes from, with grade
    const char *alarm;  ///< what can set it off wrongly
};
extern const struct check_info survey_checks[];
extern const size_t n_survey_checks;
const struct check_info *survey_check_find(const char *id);

/// A way out of a doubt: accept, reject, or correct:FIELD=VALUE (several joined by ;).
struct remedy {
    const char *decision;
    const char *words;
};
enum { MOST_REMEDIES = 6, NO_ROW = -1 };
struct doubt {
    const struct check_info *check;
    int64_t row;          ///< index of the row in the array checked; NO_ROW: of the whole file
    int64_t other;        ///< index of the row it is paired with, or NO_ROW
    size_t rows;          ///< rows it speaks of, 1 or more
    const char *field;    ///< "" if several
    const char *sentence; ///< what is odd, with the numbers
    double seen, before;  ///< evidence: the figure now and then; NaN where none
    double limit;         ///< the threshold passed
    struct remedy remedies[MOST_REMEDIES];
    size_t n_remedies;
};

/// Thresholds of the plausibility checks. Start from survey_limits_usual().
struct survey_limits {
    double shrink_share;          ///< of the last size lost without a damage code; 0.15
    double shrink_floor_cm;       ///< height losses up to this are measuring error; 3 cm
    double shrink_any_cm;         ///< height losses above this need a damage code whatever their share; 10 cm (T78)
    double shrink_floor_mm;       ///< diameter losses up to this; 1 mm
    double height_gain_cm_year;   ///< 150 (T78)
    double diameter_gain_mm_year; ///< 20 (T78)
    double outlier_z;             ///< robust standard deviations from the file's own growth; 6
    int window_from, window_to;   ///< month × 100 + day: 815 to 930 (T77)
    int32_t today;                ///< nothing is recorded after it; DATE_UNKNOWN: not checked
};
struct survey_limits survey_limits_usual(void);

/// What surrounds a plant record beyond its own fields; one for each record, or NULL.
struct record_place {
    int64_t plot_id;        ///< plot as written; 0: not written
    const char *cell, *tag; ///< as written; NULL: not written
    int64_t number;         ///< INT_UNKNOWN: not written
    long file_row;
};
/// Check `n` new plant records against the earlier ones in `ground` and against each other. Doubts come in order of row, then
/// check. Ids of plants not stored yet are negative: −1 is ground's first new plant in `fresh`. Two million records take
/// seconds; `progress` may call it off.
enum outcome plants_check(const struct plant_record *records, const struct record_place *places, size_t n, const struct plant *fresh,
                          size_t n_fresh, const struct survey_ground *ground, const struct survey_limits *limits,
                          const struct progress *progress, struct arena *arena, struct doubt **out, size_t *n_out, struct failure *why);
void soil_check(const struct soil_sample *samples, size_t n, const struct survey_ground *ground, struct arena *arena, struct doubt **out,
                size_t *n_out);
/// `records` are those of the looks: wildlife_visit_id −(index + 1).
void wildlife_check(const struct wildlife_visit *looks, size_t n, const struct wildlife_record *records, size_t n_records,
                    const struct survey_ground *ground, struct arena *arena, struct doubt **out, size_t *n_out);
void weather_check(const struct weather_day *days, size_t n, const struct survey_ground *ground, struct arena *arena, struct doubt **out,
                   size_t *n_out);
void costs_check(const struct cost_item *items, size_t n, const struct survey_ground *ground, struct arena *arena, struct doubt **out,
                 size_t *n_out);
void hours_check(const struct work_hours *hours, size_t n, const struct survey_ground *ground, struct arena *arena, struct doubt **out,
                 size_t *n_out);
/// Pairs of latitude and longitude against where they should lie, give or take `reach_deg`: 0 as given, 1 swapped, 2 neither.
int coordinates_check(double latitude, double longitude, double home_latitude, double home_longitude, double reach_deg);

/* ---- 5. The dry run ------------------------------------------------------------------------------------------------ */

struct import_options {
    int64_t visit_id;           ///< put plant records on this visit; 0: by site and date, proposing new visits
    enum visit_kind visit_kind; ///< of proposed visits; unknown: census
    struct survey_limits limits;
    const struct progress *progress;
};
/// A row held for a decision: not changed, not dropped.
struct held {
    struct held_row row;  ///< ready to be stored: row_number, kind, raw, parsed, reason, state
    void *record;         ///< as understood, a struct of result.noun; its plant or visit may be unknown
    struct doubt *doubts; ///< every reason
    size_t n_doubts;
};
struct import_result {
    enum record_kind kind;
    enum noun noun; ///< of `ready` and of held records
    char sha256[65];
    const struct import *same; ///< an earlier import of the very same bytes, or NULL
    size_t file_rows;          ///< rows below the headings
    size_t blank_rows;         ///< of these: blank, comments, or headings repeated
    size_t read;               ///< entries: rows, or in a wide table rows × censuses
    /// read = ready + held + refused + empty + zero. Empty: a census before the plant was there, or not measured; zero:
    /// a wildlife row that says nothing was seen, for which the look stands.
    size_t n_ready, n_held, n_refused, n_empty, n_zero;
    void *ready;                 ///< n_ready structs of `noun`
    struct record_place *places; ///< of each ready row
    struct held *held;
    struct failure *refused; ///< file, row, column, sentence and remedy of each
    struct plant *plants;    ///< new ones, referred to as plant_id −(index + 1)
    size_t n_plants;
    struct visit *visits; ///< new ones, referred to as visit_id −(index + 1)
    size_t n_visits;
    struct wildlife_visit *looks; ///< wildlife: the looks, referred to as wildlife_visit_id −(index + 1)
    size_t n_looks;
    struct doubt *remarks; ///< what does not hold a row: row is an index into `ready`, or NO_ROW
    size_t n_remarks;
    struct question *questions;
    size_t n_questions;
};
/// Read every row below the headings as the mapping says and sort them into ready, held and refused. Nothing is stored.
enum outcome import_dry_run(const struct workbook *book, const struct record_sheet *sheet, const struct mapping *mapping,
                            const struct survey_ground *ground, const struct import_options *options, struct arena *arena,
                            struct import_result *out, struct failure *why);

enum { SAME_VISIT_DAYS = 21 }; ///< days between records of one survey (common practice, no source)
/// The census of a site that a day belongs to: it holds the day, or begins or ends at most `within_days` off; the nearest. NULL: none.
const struct visit *survey_visit_find(const struct survey_ground *ground, int64_t site, int32_t day, int within_days);
/// A new visit of one day, of every plant. Kind unknown: census.
struct visit survey_visit_new(int64_t site, int64_t plot, int32_t day, enum visit_kind kind);

/* ---- 6. Finding the plant ------------------------------------------------------------------------------------------ */

struct plant_index; ///< lives in its arena
struct plant_index *plant_index_make(const struct survey_ground *ground, struct arena *arena);
enum plant_match { MATCH_NONE, MATCH_ONE, MATCH_SEVERAL, MATCH_DISAGREES };
/// How labels are given. As found: numbered anew in every plot where a tenth of a site's labels, and at least two, stand in
/// several of its plots; otherwise unique on the site.
enum label_scope { LABELS_AS_FOUND, LABELS_BY_PLOT, LABELS_BY_SITE };
bool labels_by_plot(size_t labels, size_t repeated);
/// What a row says about which plant it means; NULL, 0 and INT_UNKNOWN where it says nothing.
struct plant_key {
    int64_t site_id, plot_id;
    const char *cell, *tag;
    int64_t number;
    enum label_scope labels;
};
struct plant_found {
    enum plant_match match;
    const struct plant *plant;   ///< MATCH_ONE; MATCH_DISAGREES: the one by tag
    const struct plant *other;   ///< MATCH_DISAGREES: the one by square and number
    const char *words;           ///< why not, and the nearest candidates by name
    const struct plant *near[3]; ///< nearest candidates
    size_t n_near;
};
/// By tag within the plot that is named, else the site, else all; never on another site than the one named. A label that stands
/// only in another plot of the site disagrees, unless labels are numbered anew in every plot; several plants are never chosen
/// among. By plot, square and number; both must agree where both are given.
struct plant_found plant_find(const struct plant_index *index, const struct plant_key *key, struct arena *arena);
/// "C7", "c07", "C-07", "C 7" → "C07"; NULL if it is no square. `row` and `column` (may be NULL) count from 0.
char *cell_code_read(const char *text, int *row, int *column, struct arena *arena);

/* ---- 7. Deciding --------------------------------------------------------------------------------------------------- */

struct decision {
    const char *what;   ///< "accept", "reject" or "correct:FIELD=VALUE;FIELD=VALUE"
    const char *reason; ///< required, except with a correction
    const char *by;     ///< pseudonym
    int32_t on;
};
/// The held row after a decision, and the record that comes of it. `record` points to a struct of `noun` and is filled
/// unless the row is rejected; a corrected plot, cell, number or tag finds the plant anew. Old values stay in `held`'s raw
/// and parsed; the reason goes to the record's `confirmed` where it has one. Fails where the decision leaves the row
/// without a plant, a status or another required field, and leaves `held` as it was.
enum outcome survey_decide(enum noun noun, const struct held_row *held, const struct decision *decision, const struct survey_ground *ground,
                           struct arena *arena, struct held_row *out, void *record, struct failure *why);
/// What has to be stored beside the record of a decided row, read from its `parsed`.
struct decided_more {
    bool new_plant; ///< plant record: its plant is new, and no row that was kept has brought it yet
    struct plant plant;
    bool has_look;                           ///< wildlife: the look as decided
    bool look_only;                          ///< nothing was seen: the look stands for the row, there is no record
    struct wildlife_visit look, look_before; ///< as decided, and as the file had it
};
/// `after` and `record` as survey_decide gave them, not rejected. A new plant that another row has brought meanwhile is found among
/// ground's plants (same plot, square, number and label) and set in `record`.
enum outcome survey_decided_more(enum noun noun, const struct held_row *after, const struct survey_ground *ground, struct arena *arena,
                                 void *record, struct decided_more *out, struct failure *why);
/// A row of a noun as JSON and back (unknown fields are left out).
json_t *survey_row_json(enum noun noun, const void *row);
enum outcome survey_row_from_json(enum noun noun, const json_t *json, struct arena *arena, void *row, struct failure *why);

/* ---- 8. How well observers measure --------------------------------------------------------------------------------- */

/// Digit preference of one observer's heights below 2 m, read to 1 cm.
struct digit_heaping {
    size_t n;       ///< readings
    size_t on_five; ///< ending in 0 or 5
    size_t on_ten;  ///< ending in 0
    double index;   ///< Whipple's index: 100 none, 500 all on 0 or 5
    double p_value; ///< chance of as many or more with no preference (binomial, 1/5)
    bool heaped;    ///< n ≥ 20, index ≥ 175 and p < 0.001
};
/// Heights that are not whole centimetres are rounded; those of 2 m and more are left out (5 cm steps are allowed there).
struct digit_heaping observer_heaping(const double *height_cm, size_t n);

/// Agreement of two blind measurements of the same plants (F46, T70).
struct observer_agreement {
    size_t n, same;                       ///< pairs with both states, and those that agree
    double kappa;                         ///< Cohen 1960; NaN if not defined
    size_t n_height;                      ///< pairs with both heights
    double height_mean_cm;                ///< mean of second minus first
    double height_sd_cm;                  ///< standard deviation of the differences
    double height_low_cm, height_high_cm; ///< limits of agreement: mean ± 1.96 SD (Bland & Altman 1986)
    size_t height_within;                 ///< pairs within 5 cm or 5 %
    size_t n_diameter, diameter_within;   ///< pairs with both diameters; within 1 mm
};
struct observer_agreement observer_agreement_of(const struct plant_record *first, const struct plant_record *second, size_t n);

/// Growth between two measurements against limits. `per_year` is gain over the time between; growth of less than
/// half a year is judged by the gain alone, as if it were a full season.
struct size_change {
    double gain, per_year, share; ///< share: gain over the first value
    bool shrunk, too_fast, tenfold, tenth, metres;
};
struct size_change size_change_of(double before, double now, double years, double gain_limit_year, double shrink_share,
                                  double shrink_floor);
#endif
