/* SPDX-License-Identifier: GPL-3.0-or-later
 * Tables over pages: heads repeat, rows stay whole unless taller than a page. */
#include "paper/press.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { PAD_PT = 4, MARK_PT = 12 };

struct grid {
    const struct document_table *table;
    double *widths; ///< of the columns, with padding
    double size;    ///< of the type
};

/* A cell's words and the mark of its rows; both live as long as what is in it. */
struct cell_runs {
    struct document_run runs[2];
    size_t n;
    char mark[40], link[32];
};

static void cell_runs(const struct press *press, const struct document_cell *cell, struct cell_runs *out)
{
    out->n = 1;
    out->runs[0] = (struct document_run){.words = cell->words == NULL ? "–" : cell->words, .link = cell->link, .strong = cell->strong};
    if (cell->rows <= 0 || cell->words == NULL || press->document->n_rows == 0)
        return;
    int wide = snprintf(NULL, 0, "%zu", press->document->n_rows), own = snprintf(NULL, 0, "%lld", (long long)cell->rows);
    static const char *const room[] = {"", "\u2007", "\u2007\u2007", "\u2007\u2007\u2007"};
    /* marks of one column are alike wide, so that figures stay under each other */
    snprintf(out->mark, sizeof out->mark, "\u202fr%lld%s", (long long)cell->rows, room[wide - own > 3 ? 3 : wide - own]);
    snprintf(out->link, sizeof out->link, "#r%lld", (long long)cell->rows);
    out->runs[out->n++] = (struct document_run){.words = out->mark, .link = out->link, .raised = true};
}

static PangoLayout *cell_layout(struct press *press, const struct grid *grid, size_t column, const struct document_cell *cell, double width)
{
    const struct document_column *c = &grid->table->columns[column];
    struct cell_runs runs;
    cell_runs(press, cell, &runs);
    struct setting setting = {.size = grid->size, .align = c->align, .italic = c->italic && cell->words != NULL};
    return press_layout(press, runs.runs, runs.n, setting, width > 0 ? fmax(6, width - 2 * PAD_PT - (cell->layer > 0 ? MARK_PT : 0)) : 0);
}

static PangoLayout *head_layout(struct press *press, const struct grid *grid, size_t column, double width)
{
    const struct document_column *c = &grid->table->columns[column];
    bool unit = c->unit != NULL && *c->unit != '\0';
    struct document_run runs[3] = {{.words = c->title, .strong = true}, {.words = unit ? "\n" : ""}, {.words = unit ? c->unit : ""}};
    return press_layout(press, runs, 3, (struct setting){.size = fmin(grid->size, TEXT_SMALL + 0.5), .align = c->align},
                        width > 0 ? fmax(6, width - 2 * PAD_PT) : 0);
}

/* The longest word, which should not be broken. */
static double longest_word(struct press *press, const char *words, struct setting setting)
{
    double widest = 0;
    char *valid = press_valid(words), *rest = NULL;
    for (char *word = strtok_r(valid, " \n", &rest); word != NULL; word = strtok_r(NULL, " \n", &rest)) {
        PangoLayout *layout = press_words(press, word, setting, 0);
        widest = fmax(widest, layout_width(layout));
        g_object_unref(layout);
    }
    g_free(valid);
    return widest;
}

