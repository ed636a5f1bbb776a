# SPDX-License-Identifier: GPL-3.0-or-later
# Shared by the comparisons of stats/ with R: run a calculator, compare numbers.
suppressMessages(library(jsonlite))
spinney <- Sys.getenv("SPINNEY", "spinney")
shared <- Sys.getenv("SPINNEY_SHARED", "../shared")
failed <- 0

# Columns of one length go through a CSV file, everything else as name=value.
calc <- function(.name, .columns = list(), ...) {
  args <- c("calc", .name, "--json")
  file <- NULL
  if (length(.columns) > 0) {
    file <- tempfile(fileext = ".csv")
    on.exit(unlink(file))
    write.csv(as.data.frame(lapply(.columns, function(v) formatC(as.numeric(v), digits = 17, format = "g"))), file, row.names = FALSE,
              quote = FALSE)
    lines <- gsub(" *(Inf|NA|NaN)", "NA", readLines(file))
    writeLines(gsub(" ", "", lines), file)
    args <- c(args, "--csv", file)
  }
  more <- list(...)
  inputs <- vapply(names(more), function(n) {
    v <- more[[n]]
    paste0(n, "=", paste(if (is.numeric(v)) formatC(v, digits = 17, format = "g", width = 1) else v, collapse = ","))
  }, "")
  out <- suppressWarnings(system2(spinney, c(args, shQuote(inputs)), stdout = TRUE, stderr = TRUE))
  if (!is.null(attr(out, "status"))) stop(paste(.name, ":", paste(out, collapse = " ")))
  plain(fromJSON(paste(out, collapse = "\n"), simplifyVector = FALSE)$data$result)
}

# Lists of numbers, null and "inf" as numeric vectors, without a detour over text that would round them.
plain <- function(result) {
  one <- function(e) if (is.null(e)) NA_real_ else if (identical(e, "inf")) Inf else if (identical(e, "-inf")) -Inf else e
  lapply(result, function(e) if (is.list(e)) unlist(lapply(e, one)) else one(e))
}

near <- function(what, got, want, tol = 1e-8, relative = TRUE) {
  got <- as.numeric(got)
  want <- as.numeric(want)
  size <- if (relative) pmax(abs(want), 1) else 1
  worst <- if (length(got) != length(want)) Inf else max(abs(got - want) / size)
  good <- is.finite(worst) && worst <= tol
  if (!good) failed <<- failed + 1
  cat(sprintf("%s %s (largest difference %.2g, allowed %.2g)\n", if (good) "ok  " else "FAIL", what, worst, tol))
}
skip <- function(what) cat("skip", what, "\n")
have <- function(package) suppressWarnings(suppressMessages(requireNamespace(package, quietly = TRUE)))
data_file <- function(...) {
  path <- file.path(shared, "data", ...)
  if (file.exists(path)) path else NULL
}
done <- function() quit(status = if (failed > 0) 1 else 0)
