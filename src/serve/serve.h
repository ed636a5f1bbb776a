/* SPDX-License-Identifier: GPL-3.0-or-later
 * The workbench's server: HTTP on the loopback address over the jobs of work/. */
#ifndef SPINNEY_SERVE_H
#define SPINNEY_SERVE_H
#include "base/base.h"
#include <signal.h>

struct serve_settings {
    const char *file;   ///< programme file; one that does not exist yet is made from the browser
    int port;           ///< 0: any free one
    const char *folder; ///< an empty private folder for files that jobs write
    int32_t (*today)(void);
    const char *token; ///< what the first opening must show; NULL: a fresh one
};

/// Serve until *stop becomes non-zero. `ready` is told the address to open, with its token, and that by which other
/// programs read features, with its key. Loopback only; every request
/// must carry the session cookie, the server's own host name and, if it changes something, the page's own origin.
enum outcome serve_run(const struct serve_settings *settings, void (*ready)(void *who, const char *address, const char *features),
                       void *who, const volatile sig_atomic_t *stop, struct failure *why);
#endif