/* Widths: what the words want; where too wide, each column gives between that and its longest word. */
static void widths_find(struct press *press, struct grid *grid, double room)
{
    const struct document_table *table = grid->table;
    double *least = memory_get(table->n_columns + 1, sizeof *least), sum = 0, sum_least = 0, weights = 0;
    for (size_t c = 0; c < table->n_columns; c++) {
        weights += table->columns[c].weight;
        PangoLayout *layout = head_layout(press, grid, c, 0);
        grid->widths[c] = layout_width(layout) + 1;
        g_object_unref(layout);
        least[c] = longest_word(press, table->columns[c].title, (struct setting){.size = fmin(grid->size, TEXT_SMALL + 0.5), .bold = true});
        for (size_t r = 0; r < table->n_rows && r < 400; r++) {
            const struct document_cell *cell = &table->rows[r][c];
            double mark = cell->layer > 0 ? MARK_PT : 0;
            layout = cell_layout(press, grid, c, cell, 0);
            double wide = layout_width(layout) + 1 + mark;
            g_object_unref(layout);
            grid->widths[c] = fmax(grid->widths[c], wide);
            if (wide > least[c]) {
                /* Numbers and short words stay on one line. */
                bool whole = table->columns[c].align == ALIGN_RIGHT || wide < 64;
                struct setting setting = {.size = grid->size, .bold = cell->strong, .italic = table->columns[c].italic};
                least[c] = fmax(least[c], whole ? wide : mark + longest_word(press, cell->words, setting));
            }
        }
        grid->widths[c] += 2 * PAD_PT;
        least[c] = fmin(least[c] + 2 * PAD_PT + 1, grid->widths[c]);
        sum += grid->widths[c];
        sum_least += least[c];
    }
    for (size_t c = 0; c < table->n_columns; c++) {
        if (weights > 0)
            grid->widths[c] = room * table->columns[c].weight / weights;
        else if (sum <= room)
            grid->widths[c] += (room - sum) * grid->widths[c] / sum * (room - sum > 0.6 * room ? 0.5 : 1);
        else if (sum_least < room)
            grid->widths[c] = least[c] + (grid->widths[c] - least[c]) * (room - sum_least) / (sum - sum_least);
        else
            grid->widths[c] = least[c] * room / sum_least;
    }
    free(least);
}

static double grid_width(const struct grid *grid)
{
    double sum = 0;
    for (size_t c = 0; c < grid->table->n_columns; c++)
        sum += grid->widths[c];
    return sum;
}

static void heads_draw(struct press *press, const struct grid *grid)
{
    double x = press->left, tall = 0;
    for (size_t c = 0; c < grid->table->n_columns; c++) {
        PangoLayout *layout = head_layout(press, grid, c, grid->widths[c]);
        tall = fmax(tall, layout_height(layout));
        g_object_unref(layout);
    }
    press_tag(press, "TR");
    for (size_t c = 0; c < grid->table->n_columns; c++) {
        PangoLayout *layout = head_layout(press, grid, c, grid->widths[c]);
        press_tag(press, "TH");
        press_ink(press, INK_TEXT);
        press_lines(press, layout, 0, 99, x + PAD_PT, press->y + tall - layout_height(layout), NULL, 0);
        press_tag_end(press, "TH");
        g_object_unref(layout);
        x += grid->widths[c];
    }
    press_tag_end(press, "TR");
    press->y += tall + 2;
    press_rule(press, press->left, x, press->y, INK_TEXT, 0.9);
    press->y += 2;
}

/* Whether all that is left of a row was drawn; `done` counts the lines of each cell that are. */
static bool row_draw(struct press *press, const struct grid *grid, const struct document_cell *row, PangoLayout **layouts, int *done,
                     double least)
{
    double x = press->left, tall = least;
    bool whole = true;
    for (size_t c = 0; c < grid->table->n_columns; c++) {
        int n = pango_layout_get_line_count(layouts[c]);
        double line = layout_height(layouts[c]) / n;
        int fit = (int)fmax(1, floor((press->bottom - press->y - 4) / line + 1e-6)), to = done[c] + fit < n ? done[c] + fit : n;
        /* In rows to write in, the printed words stand in the middle. */
        double down = done[c] == 0 && least > layout_height(layouts[c]) + 4 ? (least - layout_height(layouts[c])) / 2 : 2;
        press_tag(press, "TD");
        if (row[c].layer > 0 && done[c] == 0)
            press_mark(press, row[c].layer, x + PAD_PT + 4, press->y + down + line / 2, 3.4);
        if (row[c].anchor != NULL && done[c] == 0)
            press_anchor(press, row[c].anchor, x, press->y);
        press_ink(press, row[c].words == NULL ? INK_SOFT : INK_TEXT);
        struct cell_runs runs;
        cell_runs(press, &row[c], &runs);
        if (done[c] == 0)
            press_used(press, row[c].rows);
        double used = done[c] < n ? press_lines(press, layouts[c], done[c], to, x + PAD_PT + (row[c].layer > 0 ? MARK_PT : 0),
                                                press->y + down, runs.runs, runs.n)
                                  : 0;
        press_tag_end(press, "TD");
        done[c] = to;
        whole = whole && to == n;
        tall = fmax(tall, used + 2 + down);
        x += grid->widths[c];
    }
    press->y += tall;
    press_rule(press, press->left, x, press->y, INK_FAINT, 0.5);
    return whole;
}

