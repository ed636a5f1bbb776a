/* SPDX-License-Identifier: GPL-3.0-or-later
 * The command line: arguments to a job, and its note to the terminal. */
#ifndef SPINNEY_CLI_H
#define SPINNEY_CLI_H
#include "work/job.h"

/// What was asked for on the command line, beside the job's own options.
struct asked {
    const struct job *job;
    const char *file; ///< programme file, or NULL
    const char *author;
    json_t *in; ///< options of the job
    bool json, quiet, help;
};

/// Read the arguments after the command's name. The failure says which one is wrong.
enum outcome arguments_read(const struct job *job, int argc, char **argv, struct asked *out, struct failure *why);
/// Help of everything, of one command, a man page (roff), completion for bash.
void help_all(struct text *out);
void help_job(const struct job *job, struct text *out);
void help_man(struct text *out);
void help_bash(struct text *out);
/// The day by the clock, or by SPINNEY_TODAY, so that documents can be made again byte for byte.
int32_t cli_today(void);
/// `spinney serve`: the workbench. Runs until it is told to stop.
enum outcome serve_command(int argc, char **argv, struct failure *why);
#endif
