# Reference values for the default priors of few assessors: Rscript tests/reference/default_spreads.R
# Writes default_spreads.csv: REML standard deviations of open data as shares of their scale length.
# Data: french_fries of reshape2; wine of ordinal; carrots, ham and TVbo of lmerTest.
suppressMessages({library(lme4); library(lmerTest); library(ordinal); library(reshape2)})
here <- sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE))
path <- file.path(dirname(here), "default_spreads.csv")
rows <- list()
add <- function(data, kind, attribute, length, table, replicated) {
  table <- table[!is.na(table$y), ]
  table$who <- factor(table$who); table$what <- factor(table$what)
  terms <- if (replicated) y ~ (1 | who) + (1 | what) + (1 | who:what) else y ~ (1 | who) + (1 | what)
  found <- as.data.frame(VarCorr(suppressMessages(lmer(terms, table))))
  sd <- function(name) { at <- found$grp == name; if (any(at)) found$sdcor[at] / length else NA }
  rows[[length(rows) + 1]] <<- data.frame(
    data = data, kind = kind, attribute = attribute, scale_length = length,
    assessors = nlevels(table$who), samples = nlevels(table$what),
    sample = sd("what"), interaction = sd("who:what"), residual = sd("Residual"))
}
for (name in c("potato", "buttery", "grassy", "rancid", "painty")) {
  fries <- data.frame(y = french_fries[[name]], who = french_fries$subject,
                      what = paste(french_fries$time, french_fries$treatment))
  add("french_fries", "taste", name, 15, fries, TRUE)
}
add("wine", "taste", "bitterness", 100,
    data.frame(y = wine$response, who = wine$judge, what = paste(wine$temp, wine$contact)), TRUE)
data(carrots, package = "lmerTest")
for (name in c("Sweetness", "Bitter", "Crisp"))
  add("carrots", "taste", name, 6,
      data.frame(y = carrots[[name]], who = carrots$Consumer, what = carrots$Product), FALSE)
add("carrots", "liking", "Preference", 6,
    data.frame(y = carrots$Preference, who = carrots$Consumer, what = carrots$Product), FALSE)
data(ham, package = "lmerTest")
add("ham", "liking", "Informed.liking", 8,
    data.frame(y = ham$Informed.liking, who = ham$Consumer, what = ham$Product), TRUE)
data(TVbo, package = "lmerTest")
for (name in names(TVbo)[-(1:4)])
  add("TVbo", "appearance", name, 15,
      data.frame(y = TVbo[[name]], who = TVbo$Assessor, what = paste(TVbo$TVset, TVbo$Picture)), TRUE)
table <- do.call(rbind, rows)
versions <- paste(sapply(c("lme4", "lmerTest", "ordinal", "reshape2"),
                         function(p) paste(p, packageVersion(p))), collapse = ", ")
writeLines(c(sprintf("# made by tests/reference/default_spreads.R on %s; do not edit", Sys.Date()),
             sprintf("# R %s, %s", getRversion(), versions)), path)
suppressWarnings(write.table(format(table, digits = 6, trim = TRUE), path, append = TRUE, sep = ",",
                             row.names = FALSE, quote = FALSE))
