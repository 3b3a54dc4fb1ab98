# The program compiled (kept under COHORT_SCRATCH where that is set), and tables with their origin.

scratch <- Sys.getenv("COHORT_SCRATCH", tempdir())
kept <- function(name, make) {
  path <- file.path(scratch, paste0(name, ".rds"))
  if (!file.exists(path)) saveRDS(make(), path)
  readRDS(path)
}
# Debian keeps the headers of boost with the system, not in the R package
boost <- if (file.exists("/usr/include/boost/version.hpp")) "/usr/include" else NULL
program <- kept("founding_model", function()
  stan_model(file.path(here, "founding.stan"), boost_lib = boost))

put <- function(folder, frame, name, said) {
  con <- file(file.path(folder, name), "w")
  writeLines(sprintf("# rstan %s, R %s.%s, %s; %s", packageVersion("rstan"), R.version$major,
                     R.version$minor, Sys.Date(), said), con)
  write.csv(frame, con, row.names = FALSE, quote = FALSE, na = "")
  close(con)
}
