# SPDX-License-Identifier: GPL-3.0-or-later
# Calculators of evidence/ against base R: verdicts over sites, plants not found, seasons, crowns.
source("stats_common.R")
set.seed(9)
for (n in c(3, 6, 8, 12)) {
  d <- rnorm(n, .12, .1)
  got <- calc("paired_verdict", difference = d)
  ref <- t.test(d)
  near(paste(n, "sites: mean and limits"), c(got$value, got$low, got$high), c(mean(d), ref$conf.int), 1e-9)
  signs <- as.matrix(expand.grid(rep(list(c(-1, 1)), n)))
  p <- mean(abs(signs %*% d) >= abs(sum(d)) - 1e-9)
  if (n >= 5) near(paste(n, "sites: sign flips, all of them"), c(got$p, got$p_least), c(p, 2 / 2^n), 1e-12)
  near(paste(n, "sites: difference that four of five would find"), got$detectable, (qt(.975, n - 1) + qt(.8, n - 1)) * sd(d) / sqrt(n), 1e-9)
  says <- if (ref$conf.int[1] > 0 && p <= .05) "first higher" else if (ref$conf.int[2] < 0 && p <= .05) "second higher" else "cannot tell"
  near(paste(n, "sites: verdict", says), identical(got$verdict, says), 1)
  low <- d - runif(n, 0, .2); high <- d + .02; l <- t.test(low)
  pl <- mean(abs(signs %*% low) >= abs(sum(low)) - 1e-9)
  both <- says == "first higher" && l$conf.int[1] > 0 && pl <= .05
  near(paste(n, "sites: verdict with what was not found"), identical(calc("paired_verdict", difference = d, lowest = low, highest = high)$verdict, if (both) "first higher" else "cannot tell"), 1)
}
for (q in c(0, .3, .7, 1)) {
  a <- 200; b <- 60; f <- 40; n <- a + b + f; p <- (a + (1 - q) * f) / n
  eff <- p * (1 - p) / (p * (1 - p) / n + f * q * (1 - q) / n^2)
  ref <- suppressWarnings(prop.test(p * eff, eff, correct = FALSE))
  got <- calc("survival_not_found", alive = a, dead = b, not_found = f, chance_dead = q)
  near(paste("not found dead with chance", q), c(got$value, got$low, got$high), c(p, ref$conf.int), 1e-9)
}
seasons <- function(from, to) sum(format(seq(as.Date(from), as.Date(to) - 1, 1), "%m") %in% sprintf("%02d", 4:9)) / 183
for (k in list(c("2022-03-01", "2022-10-01"), c("2022-07-15", "2024-06-02"), c("2021-11-20", "2025-09-14")))
  near(paste("growing seasons", k[1], "to", k[2]), calc("growing_seasons", from = k[1], to = k[2])$seasons, seasons(k[1], k[2]), 1e-9)
w <- runif(40, 20, 180)
got <- calc("canopy_cover", crown = w, area = 60)
near("crowns", c(got$crowns, got$covered), c(sum(pi / 4 * (w / 100)^2) / 60, 100 * (1 - exp(-sum(pi / 4 * (w / 100)^2) / 60))), 1e-9)
m <- matrix(rbinom(48, 3, .7) / 3, 6, byrow = TRUE); m[, 1:3] <- m[, 1:3] * .4
moran <- function(m) { z <- m - mean(m); n <- length(m); s <- sum(z[, -1] * z[, -ncol(m)]) + sum(z[-1, ] * z[-nrow(m), ]); w <- nrow(m) * (ncol(m) - 1) + ncol(m) * (nrow(m) - 1); n / w * s / sum(z^2) }
got <- calc("clumping", value = as.vector(t(m)), columns = 8, draws = 4999)
near("Moran's I", c(got$moran, got$expected), c(moran(m), -1 / 47), 1e-9)
near("its p by shuffling", got$p, (1 + sum(replicate(4999, moran(matrix(sample(m), 6))) >= moran(m) - 1e-12)) / 5000, .01, FALSE)
if (have("ape")) { at <- expand.grid(x = 1:8, y = 1:6); w <- (as.matrix(dist(at)) == 1) * 1; near("Moran's I against ape", got$moran, ape::Moran.I(as.vector(t(m)), w)$observed, 1e-9) } else skip("ape is not here")
done()
