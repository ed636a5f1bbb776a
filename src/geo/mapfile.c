/* SPDX-License-Identifier: GPL-3.0-or-later
 * Map files in: bytes are read here, looked at, copied to GDAL's files in memory and read from there, so that GDAL opens
 * no path and no address. Workload: a few features, or some thousands; 100,000 at most. */
#include "geo/mapread.h"
#include <cpl_conv.h>
#include <cpl_error.h>
#include <cpl_string.h>
#include <cpl_vsi.h>
#include <gdal.h>
#include <math.h>
#include <ogr_srs_api.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zip.h>

/* Declared in a C++ header of GDAL, with C linkage. Registering these alone leaves its other hundred readers out. */
void RegisterOGRGeoJSON(void);
void RegisterOGRGeoPackage(void);
void RegisterOGRShape(void);
void RegisterOGRKML(void);

static void gdal_start(void)
{
    CPLSetConfigOption("GDAL_DISABLE_READDIR_ON_OPEN", "FALSE");
    CPLSetConfigOption("CPL_CURL_ENABLE_VSIMEM", "NO");
    CPLSetConfigOption("GDAL_HTTP_MAX_RETRY", "0");
    CPLSetConfigOption("GDAL_PAM_ENABLED", "NO");
    CPLSetConfigOption("SHAPE_RESTORE_SHX", "YES");
    CPLSetConfigOption("OGR_SQLITE_LOAD_EXTENSIONS", NULL);
    CPLSetConfigOption("OGR_SQLITE_LIST_VIRTUAL_OGR", "NO");
    OSRSetPROJEnableNetwork(0);
    RegisterOGRGeoJSON();
    RegisterOGRGeoPackage();
    RegisterOGRShape();
    RegisterOGRKML();
}

/// A file for GDAL's memory.
struct member {
    char *name; ///< plain, without folders
    unsigned char *at;
    size_t n;
};
struct bundle {
    struct member *members;
    size_t n, room, total;
};

static void bundle_add(struct bundle *bundle, const char *name, unsigned char *at, size_t n)
{
    bundle->members = column_room(bundle->members, bundle->n, &bundle->room, sizeof *bundle->members);
    bundle->members[bundle->n++] = (struct member){memory_text(name), at, n};
    bundle->total += n;
}

static void bundle_free(struct bundle *bundle)
{
    for (size_t i = 0; i < bundle->n; i++) {
        free(bundle->members[i].name);
        free(bundle->members[i].at);
    }
    free(bundle->members);
    *bundle = (struct bundle){0};
}

static unsigned char *bytes_copy(struct bytes bytes)
{
    unsigned char *copy = memory_get(bytes.n + 1, 1);
    memcpy(copy, bytes.at, bytes.n);
    copy[bytes.n] = 0;
    return copy;
}

static bool ends(const char *name, const char *ending)
{
    size_t n = strlen(name), m = strlen(ending);
    return n >= m && text_same_nocase(name + n - m, ending);
}

/* Lower-case ASCII letters, digits and points of the name; folders become underscores. */
static void plain_name(const char *from, char *to, size_t n)
{
    size_t k = 0;
    for (; *from != '\0' && k + 1 < n; from++) {
        char c = *from >= 'A' && *from <= 'Z' ? (char)(*from + 32) : *from;
        bool plain = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '.' || c == '-';
        to[k++] = plain ? c : '_';
    }
    to[k] = '\0';
}

/* ---- zip ---- */

static enum outcome zip_member(zip_t *zip, zip_uint64_t i, const struct zip_stat *stat, struct bundle *bundle, struct failure *why)
{
    char name[200];
    size_t length = strlen(stat->name);
    plain_name(stat->name + (length > 190 ? length - 190 : 0), name, sizeof name);
    if (stat->size > MAP_MOST_BYTES || bundle->total + stat->size > MAP_MOST_BYTES)
        return fail(why, OUTCOME_DATA, "Unpacked, the zip is larger than the %d MiB that are read.", MAP_MOST_BYTES >> 20);
    if (stat->size > 1 << 20 && stat->size / MAP_MOST_ZIP_RATIO > stat->comp_size)
        return fail(why, OUTCOME_DATA, "“%.80s” in the zip is packed more than %d times over, as no map data are.", stat->name,
                    MAP_MOST_ZIP_RATIO);
    if ((stat->valid & ZIP_STAT_ENCRYPTION_METHOD) != 0 && stat->encryption_method != ZIP_EM_NONE) {
        fail(why, OUTCOME_DATA, "The zip asks for a password.");
        return failure_remedy(why, "Unpack it first.");
    }
    zip_file_t *file = zip_fopen_index(zip, i, 0);
    unsigned char *at = memory_get((size_t)stat->size + 1, 1);
    zip_int64_t got = file == NULL ? -1 : zip_fread(file, at, stat->size + 1);
    if (file != NULL)
        zip_fclose(file);
    if (got < 0 || (zip_uint64_t)got != stat->size) {
        free(at);
        return fail(why, OUTCOME_DATA, "“%.80s” in the zip cannot be unpacked.", stat->name);
    }
    at[got] = 0;
    bundle_add(bundle, name, at, (size_t)got);
    return OUTCOME_OK;
}

