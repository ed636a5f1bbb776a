/* SPDX-License-Identifier: GPL-3.0-or-later
 * One job on several processes: runs of a look ahead are spread over ranks (MPI), the first of which answers. */
#ifndef SPINNEY_CLI_RANKS_H
#define SPINNEY_CLI_RANKS_H
#include <stdbool.h>

struct stand_spread;
/// Before anything else. NULL where there is one process. The others than the first are made silent.
const struct stand_spread *ranks_begin(int *argc, char ***argv);
/// Last of all; a failure of the system on one rank ends all of them.
int ranks_end(int status);
#endif
