/* SPDX-License-Identifier: GPL-3.0-or-later
 * The programme for other programs, read only: OGC API - Features, Part 1 (OGC 17-069r4: core, GeoJSON, OpenAPI 3.0) and Part 3
 * (OGC 19-079r2: queryables, filter in CQL2 text). Every answer comes from the job "features". The address carries a key, for map
 * programs send no cookie; a page of another origin cannot read an answer, since none carries leave for it. */
#include "serve/private.h"
#include "work/note.h"
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

enum part {
    PART_LANDING,
    PART_CONFORMANCE,
    PART_API,
    PART_COLLECTIONS,
    PART_COLLECTION,
    PART_QUERYABLES,
    PART_ITEMS,
    PART_ITEM,
    PART_NONE
};

/* What was asked for, from the request until its answer. */
struct features_request {
    enum part part;
    char base[200];   ///< address up to and with the key, without a slash at the end
    char noun[64];    ///< collection
    char id[64];      ///< item
    char query[4000]; ///< the other parameters, for the links to pages
};

static const char type_json[] = "application/json", type_geojson[] = "application/geo+json", type_schema[] = "application/schema+json",
                  type_api[] = "application/vnd.oai.openapi+json;version=3.0";

void features_key(const char *token, char out[SECRET])
{
    unsigned char bytes[32];
    static const unsigned char what[] = "spinney features";
    crypto_generichash(bytes, sizeof bytes, what, sizeof what - 1, (const unsigned char *)token, strlen(token) > 64 ? 64 : strlen(token));
    char text[sodium_base64_ENCODED_LEN(32, sodium_base64_VARIANT_URLSAFE_NO_PADDING)];
    sodium_bin2base64(text, sizeof text, bytes, sizeof bytes, sodium_base64_VARIANT_URLSAFE_NO_PADDING);
    snprintf(out, SECRET, "%.*s", SECRET - 1, text);
}

bool features_allowed(const struct server *server, const char *method, const char *url)
{
    char key[SECRET] = "";
    const char *at = url + strlen("/features/");
    size_t n = strcspn(at, "/");
    if (n >= SECRET || (strcmp(method, "GET") != 0 && strcmp(method, "HEAD") != 0))
        return false;
    memcpy(key, at, n);
    return secret_same(key, server->features_key);
}

/* ---- what is described -------------------------------------------------------------------------------------------- */

static void link_add(json_t *links, const char *base, const char *path, const char *rel, const char *type, const char *title)
{
    json_t *link = json_object();
    json_object_set_new(link, "href", json_sprintf("%s%s", base, path));
    json_object_set_new(link, "rel", json_string(rel));
    json_object_set_new(link, "type", json_string(type));
    json_object_set_new(link, "title", json_string(title));
    json_array_append_new(links, link);
}

static json_t *landing(const char *base)
{
    json_t *links = json_array();
    link_add(links, base, "", "self", type_json, "This page");
    link_add(links, base, "/api", "service-desc", type_api, "The interface");
    link_add(links, base, "/conformance", "conformance", type_json, "What it conforms to");
    link_add(links, base, "/collections", "data", type_json, "Kinds of row");
    return json_pack("{s:s,s:s,s:o}", "title", "A programme of small dense woods", "description",
                     "Sites, plots, plants and records of one programme, read only, on this computer.", "links", links);
}

static json_t *conformance(void)
{
    static const char *const classes[] = {
        "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/core",
        "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/geojson",
        "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/oas30",
        "http://www.opengis.net/spec/ogcapi-features-3/1.0/conf/queryables",
        "http://www.opengis.net/spec/ogcapi-features-3/1.0/conf/queryables-query-parameters",
        "http://www.opengis.net/spec/ogcapi-features-3/1.0/conf/filter",
        "http://www.opengis.net/spec/ogcapi-features-3/1.0/conf/features-filter",
        "http://www.opengis.net/spec/cql2/1.0/conf/cql2-text",
        "http://www.opengis.net/spec/cql2/1.0/conf/basic-cql2",
        "http://www.opengis.net/spec/cql2/1.0/conf/advanced-comparison-operators",
        "http://www.opengis.net/spec/cql2/1.0/conf/basic-spatial-functions",
    };
    json_t *list = json_array();
    for (size_t i = 0; i < sizeof classes / sizeof *classes; i++)
        json_array_append_new(list, json_string(classes[i]));
    return json_pack("{s:o}", "conformsTo", list);
}

