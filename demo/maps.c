/* SPDX-License-Identifier: GPL-3.0-or-later
 * The maps people would hand over: boundaries, plots and constraints as GeoJSON in degrees, two with latitude and longitude
 * swapped; the species and numbers wanted for each plot; the offers; what was asked about each site and what came back. */
#include "geo/geo.h"
#include "town.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct drawing {
    struct crs_way *way;
    double x_m, y_m; ///< corner of the site
    bool swap;       ///< latitude first, as no GeoJSON should have it
    struct text text;
    int features;
};

static void drawing_start(struct drawing *d)
{
    d->features = 0;
    text_add(&d->text, "{\"type\": \"FeatureCollection\", \"features\": [");
}

/* Points relative to the site's corner, x and y by turns; a polygon is closed here. */
static void drawing_add(struct drawing *d, const char *kind, const char *properties, const double *xy, size_t n)
{
    double points[64];
    struct failure why = {0};
    bool polygon = strcmp(kind, "Polygon") == 0, point = strcmp(kind, "Point") == 0;
    for (size_t i = 0; i < n; i++) {
        points[2 * i] = d->x_m + xy[2 * i];
        points[2 * i + 1] = d->y_m + xy[2 * i + 1];
    }
    if (crs_way_points(d->way, points, n, &why) != OUTCOME_OK) {
        fprintf(stderr, "spinney-demo: %s\n", why.sentence);
        exit(3);
    }
    text_print(&d->text, "%s\n{\"type\": \"Feature\", \"properties\": {%s}, \"geometry\": {\"type\": \"%s\", \"coordinates\": %s",
               d->features++ > 0 ? "," : "", properties, kind,
               polygon ? "[["
               : point ? ""
                       : "[");
    for (size_t i = 0; i < n + (polygon ? 1 : 0); i++) {
        double x = points[2 * (i % n)], y = points[2 * (i % n) + 1];
        text_print(&d->text, "%s[%.10f, %.10f]", i > 0 ? ", " : "", d->swap ? y : x, d->swap ? x : y);
    }
    text_print(&d->text, "%s}}", polygon ? "]]" : point ? "" : "]");
}

static void drawing_rectangle(struct drawing *d, const char *properties, double x, double y, double wide, double deep)
{
    drawing_add(d, "Polygon", properties, (const double[]){x, y, x + wide, y, x + wide, y + deep, x, y + deep}, 4);
}

static void drawing_put(struct drawing *d, const char *folder, const char *name)
{
    text_add(&d->text, "\n]}\n");
    file_put(folder, name, &d->text);
}

/* ---- sites ---- */

struct outline {
    const char *code;
    double x_m, y_m, wide, deep;
};
static const struct outline outlines[] = {
    {"LK", 0, 0, 54, 24},
    {"BS", 0, 0, 46, 33},
    {"LH", 0, 0, 14, 25},
    {"TS", -1.6, 0, 13.2, 22},
    {"GL", 0, 0, 46, 40},
    {"FB", 0, 0, 50, 34},
    {"RC", 611500, 5373250, 20, 15},
};

static void sites_write(const char *folder, struct drawing *d)
{
    for (size_t i = 0; i < sizeof outlines / sizeof *outlines; i++) {
        char name[40];
        bool planned = i >= SITES;
        d->x_m = planned ? outlines[i].x_m : town_sites[i].x_m;
        d->y_m = planned ? outlines[i].y_m : town_sites[i].y_m;
        d->swap = planned || i == FB;
        snprintf(name, sizeof name, "site-%s.geojson", outlines[i].code);
        drawing_start(d);
        drawing_rectangle(d, "\"drawn_by\": \"V002\"", planned ? 0 : outlines[i].x_m, planned ? 0 : outlines[i].y_m, outlines[i].wide,
                          outlines[i].deep);
        drawing_put(d, folder, name);
        if (d->swap)
            mistake_add(name, 1, "coordinates swapped", outlines[i].code, "geometry", "longitude first", "latitude first", "refused");
    }
    d->swap = false;
    d->x_m = 610550;
    d->y_m = 5372450;
    drawing_start(d);
    drawing_add(d, "Polygon", "\"drawn_by\": \"V002\"", (const double[]){0, 0, 31, 4, 12, 27}, 3);
    drawing_put(d, folder, "site-CI.geojson");
}

