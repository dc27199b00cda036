# Reference values for tests/analysis/anova/test_sessions_r.py: Rscript tests/reference/sessions.R
# Writes sessions_panels.csv (24 unbalanced random tables) and sessions.csv (what R makes of them
# and of french_fries of reshape2): F, df and p of the samples with sessions random, and of
# sample x session with sessions fixed.
suppressMessages({library(lmerTest); library(reshape2)})
here <- sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE))
folder <- dirname(here)
RNGkind("Mersenne-Twister", "Inversion", "Rejection")
set.seed(20261126)
head_lines <- function() c(
  sprintf("# made by tests/reference/sessions.R on %s; do not edit", Sys.Date()),
  sprintf("# R %s, lme4 %s, lmerTest %s, reshape2 %s", getRversion(), packageVersion("lme4"),
          packageVersion("lmerTest"), packageVersion("reshape2")))
keep <- function(table, name) {
  path <- file.path(folder, name)
  writeLines(head_lines(), path)
  suppressWarnings(write.table(table, path, append = TRUE, sep = ",", row.names = FALSE,
                               quote = FALSE, na = ""))
}
control <- lmerControl(check.conv.singular = .makeCC("ignore", 1e-4), optCtrl = list(
  xtol_abs = 1e-12, xtol_rel = 1e-12, ftol_abs = 1e-14, ftol_rel = 1e-15, maxeval = 100000))
one_panel <- function(number) {
  a <- sample(4:9, 1); s <- sample(3:5, 1); t <- sample(3:6, 1); r <- sample(1:2, 1)
  panel <- expand.grid(replicate = seq_len(r), session = seq_len(t), assessor = paste0("T", seq_len(a)),
                       sample = LETTERS[seq_len(s)], stringsAsFactors = FALSE)
  draw <- function(sd, ...) { level <- as.integer(factor(paste(...))); rnorm(max(level), 0, sd)[level] }
  sds <- runif(6, 0.2, 1)
  panel$score <- round(5 + draw(0.4, panel$sample) + draw(sds[1], panel$assessor) +
    draw(sds[2], panel$assessor, panel$sample) + draw(sds[3], panel$session) +
    draw(sds[4], panel$assessor, panel$session) + draw(sds[5], panel$sample, panel$session) +
    rnorm(nrow(panel), 0, 0.7), 2)
  # Some scores are missing, and somebody misses a whole session.
  panel <- panel[runif(nrow(panel)) > runif(1, 0.03, 0.15), ]
  panel <- panel[!(panel$assessor == "T1" & panel$session == 1), ]
  panel$panel <- number
  panel[c("panel", "session", "assessor", "sample", "replicate", "score")]
}
panels <- do.call(rbind, lapply(1:24, one_panel))
keep(panels, "sessions_panels.csv")
fries <- do.call(rbind, lapply(c("potato", "buttery", "grassy", "rancid", "painty"), function(name)
  data.frame(panel = name, session = french_fries$time, assessor = french_fries$subject,
             sample = french_fries$treatment, score = french_fries[[name]])))
fries <- fries[!is.na(fries$score), ]
found <- NULL
add <- function(panel, question, test)
  found <<- rbind(found, data.frame(panel, question, F = test[["F value"]], df_num = test[["NumDF"]],
                                    df_den = test[["DenDF"]], p = test[["Pr(>F)"]]))
judge <- function(table) {
  name <- table$panel[1]
  for (column in c("session", "assessor", "sample")) table[[column]] <- factor(table[[column]])
  general <- lmer(score ~ sample + (1|assessor) + (1|assessor:sample) + (1|session) +
                    (1|assessor:session) + (1|sample:session), table, control = control)
  add(name, "sessions in general", anova(general)[1, ])
  repeated <- max(table(table$assessor, table$sample, table$session)) > 1
  terms <- score ~ sample * session + (1|assessor) + (1|assessor:sample) + (1|assessor:session)
  if (repeated) terms <- update(terms, . ~ . + (1|assessor:sample:session))
  these <- lmer(terms, table, control = control)
  add(name, "change between these sessions", anova(these)["sample:session", ])
}
for (table in split(panels, panels$panel)) judge(table)
for (table in split(fries, fries$panel)) judge(table)
keep(format(found, digits = 10, trim = TRUE), "sessions.csv")
