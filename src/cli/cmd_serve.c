/* SPDX-License-Identifier: GPL-3.0-or-later
 * spinney serve: the workbench on the loopback address. */
#include "cli/cli.h"
#include "serve/serve.h"
#include <errno.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static volatile sig_atomic_t stop_asked;

static void on_stop(int signal)
{
    (void)signal;
    stop_asked = 1;
}

static const char serve_help[] =
    "spinney serve: open the workbench in a browser on this computer\n\n"
    "Serves one programme file on the loopback address only. A file that does not exist yet is made from the browser.\n\n"
    "Usage: spinney serve FILE [options]\n\n"
    "  --port N       port to listen on (any free one if not given)\n"
    "  --open         open the browser\n"
    "  --token TEXT   what the first opening must show (a fresh secret if not given); the same one gives map programs the same address\n\n"
    "Example:\n  spinney serve wood.gpkg --open\n";

struct ready_for {
    bool open;
};

static void on_ready(void *who, const char *address, const char *features)
{
    const struct ready_for *ready = who;
    printf("The workbench is open at %s\nMap programs read it (OGC API - Features) at %s\nStop it with Ctrl-C.\n", address, features);
    fflush(stdout);
    if (ready->open && (getenv("DISPLAY") != NULL || getenv("WAYLAND_DISPLAY") != NULL) && fork() == 0) {
        execlp("xdg-open", "xdg-open", address, (char *)NULL);
        _exit(0);
    }
}

static int remove_one(const char *path, const struct stat *about, int kind, struct FTW *at)
{
    (void)about;
    (void)kind;
    (void)at;
    return remove(path);
}

enum outcome serve_command(int argc, char **argv, struct failure *why)
{
    struct serve_settings settings = {.today = cli_today};
    struct ready_for ready = {false};
    for (int i = 0; i < argc; i++) {
        int64_t port = 0;
        if (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0) {
            fputs(serve_help, stdout);
            return OUTCOME_OK;
        }
        if (strcmp(argv[i], "--open") == 0) {
            ready.open = true;
        } else if (strcmp(argv[i], "--token") == 0 && i + 1 < argc) {
            settings.token = argv[++i];
        } else if (strcmp(argv[i], "--port") == 0 && i + 1 < argc) {
            if (!integer_read(argv[++i], &port) || port < 0 || port > 65535)
                return fail(why, OUTCOME_USAGE, "--port: \"%.80s\" is not a port number.", argv[i]);
            settings.port = (int)port;
        } else if (settings.file == NULL && strncmp(argv[i], "--", 2) != 0) {
            settings.file = argv[i];
        } else {
            fail(why, OUTCOME_USAGE, "serve does not know \"%.80s\".", argv[i]);
            failure_remedy(why, "See: spinney serve --help");
            return OUTCOME_USAGE;
        }
    }
    if (settings.file == NULL)
        return fail(why, OUTCOME_USAGE, "serve needs a programme file, such as: spinney serve wood.gpkg --open");
    const char *temporary = getenv("TMPDIR");
    char folder[4000];
    snprintf(folder, sizeof folder, "%s/spinney-XXXXXX", temporary == NULL ? "/tmp" : temporary);
    if (mkdtemp(folder) == NULL)
        return fail(why, OUTCOME_SYSTEM, "No folder for documents could be made in %s: %s.", folder, strerror(errno));
    settings.folder = folder;
    struct sigaction action = {.sa_handler = on_stop};
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    enum outcome outcome = serve_run(&settings, on_ready, &ready, &stop_asked, why);
    nftw(folder, remove_one, 8, FTW_DEPTH | FTW_PHYS);
    return outcome;
}
