/* SPDX-License-Identifier: GPL-3.0-or-later
 * Routes: the embedded workbench, jobs, their progress, and the files they wrote.
 *
 *   GET  /open?token=…           the first opening: sets the session cookie
 *   GET  /…                      the workbench
 *   GET  /api/jobs               every job with its options
 *   POST /api/job/NAME           options as a JSON object; or multipart form data with "options" and "file"
 *   GET  /api/progress/TICKET    how far (the ticket is the X-Ticket header of the POST)
 *   POST /api/cancel/TICKET      call it off
 *   GET  /api/file/NAME          a file that a job wrote */
#include "serve/private.h"
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

/* One request while its body comes in. */
struct request {
    char *body;
    size_t n, room;
    bool too_large;
    struct errand *errand;
};

static enum MHD_Result answer_cached(struct MHD_Connection *connection, unsigned status, const char *type, const char *keep,
                                     struct MHD_Response *response)
{
    const char *const headers[][2] = {
        {"X-Content-Type-Options", "nosniff"},
        {"X-Frame-Options", "DENY"},
        {"Referrer-Policy", "no-referrer"},
        {"Cross-Origin-Opener-Policy", "same-origin"},
        {"Cross-Origin-Resource-Policy", "same-origin"},
        {"Content-Security-Policy",
         "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; connect-src 'self'; "
         "manifest-src 'self'; worker-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"},
        {"Cache-Control", keep},
    };
    for (size_t i = 0; i < sizeof headers / sizeof *headers; i++)
        MHD_add_response_header(response, headers[i][0], headers[i][1]);
    MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, type);
    enum MHD_Result result = MHD_queue_response(connection, status, response);
    MHD_destroy_response(response);
    return result;
}

static enum MHD_Result answer_with(struct MHD_Connection *connection, unsigned status, const char *type, struct MHD_Response *response)
{
    return answer_cached(connection, status, type, "no-store", response);
}

static enum MHD_Result answer_text(struct MHD_Connection *connection, unsigned status, const char *type, const char *text)
{
    return answer_with(connection, status, type,
                       MHD_create_response_from_buffer(strlen(text), (void *)(uintptr_t)text, MHD_RESPMEM_MUST_COPY));
}

static enum MHD_Result answer_error(struct MHD_Connection *connection, unsigned status, const char *sentence)
{
    json_t *error = json_pack("{s:{s:i, s:s, s:s}}", "error", "status", 2, "sentence", sentence, "remedy", "");
    char *text = json_dumps(error, JSON_COMPACT);
    enum MHD_Result result = answer_text(connection, status, "application/json", text);
    free(text);
    json_decref(error);
    return result;
}

static enum MHD_Result answer_opening(const struct server *server, struct MHD_Connection *connection)
{
    struct MHD_Response *response = MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT);
    char cookie[160];
    snprintf(cookie, sizeof cookie, "%s=%s; Path=/; HttpOnly; SameSite=Strict", server->cookie, server->session);
    MHD_add_response_header(response, MHD_HTTP_HEADER_SET_COOKIE, cookie);
    MHD_add_response_header(response, MHD_HTTP_HEADER_LOCATION, "/");
    return answer_with(connection, MHD_HTTP_SEE_OTHER, "text/plain", response);
}

/* Whether "Accept-Encoding" names gzip without forbidding it (RFC 9110, 12.5.3). */
static bool takes_gzip(const char *takes)
{
    const char *at = takes == NULL ? NULL : strcasestr(takes, "gzip");
    if (at == NULL)
        return false;
    at += strspn(at + 4, " ") + 4;
    return strncmp(at, ";q=0", 4) != 0 || (at[4] == '.' && strspn(at + 5, "0") < strcspn(at + 5, ", "));
}

