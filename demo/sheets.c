/* SPDX-License-Identifier: GPL-3.0-or-later
 * The censuses as people hand them over: seen by several observers, with small errors of measuring, and with the planted
 * mistakes, each written down with its truth. A clean copy of every sheet lies beside the truth. */
#include "lives.h"
#include "sheets.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- who saw what ---- */

struct window {
    const char *from;
    int days;
};
/* Autumn censuses; Lockside Bank came late in 2023, without leaves. */
static struct window window_of(enum site_number site, int year)
{
    static const struct window autumns[] = {{"2022-09-12", 20}, {"2023-09-04", 18}, {"2024-09-09", 20}, {"2025-09-08", 18}};
    return site == LK && year == 2023 ? (struct window){"2023-11-21", 2} : autumns[year - FIRST_YEAR];
}

static const char *observer_of(enum site_number site, int year, size_t block)
{
    static const char *const eyes[] = {"V005", "V008", "V011", "V017", "V019", "V023", "V026", "V031", "V034"};
    return eyes[((size_t)site * 2 + (size_t)year + block) % (sizeof eyes / sizeof *eyes)];
}

static bool rounds_to_five(const char *observer)
{
    return strcmp(observer, "V017") == 0 || strcmp(observer, "V031") == 0;
}

/* One honest row. */
static void row_see(struct sheet_row *row, struct lives *lives, size_t i, int year, int32_t when, const char *observer)
{
    const struct life *life = &lives->at[i];
    const struct town_plot *plot = &town_plots[life->plot];
    struct random_stream r = random_make(lives->seed, STREAM_SHEET + 20000 * (uint64_t)(year - FIRST_YEAR + 1) + i);
    *row = (struct sheet_row){.life = i};
    snprintf(row->site, sizeof row->site, "%s", town_sites[plot->site].code);
    snprintf(row->plot, sizeof row->plot, "%s", plot->code);
    snprintf(row->tag, sizeof row->tag, "%s",
             (year == 2023 && life->tag_lost_2023) || (year == 2024 && life->tag_lost_2024) ? "" : life->tag);
    snprintf(row->cell, sizeof row->cell, "%s", life->cell);
    snprintf(row->number, sizeof row->number, "%d", life->number);
    snprintf(row->species, sizeof row->species, "%s",
             town_species[year >= 2024 && life->true_species >= 0 ? life->true_species : life->species].name);
    snprintf(row->observer, sizeof row->observer, "%s", observer);
    date_write(when, row->date);
    bool alive = life_alive(life, when), planting = strcmp(row->date, "2022-06-01") < 0 || life->cohort == year + 1;
    double height = planting ? life->height_cm[life->cohort - FIRST_YEAR] : life_height_cm(life, year);
    double thin = plot->letter == 'D' || plot->letter == 'N' ? 1.08 : 1;
    double error = random_normal(&r), bark = random_normal(&r), u = random_uniform(&r);
    if (!alive) {
        snprintf(row->status, sizeof row->status, "%s",
                 life->pulled && !life->replanted               ? "removed"
                 : u < 0.25 && strcmp(life->cause, "fire") != 0 ? "missing"
                                                                : "dead");
        snprintf(row->damage, sizeof row->damage, "%s",
                 life->pulled                                     ? "pulled"
                 : life->ringed                                   ? "mower"
                 : life->scorched                                 ? "burnt"
                 : strcmp(life->cause, "drought") == 0 && u > 0.5 ? "drought"
                                                                  : "");
        return;
    }
    bool back = life->resprouted != LIVING && life->resprouted <= when && year == 2023;
    if (!planting && !life->old_tag && (u < 0.004 || (row->tag[0] == '\0' && town_plots[life->plot].site == LK && u < 0.2))) {
        snprintf(row->status, sizeof row->status, "not found");
        return;
    }
    snprintf(row->status, sizeof row->status, "%s", back ? "resprouting" : u > 0.97 && year == 2023 ? "alive with dieback" : "alive");
    row->height = floor(height + 1.3 * error + 0.5);
    if (row->height < 3)
        row->height = 3;
    if (rounds_to_five(observer))
        row->height = row->height < 5 ? 5 : floor(row->height / 5 + 0.5) * 5;
    row->diameter = floor(10 * (height * life->ratio / thin + 0.15 * bark) + 0.5) / 10;
    if (row->diameter < 0.8)
        row->diameter = 0.8;
    if ((life->browsed && year == 2024) || (life->snapped && year == 2025) || (life->ringed && year == 2022))
        snprintf(row->damage, sizeof row->damage, "%s", life->browsed ? "rabbit" : life->snapped ? "snapped" : "mower");
}

