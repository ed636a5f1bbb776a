#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Compares the calculators of evidence/ with R, live.
if ! command -v Rscript >/dev/null 2>&1 || ! Rscript -e 'if (!requireNamespace("jsonlite", quietly = TRUE) || !requireNamespace("survival", quietly = TRUE)) quit(status = 1)' >/dev/null 2>&1; then
    echo "skip evidence: R with survival and jsonlite is not here (Debian: r-cran-survival r-cran-jsonlite)"
    exit 0
fi
cd "$(dirname "$0")" && exec Rscript --vanilla evidence.R
