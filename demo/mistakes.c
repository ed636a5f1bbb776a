/* SPDX-License-Identifier: GPL-3.0-or-later
 * Mistakes people make, planted in the censuses in stated numbers, each with its truth and with what would mend it. */
#include "sheets.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <xlsxwriter.h>

static void decide(const struct sheet *sheet, size_t row, const char *what, const char *reason)
{
    decision_add(sheet->name, (long)row + 2, what, reason);
}

/* ---- choosing rows ---- */

typedef bool (*wanted_row)(const struct lives *lives, const struct sheet_row *row, int year);

static bool alive_row(const struct lives *lives, const struct sheet_row *row, int year)
{
    (void)lives, (void)year;
    return strcmp(row->status, "alive") == 0 && row->height > 0 && row->damage[0] == '\0';
}

static double height_before(const struct lives *lives, const struct sheet_row *row, int year)
{
    return life_height_cm(&lives->at[row->life], year - 1);
}

static bool known_before(const struct lives *lives, const struct sheet_row *row, int year)
{
    return alive_row(lives, row, year) && lives->at[row->life].cohort < year && lives->at[row->life].replaces < 0 &&
           !lives->at[row->life].browsed && lives->at[row->life].true_species < 0 && height_before(lives, row, year) >= 40 &&
           row->tag[0] != '\0';
}

static bool planted_before(const struct lives *lives, const struct sheet_row *row, int year)
{
    return alive_row(lives, row, year) && lives->at[row->life].replaces < 0 && row->height >= 30 && row->tag[0] != '\0';
}

static bool tall_row(const struct lives *lives, const struct sheet_row *row, int year)
{
    return known_before(lives, row, year) && row->height >= 110 && row->height <= 300;
}

static bool dense_row(const struct lives *lives, const struct sheet_row *row, int year)
{
    return planted_before(lives, row, year) && row->plot[0] == 'D';
}

static bool lasting_row(const struct lives *lives, const struct sheet_row *row, int year)
{
    return planted_before(lives, row, year) && lives->at[row->life].died == LIVING;
}

static bool cornel_row(const struct lives *lives, const struct sheet_row *row, int year)
{
    return alive_row(lives, row, year) && (strcmp(row->species, "Cornus sanguinea") == 0 || strcmp(row->species, "Frangula alnus") == 0);
}

static bool birch_row(const struct lives *lives, const struct sheet_row *row, int year)
{
    return alive_row(lives, row, year) && strcmp(row->species, "Betula pendula") == 0;
}

/* Up to `n` rows that carry no mistake yet, by the seed. */
static size_t grab(const struct lives *lives, struct sheet *sheet, int year, int salt, wanted_row wanted, size_t n, size_t *out)
{
    size_t found = 0;
    size_t *all = calloc(sheet->n + 1, sizeof *all);
    for (size_t i = 0; all != NULL && i < sheet->n; i++)
        if (!sheet->rows[i].used && wanted(lives, &sheet->rows[i], year))
            all[found++] = i;
    struct random_stream r =
        random_make(lives->seed, STREAM_MISTAKE + 1000 * (uint64_t)salt + (uint64_t)year * 10 + (uint64_t)sheet->rows[0].site[0]);
    random_shuffle(&r, all, found);
    for (size_t i = 0; i < n && i < found; i++) {
        out[i] = all[i];
        sheet->rows[all[i]].used = true;
    }
    free(all);
    return found < n ? found : n;
}

static void note(const struct sheet *sheet, size_t i, const char *kind, const char *field, const char *truth, const char *written,
                 const char *check, const char *what, const char *reason)
{
    const struct sheet_row *row = &sheet->rows[i];
    char plant[64];
    snprintf(plant, sizeof plant, "%s-%s-%s-%s", row->site, row->plot, row->cell, row->number);
    mistake_add(sheet->name, (long)i + 2, kind, plant, field, truth, written, check);
    if (what != NULL)
        decide(sheet, i, what, reason);
}