static enum MHD_Result answer_asset(struct MHD_Connection *connection, const char *url)
{
    const struct asset *found = NULL;
    for (size_t i = 0; i < n_assets && found == NULL; i++)
        if (strcmp(assets[i].path, url) == 0 || (strcmp(url, "/") == 0 && strcmp(assets[i].path, "/index.html") == 0))
            found = &assets[i];
    /* the pages of the workbench are addresses of one document */
    for (size_t i = 0; i < n_assets && found == NULL && strchr(url + 1, '.') == NULL && strncmp(url, "/api/", 5) != 0; i++)
        if (strcmp(assets[i].path, "/index.html") == 0)
            found = &assets[i];
    if (found == NULL)
        return answer_error(connection, MHD_HTTP_NOT_FOUND, "There is nothing at this address.");
    /* a name that changes with its content is kept by the browser; the rest is asked for again and mostly answered with "as before" */
    const char *keep = found->forever ? "private, max-age=31536000, immutable" : "private, no-cache";
    const char *has = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "If-None-Match");
    const char *takes = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "Accept-Encoding");
    bool same = has != NULL && strstr(has, found->tag) != NULL;
    bool packed = !same && found->packed != NULL && takes_gzip(takes);
    const unsigned char *from = packed ? found->packed : found->bytes, *to = packed ? found->packed_end : found->end;
    struct MHD_Response *response =
        MHD_create_response_from_buffer(same ? 0 : (size_t)(to - from), (void *)(uintptr_t)from, MHD_RESPMEM_PERSISTENT);
    MHD_add_response_header(response, "ETag", found->tag);
    if (found->packed != NULL)
        MHD_add_response_header(response, "Vary", "Accept-Encoding");
    if (packed)
        MHD_add_response_header(response, "Content-Encoding", "gzip");
    return answer_cached(connection, same ? MHD_HTTP_NOT_MODIFIED : MHD_HTTP_OK, found->type, keep, response);
}

static json_t *options_json(const struct job *job)
{
    static const char *const kinds[] = {"text", "number", "integer", "date", "flag", "file_in", "file_out"};
    json_t *list = json_array();
    for (size_t i = 0; i < job->n_options; i++) {
        const struct option *option = &job->options[i];
        json_array_append_new(list, json_pack("{s:s, s:s, s:b, s:s?, s:s}", "name", option->name, "kind", kinds[option->kind], "required",
                                              (int)option->required, "value", option->value, "about", option->about));
    }
    return list;
}

static enum MHD_Result answer_jobs(const struct server *server, struct MHD_Connection *connection)
{
    static const char *const access_words[] = {"free", "looks", "writes"};
    json_t *list = json_array();
    for (size_t i = 0; i < n_jobs; i++)
        json_array_append_new(list, json_pack("{s:s, s:s, s:s, s:s, s:s, s:o}", "name", jobs[i]->name, "summary", jobs[i]->summary, "about",
                                              jobs[i]->about, "example", jobs[i]->example, "access", access_words[jobs[i]->access],
                                              "options", options_json(jobs[i])));
    const char *slash = strrchr(server->settings->file, '/');
    json_t *all = json_pack("{s:o, s:s, s:b}", "jobs", list, "file", slash == NULL ? server->settings->file : slash + 1, "exists",
                            access(server->settings->file, F_OK) == 0);
    char *text = json_dumps(all, JSON_COMPACT);
    enum MHD_Result result = answer_text(connection, MHD_HTTP_OK, "application/json", text);
    free(text);
    json_decref(all);
    return result;
}

static const char *file_type(const char *name)
{
    static const char *const types[][2] = {
        {".pdf", "application/pdf"},
        {".svg", "image/svg+xml"},
        {".png", "image/png"},
        {".html", "text/html; charset=utf-8"},
        {".csv", "text/csv; charset=utf-8"},
        {".json", "application/json"},
        {".geojson", "application/geo+json"},
        {".ics", "text/calendar; charset=utf-8"},
        {".xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"},
        {".gpkg", "application/geopackage+sqlite3"},
        {".zip", "application/zip"},
    };
    const char *dot = strrchr(name, '.');
    for (size_t i = 0; dot != NULL && i < sizeof types / sizeof *types; i++)
        if (strcmp(types[i][0], dot) == 0)
            return types[i][1];
    return "application/octet-stream";
}

static enum MHD_Result answer_file(const struct server *server, struct MHD_Connection *connection, const char *name)
{
    for (const char *p = name; *p != '\0'; p++)
        if (strchr("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.", *p) == NULL || (*p == '.' && p == name))
            return answer_error(connection, MHD_HTTP_NOT_FOUND, "There is no such file.");
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", server->settings->folder, name);
    int file = open(path, O_RDONLY | O_NOFOLLOW | O_CLOEXEC);
    struct stat about;
    if (file < 0 || fstat(file, &about) != 0 || !S_ISREG(about.st_mode)) {
        if (file >= 0)
            close(file);
        return answer_error(connection, MHD_HTTP_NOT_FOUND, "There is no such file.");
    }
    struct MHD_Response *response = MHD_create_response_from_fd((size_t)about.st_size, file);
    char disposition[400];
    snprintf(disposition, sizeof disposition, "%s; filename=\"%.200s\"",
             strstr(name, ".pdf") != NULL || strstr(name, ".svg") != NULL || strstr(name, ".png") != NULL ? "inline" : "attachment", name);
    MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_DISPOSITION, disposition);
    return answer_with(connection, MHD_HTTP_OK, file_type(name), response);
}

