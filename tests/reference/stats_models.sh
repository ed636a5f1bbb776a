#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Compares the models of stats/ with R, live.
if ! command -v Rscript >/dev/null 2>&1 || ! Rscript -e 'if (!requireNamespace("jsonlite", quietly = TRUE) || !requireNamespace("survival", quietly = TRUE)) quit(status = 1)' >/dev/null 2>&1; then
    echo "skip stats_models: R with survival and jsonlite is not here (Debian: r-cran-survival r-cran-jsonlite)"
    exit 0
fi
cd "$(dirname "$0")" && exec Rscript --vanilla stats_models.R