/* ---- figures ---- */

static void height_slip(struct lives *lives, struct sheet *sheet, int year, int salt, size_t n, const char *kind, double factor)
{
    size_t rows[64], m = grab(lives, sheet, year, salt, factor < 1 ? tall_row : known_before, n, rows);
    for (size_t k = 0; k < m; k++) {
        struct sheet_row *row = &sheet->rows[rows[k]];
        char truth[24], written[24], what[64];
        snprintf(truth, sizeof truth, "%.0f", row->height);
        row->height = floor(row->height * factor * 100 + 0.5) / 100;
        if (strcmp(kind, "millimetres typed as centimetres") == 0)
            row->height += (double)(k % 9);
        if (factor < 1)
            row->height = floor(row->height * 10 + 0.5) / 10;
        snprintf(written, sizeof written, "%g", row->height);
        snprintf(what, sizeof what, "correct:height_cm=%s", truth);
        note(sheet, rows[k], kind, "height_cm", truth, written, factor < 1 ? "metres" : "ten_times", what, "seen on the paper sheet");
    }
}

static void shrink(struct lives *lives, struct sheet *sheet, int year, size_t n)
{
    size_t rows[64], m = grab(lives, sheet, year, 3, known_before, n, rows);
    for (size_t k = 0; k < m; k++) {
        struct sheet_row *row = &sheet->rows[rows[k]];
        char truth[24], written[24], what[64];
        snprintf(truth, sizeof truth, "%.0f", row->height);
        int last = strcmp(row->site, "GL") == 0 ? 2023 : year - 1; /* most of that site was not seen in 2024 */
        row->height = floor(life_height_cm(&lives->at[row->life], last) * 0.55);
        snprintf(written, sizeof written, "%.0f", row->height);
        snprintf(what, sizeof what, "correct:height_cm=%s", truth);
        note(sheet, rows[k], "shrunk without damage", "height_cm", truth, written, "shrinkage", what, "measured again");
    }
}

static void blank_state(struct lives *lives, struct sheet *sheet, int year, size_t n)
{
    size_t rows[64], m = grab(lives, sheet, year, 4, planted_before, n, rows);
    for (size_t k = 0; k < m; k++) {
        sheet->rows[rows[k]].status[0] = '\0';
        note(sheet, rows[k], "state blank", "status", "alive", "", "blank_status", "correct:status=alive", "it has a height");
    }
}

/* ---- places and names ---- */

static void wrong_plot(struct lives *lives, struct sheet *sheet, int year, size_t n)
{
    size_t rows[64], m = grab(lives, sheet, year, 5, dense_row, n, rows);
    for (size_t k = 0; k < m; k++) {
        struct sheet_row *row = &sheet->rows[rows[k]];
        note(sheet, rows[k], "wrong plot letter", "plot", row->plot, "C1", "wrong_plot", "correct:plot=D1", "the square is in D1");
        snprintf(row->plot, sizeof row->plot, "C1");
        if (k % 2 == 0)
            row->tag[0] = '\0';
    }
}

static void wrong_cell(struct lives *lives, struct sheet *sheet, int year, size_t n, bool date)
{
    size_t rows[64], m = grab(lives, sheet, year, date ? 6 : 7, dense_row, n, rows);
    for (size_t k = 0; k < m; k++) {
        struct sheet_row *row = &sheet->rows[rows[k]];
        char what[64];
        const char *written = date ? (k % 2 == 0 ? "1-Feb" : "3-Apr") : "D16";
        snprintf(what, sizeof what, "correct:cell=%s", row->cell);
        note(sheet, rows[k], date ? "square turned into a date" : "square out of range", "cell", row->cell, written,
             date ? "cell_date" : "cell_outside", what, "the label says where it stands");
        snprintf(row->cell, sizeof row->cell, "%s", written);
    }
}