/* A file that a job writes lands in the private folder, under the name the page asked for, made unique. */
static void outputs_place(struct server *server, const struct job *job, json_t *in)
{
    for (size_t i = 0; i < job->n_options + n_common_options; i++) {
        const struct option *option = i < job->n_options ? &job->options[i] : &common_options[i - job->n_options];
        const json_t *wanted = json_object_get(in, option->name);
        if (option->kind != OPTION_FILE_OUT || !json_is_string(wanted))
            continue;
        char name[120] = "";
        size_t n = 0;
        for (const char *p = json_string_value(wanted); *p != '\0' && n < 100; p++)
            if (strchr("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.", *p) != NULL)
                name[n] = *p == '.' && n == 0 ? '_' : *p, n += 1;
        pthread_mutex_lock(&server->lock);
        uint64_t number = ++server->files;
        pthread_mutex_unlock(&server->lock);
        char path[4096];
        snprintf(path, sizeof path, "%s/%llu-%s", server->settings->folder, (unsigned long long)number, name);
        json_object_set_new(in, option->name, json_string(path));
    }
}

/* The programme that "new" and "unpack" make is the one this server serves. */
static void file_place(const struct server *server, const struct job *job, json_t *in)
{
    for (size_t i = 0; i < job->n_options; i++)
        if (job->access == JOB_FREE && (strcmp(job->name, "new") == 0 || strcmp(job->name, "unpack") == 0) &&
            strcmp(job->options[i].name, "file") == 0)
            json_object_set_new(in, "file", json_string(server->settings->file));
}

static const char *find_bytes(const char *in, size_t n, const char *what, size_t m)
{
    return n < m ? NULL : memmem(in, n, what, m);
}

/* multipart/form-data with the parts "options" (JSON) and "file" (bytes), as the page sends them. */
static bool form_read(const struct request *request, const char *type, struct errand *errand, json_t **in)
{
    const char *boundary = strstr(type, "boundary=");
    if (boundary == NULL || strlen(boundary + 9) > 100 || strlen(boundary + 9) < 4)
        return false;
    char mark[120];
    int m = snprintf(mark, sizeof mark, "--%s", boundary + 9);
    const char *at = request->body, *end = request->body + request->n;
    at = find_bytes(at, (size_t)(end - at), mark, (size_t)m);
    while (at != NULL && (at += m) < end) {
        const char *head_end = find_bytes(at, (size_t)(end - at), "\r\n\r\n", 4),
                   *next = find_bytes(at, (size_t)(end - at), mark, (size_t)m);
        if (head_end == NULL || next == NULL || head_end > next)
            break;
        const char *content = head_end + 4;
        size_t n = next - content >= 2 ? (size_t)(next - content) - 2 : 0;
        size_t head_n = (size_t)(head_end - at);
        if (find_bytes(at, head_n, "name=\"options\"", 14) != NULL) {
            json_decref(*in);
            *in = json_loadb(content, n, JSON_REJECT_DUPLICATES, NULL);
        } else if (find_bytes(at, head_n, "name=\"file\"", 11) != NULL) {
            free(errand->upload);
            errand->upload = memory_get(n + 1, 1);
            memcpy(errand->upload, content, n);
            errand->upload_n = n;
        }
        at = next;
    }
    return *in != NULL;
}

