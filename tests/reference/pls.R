# Reference values for analysis/link/pls_regression.py. Run from the root of the repository: make reference
# Data: oliveoil (16 oils, 5 chemical and 6 sensory variables) and gasoline (60 samples,
# octane and 401 wavelengths) as published with the R package pls (Mevik & Wehrens 2007,
# J. Stat. Softw. 18(2)). Partial least squares without scaling depends on X only through
# X X', so the 50 spectra are stored as 50 rotated columns.
suppressMessages(library(pls))
head_line <- function(file) {
  writeLines(sprintf("# tests/reference/pls.R, %s, pls %s, %s", R.version.string,
                     packageVersion("pls"), format(Sys.Date())), file)
}
put <- function(table, file) {
  head_line(file)
  suppressWarnings(write.table(table, file, append = TRUE, sep = ",", row.names = FALSE,
                               quote = FALSE))
}
options(digits = 12)
data(oliveoil)
put(data.frame(unclass(oliveoil$chemical), unclass(oliveoil$sensory)), "tests/reference/pls_oliveoil.csv")
values <- NULL
add <- function(set, what, numbers) {
  values <<- rbind(values, data.frame(set = set, what = what, at = seq_along(numbers) - 1,
                                      value = signif(numbers, 12)))
}
fit <- plsr(sensory ~ chemical, ncomp = 4, data = oliveoil, scale = TRUE)
add("oliveoil", "x_explained", explvar(fit))
for (name in colnames(oliveoil$sensory)) {
  one <- oliveoil
  rmsep <- numeric(5)
  errors <- matrix(NA, 16, 5)
  for (i in 1:16) {
    kept <- plsr(sensory ~ chemical, ncomp = 4, data = oliveoil[-i, ], scale = TRUE)
    errors[i, 1] <- mean(oliveoil$sensory[-i, name]) - oliveoil$sensory[i, name]
    for (a in 1:4)
      errors[i, a + 1] <- predict(kept, ncomp = a, newdata = oliveoil[i, ])[1, name, 1] -
        oliveoil$sensory[i, name]
  }
  add("oliveoil", paste0("rmsep_", name), sqrt(colMeans(errors^2)))
}
add("oliveoil", "coefficients_yellow_2", coef(fit, ncomp = 2)[, "yellow", 1])
add("oliveoil", "r2_yellow_2",
    1 - sum((fitted(fit)[, "yellow", 2] - oliveoil$sensory[, "yellow"])^2) /
      sum((oliveoil$sensory[, "yellow"] - mean(oliveoil$sensory[, "yellow"]))^2))
data(gasoline)
train <- gasoline[1:50, ]
turned <- svd(unclass(train$NIR))
put(data.frame(octane = train$octane,
               signif(turned$u %*% diag(turned$d), 12)), "tests/reference/pls_gasoline.csv")
loo <- plsr(octane ~ NIR, ncomp = 9, data = train, validation = "LOO")
add("gasoline", "rmsep", RMSEP(loo, estimate = "CV")$val[1, 1, ])
put(values, "tests/reference/pls.csv")
