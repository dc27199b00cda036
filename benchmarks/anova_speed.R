# The other side of anova_speed.py: reads its table, fits with lmerTest, writes F, df, p and times.
# Called by anova_speed.py; needs r-cran-lme4 and r-cran-lmertest.
suppressMessages(library(lmerTest))
arguments <- commandArgs(trailingOnly = TRUE)
data <- read.csv(arguments[1], colClasses = c("character", "factor", "factor", "numeric", "numeric"))
parts <- split(data, data$attribute)
control <- lmerControl(check.conv.singular = .makeCC("ignore", 1e-4))
tight <- lmerControl(check.conv.singular = .makeCC("ignore", 1e-4),
                     optCtrl = list(xtol_abs = 1e-12, xtol_rel = 1e-12, ftol_abs = 1e-14,
                                    ftol_rel = 1e-15, maxeval = 100000))
one <- function(part, control) {
  model <- lmer(score ~ sample + (1 | assessor) + (1 | assessor:sample), part, control = control)
  table <- anova(model)
  data.frame(attribute = part$attribute[1], F = table$`F value`, df_den = table$DenDF,
             p = table$`Pr(>F)`, singular = isSingular(model))
}
invisible(one(parts[[1]], control))  # load everything before the clock starts
rounds <- as.integer(arguments[3])
seconds <- sapply(seq_len(rounds), function(i) system.time(
  found <<- do.call(rbind, lapply(parts, one, control)))[["elapsed"]])
better <- do.call(rbind, lapply(parts, one, tight))[c("F", "df_den", "p")]
names(better) <- paste0(names(better), "_tight")
write.csv(cbind(found, better), arguments[2], row.names = FALSE)
cat(sprintf("R %s, lme4 %s, lmerTest %s\n", getRversion(), packageVersion("lme4"),
            packageVersion("lmerTest")))
cat(min(seconds), "\n")
