#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Speed of stats/ beside R, on the same data in the same run: bench_stats.sh [folder with bench_stats]
exec env BENCH="${1:-build/bench}/bench_stats" Rscript --vanilla "$(dirname "$0")/bench_stats.R"