static json_t *collection_json(const char *base, const json_t *about)
{
    const char *noun = json_string_value(json_object_get(about, "noun"));
    char path[100];
    json_t *links = json_array(), *out = json_object(), *extent = json_object();
    snprintf(path, sizeof path, "/collections/%s", noun);
    link_add(links, base, path, "self", type_json, noun);
    snprintf(path, sizeof path, "/collections/%s/items", noun);
    link_add(links, base, path, "items", type_geojson, "The rows as GeoJSON");
    snprintf(path, sizeof path, "/collections/%s/queryables", noun);
    link_add(links, base, path, "http://www.opengis.net/def/rel/ogc/1.0/queryables", type_schema, "What can be asked of them");
    json_object_set_new(out, "id", json_string(noun));
    json_object_set_new(out, "title", json_string(noun));
    json_object_set(out, "description", json_object_get(about, "about"));
    json_object_set_new(out, "itemType", json_string("feature"));
    json_object_set_new(out, "crs", json_pack("[s]", "http://www.opengis.net/def/crs/OGC/1.3/CRS84"));
    json_t *box = json_object_get(about, "bbox"), *days = json_object_get(about, "days");
    if (box != NULL)
        json_object_set_new(extent, "spatial",
                            json_pack("{s:[O],s:s}", "bbox", box, "crs", "http://www.opengis.net/def/crs/OGC/1.3/CRS84"));
    if (days != NULL)
        json_object_set_new(extent, "temporal",
                            json_pack("{s:[[o,o]]}", "interval", json_sprintf("%sT00:00:00Z", json_string_value(json_array_get(days, 0))),
                                      json_sprintf("%sT23:59:59Z", json_string_value(json_array_get(days, 1)))));
    if (json_object_size(extent) > 0)
        json_object_set(out, "extent", extent);
    json_decref(extent);
    json_object_set_new(out, "links", links);
    return out;
}

static json_t *parameter(const char *name, const char *type, const char *about, bool in_path)
{
    return json_pack("{s:s,s:s,s:b,s:s,s:{s:s}}", "name", name, "in", in_path ? "path" : "query", "required", (int)in_path, "description",
                     about, "schema", "type", type);
}

static json_t *operation(const char *id, const char *summary, json_t *parameters, const char *type)
{
    json_t *content = json_object(), *responses = json_object();
    json_object_set_new(content, type, json_pack("{s:{s:s}}", "schema", "type", "object"));
    json_object_set_new(responses, "200", json_pack("{s:s,s:o}", "description", summary, "content", content));
    json_object_set_new(responses, "400", json_pack("{s:s}", "description", "The question is not understood"));
    json_object_set_new(responses, "404", json_pack("{s:s}", "description", "There is no such thing"));
    return json_pack("{s:{s:s,s:s,s:[s],s:o,s:o}}", "get", "operationId", id, "summary", summary, "tags", "rows", "parameters", parameters,
                     "responses", responses);
}

static json_t *api(const char *base)
{
    json_t *paths = json_object(), *items = json_array(), *item = json_array(), *one = json_array(), *two = json_array();
    json_array_append_new(one, parameter("collectionId", "string", "kind of row", true));
    json_array_append_new(two, parameter("collectionId", "string", "kind of row", true));
    json_array_append_new(item, parameter("collectionId", "string", "kind of row", true));
    json_array_append_new(item, parameter("featureId", "string", "UUID of the row", true));
    json_array_append_new(items, parameter("collectionId", "string", "kind of row", true));
    json_array_append_new(items, json_pack("{s:s,s:s,s:b,s:s,s:{s:s,s:i,s:i,s:i}}", "name", "limit", "in", "query", "required", 0,
                                           "description", "most features on a page", "schema", "type", "integer", "minimum", 1, "maximum",
                                           10000, "default", 100));
    json_array_append_new(items, parameter("offset", "integer", "features to leave out first", false));
    json_array_append_new(items, json_pack("{s:s,s:s,s:b,s:s,s:s,s:b,s:{s:s,s:i,s:i,s:{s:s}}}", "name", "bbox", "in", "query", "required",
                                           0, "description", "west,south,east,north in degrees", "style", "form", "explode", 0, "schema",
                                           "type", "array", "minItems", 4, "maxItems", 6, "items", "type", "number"));
    json_array_append_new(items, parameter("datetime", "string", "a day or an interval of days", false));
    json_array_append_new(items, parameter("filter", "string", "condition in CQL2 text", false));
    json_array_append_new(items, parameter("filter-lang", "string", "cql2-text", false));
    json_array_append_new(items, parameter("filter-crs", "string", "CRS84", false));
    json_object_set_new(paths, "/", operation("landing", "Where to begin", json_array(), type_json));
    json_object_set_new(paths, "/conformance", operation("conformance", "What it conforms to", json_array(), type_json));
    json_object_set_new(paths, "/collections", operation("collections", "Kinds of row", json_array(), type_json));
    json_object_set_new(paths, "/collections/{collectionId}", operation("collection", "A kind of row", one, type_json));
    json_object_set_new(paths, "/collections/{collectionId}/queryables",
                        operation("queryables", "What can be asked of it", two, type_schema));
    json_object_set_new(paths, "/collections/{collectionId}/items", operation("items", "Its rows", items, type_geojson));
    json_object_set_new(paths, "/collections/{collectionId}/items/{featureId}", operation("item", "One row", item, type_geojson));
    return json_pack("{s:s,s:{s:s,s:s,s:s},s:[{s:s}],s:o}", "openapi", "3.0.3", "info", "title", "A programme of small dense woods",
                     "version", "1.0", "description", "Read only, on this computer.", "servers", "url", base, "paths", paths);
}