static enum outcome unzip(struct bytes bytes, struct bundle *bundle, struct failure *why)
{
    zip_error_t error;
    zip_error_init(&error);
    enum outcome outcome = OUTCOME_OK;
    zip_source_t *source = zip_source_buffer_create(bytes.at, bytes.n, 0, &error);
    zip_t *zip = source == NULL ? NULL : zip_open_from_source(source, ZIP_RDONLY, &error);
    if (zip == NULL) {
        zip_source_free(source);
        outcome = fail(why, OUTCOME_DATA, "The zip cannot be opened (%s).", zip_error_strerror(&error));
        zip_error_fini(&error);
        return failure_remedy(why, "It may be incomplete: send it again.");
    }
    zip_int64_t n = zip_get_num_entries(zip, 0);
    if (n > MAP_MOST_ZIP_ENTRIES)
        outcome = fail(why, OUTCOME_DATA, "The zip holds more than %d files.", MAP_MOST_ZIP_ENTRIES);
    static const char *const wanted[] = {".shp", ".shx", ".dbf", ".prj", ".cpg", ".kml", ".gpkg", ".geojson", ".json"};
    for (zip_int64_t i = 0; i < n && outcome == OUTCOME_OK; i++) {
        struct zip_stat stat;
        if (zip_stat_index(zip, (zip_uint64_t)i, 0, &stat) != 0 ||
            (stat.valid & (ZIP_STAT_NAME | ZIP_STAT_SIZE | ZIP_STAT_COMP_SIZE)) != (ZIP_STAT_NAME | ZIP_STAT_SIZE | ZIP_STAT_COMP_SIZE))
            outcome = fail(why, OUTCOME_DATA, "The list of the zip is broken.");
        for (size_t k = 0; outcome == OUTCOME_OK && k < sizeof wanted / sizeof *wanted; k++)
            if (ends(stat.name, wanted[k]) && strstr(stat.name, "__MACOSX") == NULL)
                outcome = zip_member(zip, (zip_uint64_t)i, &stat, bundle, why);
    }
    zip_discard(zip);
    zip_error_fini(&error);
    return outcome;
}

/* ---- through OGR ---- */

static const char *clean_text(struct map_job *job, const char *a)
{
    if (CPLIsUTF8(a, -1))
        return arena_text(job->arena, a);
    char *utf8 = CPLRecode(a, CPL_ENC_ISO8859_1, CPL_ENC_UTF8);
    const char *kept = arena_text(job->arena, utf8);
    CPLFree(utf8);
    return kept;
}

static const char *field_text(struct map_job *job, OGRFeatureH f, int i, OGRFieldDefnH d)
{
    int year, month, day, hour, minute, zone;
    float second;
    if (!OGR_F_IsFieldSetAndNotNull(f, i))
        return NULL;
    OGRFieldType type = OGR_Fld_GetType(d);
    if ((type == OFTDate || type == OFTDateTime) && OGR_F_GetFieldAsDateTimeEx(f, i, &year, &month, &day, &hour, &minute, &second, &zone))
        return type == OFTDate ? arena_print(job->arena, "%04d-%02d-%02d", year, month, day)
                               : arena_print(job->arena, "%04d-%02d-%02dT%02d:%02d:%02d", year, month, day, hour, minute, (int)second);
    if (type == OFTReal) {
        char number[40];
        number_write(OGR_F_GetFieldAsDouble(f, i), number);
        return arena_text(job->arena, number);
    }
    return clean_text(job, OGR_F_GetFieldAsString(f, i));
}

