/* SPDX-License-Identifier: GPL-3.0-or-later
 * Solving a programme through the program cbc as a child, which is faster on large joint programmes and can be stopped.
 * The programme and its answer pass through memory, not through files. */
#include "mix/mip.h"
#include <errno.h>
#include <fcntl.h>
#include <float.h>
#include <math.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

extern char **environ;

static bool write_all(int fd, const char *bytes, size_t n)
{
    while (n > 0) {
        ssize_t done = write(fd, bytes, n);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            return false;
        bytes += done;
        n -= (size_t)done;
    }
    return lseek(fd, 0, SEEK_SET) == 0;
}

static char *read_all(int fd, struct arena *arena)
{
    off_t n = lseek(fd, 0, SEEK_END);
    if (n < 0 || lseek(fd, 0, SEEK_SET) != 0)
        return NULL;
    char *bytes = arena_alloc(arena, (size_t)n + 1);
    for (size_t at = 0; at < (size_t)n;) {
        ssize_t got = read(fd, bytes + at, (size_t)n - at);
        if (got < 0 && errno == EINTR)
            continue;
        if (got <= 0)
            return NULL;
        at += (size_t)got;
    }
    return bytes;
}

/* Run cbc with the model on descriptor 3 and the answer on 4; its own words go to `log`. False: it could not be run. */
static bool cbc_run(int model, int answer, int log, double seconds, double gap)
{
    char limit[40], ratio[40];
    number_write(seconds, limit);
    number_write(gap, ratio);
    char *argv[] = {(char[]){"cbc"},
                    (char[]){"/proc/self/fd/3"},
                    (char[]){"-sec"},
                    limit,
                    (char[]){"-allowableGap"},
                    ratio,
                    (char[]){"-threads"},
                    (char[]){"0"},
                    (char[]){"-timeMode"},
                    (char[]){"elapsed"},
                    (char[]){"-printingOptions"},
                    (char[]){"all"},
                    (char[]){"-solve"},
                    (char[]){"-solution"},
                    (char[]){"/proc/self/fd/4"},
                    (char[]){"-quit"},
                    NULL};
    posix_spawn_file_actions_t actions;
    if (posix_spawn_file_actions_init(&actions) != 0)
        return false;
    pid_t child = 0;
    int status = 0;
    bool good = posix_spawn_file_actions_addopen(&actions, 0, "/dev/null", O_RDONLY, 0) == 0 &&
                posix_spawn_file_actions_adddup2(&actions, log, 1) == 0 && posix_spawn_file_actions_adddup2(&actions, log, 2) == 0 &&
                posix_spawn_file_actions_adddup2(&actions, model, 3) == 0 && posix_spawn_file_actions_adddup2(&actions, answer, 4) == 0 &&
                posix_spawnp(&child, "cbc", &actions, NULL, argv, environ) == 0;
    posix_spawn_file_actions_destroy(&actions);
    if (!good)
        return false;
    while (waitpid(child, &status, 0) < 0)
        if (errno != EINTR)
            return false;
    return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

/* A figure after a word in cbc's log. */
static double figure_after(const char *text, const char *word)
{
    double x = 0;
    const char *at = strstr(text, word);
    if (at == NULL)
        return unknown_real();
    at += strlen(word);
    at += strspn(at, " \t");
    char digits[64];
    size_t n = strcspn(at, " \t\r\n");
    if (n == 0 || n >= sizeof digits)
        return unknown_real();
    memcpy(digits, at, n);
    digits[n] = '\0';
    return number_read(digits, &x) ? x : unknown_real();
}

static void answer_read(const struct mip *g, char *answer, const char *log, struct arena *arena, struct solution *out)
{
    char *rest = NULL, *line = strtok_r(answer, "\n", &rest);
    out->state = SOLVE_NOTHING;
    if (line == NULL)
        return;
    if (strstr(line, "nfeasible") != NULL || strstr(log, "proven to be infeasible") != NULL ||
        strstr(log, "Problem proven infeasible") != NULL) {
        out->state = SOLVE_IMPOSSIBLE;
        return;
    }
    bool best = strncmp(line, "Optimal", 7) == 0;
    out->x = arena_array(arena, g->n_cols + 1, sizeof *out->x);
    size_t seen = 0;
    while ((line = strtok_r(NULL, "\n", &rest)) != NULL) {
        char *inner = NULL, *word = strtok_r(line, " \t*", &inner), *name = strtok_r(NULL, " \t", &inner),
             *value = strtok_r(NULL, " \t", &inner);
        double x = 0;
        int64_t column = 0;
        if (word == NULL || name == NULL || value == NULL || *name != 'x' || !integer_read(name + 1, &column) || !number_read(value, &x) ||
            column < 0 || column >= (int64_t)g->n_cols)
            continue;
        out->x[column] = x;
        seen++;
    }
    if (seen < g->n_cols) /* no answer yet, or one we do not understand: the caller checks every answer in any case */
        return;
    double bound = figure_after(log, "Lower bound:"), value = figure_after(log, "Objective value:");
    out->state = best ? SOLVE_BEST : SOLVE_FOUND;
    out->bound = best ? value : bound;
    if (!is_known(out->bound))
        out->bound = -DBL_MAX;
}

enum outcome mip_cbc(const struct mip *mip, double seconds, double gap, struct arena *arena, bool *there, struct solution *out,
                     struct failure *why)
{
    *there = false;
    *out = (struct solution){.state = SOLVE_NOTHING, .bound = -DBL_MAX, .solver = "cbc"};
    int fds[3] = {memfd_create("mix", 0), memfd_create("answer", 0), memfd_create("log", 0)};
    char *text = mip_mps(mip, arena), *answer = NULL, *log = NULL;
    bool good = fds[0] >= 0 && fds[1] >= 0 && fds[2] >= 0 && write_all(fds[0], text, strlen(text));
    /* descriptors above those the child will use, so that none is trodden on */
    for (int i = 0; i < 3 && good; i++) {
        int high = fcntl(fds[i], F_DUPFD_CLOEXEC, 10);
        good = high >= 0;
        if (good) {
            close(fds[i]);
            fds[i] = high;
        }
    }
    if (good && cbc_run(fds[0], fds[1], fds[2], seconds, gap)) {
        answer = read_all(fds[1], arena);
        log = read_all(fds[2], arena);
    }
    for (int i = 0; i < 3; i++)
        if (fds[i] >= 0)
            close(fds[i]);
    if (!good)
        return fail(why, OUTCOME_SYSTEM, "The programme could not be handed to the solver.");
    if (answer == NULL || log == NULL)
        return OUTCOME_OK; /* not installed, or of no use: the caller goes on without */
    *there = true;
    answer_read(mip, answer, log, arena, out);
    const char *at = strstr(log, "Version:");
    if (at != NULL) {
        at += 8 + strspn(at + 8, " ");
        out->solver = arena_print(arena, "cbc %.*s", (int)strcspn(at, " \n"), at);
    }
    return OUTCOME_OK;
}