/* ---- asking and answering ----------------------------------------------------------------------------------------- */

static enum part part_of(const char *path, struct features_request *request)
{
    char copy[300], *rest = NULL, *parts[6] = {NULL};
    size_t n = 0;
    if (strlen(path) >= sizeof copy)
        return PART_NONE;
    snprintf(copy, sizeof copy, "%s", path);
    for (char *p = strtok_r(copy, "/", &rest); p != NULL && n < 6; p = strtok_r(NULL, "/", &rest))
        parts[n++] = p;
    if (n == 0)
        return PART_LANDING;
    if (n == 1 && strcmp(parts[0], "conformance") == 0)
        return PART_CONFORMANCE;
    if (n == 1 && strcmp(parts[0], "api") == 0)
        return PART_API;
    if (strcmp(parts[0], "collections") != 0 || n > 4)
        return PART_NONE;
    if (n >= 2)
        snprintf(request->noun, sizeof request->noun, "%s", parts[1]);
    if (n == 4)
        snprintf(request->id, sizeof request->id, "%s", parts[3]);
    if (n == 3 && strcmp(parts[2], "queryables") == 0)
        return PART_QUERYABLES;
    if (n >= 3 && strcmp(parts[2], "items") != 0)
        return PART_NONE;
    return n == 1 ? PART_COLLECTIONS : n == 2 ? PART_COLLECTION : n == 3 ? PART_ITEMS : PART_ITEM;
}

