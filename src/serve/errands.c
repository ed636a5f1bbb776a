/* SPDX-License-Identifier: GPL-3.0-or-later
 * Jobs asked for by pages, run by a few workers: looks side by side, those that write one after another, and no look waits for them. */
#include "serve/private.h"
#include "work/note.h"
#include <poll.h>
#include <stdlib.h>
#include <string.h>

struct telling {
    struct server *server;
    struct errand *errand;
};

static bool tell(void *who, double done, const char *what)
{
    struct telling *telling = who;
    pthread_mutex_lock(&telling->server->lock);
    telling->errand->done = done;
    snprintf(telling->errand->what, sizeof telling->errand->what, "%s", what == NULL ? "" : what);
    bool go_on = !telling->errand->cancelled && !telling->server->closing;
    pthread_mutex_unlock(&telling->server->lock);
    return go_on;
}

static json_t *failure_json(const struct failure *why, enum outcome outcome)
{
    return json_pack("{s:{s:i, s:s, s:s, s:s, s:i, s:s}}", "error", "status", (int)outcome, "sentence", why->sentence, "remedy",
                     why->remedy, "file", why->file, "row", (int)why->row, "column", why->column);
}

static unsigned http_status(enum outcome outcome)
{
    switch (outcome) {
    case OUTCOME_OK:
        return MHD_HTTP_OK;
    case OUTCOME_DATA:
        return MHD_HTTP_UNPROCESSABLE_CONTENT;
    case OUTCOME_USAGE:
        return MHD_HTTP_BAD_REQUEST;
    case OUTCOME_CANCELLED:
        return MHD_HTTP_CONFLICT;
    case OUTCOME_SYSTEM:
        break;
    }
    return MHD_HTTP_INTERNAL_SERVER_ERROR;
}

static void errand_run(struct server *server, struct errand *errand)
{
    struct telling telling = {server, errand};
    struct progress progress = {tell, &telling};
    struct job_context context = {.author = errand->author,
                                  .today = server->settings->today(),
                                  .progress = &progress,
                                  .upload = errand->upload,
                                  .upload_n = errand->upload_n};
    struct failure why = {0};
    json_t *note = NULL;
    enum outcome outcome = OUTCOME_OK;
    struct kept kept = {.store = NULL};
    if (errand->job->access != JOB_FREE)
        outcome = stores_take(&server->stores, errand->writes, &kept, &why);
    context.store = kept.store;
    if (outcome == OUTCOME_OK)
        outcome = job_run(errand->job, &context, errand->in, &note, &why);
    if (errand->job->access != JOB_FREE)
        stores_give(&server->stores, &kept, outcome);
    json_t *answer = outcome == OUTCOME_OK ? note : failure_json(&why, outcome);
    errand->status = http_status(outcome);
    errand->answer =
        errand->present == NULL ? json_dumps(answer, JSON_COMPACT) : errand->present(errand, answer, &errand->type, &errand->status);
    json_decref(answer);
}

/* Whether whoever asked has hung up. Only looks are let fall for it: a change that was asked for is made. */
static bool hung_up(const struct errand *errand)
{
    const union MHD_ConnectionInfo *info = MHD_get_connection_info(errand->connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    struct pollfd at = {.fd = info == NULL ? -1 : info->connect_fd, .events = POLLRDHUP};
    return at.fd >= 0 && poll(&at, 1, 0) > 0 && (at.revents & (POLLRDHUP | POLLHUP | POLLERR)) != 0;
}

/* Under the lock: the first errand that may run now, taken from those waiting; NULL: none. */
static struct errand *errand_next(struct server *server)
{
    for (struct errand **at = &server->waiting; *at != NULL; at = &(*at)->next) {
        struct errand *errand = *at;
        if (errand->writes && server->writing)
            continue;
        *at = errand->next;
        server->n_waiting--;
        server->writing = server->writing || errand->writes;
        errand->next = server->running;
        server->running = errand;
        return errand;
    }
    return NULL;
}

static void *worker(void *data)
{
    struct server *server = data;
    pthread_mutex_lock(&server->lock);
    while (!server->closing) {
        struct errand *errand = errand_next(server);
        if (errand == NULL) {
            pthread_cond_wait(&server->wake, &server->lock);
            continue;
        }
        pthread_mutex_unlock(&server->lock);
        if (errand->writes || !hung_up(errand))
            errand_run(server, errand);
        pthread_mutex_lock(&server->lock);
        if (errand->writes) {
            server->writing = false;
            pthread_cond_broadcast(&server->wake);
        }
        for (struct errand **at = &server->running; *at != NULL; at = &(*at)->next) {
            if (*at == errand) {
                *at = errand->next;
                break;
            }
        }
        errand->finished = true;
        struct MHD_Connection *connection = errand->connection;
        MHD_resume_connection(connection);
    }
    /* what still waits is answered with nothing: the server is going */
    pthread_mutex_unlock(&server->lock);
    return NULL;
}

void errands_start(struct server *server)
{
    for (int i = 0; i < WORKERS; i++)
        require(pthread_create(&server->workers[i], NULL, worker, server) == 0);
}

void errands_stop(struct server *server)
{
    pthread_mutex_lock(&server->lock);
    server->closing = true;
    pthread_cond_broadcast(&server->wake);
    pthread_mutex_unlock(&server->lock);
    for (int i = 0; i < WORKERS; i++)
        pthread_join(server->workers[i], NULL);
    for (struct errand *errand = server->waiting; errand != NULL; errand = errand->next) {
        errand->finished = true;
        MHD_resume_connection(errand->connection);
    }
    server->waiting = NULL;
}

bool errand_queue(struct server *server, struct errand *errand)
{
    pthread_mutex_lock(&server->lock);
    errand->writes = errand->job->access == JOB_WRITES && job_stores(errand->job, errand->in);
    bool room = server->n_waiting < MOST_WAITING && !server->closing;
    if (room) {
        struct errand **at = &server->waiting;
        while (*at != NULL)
            at = &(*at)->next;
        *at = errand;
        errand->next = NULL;
        server->n_waiting++;
        MHD_suspend_connection(errand->connection);
        pthread_cond_signal(&server->wake);
    }
    pthread_mutex_unlock(&server->lock);
    return room;
}

void errand_free(struct errand *errand)
{
    if (errand == NULL)
        return;
    json_decref(errand->in);
    free(errand->upload);
    free(errand->features);
    free(errand->answer);
    free(errand);
}

char *errand_progress(struct server *server, const char *ticket, bool cancel)
{
    char *out = NULL;
    pthread_mutex_lock(&server->lock);
    for (int list = 0; list < 2 && out == NULL; list++) {
        for (struct errand *errand = list == 0 ? server->running : server->waiting; errand != NULL; errand = errand->next) {
            if (strcmp(errand->ticket, ticket) != 0 || *ticket == '\0')
                continue;
            errand->cancelled = errand->cancelled || cancel;
            json_t *state = json_pack("{s:f, s:s, s:b}", "done", errand->done, "what", list == 1 ? "waiting" : errand->what, "cancelled",
                                      (int)errand->cancelled);
            out = json_dumps(state, JSON_COMPACT);
            json_decref(state);
            break;
        }
    }
    pthread_mutex_unlock(&server->lock);
    return out;
}
