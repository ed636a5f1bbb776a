/* SPDX-License-Identifier: GPL-3.0-or-later
 * The rows behind the numbers on paper: each set with its selection, its first and last row, its fingerprint, the page that
 * leads to it and the command that lists it. */
#include "paper/press.h"
#include <stdio.h>
#include <string.h>

void press_used(struct press *press, int64_t rows)
{
    if (rows > 0 && (size_t)rows <= press->document->n_rows && press->used_on[rows - 1] == 0)
        press->used_on[rows - 1] = press->page;
}

/* "r12" as a link, into the arena of the run. */
static struct document_run set_link(struct press *press, int64_t number, const char *before)
{
    return (struct document_run){.words = arena_print(&press->arena, "%sr%lld", before, (long long)number),
                                 .link = arena_print(&press->arena, "#r%lld", (long long)number)};
}

static void runs_flow(struct press *press, const struct document_run *runs, size_t n)
{
    PangoLayout *layout = press_layout(press, runs, n, (struct setting){.size = TEXT_SMALL}, press->right - press->left - 26);
    if (layout_height(layout) < 100)
        press_room(press, layout_height(layout));
    press_tag(press, "P");
    press_ink(press, INK_TEXT);
    press_flow(press, layout, press->left + 26, runs, n);
    press_tag_end(press, "P");
    g_object_unref(layout);
}

static void together_set(struct press *press, const struct document_rows *set, const char *used)
{
    struct document_run *runs = arena_array(&press->arena, set->n_of + 2, sizeof *runs);
    runs[0].words = arena_print(&press->arena, "%zu rows: ", set->count);
    for (size_t i = 0; i < set->n_of; i++)
        runs[i + 1] = set_link(press, set->of[i], i == 0 ? "" : ", ");
    runs[set->n_of + 1].words = arena_print(&press->arena, " together.%s", used);
    runs_flow(press, runs, set->n_of + 2);
}

static void selected_set(struct press *press, const struct document_rows *set, const char *used)
{
    const char *between = set->count == 0   ? ""
                          : set->count == 1 ? arena_print(&press->arena, " %s.", set->first)
                                            : arena_print(&press->arena, " From %s to %s.", set->first, set->last);
    struct document_run runs[3] = {{.words = arena_print(&press->arena, "%zu %s: %s.%s SHA-256 %.12s….%s%s%s", set->count,
                                                         set->count == 1 ? "row" : "rows", set->words, between, set->fingerprint, used,
                                                         set->remark == NULL ? "" : " ", set->remark == NULL ? "" : set->remark)},
                                   {.words = "\n"},
                                   {.words = set->command, .strong = false, .italic = true}};
    runs_flow(press, runs, 3);
}

void press_rows(struct press *press)
{
    const struct document *document = press->document;
    for (size_t i = 0; i < document->n_rows; i++) {
        const struct document_rows *set = &document->rows[i];
        if (!set->used)
            continue;
        const char *used = press->used_on[i] == 0 ? "" : arena_print(&press->arena, " Used on page %zu.", press->used_on[i]);
        press_room(press, set->of == NULL ? 3 * TEXT_SMALL * 1.5 : 1.5 * TEXT_SMALL);
        struct document_run name = {.words = arena_print(&press->arena, "r%zu", i + 1), .strong = true};
        PangoLayout *layout = press_layout(press, &name, 1, (struct setting){.size = TEXT_SMALL}, 0);
        press_anchor(press, name.words, press->left, press->y);
        press_ink(press, INK_TEXT);
        press_lines(press, layout, 0, 1, press->left, press->y, NULL, 0);
        g_object_unref(layout);
        (set->of != NULL ? together_set : selected_set)(press, set, used);
        press->y += 3;
    }
    press->y += 4;
}
