# What becomes of new foundings: queen by queen, event by event. No formula of chances is used.

lived_from <- function(state, cum, cuts, level) {
  # day on which a summed baseline hazard is reached; cum at the cuts
  rate <- exp(level)
  i <- findInterval(state, cum)
  cuts[i] + (state - cum[i]) / rate[i]
}

fates <- function(n, k, p, horizon) {
  # n foundings of k queens: deaths in order, day of the first worker (Inf: none), queens then
  a <- exp(p$founding_hazard + p$frailty_sd * (z <- rnorm(n)))
  l <- exp(p$worker_hazard + p$frailty_sd * z)
  d <- if (k >= 2) log2(k / 2) else 0
  r1 <- exp(p$together + p$size_step * d)
  r2 <- exp(p$rivalry + p$size_step_rivalry * d)
  theta <- plogis(p$last_fight)
  mated <- rbinom(n, k, p$mated)
  clock <- exp(rnorm(n, p$first_worker + (k >= 2) * p$multi_days, p$within_days))
  clock[mated == 0] <- Inf
  cuts1 <- c(0, 7, 21, 42, 70)
  cuts2 <- c(0, 10, 30, 60)
  cum1 <- c(0, cumsum(exp(p$level1[1:4]) * diff(cuts1)))
  cum2 <- c(0, cumsum(exp(p$level2[1:3]) * diff(cuts2)))
  deaths <- matrix(Inf, n, k)
  left <- rep(k, n)
  state <- numeric(n)  # summed baseline hazard so far
  open <- rep(TRUE, n)  # before workers, somebody alive
  for (i in seq_len(k)) {
    each <- a * ifelse(left >= 2, r1, 1)
    state <- state + rexp(n) / (pmax(left, 1) * each)
    day <- lived_from(state, cum1, cuts1, p$level1)
    open <- open & day < pmin(clock, horizon)
    deaths[open, i] <- day[open]
    left[open] <- left[open] - 1
  }
  came <- left >= 1 & clock <= horizon
  worker <- ifelse(came, clock, Inf)
  at_worker <- ifelse(came, left, 0)
  state <- numeric(n)
  open <- came
  for (i in seq_len(k)) {
    each <- l * ifelse(left >= 2, r2, 1)
    state <- state + rexp(n) / (pmax(left, 1) * each)
    day <- worker + lived_from(state, cum2, cuts2, p$level2)
    open <- open & left >= 1
    both <- open & left == 2 & runif(n) < theta
    at <- cbind(seq_len(n), k - left + 1)
    deaths[at[open, , drop = FALSE]] <- day[open]
    at[, 2] <- at[, 2] + 1
    deaths[at[both, , drop = FALSE]] <- day[both]
    left[open] <- left[open] - 1
    left[both] <- left[both] - 1
  }
  list(k = k, deaths = deaths, worker = worker, clock = clock, at_worker = at_worker,
       mated = mated)
}

told <- function(own, horizon) {
  # shares and means of one batch, named quantity|reading|day
  k <- own$k
  out <- c()
  alive <- function(day) k - rowSums(own$deaths <= day)
  for (day in sort(unique(c(30, 60, 90, horizon)))) {
    out[sprintf("share_alive||%d", day)] <- mean(alive(day)) / k
    out[sprintf("share_alive_before_workers||%d", day)] <-
      mean(k - rowSums(own$deaths <= pmin(day, own$clock))) / k
  }
  out[sprintf("queen_days||%d", horizon)] <- mean(rowSums(pmin(own$deaths, horizon))) / k
  for (day in sort(unique(c(30, 45, 60, 90, horizon))))
    out[sprintf("chance_by_day||%d", day)] <- mean(own$worker <= day)
  out["median_day||"] <- median(own$worker[is.finite(own$worker)])
  for (day in sort(unique(c(60, 90, horizon)))) {
    m <- alive(day)
    seen <- own$worker <= day & m >= 1
    # m of k queens live, those that died were any of them
    one <- 1 - ifelse(m > k - own$mated, 0, choose(k - own$mated, m) / choose(k, m))
    first <- m > k - own$mated
    out[sprintf("colony|seen|%d", day)] <- mean(seen)
    out[sprintf("colony|alike|%d", day)] <- mean(seen * one)
    out[sprintf("colony|mated-first|%d", day)] <- mean(seen & first)
  }
  if (k >= 2) {
    some <- own$at_worker >= 2
    for (s in c(30, 60, 90)) {
      m <- (k - rowSums(own$deaths <= own$worker + s))[some]
      out[sprintf("chance_one_left||%d", s)] <- mean(m == 1)
      out[sprintf("chance_none_left||%d", s)] <- mean(m == 0)
      out[sprintf("chance_several_left||%d", s)] <- mean(m >= 2)
      out[sprintf("expected_left||%d", s)] <- mean(m)
    }
  }
  out
}

no_colony <- function(share, n, k) {
  # chance that k different ones of n hold no colony: unbiased for (1 - P)^k
  x <- round(share * n)
  exp(lchoose(n - x, k) - lchoose(n, k))
}

of_draw <- function(p, sizes, horizon, n) {
  # outcomes of one kind of one draw, named quantity|reading|day|queens
  out <- c()
  single <- told(fates(n, 1, p, horizon), horizon)
  named <- function(values, k) setNames(values, paste(names(values), k, sep = "|"))
  rename <- function(values) {
    names(values) <- sub("^colony\\|seen", "chance_per_founding|seen", names(values))
    names(values) <- sub("^colony", "chance_lasting", names(values))
    values
  }
  out <- c(out, named(rename(single), 1))
  for (k in sizes[sizes >= 2]) {
    group <- told(fates(n, k, p, horizon), horizon)
    out <- c(out, named(rename(group), k))
    for (name in grep("^colony", names(group), value = TRUE)) {
      one <- single[[sub("\\|.*\\|", "|seen|", name)]]  # one queen: all readings are the same
      any <- 1 - no_colony(one, n, k)
      tail <- sub("^colony", "", name)
      out[paste0("same_queens_any", tail, "|", k)] <- group[[name]] - any
      out[paste0("same_queens_count", tail, "|", k)] <- group[[name]] - k * one
      out[paste0("at_least_one_from_same_queens", tail, "|", k)] <- any
      out[paste0("colonies_from_same_queens", tail, "|", k)] <- k * one
      out[paste0("colonies_per_queen", tail, "|", k)] <- group[[name]] / k
    }
    d <- log2(k / 2)
    out[paste0("hazard_ratio|||", k)] <- p$together + p$size_step * d  # logs
    out[paste0("rivalry_ratio|||", k)] <- p$rivalry + p$size_step_rivalry * d
    out[paste0("time_ratio|||", k)] <- p$multi_days
    out[paste0("last_fight_takes_both|||", k)] <- plogis(p$last_fight)
    out[paste0("fertile_share|||", k)] <- 1 - (1 - p$mated)^k
  }
  out["fertile_share|||1"] <- p$mated
  for (name in grep("^colony", names(single), value = TRUE))
    out[paste0("colonies_per_queen", sub("^colony", "", name), "|1")] <- single[[name]]
  out
}
