/* SPDX-License-Identifier: GPL-3.0-or-later
 * Square-metre cards. Big type, mark and words for the layer, so that a grey photocopy still serves. */
#include "paper/cards.h"
#include <math.h>
#include <qrencode.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CARD_WIDTH_PT = 257, CARD_HEIGHT_PT = 247, ACROSS = 2, DOWN = 3, MOST_PLANTS = 12, CODE_PT = 32, QR_PT = 54, DIAGRAM_PT = 84 };

void card_code(const struct cards *cards, const struct card *card, char out[96])
{
    snprintf(out, 96, "%.30s-%.30s-%.30s", cards->site_code == NULL ? "SITE" : cards->site_code,
             cards->plot_code == NULL ? "PLOT" : cards->plot_code, card->code == NULL ? "?" : card->code);
}

/* The mark of ISO/IEC 18004 with its quiet zone of four modules, as one path. */
static enum outcome qr_draw(struct drawing *drawing, double x, double y, double side, const char *words, struct failure *why)
{
    QRcode *mark = QRcode_encodeString(words, 0, QR_ECLEVEL_M, QR_MODE_8, 1);
    if (mark == NULL)
        return fail(why, OUTCOME_SYSTEM, "The code %s could not be drawn as a mark to scan.", words);
    size_t width = (size_t)mark->width, n = 0;
    double module = side / (double)(width + 8);
    double *xy = memory_get(8 * width * width + 1, sizeof *xy);
    size_t *ends = memory_get(width * width + 1, sizeof *ends), n_rings = 0;
    for (size_t r = 0; r < width; r++)
        for (size_t c = 0; c < width;) {
            size_t from = c;
            while (c < width && (mark->data[r * width + c] & 1) != 0)
                c++;
            if (c == from) {
                c++;
                continue;
            }
            double x1 = x + module * (double)(from + 4), x2 = x + module * (double)(c + 4), y1 = y + module * (double)(r + 4),
                   y2 = y1 + module;
            const double box[8] = {x1, y1, x2, y1, x2, y2, x1, y2};
            memcpy(xy + 2 * n, box, sizeof box);
            n += 4;
            ends[n_rings++] = n;
        }
    draw_rings(drawing, xy, ends, n_rings, (struct pen){.fill = INK_GROUP_2});
    free(xy);
    free(ends);
    QRcode_free(mark);
    return OUTCOME_OK;
}

static const char *layer_words(int layer)
{
    static const char *const words[] = {"layer not known", "canopy", "subcanopy", "shrub", "climber", "ground"};
    return words[layer >= 0 && layer <= 5 ? layer : 0];
}

static void tick(struct drawing *drawing, double *x, double y, const char *words)
{
    draw_box(drawing, *x, y - 6.5, 7, 7, (struct pen){.stroke = INK_TEXT, .width_pt = 0.8});
    draw_text(drawing, *x + 9, y, (struct lettering){.size_pt = TEXT_SMALL}, words);
    *x += 13.5 + draw_text_width(drawing, (struct lettering){.size_pt = TEXT_SMALL}, words);
}

static void ticks(struct drawing *drawing, double x, double y, double right)
{
    tick(drawing, &x, y, "planted");
    tick(drawing, &x, y, "firmed");
    tick(drawing, &x, y, "mulched");
    draw_text(drawing, x, y, (struct lettering){.size_pt = TEXT_SMALL}, "tag");
    draw_line(drawing, x + 13, y + 1, right, y + 1, (struct pen){.stroke = INK_TEXT, .width_pt = 0.6});
}