static void fields_take(struct map_job *job, OGRFeatureH f, OGRFeatureDefnH d, struct map_feature *feature)
{
    int n = OGR_FD_GetFieldCount(d);
    feature->keys = arena_array(job->arena, (size_t)n + 1, sizeof *feature->keys);
    feature->values = arena_array(job->arena, (size_t)n + 1, sizeof *feature->values);
    for (int i = 0; i < n; i++) {
        OGRFieldDefnH field = OGR_FD_GetFieldDefn(d, i);
        feature->keys[i] = clean_text(job, OGR_Fld_GetNameRef(field));
        feature->values[i] = field_text(job, f, i, field);
    }
    feature->n_values = (size_t)n;
}

/* The reference system of a layer as WKT, or NULL where the file names none worth having. */
static char *layer_crs(OGRLayerH layer)
{
    OGRSpatialReferenceH srs = OGR_L_GetSpatialRef(layer);
    char *wkt = NULL;
    const char *const options[] = {"FORMAT=WKT2_2019", NULL};
    if (srs == NULL || OSRIsLocal(srs) || strstr(OSRGetName(srs) == NULL ? "" : OSRGetName(srs), "ndefined") != NULL)
        return NULL;
    if (OSRExportToWktEx(srs, &wkt, options) != OGRERR_NONE || text_blank(wkt)) {
        CPLFree(wkt);
        return NULL;
    }
    return wkt;
}

static enum outcome layer_ways(struct map_job *job, OGRLayerH layer, const char *format, struct failure *why)
{
    char *named = layer_crs(layer);
    const char *wanted = job->wish.from_crs;
    bool fixed = text_same(format, "GeoJSON") || text_same(format, "KML");
    if (named == NULL && wanted == NULL) {
        fail(why, OUTCOME_DATA, "The file does not say which reference system its coordinates are in%s.",
             text_same(format, "ESRI Shapefile") ? " (its .prj is missing)" : "");
        return failure_remedy(why, "Find out and give it: --crs EPSG:27700, for example.");
    }
    const char *from = named != NULL && !(fixed && wanted != NULL) ? named : wanted;
    if (fixed && wanted != NULL)
        say(job->arena, &job->out->said, &job->out->n_said,
            "Read in %s as asked, although a %s is in longitude and latitude by its standard.", wanted, format);
    else if (wanted != NULL && named != NULL) {
        struct crs_info a = {0}, b = {0};
        if (crs_describe(named, job->arena, &a, NULL) == OUTCOME_OK && crs_describe(wanted, job->arena, &b, NULL) == OUTCOME_OK &&
            !text_same(a.name, b.name))
            say(job->arena, &job->out->said, &job->out->n_said, "The file names its own reference system, “%s”: that was used, not “%s”.",
                a.name, b.name);
    }
    enum outcome outcome = map_ways(job, from, why);
    CPLFree(named);
    return outcome;
}

static enum outcome layer_read(struct map_job *job, OGRLayerH layer, const char *format, struct failure *why)
{
    enum outcome outcome = OUTCOME_OK;
    OGRFeatureDefnH definition = OGR_L_GetLayerDefn(layer);
    if (OGR_FD_GetFieldCount(definition) > MAP_MOST_FIELDS)
        return fail(why, OUTCOME_DATA, "The features have more than %d attributes.", MAP_MOST_FIELDS);
    if (OGR_L_GetGeomType(layer) == wkbNone)
        return OUTCOME_OK; /* a plain table */
    outcome = layer_ways(job, layer, format, why);
    const char *name = clean_text(job, OGR_L_GetName(layer));
    OGRFeatureH f = NULL;
    OGR_L_ResetReading(layer);
    for (long number = 1; outcome == OUTCOME_OK && (f = OGR_L_GetNextFeature(layer)) != NULL; number++) {
        if (job->out->n >= MAP_MOST_FEATURES)
            outcome = fail(why, OUTCOME_DATA, "The file has more than %d features.", MAP_MOST_FEATURES);
        else {
            struct map_feature *feature = map_feature_add(job);
            feature->layer = name;
            feature->number = number;
            fields_take(job, f, definition, feature);
            outcome = map_take(job, OGR_F_GetGeometryRef(f), feature, why);
        }
        OGR_F_Destroy(f);
        if (outcome == OUTCOME_OK && number % 256 == 0 && !progress_tell(&job->wish.progress, 0.5, "reading map data"))
            outcome = fail(why, OUTCOME_CANCELLED, "Called off.");
    }
    return outcome;
}

