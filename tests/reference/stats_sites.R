# SPDX-License-Identifier: GPL-3.0-or-later
# Pairs, shuffles, agreement and clusters against plain enumeration and formulas in R.
source("stats_common.R")
set.seed(4)
for (n in c(4, 7, 11)) {
  d <- round(rnorm(n, .5), 2)
  signs <- as.matrix(expand.grid(rep(list(c(-1, 1)), n)))
  got <- calc("paired_difference", difference = d)
  near(paste(n, "pairs, all sign flips"), got$flip_p, mean(abs(signs %*% d) >= abs(sum(d)) - 1e-9), 1e-12)
  near("t", c(got$t, got$t_p, got$low, got$high), with(t.test(d), c(statistic, p.value, conf.int)), 1e-9)
  if (!is.na(got$flip_low)) for (side in c("flip_low", "flip_high")) {
    one <- function(m) 2 * min(mean(signs %*% (d - m) >= sum(d - m) - 1e-9), mean(signs %*% (d - m) <= sum(d - m) + 1e-9))
    near(paste("just inside", side, "is not rejected, just outside is"), c(one(got[[side]] + (if (side == "flip_low") 1e-4 else -1e-4)) > .05, one(got[[side]] - (if (side == "flip_low") 1e-4 else -1e-4)) <= .05), c(1, 1))
  }
}
y <- rnorm(8); g <- c(1, 1, 2, 2, 1, 2, 2, 2); b <- rep(1:2, each = 4)
perms <- function(v) if (length(v) <= 1) list(v) else do.call(c, lapply(unique(v), function(x) lapply(perms(v[-match(x, v)]), function(r) c(x, r))))
f <- function(g) anova(lm(y ~ factor(b) + factor(g)))[2, "F value"]
all <- unlist(lapply(perms(g[1:4]), function(p) lapply(perms(g[5:8]), function(q) f(c(p, q)))))
got <- calc("shuffle_test", list(y = y, group = g, block = b))
near("shuffled within blocks, every arrangement", c(got$statistic, got$p, got$arrangements), c(f(g), mean(all >= f(g) - 1e-9), length(all)), 1e-9)
ct <- matrix(c(20, 5, 1, 4, 15, 6, 0, 3, 12), 3, byrow = TRUE); n <- sum(ct); k <- 3
kap <- function(p, w) { po <- sum(w * p); pe <- sum(w * outer(rowSums(p), colSums(p))); (po - pe) / (1 - pe) }
for (wn in c("none", "linear", "squared")) {
  w <- 1 - switch(wn, none = outer(1:k, 1:k, "!=") * 1, linear = abs(outer(1:k, 1:k, "-")) / 2, squared = outer(1:k, 1:k, "-")^2 / 4)
  got <- calc("kappa", table = as.vector(t(ct)), weights = wn); p <- ct / n
  grad <- p; for (i in 1:9) { h <- 1e-6; q <- p; q[i] <- q[i] + h; r <- p; r[i] <- r[i] - h; grad[i] <- (kap(q / 1, w) - kap(r / 1, w)) / (2 * h) }
  # delta method by differences over the simplex
  kp <- function(q) kap(q / sum(q), w); for (i in 1:9) { h <- 1e-6; q <- p; q[i] <- q[i] + h; r <- p; r[i] <- r[i] - h; grad[i] <- (kp(q) - kp(r)) / (2 * h) }
  near(paste("kappa, weights", wn), c(got$value, got$se), c(kap(p, w), sqrt((sum(p * grad^2) - sum(p * grad)^2) / n)), 1e-6)
}
a <- rnorm(30, 100, 20); o <- a + rnorm(30, 1, 3)
got <- calc("measure_agreement", list(a = a, b = o)); s <- data.frame(v = c(a, o), i = factor(rep(1:30, 2)), j = factor(rep(1:2, each = 30)))
ms <- anova(lm(v ~ i + j, s))[["Mean Sq"]]
near("agreement of measurements", c(got$value, got$limit_low, got$icc), c(mean(a - o), mean(a - o) - qnorm(.975) * sd(a - o), (ms[1] - ms[3]) / (ms[1] + ms[3] + 2 / 30 * (ms[2] - ms[3]))), 1e-9)
v <- c(rep(10, 40), 11:19, rep(15, 20), 21:40); tb <- table(factor(v %% 10, 0:9))
near("heaping", calc("heaping", value = v)$statistic, chisq.test(tb)$statistic, 1e-9)
if (requireNamespace("lme4", quietly = TRUE)) {
  b <- aggregate(cbind(incidence, size) ~ herd, lme4::cbpp, sum)
  got <- calc("league", list(y = b$incidence, n = b$size), draws = 4000)
  ll <- function(t) -sum(lchoose(b$size, b$incidence) + lbeta(b$incidence + exp(t[1]), b$size - b$incidence + exp(t[2])) - lbeta(exp(t[1]), exp(t[2])))
  o <- optim(c(0, 1), ll, method = "BFGS", control = list(reltol = 1e-16)); o <- optim(o$par, ll, control = list(reltol = 1e-16, maxit = 5000))
  near("league: likelihood", got$loglik, -o$value, 1e-8)
  near("league: parameters", c(got$a, got$b), exp(o$par), 1e-4)
  ab <- c(got$a, got$b)
  near("league: limits", c(got$low, got$high), c(qbeta(.025, ab[1] + b$incidence, ab[2] + b$size - b$incidence), qbeta(.975, ab[1] + b$incidence, ab[2] + b$size - b$incidence)), 1e-9)
  m <- replicate(20000, rank(-rbeta(15, ab[1] + b$incidence, ab[2] + b$size - b$incidence)))
  near("league: chance of the worst three", got$p_bottom, rowMeans(m >= 13), 0.03, FALSE)
}
done()
