# SPDX-License-Identifier: GPL-3.0-or-later
# Splines and detectable differences of ground/ beside R's own.
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
  # the note's data holds the outputs in full precision
  if (!is.null(answer$data)) answer <- answer$data
  if (!is.null(answer$result)) answer <- answer$result
  answer
}
set.seed(20)
for (round in 1:25) {
  n <- sample(3:9, 1)
  x <- c(0, cumsum(runif(n - 1, 0.05, 1)))
  y <- c(0, cumsum(ifelse(runif(n - 1) < 0.4, 1e-3, runif(n - 1, 0, 10))))
  at <- runif(20, 0, x[n])
  for (method in c("hyman", "fmm")) {
    got <- calc("monotone_spline", x = x, y = y, at = at, method = method)
    say(sprintf("spline %s, %d knots, set %d", method, n, round), got$value, splinefun(x, y, method = method)(at), 1e-9 * max(1, abs(y)))
  }
}
# compost over subsoil: the filter must bite, or it is untested
x <- c(0, 500, 1500, 3000, 6000)
y <- c(0, 60, 62, 63, 63.5)
at <- seq(0, 6000, length.out = 41)
hyman <- splinefun(x, y, method = "hyman")(at)
say("compost over subsoil", calc("monotone_spline", x = x, y = y, at = at)$value, hyman, 1e-9)
cat(if (max(abs(hyman - splinefun(x, y, method = "fmm")(at))) > 0.1) "ok   " else { bad <- 1; "FAIL " }, "there the filter changes the curve\n", sep = "")
say("stock at mass, monotone", calc("carbon_at_mass", mass_t_ha = x[-1], stock_t_ha = y[-1], at_t_ha = at, interpolation = "monotone")$stock_at_t_ha, hyman, 1e-9)
say("stock at mass, linear", calc("carbon_at_mass", mass_t_ha = x[-1], stock_t_ha = y[-1], at_t_ha = at)$stock_at_t_ha, approx(x, y, at)$y, 1e-9)
for (n in c(2, 3, 5, 10, 40)) for (cv in c(10, 25)) for (power in c(0.8, 0.9))
  say(sprintf("detectable, n %d, variation %d %%, power %.1f", n, cv, power), calc("carbon_detectable", cv_pct = cv, n = n, power = power)$detectable_pct,
      power.t.test(n = n, sd = cv, power = power, strict = TRUE, tol = 1e-10)$delta, 1e-5 * cv)
# composites of a plot: Welch's intervals to a depth and at a common mineral mass
carbon <- c(1.5, 1.8, 1.6, 3.5, 3.3, 3.9, 3.4, 3.2, 3.6)
density <- c(1.40, 1.36, 1.42, 1.10, 1.12, 1.06, 1.20, 1.18, 1.22)
when <- rep(c("before_works", "after_amendment", "follow_up"), each = 3)
survey <- calc("carbon_survey", composite = paste(rep(c("a", "b", "c"), 3), collapse = ","), time_point = paste(when, collapse = ","), top_cm = rep(0, 9),
               bottom_cm = rep(30, 9), carbon_pct = carbon, density_g_cm3 = density, stones_pct = rep(5, 9))
stock <- carbon * density * 30 * 0.95
mass <- 100 * density * 30 * 0.95 * (1 - 1.724 * carbon / 100)
at_mass <- stock * min(mass) / mass
for (what in c("added", "changed", "gained")) {
  pair <- list(added = c(2, 1), changed = c(3, 1), gained = c(3, 2))[[what]]
  levels <- unique(when)[pair]
  k <- which(survey$what == what)
  for (kind in c("fixed", "mass")) {
    x <- if (kind == "fixed") stock else at_mass
    test <- t.test(x[when == levels[1]], x[when == levels[2]])
    say(paste("carbon", what, kind), c(survey[[kind]][k], survey[[paste0(kind, "_low")]][k], survey[[paste0(kind, "_high")]][k]),
        c(diff(rev(test$estimate)), test$conf.int), 1e-8)
  }
}
quit(status = bad)
