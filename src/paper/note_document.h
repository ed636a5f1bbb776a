/* SPDX-License-Identifier: GPL-3.0-or-later
 * A note (work/note.h) as parts of a document, so that the answer to every job can be printed. */
#ifndef SPINNEY_PAPER_NOTE_DOCUMENT_H
#define SPINNEY_PAPER_NOTE_DOCUMENT_H
#include "paper/document.h"
#include <jansson.h>

/// Add a note's answer, sections, cautions, unknowns and sources. Headings start at `level`; where `heading` is given it
/// stands first. Tables get the anchor "rows-N" and numbers of the answer are not guessed at. Figures in our own SVG are
/// drawn; any other is named in words. Fails with OUTCOME_DATA where the note is not one.
enum outcome note_to_document(struct document *document, const json_t *note, const char *heading, int level, struct failure *why);
#endif