static void misspell(struct lives *lives, struct sheet *sheet, int year, size_t n)
{
    size_t rows[64], m = grab(lives, sheet, year, 8, planted_before, n, rows);
    for (size_t k = 0; k < m; k++) {
        struct sheet_row *row = &sheet->rows[rows[k]];
        char truth[44], what[80];
        snprintf(truth, sizeof truth, "%s", row->species);
        size_t length = strlen(row->species), at = 3 + (k * 3) % (length - 5);
        if (row->species[at] == ' ')
            at++;
        if (k % 2 == 0) /* a letter lost */
            memmove(row->species + at, row->species + at + 1, length - at);
        else /* a letter doubled */
            memmove(row->species + at + 1, row->species + at, length - at + 1);
        snprintf(what, sizeof what, "correct:species_seen=%s", truth);
        note(sheet, rows[k], "species misspelt", "species", truth, row->species, "species_misspelt", what, "a slip of the pen");
    }
}

static void synonym(struct lives *lives, struct sheet *sheet, int year, size_t n)
{
    size_t rows[64], m = grab(lives, sheet, year, 9, birch_row, n, rows);
    for (size_t k = 0; k < m; k++) {
        struct sheet_row *row = &sheet->rows[rows[k]];
        note(sheet, rows[k], "another name of the species", "species", row->species, "Betula verrucosa", "species_synonym", NULL, NULL);
        snprintf(row->species, sizeof row->species, "Betula verrucosa");
    }
}

static void winter_twigs(struct lives *lives, struct sheet *sheet, int year, size_t n)
{
    size_t rows[64], m = grab(lives, sheet, year, 10, cornel_row, n, rows);
    for (size_t k = 0; k < m; k++) {
        struct sheet_row *row = &sheet->rows[rows[k]];
        const char *written = strcmp(row->species, "Cornus sanguinea") == 0 ? "Frangula alnus" : "Cornus sanguinea";
        char what[80];
        snprintf(what, sizeof what, "correct:species_seen=%s", row->species);
        note(sheet, rows[k], "misidentified in winter", "species", row->species, written, "species_change", what,
             "buds looked at again in spring");
        snprintf(row->species, sizeof row->species, "%s", written);
    }
}

/* Bird cherry under the name of cherry: nothing shows it before somebody looks at the plant again. */
static void bird_cherry(struct lives *lives, struct sheet *sheet, int year)
{
    for (size_t i = 0; i < sheet->n; i++) {
        struct sheet_row *row = &sheet->rows[i];
        if (lives->at[row->life].true_species < 0)
            continue;
        row->used = true;
        if (year == 0)
            note(sheet, i, "misidentified by the nursery", "species", "Prunus padus", "Prunus avium", NULL, NULL, NULL);
        else if (year >= 2024 && row->height > 0)
            note(sheet, i, "misidentified before, seen now", "species", "Prunus padus", "Prunus padus", "species_change", "accept",
                 "looked at in flower: delivered under a wrong name");
    }
}

/* ---- rows given twice ---- */

static void twice(struct lives *lives, struct sheet *sheet, int year, size_t n, bool observers)
{
    size_t rows[64], m = grab(lives, sheet, year, observers ? 11 : 12, planted_before, n, rows);
    for (size_t k = 0; k < m; k++) {
        struct sheet_row *copy = &sheet->rows[sheet->n++];
        *copy = sheet->rows[rows[k]];
        if (observers) {
            snprintf(copy->observer, sizeof copy->observer, "V041");
            copy->height += (double)(k % 3) - 1;
            copy->diameter = copy->diameter > 2 ? copy->diameter + 0.1 : copy->diameter;
        }
        note(sheet, sheet->n - 1, observers ? "seen by two observers, both real" : "exact duplicate", "", "", "",
             observers ? "two_observers" : "exact_duplicate", observers ? "accept" : "reject",
             observers ? "both are kept" : "the same row twice");
    }
}

