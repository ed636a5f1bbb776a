# SPDX-License-Identifier: GPL-3.0-or-later
# Called by money.sh: reserves beside pbinom; ratios over sites beside Fieller's set solved by uniroot, survey's linearisation
# and sites drawn again; regimes side by side beside a simulation written in R.
suppressMessages(library(jsonlite))
program <- Sys.getenv("SPINNEY", "spinney")
bad <- 0
ask <- function(calc, ...) {
  inputs <- list(...)
  words <- mapply(function(n, v) shQuote(paste0(n, "=", paste(if (is.character(v)) v else format(v, digits = 15, trim = TRUE, scientific = FALSE),
                                                              collapse = ","))), names(inputs), inputs)
  fromJSON(paste(system2(program, c("calc", calc, "--json", "--in", words), stdout = TRUE), collapse = "\n"))$data$result
}
same <- function(what, got, wanted, tolerance) {
  good <- length(got) == length(wanted) && all(is.finite(got)) && all(abs(got - wanted) <= tolerance)
  if (!good) bad <<- bad + 1
  cat(if (good) "ok  " else "FAIL", what, if (!good) paste0(": ", paste(signif(got, 10), collapse = " "), " wanted ",
      paste(signif(wanted, 10), collapse = " ")), "\n")
}
take <- function(need, loss, sure) { n <- need; while (pbinom(n - need, n, loss) < sure) n <- n + 1; n }
for (k in list(c(300, 4, 95), c(37, 5, 90), c(1, 10, 99), c(4776, 2.5, 99), c(80, 40, 80)))
  same(paste("plants to take for", k[1], "with", k[2], "% lost,", k[3], "% sure"),
       ask("order_reserve", plants = k[1], loss_pct = k[2], certainty_pct = k[3])$take, take(k[1], k[2] / 100, k[3] / 100), 0)
set.seed(4)
for (n in c(3, 6, 12)) {
  x <- round(runif(n, 60, 400)); y <- round(x * runif(n, 8, 16) + rnorm(n, 400, 100), 2)
  ours <- ask("cost_over_sites", spend = y, established = x, draws = 40000)
  r <- sum(y) / sum(x)
  same(paste("ratio over", n, "sites"), ours$estimate, r, 1e-9 * r)
  # survey package where it is here, else the same linearisation by hand
  se <- if (requireNamespace("survey", quietly = TRUE)) {
    d <- survey::svydesign(ids = ~1, weights = rep(1, n), data = data.frame(x, y)); as.numeric(survey::SE(survey::svyratio(~y, ~x, d)))
  } else sqrt(n / (n - 1) * sum((y - r * x)^2)) / sum(x)
  same("  its standard error", ours$se, se, 1e-9 * se)
  t <- qt(.975, n - 1)
  same("  interval by linearisation", ours$linear, r + c(-1, 1) * t * se, 1e-6 * r)
  set <- function(theta) (mean(y) - theta * mean(x))^2 - t^2 * (var(y) - 2 * theta * cov(x, y) + theta^2 * var(x)) / n
  if (mean(x)^2 > t^2 * var(x) / n) {
    low <- uniroot(set, c(-1e4, r), tol = 1e-12)$root; high <- uniroot(set, c(r, 1e5), tol = 1e-12)$root
    same("  Fieller's set with covariance", ours$fieller, c(low, high), 1e-7 * r)
  } else if (all(is.na(ours$fieller))) cat("ok   Fieller's set is no interval, and none is given \n") else { cat("FAIL Fieller's set is no interval\n"); bad <- bad + 1 }
  boot <- replicate(20000, { i <- sample(n, n, TRUE); sum(y[i]) / sum(x[i]) })
  same("  sites drawn again", ours$bootstrap, quantile(boot, c(.025, .975), names = FALSE), .02 * diff(range(boot)))
  x2 <- round(x * runif(n, .2, .5)); y2 <- round(x2 * runif(n, 10, 22), 2)
  both <- ask("cost_difference_over_sites", spend_a = y, established_a = x, spend_b = y2, established_b = x2, draws = 40000)
  r2 <- sum(y2) / sum(x2); e <- (y - r * x) / sum(x) - (y2 - r2 * x2) / sum(x2)
  same("  difference of two regimes", both$difference, r - r2, 1e-9)
  same("  its interval", both$linear, r - r2 + c(-1, 1) * t * sqrt(n / (n - 1) * sum(e^2)), 1e-6)
  d <- replicate(20000, { i <- sample(n, n, TRUE); sum(y[i]) / sum(x[i]) - sum(y2[i]) / sum(x2[i]) })
  same("  chance that one is cheaper, sites drawn again", both$chance_a_cheaper, mean(d < 0), .02)
}
# Coverage of Fieller's set where spend and established plants vary together over six sites.
cover <- mean(replicate(80, {
  m <- rnorm(6, 200, 40); y <- 10 * m + rnorm(6, 0, 300); o <- ask("cost_over_sites", spend = pmax(y, 0), established = pmax(m, 1), draws = 100)
  o$fieller[1] <= 10 && 10 <= o$fieller[2]
}))
same("coverage of Fieller's set in 80 made-up programmes of six sites", cover, .95, .08)
pert <- function(n, v, u = runif(n)) v[1] + (v[3] - v[1]) * qbeta(u, 1 + 4 * (v[2] - v[1]) / (v[3] - v[1]), 1 + 4 * (v[3] - v[2]) / (v[3] - v[1]))
n <- 4e5; u <- runif(n)
a <- (pert(n, c(3000, 4000, 6000), u) + pert(n, c(300, 350, 500))) ; b <- pert(n, c(600, 800, 1200), u) + pert(n, c(200, 260, 400))
ea <- 540 * pert(n, c(.5, .72, .85)); eb <- 180 * pert(n, c(.4, .6, .8))
# "planting" is shared in name but not in shape, so its draws are compared loosely; "ground" has the same shape in both
ours <- ask("cost_versus", cost_name = c("ground", "planting"), cost_a = c(3000, 4000, 6000, 300, 350, 500), cost_b = c(600, 800, 1200, 200, 260, 400),
            planted_a = 540, planted_b = 180, survival_a = c(.5, .72, .85), survival_b = c(.4, .6, .8), area_a = 180, area_b = 180, draws = 100000)
same("regimes side by side: cost per established plant, a − b", ours$per_established, quantile(a / ea - b / eb, c(.5, .025, .975), names = FALSE), .12)
same("  chance that a is cheaper per established plant", ours$chance_established, mean(a / ea < b / eb), .01)
same("  per m²", ours$per_m2, quantile((a - b) / 180, c(.5, .025, .975), names = FALSE), .12)
same("  chance that a is cheaper per m²", ours$chance_m2, mean(a < b), .01)
if (bad > 0) quit(status = 1)
