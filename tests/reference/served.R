# Reference values for tests/analysis/claims/test_factor_effects.py: Rscript tests/reference/served.R
# Writes served_panels.csv (simulated bottles in conditions) and served.csv (what R makes of them).
suppressMessages(library(lmerTest))
here <- sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE))
folder <- dirname(here)
RNGkind("Mersenne-Twister", "Inversion", "Rejection")
set.seed(17)
head_lines <- function() c(
  sprintf("# made by tests/reference/served.R on %s; do not edit", Sys.Date()),
  sprintf("# R %s, lme4 %s, lmerTest %s", getRversion(), packageVersion("lme4"),
          packageVersion("lmerTest")))
keep <- function(table, name) {
  path <- file.path(folder, name)
  writeLines(head_lines(), path)
  suppressWarnings(write.table(table, path, append = TRUE, sep = ",", row.names = FALSE,
                               quote = FALSE, na = ""))
}
of <- function(...) as.integer(factor(paste(...)))
draw <- function(name, people, temperatures, days, heats, repeats) {
  panel <- expand.grid(replicate = seq_len(repeats), day = days, temperature = temperatures,
                       heat = heats, fraction = c("clear", "cloudy"),
                       assessor = sprintf("T%02d", seq_len(people)), stringsAsFactors = FALSE)
  n <- nrow(panel)
  warm <- panel$temperature > 20
  some <- function(sd, ...) rnorm(200, 0, sd)[of(panel$assessor, ...)]
  panel$score <- round(5 + some(1) + 0.8 * warm + 0.9 * warm * (panel$fraction == "cloudy") -
    0.1 * panel$day + some(.9, panel$temperature) + some(.8, panel$fraction) +
    some(.5, panel$heat) + some(.5, panel$day) + some(.7, panel$fraction, panel$temperature) +
    some(.4, panel$fraction, panel$temperature, panel$day, panel$heat) + rnorm(n, 0, .7), 2)
  cbind(panel = name, panel)
}
panels <- rbind(draw("warm", 9, c(10, 45), 1, "raw", 2), draw("whole", 8, c(10, 40), 1, c("heated", "raw"), 1),
                draw("days", 7, c(10, 40), c(1, 4, 10), "raw", 2))
keep(panels, "served_panels.csv")

rows <- list()
add <- function(panel, kind, effect, value) rows[[length(rows) + 1]] <<- data.frame(
  panel = panel, kind = kind, effect = effect, name = names(value), value = unname(unlist(value)))
for (name in unique(panels$panel)) {
  one <- panels[panels$panel == name, ]
  factors <- Filter(function(f) length(unique(one[[f]])) > 1,
                    c("temperature", "day", "fraction", "heat"))
  one[factors] <- lapply(one[factors], factor)
  one$assessor <- factor(one$assessor)
  crossed <- paste(factors, collapse = "*")
  mean_of <- aggregate(one["score"], one[c("assessor", factors)], mean)
  fit <- aov(as.formula(sprintf("score ~ %s + Error(assessor/(%s))", crossed, crossed)), mean_of)
  for (stratum in summary(fit)) {
    table <- stratum[[1]]
    for (effect in setdiff(trimws(rownames(table)), "Residuals")) {
      line <- table[trimws(rownames(table)) == effect, ]
      error <- table[trimws(rownames(table)) == "Residuals", "Df"]
      add(name, "aov", effect, c(F = line[["F value"]], df_num = line[["Df"]], df_den = error,
                                 p = line[["Pr(>F)"]]))
    }
  }
}
# One cup was not scored: only REML answers; Satterthwaite.
one <- subset(panels, panel == "warm" & !(assessor == "T03" & temperature == 45 &
                                           fraction == "cloudy" & replicate == 2))
one[c("assessor", "temperature", "fraction")] <-
  lapply(one[c("assessor", "temperature", "fraction")], factor)
contrasts(one$temperature) <- contrasts(one$fraction) <- contr.sum(2)
fit <- lmer(score ~ temperature * fraction + (1 | assessor) + (1 | assessor:temperature) +
              (1 | assessor:fraction) + (1 | assessor:temperature:fraction), one,
            control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-9)))
stopifnot(!isSingular(fit))
table <- anova(fit, type = 3)
for (effect in rownames(table)) add("hole", "lmerTest", effect, c(
  F = table[effect, "F value"], df_num = table[effect, "NumDF"],
  df_den = table[effect, "DenDF"], p = table[effect, "Pr(>F)"]))
keep(do.call(rbind, rows), "served.csv")
