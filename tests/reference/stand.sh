#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# stand/ against R, live: scores by integration, inequality and slopes by definition, the sun by another way, mapped pines (spatstat).
if ! command -v Rscript >/dev/null 2>&1 || ! Rscript -e 'if (!requireNamespace("jsonlite", quietly = TRUE)) quit(status = 1)' >/dev/null 2>&1; then
    echo "skip stand: R with jsonlite is not here (Debian: r-base-core r-cran-jsonlite)"
    exit 0
fi
exec Rscript --vanilla "$(dirname "$0")/stand.R"
