"""What the priors alone say, before any sheet: outcomes, contrasts, and the basis of each prior.

Comes in: `Priors`. Goes out: tables and an `Outcomes` of prior draws. Never: data.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.model.lineup import Lineup, walk_steps
from cohort.model.parameters import TABLE
from cohort.model.priors import Priors
from cohort.outcomes.parameters import prior_draws
from cohort.outcomes.quantities import NO_DAY, Key, Outcomes, outcomes
from cohort.outcomes.table import DIRECT, share_better
from cohort.terms.questions import NEW, QUANTITIES

EXPECTED: Final = (0.40, 0.95)
"""Share of single temperate foundings with workers before winter that a sober prior allows."""
LEAST: Final = 0.80
"""Share of prior draws that must fall inside."""
_FEW: Final = 6  # losses in every piece, so that no step of the hazards is dropped


def lineup_alone(genera: int = 4) -> Lineup:
    """A lineup without foundings: so many genera, every step of the hazards in."""
    steps = walk_steps(np.repeat(1000.0, _FEW), np.repeat(1000.0, _FEW))
    none = np.zeros(0, np.int64)
    names = tuple(f"genus {i + 1}" for i in range(genera))
    return Lineup((), names, none, none, none, *steps, pooled_fight=False)


def prior_outcomes(
    priors: Priors | None = None,
    *,
    seed: int,
    sizes: tuple[int, ...] = (1, 2, 3),
    horizon: int = 180,
    genera: int = 4,
    draws: int = 2000,
) -> Outcomes:
    """Outcomes of new foundings by the priors alone.

    Parameters
    ----------
    priors : Priors, optional
    seed : int
    sizes : tuple of int
    horizon : int
        Last day, days.
    genera, draws : int
    """
    drawn = prior_draws(lineup_alone(genera), priors or Priors(), seed=seed, draws=draws)
    return outcomes(drawn, sizes, horizon)


def sober_share(alone: Outcomes, horizon: int, kind: str = NEW) -> float:
    """Share of prior draws in which `EXPECTED` of the single foundings get workers in time."""
    values = alone.values[Key("first_worker", "chance_by_day", 1, horizon)]
    one = values[:, alone.kinds.index(kind)]
    return float(((one >= EXPECTED[0]) & (one <= EXPECTED[1])).mean())


def said(alone: Outcomes, kind: str = NEW) -> pd.DataFrame:
    """One row per outcome: middle and 5, 25, 75 and 95 % points over prior draws.

    Returns
    -------
    DataFrame
        ``quantity``, ``queens``, ``day``, ``reading``, ``p05``, ``p25``, ``p50``, ``p75``, ``p95``,
        ``chance_multi_better`` for contrasts.
    """
    at = alone.kinds.index(kind)
    rows = []
    for key, values in alone.values.items():
        question, name, size, day, reading = key
        points = np.quantile(values[:, at], [0.05, 0.25, 0.5, 0.75, 0.95])
        row: dict[str, Any] = {
            "quantity": name,
            "queens": size,
            "day": pd.NA if day == NO_DAY else day,
            "reading": reading,
        }
        row |= dict(zip(("p05", "p25", "p50", "p75", "p95"), points, strict=True))
        row["chance_multi_better"] = _better(question, name, values[:, at])
        rows.append(row)
    table = pd.DataFrame(rows)
    table["day"] = table["day"].astype("Int64")
    return table


def _better(question: str, name: str, values: np.ndarray) -> float:
    if name not in DIRECT:
        return math.nan
    return float(share_better(QUANTITIES[question, name], values))


def basis(priors: Priors | None = None) -> pd.DataFrame:
    """Every prior in numbers, with the reason for it.

    Returns
    -------
    DataFrame
        ``parameter``, ``meaning``, ``prior``, ``basis``.
    """
    held = priors or Priors()
    rows = [
        (row.name, row.says, str(held[row.name]), row.why)
        for row in TABLE.values()
        if row.prior is not None
    ]
    return pd.DataFrame(rows, columns=["parameter", "meaning", "prior", "basis"])


def draws_of(alone: Outcomes, key: Key, kind: str = NEW) -> np.ndarray:
    """Prior draws of one outcome, shape (draws,)."""
    values: np.ndarray = alone.values[key][:, alone.kinds.index(kind)]
    return values
