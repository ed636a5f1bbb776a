/* SPDX-License-Identifier: GPL-3.0-or-later
 * The face of base/: failure, memory, text, dates, random numbers, comma-separated text, progress. */
#ifndef SPINNEY_BASE_H
#define SPINNEY_BASE_H
#include "base/csv.h"
#include "base/dates.h"
#include "base/memory.h"
#include "base/outcome.h"
#include "base/progress.h"
#include "base/random.h"
#include "base/text.h"
#include "base/uuid.h"
#endif
