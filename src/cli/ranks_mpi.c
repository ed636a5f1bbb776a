/* SPDX-License-Identifier: GPL-3.0-or-later
 * Several processes by MPI. Every rank does the same job on the same file, but of a look ahead only its own runs; then all have
 * all, so that every rank goes on alike and the first can answer. */
#include "cli/ranks.h"
#include "stand/stand.h"
#include <mpi.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int runs_of(size_t runs, int rank, int ranks)
{
    return (size_t)rank < runs ? (int)((runs - (size_t)rank + (size_t)ranks - 1) / (size_t)ranks) : 0;
}

/* Each rank has runs rank, rank + ranks, … filled in; afterwards all have all. */
static enum outcome gather(void *who, void *at, size_t runs, size_t bytes, struct failure *why)
{
    const struct stand_spread *spread = who;
    int ranks = spread->ranks, *counts = memory_get((size_t)ranks, sizeof *counts), *from = memory_get((size_t)ranks, sizeof *from);
    unsigned char *own = memory_get(runs + 1, bytes), *all = memory_get(runs + 1, bytes), *rows = at;
    for (int r = 0, sum = 0; r < ranks; r++) {
        counts[r] = runs_of(runs, r, ranks);
        from[r] = sum;
        sum += counts[r];
    }
    for (int k = 0; k < counts[spread->rank]; k++)
        memcpy(own + (size_t)k * bytes, rows + ((size_t)spread->rank + (size_t)k * (size_t)ranks) * bytes, bytes);
    MPI_Datatype run;
    int bad = MPI_Type_contiguous((int)bytes, MPI_BYTE, &run) != MPI_SUCCESS || MPI_Type_commit(&run) != MPI_SUCCESS ||
              MPI_Allgatherv(own, counts[spread->rank], run, all, counts, from, run, MPI_COMM_WORLD) != MPI_SUCCESS;
    for (int r = 0; r < ranks && !bad; r++)
        for (int k = 0; k < counts[r]; k++)
            memcpy(rows + ((size_t)r + (size_t)k * (size_t)ranks) * bytes, all + (size_t)(from[r] + k) * bytes, bytes);
    if (!bad)
        MPI_Type_free(&run);
    free(counts);
    free(from);
    free(own);
    free(all);
    return bad ? fail(why, OUTCOME_SYSTEM, "The processes could not exchange their runs.") : OUTCOME_OK;
}

static enum outcome add(void *who, uint64_t *at, size_t n, struct failure *why)
{
    (void)who;
    enum { PIECE = 1 << 24 };
    for (size_t i = 0; i < n; i += PIECE) {
        int count = (int)(n - i < PIECE ? n - i : PIECE);
        if (MPI_Allreduce(MPI_IN_PLACE, at + i, count, MPI_UINT64_T, MPI_SUM, MPI_COMM_WORLD) != MPI_SUCCESS)
            return fail(why, OUTCOME_SYSTEM, "The processes could not add up their runs.");
    }
    return OUTCOME_OK;
}

const struct stand_spread *ranks_begin(int *argc, char ***argv)
{
    static struct stand_spread spread;
    MPI_Init(argc, argv);
    MPI_Comm_rank(MPI_COMM_WORLD, &spread.rank);
    MPI_Comm_size(MPI_COMM_WORLD, &spread.ranks);
    spread.who = &spread;
    spread.gather = gather;
    spread.add = add;
    if (spread.rank > 0 && (freopen("/dev/null", "w", stdout) == NULL || freopen("/dev/null", "w", stderr) == NULL))
        MPI_Abort(MPI_COMM_WORLD, OUTCOME_SYSTEM);
    return spread.ranks > 1 ? &spread : NULL;
}

int ranks_end(int status)
{
    if (status >= OUTCOME_SYSTEM)
        MPI_Abort(MPI_COMM_WORLD, status);
    MPI_Finalize();
    return status;
}
