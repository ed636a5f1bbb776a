# SPDX-License-Identifier: GPL-3.0-or-later
# Regression, mixed models and pooling against base R, lme4, lmerTest and metafor.
source("stats_common.R")
set.seed(31)
n <- 400
d <- data.frame(a = rnorm(n), b = sample(0:1, n, TRUE), plot = rep(1:20, each = 20), kind = sample(1:8, n, TRUE))
d$y <- 3 + d$a + .5 * d$b + rnorm(20)[d$plot] + rnorm(8, 0, .7)[d$kind] + rnorm(n)
d$s <- rbinom(n, 5, plogis(-.3 + .6 * d$a + rnorm(20)[d$plot] + rnorm(8, 0, .5)[d$kind]))
d$w <- runif(n, .5, 2)
tight <- list(epsilon = 1e-15, maxit = 100)
ref <- lm(y ~ a + b, d, weights = w)
got <- calc("regression", list(y = d$y, x1 = d$a, x2 = d$b, weight = d$w))
near("linear, weighted", c(got$value, got$se, got$p), coef(summary(ref))[, c(1, 2, 4)], 1e-9)
near("its log-likelihood and limits", c(got$loglik, got$low, got$high), c(logLik(ref), confint(ref)), 1e-9)
for (k in c("logistic", "cloglog")) {
  ref <- glm(cbind(s, 5 - s) ~ a + b, binomial(if (k == "logistic") "logit" else "cloglog"), d, control = tight)
  got <- calc("regression", list(y = d$s, x1 = d$a, x2 = d$b, trials = rep(5, n)), kind = k)
  near(k, c(got$value, got$se), coef(summary(ref))[, 1:2], 1e-8)
  near(paste(k, "likelihood"), c(got$loglik, got$deviance, got$null_deviance), c(logLik(ref), deviance(ref), ref$null.deviance), 1e-9)
}
ref <- glm(s ~ a + b + offset(log(w)), quasipoisson, d, control = tight)
got <- calc("regression", list(y = d$s, x1 = d$a, x2 = d$b, offset = log(d$w)), kind = "poisson", quasi = "yes")
near("Poisson with dispersion", c(got$value, got$se, got$dispersion, got$null_deviance), c(coef(summary(ref))[, 1:2], summary(ref)$dispersion, ref$null.deviance), 1e-8)
# Firth: Jeffreys-penalised likelihood maximised by R's own optimiser, on data that plain fits cannot take.
x <- c(1, 2, 3, 4, 5, 6, 7, 8); y <- c(0, 0, 0, 0, 1, 1, 1, 1)
pen <- function(b) { e <- b[1] + b[2] * x; m <- plogis(e); w <- m * (1 - m); X <- cbind(1, x); -sum(y * e - log1p(exp(e))) - .5 * determinant(crossprod(X, w * X))$modulus }
o <- optim(c(0, 0), pen, control = list(reltol = 1e-16, maxit = 5000)); o <- optim(o$par, pen, method = "BFGS", control = list(reltol = 1e-16))
near("Firth on separated data", calc("regression", y = y, x = x, kind = "logistic", firth = "yes")$value, o$par, 2e-4)
err <- tryCatch(calc("regression", y = y, x = x, kind = "logistic"), error = function(e) conditionMessage(e))
near("separated data are refused by the plain fit", is.character(err) && grepl("have no end", err), 1)

