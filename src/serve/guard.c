/* SPDX-License-Identifier: GPL-3.0-or-later
 * Who may ask: session cookie, own host name (against rebinding), own origin (against forgery). */
#include "serve/private.h"
#include <sodium.h>
#include <string.h>

void secret_fresh(char out[SECRET])
{
    unsigned char bytes[32];
    randombytes_buf(bytes, sizeof bytes);
    char text[sodium_base64_ENCODED_LEN(32, sodium_base64_VARIANT_URLSAFE_NO_PADDING)];
    sodium_bin2base64(text, sizeof text, bytes, sizeof bytes, sodium_base64_VARIANT_URLSAFE_NO_PADDING);
    snprintf(out, SECRET, "%.*s", SECRET - 1, text);
}

bool secret_same(const char *a, const char *b)
{
    char left[SECRET] = "", right[SECRET] = "";
    if (a == NULL || b == NULL || strlen(a) >= SECRET || strlen(b) >= SECRET)
        return false;
    memcpy(left, a, strlen(a));
    memcpy(right, b, strlen(b));
    return sodium_memcmp(left, right, SECRET) == 0;
}

static const char *header(struct MHD_Connection *connection, const char *name)
{
    return MHD_lookup_connection_value(connection, MHD_HEADER_KIND, name);
}

static bool own_host(const struct server *server, const char *host)
{
    return host != NULL && (strcmp(host, server->host[0]) == 0 || strcmp(host, server->host[1]) == 0);
}

static bool own_origin(const struct server *server, const char *origin)
{
    return origin != NULL && strncmp(origin, "http://", 7) == 0 && own_host(server, origin + 7);
}

unsigned guard_check(const struct server *server, struct MHD_Connection *connection, const char *method, const char *url)
{
    if (!own_host(server, header(connection, "Host")))
        return MHD_HTTP_MISDIRECTED_REQUEST;
    if (strcmp(url, "/open") == 0)
        return secret_same(MHD_lookup_connection_value(connection, MHD_GET_ARGUMENT_KIND, "token"), server->token) ? 0 : MHD_HTTP_FORBIDDEN;
    if (strncmp(url, "/features/", 10) == 0)
        return features_allowed(server, method, url) ? 0 : MHD_HTTP_FORBIDDEN;
    if (!secret_same(MHD_lookup_connection_value(connection, MHD_COOKIE_KIND, server->cookie), server->session))
        return MHD_HTTP_UNAUTHORIZED;
    if (strcmp(method, "GET") == 0 || strcmp(method, "HEAD") == 0)
        return 0;
    /* a request that may change something comes from our own page, and no plain form can set this header */
    if (!own_origin(server, header(connection, "Origin")) || header(connection, "X-Spinney") == NULL)
        return MHD_HTTP_FORBIDDEN;
    return 0;
}
