# Fit a study with Stan and follow new foundings of its posterior.
# Rscript run.R <folder of a study> [draws per chain] [seed] [cores]
# Writes parameters.csv, likelihoods.csv, weighed.csv and outcomes.csv into that folder.

args <- commandArgs(TRUE)
folder <- args[1]
many <- if (length(args) > 1) as.integer(args[2]) else 1500L
seed <- if (length(args) > 2) as.integer(args[3]) else 4242L
cores <- if (length(args) > 3) as.integer(args[4]) else 1L
here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)))
suppressMessages(library(rstan))
source(file.path(here, "paths.R"))
source(file.path(here, "forward.R"))
CHAINS <- 4L
KEPT <- 250L      # draws per chain whose foundings are followed
FOLLOWED <- 1000L # foundings by draw, kind and number of queens
WEIGHED <- 3L     # draws per chain whose likelihoods are written

made <- paths_of(folder)
data <- made$stan
cached <- file.path(tempdir(), "..", "founding_model.rds")
program <- if (file.exists(cached)) readRDS(cached) else stan_model(file.path(here, "founding.stan"))
start <- function(chain) {
  set.seed(seed + chain)
  list(mu_raw = rnorm(6, 0, 0.3), between = runif(6, 0.1, 0.5),
       raw = matrix(rnorm(6 * data$G, 0, 0.3), 6), size_step = 0, size_step_rivalry = 0,
       multi_days = 0, within_days = 0.25, frailty_sd = 0.5, mated = 0.8, seen_adds = 1,
       walk_sd = c(0.3, 0.3), walk = rnorm(7, 0, 0.3), keeper_sd = c(0.2, 0.2, 0.1),
       keeper_raw = matrix(rnorm(3 * data$NK, 0, 0.3), 3), flight_sd = c(0.2, 0.2),
       flight_raw = matrix(rnorm(2 * data$NL, 0, 0.3), 2), z = rnorm(data$F, 0, 0.3))
}
fit <- sampling(program, data, chains = CHAINS, iter = many + 700, warmup = 700, cores = cores,
                seed = seed, init = start, refresh = 200, control = list(adapt_delta = 0.92))
saveRDS(fit, file.path(tempdir(), "..", paste0("fit_", basename(folder), ".rds")))
divergent <- sum(sapply(get_sampler_params(fit, inc_warmup = FALSE), function(s) sum(s[, "divergent__"])))
a <- rstan::extract(fit, permuted = FALSE)  # draw, chain, parameter
keep <- round(seq(1, dim(a)[1], length.out = KEPT))

# parameters under the names of the model page
EFFECTS <- c("founding_hazard", "together", "worker_hazard", "rivalry", "last_fight", "first_worker")
cols <- list()
for (e in 1:6) {
  own <- lapply(seq_len(data$G), function(g) a[, , sprintf("effect[%d,%d]", e, g)])
  for (g in seq_len(data$G)) cols[[sprintf("%s[%s]", EFFECTS[e], made$names$genus[g])]] <- own[[g]]
  cols[[paste0(EFFECTS[e], "_mean")]] <- Reduce(`+`, own) / data$G
  cols[[paste0(EFFECTS[e], "_sd")]] <- a[, , sprintf("between[%d]", e)]
}
for (name in c("size_step", "size_step_rivalry", "multi_days", "within_days", "frailty_sd", "mated"))
  cols[[name]] <- a[, , name]
if (any(data$seen > 0)) cols[["seen"]] <- a[, , "seen_adds"]
for (i in 1:2) cols[[sprintf("walk_sd[%s]", c("before", "after")[i])]] <- a[, , sprintf("walk_sd[%d]", i)]
for (i in c(1, 2, 4, 5)) cols[[sprintf("level_before[%d]", i)]] <- a[, , sprintf("level1[%d]", i)]
for (i in 2:4) cols[[sprintf("level_after[%d]", i)]] <- a[, , sprintf("level2[%d]", i)]
PARTS <- c("before", "after", "first_worker")
for (i in 1:3) if (data$NK) {
  cols[[sprintf("keeper_%s_sd", PARTS[i])]] <- a[, , sprintf("keeper_sd[%d]", i)]
  for (j in seq_len(data$NK))
    cols[[sprintf("keeper_%s[%s]", PARTS[i], made$names$keeper[j])]] <- a[, , sprintf("by_keeper[%d,%d]", i, j)]
}
for (i in 1:2) if (data$NL) {
  cols[[sprintf("flight_%s_sd", PARTS[i])]] <- a[, , sprintf("flight_sd[%d]", i)]
  for (j in seq_len(data$NL))
    cols[[sprintf("flight_%s[%s]", PARTS[i], made$names$flight[j])]] <- a[, , sprintf("by_flight[%d,%d]", i, j)]
}
for (j in seq_len(data$F)) cols[[sprintf("frailty[%s]", made$names$founding[j])]] <- a[, , sprintf("z[%d]", j)]