if (have("lme4")) {
  suppressMessages(library(lme4))
  lc <- lmerControl(optimizer = "nloptwrap", optCtrl = list(xtol_abs = 1e-12, ftol_abs = 1e-14, xtol_rel = 1e-14, ftol_rel = 1e-14, maxeval = 20000), calc.derivs = FALSE)
  gc <- glmerControl(optimizer = "bobyqa", optCtrl = list(rhobeg = 0.1, rhoend = 1e-9, maxfun = 20000), tolPwrss = 1e-13)
  lmm <- function(what, got, ref) {
    near(paste(what, "coefficients"), got$value, fixef(ref), 1e-6)
    near(paste(what, "standard errors"), got$se, sqrt(diag(as.matrix(vcov(ref)))), 1e-5)
    near(paste(what, "likelihood"), got$loglik, as.numeric(logLik(ref)), 1e-8)
    near(paste(what, "residual sd"), got$sigma, sigma(ref), 1e-5)
  }
  glmm <- function(what, got, ref, agq = FALSE) {
    near(paste(what, "coefficients"), got$value, fixef(ref), if (agq) 5e-5 else 2e-5)
    near(paste(what, "standard errors"), got$se, sqrt(diag(as.matrix(vcov(ref)))), 1e-3)
    if (!agq) near(paste(what, "likelihood"), got$loglik, as.numeric(logLik(ref)), 1e-8)
  }
  variances <- function(ref) unlist(lapply(VarCorr(ref), function(v) as.vector(v)))
  s <- sleepstudy
  for (reml in c(TRUE, FALSE)) {
    ref <- lmer(Reaction ~ Days + (Days | Subject), s, REML = reml, control = lc)
    got <- calc("mixed_model", list(y = s$Reaction, x1 = s$Days, level1 = as.integer(s$Subject), slope1 = s$Days), reml = if (reml) "yes" else "no")
    lmm(paste("sleep, slopes,", if (reml) "REML" else "ML"), got, ref)
    near("its variances", got$variance, variances(ref), 1e-5)
    near("its effects", got$effect, as.vector(t(as.matrix(ranef(ref)$Subject))), 1e-5)
  }
  near("sleep, slopes, published REML and SE (Bates et al. 2015)", c(calc("mixed_model", list(y = s$Reaction, x1 = s$Days, level1 = as.integer(s$Subject), slope1 = s$Days))[c("loglik")][[1]]), -871.8141, 1e-6)
  ref <- lmer(y ~ a + b + (1 | plot) + (1 | kind), d, control = lc)
  got <- calc("mixed_model", list(y = d$y, x1 = d$a, x2 = d$b, level1 = d$plot, level2 = d$kind))
  lmm("crossed,", got, ref)
  near("its variances by grouping", got$variance, variances(ref)[c("plot", "kind")], 1e-5)
  modes_se <- function(ref) { r <- as.data.frame(ranef(ref, condVar = TRUE)); unlist(lapply(c("plot", "kind"), function(g) { s <- r[r$grpvar == g, ]; s$condsd[order(as.integer(as.character(s$grp)))] })) }
  near("standard errors of its effects, crossed", got$effect_se, modes_se(ref), 1e-5)
  ref <- glmer(cbind(s, 5 - s) ~ a + (1 | plot) + (1 | kind), d, binomial, control = gc)
  near("standard errors of effects, logistic, crossed", calc("mixed_model", list(y = d$s, x1 = d$a, trials = rep(5, n), level1 = d$plot, level2 = d$kind), kind = "logistic")$effect_se, modes_se(ref), 1e-4)
  if (have("lmerTest")) {
    t <- coef(summary(lmerTest::lmer(y ~ a + b + (1 | plot) + (1 | kind), d, control = lc)))
    near("Satterthwaite, crossed", got$df, t[, "df"], 1e-3)
    t <- coef(summary(lmerTest::lmer(Reaction ~ Days + (Days | Subject), s, control = lc)))
    near("Satterthwaite, sleep", calc("mixed_model", list(y = s$Reaction, x1 = s$Days, level1 = as.integer(s$Subject), slope1 = s$Days))$df, t[, "df"], 1e-3)
  } else skip("degrees of freedom: r-cran-lmertest is not installed")
  p <- Penicillin
  ref <- lmer(diameter ~ 1 + (1 | plate) + (1 | sample), p, control = lc)
  lmm("penicillin, crossed,", calc("mixed_model", list(y = p$diameter, level1 = as.integer(p$plate), level2 = as.integer(p$sample))), ref)
  b <- cbpp; per <- model.matrix(~period, b)[, -1]
  cols <- list(y = b$incidence, trials = b$size, level1 = as.integer(b$herd), x1 = per[, 1], x2 = per[, 2], x3 = per[, 3])
  for (q in c(1, 9, 25)) {
    ref <- glmer(cbind(incidence, size - incidence) ~ period + (1 | herd), b, binomial, nAGQ = q, control = gc)
    got <- calc("mixed_model", cols, kind = "logistic", quadrature = q)
    glmm(paste("herds,", q, "points,"), got, ref, q > 1)
    near("its variance", got$variance, variances(ref), 1e-4)
  }
  ref <- glmer(cbind(s, 5 - s) ~ a + (1 | plot) + (1 | kind), d, binomial, control = gc)
  got <- calc("mixed_model", list(y = d$s, trials = rep(5, n), x1 = d$a, level1 = d$plot, level2 = d$kind), kind = "logistic")
  glmm("crossed logistic,", got, ref)
  near("its variances", got$variance, variances(ref)[c("plot", "kind")], 1e-4)
  f <- data_file("redspruce_garden", "garden_growth_2019.csv")
  if (is.null(f)) skip("red spruce gardens") else {
    g <- read.csv(f); g <- g[complete.cases(g[, c("Growth", "initial_ht", "Family", "mBed")]), ]; g$gd <- as.integer(factor(g$Garden))
    ref <- lmer(Growth ~ initial_ht + (1 | Family) + (1 | mBed), g, control = lc)
    got <- calc("mixed_model", list(y = g$Growth, x1 = g$initial_ht, level1 = as.integer(factor(g$Family)), level2 = as.integer(factor(g$mBed))))
    lmm("red spruce seedlings in gardens,", got, ref)
  }
  f <- data_file("sitka_ozone", "sitka_1988.csv")
  if (is.null(f)) skip("Sitka spruce") else {
    g <- read.csv(f); g$o <- as.integer(g$treat == "ozone"); g$t <- g$Time / 100
    ref <- lmer(size ~ t * o + (t | tree), g, control = lc)
    got <- calc("mixed_model", list(y = g$size, x1 = g$t, x2 = g$o, x3 = g$t * g$o, level1 = as.integer(factor(g$tree)), slope1 = g$t))
    lmm("Sitka spruce under ozone,", got, ref)
  }
} else skip("mixed models: r-cran-lme4 is not installed")

