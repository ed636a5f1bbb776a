# SPDX-License-Identifier: GPL-3.0-or-later
# Called by quality.sh: a census looked at twice, made by a seed (quality.R make OUT.csv), and the job's answer beside R's own (quality.R check
# CENSUS.csv NOTE.json): Wilson limits by prop.test, t by t.test, the binomial test, kappa by its table with the large-sample error of Fleiss,
# Cohen & Everitt 1969.
suppressMessages(library(jsonlite))
said <- commandArgs(TRUE)
if (said[1] == "make") {
  set.seed(46)
  n <- 240
  plot <- rep(c("D1", "C1"), each = n / 2)
  first <- data.frame(site = "LK", plot = plot, tag = paste0(plot, "-", 1:n), date = "2024-09-14", observer = "V001", species = "Quercus robur",
                      status = sample(c("alive", "alive_dieback", "dead_standing"), n, TRUE, c(.8, .1, .1)), height_cm = round(rlnorm(n, log(70), .25)))
  first$height_cm[first$status == "dead_standing"] <- NA
  again <- first[sample(n, 60), ]
  again$observer <- "V002"
  move <- runif(60) < .12
  again$status[move] <- sample(c("alive", "alive_dieback"), sum(move), TRUE)
  again$height_cm <- again$height_cm + round(rnorm(60, 1.5, 3))
  again$height_cm[again$status == "dead_standing"] <- NA
  first$height_cm[1:150] <- 5 * round(first$height_cm[1:150] / 5)
  write.csv(rbind(first, again), said[2], row.names = FALSE, na = "", quote = FALSE)
  quit()
}
bad <- 0
same <- function(what, got, wanted, tolerance) {
  good <- length(got) == 1 && is.finite(got) && abs(got - wanted) <= tolerance
  if (!good) bad <<- bad + 1
  cat(if (good) "ok  " else "FAIL", what, if (!good) paste(": got", paste(signif(got, 12)), "wanted", signif(wanted, 12)), "\n")
}
wilson <- function(what, got, x, n) {
  p <- prop.test(x, n, correct = FALSE)
  same(what, got$value, x / n, 1e-12)
  same(paste(what, "low"), got$low, p$conf.int[1], 1e-9)
  same(paste(what, "high"), got$high, p$conf.int[2], 1e-9)
}
d <- read.csv(said[2])
q <- fromJSON(said[3], simplifyVector = FALSE)$data
v <- q$visits[[1]]
a <- d[d$observer == "V001", ]
b <- d[d$observer == "V002", ]
a <- a[match(b$tag, a$tag), ]
same("plants with a record", v$recorded, 240, 0)
same("plants due", v$due, 240, 0)
wilson("share looked at twice", v$again, 60, 240)
wilson("same state", v$twice$state, sum(a$status == b$status), 60)
states <- union(a$status, b$status)
t <- table(factor(a$status, states), factor(b$status, states)) / 60
po <- sum(diag(t)); r <- rowSums(t); k <- colSums(t); pe <- sum(r * k)
kappa <- (po - pe) / (1 - pe)
part <- sum(diag(t) * (1 - (r + k) * (1 - kappa))^2)
off <- (1 - kappa)^2 * sum((t - diag(diag(t))) * outer(k, r, function(i, j) (i + j)^2))
se <- sqrt((part + off - (kappa - pe * (1 - kappa))^2) / (60 * (1 - pe)^2))
same("kappa", v$twice$kappa$value, kappa, 1e-12)
same("kappa low", v$twice$kappa$low, kappa - qnorm(.975) * se, 1e-9)
both <- !is.na(a$height_cm) & !is.na(b$height_cm)
h1 <- a$height_cm[both]; h2 <- b$height_cm[both]
tt <- t.test(h2, h1, paired = TRUE)
same("pairs of heights", v$twice$heights, sum(both), 0)
same("second minus first", v$twice$bias_cm$value, unname(tt$estimate), 1e-10)
same("its lower limit", v$twice$bias_cm$low, tt$conf.int[1], 1e-8)
same("its upper limit", v$twice$bias_cm$high, tt$conf.int[2], 1e-8)
same("lower limit of agreement", v$twice$limit_low_cm, mean(h2 - h1) - qnorm(.975) * sd(h2 - h1), 1e-8)
same("upper limit of agreement", v$twice$limit_high_cm, mean(h2 - h1) + qnorm(.975) * sd(h2 - h1), 1e-8)
wilson("heights within 5 cm or 5 %", v$twice$height_within, sum(abs(h2 - h1) <= pmax(5, .05 * (h1 + h2) / 2)), sum(both))
alive <- d$status != "dead_standing" & !is.na(d$height_cm) & d$height_cm < 200
five <- sum(d$height_cm[alive] %% 5 == 0)
p <- prop.test(five, sum(alive), correct = FALSE)
same("Whipple's index", v$digits$index, 500 * five / sum(alive), 1e-9)
same("its lower limit", v$digits$low, 500 * p$conf.int[1], 1e-7)
same("its chance", v$digits$p / binom.test(five, sum(alive), .2, alternative = "greater")$p.value, 1, 1e-8)
same("one of two observers heaps", q$observers_heaped, 1, 0)
quit(status = bad > 0)
