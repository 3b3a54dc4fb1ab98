"""What a comparison should have found: the outcomes of a truth, by plain simulation.

In: a :class:`~cohort.simulate.truth.Truth`, and (to set beside it) rows of ``comparisons.csv``.
Out: the same rows with their true values.
Never: uses the recursion that made those rows. A share is a share of simulated foundings.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd

from cohort.simulate.events import run
from cohort.simulate.summaries import summaries
from cohort.simulate.truth import GenusTruth, Truth
from cohort.terms.questions import AVERAGE, QUANTITIES, Quantity

__all__ = ["beside", "known_outcomes"]

KEYS = ["quantity", "reading", "genus", "arm", "queens", "day"]
At = tuple[str, str, int]
"""Quantity, reading, day (-1: it has no day)."""
#: Days of the outcomes that are given on fixed days, and days since the first worker.
DAYS = (30, 45, 60, 90)
AFTER = (30, 60, 90)
NAMES: dict[str, Quantity] = {name: quantity for (_, name), quantity in QUANTITIES.items()}


def _plain(truth: GenusTruth, k: int) -> dict[str, float]:
    """Quantities that are parameters, or one step from them."""
    values = {"fertile_share": 1.0 - (1.0 - truth.mated) ** k}
    values["workers_after_30_days"] = math.exp(
        truth.log_brood + (truth.brood_ratio if k >= 2 else 0.0)
    )
    if k >= 2:
        values["hazard_ratio"] = math.exp(truth.log_ratio(k))
        values["time_ratio"] = math.exp(truth.multi_days)
        values["rivalry_ratio"] = math.exp(truth.log_rivalry(k))
        values["last_fight_takes_both"] = truth.last_fight
    return values


def _of_size(
    truth: GenusTruth, k: int, horizon: int, n: int, rng: np.random.Generator
) -> dict[At, tuple[float, float]]:
    """Value and Monte Carlo error of each quantity, reading and day."""
    days = sorted({d for d in (*DAYS, horizon) if d <= horizon})
    table = summaries(
        run(n, k, truth, rng, horizon + max(AFTER)), days, after=AFTER, horizon=horizon
    )
    out: dict[At, tuple[float, float]] = {}
    columns = ("quantity", "reading", "day", "mean", "se")
    for name, reading, day, mean, se in zip(*(table[c] for c in columns), strict=True):
        wanted = NAMES.get(str(name))
        if wanted is None or (k == 1 and wanted.question == "queens_after_workers"):
            continue
        listed = {horizon if d == -1 else d for d in wanted.days}
        if wanted.days and int(day) not in listed:
            continue
        at = int(day) if wanted.days else -1
        out[str(name), str(reading), at] = float(mean), float(se)
    return out | {(name, "", -1): (value, 0.0) for name, value in _plain(truth, k).items()}


def _same_queens(
    one: dict[At, tuple[float, float]], many: dict[At, tuple[float, float]], k: int
) -> Iterator[tuple[str, str, str, int, float, float]]:
    """The fair pair, by reading: k queens together, and k each alone."""
    for (name, reading, day), (alone, se) in one.items():
        if name not in ("chance_per_founding", "chance_lasting"):
            continue
        together, se_many = many[name, reading, day]
        any_alone, slope = 1.0 - (1.0 - alone) ** k, k * (1.0 - alone) ** (k - 1)
        yield "at_least_one_from_same_queens", reading, "single", day, any_alone, slope * se
        yield "colonies_from_same_queens", reading, "single", day, k * alone, k * se
        error = math.hypot(se_many, slope * se)
        yield "same_queens_any", reading, "difference", day, together - any_alone, error
        error = math.hypot(se_many, k * se)
        yield "same_queens_count", reading, "difference", day, together - k * alone, error


def _rows(
    genus: str, by_size: dict[int, dict[At, tuple[float, float]]]
) -> Iterator[tuple[str, str, str, str, int, int, float, float]]:
    """Rows of one genus: quantity, reading, genus, arm, queens, day, truth, se."""
    one = by_size[1]
    for k, values in by_size.items():
        arm = "single" if k == 1 else "multi"
        for key, (value, se) in values.items():
            name, reading, day = key
            ratio = name in ("hazard_ratio", "time_ratio")
            yield name, reading, genus, "ratio" if ratio else arm, k, day, value, se
            if k > 1 and key in one and NAMES[name].better != "none":
                gap, error = value - one[key][0], math.hypot(se, one[key][1])
                yield name, reading, genus, "difference", k, day, gap, error
        if k > 1:
            for name, reading, arm, day, value, se in _same_queens(one, values, k):
                yield name, reading, genus, arm, k, day, value, se


def known_outcomes(
    truth: Truth, sizes: Sequence[int], horizon: int, *, foundings: int = 200_000, seed: int = 1
) -> pd.DataFrame:
    """Return the true value of every row that a comparison prints.

    Keeper and flight effects are 0, as in the comparison; the frailty of a new founding is drawn.
    Covariates stand at their mean, while a comparison averages over those of its foundings: where
    slopes are steep the two differ.

    Parameters
    ----------
    truth : Truth
        Parameters of each genus.
    sizes : sequence of int
        Queens per founding; 1 is added if it is missing.
    horizon : int
        Last day, days since day 0.
    foundings : int
        Foundings simulated for each genus and size.
    seed : int
        Seed of the random generator.

    Returns
    -------
    pandas.DataFrame
        Columns quantity, reading (blank where a quantity has none), genus, arm, queens, day
        (likewise), truth, se (Monte Carlo). ``average`` is the mean of the genera, of their logs
        for ratios.
    """
    rng = np.random.default_rng(seed)
    rows: list[tuple[str, str, str, str, int, int, float, float]] = []
    for genus, own in truth.genera.items():
        by_size = {k: _of_size(own, k, horizon, foundings, rng) for k in sorted({1, *sizes})}
        rows += _rows(genus, by_size)
    table = pd.DataFrame(rows, columns=[*KEYS, "truth", "se"])
    table = pd.concat([table, _average(table)], ignore_index=True)
    table["day"] = table["day"].astype("Int64").mask(table["day"] == -1)
    return table


def _average(table: pd.DataFrame) -> pd.DataFrame:
    """Equal-weight mean over the genera; ratios average on the log scale."""
    ratio = table["quantity"].map(lambda name: NAMES[name].unit == "ratio").to_numpy(dtype=bool)
    scaled = np.where(ratio, np.log(table["truth"].where(ratio, 1.0)), table["truth"])
    groups = table.assign(truth=scaled, square=table["se"] ** 2, ratio=ratio).groupby(
        ["quantity", "reading", "arm", "queens", "day"], sort=False
    )
    mean = groups.agg(
        truth=("truth", "mean"),
        square=("square", "sum"),
        n=("se", "size"),
        ratio=("ratio", "first"),
    ).reset_index()
    mean["truth"] = np.where(
        mean["ratio"], np.exp(mean["truth"].where(mean["ratio"], 0.0)), mean["truth"]
    )
    return mean.assign(genus=AVERAGE, se=np.sqrt(mean["square"]) / mean["n"])[
        [*KEYS, "truth", "se"]
    ]


def beside(comparisons: pd.DataFrame, known: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of a comparison for which the truth is known, with it beside them.

    Parameters
    ----------
    comparisons : pandas.DataFrame
        Rows of ``comparisons.csv``.
    known : pandas.DataFrame
        From :func:`known_outcomes`.

    Returns
    -------
    pandas.DataFrame
        The rows with `truth`, `se`, `error` (mean less truth; of logs for ratios) and `inside`
        (the truth lies between low and high).
    """
    joined = comparisons.assign(_day=comparisons["day"].astype("Float64").fillna(-1.0)).merge(
        known.assign(_day=known["day"].astype("Float64").fillna(-1.0)).drop(columns="day"),
        on=["quantity", "reading", "genus", "arm", "queens", "_day"],
        how="inner",
        validate="one_to_one",
    )
    ratio = (joined["unit"] == "ratio").to_numpy(dtype=bool)
    mean, value = joined["mean"].to_numpy(dtype=float), joined["truth"].to_numpy(dtype=float)
    over = np.divide(mean, value, out=np.ones_like(mean), where=ratio)
    gap = np.where(ratio, np.log(over), mean - value)
    inside = (joined["low"] <= joined["truth"]) & (joined["truth"] <= joined["high"])
    return joined.assign(error=gap, inside=inside).drop(columns="_day")
