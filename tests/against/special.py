"""Our numbers for the special cases: maxima of the likelihood, and outcomes of the recursion there.

Comes in: `special_cases/looks.csv`. Goes out: numbers under the names that R gave its own.
"""

from __future__ import annotations

import io
import math
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.optimize import minimize
from scipy.special import expit
from small_study import small_study

from cohort.history import history
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import Exposure, packed
from cohort.likelihood.study import marginal_loglik, study_loglik
from cohort.outcomes.known import known_draws
from cohort.outcomes.quantities import outcomes
from cohort.simulate.truth import GenusTruth, Truth

HERE = Path(__file__).parent / "special_cases"
NEVER = -40.0
TIGHT = {"gtol": 1e-8}


def r_numbers(text: str) -> pd.Series:
    """Numbers that R wrote, by case and name."""
    return pd.read_csv(io.StringIO(text), comment="#").set_index(["case", "name"])["value"]


def exposure_of(case: str) -> Exposure:
    """The looks of a case, from lines to the packed study."""
    looks = pd.read_csv(HERE / "looks.csv")
    looks = looks[looks["case"] == case]
    lines = {
        name: f"{own['size'].iloc[0]} | "
        + ", ".join(f"{r.day} {r.queens}/{r.workers}" for r in own.itertuples())
        for name, own in looks.groupby("founding")
    }
    return packed(history(small_study(lines)))


def arrays(exposure: Exposure):
    """Parameters of foundings in which nothing happens, and the packed tables."""
    par = np.zeros((len(exposure.foundings), at.FOUNDING_WIDTH))
    par[:, at.HAZARD1] = par[:, at.HAZARD2] = NEVER
    shared = np.zeros(at.SHARED_WIDTH)
    shared[at.WITHIN_DAYS] = shared[at.LOADING] = 1.0
    return par, shared, (exposure.records, exposure.rows, exposure.nodes)


def recursion(own: GenusTruth, size: int, horizon: int = 120) -> dict[tuple, float]:
    """Outcomes at known parameters, by quantity, size and day."""
    post = outcomes(known_draws([Truth({"Lasius": own})]), (1, size), horizon)
    return {(k.quantity, k.size, k.day): v[0, 0] for k, v in post.values.items() if not k.reading}


def company() -> dict[str, float]:
    """Queens alone and in pairs before workers."""
    exposure = exposure_of("company")
    par, shared, tables = arrays(exposure)
    pairs = (exposure.foundings["size"] == 2).to_numpy(float)

    def minus(v):
        par[:, at.HAZARD1], par[:, at.TOGETHER] = v[0], v[1] * pairs
        value, gradient, _ = study_loglik(par, shared, *tables)
        return -value, -np.array([gradient[:, at.HAZARD1].sum(), gradient[:, at.TOGETHER] @ pairs])

    found = minimize(minus, [-4.0, 0.0], jac=True, method="BFGS", options=TIGHT)
    lone, ratio = found.x
    own = GenusTruth(log_hazard=lone, together=ratio, mated=0.0, frailty=0.0)
    return {
        "loglik": -found.fun,
        "two_to_one": 2 * math.exp(lone + ratio),
        "one_to_none": math.exp(lone),
        "alive_60": recursion(own, 2)["share_alive", 2, 60],
    }


