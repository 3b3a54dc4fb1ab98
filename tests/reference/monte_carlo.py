"""How far two comparisons of one study may lie apart by the luck of their draws alone.

Each number of a long table is a mean, a quantile or a share of draws that hang together. Its Monte
Carlo standard error comes from those draws of each of the two (Vehtari and others 2021, doi
10.1214/20-BA1221; mean, quantile and share by `arviz_stats`), so that a gap can be told in errors.
Of thousands of gaps the largest is asked about: `limit` says what it may be.
"""

import math

import numpy as np
import pandas as pd
from arviz_stats.base import array_stats

from cohort.outcomes import outcomes, posterior_draws
from cohort.outcomes.parameters import PRIOR_DRAWS
from cohort.outcomes.quantities import NO_DAY, Key
from cohort.outcomes.table import DIRECT, share_better
from cohort.terms.questions import EQUAL_PER_QUEEN, QUANTITIES
from cohort.verdict.rules import EQUAL, LEANING, OWN_SHARE, SURE, TELLING

KEYS = ["question", "quantity", "reading", "genus", "arm", "queens", "day"]
SHARES = ["chance_multi_better", "chance_practically_equal", "prior_chance_multi_better"]
NAMES = ["mean", "low", "high", *SHARES]
OTHERS = ("alike", "mated-first")
"""Readings beside the one that verdicts go by."""
LEAST = 400
"""Independent draws that the gate wants of a number; taken where the draws are not at hand."""


def limit(numbers):
    """Errors that the largest of so many gaps passes once in twenty times at most.

    A standard normal passes z, to either side, with a chance below exp(-z^2 / 2), which is
    1 / (20 numbers) at this z; that any of them does is at most the sum (Boole's inequality).
    """
    return max(4.0, math.sqrt(2.0 * math.log(20.0 * numbers)))


def _error(draws, what, level):
    """Standard error of one number of a row, draws of shape (chains, draws)."""
    if np.ptp(draws) <= 1e-12:
        return 0.0
    if what == "mean":
        return float(array_stats.mcse(draws, chain_axis=0, draw_axis=1, method="mean"))
    prob = (1 - level) / 2 if what == "low" else (1 + level) / 2
    return float(array_stats.mcse(draws, chain_axis=0, draw_axis=1, method="quantile", prob=prob))


def _share_error(hits):
    """Standard error of a share; where every draw says the same, that of half a draw more."""
    ess = hits.size
    if np.ptp(hits) > 0:
        ess = min(ess, float(array_stats.ess(hits, chain_axis=0, draw_axis=1, method="mean")))
    return share_error(hits.mean(), hits.size, ess)


def share_error(share, draws, ess=None):
    """Standard error of a share among so many draws, of which ``ess`` are independent."""
    share = (share * draws + 0.5) / (draws + 1)
    return math.sqrt(share * (1 - share) / (ess or draws))


def _equal(quantity, size):
    if quantity.name == "same_queens_count":
        return -EQUAL_PER_QUEEN * size, EQUAL_PER_QUEEN * size
    return quantity.equal_low, quantity.equal_high


def _errors(row, values, kinds, chains):
    """Errors of the numbers of one row, from the draws behind it; None: made apart from them."""
    day = NO_DAY if pd.isna(row.day) else float(row.day)
    key = Key(row.question, row.quantity, row.queens, day, row.reading)
    if key not in values:
        return None
    draws = values[key]
    if row.arm == "difference" and row.quantity not in DIRECT:
        draws = draws - values[key._replace(size=1)]
    draws = draws[:, kinds.index(row.genus)].reshape(chains, -1)
    quantity = QUANTITIES[row.question, row.quantity]
    told = np.log(draws) if quantity.unit == "ratio" else draws
    out = {name: _error(told, name, row.level) for name in ("mean", "low", "high")}
    if row.arm in ("difference", "ratio"):
        better = share_better(quantity, draws[None])  # of each draw: 0, a half or 1
        out["chance_multi_better"] = _share_error(better)
        low, high = _equal(quantity, row.queens)
        out["chance_practically_equal"] = _share_error(
            ((draws >= low) & (draws <= high)).astype(float)
        )
        out["prior_chance_multi_better"] = share_error(row.prior_chance_multi_better, PRIOR_DRAWS)
    return out


