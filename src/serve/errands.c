/* SPDX-License-Identifier: GPL-3.0-or-later
 * Jobs asked for by pages, run by a few workers: readers side by side, writers one after another. */
#include "serve/private.h"
#include "store/store.h"
#include "work/note.h"
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
    bool writes = job_stores(errand->job, errand->in);
    if (writes)
        pthread_mutex_lock(&server->write_lock);
    if (errand->job->access != JOB_FREE)
        outcome = store_open(server->settings->file, writes ? STORE_WRITE : STORE_READ, &context.store, &why);
    if (outcome == OUTCOME_OK)
        outcome = job_run(errand->job, &context, errand->in, &note, &why);
    store_close(context.store);
    if (writes)
        pthread_mutex_unlock(&server->write_lock);
    json_t *answer = outcome == OUTCOME_OK ? note : failure_json(&why, outcome);
    errand->status = http_status(outcome);
    errand->answer =
        errand->present == NULL ? json_dumps(answer, JSON_COMPACT) : errand->present(errand, answer, &errand->type, &errand->status);
    json_decref(answer);
}

static void *worker(void *data)
{
    struct server *server = data;
    pthread_mutex_lock(&server->lock);
    while (!server->closing) {
        struct errand *errand = server->waiting;
        if (errand == NULL) {
            pthread_cond_wait(&server->wake, &server->lock);
            continue;
        }
        server->waiting = errand->next;
        server->n_waiting--;
        errand->next = server->running;
        server->running = errand;
        pthread_mutex_unlock(&server->lock);
        errand_run(server, errand);
        pthread_mutex_lock(&server->lock);
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
