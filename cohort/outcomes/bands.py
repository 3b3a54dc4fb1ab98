"""What the model expects day by day, as rows of `curves.csv`.

Comes in: an `Outcomes`. Goes out: a DataFrame with the columns of the curves, whose names begin
with ``model_``. Never: a step function; those are in `cohort.nonparametric`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.outcomes.quantities import Outcomes

LEFT = ("model_queens_left_0", "model_queens_left_1", "model_queens_left_several")


def _rows(
    curve: str,
    genus: str,
    arm: str,
    days: npt.NDArray[np.float64],
    draws: npt.NDArray[np.float64],
    level: float,
) -> pd.DataFrame:
    tail = (1 - level) / 2
    low, high = np.quantile(draws, [tail, 1 - tail], axis=0)
    columns: dict[str, Any] = {
        "curve": curve,
        "genus": genus,
        "arm": arm,
        "day": days,
        "estimate": draws.mean(axis=0),
        "low": low,
        "high": high,
    }
    return pd.DataFrame(columns)


def bands(post: Outcomes, headline: int, *, level: float = 0.9) -> pd.DataFrame:
    """Expected share of queens alive, chance of a first worker, and queens left, with bands.

    Parameters
    ----------
    post : Outcomes
    headline : int
        Group size the ``multi`` rows speak of.
    level : float

    Returns
    -------
    DataFrame
        curve (``model_queen_survival``, ``model_first_worker``, ``model_queens_left_0``, ``_1``,
        ``_several``), genus (also ``average``, ``next_season`` and ``new``), arm, day, estimate,
        low, high.
    """
    parts = []
    for i, genus in enumerate(post.kinds):
        for arm, size in (("single", 1), ("multi", headline)):
            for name, curve in (
                ("model_queen_survival", post.alive),
                ("model_first_worker", post.workers),
            ):
                drawn = post.of_kind(curve, i, size)
                parts.append(_rows(name, genus, arm, post.days, drawn, level))
        left = post.of_kind(post.left, i, headline)
        for j, name in enumerate(LEFT):
            parts.append(_rows(name, genus, "multi", post.days, left[..., j], level))
    return pd.concat(parts, ignore_index=True)
