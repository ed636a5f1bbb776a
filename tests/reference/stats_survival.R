# SPDX-License-Identifier: GPL-3.0-or-later
# Time to death against R's survival and cmprsk.
source("stats_common.R")
suppressMessages(library(survival))
compare <- function(what, d) {
  for (limits in c("log", "log-log")) {
    got <- calc("kaplan_meier", list(time = d$time, died = d$died), limits = sub("-", "", limits))
    ref <- summary(survfit(Surv(time, died) ~ 1, d, conf.type = limits), censored = TRUE)
    some <- ref$surv < 1 & ref$surv > 0
    near(paste(what, "survival"), got$survival, ref$surv, 1e-10)
    near(paste(what, "standard error"), got$se[some], ref$std.err[some], 1e-9)
    near(paste(what, limits, "limits"), c(got$low[some], got$high[some]), c(ref$lower[some], ref$upper[some]), 1e-9)
  }
  q <- quantile(survfit(Surv(time, died) ~ 1, d, conf.type = "log-log"), 0.5)
  near(paste(what, "median"), c(got$median, got$median_low), c(q$quantile, q$lower), 1e-9)
  r <- summary(survfit(Surv(time, died) ~ 1, d), rmean = max(d$time))$table
  near(paste(what, "restricted mean"), c(got$mean_until, got$mean_until_se), r[c("rmean", "se(rmean)")], 1e-8)
  for (rho in 0:1) {
    ref <- survdiff(Surv(time, died) ~ group, d, rho = rho)
    got <- calc("logrank", list(time = d$time, died = d$died, group = d$group), rho = rho)
    near(paste(what, "groups, rho", rho), c(got$statistic, got$observed, got$expected), c(ref$chisq, ref$obs, ref$exp), 1e-8)
    if (!is.null(d$stratum)) {
      ref <- survdiff(Surv(time, died) ~ group + strata(stratum), d, rho = rho)
      got <- calc("logrank", list(time = d$time, died = d$died, group = d$group, stratum = d$stratum), rho = rho)
      near(paste(what, "stratified, rho", rho), got$statistic, ref$chisq, 1e-8)
    }
  }
}
set.seed(7)
n <- 600
made <- data.frame(group = sample(1:3, n, TRUE), stratum = sample(1:4, n, TRUE))
life <- rweibull(n, 1.3, 5 + made$group); stop <- runif(n, 1, 9)
made$time <- ceiling(4 * pmin(life, stop)) / 4; made$died <- as.integer(life <= stop)
compare("generated:", made)
f <- data_file("kobe_seedling_soilfeedback", "Tree_Data.csv")
if (is.null(f)) skip("planted seedlings") else {
  k <- read.csv(f); k <- k[!is.na(k$Event), ]
  d <- data.frame(time = k$Time, died = k$Event, group = as.integer(factor(k$Species)), stratum = as.integer(factor(k$Plot)))
  compare("2,782 planted seedlings:", d)
  got <- calc("logrank", list(time = d$time, died = d$died, group = d$group))
  near("log-rank over species about 1,407 on 3 (README of the data)", c(got$statistic, got$df), c(1407, 3), 1e-3)
}
f <- data_file("scalesia_blackberry", "scalesia_dbh_wide.csv")
if (is.null(f)) skip("trees under blackberry") else {
  w <- read.csv(f); cens <- as.matrix(w[, 3:12])
  when <- c(0, 7, 12, 18, 24, 36, 48, 61, 73, 85) / 12
  seen <- apply(!is.na(cens), 1, function(r) max(which(r)))
  left <- when[seen]; right <- ifelse(seen == 10, Inf, when[pmin(seen + 1, 10)])
  d <- data.frame(time = ifelse(is.finite(right), right, left), died = as.integer(is.finite(right)), group = as.integer(factor(w$treatment)))
  compare("trees under blackberry:", d)
  got <- calc("turnbull", list(left = left, right = right))
  # visits common to all: the estimate is the curve at visits
  ref <- summary(survfit(Surv(time, died) ~ 1, d))
  near("blackberry, from visits", got$survival[-length(got$survival)], ref$surv, 1e-7)
}
# Turnbull by its dual condition, worked out in R, and against survfit where no ends tie.
check_dual <- function(what, l, r) {
  got <- calc("turnbull", list(left = l, right = r))
  from <- as.numeric(got$from); to <- got$to; p <- got$mass
  a <- outer(l, from, "<=") & outer(r, to, ">=")
  grad <- colSums(a / as.vector(a %*% p)) / length(l)
  near(paste(what, "slope is one where mass lies"), grad, rep(1, length(grad)), 1e-6)
  ends <- sort(unique(c(l, r))); all_from <- c(); all_to <- c()
  for (e in sort(unique(l))) { nxt <- min(c(r[r > e], Inf)); if (!any(l > e & l < nxt)) { all_from <- c(all_from, e); all_to <- c(all_to, nxt) } }
  b <- outer(l, all_from, "<=") & outer(r, all_to, ">=")
  near(paste(what, "and nowhere above one"), max(colSums(b / as.vector(a %*% p)) / length(l)), 1, 1e-6)
  near(paste(what, "log-likelihood"), got$loglik, sum(log(a %*% p)), 1e-9)
  got
}
for (n in c(40, 400, 2000)) {
  life <- rweibull(n, 1.2, 6); start <- runif(n, 0, 1)
  l <- r <- numeric(n)
  for (i in 1:n) { v <- cumsum(c(start[i], runif(12, .3, 1.5))); v <- c(0, v); k <- findInterval(life[i], v); l[i] <- v[k]; r[i] <- if (k < length(v)) v[k + 1] else Inf }
  got <- check_dual(paste(n, "lives,"), l, r)
  if (n > 400) next # R's own iteration takes minutes there
  ref <- survfit(Surv(ifelse(l == 0, NA, l), ifelse(is.finite(r), r, NA), type = "interval2") ~ 1)
  near(paste(n, "lives, log-likelihood not below R's"), max(0, { s <- function(t) c(1, ref$surv)[findInterval(t, ref$time) + 1]; sum(log(pmax(s(l) - ifelse(is.finite(r), s(r), 0), 1e-300))) } - got$loglik), 0, 1e-3)
}
# Score statistics of the interval-censored log-rank by plain differences of the likelihood.
n <- 120; g <- rep(1:2, n / 2); life <- rexp(n, .2 * g); v <- sort(runif(8, 0, 12)); k <- findInterval(life, v)
l <- c(0, v)[k + 1]; r <- c(v, Inf)[k + 1]
t <- calc("turnbull", list(left = l, right = r))
s <- c(1, t$survival); from <- as.numeric(t$from)
surv_at <- function(x) vapply(x, function(e) if (is.infinite(e)) 0 else c(1, t$survival)[1 + sum(t$to <= e)], 0)
sl <- surv_at(l); sr <- surv_at(r)
h <- 1e-5
shift <- function(s, b) s^exp(b)
U <- sum((log(shift(sl, h * (g == 2)) - shift(sr, h * (g == 2))) - log(shift(sl, -h * (g == 2)) - shift(sr, -h * (g == 2))))) / (2 * h)
got <- calc("interval_logrank", list(left = l, right = r, group = g), scores = "finkelstein")
near("Finkelstein's score of the second group is the slope of the likelihood", got$score_sum[2], U, 1e-6)
eta <- log(-log(t$survival[-length(t$survival)]))
nll <- function(par) { b <- par[1]; e <- par[-1]; f <- function(x, z) { i <- vapply(x, function(q) if (is.infinite(q)) length(e) + 2 else 1 + sum(t$to <= q), 0); c(1, exp(-exp(e)), 0)[i]^exp(z * b) }
  -sum(log(f(l, g == 2) - f(r, g == 2))) }
