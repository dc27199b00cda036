# Reference values for tests/analysis/profile/test_named_scores.py:
# Rscript tests/reference/open_flight.R
# Writes open_flight_panels.csv (16 random panels, every second one with blind cups and named
# cups missing) and open_flight.csv: named less blind by t.test, paired, over the bottles of the
# first assessor and over the assessors' means, and in the balanced panels by lmer with random
# assessors (Satterthwaite).
suppressMessages(library(lmerTest))
here <- sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE))
folder <- dirname(here)
RNGkind("Mersenne-Twister", "Inversion", "Rejection")
set.seed(20261126)
keep <- function(table, name) {
  path <- file.path(folder, name)
  writeLines(c(
    sprintf("# made by tests/reference/open_flight.R on %s; do not edit", Sys.Date()),
    sprintf("# R %s, lme4 %s, lmerTest %s", getRversion(), packageVersion("lme4"),
            packageVersion("lmerTest"))), path)
  suppressWarnings(write.table(table, path, append = TRUE, sep = ",", row.names = FALSE,
                               quote = FALSE, na = ""))
}
control <- lmerControl(optCtrl = list(xtol_abs = 1e-12, xtol_rel = 1e-12, ftol_abs = 1e-14,
                                      ftol_rel = 1e-15, maxeval = 100000))
one_panel <- function(number) {
  a <- sample(3:7, 1); s <- sample(3:5, 1); r <- sample(1:3, 1)
  cells <- expand.grid(assessor = paste0("T", seq_len(a)), sample = LETTERS[seq_len(s)],
                       stringsAsFactors = FALSE)
  level <- rnorm(a, 5, 1); moved <- rnorm(a, 0.4, 1.5)
  who <- match(cells$assessor, paste0("T", seq_len(a)))
  view <- level[who] + rnorm(nrow(cells), 0, 0.8)
  blind <- do.call(rbind, lapply(seq_len(r), function(replicate) cbind(
    cells, flight = "blind", replicate, score = round(view + rnorm(nrow(cells), 0, 0.7), 2))))
  named <- cbind(cells, flight = "open", replicate = 1,
                 score = round(view + moved[who] + rnorm(nrow(cells), 0, 0.7), 2))
  panel <- cbind(panel = number, rbind(blind, named))
  # In every second panel some scores are missing, never of the first assessor.
  if (number %% 2 == 0) panel <- panel[panel$assessor == "T1" | runif(nrow(panel)) > 0.15, ]
  panel
}
panels <- do.call(rbind, lapply(1:16, one_panel))
keep(panels, "open_flight_panels.csv")
found <- NULL
add <- function(panel, who, method, n, difference, low, high)
  found <<- rbind(found, data.frame(panel, who, method, n, difference, low, high))
for (panel in split(panels, panels$panel)) {
  number <- panel$panel[1]
  means <- aggregate(score ~ assessor + sample + flight, panel, mean)
  both <- merge(means[means$flight == "blind", ], means[means$flight == "open", ],
                by = c("assessor", "sample"))
  own <- both[both$assessor == "T1", ]
  test <- t.test(own$score.y, own$score.x, paired = TRUE)
  add(number, "T1", "t.test", nrow(own), test$estimate, test$conf.int[1], test$conf.int[2])
  both$difference <- both$score.y - both$score.x
  people <- aggregate(difference ~ assessor, both, mean)$difference
  test <- t.test(people)
  add(number, "everybody", "t.test", length(people), test$estimate, test$conf.int[1],
      test$conf.int[2])
  if (number %% 2 == 1) {
    fit <- lmer(difference ~ 1 + (1 | assessor), both, control = control)
    # On the boundary, where assessors do not differ, the model has other degrees of freedom.
    if (isSingular(fit)) next
    row <- coef(summary(fit))[1, ]
    reach <- qt(0.975, row[["df"]]) * row[["Std. Error"]]
    add(number, "everybody", "lmer", length(people), row[["Estimate"]],
        row[["Estimate"]] - reach, row[["Estimate"]] + reach)
  }
}
keep(format(found, digits = 12, trim = TRUE), "open_flight.csv")