static void row_set(struct press *press, const struct grid *grid, const struct document_cell *row, PangoLayout **layouts, int *done)
{
    const struct document_table *table = grid->table;
    double tall = table->row_height_pt;
    for (size_t c = 0; c < table->n_columns; c++) {
        layouts[c] = cell_layout(press, grid, c, &row[c], grid->widths[c]);
        done[c] = 0;
        tall = fmax(tall, layout_height(layouts[c]) + 4);
    }
    if (press->y + tall > press->bottom && !press_at_top(press)) {
        press_page(press, press->landscape);
        heads_draw(press, grid);
    }
    press_tag(press, "TR");
    while (!row_draw(press, grid, row, layouts, done, table->row_height_pt)) {
        press_page(press, press->landscape);
        heads_draw(press, grid);
    }
    press_tag_end(press, "TR");
    for (size_t c = 0; c < table->n_columns; c++)
        g_object_unref(layouts[c]);
}

/* Upright lines where people write. */
static void uprights(struct press *press, const struct grid *grid, double y1, double y2)
{
    double x = press->left;
    press_ink(press, INK_FAINT);
    cairo_set_line_width(press->cr, 0.5);
    for (size_t c = 0; c <= grid->table->n_columns; c++) {
        cairo_move_to(press->cr, x, y1);
        cairo_line_to(press->cr, x, y2);
        cairo_stroke(press->cr);
        x += c < grid->table->n_columns ? grid->widths[c] : 0;
    }
}

void press_table(struct press *press, const struct document_table *table)
{
    if (table->n_columns == 0)
        return;
    struct grid grid = {table, memory_get(table->n_columns + 1, sizeof *grid.widths), table->narrow ? TEXT_SMALL : TEXT_BODY - 0.5};
    PangoLayout **layouts = memory_get(table->n_columns, sizeof *layouts);
    int *done = memory_get(table->n_columns, sizeof *done);
    bool blanks = false;
    widths_find(press, &grid, press->right - press->left);
    if (grid_width(&grid) > press->right - press->left + 1)
        grid.size = TEXT_SMALL;
    if (table->caption != NULL) {
        press_room(press, 60);
        PangoLayout *layout =
            press_words(press, table->caption, (struct setting){.size = TEXT_BODY, .bold = true}, press->right - press->left);
        press_tag(press, "P");
        press_ink(press, INK_TEXT);
        press_flow(press, layout, press->left, NULL, 0);
        press_tag_end(press, "P");
        g_object_unref(layout);
        press->y += 3;
    }
    press_room(press, 30 + fmin(48, 16 * (double)table->n_rows)); /* not the heads alone */
    press_tag(press, "Table");
    heads_draw(press, &grid);
    double from = press->y;
    size_t page = press->page;
    for (size_t r = 0; r < table->n_rows; r++) {
        row_set(press, &grid, table->rows[r], layouts, done);
        for (size_t c = 0; c < table->n_columns; c++)
            blanks = blanks || table->rows[r][c].words == NULL;
        if (table->row_height_pt > 0) {
            double top = press->page == page ? from : press->y - table->row_height_pt;
            uprights(press, &grid, press->page == page ? top : press->y - table->row_height_pt, press->y);
            from = press->y;
            page = press->page;
        }
    }
    press_tag_end(press, "Table");
    press->y += 3;
    if (blanks || table->n_rows == 0) {
        PangoLayout *layout = press_words(press, table->n_rows == 0 ? "No rows." : "– not known", (struct setting){.size = TEXT_SMALL}, 0);
        press_room(press, 12);
        press_ink(press, INK_SOFT);
        press->y += press_lines(press, layout, 0, 1, press->left + PAD_PT, press->y, NULL, 0);
        g_object_unref(layout);
    }
    press->y += 7;
    free(grid.widths);
    free(layouts);
    free(done);
}
