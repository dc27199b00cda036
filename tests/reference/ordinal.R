# Cumulative-link (mixed) models with R's package ordinal, on the data sets it ships:
# wine (Randall 1989) and soup (Christensen, Cleaver and Brockhoff 2011).
# Run from the root of the project: Rscript tests/reference/ordinal.R
suppressMessages(library(ordinal))
options(digits = 15)
rows <- list()
put <- function(fit, name, value) {
  rows[[length(rows) + 1]] <<- data.frame(fit = fit, name = name, value = as.numeric(value))
}
keep <- function(fit, model, null = NULL) {
  table <- coef(summary(model))
  for (term in rownames(table)) {
    put(fit, paste0("estimate:", term), table[term, "Estimate"])
    put(fit, paste0("se:", term), table[term, "Std. Error"])
  }
  put(fit, "loglik", logLik(model))
  if (inherits(model, "clmm")) {
    for (group in names(VarCorr(model)))
      put(fit, paste0("variance:", group), VarCorr(model)[[group]][1, 1])
  }
  if (!is.null(null)) put(fit, "lr", 2 * (logLik(model) - logLik(null)))
}
# Tighter gradient tolerances make the numerical Hessian of this package worse, not better.
data(wine); data(soup)
wine$prod <- interaction(wine$temp, wine$contact, sep = "_")
holes <- wine[-c(1, 2, 11, 27, 44, 45, 60), ]

keep("wine_clm", clm(rating ~ temp + contact, data = wine), clm(rating ~ 1, data = wine))
keep("wine_clm_probit", clm(rating ~ temp + contact, data = wine, link = "probit"))
keep("wine_laplace", clmm(rating ~ temp + contact + (1 | judge), data = wine),
     clmm(rating ~ 1 + (1 | judge), data = wine))
keep("wine_agq10",
     clmm(rating ~ temp + contact + (1 | judge), data = wine, nAGQ = 10),
     clmm(rating ~ 1 + (1 | judge), data = wine, nAGQ = 10))
keep("wine_probit",
     clmm(rating ~ temp + contact + (1 | judge), data = wine, link = "probit"))
keep("wine_prod", clmm(rating ~ prod + (1 | judge), data = wine))
keep("wine_holes", clmm(rating ~ prod + (1 | judge), data = holes))
# With the usual tolerances two fits stop 1.4e-4 below and 3e-6 above the maximum.
exact <- clmm.control(gradTol = 1e-9, maxIter = 500)
put("wine_holes_tight", "loglik", logLik(suppressWarnings(
  clmm(rating ~ prod + (1 | judge), data = holes, control = exact))))
put("wine_laplace_tight", "loglik", logLik(suppressWarnings(
  clmm(rating ~ temp + contact + (1 | judge), data = wine, control = exact))))
keep("wine_holes_agq7",
     clmm(rating ~ prod + (1 | judge), data = holes, nAGQ = 7))
soup <- droplevels(soup[as.integer(as.character(soup$RESP)) <= 60, ])
soup$cell <- interaction(soup$RESP, soup$PRODID)
keep("soup60_both", clmm(SURENESS ~ PRODID + (1 | RESP) + (1 | cell), data = soup))

file <- "tests/reference/ordinal.csv"
writeLines(c(
  "# tests/reference/ordinal.R",
  paste0("# ", R.version.string, "; ordinal ", packageVersion("ordinal"), "; ", Sys.Date())
), file)
out <- do.call(rbind, rows)
out$value <- format(out$value, digits = 12, scientific = TRUE, trim = TRUE)
suppressWarnings(write.table(out, file, sep = ",", row.names = FALSE, quote = FALSE, append = TRUE))
