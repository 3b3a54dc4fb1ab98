"""Foundings that lost all queens: a rank test and a proportional-hazards fit, kind by kind.

What comes in: a `History`. What goes out: `Row`s. The founding is the unit, as queens of one
container are not independent; a loss is dated at the look that showed it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import ndtr, ndtri, stdtr, stdtrit

from cohort.history import History
from cohort.nonparametric.frames import survival
from cohort.nonparametric.ranks import strata_logrank
from cohort.second_opinion.rows import LEAST, Row, UndoneError, fitted
from cohort.second_opinion.workers import WIDE

SEVERAL = 4
"""Keepers from which on the standard error goes by keeper."""


@dataclass(frozen=True)
class RiskRatio:
    """Log ratio of the hazards of losing all queens, several against one.

    Parameters
    ----------
    log_ratio, se : float
    keepers : int
        Clusters behind a robust error; 0: the error takes foundings to be independent.
    """

    log_ratio: float
    se: float
    keepers: int


def _enough(frame: pd.DataFrame) -> None:
    """Raise unless there are foundings of both ways and at least one of each was lost."""
    lost = frame[frame["seen"]]
    if min((frame["arm"] == arm).sum() for arm in ("single", "multi")) < LEAST:
        raise UndoneError("few")
    if not all((lost["arm"] == arm).any() for arm in ("single", "multi")):
        raise UndoneError("no_event")
    if len(lost) < LEAST:
        raise UndoneError("few")


def risk_ratio(frame: pd.DataFrame) -> RiskRatio:
    """Fit proportional hazards, each genus with a baseline of its own.

    Parameters
    ----------
    frame : DataFrame
        ``genus``, ``arm``, ``keeper``, ``entry``, ``day``, ``seen``, see
        `cohort.nonparametric.frames`.

    Raises
    ------
    UndoneError
        Too few foundings or losses, or the fit did not settle.

    Notes
    -----
    Ties by Efron's way. With at least four keepers the error is that of Lin and Wei (1989),
    doi:10.1080/01621459.1989.10478874, by keeper, times sqrt(K / (K - 1)), and its range goes by
    Student's t on K - 1 degrees of freedom: with so few clusters the bare error is too small. (The
    bare one of lifelines differs a little from R's where there are ties.)
    """
    from lifelines import CoxPHFitter

    _enough(frame)
    table = pd.DataFrame(
        {
            "genus": frame["genus"].astype(str),
            "multi": (frame["arm"] == "multi").astype(float),
            "entry": frame["entry"].astype(float),
            "day": frame["day"].astype(float),
            "seen": frame["seen"].astype(int),
        }
    )
    names = frame["keeper"].astype(str)
    keepers = names.nunique() if (names != "").all() and names.nunique() >= SEVERAL else 0
    more = {"strata": ["genus"]} if table["genus"].nunique() > 1 else {}
    table = table if more else table.drop(columns="genus")
    given: dict[str, Any] = more
    if keepers:
        table["keeper"] = names
        given = {**more, "cluster_col": "keeper"}
    fit: Any = fitted(
        lambda: CoxPHFitter().fit(
            table, duration_col="day", event_col="seen", entry_col="entry", **given
        )
    )
    ratio, se = float(fit.params_["multi"]), float(fit.standard_errors_["multi"])
    if not (np.isfinite(ratio) and 0 < se < WIDE):
        raise UndoneError("no_fit")
    return RiskRatio(ratio, se * np.sqrt(keepers / (keepers - 1)) if keepers else se, keepers)


def _ratio(row: Row, log_ratio: float, reach: float, p: float, foundings: int) -> Row:
    low, estimate, high = np.exp([log_ratio - reach, log_ratio, log_ratio + reach])
    return replace(
        row, estimate=float(estimate), low=float(low), high=float(high), p=p, foundings=foundings
    )


def cox_row(row: Row, past: History, level: float) -> Row:
    """Ratio of the risks of losing all queens, by proportional hazards within kinds."""
    frame = survival(past, "all_lost")
    found = risk_ratio(frame)
    z, middle = abs(found.log_ratio / found.se), (1 + level) / 2
    if found.keepers:
        reach, tail = stdtrit(found.keepers - 1, middle), stdtr(found.keepers - 1, -z)
    else:
        reach, tail = ndtri(middle), ndtr(-z)
    return _ratio(row, found.log_ratio, float(reach) * found.se, float(2 * tail), len(frame))


def logrank_row(row: Row, past: History, level: float) -> Row:
    """The same ratio by the log-rank test within kinds, in one step."""
    frame = survival(past, "all_lost")
    _enough(frame)
    found = strata_logrank(
        frame["entry"], frame["day"], frame["seen"], frame["arm"] == "multi", frame["genus"]
    )
    if not found.variance > 0:
        raise UndoneError("no_event")
    reach = float(ndtri((1 + level) / 2)) / np.sqrt(found.variance)
    return _ratio(row, found.log_ratio, float(reach), found.p, len(frame))
