# MASS::mca on farms: squared correlations are the eigenvalues of the indicator matrix.
suppressMessages(library(MASS))
d <- mca(farms, nf = 4)$d
con <- "tests/reference/mca.csv"
writeLines(c(
  sprintf("# tests/reference/mca.R, R %s, MASS %s, %s", getRversion(), packageVersion("MASS"), "2026-11-25"),
  "dimension,eigenvalue",
  sprintf("%d,%.10f", 1:4, d^2)), con)