/* ---- plots ---- */

/* Where a plot lies after the lot. */
static struct town_plot placed(const struct town_plot *plot, uint64_t seed)
{
    struct town_plot out = *plot;
    bool lot = plot->site == LK || plot->site == BS || plot->site == GL || plot->site == FB;
    if (lot && (plot->letter == 'D' || plot->letter == 'C') && !town_dense_first(plot->site, seed)) {
        const struct town_plot *other = town_plot_of(plot->site, plot->letter == 'D' ? 'C' : 'D');
        out.x_m = other->x_m;
        out.y_m = other->y_m;
    }
    return out;
}

static const char *regime_of(char letter)
{
    switch (letter) {
    case 'D':
        return "dense_prepared";
    case 'C':
        return "conventional";
    case 'P':
        return "sparse_prepared";
    case 'N':
        return "dense_unprepared";
    default:
        return "unplanted";
    }
}

static void plots_write(const char *folder, uint64_t seed, struct drawing *d)
{
    struct text list = {0}, lots = {0};
    for (int i = 0; i < PLOTS; i++) {
        struct town_plot plot = placed(&town_plots[i], seed);
        const struct town_site *site = &town_sites[plot.site];
        char name[40];
        snprintf(name, sizeof name, "plot-%s-%s.geojson", site->code, plot.code);
        text_print(&list, "%s %s %s %s %s %d %s\n", site->code, plot.code, regime_of(plot.letter), name, site->planted, plot.plants,
                   plot.site == LH || plot.site == TS ? "split" : "drawn");
        if (plot.site == LH || plot.site == TS)
            continue;
        d->x_m = site->x_m;
        d->y_m = site->y_m;
        drawing_start(d);
        drawing_rectangle(d, "", plot.x_m, plot.y_m, plot.wide_m, plot.deep_m);
        drawing_put(d, folder, name);
        if (plot.letter == 'D')
            text_print(&lots, "%s %d [{\"piece\":\"west piece\",\"treatment\":\"%s\"},{\"piece\":\"east piece\",\"treatment\":\"%s\"}]\n",
                       site->code, (int)seed, town_dense_first(plot.site, seed) ? "D1" : "C1",
                       town_dense_first(plot.site, seed) ? "C1" : "D1");
    }
    file_put(folder, "plots.txt", &list);
    file_put(folder, "lots.txt", &lots);
}

/* ---- constraints ---- */

