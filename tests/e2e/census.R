# SPDX-License-Identifier: GPL-3.0-or-later
# A repeated census through R's survival, for the end-to-end test: Rscript census.R CENSUS.csv REFUSED.csv OUT.json
# CENSUS: group,plot,plant,years,state (alive, dead; one row per plant and visit); REFUSED: plant,years left out (may have no rows).
# Rscript census.R --rats OUT.csv writes such a census from the data set rats of R's survival (Mantel, Bohidar & Ciminera 1977).
suppressPackageStartupMessages({ library(survival); library(jsonlite) })
said <- commandArgs(TRUE)
if (said[1] == "--rats") {
  r <- survival::rats
  r$id <- seq_len(nrow(r))
  weeks <- c(0, 52, 78, 91, 104)  # visits; a tumour is seen at the next visit, an animal lost without one is not looked at again
  rows <- do.call(rbind, lapply(seq_len(nrow(r)), function(i) {
    seen <- weeks[if (r$status[i] == 1) rep(TRUE, 5) else weeks <= r$time[i]]
    data.frame(group = ifelse(r$rx[i] == 1, "treated", "untreated"), plot = (r$litter[i] - 1) %/% 10 + 1, plant = r$id[i],
               day = as.character(as.Date("2020-03-01") + 7 * seen), years = 7 * seen / 365.25,
               state = ifelse(r$status[i] == 1 & seen >= r$time[i], "dead", "alive"))
  }))
  write.csv(rows, said[2], row.names = FALSE, quote = FALSE)
  quit()
}
d <- read.csv(said[1], colClasses = c(plant = "character"))
gone <- read.csv(said[2], colClasses = c(plant = "character"))
d <- d[!(paste(d$plant, round(d$years, 6)) %in% paste(gone$plant, round(gone$years, 6))), ]
lives <- do.call(rbind, lapply(split(d, d$plant), function(p) {
  p <- p[order(p$years), ]
  alive <- max(p$years[p$state == "alive"])                     # alive later: alive in between
  dead <- p$years[p$state == "dead" & p$years > alive]
  data.frame(group = p$group[1], plot = paste(p$group[1], p$plot[1]), time = if (length(dead) > 0) min(dead) else alive,
             died = length(dead) > 0)
}))
fit <- survfit(Surv(time, died) ~ group, lives, conf.type = "log-log")
last <- summary(fit, times = max(lives$time), extend = TRUE)
test <- survdiff(Surv(time, died) ~ group, lives)
# by plot: share alive at the last visit of all plants with a known state there, annual survival likewise
ends <- tapply(d$years, d$group, max)
plots <- do.call(rbind, lapply(split(lives, lives$plot), function(p) {
  end <- ends[[as.character(p$group[1])]]
  known <- p$died | p$time >= end
  data.frame(group = p$group[1], share = mean(!p$died[known]), annual = mean(!p$died[known])^(1 / end))
}))
welch <- t.test(share ~ group, plots)
f <- anova(lm(annual ~ group, plots))[["F value"]][1]
set.seed(1)
between <- function(g) sum(tapply(plots$annual, g, function(y) length(y) * (mean(y) - mean(plots$annual))^2))  # rises with F
here <- between(plots$group)
shuffled <- replicate(4999, between(sample(plots$group)))
out <- list(groups = as.character(unique(sort(lives$group))), km = last$surv, low = last$lower, high = last$upper,
            chisq = test$chisq, n = as.vector(table(lives$group)), deaths = as.vector(tapply(lives$died, lives$group, sum)),
            annual = last$surv^(1 / max(lives$time)), share = as.vector(tapply(plots$share, plots$group, mean)),
            difference = unname(welch$estimate[1] - welch$estimate[2]), low_d = welch$conf.int[1], high_d = welch$conf.int[2],
            t = unname(welch$statistic), df = unname(welch$parameter), p = welch$p.value, f = f, p_shuffle = (1 + sum(shuffled >= here - 1e-12)) / 5000)
write(toJSON(out, digits = NA, auto_unbox = TRUE), said[3])
