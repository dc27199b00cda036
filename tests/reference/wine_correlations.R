# Correlations of the 27 active variables of FactoMineR's wine data (21 Loire wines).
# The data themselves (GPL) are not kept here; all that the tests hold does not
# change when the rows are rotated, so correlations are enough.
suppressMessages(library(FactoMineR))
data(wine)
r <- cor(wine[, 3:29])
lower <- which(lower.tri(r), arr.ind = TRUE)
con <- "tests/reference/wine_correlations.csv"
writeLines(c(
  "# tests/reference/wine_correlations.R, data set wine of FactoMineR 2.7; lower triangle by columns",
  "row,column,r",
  sprintf("%d,%d,%.12f", lower[, 1], lower[, 2], r[lower])), con)
