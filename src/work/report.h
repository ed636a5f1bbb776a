/* SPDX-License-Identifier: GPL-3.0-or-later
 * Parts of the monitoring report, each added to its document; the sets of rows behind their numbers are those of `findings`. */
#ifndef SPINNEY_WORK_REPORT_H
#define SPINNEY_WORK_REPORT_H
#include "paper/paper.h"
#include "work/evidence_load.h"

struct reporting {
    struct evidence evidence;
    struct document *document;
    json_t *findings; ///< a note with all results, and the sets of rows behind every number of the report
    struct arena *arena;
    const struct job_context *context;
};
/// The first answers, in a few sentences, with how much each may claim.
void report_summary(struct reporting *job);
/// All sites, also those rejected or not yet planted, with their maps.
enum outcome report_sites(struct reporting *job, struct failure *why);
/// Protocol, lots, what counts as what.
enum outcome report_method(struct reporting *job, struct failure *why);
/// What is not known: the program's sentences, then the words kept in the file and those given now, beside them.
void report_limits(struct reporting *job, const char *own);
/// Plants by state at each census.
enum outcome report_counts(struct reporting *job, struct failure *why);
/// The files that records came from, with their fingerprints.
enum outcome report_files(struct reporting *job, struct failure *why);
#endif