static enum outcome dataset_read(struct map_job *job, const char *path, struct failure *why)
{
    CPLErrorReset();
    GDALDatasetH set = GDALOpenEx(path, GDAL_OF_VECTOR | GDAL_OF_READONLY, NULL, NULL, NULL);
    if (set == NULL) {
        const char *said = CPLGetLastErrorMsg();
        return fail(why, OUTCOME_DATA, "The file cannot be read as map data%s%.200s.", *said != '\0' ? ": " : "", said);
    }
    const char *format = GDALGetDriverShortName(GDALGetDatasetDriver(set));
    format = text_same(format, "GPKG") ? "GeoPackage" : format;
    job->out->format = arena_text(job->arena, format);
    enum outcome outcome = OUTCOME_OK;
    bool met = job->wish.layer == NULL;
    int layers = GDALDatasetGetLayerCount(set);
    struct text names = {0};
    for (int i = 0; i < layers && outcome == OUTCOME_OK; i++) {
        OGRLayerH layer = GDALDatasetGetLayer(set, i);
        text_print(&names, "%s%s", i == 0 ? "" : ", ", OGR_L_GetName(layer));
        if (job->wish.layer != NULL && !text_same(job->wish.layer, OGR_L_GetName(layer)))
            continue;
        met = true;
        outcome = layer_read(job, layer, format, why);
    }
    if (outcome == OUTCOME_OK && !met) {
        fail(why, OUTCOME_DATA, "There is no layer “%.80s” in the file.", job->wish.layer);
        outcome = failure_remedy(why, "Its layers: %.600s.", text_get(&names));
    }
    if (outcome == OUTCOME_OK && CPLGetLastErrorType() >= CE_Failure)
        outcome = fail(why, OUTCOME_DATA, "The file is damaged: %.200s", CPLGetLastErrorMsg());
    else if (outcome == OUTCOME_OK && CPLGetLastErrorType() == CE_Warning)
        say(job->arena, &job->out->said, &job->out->n_said, "While reading: %.300s", CPLGetLastErrorMsg());
    text_free(&names);
    GDALClose(set);
    return outcome;
}

static enum outcome bundle_read(struct map_job *job, const struct bundle *bundle, struct failure *why)
{
    static atomic_ulong counter;
    static const char *const mains[] = {".shp", ".gpkg", ".kml", ".geojson", ".json"};
    char folder[64], path[400];
    enum outcome outcome = OUTCOME_OK;
    size_t read = 0;
    snprintf(folder, sizeof folder, "/vsimem/spinney-%lu", atomic_fetch_add(&counter, 1));
    for (size_t i = 0; i < bundle->n; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, bundle->members[i].name);
        VSIFCloseL(VSIFileFromMemBuffer(path, bundle->members[i].at, bundle->members[i].n, FALSE));
    }
    CPLPushErrorHandler(CPLQuietErrorHandler);
    for (size_t i = 0; i < bundle->n && outcome == OUTCOME_OK; i++)
        for (size_t k = 0; k < sizeof mains / sizeof *mains && outcome == OUTCOME_OK; k++)
            if (ends(bundle->members[i].name, mains[k])) {
                snprintf(path, sizeof path, "%s/%s", folder, bundle->members[i].name);
                outcome = dataset_read(job, path, why);
                read++;
                break;
            }
    CPLPopErrorHandler();
    VSIRmdirRecursive(folder);
    if (outcome == OUTCOME_OK && read == 0) {
        fail(why, OUTCOME_DATA, "There are no map data in it.");
        outcome = failure_remedy(why, "GeoJSON, GeoPackage, Shapefile, KML, and zips of them are read.");
    }
    return outcome;
}

/* ---- jobs ---- */

static void job_start(struct map_job *job, const struct map_wish *wish, struct arena *arena, struct map_data *out)
{
    static pthread_once_t once = PTHREAD_ONCE_INIT;
    pthread_once(&once, gdal_start);
    *out = (struct map_data){0};
    *job = (struct map_job){.wish = *wish, .arena = arena, .out = out, .to = wish->to_crs};
    struct map_wish *w = &job->wish;
    w->near_most_m = w->near_most_m > 0 ? w->near_most_m : 20000;
    w->area_least_m2 = w->area_least_m2 > 0 ? w->area_least_m2 : 1;
    w->area_most_m2 = w->area_most_m2 > 0 ? w->area_most_m2 : 1e7;
    w->sliver_m2 = w->sliver_m2 > 0 ? w->sliver_m2 : 0.1;
    w->scrap_pct = w->scrap_pct > 0 ? w->scrap_pct : 5;
}

