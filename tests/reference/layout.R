# SPDX-License-Identifier: GPL-3.0-or-later
# Called by layout.sh: the program's figures about point patterns beside those of spatstat (Baddeley, Rubak & Turner 2015).
suppressMessages({
  library(spatstat.geom); library(spatstat.explore); library(spatstat.data); library(jsonlite)
})
program <- Sys.getenv("SPINNEY", "spinney")
bad <- 0
ask <- function(calc, ...) {
  inputs <- list(...)
  words <- mapply(function(n, v) shQuote(paste0(n, "=", paste(format(v, digits = 15, trim = TRUE, scientific = FALSE), collapse = ","))),
                  names(inputs), inputs)
  text <- system2(program, c("calc", calc, "--json", "--in", words), stdout = TRUE)
  fromJSON(paste(text, collapse = "\n"))$data$result
}
same <- function(what, got, wanted, tolerance) {
  good <- length(got) == length(wanted) && all(is.finite(got)) && all(abs(got - wanted) <= tolerance)
  if (!good) bad <<- bad + 1
  cat(if (good) "ok  " else "FAIL", what, if (!good) paste0(": ", paste(signif(head(got, 5), 10), collapse = " "), " wanted ",
      paste(signif(head(wanted, 5), 10), collapse = " ")), "\n")
}
holds <- function(what, good) {
  if (!isTRUE(good)) bad <<- bad + 1
  cat(if (isTRUE(good)) "ok  " else "FAIL", what, "\n")
}
figures <- function(name, p) {
  w <- diff(p$window$xrange); h <- diff(p$window$yrange)
  x <- p$x - p$window$xrange[1]; y <- p$y - p$window$yrange[1]
  n <- npoints(p)
  ours <- ask("nearest_neighbours", x = x, y = y)
  same(paste(name, "nearest neighbour distances"), ours$distance, nndist(p), 1e-9)
  ce <- ask("clark_evans", mean = ours$mean, plants = n, area = w * h, outline = 2 * (w + h))
  theirs <- clarkevans(p, correction = c("none", "Donnelly"))
  same(paste(name, "Clark & Evans R"), ce$r, theirs[["naive"]], 1e-9)
  same(paste(name, "Donnelly's correction"), ce$r_donnelly, theirs[["Donnelly"]], 1e-9)
  # K at distances between those of pairs, so that no pair sits on a limit.
  r <- seq(0, min(w, h) / 4, length.out = 513)
  k <- Kest(p, r = r, correction = c("none", "translate"))
  pick <- c(65, 129, 257, 385, 513)
  same(paste(name, "K uncorrected"), ask("ripley_k", x = x, y = y, width = w, height = h, r = r[pick])$k, k$un[pick], w * h * 1e-9)
  same(paste(name, "K with translation correction"),
       ask("ripley_k", x = x, y = y, width = w, height = h, r = r[pick], correction = "translate")$k, k$trans[pick], w * h * 1e-9)
}
figures("Swedish pines (Strand 1972)", swedishpines)
figures("biological cells (Ripley 1977)", cells)
figures("redwood seedlings (Strauss 1975)", redwood)

counts <- c(27, 24, 21, 15, 15, 9, 6, 3, 18, 18, 15, 9, 9, 9, 6, 24, 18, 9, 9, 9, 6, 6, 6, 3, 3, 3)
plan <- ask("layout_plan", width = 10, height = 10, counts = counts, tall = c(1, 4, 7), seed = 20211120)
p <- ppp(plan$x, plan$y, c(0, 10), c(0, 10), marks = factor(plan$species, levels = seq_along(counts)))
figures("a plan of 300", unmark(p))
holds("a plan holds exactly the counts asked for", identical(as.integer(table(marks(p))), as.integer(counts)))
near <- nnwhich(p)
same("share of like nearest neighbours", plan$same_share, mean(marks(p) == marks(p)[near]), 1e-12)
set.seed(1)
chance <- replicate(4000, { m <- sample(marks(p)); mean(m == m[near]) })
same("the same by chance, closed form beside 4,000 relabellings in R", plan$same_share_random, mean(chance), 4 * sd(chance) / sqrt(4000))
same("the same by chance, our relabellings beside R's", plan$same_share_simulated, mean(chance), 4 * sd(chance) * sqrt(1 / 4000 + 1 / 200))
holds("fewer like neighbours than in any of 4,000 relabellings", plan$same_share < min(chance))
same("least distance kept", plan$least, min(nndist(p)), 0.01 + 1e-9)
tall <- unmark(p[as.integer(marks(p)) %in% c(1, 4, 7)])
same("tall trees: least distance", plan$tall_least, min(nndist(tall)), 1e-9)
same("tall trees: mean nearest distance", plan$tall_mean, mean(nndist(tall)), 1e-9)
set.seed(2)
any <- replicate(1000, min(nndist(unmark(p)[sample(300, npoints(tall))])))
holds("tall trees stand farther apart than any of 1,000 chance choices of places", min(nndist(tall)) > max(any))
# Even at short distances, but no lattice: no distance with the sharp second ring of a regular grid.
e <- envelope(unmark(p), Lest, nsim = 39, correction = "translate", verbose = FALSE, r = seq(0, 1.2, by = 0.02))
holds("L below the envelope of chance patterns out to half a metre", all(e$obs[e$r > 0.12 & e$r < 0.5] < e$lo[e$r > 0.12 & e$r < 0.5]))
g <- pcf(unmark(p), r = seq(0, 2.4, by = 0.02), correction = "translate", divisor = "d", bw = 0.04)
holds("pair correlation dies out beyond three neighbour distances (irregular, no lattice)",
      all(abs(g$trans[g$r > 1.9] - 1) < 0.15))
if (bad > 0) quit(status = 1)
