# From plain tables to the paths that founding.stan reads. See cohort/model/MODEL.md, section 4.

CUTS1 <- c(0, 7, 21, 42, 70, Inf)
CUTS2 <- c(0, 10, 30, 60, Inf)

gauss <- function(alpha0, beta) {  # nodes and weights from the Jacobi matrix
  n <- length(beta) + 1
  j <- matrix(0, n, n)
  j[cbind(1:(n - 1), 2:n)] <- j[cbind(2:n, 1:(n - 1))] <- beta
  e <- eigen(j, symmetric = TRUE)
  list(x = e$values, w = alpha0 * e$vectors[1, ]^2)
}
legendre <- function(n) {  # on (0, 1)
  i <- seq_len(n - 1)
  g <- gauss(1, i / sqrt(4 * i^2 - 1))
  list(x = (g$x + 1) / 2, w = g$w)
}
hermite <- function(n) gauss(1, sqrt(seq_len(n - 1)))  # standard normal

spent <- function(t, cuts) {  # days up to t in each piece
  out <- sapply(seq_len(length(cuts) - 1), function(j) pmax(0, pmin(t, cuts[j + 1]) - cuts[j]))
  matrix(out, length(t))
}

joined <- function(own) {  # neighbouring stretches without a loss, and the same count, as one
  out <- NULL
  for (i in seq_len(nrow(own))) {
    r <- as.numeric(own[i, c("after", "by", "at_risk", "alive")])
    last <- if (is.null(out)) NULL else out[nrow(out), ]
    if (!is.null(last) && r[3] == r[4] && last[3] == last[4] && last[3] == r[3] && last[2] == r[1])
      out[nrow(out), 2] <- r[2]
    else out <- rbind(out, r)
  }
  out
}

paths_of <- function(folder, nodes = 12) {
  f <- read.csv(file.path(folder, "foundings.csv"), stringsAsFactors = FALSE)
  iv <- read.csv(file.path(folder, "intervals.csv"), stringsAsFactors = FALSE)
  sw <- read.csv(file.path(folder, "switches.csv"), stringsAsFactors = FALSE)
  sw <- setNames(sw$value, sw$switch)
  d1 <- new.env(); d2 <- new.env()
  d1$t <- 0; d2$t <- 0
  place <- function(env, t) {
    i <- which(abs(env$t - t) < 1e-9)
    if (length(i)) return(i[1])
    env$t <- c(env$t, t)
    length(env$t)
  }
  segs <- list(); from <- to <- integer(); cells <- list()
  path <- function(rows) {  # a new path of stretches; returns its number
    from <<- c(from, length(segs) + 1)
    for (r in rows) segs[[length(segs) + 1]] <<- r
    to <<- c(to, length(segs))
    length(from)
  }
  before <- function(a, b, n, m) c(1, n, m, place(d1, a), place(d1, b), 0, 0)
  later <- function(a, b, n, m) c(2, n, m, place(d2, a), place(d2, b), 0, 0)
  at_worker <- function(a, e, b, n, m, least)
    c(3, n, m, place(d1, a), place(d1, e), place(d2, b - e), least)
  along <- function(spans, e, dead, least) {  # stretches when the clock rings on day e
    out <- list()
    for (i in seq_len(NROW(spans))) {
      s <- spans[i, ]
      if (dead && s[2] > e) { out[[length(out) + 1]] <- before(s[1], e, s[3], 0); break }
      out[[length(out) + 1]] <-
        if (s[2] <= e) before(s[1], s[2], s[3], s[4])
        else if (s[1] >= e) later(s[1] - e, s[2] - e, s[3], s[4])
        else at_worker(s[1], e, s[2], s[3], s[4], least)
    }
    out
  }
  plain <- function(spans)
    lapply(seq_len(NROW(spans)), function(i)
      before(spans[i, 1], spans[i, 2], spans[i, 3], spans[i, 4]))
  stretch <- function(low, high, spans, dead, least, cell = 1) {  # cells of days on which the clock may ring
    edges <- sort(unique(c(low, high, spans[, 1:2])))
    edges <- edges[edges >= low & edges <= high]
    for (i in seq_len(length(edges) - 1)) {
      lossy <- any(spans[, 1] <= edges[i] & spans[, 2] >= edges[i + 1] & spans[, 3] > spans[, 4])
      n <- ceiling((edges[i + 1] - edges[i]) / (if (lossy) cell / 2 else cell) - 1e-9)
      marks <- seq(edges[i], edges[i + 1], length.out = n + 1)
      for (j in seq_len(n)) {
        e <- (marks[j] + marks[j + 1]) / 2
        cells[[length(cells) + 1]] <<-
          c(path(along(spans, e, dead, least)), marks[j], marks[j + 1])
      }
    }
  }
  n <- nrow(f)
  base <- none <- entry <- entry_path <- integer(n)
  log_last <- log_entry <- numeric(n)
  cf <- ct <- ef <- et <- integer(n)
  for (i in seq_len(n)) {
    own <- iv[iv$founding == f$founding[i], ]
    own <- own[order(own$after), ]
    if (!is.na(f$workers_cens[i])) own <- own[own$by <= f$workers_cens[i], ]
    spans <- joined(own)
    v <- f$entry[i]
    if (v > 0) spans <- rbind(c(0, v, f$size[i], f$entry_queens[i]), spans)
    end <- spans[nrow(spans), 2]
    left <- spans[nrow(spans), 4]
    low <- f$first_after[i]; high <- f$first_by[i]
    if (f$entry_workers[i] == "True") { low <- 0; high <- v }
    stopifnot(is.na(high) || high <= end)
    workers <- !is.na(high)
    looked <- f$looked_to[i]
    first <- if (workers) low else if (left == 0) spans[nrow(spans), 1] else min(looked, end)
    head <- spans[spans[, 2] <= first, , drop = FALSE]
    tail <- spans[spans[, 2] > first, , drop = FALSE]
    # a stretch without a loss that goes on over the look before the first worker is cut there
    if (NROW(tail) && tail[1, 1] < first && tail[1, 3] == tail[1, 4]) {
      head <- rbind(head, c(tail[1, 1], first, tail[1, 3], tail[1, 3]))
      tail[1, 1] <- first
    }
    base[i] <- path(plain(head))
    cf[i] <- length(cells) + 1
    if (workers) stretch(low, high, tail, FALSE, 1, if (low == 0) 2 else 1)
    else {
      none[i] <- path(plain(tail))
      log_last[i] <- log(if (left == 0) end else max(end, looked))
      alive <- if (left == 0) spans[nrow(spans), 1] else end
      if (left == 0 && min(looked, end) > alive) stretch(alive, min(looked, end), tail, TRUE, 1)
      # nobody looked for workers after that: they may have come, and all died since
      if (end > looked) stretch(looked, end, tail, FALSE, 0)
    }
    ct[i] <- length(cells)
    if (v > 0) {
      opening <- spans[1, , drop = FALSE]
      if (f$entry_workers[i] == "True") {
        entry[i] <- 2
        ef[i] <- length(cells) + 1
        stretch(0, v, opening, FALSE, 1, 2)
        et[i] <- length(cells)
      } else {
        entry[i] <- 1
        entry_path[i] <- path(plain(opening))
        log_entry[i] <- log(v)
      }
    }
  }
  cells <- do.call(rbind, cells)
  genera <- sort(unique(f$genus), method = "radix")
  group <- function(name) if (is.null(f[[name]])) NULL else sort(unique(f[[name]]), method = "radix")
  keepers <- group("keeper"); flights <- group("flight")
  inside <- legendre(4)
  days <- outer(cells[, 3] - cells[, 2], inside$x) + cells[, 2]  # density of log E, so over the day
  weight <- outer(cells[, 3] - cells[, 2], inside$w) / days
  gl <- legendre(12); gh <- hermite(nodes)
  list(
    names = list(founding = f$founding, genus = genera, keeper = keepers, flight = flights),
    horizon = sw[["horizon"]], sizes = sort(unique(c(1, f$size))),
    stan = list(
      F = n, G = length(genera), S = length(segs), P = length(from), C = nrow(cells),
      T1 = length(d1$t), T2 = length(d2$t), Q = 12, K = nodes,
      genus = match(f$genus, genera), queens = f$size, seen = pmin(f$mating_seen, f$size),
      segs = do.call(rbind, segs), path_from = from, path_to = to, base = base, none = none,
      log_last = log_last, cell_from = cf, cell_to = ct, cell_path = cells[, 1],
      cell_log_e = log(days), cell_log_w = log(weight), entry = entry, entry_path = entry_path,
      log_entry = log_entry, entry_from = ef, entry_to = et,
      days1 = spent(d1$t, CUTS1), days2 = spent(d2$t, CUTS2),
      keep = as.integer(sw[paste0("step_", 1:7)]), one_fight = as.integer(sw[["one_last_fight"]]),
      x = gl$x, w = gl$w, zx = gh$x, zw = gh$w,
      NK = length(keepers), NL = length(flights),
      keeper = if (length(keepers)) match(f$keeper, keepers) else rep(1L, n),
      flight = if (length(flights)) match(f$flight, flights) else rep(1L, n)
    )
  )
}

