# Outcomes at known parameters, by following new foundings queen by queen.
# Rscript known.R <folder of a study>   Reads drawn.csv, writes followed.csv.

here <- dirname(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)))
source(file.path(here, "paths.R"))
source(file.path(here, "forward.R"))
folder <- commandArgs(TRUE)[1]
DRAWS <- 4
BATCHES <- 50
EACH <- 4000

wide <- read.csv(file.path(folder, "drawn.csv"), comment.char = "#", stringsAsFactors = FALSE)
f <- read.csv(file.path(folder, "foundings.csv"), stringsAsFactors = FALSE)
switches <- read.csv(file.path(folder, "switches.csv"))
horizon <- switches$value[switches$switch == "horizon"]
sizes <- sort(unique(c(1, f$size)))
set.seed(78)
rows <- NULL
for (d in seq_len(DRAWS)) {
  v <- setNames(as.numeric(wide[[paste0("draw", d)]]), wide$name)
  level <- function(name, which) unname(v[sprintf("%s[%d]", name, which)])
  for (g in sort(unique(f$genus))) {
    p <- as.list(v[c("size_step", "size_step_rivalry", "multi_days", "within_days", "frailty_sd", "mated")])
    for (e in EFFECTS) p[[e]] <- unname(v[sprintf("%s[%s]", e, g)])
    p$level1 <- c(level("level_before", 1:2), 0, level("level_before", 4:5))
    p$level2 <- c(0, level("level_after", 2:4))
    got <- lapply(seq_len(BATCHES), function(b) of_draw(p, sizes, horizon, EACH))
    got <- do.call(rbind, got)
    keys <- do.call(rbind, strsplit(colnames(got), "|", fixed = TRUE))
    rows <- rbind(rows, data.frame(draw = d, genus = g, quantity = keys[, 1], reading = keys[, 2],
      day = keys[, 3], queens = keys[, 4], mean = signif(colMeans(got), 6),
      mcse = signif(apply(got, 2, sd) / sqrt(BATCHES), 3)))
  }
}
rows <- rows[is.finite(rows$mean), ]
con <- file(file.path(folder, "followed.csv"), "w")
writeLines(sprintf("# R %s.%s, %s; seed 78, %d foundings each", R.version$major, R.version$minor,
                   Sys.Date(), BATCHES * EACH), con)
write.csv(rows, con, row.names = FALSE, quote = FALSE)
close(con)
