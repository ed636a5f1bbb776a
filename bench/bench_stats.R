# SPDX-License-Identifier: GPL-3.0-or-later
# Makes data, times R's fit and ours, prints both answers so that one can see they fit the same thing.
suppressMessages({library(survival); library(lme4); library(vegan)})
bench <- Sys.getenv("BENCH")
row <- function(what, data, f) {
  file <- tempfile(fileext = ".csv"); write.csv(data, file, row.names = FALSE, quote = FALSE)
  name <- sub(" .*", "", what)
  ours <- as.numeric(strsplit(system2(bench, c(name, file), stdout = TRUE), " ")[[1]])
  if (is.null(f)) { cat(sprintf("%-38s ours %9.4f s   R: not timed (minutes)   answer %.8g\n", what, ours[1], ours[2])); return(invisible()) }
  t <- system.time(r <- suppressWarnings(suppressMessages(f(data))))[["elapsed"]]
  cat(sprintf("%-38s ours %9.4f s   R %9.4f s   answers %.8g  %.8g\n", what, ours[1], t, ours[2], r))
  unlink(file)
}
set.seed(1)
n <- 200000
d <- data.frame(time = ceiling(rexp(n, .1) * 365) / 365, died = rbinom(n, 1, .6), group = sample(1:4, n, TRUE))
row("kaplan-meier 200,000 lives", d, function(d) { s <- survfit(Surv(time, died) ~ 1, d, conf.type = "log-log"); s$surv[length(s$surv) %/% 2 + 1] })
row("logrank 200,000 lives, 4 groups", d, function(d) survdiff(Surv(time, died) ~ group, d)$chisq)
visits <- function(n, days) {
  life <- rweibull(n, 1.2, 6 * 365); l <- numeric(n); r <- rep(Inf, n)
  for (v in 1:10) { at <- round(v * 365 + runif(n, -days, days)); seen <- runif(n) < .9; dead <- life <= at; l <- ifelse(seen & !dead, at, l); r <- ifelse(seen & dead & is.infinite(r), at, r) }
  data.frame(left = l, right = r)
}
row("turnbull 300 lives", visits(300, 60), function(d) { s <- survfit(Surv(ifelse(left == 0, NA, left), ifelse(is.finite(right), right, NA), type = "interval2") ~ 1, d); NA })
row("turnbull 100,000 lives, by day", visits(100000, 60), NULL)
row("turnbull 100,000 lives, common visits", visits(100000, 0), NULL)
mk <- function(n, plots, kinds) { d <- data.frame(a = rnorm(n), b = rbinom(n, 1, .5), plot = sample(plots, n, TRUE), kind = sample(kinds, n, TRUE)); d$eta <- d$a * .5 + rnorm(plots)[d$plot] + rnorm(kinds, 0, .5)[d$kind]; d }
d <- mk(20000, 200, 40); d$y <- d$eta + rnorm(nrow(d))
row("lmm 20,000 plants, 200 plots x 40 kinds", d, function(d) as.numeric(logLik(lmer(y ~ a + b + (1 | plot) + (1 | kind), d))))
d$y <- rbinom(nrow(d), 1, plogis(d$eta))
row("logistic 20,000 plants", d, function(d) as.numeric(logLik(glm(y ~ a + b, binomial, d))))
row("glmm 20,000 plants, 200 plots x 40 kinds", d, function(d) as.numeric(logLik(glmer(y ~ a + b + (1 | plot) + (1 | kind), d, binomial))))
d <- mk(1000, 30, 12); d$y <- d$eta + rnorm(1000)
row("lmm 1,000 plants", d, function(d) as.numeric(logLik(lmer(y ~ a + b + (1 | plot) + (1 | kind), d))))
data(BCI); x <- as.numeric(colSums(BCI[1:2, ])); x <- x[x > 0]
row("diversity rarefied, 50 bootstraps of 20", data.frame(count = x), function(d) { m <- 25 * (1:20); for (b in 1:50) { y <- as.numeric(rmultinom(1, sum(d$count), d$count)); y <- y[y > 0]; suppressWarnings(rarefy(y, pmin(m, sum(y)))) }; as.numeric(rarefy(d$count, 100)) })
