/* SPDX-License-Identifier: GPL-3.0-or-later
 * Speed of the findings at full size: bench_findings make FILE [sites] [censuses] writes a made-up programme (200 sites, 200,000 plants, 2
 * million records); bench_findings run FILE JOB [OPTION VALUE …] runs one job on it and prints seconds by the clock and of work, and the most
 * memory used. */
#include "store/store.h"
#include "work/job.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

static struct failure why;

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

static void must(enum outcome outcome)
{
    char words[2048];
    if (outcome == OUTCOME_OK)
        return;
    failure_print(&why, words, sizeof words);
    fprintf(stderr, "%s\n", words);
    exit(3);
}

enum { DENSE = 750, SPARSE = 250, KINDS = 30 };
static const char *const kinds[KINDS] = {"k01", "k02", "k03", "k04", "k05", "k06", "k07", "k08", "k09", "k10",
                                         "k11", "k12", "k13", "k14", "k15", "k16", "k17", "k18", "k19", "k20",
                                         "k21", "k22", "k23", "k24", "k25", "k26", "k27", "k28", "k29", "k30"};

struct making {
    struct store *store;
    struct random_stream r;
    size_t censuses, site;
    double of_kind[KINDS], of_site;
    int64_t visits[64];
    struct arena arena;
};

static double chance(double log_odds)
{
    return 1 / (1 + exp(-log_odds));
}

static void site_make(struct making *m)
{
    struct site site;
    noun_init(NOUN_SITE, &site);
    site.code = arena_print(&m->arena, "S%03zu", m->site + 1);
    site.name = arena_print(&m->arena, "Made-up site %zu", m->site + 1);
    site.stage = STAGE_MONITORED;
    must(store_add(m->store, NOUN_SITE, &site, 1, &why));
    m->of_site = 0.5 * random_normal(&m->r);
    for (size_t c = 0; c < m->censuses; c++) {
        struct visit visit;
        noun_init(NOUN_VISIT, &visit);
        visit.site_id = site.id;
        visit.kind = c == 0 ? VISIT_KIND_AS_PLANTED_CENSUS : VISIT_KIND_CENSUS;
        visit.method = VISIT_METHOD_EVERY_PLANT;
        visit.from_on = visit.to_on =
            date_make(2014 + (int)c, c == 0 ? 3 : 9, 1 + (int)random_below(&m->r, 20)); /* spring after planting, then each September */
        visit.leaf_on = TRUTH_YES;
        must(store_add(m->store, NOUN_VISIT, &visit, 1, &why));
        m->visits[c] = visit.id;
    }
    for (int k = 0; k < 2; k++) {
        struct plot plot;
        size_t n = k == 0 ? DENSE : SPARSE;
        noun_init(NOUN_PLOT, &plot);
        plot.site_id = site.id;
        plot.code = k == 0 ? "D1" : "C1";
        plot.regime = k == 0 ? REGIME_DENSE_PREPARED : REGIME_CONVENTIONAL;
        plot.density_m2 = k == 0 ? 3 : 1;
        plot.net_area_m2 = 250;
        plot.planted_on = date_make(2014, 2, 10);
        must(store_add(m->store, NOUN_PLOT, &plot, 1, &why));
        struct plant *plants = memory_get(n, sizeof *plants);
        for (size_t i = 0; i < n; i++) {
            noun_init(NOUN_PLANT, &plants[i]);
            plants[i].plot_id = plot.id;
            plants[i].species = kinds[random_below(&m->r, KINDS)];
            plants[i].cell_code = arena_print(&m->arena, "%c%02d", (char)('A' + i % 15), 1 + (int)(i / 15 % 20));
            plants[i].origin = ORIGIN_FIRST_PLANTING;
            plants[i].planted_on = plot.planted_on;
        }
        must(store_add(m->store, NOUN_PLANT, plants, n, &why));
        struct plant_record *records = memory_get(n * m->censuses, sizeof *records);
        double of_plot = 0.3 * random_normal(&m->r);
        size_t at = 0;
        for (size_t i = 0; i < n; i++) {
            size_t kind = (size_t)(strtol(plants[i].species + 1, NULL, 10) - 1);
            double height = 45 + 5 * random_normal(&m->r);
            bool alive = true;
            for (size_t c = 0; c < m->censuses; c++) {
                alive =
                    alive && (c == 0 || random_uniform(&m->r) < chance(2.5 + m->of_site + of_plot + m->of_kind[kind] + (k == 0 ? 0.4 : 0)));
                bool lost = c > 0 && random_uniform(&m->r) < 0.01;
                height += c == 0 ? 0 : fmax(0, 25 + 8 * random_normal(&m->r));
                noun_init(NOUN_PLANT_RECORD, &records[at]);
                records[at].visit_id = m->visits[c];
                records[at].plant_id = plants[i].id;
                records[at].observed_on = date_make(2014 + (int)c, c == 0 ? 3 : 9, 15);
                records[at].observer = "V017";
                records[at].status = lost ? STATUS_NOT_FOUND : alive ? STATUS_ALIVE : STATUS_DEAD_STANDING;
                if (alive && !lost)
                    records[at].height_cm = round(height);
                records[at++].damage = alive ? DAMAGE_AGENT_NONE : DAMAGE_AGENT_DROUGHT;
            }
        }
        must(store_add(m->store, NOUN_PLANT_RECORD, records, at, &why));
        for (int i = 0; i < 6; i++) {
            struct care_event event;
            noun_init(NOUN_CARE_EVENT, &event);
            event.plot_id = plot.id;
            event.done_on = date_make(2014, 6, 1 + 4 * i);
            event.kind = CARE_KIND_WATERING;
            event.state = DONE_STATE_DONE;
            event.litres_m2 = 15;
            must(store_add(m->store, NOUN_CARE_EVENT, &event, 1, &why));
        }
        for (int i = 0; i < 12; i++) {
            struct wildlife_visit look;
            noun_init(NOUN_WILDLIFE_VISIT, &look);
            look.site_id = site.id;
            look.plot_id = plot.id;
            look.seen_on = date_make(2016, 5, 1 + i);
            look.group = WILDLIFE_GROUP_LITTER_ANIMALS;
            look.minutes = 10;
            must(store_add(m->store, NOUN_WILDLIFE_VISIT, &look, 1, &why));
            for (int s = 0; s < 4; s++) {
                struct wildlife_record seen;
                noun_init(NOUN_WILDLIFE_RECORD, &seen);
                seen.wildlife_visit_id = look.id;
                seen.taxon = kinds[random_below(&m->r, KINDS)];
                seen.count = 1 + (int64_t)random_below(&m->r, 4);
                must(store_add(m->store, NOUN_WILDLIFE_RECORD, &seen, 1, &why));
            }
        }
        free(records);
        free(plants);
    }
}