/* ---- dead and alive ---- */

static void resprouts(struct lives *lives, struct sheet *sheet)
{
    for (size_t i = 0; i < sheet->n; i++)
        if (lives->at[sheet->rows[i].life].scorched && sheet->rows[i].height > 0) {
            sheet->rows[i].used = true;
            snprintf(sheet->rows[i].status, sizeof sheet->rows[i].status, "alive");
            note(sheet, i, "dead then alive: truly resprouted", "status", "resprouting", "alive", "resurrection",
                 "correct:status=resprouting", "resprouted from the base after the fire");
        }
}

static void labels_swapped(struct lives *lives, struct sheet *sheet, int year, size_t n)
{
    size_t rows[64], m = grab(lives, sheet, year, 13, lasting_row, n, rows), taken[64];
    for (size_t k = 0; k < m; k++) {
        struct sheet_row *row = &sheet->rows[rows[k]];
        const struct life *own = &lives->at[row->life];
        size_t dead = 0;
        for (bool free_one = false; dead < lives->n_first && !free_one; dead++) {
            const struct life *one = &lives->at[dead];
            free_one = one->plot == own->plot && one->told_dead && one->died < date_make(year - 1, 9, 1);
            for (size_t t = 0; t < k; t++)
                free_one = free_one && taken[t] != dead;
        }
        taken[k] = --dead;
        const struct life *other = &lives->at[dead];
        char what[80];
        snprintf(what, sizeof what, "correct:tag=%s;cell=%s;number=%d", own->tag, own->cell, own->number);
        note(sheet, rows[k], "dead then alive: labels swapped", "tag", own->tag, other->tag, "resurrection|species_change|tag_reused", what,
             "the label hung on the wrong plant");
        snprintf(row->tag, sizeof row->tag, "%s", other->tag);
        snprintf(row->cell, sizeof row->cell, "%s", other->cell);
        snprintf(row->number, sizeof row->number, "%d", other->number);
        snprintf(row->species, sizeof row->species, "%s", town_species[other->species].name);
    }
}

static void wrongly_dead(struct lives *lives, struct sheet *sheet, int year, size_t n)
{
    if (year == 2023) {
        size_t rows[64], m = grab(lives, sheet, year, 14, lasting_row, n, rows);
        for (size_t k = 0; k < m; k++) {
            struct sheet_row *row = &sheet->rows[rows[k]];
            note(sheet, rows[k], "reported dead though it lived", "status", "alive", "dead", NULL, NULL, NULL);
            snprintf(row->status, sizeof row->status, "dead");
            row->height = row->diameter = 0;
            lives->at[row->life].wrongly_dead = true;
        }
    }
    for (size_t i = 0; year == 2024 && i < sheet->n; i++)
        if (lives->at[sheet->rows[i].life].wrongly_dead && sheet->rows[i].height > 0) {
            sheet->rows[i].used = true;
            note(sheet, i, "dead then alive: the earlier record was wrong", "status", "alive", "alive", "resurrection|tag_reused", "accept",
                 "it was alive all the time; the record of 2023 was wrong");
        }
}

static void old_labels(struct lives *lives, struct sheet *sheet, int year)
{
    for (size_t i = 0; i < sheet->n; i++) {
        const struct life *life = &lives->at[sheet->rows[i].life];
        if (!life->old_tag || sheet->rows[i].height <= 0)
            continue;
        sheet->rows[i].used = true;
        note(sheet, i, year == 2023 ? "replacement under the dead plant's label" : "replacement under the dead plant's label, again", "tag",
             "a new label", life->tag, "tag_reused|resurrection", "reject", "it is another plant: to be given its own label");
    }
}

/* ---- whole strips and files ---- */

