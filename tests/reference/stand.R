# SPDX-License-Identifier: GPL-3.0-or-later
# Scores, inequality, slopes and neighbours of stand/ beside R.
suppressMessages(library(jsonlite))
spinney <- Sys.getenv("SPINNEY", "build/src/cli/spinney")
bad <- 0
say <- function(name, got, wanted, tolerance) {
  off <- max(abs(got - wanted))
  good <- length(got) == length(wanted) && is.finite(off) && off <= tolerance
  cat(sprintf("%s %s: farthest %.2g\n", if (good) "ok  " else "FAIL", name, off))
  if (!good) bad <<- 1
}
list_of <- function(x) paste(sprintf("%.17g", x), collapse = ",")
calc <- function(.calculator, ...) {
  args <- list(...)
  words <- paste0(names(args), "=", vapply(args, function(a) if (is.character(a)) a else list_of(a), ""))
  out <- system2(spinney, shQuote(c("calc", .calculator, words, "--json")), stdout = TRUE)
  answer <- fromJSON(paste(out, collapse = "\n"))
  if (!is.null(answer$data)) answer <- answer$data
  if (!is.null(answer$result)) answer <- answer$result
  answer
}
set.seed(31)
# the score by its definition: integral of (F - 1{x >= seen})^2
crps <- function(F, seen, from, to) {
  integrate(function(x) F(x)^2, from, seen, rel.tol = 1e-9, subdivisions = 2000)$value +
    integrate(function(x) (1 - F(x))^2, seen, to, rel.tol = 1e-9, subdivisions = 2000)$value
}
for (round in 1:3) {
  m <- rnorm(1, 0, 3); s <- runif(1, 0.2, 4); y <- m + s * rnorm(1)
  say(sprintf("score of a normal forecast, round %d", round), calc("forecast_score", mean = m, sd = s, seen = y)$crps,
      crps(function(x) pnorm(x, m, s), y, m - 12 * s, m + 12 * s), 1e-6)
  x <- rnorm(40, 2, 3); y <- rnorm(1, 2, 3)
  say(sprintf("score of forty runs, round %d", round), calc("forecast_score", runs = x, seen = y)$crps,
      mean(abs(x - y)) - mean(abs(outer(x, x, "-"))) / 2, 1e-10)
  n <- 30; a <- runif(1, 1, 9); b <- runif(1, 1, 9); y <- sample(0:n, 1)
  p <- choose(n, 0:n) * beta(0:n + a, n - 0:n + b) / beta(a, b)
  say(sprintf("score of a beta-binomial forecast, round %d", round), calc("forecast_score", count = n, a = a, b = b, seen = y)$crps,
      sum((cumsum(p)[1:n] - (0:(n - 1) >= y))^2), 1e-9)
  x <- rlnorm(25)
  say(sprintf("Gini by all pairs, round %d", round), calc("size_inequality", x = x)$gini,
      sum(abs(outer(x, x, "-"))) / (2 * 25 * 24 * mean(x)), 1e-10)
  u <- rlnorm(12); v <- 3000 * u^-1.4 * rlnorm(12, 0, 0.1)
  say(sprintf("reduced major axis, round %d", round), calc("self_thinning_slope", stems_m2 = u, mass_g = v)$slope,
      sign(cor(log10(u), log10(v))) * sd(log10(v)) / sd(log10(u)), 1e-9)
}
# many quantiles come to the same score as the whole distribution
q <- qnorm((1:999) / 1000, 1, 2)
say("score of 999 quantiles", calc("forecast_score", quantiles = q, seen = 2.3)$crps, crps(function(x) pnorm(x, 1, 2), 2.3, -30, 30), 2e-3)
# mapped pines: Hegyi's index of each from its neighbours within 2 m
if (requireNamespace("spatstat.data", quietly = TRUE)) {
  p <- get(data("finpines", package = "spatstat.data"))
  d <- as.matrix(dist(cbind(p$x, p$y)))
  size <- p$marks$diameter
  some <- which(size > 0)[c(3, 30, 60, 90, 110)]
  ours <- theirs <- numeric(0)
  for (i in some) {
    near <- setdiff(which(d[i, ] <= 2), i)
    theirs <- c(theirs, sum(size[near] / size[i] / (d[i, near] + 1)))
    ours <- c(ours, calc("competition_index", diameter_cm = size[i], neighbour_cm = size[-i], distance_m = d[i, -i], radius_m = 2)$index)
  }
  say("Hegyi's index in mapped pines", ours, theirs, 1e-9)
} else cat("skip stand: spatstat.data is not here (Debian: r-cran-spatstat)\n")
quit(status = bad)