static void constraints_write(const char *folder, struct drawing *d)
{
    for (int s = 0; s < SITES; s++) {
        char name[40];
        d->x_m = town_sites[s].x_m;
        d->y_m = town_sites[s].y_m;
        snprintf(name, sizeof name, "constraints-%s.geojson", town_sites[s].code);
        drawing_start(d);
        switch ((enum site_number)s) {
        case LK:
            drawing_rectangle(
                d, "\"kind\": \"water\", \"label\": \"canal arm\", \"standoff_m\": 6, \"standoff_source\": \"canal authority, 2021-10-04\"",
                -20, -14, 94, 11.9);
            drawing_add(d, "Point",
                        "\"kind\": \"invasive_plant\", \"label\": \"knotweed\", \"standoff_m\": 7, \"checked_on\": \"2021-08-16\", "
                        "\"standoff_source\": \"ecologist E1, 2021-08-16\"",
                        (const double[]){-7.1, 15}, 1);
            break;
        case BS:
            drawing_add(
                d, "LineString",
                "\"kind\": \"railway\", \"label\": \"live tram\", \"standoff_m\": 8, \"standoff_source\": \"tram operator, 2021-11-02\"",
                (const double[]){-5.1, -20, -5.1, 53}, 2);
            drawing_add(d, "LineString",
                        "\"kind\": \"buried_service\", \"service\": \"signal\", \"label\": \"signal cable\", \"depth_m\": 1.1, "
                        "\"standoff_m\": 2.5, \"standoff_source\": \"tram operator, 2021-11-02\", \"checked_on\": \"2021-12-03\"",
                        (const double[]){15, -20, 15, 53}, 2);
            drawing_rectangle(d,
                              "\"kind\": \"contamination\", \"label\": \"PAH hot-spot, fenced out\", \"standoff_m\": 2, "
                              "\"standoff_source\": \"ground specialist G1, 2021-10-20\"",
                              33, 19, 6, 10);
            drawing_rectangle(d,
                              "\"kind\": \"open_habitat\", \"label\": \"flower-rich corner, left alone\", \"standoff_m\": 1, "
                              "\"standoff_source\": \"ecologist E1, 2021-06-22\"",
                              41, 22, 5, 11);
            break;
        case LH:
            drawing_rectangle(d, "\"kind\": \"building\", \"label\": \"ward block\", \"height_m\": 9", 31.1, 0, 14, 25);
            drawing_add(d, "LineString",
                        "\"kind\": \"sight_line\", \"label\": \"emergency vehicles\", \"standoff_m\": 2, \"standoff_source\": \"hospital "
                        "estates, 2021-09-30\"",
                        (const double[]){-9, -10, -9, 35}, 2);
            break;
        case TS:
            drawing_add(
                d, "LineString",
                "\"kind\": \"path\", \"label\": \"path to the gate\", \"standoff_m\": 1, \"standoff_source\": \"school, 2021-11-15\"",
                (const double[]){-5, -3.1, 20, -3.1}, 2);
            break;
        case GL:
            drawing_add(
                d, "LineString",
                "\"kind\": \"path\", \"label\": \"path people tread\", \"standoff_m\": 1, \"standoff_source\": \"walked, 2022-06-11\"",
                (const double[]){0, 22, 46, 22}, 2);
            drawing_add(d, "LineString",
                        "\"kind\": \"buried_service\", \"service\": \"drinking_water\", \"label\": \"old irrigation pipe\", \"depth_m\": "
                        "0.4, \"standoff_m\": 2, \"standoff_source\": \"allotment holders, 2022-06-11\"",
                        (const double[]){22, 0, 22, 40}, 2);
            break;
        case FB:
            drawing_add(d, "LineString",
                        "\"kind\": \"buried_service\", \"service\": \"drinking_water\", \"label\": \"cast-iron main\", \"depth_m\": 1.4, "
                        "\"standoff_m\": 6, \"standoff_source\": \"water company, 2022-07-05\"",
                        (const double[]){-3.1, -10, -3.1, 44}, 2);
            drawing_add(d, "LineString",
                        "\"kind\": \"wall\", \"label\": \"listed brick wall\", \"height_m\": 2.4, \"standoff_m\": 10, \"standoff_source\": "
                        "\"heritage officer, 2022-08-19\"",
                        (const double[]){0, 44.1, 50, 44.1}, 2);
            break;
        }
        drawing_put(d, folder, name);
    }
}

/* The cable that no plan showed, as it was measured after the hand dig; and where the plots went: 1.5 m to the east. */
static void cable_write(const char *folder, uint64_t seed, struct drawing *d)
{
    (void)seed;
    d->x_m = town_sites[TS].x_m;
    d->y_m = town_sites[TS].y_m;
    drawing_start(d);
    drawing_add(d, "LineString",
                "\"kind\": \"buried_service\", \"service\": \"lighting\", \"label\": \"lighting cable found by hand dig\", \"depth_m\": "
                "0.35, \"standoff_m\": 1.5, \"standoff_source\": \"hand dig, 2022-02-28\", \"checked_on\": \"2022-02-28\"",
                (const double[]){-0.1, -5, -0.1, 27}, 2);
    drawing_put(d, folder, "constraints-TS-cable.geojson");
    for (int piece = 0; piece < 2; piece++) {
        drawing_start(d);
        drawing_rectangle(d, "", 1.5, 12 * piece, 10, 10);
        drawing_put(d, folder, piece == 0 ? "moved-TS-south.geojson" : "moved-TS-north.geojson");
    }
}

