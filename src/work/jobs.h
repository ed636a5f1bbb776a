/* SPDX-License-Identifier: GPL-3.0-or-later
 * Every job, one file each: job_<name>.c. Add a job by its file, a line here and a line in jobs.c. */
#ifndef SPINNEY_WORK_JOBS_H
#define SPINNEY_WORK_JOBS_H
#include "work/job.h"

extern const struct job job_calc;
extern const struct job job_check;
#endif