static enum outcome job_end(struct map_job *job, enum outcome outcome, struct failure *why)
{
    map_ways_close(job);
    if (outcome == OUTCOME_OK && job->out->n == 0) {
        fail(why, OUTCOME_DATA, "There is no feature in it.");
        outcome = failure_remedy(why, "Save it again with at least one outline, line or point.");
    }
    struct map_feature *kept = arena_array(job->arena, job->out->n + 1, sizeof *kept);
    if (job->out->n > 0)
        memcpy(kept, job->out->features, job->out->n * sizeof *kept);
    free(job->out->features);
    job->out->features = kept;
    job->out->to_crs = job->to;
    if (outcome == OUTCOME_OK)
        map_finish(job);
    else
        *job->out = (struct map_data){0};
    return outcome;
}

static enum outcome gather(const char *name, struct bytes bytes, struct bundle *bundle, struct failure *why)
{
    static const char *const plain[] = {"", "map.geojson", "map.kml", "map.gpkg", "map.shp", "", ""};
    enum map_format format = map_format_of(name, bytes);
    if (format == MAP_ZIP)
        return unzip(bytes, bundle, why);
    if (format == MAP_UNKNOWN) {
        fail(why, OUTCOME_DATA, bytes.n == 0 ? "The file is empty." : "The file is in no format that is read here.");
        return failure_remedy(why, "GeoJSON, GeoPackage, Shapefile (its .shp, or all its files zipped), KML, KMZ and WKT are read.");
    }
    bundle_add(bundle, plain[format], bytes_copy(bytes), bytes.n);
    return OUTCOME_OK;
}

/* Siblings of a Shapefile, whatever the case of their endings. */
static enum outcome siblings(const char *path, struct arena *arena, struct bundle *bundle, struct failure *why)
{
    static const char *const endings[] = {".shx", ".dbf", ".prj", ".cpg"};
    size_t n = strlen(path);
    for (size_t i = 0; n > 4 && i < 4; i++)
        for (int upper = 0; upper < 2; upper++) {
            char *sibling = arena_text(arena, path), *bytes = NULL, name[16];
            size_t length = 0;
            for (size_t k = 0; k < 4; k++)
                sibling[n - 4 + k] = upper && endings[i][k] >= 'a' ? (char)(endings[i][k] - 32) : endings[i][k];
            FILE *there = fopen(sibling, "rb");
            if (there == NULL)
                continue;
            fclose(there);
            enum outcome outcome = file_read(sibling, MAP_MOST_BYTES, arena, &bytes, &length, why);
            if (outcome != OUTCOME_OK)
                return outcome;
            snprintf(name, sizeof name, "map%s", endings[i]);
            bundle_add(bundle, name, bytes_copy((struct bytes){(unsigned char *)bytes, length}), length);
            break;
        }
    return OUTCOME_OK;
}

static enum outcome read_bundle(const char *name, struct bytes bytes, struct bundle *bundle, const struct map_wish *wish,
                                struct arena *arena, struct map_data *out, struct failure *why)
{
    struct map_job job;
    job_start(&job, wish, arena, out);
    enum outcome outcome = gather(name, bytes, bundle, why);
    for (size_t i = 0; i < bundle->n && outcome == OUTCOME_OK; i++) {
        struct member *m = &bundle->members[i];
        struct bytes view = {m->at, m->n};
        enum map_format format = map_format_of(m->name, view);
        bool main = format == MAP_GEOJSON || format == MAP_KML || format == MAP_GPKG;
        if (main)
            outcome = map_scan(format, view, why);
        if (format == MAP_ZIP)
            outcome = fail(why, OUTCOME_DATA, "A zip inside a zip is not opened.");
        /* A database left in write-ahead mode cannot be opened in memory: its two mode bytes are put back. */
        if (format == MAP_GPKG && m->n > 20)
            m->at[18] = m->at[19] = 1;
    }
    if (outcome == OUTCOME_OK)
        outcome = bundle_read(&job, bundle, why);
    outcome = job_end(&job, outcome, why);
    bundle_free(bundle);
    if (outcome != OUTCOME_OK && name != NULL)
        failure_at(why, name, 0, NULL);
    return outcome;
}