if (have("metafor")) {
  suppressMessages(library(metafor))
  sets <- list(bcg = escalc(measure = "RR", ai = tpos, bi = tneg, ci = cpos, di = cneg, data = dat.bcg))
  sets$made <- data.frame(yi = rnorm(6, .3, .4), vi = runif(6, .01, .1)); sets$alike <- data.frame(yi = rnorm(5, .3, .05), vi = rep(.1, 5))
  for (nm in names(sets)) for (m in c("FE", "DL", "REML", "PM")) for (hk in c("z", "knha")) {
    e <- sets[[nm]]
    if (m == "FE" && hk == "knha") next
    ref <- rma(yi, vi, data = e, method = m, test = hk, control = list(threshold = 1e-14, maxiter = 10000, tol = 1e-14))
    got <- calc("pool_sites", list(effect = e$yi, variance = e$vi), method = c(FE = "fixed", DL = "dl", REML = "reml", PM = "pm")[[m]], hartung_knapp = if (hk == "knha") "yes" else "no")
    near(paste(nm, m, hk), c(got$value, got$se, got$low, got$high, got$tau2, got$q, got$i2), c(ref$beta, ref$se, ref$ci.lb, ref$ci.ub, ref$tau2, ref$QE, ref$I2), 1e-5)
    if (m %in% c("DL", "REML")) near("standard error of the variance", got$tau2_se, ref$se.tau2, 1e-5)
    if (m == "DL") near("leave one out", got$without_value, leave1out(ref)$estimate, 1e-8)
  }
} else skip("pooling: r-cran-metafor is not installed")
done()
