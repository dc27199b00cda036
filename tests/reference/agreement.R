# Variance components of rating tables with holes, by REML.
# Writes agreement.csv beside this script: Rscript tests/reference/agreement.R
library(lme4)
here <- dirname(sub("--file=", "", grep("--file=", commandArgs(FALSE), value = TRUE)))
fit <- function(y, k) {
  d <- data.frame(y = y, t = factor(rep(seq_len(length(y) / k), each = k)),
                  j = factor(rep(seq_len(k), length(y) / k)))
  m <- lmer(y ~ 1 + (1 | t) + (1 | j), d, control = lmerControl(
    optimizer = "nloptwrap", optCtrl = list(xtol_abs = 1e-12, ftol_abs = 1e-12, maxeval = 1e5)))
  v <- as.data.frame(VarCorr(m))
  setNames(v$vcov, v$grp)[c("t", "j", "Residual")]
}
judges <- c(9,2,5,8, 6,1,3,2, 8,4,6,8, 7,1,2,6, 10,5,6,9, 6,2,4,7)
holes <- replace(judges, c(6, 15, 24), NA)
wine <- c(1,2,0,1, 1,3,3,2, 3,8,1,4, 6,4,3,3, 6,5,5,6, 7,5,6,2, 8,7,7,9, 9,9,9,8)
wine_holes <- replace(wine, c(2, 7, 12, 13, 28, 30), NA)
out <- rbind(judges = fit(judges, 4), judges_holes = fit(holes, 4),
             wine = fit(wine, 4), wine_holes = fit(wine_holes, 4))
file <- file(file.path(here, "agreement.csv"), "w")
writeLines(sprintf("# agreement.R, %s, lme4 %s, %s", R.version.string,
                   packageVersion("lme4"), Sys.Date()), file)
write.csv(data.frame(table = rownames(out), sample = out[, 1], assessor = out[, 2],
                     residual = out[, 3]), file, row.names = FALSE)
close(file)
