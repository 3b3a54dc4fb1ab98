"""The first brood: workers about 30 days after the first, alone and together.

Comes in: a `History` (its ``brood_day`` and ``brood_workers``). Goes out: rows of
``comparisons.csv`` for the question ``first_brood``, their chances with the priors at other
strengths, and notes. Never: an effect on survival; the model (`brood_model`) knows only of
foundings that had workers and were counted.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import xarray as xr

from cohort.base.display import several
from cohort.history import History
from cohort.model.brood_model import (
    DRAWS,
    BroodData,
    BroodDraws,
    BroodPriors,
    Floats,
    log_prior,
    named_draws,
    prior_draws,
    sample,
)
from cohort.model.own_share import own_share
from cohort.model.reweighted import POWERS, smoothed
from cohort.terms.questions import AVERAGE, EQUAL_RATIO, NEW, PRIOR_SHARE

QUANTITY: Final = "workers_after_30_days"
"""Its name in the long table."""


def brood_data(history: History) -> BroodData:
    """Counts of the first brood of the foundings in the comparison."""
    every = history.foundings[history.foundings["compared"]]
    genera = tuple(sorted(every["genus"].astype(str).unique()))
    some = every[every["brood_workers"].notna()]
    foreign = np.isfinite(every["brood_in"].to_numpy(float))
    uncounted = every["brood_workers"].isna().to_numpy()
    reached = np.isfinite(every["first_by"].to_numpy(float)) | np.isfinite(
        every["workers_cens"].to_numpy(float)
    )
    return BroodData(
        genera=genera,
        genus_code=some["genus"].map({g: i for i, g in enumerate(genera)}).to_numpy(np.int64),
        size=some["size"].to_numpy(np.int64),
        workers=some["brood_workers"].to_numpy(np.int64),
        since=(some["brood_day"] - some["first_by"]).to_numpy(float),
        sizes=tuple(sorted({1, *every["size"].astype(int)})),
        apart=int((foreign & uncounted & reached).sum()),
    )


def _with_average(values: Floats) -> Floats:
    mean = values[:, :-1].mean(axis=1, keepdims=True)
    return np.concatenate([values[:, :-1], mean, values[:, -1:]], axis=1)


def _counted(data: BroodData, code: int | None, sizes: tuple[int, ...]) -> int:
    here = np.isin(data.size, sizes) & (True if code is None else data.genus_code == code)
    return int(here.sum())


def _summary(log_values: Floats, prior: Floats, level: float, plain: bool) -> dict[str, Floats]:
    """Mean (plain or of the log), range, and whether the prior still rules, per kind."""
    tail = (1 - level) / 2
    low, high = np.exp(np.quantile(log_values, [tail, 1 - tail], axis=0))
    mean = np.exp(log_values).mean(axis=0) if plain else np.exp(log_values.mean(axis=0))
    rules = log_values.std(axis=0) > PRIOR_SHARE * prior.std(axis=0)
    own = np.append(own_share(log_values[:, :-2], log_values[:, -1]), [np.nan, np.nan])
    return {"mean": mean, "low": low, "high": high, "own_share": own, "prior_rules": rules}


def _groups(
    post: BroodDraws, prior: BroodDraws, sizes: tuple[int, ...], level: float
) -> Iterator[tuple[str, int, dict[str, Floats]]]:
    """Arm, size and numbers (one per kind) of every row group."""
    for size in sizes:
        here, before = (np.log(_with_average(d.workers(size))) for d in (post, prior))
        arm = "single" if size == 1 else "multi"
        yield arm, size, _summary(here, before, level, plain=True)
    for size in sizes[1:]:
        here, before = (_with_average(d.log_ratio(size)) for d in (post, prior))
        numbers = _summary(here, before, level, plain=False)
        numbers["chance_multi_better"] = (here > 0).mean(axis=0)
        numbers["prior_chance_multi_better"] = (before > 0).mean(axis=0)
        near = (here >= math.log(EQUAL_RATIO[0])) & (here <= math.log(EQUAL_RATIO[1]))
        numbers["chance_practically_equal"] = near.mean(axis=0)
        yield "ratio", size, numbers


def _table(post: BroodDraws, prior: BroodDraws, data: BroodData, level: float) -> pd.DataFrame:
    records: list[dict[str, Any]] = []
    kinds = (*data.genera, AVERAGE, NEW)
    for arm, size, numbers in _groups(post, prior, data.sizes, level):
        sizes = (1, size) if arm == "ratio" else (size,)
        for i, genus in enumerate(kinds):
            own = i if i < len(data.genera) else None
            behind = [_counted(data, own, (k,)) for k in sizes]
            records.append(
                {
                    "question": "first_brood",
                    "quantity": QUANTITY,
                    "unit": "ratio" if arm == "ratio" else "workers",
                    "reading": "",
                    "genus": genus,
                    "arm": arm,
                    "queens": size,
                    "day": pd.NA,
                    "level": level,
                    "foundings": sum(behind),
                    "carried_over": 0 in behind,
                    **{k: v[i] for k, v in numbers.items()},
                }
            )
    table = pd.DataFrame.from_records(records)
    table["day"] = table["day"].astype("Int64")
    table["prior_rules"] = table["prior_rules"].astype("boolean")
    return table


def _notes(data: BroodData) -> list[str]:
    notes = []
    if data.apart:
        told = several(data.apart, "founding")
        notes.append(f"First brood: {told} given foreign brood left out.")
    return notes


@dataclass(frozen=True)
class FirstBrood:
    """What is said of the first brood.

    Attributes
    ----------
    rows : DataFrame
        Columns of the long table; arms ``single``, ``multi`` and ``ratio`` for every genus,
        ``average`` and ``new``. Empty when one way of founding has no count, or when the chains
        did not agree even after a second run.
    notes : tuple of str
        What was set apart, or why there are no rows.
    scaled : DataFrame
        ``quantity``, ``genus``, ``queens``; ``half`` and ``double``: chance that several do better
        with every prior at half and at double strength, nan where the weights behind it cannot be
        relied on.
    """

    rows: pd.DataFrame
    notes: tuple[str, ...]
    scaled: pd.DataFrame


def _scaled(q: Floats, priors: BroodPriors, data: BroodData, seed: int) -> pd.DataFrame:
    """Chances of the ratios at other strengths of the priors."""
    post, plain = named_draws(q, priors, seed), log_prior(q, priors, priors)
    columns: dict[str, list[float]] = {}
    for name, power in POWERS.items():
        found = smoothed(log_prior(q, priors, priors.at_strength(power)) - plain)
        each = found.each if found.reliable else np.full(len(q), np.nan)
        columns[name] = [
            float(chance)
            for size in data.sizes[1:]
            for chance in each @ (_with_average(post.log_ratio(size)) > 0)
        ]
    kinds = (*data.genera, AVERAGE, NEW)
    places = [(kind, size) for size in data.sizes[1:] for kind in kinds]
    frame = pd.DataFrame(places, columns=["genus", "queens"]).assign(quantity=QUANTITY)
    return frame.assign(**columns)


def brood_rows(
    history: History, seed: int, level: float = 0.9, *, priors: BroodPriors | None = None
) -> FirstBrood:
    """Rows of ``comparisons.csv`` for the first brood, and notes.

    Parameters
    ----------
    history : History
    seed : int
    level : float
        Mass of the interval between ``low`` and ``high``.
    priors : BroodPriors, optional
    """
    from cohort.model.gate import judge

    priors = priors or BroodPriors()
    data = brood_data(history)
    notes = _notes(data)
    for way, some in (("one queen", data.size == 1), ("several queens", data.size >= 2)):
        if not some.any():
            notes.append(
                f"First brood: no exact count of workers 20 to 45 days after the first from a "
                f"founding begun with {way}, so nothing is compared."
            )
            return FirstBrood(pd.DataFrame(), tuple(notes), pd.DataFrame())
    for runs, accept in ((1, 0.9), (2, 0.99)):
        q, stats = sample(data, priors, seed + runs - 1, runs * DRAWS, accept)
        posterior = xr.Dataset({"brood": (("chain", "draw", "parameter"), q)})
        posterior["parameter"] = np.arange(q.shape[2])
        diagnosis = judge(posterior, stats, {}, runs=runs)
        if diagnosis.settled:
            break
    else:
        notes.append("First brood: not settled (" + "; ".join(diagnosis.reasons) + ").")
        return FirstBrood(pd.DataFrame(), tuple(notes), pd.DataFrame())
    flat = q.reshape(-1, q.shape[2])
    prior = prior_draws(len(data.genera), priors, seed + 2)
    table = _table(named_draws(flat, priors, seed), prior, data, level)
    return FirstBrood(table, tuple(notes), _scaled(flat, priors, data, seed))
