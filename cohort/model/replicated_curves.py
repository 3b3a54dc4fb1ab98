"""Curves of replicated studies, over which those of the sheets are to lie.

Comes in: a `Calendar` and what was seen, in one study or many. Goes out: curves by study, and
their mean and range as rows of ``curves.csv``, dated at the look that showed the event as in
``queen_survival`` and ``first_worker``. Never: a curve of the model itself
(`cohort.outcomes.bands`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.model.replicated import Seen, begun, owner
from cohort.predict.posterior_predictive import Calendar

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
CURVES: Final = ("replicated_queen_survival", "replicated_first_worker")
ARMS: Final = ("single", "multi")


def groups(chosen: pd.DataFrame) -> list[tuple[str, str, Bools]]:
    """Genus ('all' too), way of founding and the foundings of each curve."""
    genus, arm = chosen["genus"].to_numpy(str), chosen["arm"].to_numpy(str)
    names = ["all", *sorted(set(genus))]
    every = [(g, a, ((genus == g) | (g == "all")) & (arm == a)) for g in names for a in ARMS]
    return [group for group in every if group[2].any()]


def survival(plan: Calendar, seen: Seen, mine: Bools, last: int) -> Floats:
    """Product-limit share of queens alive on days 0..last, one row per study.

    Losses are dated at the look that showed them (the day on or after it).
    """
    of = owner(plan)
    looks = mine[of]
    into, out = (np.ceil(x[looks]).astype(int) for x in (begun(plan), plan.day))
    risk = seen.at_risk[:, looks].astype(float)
    lost = risk - seen.alive[:, looks]
    studies, width = len(risk), last + 3
    row = np.arange(studies)[:, None] * width

    def placed(day: Ints, weight: Floats) -> Floats:
        flat = (row + np.minimum(day, width - 1)).ravel()
        summed: Floats = np.bincount(flat, weight.ravel(), studies * width).astype(np.float64)
        return summed.reshape(studies, width)

    same = into == out  # give-or-take may leave an interval within one day
    present = np.cumsum(placed(into + 1 - same, risk) - placed(out + 1, risk), axis=1)
    deaths = placed(out, lost)
    kept = np.cumprod(1 - _ratio(deaths, present), axis=1).astype(np.float64)
    return kept[:, : last + 1]


def _ratio(events: Floats, present: Floats) -> Floats:
    """Share of those present; 0 where nobody is."""
    none = np.zeros_like(events)
    shares: Floats = np.divide(events, present, out=none, where=present > 0.5)
    return shares


def first_worker(plan: Calendar, seen: Seen, mine: Bools, last: int) -> Floats:
    """Incidence of the first worker against the loss of all before it, days 0..last, by study.

    Both are dated at the look that showed them (the day on or after it), as in the table of curves.
    A founding with neither counts as far as somebody looked for workers.
    """
    of = owner(plan)
    some = plan.stop > plan.start
    gone = np.full((len(seen.first), len(plan.size)), np.inf)
    dead = np.where((seen.at_risk > 0) & (seen.alive == 0), plan.day, np.inf)
    gone[:, some] = np.minimum.reduceat(dead, plan.start[some], axis=1)
    ends = np.zeros(len(plan.size))
    np.maximum.at(ends, of, plan.day)
    worker = np.isfinite(seen.first) & (seen.first <= gone)
    lost = ~worker & np.isfinite(gone) & (gone <= plan.sought)
    leave = np.where(worker, seen.first, np.where(lost, gone, np.minimum(plan.sought, ends)))
    use = mine & ~plan.entry_workers & (leave > plan.entry)
    out = np.ceil(np.where(use, leave, 0.0)).astype(int)
    into = np.broadcast_to(np.ceil(plan.entry).astype(int), out.shape)
    width = last + 3
    row = np.arange(len(out))[:, None] * width

    def placed(day: Ints, weight: npt.NDArray[Any]) -> Floats:
        flat = (row + np.minimum(day, width - 1)).ravel()
        counted = (weight & use).ravel().astype(float)
        summed: Floats = np.bincount(flat, counted, len(out) * width).astype(np.float64)
        return summed.reshape(len(out), width)

    present = np.cumsum(placed(into + 1, use) - placed(out + 1, use), axis=1)
    workers, either = placed(out, worker), placed(out, worker | lost)
    free = np.cumprod(1 - _ratio(either, present), axis=1)
    before = np.concatenate([np.ones((len(out), 1)), free[:, :-1]], axis=1)
    shares: Floats = np.cumsum(before * _ratio(workers, present), axis=1)
    return shares[:, : last + 1]


def _curve(name: str, genus: str, arm: str, drawn: Floats, level: float) -> pd.DataFrame:
    tail = (1 - level) / 2
    low, high = np.quantile(drawn, [tail, 1 - tail], axis=0)
    day = np.arange(drawn.shape[1], dtype=float)
    names = {"curve": name, "genus": genus, "arm": arm, "day": day}
    return pd.DataFrame(names | {"estimate": drawn.mean(axis=0), "low": low, "high": high})


type Drawn = list[tuple[Floats, Floats]]
"""Both curves of each group, of some replicates."""


def drawn(plan: Calendar, seen: Seen, chosen: pd.DataFrame, last: int) -> Drawn:
    """Both curves of each group of `groups`, one row per study."""
    return [
        (survival(plan, seen, mine, last), first_worker(plan, seen, mine, last))
        for _, _, mine in groups(chosen)
    ]


def rows(parts: Sequence[Drawn], chosen: pd.DataFrame, level: float) -> pd.DataFrame:
    """Rows of ``curves.csv``: mean and range over all replicates."""
    lines = [
        _curve(name, genus, arm, np.concatenate([part[i][j] for part in parts]), level)
        for j, name in enumerate(CURVES)
        for i, (genus, arm, _) in enumerate(groups(chosen))
    ]
    return pd.concat(lines, ignore_index=True)