static void escape_add(char *out, size_t room, const char *text)
{
    static const char plain[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.~";
    size_t n = strlen(out);
    for (const char *p = text; *p != '\0' && n + 4 < room; p++) {
        if (strchr(plain, *p) != NULL)
            out[n++] = *p;
        else
            n += (size_t)snprintf(out + n, 4, "%%%02X", (unsigned char)*p);
    }
    out[n] = '\0';
}

struct reading {
    json_t *in;
    struct features_request *request;
    char equal[2000];
    const char *wrong; ///< a parameter that is not known or not allowed here
    char name[100];
};

static enum MHD_Result read_parameter(void *who, enum MHD_ValueKind kind, const char *name, const char *value)
{
    (void)kind;
    struct reading *reading = who;
    static const char *const ours[] = {"bbox", "datetime", "filter", "limit", "offset"};
    bool items = reading->request->part == PART_ITEMS, known = false;
    value = value == NULL ? "" : value;
    if (strcmp(name, "f") == 0) /* some programs ask for a format; there is one */
        return MHD_YES;
    snprintf(reading->name, sizeof reading->name, "%s", name);
    for (size_t i = 0; items && i < sizeof ours / sizeof *ours; i++) {
        if (strcmp(name, ours[i]) != 0)
            continue;
        known = true;
        if (i < 3) {
            json_object_set_new(reading->in, name, json_string(value));
        } else {
            int64_t number = 0;
            if (!integer_read(value, &number) || number < (i == 3) || number > 1000000000) {
                reading->wrong = "is not a number in its range";
                return MHD_NO;
            }
            json_object_set_new(reading->in, name, json_integer(number));
        }
    }
    if (items && strcmp(name, "filter-lang") == 0) {
        known = true;
        reading->wrong = strcmp(value, "cql2-text") == 0 ? NULL : "must be cql2-text";
    }
    if (items && strcmp(name, "filter-crs") == 0) {
        known = true;
        reading->wrong = strcmp(value, "http://www.opengis.net/def/crs/OGC/1.3/CRS84") == 0 ? NULL : "must be CRS84";
    }
    if (items && !known && strpbrk(value, ";=") == NULL && strpbrk(name, ";=") == NULL) { /* a property; whether it is one, the job says */
        known = true;
        size_t n = strlen(reading->equal);
        snprintf(reading->equal + n, sizeof reading->equal - n, "%s%s=%s", n > 0 ? ";" : "", name, value);
    }
    if (!known)
        reading->wrong = "is not known here";
    if (strcmp(name, "offset") != 0) {
        char *query = reading->request->query;
        size_t room = sizeof reading->request->query;
        size_t n = strlen(query);
        if (n + 1 < room)
            snprintf(query + n, room - n, "%s", n > 0 ? "&" : "");
        escape_add(query, room, name);
        n = strlen(query);
        if (n + 1 < room)
            snprintf(query + n, room - n, "=");
        escape_add(query, room, value);
    }
    return reading->wrong == NULL ? MHD_YES : MHD_NO;
}

static char *exception(const char *code, const char *words)
{
    json_t *out = json_pack("{s:s,s:s}", "code", code, "description", words);
    char *text = json_dumps(out, JSON_COMPACT | JSON_REAL_PRECISION(15));
    json_decref(out);
    return text;
}

static json_t *page_json(const struct features_request *request, const json_t *data)
{
    json_t *page = json_deep_copy(json_object_get(data, "collection")), *links = json_array();
    json_int_t matched = json_integer_value(json_object_get(data, "matched")),
               returned = json_integer_value(json_object_get(data, "returned")),
               offset = json_integer_value(json_object_get(data, "offset")), limit = json_integer_value(json_object_get(data, "limit"));
    char path[4200], collection[100];
    const char *and = *request->query == '\0' ? "" : "&";
    snprintf(path, sizeof path, "/collections/%s/items?%s%soffset=%lld", request->noun, request->query, and, (long long)offset);
    link_add(links, request->base, path, "self", type_geojson, "This page");
    if (offset + returned < matched) {
        snprintf(path, sizeof path, "/collections/%s/items?%s%soffset=%lld", request->noun, request->query, and,
                 (long long)(offset + limit));
        link_add(links, request->base, path, "next", type_geojson, "The next page");
    }
    if (offset > 0) {
        snprintf(path, sizeof path, "/collections/%s/items?%s%soffset=%lld", request->noun, request->query, and,
                 (long long)(offset > limit ? offset - limit : 0));
        link_add(links, request->base, path, "prev", type_geojson, "The page before");
    }
    snprintf(collection, sizeof collection, "/collections/%s", request->noun);
    link_add(links, request->base, collection, "collection", type_json, request->noun);
    json_object_set_new(page, "numberMatched", json_integer(matched));
    json_object_set_new(page, "numberReturned", json_integer(returned));
    json_object_set_new(page, "links", links);
    return page;
}

static json_t *item_json(const struct features_request *request, const json_t *data)
{
    json_t *found = json_array_get(json_object_get(json_object_get(data, "collection"), "features"), 0), *links = json_array();
    if (found == NULL) {
        json_decref(links);
        return NULL;
    }
    json_t *feature = json_deep_copy(found);
    char path[200];
    snprintf(path, sizeof path, "/collections/%s/items/%s", request->noun, request->id);
    link_add(links, request->base, path, "self", type_geojson, "This row");
    snprintf(path, sizeof path, "/collections/%s", request->noun);
    link_add(links, request->base, path, "collection", type_json, request->noun);
    json_object_set_new(feature, "links", links);
    return feature;
}

static json_t *one_collection(const struct features_request *request, const json_t *list)
{
    size_t i;
    json_t *about;
    json_array_foreach(list, i, about) if (strcmp(json_string_value(json_object_get(about, "noun")), request->noun) == 0) return about;
    return NULL;
}

/* The answer of the job, as this interface gives it. Called by the worker. */
static char *present(const struct errand *errand, const json_t *note, const char **type, unsigned *status)
{
    const struct features_request *request = errand->features;
    const json_t *data = json_object_get(note, "data"), *error = json_object_get(note, "error"),
                 *list = json_object_get(data, "collections");
    json_t *out = NULL;
    *type = type_json;
    if (error != NULL) {
        const char *sentence = json_string_value(json_object_get(error, "sentence")),
                   *remedy = json_string_value(json_object_get(error, "remedy"));
        char words[2200];
        snprintf(words, sizeof words, "%s %s", sentence, remedy == NULL ? "" : remedy);
        bool no_noun = sentence != NULL && strncmp(sentence, "There is no kind of row", 23) == 0;
        *status = no_noun ? MHD_HTTP_NOT_FOUND : *status;
        return exception(no_noun ? "NotFound" : *status == MHD_HTTP_BAD_REQUEST ? "InvalidParameterValue" : "Failure", words);
    }
    if (request->part == PART_COLLECTIONS) {
        json_t *links = json_array(), *all = json_array(), *about;
        size_t i;
        link_add(links, request->base, "/collections", "self", type_json, "Kinds of row");
        json_array_foreach(list, i, about) json_array_append_new(all, collection_json(request->base, about));
        out = json_pack("{s:o,s:o}", "links", links, "collections", all);
    } else if (request->part == PART_COLLECTION || request->part == PART_QUERYABLES) {
        json_t *about = one_collection(request, list);
        if (about != NULL && request->part == PART_COLLECTION)
            out = collection_json(request->base, about);
        else if (about != NULL) {
            out = json_deep_copy(json_object_get(about, "queryables"));
            json_object_set_new(out, "$id", json_sprintf("%s/collections/%s/queryables", request->base, request->noun));
            *type = type_schema;
        }
    } else {
        *type = type_geojson;
        out = request->part == PART_ITEMS ? page_json(request, data) : item_json(request, data);
    }
    if (out == NULL) {
        *status = MHD_HTTP_NOT_FOUND;
        *type = type_json;
        return exception("NotFound", "There is no such collection or feature.");
    }
    char *text = json_dumps(out, JSON_COMPACT | JSON_REAL_PRECISION(15));
    json_decref(out);
    return text;
}

enum MHD_Result features_begin(struct server *server, struct MHD_Connection *connection, const char *url, struct errand **out,
                               char **answer, const char **type, unsigned *status)
{
    const char *host = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "Host"), *path = url + strlen("/features/");
    struct features_request *request = memory_get(1, sizeof *request);
    snprintf(request->base, sizeof request->base, "http://%s/features/%s", host == NULL ? server->host[0] : host, server->features_key);
    request->part = part_of(path + strcspn(path, "/"), request);
    struct reading reading = {.in = json_object(), .request = request};
    MHD_get_connection_values(connection, MHD_GET_ARGUMENT_KIND, read_parameter, &reading);
    json_t *fixed = NULL;
    *type = type_json;
    *status = MHD_HTTP_OK;
    if (reading.wrong != NULL) {
        char words[300];
        snprintf(words, sizeof words, "The parameter %s %s.", reading.name, reading.wrong);
        *answer = exception("InvalidParameterValue", words);
        *status = MHD_HTTP_BAD_REQUEST;
    } else if (request->part == PART_NONE) {
        *answer = exception("NotFound", "There is nothing at this address.");
        *status = MHD_HTTP_NOT_FOUND;
    } else if (request->part <= PART_API) {
        fixed = request->part == PART_LANDING       ? landing(request->base)
                : request->part == PART_CONFORMANCE ? conformance()
                                                    : api(request->base);
        *type = request->part == PART_API ? type_api : type_json;
        *answer = json_dumps(fixed, JSON_COMPACT);
        json_decref(fixed);
    }
    if (*answer != NULL) {
        json_decref(reading.in);
        free(request);
        return MHD_YES;
    }
    if (request->part == PART_ITEMS || request->part == PART_ITEM)
        json_object_set_new(reading.in, "noun", json_string(request->noun));
    if (request->part == PART_ITEM)
        json_object_set_new(reading.in, "id", json_string(request->id));
    if (*reading.equal != '\0')
        json_object_set_new(reading.in, "equal", json_string(reading.equal));
    struct errand *errand = memory_get(1, sizeof *errand);
    errand->job = job_find("features");
    errand->in = reading.in;
    errand->connection = connection;
    errand->features = request;
    errand->present = present;
    snprintf(errand->author, sizeof errand->author, "other program");
    *out = errand;
    return MHD_YES;
}
