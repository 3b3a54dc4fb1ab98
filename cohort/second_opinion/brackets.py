"""Foundings with workers by brackets alone, by our own estimator and by lifelines.

What comes in: a `History`. What goes out: `Row`s. The two stand beside each other as a check: they
maximise the same likelihood, but for what they call a bracket. lifelines closes brackets at both
ends, so that ``[0, 7]`` and ``[7, 14]`` share day 7 and one lump there explains both. It is loaded
when asked.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pandas as pd

from cohort.history import History
from cohort.nonparametric.brackets import turnbull
from cohort.nonparametric.frames import survival
from cohort.second_opinion.rows import LEAST, Row, UndoneError, fitted


def _own(row: Row, past: History) -> pd.DataFrame:
    """Brackets of the compared foundings of a way that were followed from day 0.

    Raises
    ------
    UndoneError
        Too few, or none got workers.
    """
    frame = survival(past, "first_worker")
    own = frame[(frame["arm"] == row.arm) & (frame["entry"] == 0)]
    if len(own) < LEAST:
        raise UndoneError("few")
    if not own["seen"].any():
        raise UndoneError("no_event")
    return own


def brackets_row(row: Row, past: History) -> Row:
    """Share of foundings with workers by the day of the row, from half-open brackets.

    Turnbull (1976), doi:10.1111/j.2517-6161.1976.tb01597.x.
    """
    own = _own(row, past)
    try:
        left = turnbull(own["lower"].to_numpy(), own["upper"].to_numpy()).at([float(row.day or 0)])
    except ValueError as fault:
        raise UndoneError("no_fit") from fault
    return replace(row, estimate=min(float(1.0 - left[0]), 1.0), foundings=len(own))


def closed_row(row: Row, past: History) -> Row:
    """The same by lifelines, which closes the brackets."""
    from lifelines import KaplanMeierFitter

    own = _own(row, past)
    fit: Any = fitted(
        lambda: KaplanMeierFitter().fit_interval_censoring(own["lower"], own["upper"])
    )
    left = fit.survival_function_["NPMLE_estimate_lower"]
    return replace(
        row,
        estimate=float(1.0 - left[left.index <= float(row.day or 0)].iloc[-1]),
        foundings=len(own),
    )
