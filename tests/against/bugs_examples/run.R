# Kidney and mice of BUGS Examples volume I in JAGS, with the priors printed there.
# Rscript run.R <folder with frailty_kidney.csv and frailty_mice.csv> <folder to write to>
# Ages are centred while sampling, which the flat priors do not notice, because the plain form
# hardly mixes (the benchmark that comes with the examples warns of it).
args <- commandArgs(TRUE)
suppressMessages({library(rjags); library(coda)})

kidney <- read.csv(file.path(args[1], "frailty_kidney.csv"), comment.char = "#", stringsAsFactors = FALSE)
kidney_model <- "model {
  for (i in 1:76) {
    censored[i] ~ dinterval(t[i], limit[i])
    t[i] ~ dweib(r, mu[i])
    log(mu[i]) <- centre + b.age * age[i] + b.sex * sex[i] + b.dis[disease[i]] + b[patient[i]]
  }
  for (p in 1:38) { b[p] ~ dnorm(0, tau) }
  centre ~ dnorm(0, 0.0001)
  b.age ~ dnorm(0, 0.0001)
  b.sex ~ dnorm(0, 0.0001)
  b.dis[1] <- 0
  for (k in 2:4) { b.dis[k] ~ dnorm(0, 0.0001) }
  tau ~ dgamma(0.001, 0.001)
  r ~ dgamma(1, 0.001)
  sigma <- 1 / sqrt(tau)
  alpha <- centre - b.age * shift
}"
seen <- kidney$infected == 1
data <- list(censored = as.integer(!seen), limit = ifelse(seen, kidney$days + 1, kidney$days),
             t = ifelse(seen, kidney$days, NA), shift = mean(kidney$age),
             age = kidney$age - mean(kidney$age), sex = kidney$sex - 1, patient = kidney$patient,
             disease = match(kidney$disease, c("Other", "GN", "AN", "PKD")))
start <- function(seed) list(t = ifelse(seen, NA, kidney$days + 10), centre = -4, r = 1, tau = 2,
  .RNG.name = "base::Mersenne-Twister", .RNG.seed = seed)
m <- jags.model(textConnection(kidney_model), data, lapply(1:4, start), 4, 2000, quiet = TRUE)
update(m, 5000, progress.bar = "none")
x <- coda.samples(m, c("alpha", "b.age", "b.sex", "b.dis", "r", "sigma"), 60000, 10, progress.bar = "none")
s1 <- summary(x)$statistics

mice <- read.csv(file.path(args[1], "frailty_mice.csv"), comment.char = "#", stringsAsFactors = FALSE)
mice_model <- "model {
  for (i in 1:80) {
    censored[i] ~ dinterval(t[i], limit[i])
    t[i] ~ dweib(r, exp(beta[group[i]]))
  }
  for (j in 1:4) {
    beta[j] ~ dnorm(0, 0.0001)
    median[j] <- pow(log(2) * exp(-beta[j]), 1 / r)
  }
  r ~ dgamma(1, 0.0001)
}"
seen <- mice$died == 1
data <- list(censored = as.integer(!seen), limit = ifelse(seen, mice$weeks + 1, mice$weeks),
             t = ifelse(seen, mice$weeks, NA), group = match(mice$group, unique(mice$group)))
start <- function(seed) list(t = ifelse(seen, NA, mice$weeks + 5), r = 2, beta = rep(-7, 4),
  .RNG.name = "base::Mersenne-Twister", .RNG.seed = seed)
m <- jags.model(textConnection(mice_model), data, lapply(1:4, start), 4, 2000, quiet = TRUE)
update(m, 5000, progress.bar = "none")
y <- coda.samples(m, c("median", "r"), 60000, 10, progress.bar = "none")
s2 <- summary(y)$statistics

out <- rbind(data.frame(example = "kidney", name = rownames(s1), signif(s1[, c(1, 2, 4)], 6)),
             data.frame(example = "mice", name = rownames(s2), signif(s2[, c(1, 2, 4)], 6)))
names(out)[3:5] <- c("mean", "sd", "mcse")
out <- out[out$sd > 0, ]
con <- file(file.path(args[2], "jags.csv"), "w")
writeLines(sprintf("# JAGS %s, rjags %s, R %s.%s, %s; 4 chains of 60000, seeds 1 to 4", jags.version(),
                   packageVersion("rjags"), R.version$major, R.version$minor, Sys.Date()), con)
write.csv(out, con, row.names = FALSE, quote = FALSE)
close(con)
print(out, row.names = FALSE)
print(gelman.diag(x[, colnames(x[[1]]) != "b.dis[1]"], multivariate = FALSE)$psrf[, 1])
