# The special cases in R: msm, lme4, survival, and a cure model maximised here (no package for
# it in Debian). Reads looks.csv, writes fits.csv. Rscript fits.R <folder>
folder <- commandArgs(TRUE)[1]
suppressMessages({library(msm); library(lme4); library(survival)})
looks <- read.csv(file.path(folder, "looks.csv"), stringsAsFactors = FALSE)
out <- NULL
say <- function(case, name, value) out <<- rbind(out, data.frame(case, name, value = sprintf("%.10g", value)))

panel <- function(case, from) {  # states: 1 two queens, 2 one, 3 none
  own <- looks[looks$case == case, ]
  first <- own[!duplicated(own$founding), ]
  first$day <- from; first$queens <- first$size
  own <- rbind(first, own)
  own <- own[order(own$founding, own$day), ]
  own$state <- 3 - own$queens
  own
}
tight <- list(reltol = 1e-15, maxit = 5000)
d <- panel("company", 0)
q <- rbind(c(0, 0.02, 0), c(0, 0, 0.01), c(0, 0, 0))
f <- msm(state ~ day, founding, data = d, qmatrix = q, control = tight)
r <- qmatrix.msm(f, ci = "none")
say("company", "two_to_one", r[1, 2]); say("company", "one_to_none", r[2, 3])
say("company", "loglik", as.numeric(logLik(f)))
p <- pmatrix.msm(f, t = 60)
say("company", "alive_60", (p[1, 2] + 2 * p[1, 1]) / 2)

d <- panel("rivalry", 0.5)
q <- rbind(c(0, 0.02, 0.01), c(0, 0, 0.01), c(0, 0, 0))
f <- msm(state ~ day, founding, data = d, qmatrix = q, control = tight)
r <- qmatrix.msm(f, ci = "none")
say("rivalry", "two_to_one", r[1, 2]); say("rivalry", "two_to_none", r[1, 3])
say("rivalry", "one_to_none", r[2, 3]); say("rivalry", "loglik", as.numeric(logLik(f)))
for (t in c(30, 60, 90)) {
  p <- pmatrix.msm(f, t = t)
  say("rivalry", sprintf("none_%d", t), p[1, 3]); say("rivalry", sprintf("one_%d", t), p[1, 2])
  say("rivalry", sprintf("several_%d", t), p[1, 1])
}

own <- looks[looks$case == "cure", ]
bracket <- do.call(rbind, lapply(split(own, own$founding), function(x) {
  w <- which(x$workers == 1)
  data.frame(after = if (length(w)) c(0, x$day)[w[1]] else max(x$day),
             by = if (length(w)) x$day[w[1]] else NA)
}))
bracket$after[bracket$after == 0] <- NA
f <- survreg(Surv(after, by, type = "interval2") ~ 1, bracket, dist = "lognormal",
             subset = !is.na(by), control = survreg.control(rel.tolerance = 1e-13))
say("seen", "log_day", coef(f)); say("seen", "within_days", f$scale); say("seen", "loglik", f$loglik[1])
low <- ifelse(is.na(bracket$after), 0, bracket$after)
minus <- function(v) {  # own maximum likelihood: share p, log-normal day
  p <- plogis(v[1])
  upper <- ifelse(is.na(bracket$by), 0, plnorm(bracket$by, v[2], exp(v[3])))
  got <- p * (upper - plnorm(low, v[2], exp(v[3])))
  -sum(log(ifelse(is.na(bracket$by), 1 - p * plnorm(low, v[2], exp(v[3])), got)))
}
g <- optim(c(1, 3.8, -1.4), minus, method = "BFGS", control = list(reltol = 1e-15, maxit = 1000))
g <- optim(g$par, minus, method = "Nelder-Mead", control = list(reltol = 1e-15, maxit = 5000))
say("cure", "mated", plogis(g$par[1])); say("cure", "log_day", g$par[2])
say("cure", "within_days", exp(g$par[3])); say("cure", "loglik", -g$value)
for (t in c(30, 45, 60, 90)) say("cure", sprintf("by_%d", t), plogis(g$par[1]) * plnorm(t, g$par[2], exp(g$par[3])))

own <- looks[looks$case == "frailty", ]
own <- do.call(rbind, lapply(split(own, own$founding), function(x) {
  x$after <- c(0, head(x$day, -1)); x$there <- c(x$size[1], head(x$queens, -1)); x
}))
own$lost <- own$there - own$queens
f <- glmer(cbind(lost, queens) ~ 1 + (1 | founding), own, binomial("cloglog"), nAGQ = 25,
           offset = log(day - after), control = glmerControl(optimizer = "bobyqa",
           optCtrl = list(rhoend = 1e-10, maxfun = 1e5)))
say("frailty", "log_hazard", fixef(f)); say("frailty", "sd", sqrt(unlist(VarCorr(f))))
# share of queens alive at day 60, averaged over the frailty by R's own integral
alive <- integrate(function(z) dnorm(z) * exp(-60 * exp(fixef(f) + sqrt(unlist(VarCorr(f))) * z)), -9, 9,
                   rel.tol = 1e-10)$value
say("frailty", "alive_60", alive)

con <- file(file.path(folder, "fits.csv"), "w")
writeLines(sprintf("# R %s.%s: msm %s, lme4 %s, survival %s; %s", R.version$major, R.version$minor,
                   packageVersion("msm"), packageVersion("lme4"), packageVersion("survival"), Sys.Date()), con)
write.csv(out, con, row.names = FALSE, quote = FALSE)
close(con)
