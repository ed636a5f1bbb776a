/* SPDX-License-Identifier: GPL-3.0-or-later
 * How far a long job has come, and whether it has been called off. The only callback a computing room makes. */
#ifndef SPINNEY_BASE_PROGRESS_H
#define SPINNEY_BASE_PROGRESS_H
#include <stdbool.h>

/// `tell` may be NULL; it returns false to call the job off. `done` of 0 to 1; `what` is a few words.
struct progress {
    bool (*tell)(void *who, double done, const char *what);
    void *who;
};
/// True to go on. A NULL `progress` always goes on.
static inline bool progress_tell(const struct progress *progress, double done, const char *what)
{
    return progress == (void *)0 || progress->tell == (void *)0 || progress->tell(progress->who, done, what);
}
#endif
