/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of stats/: arrays in, results out; it knows nothing of woods. */
#ifndef SPINNEY_STATS_H
#define SPINNEY_STATS_H
#include "stats/cluster.h"
#include "stats/diversity.h"
#include "stats/estimate.h"
#include "stats/mixed.h"
#include "stats/model.h"
#include "stats/permute.h"
#include "stats/pool.h"
#include "stats/proportion.h"
#include "stats/rate.h"
#include "stats/survival.h"
#endif