/* Squares of Glasshouse Lane that were counted in 2024: about every fourth, by the seed. */
static bool in_sample(const struct lives *lives, const struct life *life)
{
    struct random_stream r = random_make(lives->seed, STREAM_EVENT + 50 + (uint64_t)(life->plot * 4000 + life->row * 60 + life->column));
    return random_uniform(&r) < 0.25;
}

static bool seen_dead(const struct lives *lives, size_t i)
{
    return lives->at[i].told_dead;
}

/* All plants of a site that a census walks past, plot by plot. `year` 0: the as-planted census. */
static struct sheet census_walk(struct lives *lives, enum site_number site, int year, const char *only, const char *without)
{
    struct sheet sheet = {.rows = calloc(2 * lives->n + 400, sizeof *sheet.rows)};
    int cohort = town_sites[site].cohort;
    int32_t planted = 0, from = 0;
    date_read(town_sites[site].planted, &planted);
    struct window window = year == 0 ? (struct window){"", 3} : window_of(site, year);
    if (year == 0)
        from = site == TS ? date_make(cohort, 5, 25) : planted + 14;
    else
        date_read(window.from, &from);
    size_t at = 0;
    for (int p = 0; p < PLOTS; p++) {
        if (town_plots[p].site != site || (only != NULL && strcmp(only, town_plots[p].code) != 0) ||
            (without != NULL && strcmp(without, town_plots[p].code) == 0))
            continue;
        for (size_t i = 0; i < lives->n; i++) {
            struct life *life = &lives->at[i];
            int32_t when = from + (int32_t)(at / 150) % window.days;
            bool due = year == 0 ? life->replaces < 0 : life->cohort <= year;
            bool sampled = !(site == GL && year == 2024) || in_sample(lives, life);
            bool back = life->told_dead && life->resprouted <= when && life_alive(life, when);
            if (life->plot != p || !due || !sampled || (seen_dead(lives, i) && !back))
                continue;
            if (year == 0 && !life_alive(life, when))
                continue; /* gone before the late as-planted census: nobody listed it */
            if (life->old_tag && !life_alive(life, when) && year > 2023)
                continue;
            row_see(&sheet.rows[sheet.n++], lives, i, year == 0 ? cohort - 1 : year, when, observer_of(site, year, at++ / 150));
            if (!life_alive(life, when))
                life->told_dead = true;
        }
    }
    return sheet;
}

/* ---- writing ---- */

static void size_text(double x, char mark, char out[24])
{
    if (x <= 0) {
        out[0] = '\0';
        return;
    }
    char plain[64];
    number_fixed(x, floor(x) < x ? 1 : 0, plain);
    snprintf(out, 24, "%.20s", plain);
    for (char *p = out; *p != '\0'; p++)
        if (*p == '.')
            *p = mark;
}

static void date_text(const struct sheet *sheet, const struct sheet_row *row, char out[24])
{
    int32_t when = 0;
    int year = 0, month = 0, of_month = 0;
    snprintf(out, 24, "%s", row->date);
    if (sheet->style != STYLE_SLASHES || !date_read(row->date, &when))
        return;
    date_parts(when, &year, &month, &of_month);
    snprintf(out, 24, "%02d/%02d/%04d", of_month, month, year);
}

void sheet_cells(const struct sheet *sheet, size_t i, char cells[SHEET_COLUMNS][48])
{
    const struct sheet_row *row = &sheet->rows[i];
    const char *const texts[] = {row->site, row->plot, row->tag, row->cell, row->number, row->species, row->status};
    for (int c = 0; c < 7; c++)
        snprintf(cells[c], 48, "%s", texts[c]);
    char out[24];
    size_text(row->height, '.', out);
    snprintf(cells[7], 48, "%s", out);
    size_text(row->diameter, row->comma ? ',' : '.', out);
    snprintf(cells[8], 48, "%s", out);
    snprintf(cells[9], 48, "%s", row->diameter > 0 ? "root_collar" : "");
    snprintf(cells[10], 48, "%s", row->damage);
    date_text(sheet, row, out);
    snprintf(cells[11], 48, "%s", out);
    snprintf(cells[12], 48, "%s", row->observer);
    snprintf(cells[13], 48, "%s", row->note);
}