/* ---- the town ---- */

/* Rivers, tram, streets, blocks: invented, in open sea. Points from the town's south-west corner. */
static void town_write(const char *folder, struct drawing *d)
{
    d->x_m = 609000;
    d->y_m = 5371900;
    drawing_start(d);
    drawing_add(d, "Polygon", "\"kind\": \"river\", \"label\": \"Telm\"",
                (const double[]){300,  150, 900,  190, 1700, 330, 2600, 360, 3500, 520, 4000, 530,
                                 4000, 630, 3480, 620, 2580, 452, 1680, 424, 880,  284, 300,  245},
                12);
    drawing_add(d, "LineString", "\"kind\": \"brook\", \"label\": \"Ossel\"",
                (const double[]){1500, 2300, 1640, 1750, 1580, 1250, 1320, 800, 1260, 350}, 5);
    drawing_add(d, "LineString", "\"kind\": \"tram_line\", \"label\": \"tram\"",
                (const double[]){300, 1970, 1100, 1750, 1294.9, 1453, 1294.9, 1380, 1360, 1150, 2250, 1000, 4000, 870}, 7);
    static const struct {
        const char *name;
        double at[8];
        size_t n;
    } streets[] = {
        {"Tern Street", {1350, 1080, 2600, 1090}, 2},           {"Glasshouse Lane", {670, 300, 680, 900, 690, 1700}, 3},
        {"Hill Road", {2880, 1100, 2885, 1500, 2880, 2100}, 3}, {"Filter Row", {2600, 980, 3490, 985, 4000, 990}, 3},
        {"Ropewalk", {2470, 1090, 2480, 1340, 2880, 1420}, 3},  {"Cinder Lane", {1320, 540, 1900, 600}, 2},
        {"Lock Quay", {1900, 560, 2500, 620, 2600, 980}, 3},    {"Siding Street", {1350, 1480, 2000, 1500, 2480, 1340}, 3},
    };
    for (size_t i = 0; i < sizeof streets / sizeof *streets; i++) {
        char properties[100];
        snprintf(properties, sizeof properties, "\"kind\": \"street\", \"label\": \"%s\"", streets[i].name);
        drawing_add(d, "LineString", properties, streets[i].at, streets[i].n);
    }
    static const struct {
        const char *name;
        double x, y, wide, deep;
    } blocks[] = {{"school", 1800, 1110, 90, 60},
                  {"hospital", 2935, 1790, 160, 120},
                  {"waterworks", 3560, 1030, 180, 110},
                  {"tram office", 1420, 1520, 90, 50},
                  {"quay sheds", 2020, 640, 240, 60}};
    for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++) {
        char properties[100];
        snprintf(properties, sizeof properties, "\"kind\": \"building_block\", \"label\": \"%s\"", blocks[i].name);
        drawing_rectangle(d, properties, blocks[i].x, blocks[i].y, blocks[i].wide, blocks[i].deep);
    }
    drawing_rectangle(d, "\"kind\": \"green\", \"label\": \"allotments\"", 720, 860, 260, 180);
    drawing_put(d, folder, "town.geojson");
}

/* ---- mixes, offers, register ---- */