def _apart(row):
    """Errors of a row whose draws are not kept: as of `LEAST` independent ones of a normal."""
    ratio = row.unit == "ratio"
    low, high = (np.log([row.low, row.high])) if ratio else (row.low, row.high)
    sd = (high - low) / 3.29  # of 90 %
    error = sd / math.sqrt(LEAST)
    out = {"mean": error, "low": 2.11 * error, "high": 2.11 * error}  # sqrt(.05 .95) / .1031
    return out | {name: share_error(getattr(row, name), LEAST) for name in SHARES}


def row_errors(made):
    """Monte Carlo errors of the long table of a comparison, by the draws behind it.

    Ratios are told as logs. The kind not yet tried and the next season are drawn anew by each
    comparison; their luck is in their draws.
    """
    table = made.results.comparisons
    fit, sizes = made.fit, tuple(sorted(set(table["queens"])))
    drawn = posterior_draws(fit.posterior, fit.design, fit.priors, seed=fit.seed)
    post = outcomes(drawn, sizes, made.history.horizon)
    out = []
    for row in table.itertuples():
        found = _errors(row, post.values, post.kinds, post.chains)
        out.append(_apart(row) if found is None else found)
    return pd.DataFrame(out, index=_keyed(table).index).reindex(columns=NAMES)


def _keyed(table):
    return table.assign(day=table["day"].fillna(-1)).set_index(KEYS)


def numbers(made):
    """The numbers that draws decide, ratios as logs, by the key of their row."""
    table = _keyed(made.results.comparisons)
    out = table[NAMES].astype(float)
    ratio = table["unit"].eq("ratio").to_numpy()
    out.loc[ratio, ["mean", "low", "high"]] = np.log(out.loc[ratio, ["mean", "low", "high"]])
    return out


def gaps(made, other):
    """Gaps between two long tables in Monte Carlo errors; a row per row, a column per number.

    Numbers on which all draws agree, in both tables, must agree: a gap there is infinite.
    """
    one, two = numbers(made), numbers(other)
    assert one.index.is_unique
    assert set(one.index) == set(two.index)
    two = two.loc[one.index]
    assert (one.isna() == two.isna()).all(axis=None)
    error = np.hypot(row_errors(made), row_errors(other).loc[one.index])
    gap = (one - two).abs()
    gap = gap.where(gap > 1e-9, 0.0)
    return (gap / error).where(gap > 0, gap)


BARS = {
    "chance": (1 - SURE, 1 - LEANING, 0.5, LEANING, SURE),
    "equal": (EQUAL,),
    **dict.fromkeys(("alike", "half", "double", "lot_alone"), (1 - SURE, SURE)),
    "evidence": (TELLING,),
    "own_share": (OWN_SHARE,),
}
"""Where the numbers of a contrast change its word, see `cohort.verdict.rules`."""


def verdicts(made):
    """What a verdict rests on, a row per contrast."""
    keys = ["contrast", "genus", "queens", "day"]
    found, said = made.results.verdicts, made.results.sensitivity
    table = found.merge(said[[*keys, "alike", "half", "double", "lot_alone"]], on=keys)
    assert len(table) == len(found)
    shown = made.results.comparisons
    near = shown[shown["chance_practically_equal"].notna() & ~shown["reading"].isin(OTHERS)]
    near = near.rename(columns={"quantity": "contrast", "chance_practically_equal": "equal"})
    table = table.merge(near[[*keys, "equal"]], on=keys, how="left")
    assert len(table) == len(found)
    return table.set_index(keys[:3])


def straddled(one, other):
    """Numbers of a contrast that lie to both sides of a bar in two comparisons."""
    return [
        name
        for name, bars in BARS.items()
        if any((one[name] >= bar) != (other[name] >= bar) for bar in bars)
    ]
