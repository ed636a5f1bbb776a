# SPDX-License-Identifier: GPL-3.0-or-later
# Called by survey.sh: the binomial test of digit preference beside R's binom.test; kappa and limits of agreement from R's own
# table, mean and sd.
suppressMessages(library(jsonlite))
program <- Sys.getenv("SPINNEY", "spinney")
bad <- 0
ask <- function(calc, ...) {
  inputs <- list(...)
  words <- mapply(function(n, v) shQuote(paste0(n, "=", paste(format(v, digits = 15, trim = TRUE, scientific = FALSE), collapse = ","))), names(inputs), inputs)
  fromJSON(paste(system2(program, c("calc", calc, "--json", "--in", words), stdout = TRUE), collapse = "\n"))$data$result
}
same <- function(what, got, wanted, tolerance) {
  good <- length(got) == 1 && is.finite(got) && abs(got - wanted) <= tolerance
  if (!good) bad <<- bad + 1
  cat(if (good) "ok  " else "FAIL", what, if (!good) paste(": got", signif(got, 12), "wanted", signif(wanted, 12)), "\n")
}
set.seed(20)
for (share in c(0, 0.1, 0.3, 0.6)) {
  height <- sample(20:190, 150, replace = TRUE)
  heaped <- runif(150) < share
  height[heaped] <- 5 * round(height[heaped] / 5)
  k <- sum(height %% 5 == 0)
  got <- ask("observer_heaping", height_cm = height)
  same(paste("Whipple's index,", share, "heaped"), got$index, 500 * k / 150, 1e-9)
  wanted <- binom.test(k, 150, 0.2, alternative = "greater")$p.value
  same(paste("binomial p,", share, "heaped"), got$p_value, wanted, 1e-9 * wanted + 1e-300)
}
for (i in 1:4) {
  a <- sample(c(1, 2, 4, 5), 80, replace = TRUE, prob = c(.7, .1, .15, .05))
  b <- ifelse(runif(80) < 0.15, sample(c(1, 2, 4, 5), 80, replace = TRUE), a)
  h1 <- round(rlnorm(80, log(70), 0.4)); h2 <- h1 + round(rnorm(80, 1, 3))
  got <- ask("observer_agreement", status_first = a, status_second = b, height_first_cm = h1, height_second_cm = h2)
  t <- table(factor(a, 1:8), factor(b, 1:8)) / 80
  chance <- sum(rowSums(t) * colSums(t))
  same(paste("kappa", i), got$kappa, (sum(diag(t)) - chance) / (1 - chance), 1e-12)
  same(paste("mean difference", i), got$height_mean_cm, mean(h2 - h1), 1e-10)
  same(paste("upper limit of agreement", i), got$height_high_cm, mean(h2 - h1) + 1.96 * sd(h2 - h1), 1e-9)
}
quit(status = bad > 0)
