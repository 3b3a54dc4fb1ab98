// The founding model, written from cohort/model/MODEL.md and from no code of the project.
// Frailties are sampled; the day of the first worker is summed over in cells of a day or half a
// day; the count at the first worker is summed over. What a founding went through arrives as
// paths: stretches with a count before and after, and the days they begin and end.

functions {
  // log P(n -> m): company hazard integrated over the stretch hc, lone hazard rho times as high
  real log_count(int n, int m, real hc, real rho, real theta, vector x, vector w) {
    if (n == 0) return m == 0 ? 0.0 : negative_infinity();
    if (m > n) return negative_infinity();
    if (n == 1) return m == 1 ? -rho * hc : log1m_exp(-rho * hc);
    if (m == n) return -n * hc;
    if (m >= 2) return lchoose(n, m) - m * hc + (n - m) * log1m_exp(-hc);
    {
      // the loss from two to fewer falls at u in (0, hc)
      int q = rows(x);
      vector[q] u = hc * x;
      vector[q] d = n * (n - 1) * exp(-2 * u);
      vector[q] alone = exp(-rho * (hc - u));
      if (n > 2) for (i in 1:q) d[i] *= (1 - exp(-u[i]))^(n - 2);
      if (m == 1) return log(hc * (1 - theta) * sum(w .* d .* alone));
      return log(hc * sum(w .* d .* (theta + (1 - theta) * (1 - alone))));
    }
  }
  // columns of a stretch: kind (1 before, 2 with workers, 3 the first worker falls in it), counts,
  // places of its ends in the tables of days, least count at the first worker
  real log_path(int[,] s, int from, int to, real l1, real r1, real l2, real r2, real theta,
                vector c1, vector c2, vector x, vector w) {
    real out = 0;
    for (i in from:to) {
      int n = s[i, 2];
      int m = s[i, 3];
      if (s[i, 1] == 1)
        out += log_count(n, m, l1 * r1 * (c1[s[i, 5]] - c1[s[i, 4]]), 1 / r1, 0.0, x, w);
      else if (s[i, 1] == 2)
        out += log_count(n, m, l2 * r2 * (c2[s[i, 5]] - c2[s[i, 4]]), 1 / r2, theta, x, w);
      else {
        real h1 = l1 * r1 * (c1[s[i, 5]] - c1[s[i, 4]]);
        real h2 = l2 * r2 * c2[s[i, 6]];
        int low = max(s[i, 7], m);
        vector[n - low + 1] each;
        for (c in low:n)
          each[c - low + 1] = log_count(n, c, h1, 1 / r1, 0.0, x, w)
                              + log_count(c, m, h2, 1 / r2, theta, x, w);
        out += log_sum_exp(each);
      }
    }
    return out;
  }
  // chance that the clock rings in a cell, by four nodes in it: logs of the days and of the weights
  real log_cell(row_vector log_e, row_vector log_w, real mu, real tau) {
    vector[4] each;
    for (i in 1:4) each[i] = log_w[i] + normal_lpdf(log_e[i] | mu, tau);
    return log_sum_exp(each);
  }
}
data {
  int F; int G; int S; int P; int C; int T1; int T2; int Q; int K;
  int genus[F]; int queens[F]; int seen[F];
  int segs[S, 7];
  int path_from[P]; int path_to[P];
  // per founding: path up to what the first worker may touch; path without a worker (0: none)
  int base[F]; int none[F]; real log_last[F];
  int cell_from[F]; int cell_to[F];
  int cell_path[C]; matrix[C, 4] cell_log_e; matrix[C, 4] cell_log_w;
  // state at a delayed entry: 0 none, 1 without workers (path), 2 with (cells)
  int entry[F]; int entry_path[F]; real log_entry[F]; int entry_from[F]; int entry_to[F];
  matrix[T1, 5] days1; matrix[T2, 4] days2;
  int keep[7]; int one_fight;
  vector[Q] x; vector[Q] w; vector[K] zx; vector[K] zw;
  int NK; int NL; int keeper[F]; int flight[F];
}
parameters {
  vector[6] mu_raw; vector<lower=0>[6] between; matrix[6, G] raw;
  real size_step; real size_step_rivalry; real multi_days; real<lower=0> within_days;
  real<lower=0> frailty_sd; real<lower=0, upper=1> mated; real seen_adds;
  vector<lower=0>[2] walk_sd; vector[7] walk;
  vector<lower=0>[3] keeper_sd; matrix[3, NK] keeper_raw;
  vector<lower=0>[2] flight_sd; matrix[2, NL] flight_raw;
  vector[F] z;
}
transformed parameters {
  vector[6] mu; matrix[6, G] effect; vector[5] level1; vector[4] level2;
  matrix[3, NK] by_keeper; matrix[2, NL] by_flight;
  vector[F] log_lik;
  {
    // founding hazard, together, hazard with workers, rivalry, last fight, first worker
    vector[6] m0 = [log(0.004), 0, log(0.002), 0.5, -1.6, log(50.0)]';
    vector[6] s0 = [1.2, 1.2, 1.2, 1.5, 0.8, 0.35]';
    mu = m0 + s0 .* mu_raw;
  }
  for (e in 1:6) for (g in 1:G)
    effect[e, g] = mu[e] + (e == 5 && one_fight ? 0 : between[e] * raw[e, g]);
  level1[3] = 0;
  level1[2] = -walk_sd[1] * walk[2] * keep[2];
  level1[1] = level1[2] - walk_sd[1] * walk[1] * keep[1];
  level1[4] = walk_sd[1] * walk[3] * keep[3];
  level1[5] = level1[4] + walk_sd[1] * walk[4] * keep[4];
  level2[1] = 0;
  for (i in 2:4) level2[i] = level2[i - 1] + walk_sd[2] * walk[3 + i] * keep[3 + i];
  for (i in 1:3) by_keeper[i] = keeper_sd[i] * keeper_raw[i];
  for (i in 1:2) by_flight[i] = flight_sd[i] * flight_raw[i];
  {
    vector[T1] c1 = days1 * exp(level1);
    vector[T2] c2 = days2 * exp(level2);
    real p_seen = inv_logit(logit(mated) + seen_adds);
    for (f in 1:F) {
      int g = genus[f];
      int k = queens[f];
      real d = k >= 2 ? log(k / 2.0) / log(2.0) : 0.0;
      real u1 = NK > 0 ? by_keeper[1, keeper[f]] : 0.0;
      real u2 = NK > 0 ? by_keeper[2, keeper[f]] : 0.0;
      real u3 = NK > 0 ? by_keeper[3, keeper[f]] : 0.0;
      real v1 = NL > 0 ? by_flight[1, flight[f]] : 0.0;
      real v2 = NL > 0 ? by_flight[2, flight[f]] : 0.0;
      real a = effect[1, g] + u1 + v1;
      real l = effect[3, g] + u2 + v2;
      real shift = frailty_sd * z[f];
      real r1 = k >= 2 ? exp(effect[2, g] + size_step * d) : 1.0;
      real r2 = k >= 2 ? exp(effect[4, g] + size_step_rivalry * d) : 1.0;
      real theta = inv_logit(effect[5, g]);
      real m = effect[6, g] + (k >= 2 ? multi_days : 0.0) + u3;
      real log_phi = log1m_exp((k - seen[f]) * log1m(mated) + seen[f] * log1m(p_seen));
      real l1 = exp(a + shift);
      real l2 = exp(l + shift);
      int n = cell_to[f] - cell_from[f] + 1;
      vector[n + 1] parts = rep_vector(negative_infinity(), n + 1);
      for (j in 1:n) {
        int at = cell_from[f] + j - 1;
        int p = cell_path[at];
        parts[j] = log_phi + log_cell(cell_log_e[at], cell_log_w[at], m, within_days)
          + log_path(segs, path_from[p], path_to[p], l1, r1, l2, r2, theta, c1, c2, x, w);
      }
      if (none[f] > 0) {
        int p = none[f];
        parts[n + 1] = log1m_exp(log_phi + normal_lcdf(log_last[f] | m, within_days))
          + log_path(segs, path_from[p], path_to[p], l1, r1, l2, r2, theta, c1, c2, x, w);
      }
      log_lik[f] = log_sum_exp(parts)
        + log_path(segs, path_from[base[f]], path_to[base[f]], l1, r1, l2, r2, theta, c1, c2, x, w);
      if (entry[f] > 0) {
        vector[K] chance;
        int many = entry[f] == 2 ? entry_to[f] - entry_from[f] + 1 : 0;
        vector[many] clock;
        for (j in 1:many) {
          int at = entry_from[f] + j - 1;
          clock[j] = log_phi + log_cell(cell_log_e[at], cell_log_w[at], m, within_days);
        }
        for (i in 1:K) {
          real b1 = exp(a + frailty_sd * zx[i]);
          real b2 = exp(l + frailty_sd * zx[i]);
          if (entry[f] == 1) {
            int p = entry_path[f];
            chance[i] = log1m_exp(log_phi + normal_lcdf(log_entry[f] | m, within_days))
              + log_path(segs, path_from[p], path_to[p], b1, r1, b2, r2, theta, c1, c2, x, w);
          } else {
            vector[many] each;
            for (j in 1:many) {
              int p = cell_path[entry_from[f] + j - 1];
              each[j] = clock[j]
                + log_path(segs, path_from[p], path_to[p], b1, r1, b2, r2, theta, c1, c2, x, w);
            }
            chance[i] = log_sum_exp(each);
          }
          chance[i] += log(zw[i]);
        }
        log_lik[f] -= log_sum_exp(chance);
      }
    }
  }
}
model {
  mu_raw ~ std_normal();
  between ~ normal(0, [0.5, 0.7, 0.4, 1.0, 0.8, 0.3]');
  to_vector(raw) ~ std_normal();
  size_step ~ normal(0, 0.4);
  size_step_rivalry ~ normal(0, 0.3);
  multi_days ~ normal(-0.05, 0.25);
  within_days ~ lognormal(-1.9, 0.6);
  frailty_sd ~ normal(0, 0.7);
  mated ~ beta(6, 1.5);
  seen_adds ~ normal(1, 0.7);
  walk_sd ~ normal(0, 0.5);
  walk ~ std_normal();
  keeper_sd ~ normal(0, [0.5, 0.5, 0.2]');
  to_vector(keeper_raw) ~ std_normal();
  flight_sd ~ normal(0, 0.5);
  to_vector(flight_raw) ~ std_normal();
  z ~ std_normal();
  target += sum(log_lik);
}
