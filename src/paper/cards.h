/* SPDX-License-Identifier: GPL-3.0-or-later
 * Square-metre cards: one for every square of a plot, six to a sheet of A4, with a key sheet. */
#ifndef SPINNEY_PAPER_CARDS_H
#define SPINNEY_PAPER_CARDS_H
#include "paper/document.h"

struct card_plant {
    const char *species, *local; ///< scientific name; what people call it, may be NULL
    int layer;
    double x_share, y_share; ///< place in the square from its lower left corner, 0 … 1
    int number;              ///< within the square
};
struct card {
    const char *code; ///< of the square, such as C07
    int row, column;  ///< zero first; cards are ordered by row, then column
    const struct card_plant *plants;
    size_t n_plants;
    bool at_path; ///< a path runs along it
};
struct cards {
    const char *programme, *site, *site_code, *plot_code; ///< names and codes
    const char *plan;                                     ///< "plan 2 of 2026-11-02"
    const struct card *cards;
    size_t n_cards;
    double cell_m; ///< side of a square; 0: 1
    int32_t date;
    const char *language;
    const char *rules[6]; ///< lines for the key sheet, such as the planting standard; NULL: the built-in ones
    bool up_north_known;  ///< whether up_deg is known
    double up_deg;        ///< bearing of the top edge of the cards
};
/// The short code in the QR mark of a card: SITE-PLOT-CELL.
void card_code(const struct cards *cards, const struct card *card, char out[96]);
/// PDF with the key sheet first, then cards by row. Refuses a code that comes twice.
enum outcome cards_pdf(const struct cards *cards, struct text *out, size_t *pages, struct failure *why);
/// The same as one page of HTML.
enum outcome cards_html(const struct cards *cards, struct text *out, struct failure *why);
/// One card as a drawing (for the screen).
enum outcome card_draw(const struct cards *cards, const struct card *card, struct drawing **out, struct failure *why);
#endif