enum outcome map_read_bytes(const char *name, struct bytes bytes, const struct map_wish *wish, struct arena *arena, struct map_data *out,
                            struct failure *why)
{
    struct bundle bundle = {0};
    if (bytes.n > MAP_MOST_BYTES)
        return fail(why, OUTCOME_DATA, "The file is larger than the %d MiB that are read.", MAP_MOST_BYTES >> 20);
    if (map_format_of(name, bytes) == MAP_WKT) {
        char *text = arena_text_n(arena, (const char *)bytes.at, bytes.n);
        return map_read_wkt(text, wish, arena, out, why);
    }
    return read_bundle(name, bytes, &bundle, wish, arena, out, why);
}

enum outcome map_read_path(const char *path, const struct map_wish *wish, struct arena *arena, struct map_data *out, struct failure *why)
{
    struct bundle bundle = {0};
    char *bytes = NULL;
    size_t n = 0;
    enum outcome outcome = file_read(path, MAP_MOST_BYTES, arena, &bytes, &n, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    struct bytes view = {(unsigned char *)bytes, n};
    enum map_format format = map_format_of(path, view);
    if (format == MAP_WKT)
        return map_read_wkt(bytes, wish, arena, out, why);
    if (format == MAP_GPKG) {
        FILE *log = fopen(arena_print(arena, "%s-wal", path), "rb");
        bool open = log != NULL && fgetc(log) != EOF;
        if (log != NULL)
            fclose(log);
        if (open) {
            fail(why, OUTCOME_DATA, "The GeoPackage is still open in another program: part of it lies in the file beside it.");
            return failure_remedy(why, "Close it there, then try again.");
        }
    }
    if (format == MAP_SHP)
        outcome = siblings(path, arena, &bundle, why);
    if (outcome != OUTCOME_OK) {
        bundle_free(&bundle);
        return outcome;
    }
    return read_bundle(path, view, &bundle, wish, arena, out, why);
}

enum outcome map_read_wkt(const char *wkt, const struct map_wish *wish, struct arena *arena, struct map_data *out, struct failure *why)
{
    struct map_job job;
    char code[32];
    size_t n = wkt == NULL ? 0 : strlen(wkt);
    enum outcome outcome = map_scan(MAP_WKT, (struct bytes){(const unsigned char *)wkt, n}, why);
    if (outcome != OUTCOME_OK)
        return outcome;
    while (n > 0 && strchr(" \t\r\n", *wkt) != NULL)
        wkt++, n--;
    if (n == 0)
        return fail(why, OUTCOME_DATA, "The text is empty.");
    job_start(&job, wish, arena, out);
    job.out->format = "WKT";
    const char *from = wish->from_crs;
    if (strncasecmp(wkt, "SRID=", 5) == 0) {
        size_t digits = strspn(wkt + 5, "0123456789");
        snprintf(code, sizeof code, "EPSG:%.*s", (int)(digits < 8 ? digits : 8), wkt + 5);
        from = code;
        wkt += 5 + digits + (wkt[5 + digits] == ';');
    }
    if (from == NULL) {
        fail(why, OUTCOME_DATA, "Pasted text does not say which reference system it is in.");
        outcome = failure_remedy(why, "Give it: --crs EPSG:4326 for longitude and latitude, for example.");
    }
    OGRGeometryH geometry = NULL;
    CPLPushErrorHandler(CPLQuietErrorHandler);
    if (outcome == OUTCOME_OK) {
        char *text = arena_text(arena, wkt), *rest = text;
        OGRErr error = OGR_G_CreateFromWkt(&rest, NULL, &geometry);
        if (error != OGRERR_NONE || geometry == NULL || strspn(rest, " \t\r\n;") != strlen(rest)) {
            if (error == OGRERR_NONE && geometry != NULL)
                fail(why, OUTCOME_DATA, "Something follows the geometry: “%.40s”.", rest);
            else
                fail(why, OUTCOME_DATA, "The text is not the well-known text of a geometry. It begins “%.40s”.", text);
            outcome = failure_remedy(why, "It should look like POLYGON ((x y, x y, x y, x y)), x first.");
        }
    }
    if (outcome == OUTCOME_OK)
        outcome = map_ways(&job, from, why);
    if (outcome == OUTCOME_OK) {
        struct map_feature *feature = map_feature_add(&job);
        feature->layer = "text";
        feature->number = 1;
        outcome = map_take(&job, geometry, feature, why);
    }
    if (geometry != NULL)
        OGR_G_DestroyGeometry(geometry);
    CPLPopErrorHandler();
    return job_end(&job, outcome, why);
}
