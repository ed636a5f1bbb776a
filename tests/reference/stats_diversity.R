# SPDX-License-Identifier: GPL-3.0-or-later
# Diversity and community distances against R's vegan.
source("stats_common.R")
if (!have("vegan")) { skip("diversity: r-cran-vegan is not installed"); done() }
suppressMessages(library(vegan))
data(BCI); data(dune); data(dune.env)
for (i in c(1, 7, 30)) {
  x <- as.numeric(BCI[i, ]); x <- x[x > 0]
  got <- calc("diversity", list(count = x), size = 340)
  near(paste("forest plot", i, "Hill numbers"), got$hill, c(specnumber(x), exp(diversity(x)), diversity(x, "invsimpson")), 1e-10)
  near("Chao1 bias-corrected", got$chao_corrected, estimateR(x)["S.chao1"], 1e-9)
  near("rarefied to 340", got$at_size[1], as.numeric(rarefy(x, 340)), 1e-9)
}
inc <- colSums(BCI > 0); p <- specpool(BCI)
got <- calc("diversity", list(count = inc[inc > 0]), units = 50)
near("Chao2 and its error over 50 plots", c(got$asymptotic[1], got$chao_se), c(p$chao, p$chao.se), 1e-9)
acc <- specaccum(BCI, "exact")
for (t in c(1, 2, 10, 25, 50)) near(paste("accumulation,", t, "plots"), calc("diversity", list(count = inc[inc > 0]), units = 50, size = t)$at_size[1], acc$richness[t], 1e-9)
# order 1 and 2 of smaller samples: means over drawn subsamples
x <- as.numeric(BCI[1, ]); x <- x[x > 0]; set.seed(9)
draw <- replicate(4000, { s <- table(sample(rep(seq_along(x), x), 100)); c(-sum(s / 100 * log(s / 100)), sum((s / 100)^2)) })
got <- calc("diversity", list(count = x), size = 100)
near("entropy and concentration at 100 against drawn subsamples", c(log(got$at_size[2]), 1 / got$at_size[3]), rowMeans(draw), 0.004, FALSE)
for (b in list(c("bray", "bray", FALSE), c("jaccard", "ruzicka", FALSE), c("bray", "sorensen", TRUE), c("jaccard", "jaccard", TRUE))) {
  ref <- as.matrix(vegdist(dune, b[1], binary = as.logical(b[3])))[2, 5]
  got <- calc("dissimilarity", a = as.numeric(dune[2, ]), b = as.numeric(dune[5, ]))
  near(b[2], got[[if (b[2] == "bray") "bray_curtis" else b[2]]], ref, 1e-12)
}
m <- model.matrix(~Management, dune.env)[, -1]; tab <- as.vector(t(as.matrix(dune)))
ref <- adonis2(dune ~ Management * A1, dune.env, by = "terms", permutations = 99)
full <- cbind(m, dune.env$A1, m * dune.env$A1)
got <- calc("permanova", table = tab, sites = 20, x = as.vector(t(full)), columns = c(3, 1, 3), group = as.integer(dune.env$Management), draws = 999)
near("analysis of distances, three terms", c(got$ss, got$f), c(ref$SumOfSqs, ref$F[1:3]), 1e-9)
near("its shares", got$r2, ref$R2, 1e-9)
set.seed(2); h <- how(nperm = 4999); setBlocks(h) <- dune.env$Use
ref <- adonis2(dune ~ Management, dune.env, permutations = h)
got <- calc("permanova", table = tab, sites = 20, x = as.vector(t(m)), columns = 3, block = as.integer(dune.env$Use), group = as.integer(dune.env$Management), draws = 4999)
near("p within blocks, two streams of draws", got$p, ref[1, "Pr(>F)"], 0.02, FALSE)
bd <- betadisper(vegdist(dune), dune.env$Management, type = "centroid")
near("dispersion about centroids", c(got$dispersion_f, got$dispersion_mean), c(anova(bd)[1, "F value"], tapply(bd$distances, bd$group, mean)), 1e-8)
near("published F 2.76724 (vegan)", got$f, 2.76724, 1e-5)
done()
