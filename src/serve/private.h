/* SPDX-License-Identifier: GPL-3.0-or-later
 * What the files of the server share. */
#ifndef SPINNEY_SERVE_PRIVATE_H
#define SPINNEY_SERVE_PRIVATE_H
#include "serve/serve.h"
#include "work/job.h"
#include <jansson.h>
#include <microhttpd.h>
#include <pthread.h>
#include <sys/types.h>

enum {
    MOST_UPLOAD = 64 << 20, ///< bytes of one request
    MOST_WAITING = 64,      ///< jobs waiting at once
    WORKERS = 3,
    SECRET = 43 ///< characters of a token, with its end
};

/// An embedded file of the workbench.
struct asset {
    const char *path; ///< such as "/app.js"
    const char *type;
    const unsigned char *bytes;
    const unsigned char *end;
    const unsigned char *packed; ///< the same by gzip, or NULL
    const unsigned char *packed_end;
    const char *tag; ///< names this content, in quotes
    bool forever;    ///< its name changes with its content
};
extern const struct asset assets[];
extern const size_t n_assets;

struct features_request;
/// One job asked for by a page, from the request until its answer is fetched.
struct errand {
    struct errand *next;
    const struct job *job;
    json_t *in;
    char *upload; ///< content of the file sent, or NULL
    size_t upload_n;
    char author[40], ticket[40];
    struct MHD_Connection *connection;
    double done; ///< progress, under the lock
    char what[80];
    bool writes; ///< it changes the file
    bool cancelled, finished;
    char *answer; ///< JSON text
    unsigned status;
    const char *type; ///< of the answer; NULL: application/json
    /// Another form of the answer than the note itself; NULL: the note. May change the status. Free with free().
    char *(*present)(const struct errand *errand, const json_t *note, const char **type, unsigned *status);
    struct features_request *features; ///< what `present` needs
};

/// Open connections to the programme file, kept between requests.
struct stores {
    const char *path;
    pthread_mutex_t lock;
    struct store *watch;         ///< tells whether others have committed; NULL: the file is not open
    struct store *idle[WORKERS]; ///< for looking
    size_t n_idle;
    struct store *writer; ///< while no job writes; NULL: not opened yet, or in use
    bool writing;         ///< a worker has the writer
    int64_t seen;         ///< of the watch, when last asked
    uint64_t generation;  ///< one more each time everything is let go of
    dev_t device;
    ino_t inode;
};
/// A store in a worker's hands.
struct kept {
    struct store *store;
    bool writes;
    uint64_t generation;
    int64_t seen; ///< of a writer, when taken
};
void stores_init(struct stores *stores, const char *path);
void stores_clear(struct stores *stores); ///< when no worker has one
/// A checked store for one job; only one job at a time may ask to write.
enum outcome stores_take(struct stores *stores, bool writes, struct kept *out, struct failure *why);
/// Give it back with how the job ended: after a failure of the system it is closed.
void stores_give(struct stores *stores, struct kept *kept, enum outcome outcome);

struct server {
    const struct serve_settings *settings;
    char token[SECRET], session[SECRET];
    char features_key[SECRET]; ///< in the address by which other programs read
    char host[2][40];          ///< the two names the server answers to
    char cookie[24];           ///< name of the session cookie: browsers share cookies between ports, and two workbenches may be open
    pthread_mutex_t lock;
    pthread_cond_t wake;
    struct errand *waiting, *running; ///< lists
    size_t n_waiting;
    bool writing; ///< a job that writes is running: the next waits, looks go past it
    struct stores stores;
    pthread_t workers[WORKERS];
    bool closing;
    uint64_t files; ///< files handed out so far
};

/* guard.c: who may ask */
void secret_fresh(char out[SECRET]);
bool secret_same(const char *a, const char *b);
/// 0 if the request may go on, or the HTTP status that refuses it.
unsigned guard_check(const struct server *server, struct MHD_Connection *connection, const char *method, const char *url);

/* features.c: the programme for other programs, read only */
/// The key that belongs to a token: the same token gives the same address.
void features_key(const char *token, char out[SECRET]);
/// Whether a request below /features/ carries the key and only reads.
bool features_allowed(const struct server *server, const char *method, const char *url);
/// Begin to answer one: either *answer (free with free()) with its type and status, or a new errand in *out to queue.
enum MHD_Result features_begin(struct server *server, struct MHD_Connection *connection, const char *url, struct errand **out,
                               char **answer, const char **type, unsigned *status);

/* errands.c: jobs run by a few workers */
void errands_start(struct server *server);
void errands_stop(struct server *server);
/// Put an errand in the queue; false if too many are waiting.
bool errand_queue(struct server *server, struct errand *errand);
void errand_free(struct errand *errand);
/// Progress of a ticket as JSON text, or NULL; `cancel` also calls it off. Free with free().
char *errand_progress(struct server *server, const char *ticket, bool cancel);
#endif