static void make(const char *path, size_t sites, size_t censuses)
{
    struct making m = {.r = random_make(1, 1), .censuses = censuses};
    struct programme programme;
    noun_init(NOUN_PROGRAMME, &programme);
    programme.name = "Made-up programme";
    programme.crs = 32629;
    programme.currency = "EUR";
    programme.seed = 1;
    for (int k = 0; k < KINDS; k++)
        m.of_kind[k] = 0.4 * random_normal(&m.r);
    remove(path);
    must(store_create(path, &programme, "V001", &m.store, &why));
    for (m.site = 0; m.site < sites; m.site++) {
        must(store_begin(m.store, "V001", "made up", &why));
        site_make(&m);
        must(store_commit(m.store, &why));
    }
    store_close(m.store);
    arena_clear(&m.arena);
}

static int run(const char *path, int count, char **word)
{
    const struct job *job = job_find(word[0]);
    struct store *store = NULL;
    json_t *in = json_object(), *note = NULL;
    if (job == NULL) {
        fprintf(stderr, "There is no job %s.\n", word[0]);
        return 2;
    }
    for (int i = 1; i + 1 < count; i += 2)
        json_object_set_new(in, word[i], json_string(word[i + 1]));
    must(store_open(path, STORE_READ, &store, &why));
    struct job_context context = {.store = store, .author = "V001", .today = date_make(2026, 1, 1)};
    double start = now_s();
    must(job_run(job, &context, in, &note, &why));
    double took = now_s() - start;
    struct rusage use;
    getrusage(RUSAGE_SELF, &use);
    double work = (double)(use.ru_utime.tv_sec + use.ru_stime.tv_sec) + 1e-6 * (double)(use.ru_utime.tv_usec + use.ru_stime.tv_usec);
    printf("%-10s %7.2f s  %7.2f s of work  %6.0f MB at most  %s\n", word[0], took, work, (double)use.ru_maxrss / 1024,
           json_string_value(json_object_get(note, "answer")));
    json_decref(note);
    json_decref(in);
    store_close(store);
    return 0;
}

int main(int count, char **word)
{
    if (count >= 3 && strcmp(word[1], "make") == 0) {
        make(word[2], count > 3 ? (size_t)strtoul(word[3], NULL, 10) : 200, count > 4 ? (size_t)strtoul(word[4], NULL, 10) : 10);
        return 0;
    }
    if (count >= 4 && strcmp(word[1], "run") == 0)
        return run(word[2], count - 3, word + 3);
    fprintf(stderr, "bench_findings make FILE [sites] [censuses] | run FILE JOB [OPTION VALUE …]\n");
    return 2;
}