static enum MHD_Result job_begin(struct server *server, struct MHD_Connection *connection, const char *name, struct request *request)
{
    const struct job *job = job_find(name);
    if (job == NULL)
        return answer_error(connection, MHD_HTTP_NOT_FOUND, "There is no such job.");
    struct errand *errand = memory_get(1, sizeof *errand);
    const char *type = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "Content-Type");
    json_t *in = NULL;
    if (type != NULL && strncmp(type, "multipart/form-data", 19) == 0)
        form_read(request, type, errand, &in);
    else
        in = request->n == 0 ? json_object() : json_loadb(request->body, request->n, JSON_REJECT_DUPLICATES, NULL);
    if (!json_is_object(in)) {
        json_decref(in);
        errand_free(errand);
        return answer_error(connection, MHD_HTTP_BAD_REQUEST, "The options must be one JSON object.");
    }
    const char *author = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "X-Author");
    const char *ticket = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "X-Ticket");
    snprintf(errand->author, sizeof errand->author, "%s", author == NULL || *author == '\0' ? "unnamed" : author);
    snprintf(errand->ticket, sizeof errand->ticket, "%s", ticket == NULL ? "" : ticket);
    /* a file comes from the page, never by a path on this computer */
    for (size_t i = 0; i < job->n_options; i++)
        if (job->options[i].kind == OPTION_FILE_IN && errand->upload == NULL)
            json_object_del(in, job->options[i].name);
    outputs_place(server, job, in);
    file_place(server, job, in);
    errand->job = job;
    errand->in = in;
    errand->connection = connection;
    request->errand = errand;
    if (!errand_queue(server, errand))
        return answer_error(connection, MHD_HTTP_SERVICE_UNAVAILABLE, "Too many jobs are waiting. Try again in a moment.");
    return MHD_YES;
}

/* What other programs read. */
static enum MHD_Result features_answer(struct server *server, struct MHD_Connection *connection, const char *url, struct request *request)
{
    char *answer = NULL;
    const char *type = NULL;
    unsigned status = 0;
    features_begin(server, connection, url, &request->errand, &answer, &type, &status);
    if (answer != NULL) {
        enum MHD_Result result = answer_text(connection, status, type, answer);
        free(answer);
        return result;
    }
    if (!errand_queue(server, request->errand))
        return answer_error(connection, MHD_HTTP_SERVICE_UNAVAILABLE, "Too many jobs are waiting. Try again in a moment.");
    return MHD_YES;
}

static enum MHD_Result route(struct server *server, struct MHD_Connection *connection, const char *method, const char *url,
                             struct request *request)
{
    bool get = strcmp(method, "GET") == 0, post = strcmp(method, "POST") == 0;
    if (get && strcmp(url, "/open") == 0)
        return answer_opening(server, connection);
    if (strncmp(url, "/features/", 10) == 0)
        return features_answer(server, connection, url, request);
    if (get && strcmp(url, "/api/jobs") == 0)
        return answer_jobs(server, connection);
    if (get && strncmp(url, "/api/file/", 10) == 0)
        return answer_file(server, connection, url + 10);
    bool cancel = post && strncmp(url, "/api/cancel/", 12) == 0;
    if (cancel || (get && strncmp(url, "/api/progress/", 14) == 0)) {
        char *state = errand_progress(server, strrchr(url, '/') + 1, cancel);
        if (state == NULL)
            return answer_error(connection, MHD_HTTP_NOT_FOUND, "No such job is running.");
        enum MHD_Result result = answer_text(connection, MHD_HTTP_OK, "application/json", state);
        free(state);
        return result;
    }
    if (post && strncmp(url, "/api/job/", 9) == 0)
        return job_begin(server, connection, url + 9, request);
    if (get)
        return answer_asset(connection, url);
    return answer_error(connection, MHD_HTTP_METHOD_NOT_ALLOWED, "This is not done that way.");
}

static enum MHD_Result refuse(struct MHD_Connection *connection, unsigned status)
{
    if (status == MHD_HTTP_UNAUTHORIZED)
        return answer_text(connection, status, "text/plain; charset=utf-8",
                           "Open the workbench by the address that spinney printed; it carries the key.\n");
    return answer_error(connection, status, "This request does not come from the workbench.");
}

static enum MHD_Result on_request(void *data, struct MHD_Connection *connection, const char *url, const char *method, const char *version,
                                  const char *body, size_t *n, void **memory)
{
    (void)version;
    struct server *server = data;
    struct request *request = *memory;
    if (request == NULL) {
        unsigned refused = guard_check(server, connection, method, url);
        if (refused != 0)
            return refuse(connection, refused);
        *memory = memory_get(1, sizeof *request);
        return MHD_YES;
    }
    if (request->errand != NULL) { /* resumed: the job has ended */
        const char *answer = request->errand->answer;
        if (answer == NULL)
            return answer_error(connection, MHD_HTTP_SERVICE_UNAVAILABLE, "The workbench is closing.");
        const char *type = request->errand->type;
        return answer_text(connection, request->errand->status, type == NULL ? "application/json" : type, answer);
    }
    if (*n > 0) {
        if (request->n + *n > MOST_UPLOAD) {
            request->too_large = true;
        } else {
            while (request->n + *n + 1 > request->room) {
                request->room = request->room == 0 ? 4096 : request->room * 2;
                request->body = memory_resize(request->body, request->room, 1);
            }
            memcpy(request->body + request->n, body, *n);
            request->n += *n;
        }
        *n = 0;
        return MHD_YES;
    }
    if (request->too_large)
        return answer_error(connection, MHD_HTTP_CONTENT_TOO_LARGE, "The file is larger than 64 MB.");
    return route(server, connection, method, url, request);
}

