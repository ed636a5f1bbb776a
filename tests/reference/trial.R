# SPDX-License-Identifier: GPL-3.0-or-later
# Called by trial.sh: sizes and power beside R's power.prop.test and power.t.test; estimability beside lm's rank.
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
holds <- function(what, good) {
  if (!isTRUE(good)) bad <<- bad + 1
  cat(if (isTRUE(good)) "ok  " else "FAIL", what, "\n")
}
for (k in list(c(.6, .7, .01, .95), c(.15, .3, .05, .8), c(.5, .75, .05, .9), c(.02, .08, .1, .6))) {
  wanted <- power.prop.test(p1 = k[1], p2 = k[2], sig.level = k[3], power = k[4], tol = 1e-12)$n
  same(paste("plants for", k[1], "and", k[2]), ask("two_shares_n", p1 = k[1], p2 = k[2], alpha = k[3], power = k[4])$exact, wanted, 1e-5 * wanted)
  same(paste("power for", k[1], "and", k[2], "with 60"), ask("two_shares_power", p1 = k[1], p2 = k[2], plants = 60, alpha = k[3])$power,
       power.prop.test(n = 60, p1 = k[1], p2 = k[2], sig.level = k[3])$power, 1e-9)
}
for (n in c(2, 3, 4, 6, 12, 50, 400)) for (d in c(0.5, 5, 12)) {
  same(paste("paired t,", n, "sites, difference", d),
       ask("paired_power", sites = n, difference = d, sd = 12)$power,
       power.t.test(n = n, delta = d, sd = 12, type = "paired", strict = TRUE)$power, 1e-8)
}
for (d in c(3, 8, 20)) {
  same(paste("sites for a difference of", d), ask("paired_n", difference = d, sd = 12)$sites,
       ceiling(power.t.test(delta = d, sd = 12, type = "paired", power = .8, strict = TRUE)$n), 0)
}
# Random designs: rank by lm's own decomposition; a factor is told apart if adding its contrasts to the rows keeps the rank.
set.seed(11)
agree <- 0; ranks <- 0; designs <- 60
for (i in seq_len(designs)) {
  n <- sample(3:8, 1)
  d <- data.frame(site = sample(c("S", "T"), n, TRUE), density = sample(c("1", "3"), n, TRUE), preparation = sample(c("none", "full", "half"), n, TRUE),
                  mix = sample(c("A", "B"), n, TRUE), fence = sample(c("yes", "no"), n, TRUE))
  if (!any(duplicated(d$site))) d$site <- "S"
  ours <- ask("plots_compare", codes = paste0("p", seq_len(n)), sites = d$site, density = d$density, preparation = d$preparation, mix = d$mix,
              fence = d$fence)
  vary <- names(d)[-1][sapply(d[-1], function(x) length(unique(x)) > 1)]
  sites <- outer(d$site, unique(d$site), "==") + 0
  parts <- lapply(vary, function(v) model.matrix(~ factor(d[[v]]))[, -1, drop = FALSE])
  m <- do.call(cbind, c(list(sites), parts))
  fit <- lm(rnorm(n) ~ 0 + m)
  ranks <- ranks + (ours$rank == fit$rank && ours$columns == ncol(m))
  told <- character()
  at <- ncol(sites)
  for (j in seq_along(vary)) {
    k <- ncol(parts[[j]])
    e <- matrix(0, k, ncol(m)); e[cbind(seq_len(k), at + seq_len(k))] <- 1
    if (qr(rbind(m, e))$rank == qr(m)$rank) told <- c(told, vary[j])
    at <- at + k
  }
  agree <- agree + setequal(told, unlist(ours$separated))
}
same("rank of the additive model in 60 random designs", ranks, designs, 0)
same("factors that can be told apart in 60 random designs", agree, designs, 0)
# Simulation beside a simulation of the same truth written in R: beta-binomial plots, paired t.
set.seed(3)
runs <- 4000; sites <- 8; m <- 120; icc <- .06; p <- c(.8, .65)
power <- mean(replicate(runs, {
  y <- sapply(p, function(q) rbinom(sites, m, rbeta(sites, q * (1 / icc - 1), (1 - q) * (1 / icc - 1))) / m)
  t.test(y[, 1], y[, 2], paired = TRUE)$p.value < .05
}))
ours <- ask("survival_power_simulated", sites = sites, plants_a = m, p1 = p[1], p2 = p[2], icc = icc, runs = 4000)
same("simulated power beside R's simulation", ours$power, power, 4 * sqrt(2 * power * (1 - power) / runs))
if (bad > 0) quit(status = 1)
