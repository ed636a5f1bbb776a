/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of paper/: documents to print and tables to hand over, from plain structs. */
#ifndef SPINNEY_PAPER_H
#define SPINNEY_PAPER_H
#include "paper/cards.h"
#include "paper/day_pack.h"
#include "paper/document.h"
#include "paper/forms.h"
#include "paper/note_document.h"
#include "paper/order_list.h"
#include "paper/planting_plan.h"
#endif
