#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Patterns of layout/ against R's spatstat, live: nearest neighbours, Clark & Evans, Ripley's K, chance neighbours.
if ! command -v Rscript >/dev/null 2>&1 ||
   ! Rscript -e 'for (p in c("spatstat.geom", "spatstat.explore", "spatstat.data", "jsonlite")) if (!requireNamespace(p, quietly = TRUE)) quit(status = 1)' >/dev/null 2>&1; then
    echo "skip layout: R with spatstat.explore and jsonlite is not here (Debian: r-cran-spatstat.explore r-cran-jsonlite)"
    exit 0
fi
exec Rscript --vanilla "$(dirname "$0")/layout.R"
