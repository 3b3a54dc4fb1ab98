"""What simulated foundings came to, under the names of the outcomes of a comparison.

Comes in: `Paths`, founding by founding. Goes out: a table of quantities. Shares nothing with the
outcomes it is held against.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from cohort.simulate.events import Floats, Paths
from cohort.terms.questions import READINGS, SEEN


def _row(quantity: str, day: float, values: Floats, reading: str = "") -> dict[str, object]:
    """Mean and standard error of one value per founding."""
    n = values.size
    mean = float(values.mean()) if n else math.nan
    se = float(values.std(ddof=1) / math.sqrt(n)) if n > 1 else math.nan
    return {
        "quantity": quantity, "day": int(day), "reading": reading, "mean": mean, "se": se,
        "foundings": n,
    }  # fmt: skip


def _colonies(paths: Paths, day: float) -> list[dict[str, object]]:
    """Workers and a living mated queen, by who dies first."""
    rows = []
    for reading in READINGS:
        here = (paths.first_worker <= day) & (paths.mated_alive(day, reading) > 0)
        name = "chance_per_founding" if reading == SEEN else "chance_lasting"
        rows.append(_row(name, day, here.astype(float), reading))
        rows.append(_row("colonies_per_queen", day, here / paths.size, reading))
    return rows


def _median_row(day: float, values: Floats) -> dict[str, object]:
    """Median, its standard error from the order statistics one binomial SD to either side."""
    n, nan = values.size, math.nan
    low = mid = high = nan
    if n > 1:
        half = 0.5 / math.sqrt(n)
        low, mid, high = (float(x) for x in np.quantile(values, [0.5 - half, 0.5, 0.5 + half]))
    se = (high - low) / 2
    return {
        "quantity": "median_day", "day": int(day), "reading": "", "mean": mid, "se": se,
        "foundings": n,
    }  # fmt: skip


def summaries(
    paths: Paths,
    days: Sequence[float] = (30, 60, 90, 160),
    *,
    after: Sequence[float] = (30, 60, 90),
    horizon: float | None = None,
) -> pd.DataFrame:
    """Return plain averages of the paths, named as the rows of ``comparisons.csv``.

    Parameters
    ----------
    paths : Paths
        Simulated foundings; none may have had queens taken out.
    days : sequence of numbers
        Days since day 0 at which chances and shares are wanted.
    after : sequence of numbers
        Days since the first worker, for foundings that reached it with two or more queens.
    horizon : float, optional
        Day by which the first worker must have come to count in `median_day` and `after`, and
        to which `queen_days` run. Default: ``paths.horizon`` less the longest of `after`, or
        ``paths.horizon`` if `after` is empty.

    Returns
    -------
    pandas.DataFrame
        Columns quantity, day, reading (blank where nothing hangs on what is called a colony),
        mean, se (Monte Carlo), foundings (number averaged over).
        ``reached_with_several`` is the share of all foundings behind the `after` rows.

    Raises
    ------
    ValueError
        If a wanted day lies beyond what was simulated, or queens were taken out.
    """
    last = paths.horizon - max(after, default=0.0) if horizon is None else float(horizon)
    if max([last + max(after, default=0.0), *days]) > paths.horizon:
        raise ValueError(f"simulate further than day {paths.horizon:g} for these days")
    if (paths.taken > 0).any():
        raise ValueError("averages are of foundings from which no queen was taken out")
    k, hatched = paths.size, paths.first_worker
    rows: list[dict[str, object]] = []
    for day in days:
        left = paths.alive(day)
        workers = hatched <= day
        stopped = paths.alive(np.minimum(hatched, day))
        rows += [
            _row("share_alive_before_workers", day, stopped / k),
            _row("share_alive", day, left / k),
            _row("chance_by_day", day, workers.astype(float)),
            *_colonies(paths, day),
            _row("all_lost", day, (left == 0).astype(float)),
        ]
    rows.append(_row("queen_days", last, np.minimum(paths.deaths, last).sum(axis=1) / k))
    rows.append(_median_row(last, hatched[hatched <= last]))
    at_hatch = paths.alive(hatched)
    several = (hatched <= last) & (at_hatch >= 2)
    rows.append(_row("reached_with_several", last, several.astype(float)))
    for s in after:
        left = paths.alive(hatched + s)[several]
        rows += [
            _row("chance_one_left", s, (left == 1).astype(float)),
            _row("chance_none_left", s, (left == 0).astype(float)),
            _row("chance_several_left", s, (left >= 2).astype(float)),
            _row("expected_left", s, left.astype(float)),
        ]
    return pd.DataFrame(rows)
