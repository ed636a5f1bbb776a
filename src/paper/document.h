/* SPDX-License-Identifier: GPL-3.0-or-later
 * A document as a list of parts, and its two printed forms: PDF and one self-contained page of HTML. */
#ifndef SPINNEY_PAPER_DOCUMENT_H
#define SPINNEY_PAPER_DOCUMENT_H
#include "base/base.h"
#include "draw/draw.h"

enum part_kind {
    PART_HEADING,
    PART_PARAGRAPH,
    PART_LIST, ///< each run an item
    PART_TABLE,
    PART_FIGURE,
    PART_NOTE,    ///< set apart by a rule
    PART_CAUTION, ///< set apart in the caution colour, with who decides
    PART_FIELDS,  ///< lines to write on
    PART_PAGE_BREAK,
    PART_BOOKMARK, ///< no ink: an entry of the outline, words in the first run
    PART_ROOM,     ///< empty space
    PART_ROWS      ///< the sets of rows behind the numbers, each with a way back
};

/// Words with an optional link: "#rows-survival" to an anchor in the document, else an address.
struct document_run {
    const char *words, *link;
    bool strong, italic;
    bool raised;  ///< small and above the line
    int64_t rows; ///< the set of rows its number comes from; 0: none
};

enum cell_align { ALIGN_LEFT, ALIGN_RIGHT, ALIGN_MIDDLE };
struct document_column {
    const char *title, *unit; ///< unit may be NULL or ""
    enum cell_align align;
    double weight; ///< share of the width; 0: from what the cells hold
    bool italic;   ///< scientific names
};
struct document_cell {
    const char *words; ///< NULL: not known, shown as "–" with a line under the table
    const char *link, *anchor;
    bool strong;
    int64_t rows; ///< the set of rows its number comes from; 0: none
    int layer;    ///< 1 … 5: a layer's mark stands before the words
};
struct document_table {
    const char *caption;
    struct document_column *columns;
    size_t n_columns;
    struct document_cell **rows;
    size_t n_rows;
    size_t room_columns, room_rows;
    bool narrow;          ///< small type
    double row_height_pt; ///< at least; for forms to write in; 0: what the words need
};

struct document_part {
    enum part_kind kind;
    int level;          ///< of a heading, 1 … 3
    const char *anchor; ///< target of links; may be NULL
    struct document_run *runs;
    size_t n_runs, room_runs;
    struct document_table *table;
    struct drawing *drawing;  ///< owned by the document
    const char *caption;      ///< of a figure
    int64_t rows;             ///< the set of rows a figure was drawn from; 0: none
    const char *code, *defer; ///< of a caution: C07; who decides
    double height_pt;         ///< of room
    bool landscape;           ///< of a page break: the pages after it lie on their side
    bool numbered;            ///< of a list
    bool true_scale;          ///< a drawing that must not be shrunk: it is refused where it does not fit
    struct document_part *next;
};

struct document_revision {
    const char *version, *date, *who, *words;
};

/// A set of rows that numbers lead to: by a selection, or several sets together. Members outlive the document.
struct document_rows {
    bool used;           ///< something in the document leads to it
    const int64_t *of;   ///< the sets it is made of; NULL: by a selection
    size_t n_of, count;  ///< rows in it
    const char *words;   ///< the selection as a phrase
    const char *command; ///< that lists them
    const char *first, *last;
    const char *fingerprint;      ///< SHA-256 of the rows' content
    const char *remark;           ///< what is wrong with it; NULL
    const char *common;           ///< what is the same in all its rows; NULL
    struct document_table *table; ///< all its rows, for the page of HTML; NULL: not taken along
};

/// Text members are copied into the document's arena by document_new and the adders. Fields may be set directly with
/// text that outlives the document.
struct document {
    struct arena arena;
    const char *title, *subtitle;
    const char *kind;     ///< such as "Planting plan", in the header of every page
    const char *subject;  ///< site or plot, in the header of every page
    const char *author;   ///< organisation or pseudonym
    const char *language; ///< BCP 47; NULL: "en"
    const char *made_by;  ///< program with version; NULL: "spinney"
    int32_t date;         ///< the document's day; DATE_UNKNOWN: none, and none in the file
    bool landscape;       ///< first pages
    bool plain_first;     ///< no title block (forms and cards bring their own)
    struct document_revision *revisions;
    size_t n_revisions;
    struct document_rows *rows; ///< set N is rows[N − 1]
    size_t n_rows;
    struct document_part *first, *last;
};

struct document *document_new(const char *title);
void document_free(struct document *document);
void document_revise(struct document *document, const char *version, const char *date, const char *who, const char *words);

/* Adders: each returns the new part, owned by the document. */
struct document_part *document_heading(struct document *document, int level, const char *words, const char *anchor);
struct document_part *document_paragraph(struct document *document, const char *format, ...) __attribute__((format(printf, 2, 3)));
struct document_part *document_list(struct document *document, bool numbered);
struct document_part *document_add(struct document *document, enum part_kind kind);
/// Add words to a paragraph, an item to a list.
void document_words(struct document *document, struct document_part *part, const char *words, const char *link, bool strong);
/// A raised mark after words that leads to a set of rows; 0: nothing.
void document_behind(struct document *document, struct document_part *part, int64_t rows);
/// A paragraph-like note.
struct document_part *document_note(struct document *document, const char *words);
struct document_part *document_caution(struct document *document, const char *code, const char *words, const char *defer);
/// Takes over the drawing.
struct document_part *document_figure(struct document *document, struct drawing *drawing, const char *caption);
/// Sets `used` of every set that something in the document leads to, and of what those are made of. `document->rows` must
/// have room for every number used; numbers beyond are taken away.
void document_rows_mark(struct document *document);
void document_page(struct document *document, bool landscape);
/// An entry of the outline that takes no room.
void document_bookmark(struct document *document, const char *words, const char *anchor);
void document_room(struct document *document, double height_pt);
/// A labelled line to write on; several in a row share the width.
struct document_part *document_fields(struct document *document, const char *const *labels, size_t n);

struct document_table *document_table(struct document *document, const char *caption, const char *anchor);
void document_column(struct document *document, struct document_table *table, const char *title, const char *unit, enum cell_align align);
/// A new row of unknown cells, n_columns of them.
struct document_cell *document_row(struct document *document, struct document_table *table);
/// Copies of words for a cell.
void document_cell(struct document *document, struct document_cell *cell, const char *format, ...) __attribute__((format(printf, 3, 4)));

/// PDF: A4, running head and foot with "page n of N", outline of headings, links, metadata, tagged structure as far as
/// the library goes. Bytes depend only on the document and the fonts. `*pages` may be NULL.
enum outcome document_pdf(const struct document *document, struct text *out, size_t *pages, struct failure *why);
/// One page of HTML with everything inside (inline SVG), no outside request, with a printed form.
enum outcome document_html(const struct document *document, struct text *out, struct failure *why);
/// Plain text (UTF-8) for a terminal or a mail.
void document_plain(const struct document *document, int width, struct text *out);
/// Every table as a sheet of a workbook (XLSX). Numbers are numbers; text that a spreadsheet could take for a formula is
/// written as text.
enum outcome document_xlsx(const struct document *document, struct text *out, struct failure *why);
#endif