summed <- function(m) {  # draws by chain
  e <- ess_bulk(m)
  c(mean = mean(m), sd = sd(m), mcse = mcse_mean(m), low = unname(quantile(m, 0.05)),
    high = unname(quantile(m, 0.95)), ess = e, rhat = Rhat(m))
}
mcse_mean <- function(m) sd(m) / sqrt(rstan::monitor(array(m, c(dim(m), 1)), warmup = 0, print = FALSE)[1, "n_eff"])
fixed <- sapply(cols, function(m) sd(m) == 0)
table <- t(sapply(cols[!fixed], summed))
version <- sprintf("# rstan %s, R %s.%s, %s; %d chains of %d, seed %d, %d divergent", packageVersion("rstan"),
                   R.version$major, R.version$minor, Sys.Date(), CHAINS, many, seed, divergent)
put <- function(frame, name) {
  con <- file(file.path(folder, name), "w")
  writeLines(version, con)
  write.csv(frame, con, row.names = FALSE, quote = FALSE, na = "")
  close(con)
}
put(data.frame(name = rownames(table), signif(table, 6)), "parameters.csv")

# draws for the likelihoods, with the frailty and the log likelihood of every founding
some <- round(seq(1, dim(a)[1], length.out = WEIGHED))
rows <- NULL
for (c in seq_len(CHAINS)) for (d in some)
  rows <- rbind(rows, data.frame(
    draw = sprintf("%d-%d", c, d), founding = made$names$founding,
    log_lik = sprintf("%.6f", sapply(seq_len(data$F), function(f) a[d, c, sprintf("log_lik[%d]", f)]))))
put(rows, "likelihoods.csv")
wide <- NULL
for (c in seq_len(CHAINS)) for (d in some)
  wide <- rbind(wide, c(draw = sprintf("%d-%d", c, d), sapply(cols, function(m) sprintf("%.8g", m[d, c]))))
put(data.frame(name = colnames(wide), t(wide)), "weighed.csv")

# new foundings
set.seed(seed + 99)
got <- NULL
sizes <- made$sizes
for (c in seq_len(CHAINS)) for (d in keep) {
  at <- function(name) unname(cols[[name]][d, c])
  common <- list(size_step = at("size_step"), size_step_rivalry = at("size_step_rivalry"),
                 multi_days = at("multi_days"), within_days = at("within_days"),
                 frailty_sd = at("frailty_sd"), mated = at("mated"),
                 level1 = c(at("level_before[1]"), at("level_before[2]"), 0, at("level_before[4]"),
                            at("level_before[5]")),
                 level2 = c(0, at("level_after[2]"), at("level_after[3]"), at("level_after[4]")))
  line <- c()
  for (g in c(seq_len(data$G), 0)) {
    own <- common
    for (e in 1:6) own[[EFFECTS[e]]] <-
      if (g) a[d, c, sprintf("effect[%d,%d]", e, g)]
      else a[d, c, sprintf("mu[%d]", e)] +
        if (e == 5 && data$one_fight) 0 else a[d, c, sprintf("between[%d]", e)] * rnorm(1)
    values <- of_draw(own, sizes, made$horizon, FOLLOWED)
    names(values) <- paste(names(values), if (g) made$names$genus[g] else "new", sep = "|")
    line <- c(line, values)
  }
  parts <- sub("\\|[^|]*$", "", names(line))
  real <- !grepl("\\|new$", names(line))
  each <- tapply(line[real], parts[real], mean)
  names(each) <- paste(names(each), "average", sep = "|")
  line <- c(line, each)
  if (is.null(got)) got <- matrix(NA, KEPT * CHAINS, length(line), dimnames = list(NULL, names(line)))
  got[(c - 1) * KEPT + match(d, keep), ] <- line
}
ok <- apply(got, 2, function(v) all(is.finite(v)))
table <- t(apply(got[, ok], 2, function(v) {
  m <- matrix(v, KEPT)
  if (sd(v) == 0) return(c(mean(v), 0, 0))
  c(mean(v), sd(v), mcse_mean(m))
}))
colnames(table) <- c("mean", "sd", "mcse")
keys <- do.call(rbind, strsplit(rownames(table), "|", fixed = TRUE))
colnames(keys) <- c("quantity", "reading", "day", "queens", "genus")
put(data.frame(keys, signif(table, 6)), "outcomes.csv")
cat("left out, not finite in every draw:", sum(!ok), "\n")
