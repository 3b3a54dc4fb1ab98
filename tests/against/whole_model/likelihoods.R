# Likelihoods of single foundings at parameters drawn from the priors.
# Rscript likelihoods.R <folder of a study> ...   Writes drawn.csv and likelihoods.csv into each.

here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)))
suppressMessages(library(rstan))
source(file.path(here, "paths.R"))
source(file.path(here, "compiled.R"))
DRAWS <- 12L

half <- function(n, scale) abs(rnorm(n, 0, scale))
drawn <- function(data) list(  # half as wide as the priors, so that few foundings are next to impossible
  mu_raw = rnorm(6, 0, 0.5), between = half(6, c(0.5, 0.7, 0.4, 1, 0.8, 0.3) / 2),
  raw = matrix(rnorm(6 * data$G), 6), size_step = rnorm(1, 0, 0.4),
  size_step_rivalry = rnorm(1, 0, 0.3), multi_days = rnorm(1, -0.05, 0.25),
  within_days = rlnorm(1, -1.6, 0.3), frailty_sd = half(1, 0.7), mated = rbeta(1, 6, 1.5),
  seen_adds = rnorm(1, 1, 0.7), walk_sd = half(2, 0.5), walk = rnorm(7),
  keeper_sd = half(3, c(0.5, 0.5, 0.1)), keeper_raw = matrix(rnorm(3 * data$NK), 3),
  flight_sd = half(2, 0.5), flight_raw = matrix(rnorm(2 * data$NL), 2), z = rnorm(data$F))

flat <- function(values) unlist(lapply(names(values), function(name) {
  v <- values[[name]]
  if (is.null(dim(v)) || length(dim(v)) == 1)
    setNames(c(v), if (length(v) == 1 && is.null(dim(v))) name else sprintf("%s[%d]", name, seq_along(v)))
  else setNames(c(v), sprintf("%s[%d,%d]", name, c(row(v)), c(col(v))))
}))

for (folder in commandArgs(TRUE)) {
  made <- paths_of(folder, nodes = 40)
  silent <- capture.output(made_fit <- suppressMessages(sampling(program, made$stan, chains = 0)))
  set.seed(77)
  wide <- likely <- NULL
  for (d in seq_len(DRAWS)) {
    all <- flat(constrain_pars(made_fit, unconstrain_pars(made_fit, drawn(made$stan))))
    wide <- cbind(wide, sprintf("%.10g", unlist(named(function(n) all[[n]], made))))
    likely <- cbind(likely, sprintf("%.6f", all[sprintf("log_lik[%d]", seq_len(made$stan$F))]))
  }
  colnames(wide) <- colnames(likely) <- paste0("draw", seq_len(DRAWS))
  rows <- names(named(function(n) all[[n]], made))
  put(folder, data.frame(name = rows, wide), "drawn.csv", "seed 77")
  put(folder, data.frame(founding = made$names$founding, likely), "likelihoods.csv", "seed 77")
}
