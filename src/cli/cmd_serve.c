/* SPDX-License-Identifier: GPL-3.0-or-later
 * spinney serve: the workbench on the loopback address. */
#include "cli/cli.h"

enum outcome serve_command(int argc, char **argv, struct failure *why)
{
    (void)argc;
    (void)argv;
    return fail(why, OUTCOME_SYSTEM, "This build has no server.");
}