const char *const *sheet_headings(const struct sheet *sheet)
{
    /* every year its own headings, as it goes */
    static const char *const headings[][SHEET_COLUMNS] = {
        {"site", "plot", "tag", "cell", "number", "species", "status", "height_cm", "diameter_mm", "diameter_at", "damage", "observed_on",
         "observer", "note"},
        {"Site", "Plot", "Label", "Square", "No", "Species", "State", "Height (cm)", "Collar diameter (mm)", "Measured at", "Damage",
         "Date", "Observer", "Notes"},
        {"site code", "plot code", "tag no", "quadrat", "plant no", "species name", "condition", "height [cm]", "root collar diameter [mm]",
         "measured at", "damage cause", "survey date", "recorded by", "remarks"},
    };
    return headings[sheet->style == STYLE_SLASHES || sheet->style == STYLE_SEMICOLON ? 1 : sheet->style == STYLE_XLSX ? 2 : 0];
}

void sheet_put(const struct sheet *sheet, const char *folder, const char *name)
{
    struct text out = {0};
    char cells[SHEET_COLUMNS][48], mark = sheet->style == STYLE_COMMA ? ',' : ';';
    const char *const *headings = sheet_headings(sheet);
    for (int c = 0; c < SHEET_COLUMNS; c++)
        text_print(&out, "%.1s%s", c > 0 ? (char[]){mark, 0} : "", headings[c]);
    text_add(&out, "\n");
    for (size_t i = 0; i < sheet->n; i++) {
        sheet_cells(sheet, i, cells);
        for (int c = 0; c < SHEET_COLUMNS; c++)
            text_print(&out, "%s%s", c > 0 ? (char[]){mark, 0} : "", cells[c]);
        text_add(&out, "\n");
    }
    file_put(folder, name, &out);
}

/* ---- all censuses ---- */

static void sheet_out(struct lives *lives, struct sheet *sheet, const char *folder, const char *name, int year, enum site_number site)
{
    char truth[4096], records[4096], clean[64];
    snprintf(truth, sizeof truth, "%s/truth", folder);
    snprintf(records, sizeof records, "%s/records", folder);
    snprintf(clean, sizeof clean, "census-%.40s", name);
    char *dot = strrchr(clean, '.');
    if (dot != NULL && strcmp(dot, ".xlsx") == 0)
        snprintf(dot, 5, ".csv");
    enum sheet_style style = sheet->style;
    sheet->style = STYLE_COMMA;
    sheet_put(sheet, truth, clean);
    sheet->style = style;
    sheet->name = name;
    mistakes_plant(lives, sheet, year, site);
    if (sheet->style == STYLE_XLSX)
        sheet_workbook(sheet, records, name);
    else
        sheet_put(sheet, records, name);
    free(sheet->rows);
}

/* The walk after the fire, two weeks on: eighteen plants, black. */
static void fire_walk(struct lives *lives, const char *folder)
{
    struct sheet sheet = {.rows = calloc(32, sizeof *sheet.rows), .style = STYLE_COMMA};
    for (size_t i = 0; i < lives->n && sheet.n < 18; i++)
        if (lives->at[i].scorched) {
            row_see(&sheet.rows[sheet.n++], lives, i, 2022, date_make(2022, 11, 20), "V002");
            lives->at[i].told_dead = true;
        }
    sheet_out(lives, &sheet, folder, "2022-BS-fire.csv", 0, BS);
}

void sheets_write(struct lives *lives, const char *folder)
{
    char name[64];
    for (int site = 0; site < SITES; site++) {
        struct sheet sheet = census_walk(lives, (enum site_number)site, 0, NULL, NULL);
        snprintf(name, sizeof name, "planted-%s.csv", town_sites[site].code);
        sheet_out(lives, &sheet, folder, name, 0, (enum site_number)site);
    }
    for (int year = FIRST_YEAR; year < FIRST_YEAR + YEARS; year++)
        for (int s = 0; s < SITES; s++) {
            enum site_number site = (enum site_number)s;
            if (town_sites[s].cohort > year || (site == BS && year == 2024))
                continue;
            bool apart = site == BS && year == 2022, book = site == FB && year == 2024;
            struct sheet sheet = census_walk(lives, site, year, NULL, apart ? "P1" : NULL);
            sheet.style = book ? STYLE_XLSX : year == 2022 ? STYLE_SEMICOLON : STYLE_COMMA;
            if (site == TS && year == 2023)
                sheet.style = STYLE_SEMICOLON;
            snprintf(name, sizeof name, "%d-%s.%s", year, town_sites[s].code, book ? "xlsx" : "csv");
            sheet_out(lives, &sheet, folder, name, year, site);
            if (apart) {
                struct sheet own = census_walk(lives, site, year, "P1", NULL);
                own.style = STYLE_SLASHES;
                sheet_out(lives, &own, folder, "2022-BS-P1.csv", year, site);
                fire_walk(lives, folder);
            }
        }
}