static void mixes_write(const char *folder)
{
    for (int p = 0; p < PLOTS; p++) {
        const struct town_plot *plot = &town_plots[p];
        struct text fix = {0}, names = {0};
        int counts[SPECIES];
        char name[60];
        if (plot->plants == 0)
            continue;
        town_mix(plot, counts);
        for (int i = 0; i < SPECIES; i++) {
            if (counts[i] == 0)
                continue;
            text_print(&fix, "%s%s=%d", fix.n > 0 ? ";" : "", town_species[i].name, counts[i]);
            text_print(&names, "%s%s", names.n > 0 ? ";" : "", town_species[i].name);
        }
        snprintf(name, sizeof name, "mix-%s-%s.txt", town_sites[plot->site].code, plot->code);
        file_put(folder, name, &fix);
        snprintf(name, sizeof name, "species-%s-%s.txt", town_sites[plot->site].code, plot->code);
        file_put(folder, name, &names);
    }
}

static void offers_write(const char *folder)
{
    struct text out = {0};
    text_add(&out, "species,nursery,provenance,size_cm,stock,bundle,unit_price,lead_weeks\n");
    for (int i = 0; i < SPECIES; i++)
        text_print(&out, "%s,%s,Wendmar Lowland,%s,%s,25,%s,%d\n", town_species[i].name,
                   i % 3 == 0 ? "Osselhead nursery" : "Telmside plants", town_species[i].cell_grown ? "20-40" : "40-60",
                   town_species[i].cell_grown ? "cell_grown" : "bare_root", town_species[i].cell_grown ? "1.60" : "0.95",
                   town_species[i].cell_grown ? 30 : 14);
    file_put(folder, "offers.csv", &out);
}

struct asked {
    const char *topic, *lines; ///< lines: for each site in turn c clear, d constrained and drawn, n not applicable, a asked, - not asked
};
/* Columns: LK BS LH TS GL FB RC */
static const struct asked register_lines[] = {
    {"services", "cdccddc"},     {"overhead_lines", "ccccccc"}, {"contamination", "cdccccc"},   {"asbestos", "ccccccc"},
    {"clay", "ccccccc"},         {"buildings", "ccdcccc"},      {"invasive_plants", "dcccccc"}, {"protected_species", "ccccccc"},
    {"open_habitat", "cdccccc"}, {"archaeology", "ccccccc"},    {"protected_trees", "ccccccc"}, {"flood_drainage", "ccccccc"},
    {"water", "dnnnnnn"},        {"highway", "ncdnnnc"},        {"owner_consent", "cccccca"},   {"planning", "cccccca"},
    {"railway", "ndnnnnn"},
};

/* Lines for the register command: site topic state. The clay of Ropewalk Court was never asked about. */
static void register_write(const char *folder)
{
    static const char *const sites[] = {"LK", "BS", "LH", "TS", "GL", "FB", "RC"};
    struct text out = {0};
    for (size_t s = 0; s < sizeof sites / sizeof *sites; s++)
        for (size_t i = 0; i < sizeof register_lines / sizeof *register_lines; i++) {
            char mark = register_lines[i].lines[s];
            bool clay = strcmp(register_lines[i].topic, "clay") == 0;
            if (mark == '-' || clay)
                continue;
            text_print(&out, "%s %s %s\n", sites[s], register_lines[i].topic,
                       mark == 'c'   ? "clear"
                       : mark == 'd' ? "constrained"
                       : mark == 'n' ? "not_applicable"
                                     : "asked");
        }
    file_put(folder, "register.txt", &out);
}

void maps_write(const char *folder, uint64_t seed)
{
    struct failure why = {0};
    struct drawing d = {0};
    if (crs_way_new("EPSG:32629", "EPSG:4326", &d.way, &why) != OUTCOME_OK) {
        fprintf(stderr, "spinney-demo: %s\n", why.sentence);
        exit(3);
    }
    sites_write(folder, &d);
    plots_write(folder, seed, &d);
    constraints_write(folder, &d);
    cable_write(folder, seed, &d);
    town_write(folder, &d);
    crs_way_free(d.way);
    mixes_write(folder);
    offers_write(folder);
    register_write(folder);
}