def rivalry(share_of_fights: float | None = None) -> dict[str, float]:
    """Pairs with workers, who come on the first day; the share of last fights may be held."""
    par, shared, tables = arrays(exposure_of("rivalry"))
    par[:, at.LOG_DAY], par[:, at.FERTILE] = math.log(0.5), 1.0
    shared[at.WITHIN_DAYS] = 0.05
    columns = [at.HAZARD2, at.RIVALRY, at.LAST_FIGHT]

    def minus(v):
        share = expit(v[2]) if share_of_fights is None else share_of_fights
        par[:, columns] = v[0], v[1], share
        value, gradient, _ = study_loglik(par, shared, *tables)
        in_logit = share * (1 - share) if share_of_fights is None else 0.0
        return -value, -gradient[:, columns].sum(axis=0) * [1, 1, in_logit]

    found = minimize(minus, [-4.0, 0.0, -1.0], jac=True, method="BFGS", options=TIGHT)
    lone, ratio, share = par[0, columns]
    pair = 2 * math.exp(lone + ratio)
    out = {
        "loglik": -found.fun,
        "two_to_one": pair * (1 - share),
        "two_to_none": pair * share,
        "one_to_none": math.exp(lone),
    }
    own = GenusTruth(
        log_hazard=NEVER, log_hazard_workers=lone, rivalry=ratio, last_fight=share, mated=1.0,
        log_median_day=math.log(20.0), multi_days=0.0, within_days=0.05, frailty=0.0,
    )  # fmt: skip
    then = recursion(own, 2)
    for day in (30, 60, 90):
        for state in ("none", "one", "several"):
            out[f"{state}_{day}"] = then[f"chance_{state}_left", 2, day]
    return out


def first_workers(seen_only: bool) -> dict[str, float]:
    """Brackets of the first worker, of all (a share never has any) or of those that had one."""
    exposure = exposure_of("cure")
    par, shared, tables = arrays(exposure)
    if seen_only:
        seen = np.isfinite(exposure.foundings["first_by"].to_numpy())
        tables = tables[0][seen], *tables[1:]
        tables[0][:, at.OWNER] = np.arange(seen.sum())
        par = par[seen]

    def minus(v):
        par[:, at.FERTILE] = share = 1.0 if seen_only else expit(v[0])
        par[:, at.LOG_DAY], shared[at.WITHIN_DAYS] = v[1], math.exp(v[2])
        value, gradient, in_shared = study_loglik(par, shared, *tables)
        slopes = (
            gradient[:, at.FERTILE].sum() * share * (1 - share),
            gradient[:, at.LOG_DAY].sum(),
            in_shared[at.WITHIN_DAYS] * shared[at.WITHIN_DAYS],
        )
        return -value, -np.array(slopes)

    found = minimize(minus, [1.0, 3.8, -1.4], jac=True, method="BFGS", options=TIGHT)
    log_day, within = found.x[1], math.exp(found.x[2])
    out = {"loglik": -found.fun, "log_day": log_day, "within_days": within}
    if seen_only:
        return out
    own = GenusTruth(
        log_hazard=NEVER, log_hazard_workers=NEVER, mated=expit(found.x[0]),
        log_median_day=log_day, within_days=within, frailty=0.0,
    )  # fmt: skip
    then = recursion(own, 2)
    by = {f"by_{day}": then["chance_by_day", 1, day] for day in (30, 45, 60, 90)}
    return out | {"mated": expit(found.x[0])} | by


def frailty() -> dict[str, float]:
    """Four queens without an effect of company, who share a frailty."""
    par, shared, tables = arrays(exposure_of("frailty"))

    def minus(v):
        par[:, at.HAZARD1], shared[at.SIGMA] = v[0], math.exp(v[1])
        return -marginal_loglik(par[None], shared[None], *tables)[0].sum()

    options = {"xatol": 1e-8, "fatol": 1e-10}
    found = minimize(minus, [-4.5, 0.0], method="Nelder-Mead", options=options)
    log_hazard, sd = found.x[0], math.exp(found.x[1])
    then = recursion(GenusTruth(log_hazard=log_hazard, mated=0.0, frailty=sd), 4)
    return {"log_hazard": log_hazard, "sd": sd, "alive_60": then["share_alive", 4, 60]}


def numbers() -> pd.Series:
    """All of ours, by case and name."""
    made = {
        "company": company(),
        "rivalry": rivalry(),
        "seen": first_workers(seen_only=True),
        "cure": first_workers(seen_only=False),
        "frailty": frailty(),
    }
    rows = {(case, name): v for case, own in made.items() for name, v in own.items()}
    out = pd.Series(rows)
    out.index.names = ["case", "name"]
    return out
