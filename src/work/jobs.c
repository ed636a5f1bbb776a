/* SPDX-License-Identifier: GPL-3.0-or-later
 * The list of all jobs, in the order of the loop. */
#include "work/jobs.h"

const struct job *const jobs[] = {
    &job_calc,
    &job_check,
};
const size_t n_jobs = sizeof jobs / sizeof *jobs;
