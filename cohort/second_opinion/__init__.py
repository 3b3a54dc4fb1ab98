"""The questions of a comparison answered once more, by textbook methods.

What comes in: a `History`. What goes out: `Row`s (`opinions`), and the table of them beside the
model's numbers (`beside_model`). The methods assume less than the model, or other things, and leave
out what it does not: each row says what. A method with too little to go by is a row with the
reason. lifelines is loaded inside the functions that need it.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any, Final

import pandas as pd

from cohort.history import History
from cohort.nonparametric.counts import ALL, by_day, headline_size
from cohort.nonparametric.followed import ENOUGH, ENOUGH_OF_KIND, fair_day
from cohort.nonparametric.permutation import GAPS
from cohort.second_opinion.against import beside_model, model_number, reasons
from cohort.second_opinion.brackets import brackets_row, closed_row
from cohort.second_opinion.colonies import counted_row, exact_row, same_queens
from cohort.second_opinion.losses import RiskRatio, cox_row, logrank_row, risk_ratio
from cohort.second_opinion.rows import Row, UndoneError, tried
from cohort.second_opinion.workers import (
    TimeRatio,
    aft_row,
    incidence_row,
    jittered_row,
    time_ratio,
)

__all__ = [
    "RiskRatio",
    "Row",
    "TimeRatio",
    "UndoneError",
    "beside_model",
    "common_day",
    "model_number",
    "opinions",
    "reasons",
    "risk_ratio",
    "time_ratio",
]

EARLIER: Final = (60, 90)
"""Days before the horizon at which the model gives colonies."""
_SAME: Final = {"any": ("same_queens_any", "chance"), "count": ("same_queens_count", "colonies")}


def common_day(history: History, enough: int = ENOUGH, genus: str = ALL) -> int | None:
    """Last fair day of those the model gives, on which enough foundings of each way are known.

    Parameters
    ----------
    history : History
    enough : int
    genus : str
        A kind, or all of them.

    Returns
    -------
    int or None
        None where there is no such day.
    """
    last = fair_day(history.foundings, history.horizon, genus="" if genus == ALL else genus)
    given = (int(history.horizon), *(d for d in reversed(EARLIER) if d < history.horizon))
    for day in (d for d in given if d <= last):
        frame = by_day(history, day)
        known = frame[frame["known"] & ((genus == ALL) | (frame["genus"] == genus))]
        if min((known["arm"] == arm).sum() for arm in ("single", "multi")) >= enough:
            return day
    return None


def opinions(
    history: History,
    shuffled: dict[str, Any],
    prior: tuple[float, float],
    *,
    seed: int,
    level: float = 0.9,
) -> tuple[Row, ...]:
    """Every number of the second opinion, without the model's.

    Parameters
    ----------
    history : History
    shuffled : dict
        What `cohort.nonparametric.permutation.permutation` gave.
    prior : tuple of float
        Mean and SD of the model's prior of the log time ratio.
    seed : int
        Of resamples, and of the ties that lifelines parts by chance.
    level : float
        Mass of every range.
    """
    size = headline_size(history.foundings) or 2
    day = common_day(history)
    return (
        *_of_workers(history, prior, size, day, seed, level),
        *_of_losses(history, level),
        *_of_colonies(history, size, day, level),
        *_of_lots(shuffled, size),
    )


def _of_workers(
    past: History, prior: tuple[float, float], size: int, day: int | None, seed: int, level: float
) -> list[Row]:
    ratio = Row("aft", "first_worker", "time_ratio", "ratio", "ratio", queens=size)
    out = [tried(ratio, partial(aft_row, past=past, level=level, prior=prior))]
    for arm, queens in (("single", 1), ("multi", size)):
        for method, fill in (("incidence", incidence_row), ("incidence_jittered", jittered_row)):
            row = Row(method, "first_worker", "chance_by_day", "chance", arm, ALL, queens, day)
            whole = partial(fill, past=past, seed=seed, level=level)
            out.append(tried(row, whole) if day else replace(row, why="few"))
        for method, between in (("brackets", brackets_row), ("brackets_closed", closed_row)):
            row = Row(method, "first_worker", "chance_by_day", "chance", arm, ALL, queens, day)
            out.append(tried(row, partial(between, past=past)) if day else replace(row, why="few"))
    return out


def _of_losses(past: History, level: float) -> list[Row]:
    return [
        tried(
            Row(method, "queen_survival", "loss_ratio", "ratio", "ratio"),
            partial(fill, past=past, level=level),
        )
        for method, fill in (("logrank", logrank_row), ("cox", cox_row))
    ]


def _of_colonies(past: History, size: int, day: int | None, level: float) -> list[Row]:
    """Of all kinds, then kind by kind where there are enough, each to its own day."""
    found = past.foundings[past.foundings["compared"].astype(bool)]
    kinds = [
        (g, common_day(past, ENOUGH_OF_KIND, g)) for g in sorted(map(str, found["genus"].unique()))
    ]
    places = [(ALL, day), *((genus, min(own, day)) for genus, own in kinds if own and day)]
    exact = [_exact(past, genus, size, when, level) for genus, when in places]
    counted = [
        _counted(past, genus, size, when, gap, level) for gap in GAPS for genus, when in places
    ]
    kept = [row for row in counted if row.genus == ALL or not row.why]
    return [*exact, *kept]


def _known(past: History, genus: str, day: int) -> pd.DataFrame:
    frame = by_day(past, day)
    return frame[frame["known"] & ((genus == ALL) | (frame["genus"] == genus))]


def _exact(past: History, genus: str, size: int, day: int | None, level: float) -> Row:
    row = Row("exact", "colony", "chance_per_founding", "chance", "difference", genus, size, day)
    if day is None:
        return replace(row, why="few")
    whole = None
    if genus != ALL:
        every = partial(exact_row, frame=_known(past, ALL, day), whole=None, level=level)
        whole = tried(row, every).estimate
    frame = _known(past, genus, day)
    return tried(row, partial(exact_row, frame=frame, whole=whole, level=level))


def _counted(past: History, genus: str, size: int, day: int | None, gap: str, level: float) -> Row:
    quantity, unit = _SAME[gap]
    row = Row("counted", "colony", quantity, unit, "difference", genus, size, day)
    if day is None:
        return replace(row, why="few")
    which = GAPS.index(gap)
    whole = None if genus == ALL else same_queens(_known(past, ALL, day), which)
    frame = _known(past, genus, day)
    return tried(row, partial(counted_row, frame=frame, which=which, whole=whole, level=level))


def _of_lots(shuffled: dict[str, Any], size: int) -> list[Row]:
    """What the lots say; the gap is that above the one lots alone would give."""
    out = []
    for gap in GAPS:
        quantity, unit = _SAME[gap]
        row = Row(
            "lots", "colony", quantity, unit, "difference", ALL, size, int(shuffled["day"]),
            foundings=int(shuffled["foundings"]),
        )  # fmt: skip
        if shuffled["done"]:
            estimate, chance = float(shuffled[gap]), float(shuffled[f"{gap}_chance"])
            out.append(replace(row, estimate=estimate, p=chance))
        else:
            out.append(replace(row, why=str(shuffled["why"])))
    return out
