# SPDX-License-Identifier: GPL-3.0-or-later
# Proportions, exact tests and rates against base R.
source("stats_common.R")
set.seed(20)
worst <- list(w = c(), r = c())
for (i in 1:6) {
  n <- sample(5:400, 1); x <- sample(0:n, 1); level <- sample(c(.8, .9, .95, .99), 1)
  got <- calc("wilson", x = x, n = n, level = level); ref <- suppressWarnings(prop.test(x, n, conf.level = level, correct = FALSE))$conf.int
  near(sprintf("score interval %d/%d at %g", x, n, level), c(got$low, got$high), ref, 1e-9)
  got <- calc("wilson", x = x, n = n, level = level, correction = "yes")
  p <- x / n; z <- qnorm(1 - (1 - level) / 2)
  ref <- suppressWarnings(prop.test(x, n, conf.level = level))$conf.int
  near(sprintf("with continuity correction %d/%d", x, n), c(got$low, got$high), ref, 1e-9)
  got <- calc("clopper_pearson", x = x, n = n, level = level)
  near(sprintf("exact interval %d/%d", x, n), c(got$low, got$high), binom.test(x, n, conf.level = level)$conf.int, 1e-9)
}
# R's fisher.test looks for its roots to 1e-4 only: the same function with uniroot tightened is the reference.
tight <- fisher.test
body_text <- gsub("uniroot(", "uniroot(tol = 1e-14, maxiter = 10000, f = ", paste(deparse(tight), collapse = "\n"), fixed = TRUE)
tight <- eval(parse(text = body_text), environment(fisher.test))
for (t in list(c(3, 1, 1, 3), c(2, 10, 15, 3), c(25, 75, 40, 60), c(150, 20, 130, 45))) {
  m <- matrix(t, 2, byrow = TRUE)
  got <- calc("fisher", a = t[1], b = t[2], c = t[3], d = t[4]); ref <- tight(m)
  near(paste("Fisher p", paste(t, collapse = " ")), got$p, ref$p.value, 1e-9)
  near("conditional odds ratio and limits", log(c(got$odds_ratio, got$low, got$high)), log(c(ref$estimate, ref$conf.int)), 1e-6)
  for (a in c("less", "greater"))
    near(paste("one-sided", a), calc("fisher", a = t[1], b = t[2], c = t[3], d = t[4], alternative = a)$p, fisher.test(m, alternative = a)$p.value, 1e-9)
  got <- calc("mcnemar", a = t[1], b = t[2], c = t[3], d = t[4])
  near("paired, exact", got$p, binom.test(t[2], t[2] + t[3])$p.value, 1e-9)
  near("paired, chi-squared", got$statistic, mcnemar.test(m, correct = FALSE)$statistic, 1e-9)
  lo <- glm(m ~ c(1, 0), family = binomial, control = list(epsilon = 1e-14))
  got <- calc("odds_ratio", a = t[1], b = t[2], c = t[3], d = t[4])
  near("odds ratio against a logistic fit", c(log(got$value), got$se), coef(summary(lo))[2, 1:2], 1e-8)
  rr <- glm(m ~ c(1, 0), family = binomial(link = "log"), start = c(log(t[3] / (t[3] + t[4])), 0), control = list(epsilon = 1e-14))
  got <- calc("risk_ratio", a = t[1], b = t[2], c = t[3], d = t[4])
  near("risk ratio against a log-binomial fit", c(log(got$value), got$se), coef(summary(rr))[2, 1:2], 1e-6)
}
# Barnard and Boschloo by plain enumeration over a fine grid: never below it, and within what the grid can miss.
sup <- function(t, order) {
  n1 <- t[1] + t[2]; n2 <- t[3] + t[4]; g <- expand.grid(i = 0:n1, j = 0:n2)
  z <- with(g, { p <- (i + j) / (n1 + n2); v <- p * (1 - p) * (1 / n1 + 1 / n2); ifelse(v > 0, (i / n1 - j / n2) / sqrt(v), 0) })
  s <- if (order == "score") abs(z) else -mapply(function(i, j) fisher.test(matrix(c(i, n1 - i, j, n2 - j), 2))$p.value, g$i, g$j)
  seen <- s[g$i == t[1] & g$j == t[3]]
  inside <- g[s >= seen - 1e-10, ]
  max(vapply(seq(0, 1, length.out = 4001), function(q) sum(dbinom(inside$i, n1, q) * dbinom(inside$j, n2, q)), 0))
}
for (t in list(c(7, 8, 12, 3), c(4, 9, 11, 6), c(1, 14, 6, 9)))
  for (o in c("score", "fisher"))
    near(paste("unconditional", o, paste(t, collapse = " ")), calc("exact_unconditional", a = t[1], b = t[2], c = t[3], d = t[4], order = o)$p, sup(t, o), 2e-6)
for (x in c(0, 3, 27)) near(paste("Poisson limits of", x), unlist(calc("rate", count = x, effort = 7.5)[c("low", "high")]), poisson.test(x, 7.5)$conf.int, 1e-9)
for (v in list(c(11, 800, 23, 1083), c(0, 3, 5, 4), c(14, 2, 3, 2.5))) {
  got <- calc("rate_ratio", count1 = v[1], effort1 = v[2], count2 = v[3], effort2 = v[4]); ref <- poisson.test(v[c(1, 3)], v[c(2, 4)])
  near("ratio of rates", c(got$low, got$high, got$p), c(ref$conf.int, ref$p.value), 1e-8)
}
# Non-inferiority: the p equals the score test of the shifted difference by a numerical constrained fit.
fm <- function(x1, n1, x2, n2, d) {
  nll <- function(p2) -(dbinom(x1, n1, p2 - d, log = TRUE) + dbinom(x2, n2, p2, log = TRUE))
  p2 <- optimize(nll, c(d + 1e-9, 1 - 1e-9), tol = 1e-12)$minimum; p1 <- p2 - d
  pnorm((x1 / n1 - x2 / n2 + d) / sqrt(p1 * (1 - p1) / n1 + p2 * (1 - p2) / n2), lower.tail = FALSE)
}
near("non-inferiority p", calc("noninferiority", x1 = 81, n1 = 100, x2 = 85, n2 = 100, margin = 0.15)$p, fm(81, 100, 85, 100, 0.15), 1e-7)
p <- runif(30)^3
got <- calc("adjust_p", list(p = p))
near("Holm", got$holm, p.adjust(p, "holm"), 1e-12)
near("Benjamini-Hochberg", got$benjamini_hochberg, p.adjust(p, "BH"), 1e-12)
a <- exp(rnorm(25)); b <- a * exp(rnorm(25, .4, .2))
got <- calc("relative_growth", list(first = a, second = b), time = 2, same_plants = "yes"); ref <- t.test(log(b / a) / 2)
near("growth of the same plants", c(got$value, got$low, got$high), c(ref$estimate, ref$conf.int), 1e-9)
got <- calc("relative_growth", first = a[1:10], second = b, time = 2); ref <- t.test(log(b), log(a[1:10]))
near("growth of different plants", c(got$value, got$low, got$high), c(-diff(ref$estimate), ref$conf.int) / 2, 1e-9)
done()