/* Rows F and G of a plot are written into each other: the form's squares stand, the findings are the other row's. */
static void rows_swapped(struct sheet *sheet)
{
    for (size_t i = 0; i < sheet->n; i++) {
        struct sheet_row *a = &sheet->rows[i];
        if (strcmp(a->plot, "D1") != 0 || a->cell[0] != 'F' || a->used)
            continue;
        for (size_t k = 0; k < sheet->n; k++) {
            struct sheet_row *b = &sheet->rows[k];
            if (b->cell[0] != 'G' || strcmp(b->plot, "D1") != 0 || strcmp(a->cell + 1, b->cell + 1) != 0 ||
                strcmp(a->number, b->number) != 0 || b->used)
                continue;
            struct sheet_row was = *a;
            snprintf(a->status, sizeof a->status, "%s", b->status);
            snprintf(a->damage, sizeof a->damage, "%s", b->damage);
            a->height = b->height;
            a->diameter = b->diameter;
            snprintf(b->status, sizeof b->status, "%s", was.status);
            snprintf(b->damage, sizeof b->damage, "%s", was.damage);
            b->height = was.height;
            b->diameter = was.diameter;
            a->used = b->used = true;
            break;
        }
    }
    mistake_add(sheet->name, 0, "two rows of squares exchanged", "GL-D1", "cell", "F and G", "G and F", "swapped_rows");
}

static void other_height(struct lives *lives, struct sheet *sheet)
{
    size_t done = 0;
    (void)lives;
    for (size_t i = 0; i < sheet->n && done < 140; i++)
        if (sheet->rows[i].diameter > 0 && sheet->rows[i].plot[0] == 'D') {
            snprintf(sheet->rows[i].observer, sizeof sheet->rows[i].observer, "V023");
            sheet->rows[i].diameter = floor(sheet->rows[i].diameter * 8.2 + 0.5) / 10;
            done++;
        } else if (strcmp(sheet->rows[i].observer, "V023") == 0) {
            snprintf(sheet->rows[i].observer, sizeof sheet->rows[i].observer, "V019");
        }
    for (size_t i = 0; i < sheet->n; i++)
        if (done == 140 && sheet->rows[i].diameter > 0 && strcmp(sheet->rows[i].observer, "V023") == 0)
            sheet->rows[i].used = true;
    mistake_add(sheet->name, 0, "diameter at 10 cm instead of the collar (140 rows)", "V023", "diameter_mm", "root collar", "10 cm",
                "observer_diameter");
}

static void commas(struct sheet *sheet)
{
    size_t done = 0;
    for (size_t i = 0; i < sheet->n && done < 212; i++)
        if (sheet->rows[i].diameter > floor(sheet->rows[i].diameter)) {
            sheet->rows[i].comma = true;
            done++;
        }
    char written[40];
    snprintf(written, sizeof written, "%zu rows with a comma", done);
    mistake_add(sheet->name, 0, "decimal comma in a file of points", "", "diameter_mm", "a point", written, "question:decimal");
}

