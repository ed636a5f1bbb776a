/* SPDX-License-Identifier: GPL-3.0-or-later
 * A writer killed without warning (SIGKILL) at random moments: 300 times, or SPINNEY_KILLS times. Each time the last step it
 * had reported as committed is in the file, no step is there by half, and the file passes its checks. */
#include "help.h"
#include <signal.h>
#include <sys/wait.h>
#include <time.h>

enum { PLANTS_A_STEP = 3 };
static struct failure why;

/* What the child does until it is killed: open, a few steps, close, again and again; each committed step is reported. */
_Noreturn static void write_until_killed(const char *path, int64_t step, int report)
{
    for (;;) {
        struct store *store = NULL;
        if (store_open(path, STORE_WRITE, &store, &why) != OUTCOME_OK)
            _exit(1);
        for (int i = 0; i < 4; i++) {
            struct arena arena = {0};
            struct plot plot;
            struct plant plants[PLANTS_A_STEP];
            char note[32];
            step++;
            snprintf(note, sizeof note, "%lld", (long long)step);
            for (int k = 0; k < PLANTS_A_STEP; k++) {
                plants[k] = a_plant(1, k + 1);
                plants[k].tag = note;
            }
            bool ok = store_begin(store, "V001", "A numbered step", &why) == OUTCOME_OK;
            ok = ok && store_add(store, NOUN_PLANT, plants, PLANTS_A_STEP, &why) == OUTCOME_OK;
            ok = ok && store_get(store, NOUN_PLOT, 1, &arena, &plot, &why) == OUTCOME_OK;
            plot.note = note;
            ok = ok && store_change(store, NOUN_PLOT, &plot, &why) == OUTCOME_OK;
            ok = ok && store_commit(store, &why) == OUTCOME_OK;
            arena_clear(&arena);
            if (!ok || write(report, &step, sizeof step) != sizeof step)
                _exit(2);
        }
        store_close(store);
    }
}

/* Let the child report some steps, so that a busy machine tests as much as an idle one, then a random while, then kill. */
static int64_t run_and_kill(const char *path, int64_t step, uint64_t reports, uint64_t wait_us)
{
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        close(ends[0]);
        write_until_killed(path, step, ends[1]);
    }
    close(ends[1]);
    int64_t last = step, said = 0;
    for (uint64_t i = 0; i < reports && read(ends[0], &said, sizeof said) == sizeof said; i++)
        last = said;
    nanosleep(&(struct timespec){0, (long)wait_us * 1000}, NULL);
    kill(child, SIGKILL);
    int status = 0;
    waitpid(child, &status, 0);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
    while (read(ends[0], &said, sizeof said) == sizeof said)
        last = said;
    close(ends[0]);
    return last;
}

/* The step the file stands at; fails where a step is there by half. */
static int64_t step_in_file(const char *path, bool fully)
{
    struct arena arena = {0};
    struct store *store = NULL;
    struct plot plot;
    int64_t step = 0, plants = 0;
    good(store_open(path, STORE_WRITE, &store, &why), &why);
    good(store_get(store, NOUN_PLOT, 1, &arena, &plot, &why), &why);
    if (plot.note != NULL)
        assert_true(integer_read(plot.note, &step));
    plants = count_rows(store, NOUN_PLANT);
    assert_int_equal(plants, step * PLANTS_A_STEP);
    struct store_step *steps = NULL;
    size_t n = 0;
    good(store_steps(store, SIZE_MAX, &arena, &steps, &n, &why), &why);
    assert_int_equal(n, 2 + step);
    const char **findings = NULL;
    n = 0;
    if (fully)
        good(store_verify(store, &arena, &findings, &n, &why), &why);
    if (n > 0)
        fail_msg("%s", findings[0]);
    store_close(store);
    arena_clear(&arena);
    return step;
}

static void a_killed_writer_loses_nothing_it_had_committed(void **state)
{
    (void)state;
    const char *wish = getenv("SPINNEY_KILLS"), *path = NULL;
    long kills = wish == NULL ? 300 : atol(wish), midway = 0;
    struct random_stream r = random_make(2026, 11);
    int64_t step = 0, steps = 0;
    for (long i = 0; i < kills; i++) {
        if (i % 50 == 0) {
            path = fresh_path("kill.gpkg");
            store_close(small_wood(path));
            step = 0;
        }
        int64_t reported = run_and_kill(path, step, random_below(&r, 8), random_below(&r, 12000));
        int64_t found = step_in_file(path, i % 10 == 0);
        if (found != reported && found != reported + 1)
            fail_msg("kill %ld: step %lld was reported, the file stands at %lld", i, (long long)reported, (long long)found);
        midway += found != reported;
        steps += found - step;
        step = found;
    }
    print_message("%ld kills over %lld steps; %ld fell between commit and report\n", kills, (long long)steps, midway);
    assert_true(steps >= kills);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_killed_writer_loses_nothing_it_had_committed)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