/* One plant: number, mark, name people use, scientific name, layer, boxes to tick. */
static void plant_draw(struct drawing *drawing, const struct card_plant *plant, double x, double y, double tall, double right)
{
    char words[200], number[16];
    bool roomy = tall >= 25;
    double left = x + 42, room = right - left, middle = roomy ? 13 : tall / 2;
    struct lettering strong = {.size_pt = roomy ? 10.5 : 8, .bold = true, .italic = plant->local == NULL},
                     latin = {.size_pt = 8, .italic = true}, plain = {.size_pt = 8};
    snprintf(number, sizeof number, "%d", plant->number);
    draw_text(drawing, x, y + middle + 4, (struct lettering){.size_pt = TEXT_LARGE, .bold = true}, number);
    draw_layer_mark(drawing, plant->layer, x + 26, y + middle, roomy ? 8 : 5);
    if (!roomy)
        room -= 12;
    const char *first = plant->local == NULL ? plant->species : plant->local;
    double wide = fmin(room, draw_text_width(drawing, strong, first)), line = y + (roomy ? 10 : 8);
    draw_text_fitted(drawing, left, line, room, strong, first);
    if (plant->local != NULL && room - wide > 20)
        draw_text_fitted(drawing, left + wide + 6, line, room - wide - 6, latin, plant->species);
    if (roomy) {
        draw_text(drawing, left, y + 22, plain, layer_words(plant->layer));
        ticks(drawing, left + 46, y + 22, right);
    } else {
        double used = wide + (plant->local == NULL ? 0 : 6 + fmin(room - wide - 6, draw_text_width(drawing, latin, plant->species)));
        snprintf(words, sizeof words, "%s", layer_words(plant->layer));
        if (room - used > 24)
            draw_text_fitted(drawing, left + used + 6, line, room - used - 6, plain, words);
        draw_box(drawing, right - 7, y + 1.5, 7, 7, (struct pen){.stroke = INK_TEXT, .width_pt = 0.8});
    }
}

/* The square from above, baseline below, each plant with its number. */
static void diagram_draw(struct drawing *drawing, const struct cards *cards, const struct card *card, double x, double y)
{
    const double side = DIAGRAM_PT;
    char words[64], size[64];
    draw_box(drawing, x, y, side, side, (struct pen){.stroke = INK_TEXT, .width_pt = 1.2});
    for (int i = 1; i < 4; i++) {
        draw_line(drawing, x + side * i / 4, y, x + side * i / 4, y + side, (struct pen){.stroke = INK_FAINT, .width_pt = 0.4});
        draw_line(drawing, x, y + side * i / 4, x + side, y + side * i / 4, (struct pen){.stroke = INK_FAINT, .width_pt = 0.4});
    }
    for (size_t i = 0; i < card->n_plants; i++) {
        const struct card_plant *plant = &card->plants[i];
        if (!is_known(plant->x_share) || !is_known(plant->y_share))
            continue;
        double px = x + side * fmin(1, fmax(0, plant->x_share)), py = y + side * (1 - fmin(1, fmax(0, plant->y_share)));
        draw_layer_mark(drawing, plant->layer, px, py, 5);
        snprintf(words, sizeof words, "%d", plant->number);
        bool end = px > x + side - 16;
        draw_text(drawing, end ? px - 7 : px + 7, py + 3.5,
                  (struct lettering){.size_pt = TEXT_BODY, .bold = true, .halo = true, .anchor = end ? ANCHOR_END : ANCHOR_START}, words);
    }
    number_fixed(cards->cell_m > 0 ? cards->cell_m : 1, cards->cell_m > 0 && fabs(cards->cell_m - round(cards->cell_m)) > 1e-6 ? 2 : 0,
                 size);
    snprintf(words, sizeof words, "baseline side · %.20s m", size);
    draw_text(drawing, x + side / 2, y + side + 9, (struct lettering){.size_pt = TEXT_SMALL, .anchor = ANCHOR_MIDDLE}, words);
}

/* Where north lies as one holds the card: its top edge looks towards up_deg. */
static void north_draw(struct drawing *drawing, const struct cards *cards, double x, double y)
{
    if (!cards->up_north_known)
        return;
    double turn = -cards->up_deg * acos(-1) / 180, dx = sin(turn), dy = -cos(turn);
    const double tip[6] = {x + 10 * dx,           y + 10 * dy,           x + 3 * dx + 3.5 * dy,
                           y + 3 * dy - 3.5 * dx, x + 3 * dx - 3.5 * dy, y + 3 * dy + 3.5 * dx};
    draw_line(drawing, x - 9 * dx, y - 9 * dy, x + 3 * dx, y + 3 * dy, (struct pen){.stroke = INK_TEXT, .width_pt = 1.1});
    draw_polyline(drawing, tip, 3, true, (struct pen){.fill = INK_TEXT});
    draw_text(drawing, x + 13, y + 3, (struct lettering){.size_pt = TEXT_BODY, .bold = true}, "N");
}

