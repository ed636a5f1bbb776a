/* SPDX-License-Identifier: GPL-3.0-or-later
 * Help, man page and completion, all from the tables of jobs. */
#include "cli/cli.h"
#include <string.h>

static void option_word(const struct option *option, struct text *out)
{
    text_add(out, "--");
    for (const char *p = option->name; *p != '\0'; p++)
        text_add_n(out, *p == '_' ? "-" : p, 1);
    if (option->kind != OPTION_FLAG)
        text_print(out, " %s", option->value == NULL ? "VALUE" : option->value);
}

void help_all(struct text *out)
{
    text_add(out, "spinney plans, records and judges small dense native woods beside comparison plots.\n\n"
                  "Usage: spinney COMMAND [FILE] [options]\n\n");
    for (size_t i = 0; i < n_jobs; i++)
        text_print(out, "  %-14s %s\n", jobs[i]->name, jobs[i]->summary);
    text_print(out, "  %-14s %s\n", "serve", "open the workbench in a browser on this computer");
    text_add(out, "\nEvery command takes --help, --json and --quiet; those that change the file take --author CODE.\n"
                  "Exit status: 0 done, 1 the data do not allow it, 2 wrong use, 3 failure of the system, 4 called off.\n");
}

void help_job(const struct job *job, struct text *out)
{
    text_print(out, "spinney %s: %s\n\n%s\n\nUsage: spinney %s%s", job->name, job->summary, job->about, job->name,
               job->access == JOB_FREE ? "" : " FILE");
    for (const char *const *bare = job->bare; bare != NULL && *bare != NULL; bare++)
        text_print(out, " [%s]", *bare);
    text_add(out, " [options]\n\n");
    for (size_t i = 0; i < job->n_options; i++) {
        struct text word = {0};
        option_word(&job->options[i], &word);
        text_print(out, "  %-28s %s%s\n", word.at, job->options[i].about, job->options[i].required ? " (needed)" : "");
        text_free(&word);
    }
    for (size_t i = 0; i < n_common_options; i++) {
        struct text word = {0};
        option_word(&common_options[i], &word);
        text_print(out, "  %-28s %s\n", word.at, common_options[i].about);
        text_free(&word);
    }
    text_print(out, "  %-28s %s\n  %-28s %s\n", "--json", "the answer as JSON, in full precision", "--quiet", "no answer, only errors");
    if (job->access == JOB_WRITES)
        text_print(out, "  %-28s %s\n", "--author CODE", "who does this, for the change log");
    text_print(out, "\nExample:\n  %s\n", job->example);
}

static void roff_add(struct text *out, const char *words)
{
    for (const char *p = words; *p != '\0'; p++) {
        if (*p == '-')
            text_add(out, "\\-");
        else if (*p == '\\')
            text_add(out, "\\e");
        else if ((*p == '.' || *p == '\'') && (p == words || p[-1] == '\n'))
            text_print(out, "\\&%c", *p);
        else
            text_add_n(out, p, 1);
    }
}

void help_man(struct text *out)
{
    text_add(out, ".TH SPINNEY 1\n.SH NAME\nspinney \\- plan, record and judge small dense native woods beside comparison plots\n"
                  ".SH SYNOPSIS\n.B spinney\nCOMMAND [FILE] [options]\n.SH COMMANDS\n");
    for (size_t i = 0; i < n_jobs; i++) {
        const struct job *job = jobs[i];
        text_print(out, ".SS %s\n", job->name);
        roff_add(out, job->about);
        text_add(out, "\n");
        for (size_t j = 0; j < job->n_options; j++) {
            struct text word = {0};
            option_word(&job->options[j], &word);
            text_add(out, ".TP\n.B ");
            roff_add(out, word.at);
            text_add(out, "\n");
            roff_add(out, job->options[j].about);
            text_add(out, "\n");
            text_free(&word);
        }
        text_add(out, ".PP\nExample:\n.B ");
        roff_add(out, job->example);
        text_add(out, "\n");
    }
    text_add(out, ".SH EXIT STATUS\n0 done, 1 the data do not allow it, 2 wrong use, 3 failure of the system, 4 called off.\n"
                  ".SH FILES\nA programme file is an OGC GeoPackage; any GIS opens it.\n");
}

void help_bash(struct text *out)
{
    text_add(out, "# Completion of spinney for bash\n_spinney() {\n    local word=${COMP_WORDS[COMP_CWORD]} command=${COMP_WORDS[1]}\n"
                  "    if [ \"$COMP_CWORD\" = 1 ]; then\n        COMPREPLY=($(compgen -W \"");
    for (size_t i = 0; i < n_jobs; i++)
        text_print(out, "%s ", jobs[i]->name);
    text_add(
        out,
        "serve --help --version\" -- \"$word\")); return\n    fi\n    case $word in --*) ;; *) COMPREPLY=($(compgen -f -- \"$word\")); "
        "return;; esac\n    case $command in\n");
    for (size_t i = 0; i < n_jobs; i++) {
        text_print(out, "    %s) COMPREPLY=($(compgen -W \"--help --json --quiet", jobs[i]->name);
        for (size_t j = 0; j < jobs[i]->n_options; j++) {
            text_add(out, " --");
            for (const char *p = jobs[i]->options[j].name; *p != '\0'; p++)
                text_add_n(out, *p == '_' ? "-" : p, 1);
        }
        text_add(out, "\" -- \"$word\"));;\n");
    }
    text_add(out, "    esac\n}\ncomplete -F _spinney spinney\n");
}
