"""What the priors alone say, before any sheet: outcomes, contrasts, and the basis of each prior.

Comes in: `Priors`. Goes out: tables and an `Outcomes` of prior draws. Never: data.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.model.design import ModelDesign, walk_steps
from cohort.model.parameters import TABLE
from cohort.model.priors import Priors
from cohort.outcomes.parameters import prior_draws
from cohort.outcomes.quantities import NO_DAY, Key, Outcomes, outcomes
from cohort.outcomes.table import DIRECT, share_better
from cohort.terms.questions import NEW, QUANTITIES

EXPECTED: Final = {"single": (0.40, 0.95), "multi": (0.40, 1.0)}
"""Share of temperate foundings with workers before winter that is ordinary, by way of founding.

A guess. Groups have no upper end: that all of three die or are unmated is rare in a good year.
"""
LEAST: Final = {"single": 0.70, "multi": 0.85}
"""Share of prior draws that must fall inside.

Measured: .76 of single foundings, .94 of groups of three (4,000 draws). Four in five was asked of
single foundings while the SD of the log hazard was 0.8. At 1.2 a quarter of the draws lie below the
range: they are those with a loss of a queen in a hundred a day and more, which findings.csv row 6
shows and beginners know. A prior that holds four in five would rule them out again.
"""
_FEW: Final = 6  # losses in every piece, so that no step of the hazards is dropped


def design_alone(genera: int = 4) -> ModelDesign:
    """A design without foundings: so many genera, every step of the hazards in."""
    steps = walk_steps(np.repeat(1000.0, _FEW), np.repeat(1000.0, _FEW))
    none = np.zeros(0, np.int64)
    names = tuple(f"genus {i + 1}" for i in range(genera))
    return ModelDesign((), names, none, none, none, *steps, pooled_fight=False)


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
    drawn = prior_draws(design_alone(genera), priors or Priors(), seed=seed, draws=draws)
    return outcomes(drawn, sizes, horizon)


def sober_share(alone: Outcomes, horizon: int, queens: int = 1, kind: str = NEW) -> float:
    """Share of prior draws in which `EXPECTED` of the foundings get workers in time.

    Parameters
    ----------
    alone : Outcomes
    horizon : int
    queens : int
        Queens at the start: one of the sizes of ``alone``.
    kind : str
    """
    low, high = EXPECTED["single" if queens == 1 else "multi"]
    own = draws_of(alone, Key("first_worker", "chance_by_day", queens, horizon), kind)
    return float(((own >= low) & (own <= high)).mean())


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
