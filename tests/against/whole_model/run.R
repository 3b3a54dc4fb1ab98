# Fit a study with Stan and follow new foundings of its posterior.
# Rscript run.R <folder of a study> [draws per chain] [seed] [chains] [one chain alone]
# With COHORT_SCRATCH set, chains that are done are found again, so that each may run by itself.
# Writes parameters.csv and outcomes.csv into that folder.

args <- commandArgs(TRUE)
folder <- args[1]
many <- if (length(args) > 1) as.integer(args[2]) else 500L
seed <- if (length(args) > 2) as.integer(args[3]) else 4242L
CHAINS <- if (length(args) > 3) as.integer(args[4]) else 4L
here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)))
suppressMessages(library(rstan))
source(file.path(here, "paths.R"))
source(file.path(here, "forward.R"))
source(file.path(here, "compiled.R"))
WARM <- 250L
KEPT <- 110L      # draws per chain whose foundings are followed
FOLLOWED <- 400L  # foundings by draw, kind and number of queens

made <- paths_of(folder)
data <- made$stan
start <- function(chain) {
  set.seed(seed + chain)
  list(mu_raw = rnorm(6, 0, 0.3), between = runif(6, 0.1, 0.5),
       raw = matrix(rnorm(6 * data$G, 0, 0.3), 6), size_step = 0, size_step_rivalry = 0,
       multi_days = 0, within_days = 0.25, frailty_sd = 0.5, mated = 0.8, seen_adds = 1,
       walk_sd = c(0.3, 0.3), walk = rnorm(7, 0, 0.3), keeper_sd = c(0.2, 0.2, 0.1),
       keeper_raw = matrix(rnorm(3 * data$NK, 0, 0.3), 3), flight_sd = c(0.2, 0.2),
       flight_raw = matrix(rnorm(2 * data$NL, 0, 0.3), 2), z = rnorm(data$F, 0, 0.3))
}
file_of <- function(chain) file.path(scratch, sprintf("%s_%d.csv", basename(folder), chain))
one <- function(chain) if (!file.exists(file_of(chain)))
  sampling(program, data, chains = 1, chain_id = chain, iter = many + WARM, warmup = WARM,
           save_warmup = FALSE, seed = seed, init = list(start(chain)), refresh = 50,
           sample_file = file_of(chain), control = list(adapt_delta = 0.9, max_treedepth = 8))
if (length(args) > 4) { one(as.integer(args[5])); quit() }
chains <- lapply(seq_len(CHAINS), function(chain) {  # what is there of each, should one be unfinished
  one(chain)
  own <- read.csv(file_of(chain), comment.char = "#", check.names = FALSE)
  own <- own[stats::complete.cases(own), ]
  names(own) <- sub("^([^.]*[^.])\\.([0-9]+)\\.([0-9]+)$", "\\1[\\2,\\3]", names(own))
  names(own) <- sub("^([^.]*[^.])\\.([0-9]+)$", "\\1[\\2]", names(own))
  list(draws = as.matrix(own[, !grepl("__$", names(own))]), astray = sum(own$divergent__))
})
divergent <- sum(sapply(chains, `[[`, "astray"))
length_ <- min(sapply(chains, function(one) nrow(one$draws)))
a <- array(NA, c(length_, CHAINS, ncol(chains[[1]]$draws)),
           list(NULL, NULL, colnames(chains[[1]]$draws)))  # draw, chain, parameter
for (c in seq_len(CHAINS)) a[, c, ] <- chains[[c]]$draws[seq_len(length_), ]
many <- length_
KEPT <- min(KEPT, many)
keep <- round(seq(1, many, length.out = KEPT))

cols <- named(function(name) a[, , name], made)
summed <- function(m) {  # draws by chain
  e <- ess_bulk(m)
  c(mean = mean(m), sd = sd(m), mcse = mcse_mean(m), low = unname(quantile(m, 0.05)),
    high = unname(quantile(m, 0.95)), ess = e, rhat = Rhat(m))
}
mcse_mean <- function(m)
  sd(m) / sqrt(as.numeric(rstan::monitor(array(m, c(dim(m), 1)), warmup = 0, print = FALSE)[1, "n_eff"]))
fixed <- sapply(cols, function(m) sd(m) == 0)
table <- t(sapply(cols[!fixed], summed))
said <- sprintf("%d chains of %d, seed %d, %d divergent", CHAINS, many, seed, divergent)
put(folder, data.frame(name = rownames(table), signif(table, 6)), "parameters.csv", said)

# new foundings
set.seed(seed + 99)
got <- NULL
groups <- table(data$queens[data$queens >= 2])
sizes <- made$sizes  # where there are many, one queen and the commonest group
if (length(sizes) > 3) sizes <- c(1, as.integer(names(groups)[which.max(groups)]))
for (c in seq_len(CHAINS)) for (d in keep) {
  at <- function(name) unname(cols[[name]][d, c])
  common <- list(size_step = at("size_step"), size_step_rivalry = at("size_step_rivalry"),
                 multi_days = at("multi_days"), within_days = at("within_days"),
                 frailty_sd = at("frailty_sd"), mated = at("mated"),
                 level1 = c(at("level_before[1]"), at("level_before[2]"), 0, at("level_before[4]"),
                            at("level_before[5]")),
                 level2 = c(0, at("level_after[2]"), at("level_after[3]"), at("level_after[4]")))
  # a season not yet seen, from the priors of its SDs, the same for all kinds
  season <- rnorm(3, 0, abs(rnorm(3, 0, c(0.5, 0.5, 0.2))))
  line <- c()
  for (g in c(seq_len(data$G), 0)) {
    own <- common
    for (e in 1:6) own[[EFFECTS[e]]] <-
      if (g) a[d, c, sprintf("effect[%d,%d]", e, g)]
      else a[d, c, sprintf("mu[%d]", e)] +
        if (e == 5 && data$one_fight) 0 else a[d, c, sprintf("between[%d]", e)] * rnorm(1)
    values <- of_draw(own, sizes, made$horizon, FOLLOWED)
    line <- c(line, setNames(values, paste(names(values), if (g) made$names$genus[g] else "new", sep = "|")))
    if (g == 0) next
    own$founding_hazard <- own$founding_hazard + season[1]
    own$worker_hazard <- own$worker_hazard + season[2]
    own$first_worker <- own$first_worker + season[3]
    values <- of_draw(own, sizes, made$horizon, FOLLOWED)
    line <- c(line, setNames(values, paste(names(values), "next", sep = "|")))
  }
  parts <- sub("\\|[^|]*$", "", names(line))
  over <- function(which, called) {  # equal weights over the kinds of the study
    each <- tapply(line[which], parts[which], mean)
    setNames(each, paste(names(each), called, sep = "|"))
  }
  ahead <- grepl("\\|next$", names(line))
  known <- !ahead & !grepl("\\|new$", names(line))
  line <- c(line[!ahead], over(known, "average"), over(ahead, "next_season"))
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
said <- sprintf("%s; %d foundings each at %d draws", said, FOLLOWED, KEPT * CHAINS)
put(folder, data.frame(keys, signif(table, 6)), "outcomes.csv", said)
cat("left out, not finite in every draw:", sum(!ok), "\n")