H <- suppressWarnings(optimHess(c(0, eta), nll, control = list(ndeps = rep(1e-4, length(eta) + 1))))
V <- H[1, 1] - H[1, -1] %*% solve(H[-1, -1], H[-1, 1])
got <- calc("interval_logrank", list(left = l, right = r, group = g), scores = "finkelstein", form = "score")
near("Finkelstein's score test by the information matrix", got$statistic, U^2 / V, 1e-4)
draws <- calc("interval_logrank", list(left = l, right = r, group = g), form = "draws", draws = 4000, seed = 3)
perm <- calc("interval_logrank", list(left = l, right = r, group = g))
near("drawn permutations near their normal limit", draws$p, perm$p, 0.02, FALSE)
if (!have("cmprsk")) skip("causes of death: r-cran-cmprsk is not installed") else {
  suppressMessages(library(cmprsk))
  cc <- data.frame(time = ceiling(rexp(300, .2) * 2) / 2, cause = sample(0:3, 300, TRUE))
  got <- calc("cumulative_incidence", list(time = cc$time, cause = cc$cause))
  times <- got$time; ref <- timepoints(cuminc(cc$time, cc$cause), times)
  m <- matrix(got$incidence, ncol = 3, byrow = TRUE); se <- matrix(got$se, ncol = 3, byrow = TRUE)
  near("incidence by cause", as.vector(m), as.vector(t(ref$est)), 1e-9)
  ok <- !is.na(t(ref$var))
  near("its variance", as.vector(se[ok]^2), as.vector(t(ref$var)[ok]), 1e-9)
  near("causes and survival add to one", rowSums(m) + got$survival, rep(1, length(times)), 1e-12)
}
one <- calc("incidence_life_table", visit = 1:4, at_risk = c(100, 90, 81, 70), deaths = c(10, 9, 11, 7))
km <- survfit(Surv(c(rep(1, 10), rep(2, 9), rep(3, 11), rep(4, 7), rep(4, 63)), c(rep(1, 37), rep(0, 63))) ~ 1)
near("one cause, life table: Greenwood", one$se, km$std.err * km$surv, 1e-9)
done()
