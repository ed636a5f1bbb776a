/* SPDX-License-Identifier: GPL-3.0-or-later
 * Failures: one place where they are raised and one where they are put into words. */
#include "base/outcome.h"
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum outcome fail(struct failure *why, enum outcome kind, const char *sentence, ...)
{
    if (why != NULL) {
        memset(why, 0, sizeof *why);
        why->kind = kind;
        va_list list;
        va_start(list, sentence);
        vsnprintf(why->sentence, sizeof why->sentence, sentence, list);
        va_end(list);
    }
    return kind;
}

enum outcome failure_remedy(struct failure *why, const char *remedy, ...)
{
    if (why == NULL)
        return OUTCOME_DATA;
    va_list list;
    va_start(list, remedy);
    vsnprintf(why->remedy, sizeof why->remedy, remedy, list);
    va_end(list);
    return why->kind;
}

enum outcome failure_at(struct failure *why, const char *file, long row, const char *column)
{
    if (why == NULL)
        return OUTCOME_DATA;
    if (file != NULL)
        snprintf(why->file, sizeof why->file, "%s", file);
    if (row > 0)
        why->row = row;
    if (column != NULL)
        snprintf(why->column, sizeof why->column, "%s", column);
    return why->kind;
}

void failure_print(const struct failure *why, char *out, size_t n)
{
    if (n == 0)
        return;
    char row[40] = "", column[FAILURE_PLACE + 16] = "";
    if (why->row > 0)
        snprintf(row, sizeof row, "%srow %ld", why->file[0] != '\0' ? ", " : "", why->row);
    if (why->column[0] != '\0')
        snprintf(column, sizeof column, "%scolumn %s", why->file[0] != '\0' || why->row > 0 ? ", " : "", why->column);
    bool placed = why->file[0] != '\0' || row[0] != '\0' || column[0] != '\0';
    snprintf(out, n, "%s%s%s%s%s%s%s", why->file, row, column, placed ? ": " : "", why->sentence, why->remedy[0] != '\0' ? " " : "",
             why->remedy);
}

void give_up(const char *what, const char *file, int line)
{
    fprintf(stderr, "spinney: %s (%s:%d). Nothing that was saved is lost.\n", what, file, line);
    fflush(stderr);
    _Exit(3);
}