void mistakes_plant(struct lives *lives, struct sheet *sheet, int year, enum site_number site)
{
    static bool heaping_told;
    if (!heaping_told) {
        heaping_told = true;
        mistake_add("*", 0, "heights rounded to 5 cm", "V017", "height_cm", "1 cm", "5 cm", "heaping");
        mistake_add("*", 0, "heights rounded to 5 cm", "V031", "height_cm", "1 cm", "5 cm", "heaping");
    }
    if (sheet->style == STYLE_SLASHES) {
        mistake_add(sheet->name, 0, "day or month first (96 rows)", "", "observed_on", "12 September", "12/09/2022", "question:dates");
        return;
    }
    bird_cherry(lives, sheet, year);
    if (year == 0)
        return;
    int at = year * 10 + (int)site;
    old_labels(lives, sheet, year);
    if (at == 20230 + BS)
        resprouts(lives, sheet);
    if (site == FB && year == 2023)
        wrongly_dead(lives, sheet, year, 6);
    if (site == FB && year == 2024) {
        wrongly_dead(lives, sheet, year, 0);
        other_height(lives, sheet);
        misspell(lives, sheet, year, 8);
    }
    switch (at) {
    case 20220 + LK:
        twice(lives, sheet, year, 10, false);
        break;
    case 20220 + BS:
        blank_state(lives, sheet, year, 13);
        break;
    case 20220 + LH:
        twice(lives, sheet, year, 20, true);
        break;
    case 20220 + TS:
        wrong_plot(lives, sheet, year, 4);
        break;
    case 20230 + LK:
        height_slip(lives, sheet, year, 2, 4, "slip of ten", 10);
        winter_twigs(lives, sheet, year, 8);
        break;
    case 20230 + TS:
        commas(sheet);
        break;
    case 20230 + GL:
        misspell(lives, sheet, year, 8);
        rows_swapped(sheet);
        break;
    case 20230 + FB:
        twice(lives, sheet, year, 11, false);
        break;
    case 20240 + LK:
        wrong_cell(lives, sheet, year, 5, false);
        shrink(lives, sheet, year, 7);
        break;
    case 20240 + LH:
        shrink(lives, sheet, year, 7);
        height_slip(lives, sheet, year, 1, 5, "millimetres typed as centimetres", 10);
        break;
    case 20240 + TS:
        height_slip(lives, sheet, year, 2, 4, "slip of ten", 10);
        wrong_cell(lives, sheet, year, 8, true);
        break;
    case 20250 + LK:
        height_slip(lives, sheet, year, 1, 4, "millimetres typed as centimetres", 10);
        labels_swapped(lives, sheet, year, 6);
        wrong_plot(lives, sheet, year, 4);
        break;
    case 20250 + BS:
        twice(lives, sheet, year, 10, false);
        wrong_plot(lives, sheet, year, 4);
        break;
    case 20250 + LH:
        misspell(lives, sheet, year, 7);
        break;
    case 20250 + TS:
        twice(lives, sheet, year, 24, true);
        synonym(lives, sheet, year, 3);
        break;
    case 20250 + GL:
        height_slip(lives, sheet, year, 1, 6, "metres typed as centimetres", 0.01);
        shrink(lives, sheet, year, 7);
        blank_state(lives, sheet, year, 13);
        break;
    case 20250 + FB:
        height_slip(lives, sheet, year, 2, 6, "slip of ten", 10);
        break;
    default:
        break;
    }
}

/* ---- a workbook ---- */

void sheet_workbook(const struct sheet *sheet, const char *folder, const char *name)
{
    char path[4096], cells[SHEET_COLUMNS][48];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    lxw_workbook *book = workbook_new(path);
    lxw_worksheet *page = workbook_add_worksheet(book, "Census");
    lxw_doc_properties properties = {.created = 1727000000};
    workbook_set_properties(book, &properties);
    const char *const *headings = sheet_headings(sheet);
    for (int c = 0; c < SHEET_COLUMNS; c++)
        worksheet_write_string(page, 0, (lxw_col_t)c, headings[c], NULL);
    for (size_t i = 0; i < sheet->n; i++) {
        sheet_cells(sheet, i, cells);
        for (int c = 0; c < SHEET_COLUMNS; c++) {
            double x = 0;
            if (cells[c][0] != '\0' && (c == 4 || c == 7 || c == 8) && number_read(cells[c], &x))
                worksheet_write_number(page, (lxw_row_t)i + 1, (lxw_col_t)c, x, NULL);
            else if (cells[c][0] != '\0')
                worksheet_write_string(page, (lxw_row_t)i + 1, (lxw_col_t)c, cells[c], NULL);
        }
    }
    if (workbook_close(book) != LXW_NO_ERROR) {
        fprintf(stderr, "spinney-demo: %s cannot be written\n", path);
        exit(3);
    }
}
