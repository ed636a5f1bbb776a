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
# Which plots on which sites: every way tried here again, judged by the covariance matrix of lm's own design.
kinds <- c("D", "C", "P", "N")
contrast <- list(recipe = c(1, -1, 0, 0), soil = c(0, -1, 1, 0), density = c(1, 0, -1, 0), together = c(1, 1, -1, -1))
variance_of <- function(sets, l) {
  site <- factor(rep(seq_along(sets), lengths(sets))); kind <- factor(unlist(sets), levels = kinds)
  if (length(kind) == 0) return(NA)
  X <- cbind(outer(as.integer(site), unique(as.integer(site)), "==") + 0, outer(as.character(kind), kinds, "==") + 0)
  l <- c(rep(0, ncol(X) - 4), l)
  if (qr(rbind(X, l), tol = 1e-9)$rank > qr(X, tol = 1e-9)$rank) return(NA)
  e <- eigen(crossprod(X), symmetric = TRUE); k <- e$values > 1e-9
  sum((crossprod(e$vectors[, k, drop = FALSE], l)^2) / e$values[k])
}
subsets <- lapply(0:15, function(b) kinds[bitwAnd(b, c(1, 2, 4, 8)) > 0])
for (case in list(list(there = list("D", c("D", "C"), character()), room = c(1, 1, 2), asks = c("soil", "density"), most = 3),
                  list(there = list(character(), character(), c("C", "P")), room = c(2, 3, 0), asks = "density", most = 4),
                  list(there = list(c("D", "C"), character(), character()), room = c(2, 2, 2), asks = c("recipe", "together"), most = 6))) {
  choices <- Map(function(t, r) Filter(function(s) all(t %in% s) && length(s) - length(t) <= r, subsets), case$there, case$room)
  grid <- expand.grid(lapply(choices, seq_along))
  best <- Inf
  for (i in seq_len(nrow(grid))) {
    sets <- Map(function(c, j) c[[j]], choices, grid[i, ])
    if (sum(lengths(sets)) - sum(lengths(case$there)) > case$most) next
    v <- mean(sapply(case$asks, function(a) variance_of(sets, contrast[[a]])))
    if (!is.na(v) && v < best) best <- v
  }
  ours <- ask("plots_over_sites", there = sapply(case$there, function(t) if (length(t)) paste(t, collapse = "+") else "-"), room = case$room,
              asks = paste(case$asks, collapse = "+"), most = case$most)
  same(paste("plots over sites,", paste(case$asks, collapse = " and ")), ours$mean_variance, best, 1e-9)
  chosen <- Map(function(t, a) c(t, if (a == "-") character() else strsplit(a, "+", fixed = TRUE)[[1]]), case$there, ours$add)
  for (a in case$asks) same(paste("  variance of", a, "in the plots chosen"), ours[[a]], variance_of(chosen, contrast[[a]]), 1e-9)
}
# Power of a contrast: R's noncentral t.
for (k in list(c(10, 4, 5), c(5, 4, 1), c(12, 3.3, 30))) {
  q <- qt(.975, k[3])
  same(paste("power of a contrast with", k[3], "degrees of freedom"), ask("contrast_power", difference = k[1], se = k[2], df = k[3])$power,
       pt(q, k[3], k[1] / k[2], lower.tail = FALSE) + pt(-q, k[3], k[1] / k[2]), 1e-7)
}
# The spread of differences, against differences drawn here.
set.seed(5)
p <- c(.8, .65); icc <- .08; n <- c(300, 100); draws <- 40000
y <- sapply(1:2, function(k) rbinom(draws, n[k], rbeta(draws, p[k] * (1 / icc - 1), (1 - p[k]) * (1 / icc - 1))) / n[k])
same("spread of differences of survival", ask("survival_difference_sd", p1 = p[1], p2 = p[2], plants_a = n[1], plants_b = n[2], icc = icc)$sd,
     sd(y[, 1] - y[, 2]), .02 * sd(y[, 1] - y[, 2]))
counts <- sapply(c(12, 9), function(m) log((rpois(draws, 6 * m * exp(rnorm(draws, -.25^2 / 2, .25))) + .5) / 6))
same("spread of differences of the logarithm of counts", ask("measure_difference_sd", sd_plot = .25, units_a = 6, mean_a = 12, mean_b = 9)$sd,
     sd(counts[, 1] - counts[, 2]), .02 * sd(counts[, 1] - counts[, 2]))
# Simulated power beside mixed models fitted to data simulated here: plots within sites, heights and survival.
if (requireNamespace("lme4", quietly = TRUE)) {
  suppressMessages(library(lme4))
  set.seed(8)
  runs <- 250; sites <- 6; m <- 25; sp <- 15; su <- 45; d <- 35
  frame <- expand.grid(plant = 1:m, kind = 0:1, site = factor(1:sites)); frame$plot <- interaction(frame$site, frame$kind)
  found <- replicate(runs, {
    h <- 140 + d * frame$kind + rnorm(2 * sites, 0, sp)[as.integer(frame$plot)] + rnorm(sites, 0, 20)[as.integer(frame$site)] + rnorm(nrow(frame), 0, su)
    fit <- suppressMessages(suppressWarnings(lmer(h ~ kind + (1 | site) + (1 | plot), frame)))
    abs(fixef(fit)[["kind"]] / sqrt(vcov(fit)[2, 2])) > qt(.975, sites - 1)
  })
  ours <- ask("measured_power_simulated", measure = "amount", sites = sites, units = m, mean_a = 140 + d, mean_b = 140, sd_unit = su, sd_plot = sp)
  same("power for height beside lme4 on simulated programmes", ours$power, mean(found), 4 * sqrt(mean(found) * (1 - mean(found)) / runs) + .03)
  closed <- ask("contrast_power", difference = d, se = ask("measure_difference_sd", sd_plot = sp, sd_unit = su, units_a = m)$sd / sqrt(sites), df = sites - 1)
  same("  and its closed form", closed$power, mean(found), 4 * sqrt(mean(found) * (1 - mean(found)) / runs) + .03)
} else cat("skip power beside lme4: it is not here\n")
if (bad > 0) quit(status = 1)
