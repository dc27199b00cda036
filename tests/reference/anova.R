# Reference values for tests/analysis/test_anova_r.py: Rscript tests/reference/anova.R
# Writes anova_panel.csv (the simulated panel) and anova.csv (what R makes of it).
suppressMessages({library(lmerTest); library(pbkrtest)})
here <- sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE))
folder <- dirname(here)
RNGkind("Mersenne-Twister", "Inversion", "Rejection")
set.seed(20260110)
head_lines <- function() c(
  sprintf("# made by tests/reference/anova.R on %s; do not edit", Sys.Date()),
  sprintf("# R %s, lme4 %s, lmerTest %s, pbkrtest %s", getRversion(), packageVersion("lme4"),
          packageVersion("lmerTest"), packageVersion("pbkrtest")))
keep <- function(table, name) {
  path <- file.path(folder, name)
  writeLines(head_lines(), path)
  suppressWarnings(write.table(table, path, append = TRUE, sep = ",", row.names = FALSE,
                               quote = FALSE, na = ""))
}

# Eight assessors, 3 fractions x 2 pasteurised, 3 sessions, one score a session; places drawn.
# In "interaction" assessors disagree; in "agreeing" they agree better than chance
# (assessor x sample below 0); "carried" has a place and a carry-over effect.
panel <- expand.grid(session = 1:3, assessor = sprintf("T%d", 1:8), sample = LETTERS[1:6],
                     stringsAsFactors = FALSE)
panel$fraction <- c("free", "free", "clear", "clear", "cloudy", "cloudy")[match(panel$sample, LETTERS)]
panel$pasteurised <- c("no", "yes")[1 + (match(panel$sample, LETTERS) %% 2 == 0)]
n <- nrow(panel)
panel$position <- ave(runif(n), panel$session, panel$assessor, FUN = rank)
panel <- panel[order(panel$session, panel$assessor, panel$position), ]
before <- ave(seq_len(n), panel$session, panel$assessor, FUN = function(i) c(0, i[-length(i)]))
panel$before <- c("none", panel$sample)[before + 1]
cell <- factor(paste(panel$assessor, panel$sample))
base <- 5 + rnorm(8, 0, 1.2)[as.integer(factor(panel$assessor))] +
  c(0, .3, .5, .4, 1.1, .9)[as.integer(factor(panel$sample))]
noise <- rnorm(n)
of <- function(...) as.integer(factor(paste(...)))
panel$interaction <- base + rnorm(nlevels(cell), 0, .8)[as.integer(cell)] + noise +
  rnorm(24, 0, .9)[of(panel$assessor, panel$fraction)] +
  rnorm(16, 0, .7)[of(panel$assessor, panel$pasteurised)]
centred <- rnorm(n)
centred <- centred - 0.9 * ave(centred, cell)
panel$agreeing <- base + centred
panel$carried <- base + noise + 0.15 * (panel$position - 3.5) + (panel$before == "F") * 0.8 -
  (panel$before == "A") * 0.8 + rnorm(3, 0, .4)[panel$session] +
  rnorm(24, 0, .5)[of(panel$assessor, panel$session)] + rnorm(48, 0, .8)[as.integer(cell)]
numbers <- c("interaction", "agreeing", "carried")
panel[numbers] <- round(panel[numbers], 2)
panel[sample(n, 14), numbers] <- NA  # served, but not scored
rownames(panel) <- NULL
keep(panel, "anova_panel.csv")

for (name in c("session", "assessor", "sample", "fraction", "pasteurised"))
  panel[[name]] <- factor(panel[[name]])
contrasts(panel$fraction) <- contr.sum(3)
contrasts(panel$pasteurised) <- contr.sum(2)
# effect of the sample before: columns that sum to 0 over samples, 0 for the first of a flight
sums <- rbind(contr.sum(6), 0)
panel$carry_over <- sums[match(panel$before, c(LETTERS[1:6], "none")), ]
panel$place <- panel$position - 3.5
panel$at <- factor(panel$position)
contrasts(panel$at) <- contr.sum(6)
contrasts(panel$session) <- contr.sum(3)

control <- lmerControl(check.conv.singular = .makeCC("ignore", 1e-4), optCtrl = list(
  xtol_abs = 1e-12, xtol_rel = 1e-12, ftol_abs = 1e-14, ftol_rel = 1e-15, maxeval = 100000))
found <- NULL
add <- function(model, attribute, method, what, name, value)
  found <<- rbind(found, data.frame(model, attribute, method, what, name, value))
record <- function(model, attribute, formula, means = FALSE) {
  fit <- lmer(formula, panel, control = control)
  add(model, attribute, "both", "criterion", "REML", REMLcrit(fit))
  for (name in names(fixef(fit)))
    add(model, attribute, "both", "coefficient", name, fixef(fit)[[name]])
  parts <- as.data.frame(VarCorr(fit))
  for (i in seq_len(nrow(parts)))
    add(model, attribute, "both", "component", parts$grp[i], parts$vcov[i])
  for (method in c("Satterthwaite", "Kenward-Roger")) {
    table <- anova(fit, ddf = method)
    if ("carry_over" %in% rownames(table)) {  # differences of levels, as for factors
      contrast <- matrix(0, 5, length(fixef(fit)))
      contrast[, grep("carry_over", names(fixef(fit)))] <- t(t(sums[2:6, ]) - sums[1, ])
      table["carry_over", ] <- contestMD(fit, contrast, ddf = method)[names(table)]
    }
    for (i in seq_len(nrow(table))) for (what in c("F value", "NumDF", "DenDF", "Pr(>F)"))
      add(model, attribute, method, what, rownames(table)[i], table[i, what])
    if (means) {
      shown <- as.data.frame(ls_means(fit, ddf = method))
      pairs <- as.data.frame(ls_means(fit, pairwise = TRUE, ddf = method))
      for (part in list(shown, pairs)) for (i in seq_len(nrow(part)))
        for (what in c("Estimate", "Std. Error", "df", "lower", "upper"))
          add(model, attribute, method, what, sub("^sample", "", rownames(part)[i]), part[i, what])
    }
  }
}
for (attribute in c("interaction", "agreeing")) {
  record("samples", attribute, as.formula(paste(attribute,
    "~ sample + (1|assessor) + (1|assessor:sample)")), means = TRUE)
  record("factorial", attribute, as.formula(paste(attribute,
    "~ fraction * pasteurised + (1|assessor) + (1|assessor:fraction) +",
    "(1|assessor:pasteurised) + (1|assessor:sample)")))
}
record("order", "carried", carried ~ sample + place + carry_over + (1|assessor) + (1|assessor:sample))
record("places", "carried", carried ~ sample + at + (1|assessor) + (1|assessor:sample))
record("session fixed", "carried",
       carried ~ sample + session + (1|assessor) + (1|assessor:sample) + (1|assessor:session))
record("session random", "carried",
       carried ~ sample + (1|assessor) + (1|assessor:sample) + (1|session) + (1|assessor:session),
       means = TRUE)
keep(found, "anova.csv")
