"""To which day foundings were followed, and so to which day may be spoken of them.

Comes in: the foundings of a `History`. Goes out: the day to which the fate of each is known, the
last day of the study and of each kind that may be spoken of, and how many kinds reach a day.
Never: an estimate.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.terms.questions import HORIZON, QUANTITIES

WAYS: Final = ("single", "multi")
ENOUGH: Final = 8
"""Foundings of each way that must have been followed to a day before a study speaks of it."""
ENOUGH_OF_KIND: Final = 4
"""The same for one kind."""
LATE: Final = 7.0
"""Days before the last day at which a look still counts as the last day (weekly looks)."""


def compared(foundings: pd.DataFrame) -> pd.DataFrame:
    """Rows of the history that stand inside the comparison."""
    return foundings[foundings["compared"].astype(bool)]


def known_to(foundings: pd.DataFrame, horizon: int) -> pd.Series:
    """Day to which the fate of each founding is known.

    A founding whose follow-up was cut at the horizon was looked at beyond it, and a look in the
    last week before the horizon counts as the horizon (weekly looks; the same rule as in the raw
    table). A founding that lost all its queens needs no more looks: it is known as far as its
    keeper's record goes, in the calendar, so that early losses alone never make a day look well
    followed. Any other is known to its last counted look.

    Parameters
    ----------
    foundings : DataFrame
        History, one row per founding.
    horizon : int
        Day agreed at the start, days.
    """
    end = foundings["end"].astype(float)
    whole = (foundings["end_kind"] == "horizon") | (end >= horizon - LATE)
    lost = np.isfinite(foundings["lost_by"].astype(float))
    start = (foundings["started"] - pd.Timestamp("2000-01-01")).dt.days.astype(float)
    record = (start + end).groupby(foundings["keeper"].astype(str)).transform("max") - start
    longest = pd.Series(np.maximum(end, record), index=end.index)
    known = end.where(~lost, longest).clip(upper=float(horizon))
    return known.where(~whole, float(horizon))


def _last_of(inside: pd.DataFrame, known: pd.Series, ways: tuple[str, ...], enough: int) -> float:
    """Last day to which so many foundings of each way are known; 0 where a way has fewer."""
    last = np.inf
    for way in ways:
        days = known[inside["arm"] == way].sort_values(ascending=False)
        if len(days) < enough:
            return 0.0
        last = min(last, float(days.iloc[enough - 1]))
    return last


def fair_day(
    foundings: pd.DataFrame,
    horizon: int,
    ways: tuple[str, ...] = WAYS,
    enough: int = ENOUGH,
    *,
    genus: str = "",
) -> int:
    """Last day that may be spoken of; 0: none.

    Of a study it is the last day to which at least `enough` foundings of each way were followed or
    had lost all queens. Of a kind it is the same for `ENOUGH_OF_KIND` of its own foundings, and
    never beyond the study's.

    Parameters
    ----------
    foundings : DataFrame
        History, one row per founding.
    horizon : int
        Day agreed at the start, days.
    ways : tuple of str
        Ways of founding that must be there.
    enough : int
        Foundings needed of each in the study.
    genus : str
        A kind; blank for the study.
    """
    inside = compared(foundings)
    known = known_to(inside, horizon)
    last = min(float(horizon), _last_of(inside, known, ways, enough))
    if genus:
        own = inside[inside["genus"] == genus]
        last = min(last, _last_of(own, known[own.index], ways, ENOUGH_OF_KIND))
    return int(last)


def kind_days(foundings: pd.DataFrame, horizon: int) -> dict[str, int]:
    """Last day that may be spoken of, by kind; see `fair_day`.

    Parameters
    ----------
    foundings : DataFrame
        History, one row per founding.
    horizon : int
        Day agreed at the start, days.
    """
    kinds = sorted(compared(foundings)["genus"].astype(str).unique())
    return {kind: fair_day(foundings, horizon, genus=kind) for kind in kinds}


def followed_share(days: Mapping[str, int], day: float) -> float:
    """Share of the kinds that were followed to a day; in an average each has the same weight.

    Parameters
    ----------
    days : mapping of str to int
        From `kind_days`.
    day : float
        Days since day 0.
    """
    return sum(last >= day for last in days.values()) / len(days) if days else 0.0


def last_given(days: Iterable[float], last: float) -> int:
    """Latest of some days that is not beyond the last; 0 if all are.

    Parameters
    ----------
    days : iterable of numbers
        Days a number is given for.
    last : float
        From `fair_day`.
    """
    return int(max((day for day in days if day <= last), default=0))


def reach(foundings: pd.DataFrame, horizon: int, *, spring: float | None = None) -> dict[str, Any]:
    """How far a study and its kinds were followed, as it stands in ``diagnosis.json``.

    Parameters
    ----------
    foundings : DataFrame
        History, one row per founding.
    horizon : int
        Day agreed at the start, days.
    spring : float, optional
        Day on which winter rest is over in a study that goes through it: colonies are told on it.

    Returns
    -------
    dict
        ``fair_day``: last day that may be spoken of in the study; ``kind_days``: the same by kind;
        ``followed_share``: share of the weight in ``average`` of kinds that were followed to the
        last day on which colonies may be spoken of in the study, 0 where there is none.
    """
    last, kinds = fair_day(foundings, horizon), kind_days(foundings, horizon)
    days = QUANTITIES["colony", "chance_per_founding"].days
    told = [horizon if day == HORIZON else day for day in days]
    spoken = last_given([*told, *([] if spring is None else [spring])], last)
    share = followed_share(kinds, spoken) if spoken else 0.0
    return {"fair_day": last, "kind_days": kinds, "followed_share": share}


def typical_first(foundings: pd.DataFrame, genus: str = "") -> float:
    """Middle day on which first workers were seen in groups; 0 when none were.

    Parameters
    ----------
    foundings : DataFrame
        History, one row per founding.
    genus : str
        A kind; blank, and for a kind none of whose groups had workers: all kinds.
    """
    inside = compared(foundings)
    seen = inside[(inside["arm"] == "multi") & np.isfinite(inside["first_by"].astype(float))]
    own = seen[seen["genus"] == genus]
    days = (own if len(own) else seen)["first_by"].astype(float)
    return float(days.median()) if len(days) else 0.0