EFFECTS <- c("founding_hazard", "together", "worker_hazard", "rivalry", "last_fight", "first_worker")
PARTS <- c("before", "after", "first_worker")

named <- function(get, made) {
  # parameters under the names of the model page; get gives one of the program's by name
  data <- made$stan
  cols <- list()
  for (e in 1:6) {
    own <- lapply(seq_len(data$G), function(g) get(sprintf("effect[%d,%d]", e, g)))
    for (g in seq_len(data$G)) cols[[sprintf("%s[%s]", EFFECTS[e], made$names$genus[g])]] <- own[[g]]
    cols[[paste0(EFFECTS[e], "_mean")]] <- Reduce(`+`, own) / data$G
    cols[[paste0(EFFECTS[e], "_sd")]] <- get(sprintf("between[%d]", e))
  }
  for (name in c("size_step", "size_step_rivalry", "multi_days", "within_days", "frailty_sd", "mated"))
    cols[[name]] <- get(name)
  if (any(data$seen > 0)) cols[["seen"]] <- get("seen_adds")
  for (i in 1:2) cols[[sprintf("walk_sd[%s]", PARTS[i])]] <- get(sprintf("walk_sd[%d]", i))
  for (i in c(1, 2, 4, 5)) cols[[sprintf("level_before[%d]", i)]] <- get(sprintf("level1[%d]", i))
  for (i in 2:4) cols[[sprintf("level_after[%d]", i)]] <- get(sprintf("level2[%d]", i))
  for (level in c("keeper", "flight")) {
    names <- made$names[[level]]
    for (i in seq_len(if (level == "keeper") 3 else 2)) if (length(names)) {
      cols[[sprintf("%s_%s_sd", level, PARTS[i])]] <- get(sprintf("%s_sd[%d]", level, i))
      for (j in seq_along(names))
        cols[[sprintf("%s_%s[%s]", level, PARTS[i], names[j])]] <- get(sprintf("by_%s[%d,%d]", level, i, j))
    }
  }
  for (j in seq_len(data$F)) cols[[sprintf("frailty[%s]", made$names$founding[j])]] <- get(sprintf("z[%d]", j))
  cols
}