static void on_completed(void *data, struct MHD_Connection *connection, void **memory, enum MHD_RequestTerminationCode code)
{
    (void)data;
    (void)connection;
    (void)code;
    struct request *request = *memory;
    if (request == NULL)
        return;
    free(request->body);
    errand_free(request->errand);
    free(request);
    *memory = NULL;
}

/* A listening socket on the loopback address, before anything is answered: the names the server answers to hold its port. −1: errno. */
static int listen_at(int wanted, unsigned *port)
{
    struct sockaddr_in loopback = {.sin_family = AF_INET, .sin_port = htons((uint16_t)wanted), .sin_addr = {htonl(INADDR_LOOPBACK)}};
    socklen_t size = sizeof loopback;
    int on = 1, handle = socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (handle < 0)
        return -1;
    if (setsockopt(handle, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) != 0 ||
        bind(handle, (struct sockaddr *)&loopback, sizeof loopback) != 0 || listen(handle, 511) != 0 ||
        getsockname(handle, (struct sockaddr *)&loopback, &size) != 0) {
        int bad = errno;
        close(handle);
        errno = bad;
        return -1;
    }
    *port = ntohs(loopback.sin_port);
    return handle;
}

enum outcome serve_run(const struct serve_settings *settings, void (*ready)(void *who, const char *address, const char *features),
                       void *who, const volatile sig_atomic_t *stop, struct failure *why)
{
    if (sodium_init() < 0)
        return fail(why, OUTCOME_SYSTEM, "The source of random numbers could not be opened.");
    struct server server = {.settings = settings};
    pthread_mutex_init(&server.lock, NULL);
    stores_init(&server.stores, settings->file);
    pthread_cond_init(&server.wake, NULL);
    secret_fresh(server.session);
    if (settings->token != NULL)
        snprintf(server.token, sizeof server.token, "%s", settings->token);
    else
        secret_fresh(server.token);
    features_key(server.token, server.features_key);
    unsigned port = 0;
    int listening = listen_at(settings->port, &port);
    if (listening < 0) {
        stores_clear(&server.stores);
        fail(why, OUTCOME_SYSTEM, "The workbench could not listen on port %d: %s.", settings->port, strerror(errno));
        return failure_remedy(why, "Choose another with --port, or none for any free one.");
    }
    snprintf(server.host[0], sizeof server.host[0], "127.0.0.1:%u", port);
    snprintf(server.host[1], sizeof server.host[1], "localhost:%u", port);
    snprintf(server.cookie, sizeof server.cookie, "spinney_%u", port);
    struct MHD_Daemon *daemon =
        MHD_start_daemon(MHD_USE_EPOLL_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME, 0, NULL, NULL, on_request, &server,
                         MHD_OPTION_LISTEN_SOCKET, listening, MHD_OPTION_THREAD_POOL_SIZE, 2u, MHD_OPTION_CONNECTION_TIMEOUT, 120u,
                         MHD_OPTION_CONNECTION_LIMIT, 1000u, MHD_OPTION_NOTIFY_COMPLETED, on_completed, NULL, MHD_OPTION_END);
    if (daemon == NULL) {
        close(listening);
        stores_clear(&server.stores);
        return fail(why, OUTCOME_SYSTEM, "The workbench could not be started: %s.", strerror(errno));
    }
    errands_start(&server);
    char address[160], features[160];
    snprintf(address, sizeof address, "http://127.0.0.1:%u/open?token=%s", port, server.token);
    snprintf(features, sizeof features, "http://127.0.0.1:%u/features/%s", port, server.features_key);
    ready(who, address, features);
    while (!*stop)
        usleep(100000);
    errands_stop(&server);
    MHD_stop_daemon(daemon);
    pthread_mutex_destroy(&server.lock);
    stores_clear(&server.stores);
    pthread_cond_destroy(&server.wake);
    return OUTCOME_OK;
}