/* One card with its upper left corner at x, y. */
static enum outcome card_at(struct drawing *drawing, const struct cards *cards, const struct card *card, double x, double y,
                            struct failure *why)
{
    char code[96], words[200];
    double right = x + CARD_WIDTH_PT - 10, left = x + 10;
    card_code(cards, card, code);
    draw_group(drawing, "card");
    double diagram = right - DIAGRAM_PT, mark = diagram - QR_PT - 4;
    draw_text_fitted(drawing, left, y + 34, mark - left, (struct lettering){.size_pt = CODE_PT, .bold = true}, card->code);
    snprintf(words, sizeof words, "plot %.60s", cards->plot_code == NULL ? "?" : cards->plot_code);
    draw_text_fitted(drawing, left, y + 49, mark - left, (struct lettering){.size_pt = TEXT_LARGE, .bold = true}, words);
    draw_text_fitted(drawing, left, y + 61, diagram - left - 8, (struct lettering){.size_pt = TEXT_BODY},
                     cards->site == NULL ? "" : cards->site);
    enum outcome outcome = qr_draw(drawing, mark, y + 4, QR_PT, code, why);
    draw_text_fitted(drawing, left, y + 71, diagram - left - 8, (struct lettering){.size_pt = TEXT_SMALL, .ink = INK_SOFT}, code);
    north_draw(drawing, cards, mark + QR_PT - 24, y + 82);
    diagram_draw(drawing, cards, card, diagram, y + 8);
    draw_line(drawing, left, y + 106, right, y + 106, (struct pen){.stroke = INK_TEXT, .width_pt = 1});
    double body = y + 110, room = CARD_HEIGHT_PT - 110 - 30, tall = card->n_plants == 0 ? room : fmin(35, room / (double)card->n_plants);
    for (size_t i = 0; i < card->n_plants; i++)
        plant_draw(drawing, &card->plants[i], left, body + tall * (double)i, tall, right);
    if (card->n_plants == 0)
        draw_text(drawing, left, body + 20, (struct lettering){.size_pt = TEXT_LARGE}, "Leave this square unplanted.");
    double foot = y + CARD_HEIGHT_PT - 24;
    draw_line(drawing, left, foot - 4, right, foot - 4, (struct pen){.stroke = INK_TEXT, .width_pt = 0.5});
    draw_text_fitted(drawing, left, foot + 5, right - left, (struct lettering){.size_pt = TEXT_SMALL, .bold = card->at_path},
                     card->at_path ? "Path side: no thorns and nothing poisonous along its edge."
                                   : "Keep to the places shown: no two neighbours the same.");
    snprintf(words, sizeof words, "%zu plants    team", card->n_plants);
    draw_text(drawing, left, foot + 16.5, (struct lettering){.size_pt = TEXT_BODY, .bold = true}, words);
    double after = left + draw_text_width(drawing, (struct lettering){.size_pt = TEXT_BODY, .bold = true}, words) + 5, back = right - 60;
    draw_line(drawing, after, foot + 17.5, back - 8, foot + 17.5, (struct pen){.stroke = INK_TEXT, .width_pt = 0.6});
    tick(drawing, &back, foot + 16.5, "card back");
    draw_group_end(drawing);
    return outcome;
}

static void card_about(struct text *about, const struct card *card)
{
    text_print(about, "Square %s: ", card->code);
    for (size_t i = 0; i < card->n_plants; i++)
        text_print(about, "%s%d %s (%s)", i == 0 ? "" : ", ", card->plants[i].number, card->plants[i].species,
                   layer_words(card->plants[i].layer));
    text_add(about, card->n_plants == 0 ? "unplanted. " : ". ");
}

static enum outcome card_check(const struct card *card, struct failure *why)
{
    if (card->code == NULL || *card->code == '\0')
        return fail(why, OUTCOME_DATA, "A square has no code, so its card could not be told from another.");
    if (card->n_plants > MOST_PLANTS) {
        fail(why, OUTCOME_DATA, "Square %s holds %zu plants; a card has room for %d.", card->code, card->n_plants, MOST_PLANTS);
        return failure_remedy(why, "Use smaller squares.");
    }
    return OUTCOME_OK;
}

