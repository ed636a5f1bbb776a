# SPDX-License-Identifier: GPL-3.0-or-later
# species/ and mix/ against R: see mix.sh.
spinney <- Sys.getenv("SPINNEY", "spinney")
source_dir <- Sys.getenv("SPINNEY_SOURCE", ".")
bad <- FALSE
calc <- function(name, ...) {
  input <- list(...)
  args <- unlist(lapply(names(input), function(n) c("--in", shQuote(paste0(n, "=", paste(input[[n]], collapse = ","))))))
  out <- suppressWarnings(system2(spinney, c("calc", name, "--json", args), stdout = TRUE))
  jsonlite::fromJSON(paste(out, collapse = "\n"))$data$result
}
near <- function(what, got, wanted, tolerance) {
  good <- length(got) == length(wanted) && all(abs(got - wanted) <= tolerance)
  cat(if (good) "ok  " else "FAIL", what, if (!good) paste("got", paste(got, collapse = " "), "wanted", paste(wanted, collapse = " ")), "\n")
  if (!good) bad <<- TRUE
}

table <- read.csv(file.path(source_dir, "data/species/communities.csv"), check.names = FALSE, na.strings = "")
own <- table[is.na(table$species), ]
line <- lm(reaction_mean ~ I((ph_least + ph_most) / 2), own)
for (ph in c(3.5, 5, 6.5, 8)) # the coefficients stand in the program to three digits
  near(paste("reaction at pH", ph), calc("species_reaction_of_ph", ph = ph)$reaction,
       unname(coef(line)[1] + coef(line)[2] * ph), 0.01)

set.seed(1)
for (round in 1:5) {
  n <- 12
  layers <- sample(c("canopy", "subcanopy", "shrub"), n, TRUE, c(4, 3, 3))
  frequency <- sample(1:9, n, TRUE) / 10
  mix <- calc("mix_solve", species = paste0("Genus", LETTERS[1:n], " species"), layers = layers, frequency = frequency,
              total = 240, rules = "none", species_most = 0.2, weight_fit = 0, weight_diversity = 0.1)
  near(paste("entropy of mix", round), mix$shannon, unname(vegan::diversity(mix$plants)), 1e-12)
  near(paste("plants off the composition aimed at, mix", round), mix$off_target,
       sum(abs(mix$plants - 240 * frequency / sum(frequency))), 1e-9)
  # nothing stands in the way of the composition but whole plants and the cap
  aim <- pmin(240 * frequency / sum(frequency), 48)
  near(paste("close to the composition, mix", round), max(abs(mix$plants - aim)) < 6, TRUE, 0)
}

stands <- paste0("S", sample(1:10, 60, TRUE))
species <- sample(c("Quercus robur", "Betula pendula", "Corylus avellana", "Ilex aquifolium", "Sorbus aucuparia", "Alnus glutinosa"), 60, TRUE,
                  c(9, 5, 3, 2, 1, 1))
once <- !duplicated(paste(stands, species))
share <- tapply(stands[once], species[once], length) / length(unique(stands))
got <- calc("species_constancy", stands = stands[once], species = species[once])
near("constancy classes", got$class, as.numeric(cut(share[got$names], c(0, .2, .4, .6, .8, 1) + 1e-12)), 0)
quit(status = if (bad) 1 else 0)
