#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# species/ and mix/ against R, live: the line from pH to reaction (stats::lm), entropy of a mix (vegan::diversity), the
# composition aimed at, and constancy classes (base::cut).
if ! command -v Rscript >/dev/null 2>&1 ||
    ! Rscript -e 'if (!all(sapply(c("jsonlite", "vegan"), requireNamespace, quietly = TRUE))) quit(status = 1)' >/dev/null 2>&1; then
    echo "skip mix: R with jsonlite and vegan is not here (Debian: r-base-core r-cran-jsonlite r-cran-vegan)"
    exit 0
fi
exec Rscript --vanilla "$(dirname "$0")/mix.R"