enum outcome card_draw(const struct cards *cards, const struct card *card, struct drawing **out, struct failure *why)
{
    enum outcome outcome = card_check(card, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct text about = {0};
    card_about(&about, card);
    char code[96];
    card_code(cards, card, code);
    struct drawing *drawing = drawing_new(CARD_WIDTH_PT, CARD_HEIGHT_PT, code, text_get(&about));
    text_free(&about);
    outcome = card_at(drawing, cards, card, 0, 0, why);
    if (outcome == OUTCOME_OK) {
        draw_box(drawing, 0.5, 0.5, CARD_WIDTH_PT - 1, CARD_HEIGHT_PT - 1, (struct pen){.stroke = INK_SOFT, .width_pt = 0.6});
        *out = drawing;
    } else {
        drawing_free(drawing);
    }
    return outcome;
}

static int by_row(const void *a, const void *b)
{
    const struct card *p = *(const struct card *const *)a, *q = *(const struct card *const *)b;
    if (p->row != q->row)
        return p->row < q->row ? -1 : 1;
    if (p->column != q->column)
        return p->column < q->column ? -1 : 1;
    return strcmp(p->code, q->code);
}

static int by_code(const void *a, const void *b)
{
    return strcmp((*(const struct card *const *)a)->code, (*(const struct card *const *)b)->code);
}

/* A species over all cards. */
struct sum {
    const char *species, *local;
    int layer;
    size_t plants;
};

static int by_layer(const void *a, const void *b)
{
    const struct sum *p = a, *q = b;
    int x = p->layer == 0 ? 9 : p->layer, y = q->layer == 0 ? 9 : q->layer;
    return x != y ? (x > y) - (x < y) : strcmp(p->species, q->species);
}

static size_t sums_make(const struct cards *cards, struct sum **out)
{
    struct sum *sums = NULL;
    size_t n = 0, room = 0;
    for (size_t i = 0; i < cards->n_cards; i++)
        for (size_t p = 0; p < cards->cards[i].n_plants; p++) {
            const struct card_plant *plant = &cards->cards[i].plants[p];
            size_t s = 0;
            while (s < n && (strcmp(sums[s].species, plant->species) != 0 || sums[s].layer != plant->layer))
                s++;
            if (s == n) {
                sums = column_room(sums, n, &room, sizeof *sums);
                sums[n++] = (struct sum){plant->species, plant->local, plant->layer, 0};
            }
            sums[s].plants++;
        }
    if (n > 0)
        qsort(sums, n, sizeof *sums, by_layer);
    *out = sums;
    return n;
}

/* The usual rules of planting bare-rooted whips; common practice, no source. */
static const char *const usual_rules[] = {
    "Find your square: the letter is the row from the baseline, the number the place along it. Stand with the baseline at your feet: the "
    "card "
    "then shows the square as you see it.",
    "Take only the plants on the card from the plant marshal. Keep roots in the bag until the hole is dug.",
    "Root collar level with the soil, not with the mulch; roots spread, not bent up; firm with the heel; mulch back with 5 to 10 cm free "
    "around the stem.",
    "Never closer to a neighbour of the same kind than the card shows, and no plant that is not on a card: extra plants spoil the "
    "comparison.",
    "Tick planted, firmed and mulched for each plant, write its tag number, and bring the card back. A card that is not returned counts as "
    "not planted.",
    "Stop if the ground is frozen or under water, in a gale or lightning, when roots have dried, or when something unplanned turns up in "
    "the ground.",
};

static void key_add(struct document *document, const struct cards *cards)
{
    struct sum *sums = NULL;
    size_t n = sums_make(cards, &sums), plants = 0;
    for (size_t i = 0; i < n; i++)
        plants += sums[i].plants;
    document_paragraph(
        document,
        "%zu cards, one for every square, ordered by row; %zu plants in all. The sums below are counted from the cards themselves.",
        cards->n_cards, plants);
    struct document_table *table = document_table(document, "Plants on these cards", "sums");
    document_column(document, table, "Layer", NULL, ALIGN_LEFT);
    document_column(document, table, "Scientific name", NULL, ALIGN_LEFT);
    document_column(document, table, "Name", NULL, ALIGN_LEFT);
    document_column(document, table, "Plants", NULL, ALIGN_RIGHT);
    table->columns[1].italic = true;
    for (size_t i = 0; i < n; i++) {
        struct document_cell *row = document_row(document, table);
        row[0].layer = sums[i].layer;
        document_cell(document, &row[0], "%s", layer_words(sums[i].layer));
        document_cell(document, &row[1], "%s", sums[i].species);
        if (sums[i].local != NULL)
            document_cell(document, &row[2], "%s", sums[i].local);
        document_cell(document, &row[3], "%zu", sums[i].plants);
    }
    struct document_cell *last = document_row(document, table);
    document_cell(document, &last[0], "all");
    document_cell(document, &last[1], " ");
    document_cell(document, &last[2], " ");
    document_cell(document, &last[3], "%zu", plants);
    for (int c = 0; c < 4; c++)
        last[c].strong = true;
    free(sums);
    document_heading(document, 2, "How to plant by a card", NULL);
    struct document_part *list = document_list(document, true);
    const char *const *rules = cards->rules[0] != NULL ? cards->rules : usual_rules;
    for (int i = 0; i < 6 && rules[i] != NULL; i++)
        document_words(document, list, rules[i], NULL, false);
    document_caution(document, NULL,
                     "Needles, glass, asbestos, cables or pipes: do not touch, move away, call the site lead. No deeper than a spade where "
                     "services are flagged.",
                     "the site lead on the day; the owner of the service for anything in the ground.");
}

/* The whole as a document: the key sheet, then sheets of six. */
static enum outcome cards_document(const struct cards *cards, struct document **out, struct failure *why)
{
    if (cards->n_cards == 0) {
        fail(why, OUTCOME_DATA, "There are no squares to print cards for.");
        return failure_remedy(why, "Lay out the plot first.");
    }
    const struct card **order = memory_get(cards->n_cards, sizeof *order);
    enum outcome outcome = OUTCOME_OK;
    for (size_t i = 0; i < cards->n_cards && outcome == OUTCOME_OK; i++) {
        order[i] = &cards->cards[i];
        outcome = card_check(order[i], why);
    }
    if (outcome != OUTCOME_OK) {
        free(order);
        return outcome;
    }
    qsort(order, cards->n_cards, sizeof *order, by_code);
    for (size_t i = 1; i < cards->n_cards; i++)
        if (strcmp(order[i]->code, order[i - 1]->code) == 0) {
            outcome = fail(why, OUTCOME_DATA, "Square %s comes twice.", order[i]->code);
            failure_remedy(why, "Every square of a plot needs its own code.");
            free(order);
            return outcome;
        }
    qsort(order, cards->n_cards, sizeof *order, by_row);
    char title[200];
    snprintf(title, sizeof title, "Cards for plot %.60s, %.100s", cards->plot_code == NULL ? "?" : cards->plot_code,
             cards->site == NULL ? "" : cards->site);
    struct document *document = document_new(title);
    document->kind = "Square-metre cards";
    document->subject = arena_print(&document->arena, "%s, plot %s", cards->site == NULL ? "" : cards->site,
                                    cards->plot_code == NULL ? "?" : cards->plot_code);
    document->subtitle = arena_text(&document->arena, cards->plan);
    document->author = arena_text(&document->arena, cards->programme);
    document->language = arena_text(&document->arena, cards->language);
    document->date = cards->date;
    key_add(document, cards);
    int row = -1;
    for (size_t i = 0; i < cards->n_cards && outcome == OUTCOME_OK; i += ACROSS * DOWN) {
        struct drawing *sheet = drawing_new(ACROSS * CARD_WIDTH_PT + 1, DOWN * CARD_HEIGHT_PT, NULL, NULL);
        struct text about = {0};
        struct pen cut = {.stroke = INK_SOFT, .width_pt = 0.5, .dash = DASH_DASHED};
        document_page(document, false);
        for (size_t k = 0; k < ACROSS * DOWN && i + k < cards->n_cards && outcome == OUTCOME_OK; k++) {
            const struct card *card = order[i + k];
            if (card->row != row) {
                document_bookmark(document, arena_print(&document->arena, "Row of %s", card->code), NULL);
                row = card->row;
            }
            outcome = card_at(sheet, cards, card, CARD_WIDTH_PT * (double)(k % ACROSS), CARD_HEIGHT_PT * (double)(k / ACROSS), why);
            card_about(&about, card);
        }
        draw_line(sheet, CARD_WIDTH_PT, 0, CARD_WIDTH_PT, DOWN * CARD_HEIGHT_PT, cut);
        for (int k = 1; k < DOWN; k++)
            draw_line(sheet, 0, CARD_HEIGHT_PT * k, ACROSS * CARD_WIDTH_PT, CARD_HEIGHT_PT * k, cut);
        drawing_set_about(sheet, text_get(&about));
        text_free(&about);
        document_figure(document, sheet, NULL)->true_scale = true;
    }
    free(order);
    if (outcome == OUTCOME_OK)
        *out = document;
    else
        document_free(document);
    return outcome;
}

enum outcome cards_pdf(const struct cards *cards, struct text *out, size_t *pages, struct failure *why)
{
    struct document *document = NULL;
    enum outcome outcome = cards_document(cards, &document, why);
    if (outcome == OUTCOME_OK)
        outcome = document_pdf(document, out, pages, why);
    document_free(document);
    return outcome;
}

enum outcome cards_html(const struct cards *cards, struct text *out, struct failure *why)
{
    struct document *document = NULL;
    enum outcome outcome = cards_document(cards, &document, why);
    if (outcome == OUTCOME_OK)
        outcome = document_html(document, out, why);
    document_free(document);
    return outcome;
}
