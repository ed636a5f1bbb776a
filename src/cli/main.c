/* SPDX-License-Identifier: GPL-3.0-or-later
 * spinney: the command line over the jobs of work/. */
#include "cli/cli.h"
#include "cli/ranks.h"
#include "stand/stand.h"
#include "store/store.h"
#include "work/note.h"
#include <locale.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

static volatile sig_atomic_t called_off;

static void on_interrupt(int signal)
{
    (void)signal;
    if (called_off)
        _exit(OUTCOME_CANCELLED);
    called_off = 1;
}

static bool show_progress(void *who, double done, const char *what)
{
    static double shown = -1;
    if (who != NULL && isatty(2) && (done >= 1 || done - shown > 0.01 || done < shown)) {
        fprintf(stderr, "\r%3.0f %% %-60.60s", done * 100, what == NULL ? "" : what);
        if (done >= 1)
            fprintf(stderr, "\r%*s\r", 70, "");
        shown = done;
    }
    return !called_off;
}

int32_t cli_today(void)
{
    int32_t date = 0;
    if (date_read(getenv("SPINNEY_TODAY"), &date))
        return date;
    time_t now = time(NULL);
    struct tm local;
    localtime_r(&now, &local);
    return date_make(local.tm_year + 1900, local.tm_mon + 1, local.tm_mday);
}

static int terminal_width(void)
{
    struct winsize size;
    return ioctl(1, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 ? size.ws_col : 100;
}

static int report(const struct failure *why, enum outcome outcome, bool json)
{
    if (json) {
        json_t *error = json_pack("{s:{s:i, s:s, s:s, s:s, s:i, s:s}}", "error", "status", (int)outcome, "sentence", why->sentence,
                                  "remedy", why->remedy, "file", why->file, "row", (int)why->row, "column", why->column);
        json_dumpf(error, stdout, JSON_INDENT(2));
        putchar('\n');
        json_decref(error);
    }
    char words[3000];
    failure_print(why, words, sizeof words);
    fprintf(stderr, "spinney: %s\n", words);
    return (int)outcome;
}

static int print_text(struct text *out)
{
    fputs(text_get(out), stdout);
    text_free(out);
    return fflush(stdout) == 0 ? 0 : 3;
}

/* On other ranks than the first nothing is written. */
static bool other_rank(const struct stand_spread *spread)
{
    return spread != NULL && spread->rank > 0;
}

static enum outcome run_job(const struct asked *asked, const struct stand_spread *spread, json_t **note, struct failure *why)
{
    struct progress progress = {show_progress, asked->quiet || asked->json ? NULL : stderr};
    struct job_context context = {.author = asked->author != NULL ? asked->author : getenv("SPINNEY_AUTHOR"),
                                  .today = cli_today(),
                                  .progress = &progress,
                                  .spread = spread};
    if (context.author == NULL)
        context.author = "unnamed";
    enum outcome outcome = OUTCOME_OK;
    if (asked->job->access != JOB_FREE) {
        if (asked->file == NULL) {
            fail(why, OUTCOME_USAGE, "%s works on a programme file.", asked->job->name);
            failure_remedy(why, "Name it: %s", asked->job->example);
            return OUTCOME_USAGE;
        }
        outcome = store_open(asked->file, asked->job->access == JOB_WRITES && !other_rank(spread) ? STORE_WRITE : STORE_READ,
                             &context.store, why);
    }
    if (outcome == OUTCOME_OK)
        outcome = job_run(asked->job, &context, asked->in, note, why);
    store_close(context.store);
    return outcome;
}

static int command(const struct job *job, const struct stand_spread *spread, int argc, char **argv)
{
    struct failure why = {0};
    struct asked asked;
    json_t *note = NULL;
    enum outcome outcome = arguments_read(job, argc, argv, &asked, &why);
    struct text out = {0};
    int status = 0;
    if (outcome == OUTCOME_OK && asked.help) {
        help_job(job, &out);
        status = print_text(&out);
        goto done;
    }
    if (other_rank(spread)) { /* such jobs as do not spread are done by the first alone */
        if (outcome != OUTCOME_OK || !job->spreads)
            goto done;
        for (size_t i = 0; i < n_common_options; i++)
            json_object_del(asked.in, common_options[i].name);
    }
    if (outcome == OUTCOME_OK)
        outcome = run_job(&asked, spread, &note, &why);
    if (outcome != OUTCOME_OK) {
        status = report(&why, outcome, asked.json);
        goto done;
    }
    if (asked.json) {
        char *text = json_dumps(note, JSON_INDENT(2));
        text_print(&out, "%s\n", text);
        free(text);
    } else if (!asked.quiet) {
        note_print(note, terminal_width(), &out);
    }
    status = print_text(&out);
    /* a job that holds something against a standard says so in data.holds */
    if (json_is_false(json_object_get(json_object_get(note, "data"), "holds")))
        status = OUTCOME_DATA;
done:
    json_decref(asked.in);
    json_decref(note);
    return status;
}

static int whole(const struct stand_spread *spread, int argc, char **argv)
{
    setlocale(LC_CTYPE, "C.UTF-8");
    struct sigaction interrupt = {.sa_handler = on_interrupt};
    sigaction(SIGINT, &interrupt, NULL);
    signal(SIGPIPE, SIG_IGN);
    struct text out = {0};
    const char *name = argc < 2 ? "--help" : argv[1];
    if (strcmp(name, "--help") == 0 || strcmp(name, "-h") == 0 || (strcmp(name, "help") == 0 && argc < 3)) {
        help_all(&out);
        return print_text(&out) != 0 ? 3 : argc < 2 ? 2 : 0;
    }
    if (strcmp(name, "--version") == 0) {
        text_print(&out, "spinney %s\nprogramme file version %d\nLicence GPL-3.0-or-later\n", SPINNEY_VERSION, STORE_VERSION);
        return print_text(&out);
    }
    if (strcmp(name, "--man") == 0 || strcmp(name, "--completion") == 0) {
        (name[2] == 'm' ? help_man : help_bash)(&out);
        return print_text(&out);
    }
    struct failure why = {0};
    if (strcmp(name, "serve") == 0) {
        enum outcome outcome = serve_command(argc - 2, argv + 2, &why);
        return outcome == OUTCOME_OK ? 0 : report(&why, outcome, false);
    }
    bool help = strcmp(name, "help") == 0;
    const struct job *job = job_find(help ? argv[2] : name);
    if (job == NULL) {
        fail(&why, OUTCOME_USAGE, "There is no command %.80s.", help ? argv[2] : name);
        failure_remedy(&why, "See: spinney --help");
        return report(&why, OUTCOME_USAGE, false);
    }
    if (help) {
        help_job(job, &out);
        return print_text(&out);
    }
    return command(job, spread, argc - 2, argv + 2);
}

int main(int argc, char **argv)
{
    const struct stand_spread *spread = ranks_begin(&argc, &argv);
    return ranks_end(whole(spread, argc, argv));
}
