"""Foundings as survival data for other libraries.

What comes in: a `History` or a `Study`, and the name of an event. What goes out: one frame, a row
per founding. It fits nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from cohort.base.errors import StudyError
from cohort.base.frames import held
from cohort.history import History
from cohort.history.looks import days, numbers, start
from cohort.history.record import Flags, Floats
from cohort.history.stops import stops
from cohort.history.warmed import as_compared
from cohort.study import Study
from cohort.terms.described import attributes
from cohort.terms.near import did_you_mean

SHIFT: Final = 1e-6
"""Days by which a lower end is moved for libraries that close brackets or take the log of day 0."""
BROOD: Final = ("eggs", "larvae", "pupae")
"""Stages of brood, in the order in which they come."""
QUEENS, WORKERS = "queens", "workers"
EVENTS: Final = ("first_worker", "all_lost", *BROOD, QUEENS, WORKERS)


@dataclass(frozen=True)
class _Told:
    """Of each founding: bracket ``(lower, upper]``, loss of all queens first, nothing to tell."""

    lower: Floats
    upper: Floats
    lost: Floats
    out: Flags


def survival(
    given: History | Study,
    event: str,
    *,
    below: int | None = None,
    at_least: int | None = None,
    shift: float = 0.0,
) -> pd.DataFrame:
    """Give the brackets of an event, one row per compared founding, as lifelines takes them.

    Parameters
    ----------
    given : Study or History
        Stages of brood and counts of workers are asked of a study: a history does not keep them.
    event : str
        ``first_worker``; ``all_lost``, the loss of all queens; ``eggs``, ``larvae``, ``pupae``: the
        first look with brood of that stage or a later one, or with workers; ``queens`` with
        ``below=2``: the first count of fewer living queens; ``workers`` with ``at_least=10``: the
        first count of as many workers.
    below, at_least : int, optional
        See `event`.
    shift : float
        Days added to ``lower``. lifelines closes brackets and takes the log of ``lower``: 1e-6
        cures both.

    Returns
    -------
    pandas.DataFrame
        ``event``; ``lower``, ``upper``: it fell in ``(lower, upper]``, days since day 0, `upper` is
        ``inf`` where it was not seen; ``entry``: day on which the founding was first followed;
        ``seen``; ``day``: the look that showed it, else the last day without it; ``ended_by`` 1:
        the event, 2: all queens were lost first, 0: neither; ``ended``: day of whichever it was,
        else ``day``; ``group`` (``single``, ``multi``) and ``multi`` (True, False); then every
        column of `History.foundings`, a study's own too. Foundings that had the event before they
        were first followed, or were never looked at after, are not in it; nor, of ``queens``, those
        that began with fewer.

        A founding that lost all its queens, or was given foreign brood, says nothing of workers and
        brood from that day on: ``day`` treats it as no longer followed, which is censoring by a
        competing event. ``ended`` and ``ended_by`` take it as such. Queens taken out alive are no
        loss: `queens` is followed to that day.

    Raises
    ------
    StudyError
        No such event, a number that is missing or has no use here, or a history where a study is
        needed.

    Examples
    --------
    >>> import cohort
    >>> from lifelines import KaplanMeierFitter
    >>> frame = cohort.survival(cohort.read_study("data/demo"), "first_worker")
    >>> curve = KaplanMeierFitter().fit(frame["day"], frame["seen"], entry=frame["entry"])
    >>> round(float(curve.median_survival_time_))
    48
    """
    number = _number(event, below, at_least)
    past, _ = as_compared(given)
    every = held(past, "foundings")
    inside = every["compared"].to_numpy(dtype=bool)
    if event in (*BROOD, WORKERS):
        if not isinstance(given, Study):
            raise StudyError(
                f"{event}: a history keeps no looks; give the study, such as "
                f"cohort.survival(study, '{event}')."
            )
        told = _by_looks(given, every, event, number)
    elif event == QUEENS:
        told = _fewer_queens(past, number)
    else:
        told = _first_worker(every) if event == "first_worker" else _all_lost(every)
    frame = _framed(every, event, told, shift)
    keep = inside & ~told.out & (frame["day"] > frame["entry"]).to_numpy()
    made = frame[keep].reset_index(drop=True)
    made.attrs.update(attributes("survival"))
    return made


def _number(event: str, below: int | None, at_least: int | None) -> int:
    """The number an event asks for; 0 where it asks for none."""
    if event not in EVENTS:
        near = did_you_mean(event, EVENTS) or f"There are {', '.join(EVENTS)}."
        raise StudyError(f"There is no event '{event}'. {near}")
    given = {"below": below, "at_least": at_least}
    asked = {QUEENS: "below", WORKERS: "at_least"}.get(event, "")
    for name, value in given.items():
        if value is not None and name != asked:
            raise StudyError(f"{event}: {name} has no use here.")
    if not asked:
        return 0
    value = given[asked]
    number = isinstance(value, int | float | np.number) and not isinstance(value, bool)
    if value is None or not number or not float(value).is_integer() or value < 1:
        example = {"below": 2, "at_least": 10}[asked]
        raise StudyError(
            f"{event}: say how many, a whole number from 1, such as {asked}={example}."
        )
    return int(value)


def _framed(every: pd.DataFrame, event: str, told: _Told, shift: float) -> pd.DataFrame:
    entry = every["entry"].to_numpy(dtype=np.float64)
    lower, seen = np.maximum(told.lower, entry), np.isfinite(told.upper)
    day = np.where(seen, told.upper, lower)
    gone = ~seen & np.isfinite(told.lost)
    made = {
        "event": event,
        "lower": lower + shift,
        "upper": told.upper,
        "entry": entry,
        "seen": seen,
        "day": day,
        "ended_by": np.where(seen, 1, np.where(gone, 2, 0)),
        "ended": np.where(gone, told.lost, day),
        "group": every["arm"],
        "multi": every["arm"].eq("multi"),
    }
    head = pd.DataFrame(made, index=every.index)
    return pd.concat([head, every.drop(columns=["entry"])], axis=1)


def _floats(found: pd.DataFrame, *names: str) -> tuple[Floats, ...]:
    return tuple(found[name].to_numpy(dtype=np.float64) for name in names)


def _first_worker(found: pd.DataFrame) -> _Told:
    after, by, looked, lost, censored, end = _floats(
        found, "first_after", "first_by", "looked_to", "lost_by", "workers_cens", "end"
    )
    seen = np.isfinite(by) & (by <= lost) & (by <= censored)
    last = np.minimum(np.minimum(looked, censored), np.where(np.isfinite(lost), lost, end))
    lower = np.where(seen, after, last)
    out = found["entry_workers"].to_numpy(dtype=bool)
    return _Told(lower, np.where(seen, by, np.inf), _lost_first(lost, censored), out)


def _lost_first(lost: Floats, censored: Floats) -> Floats:
    """Day of the loss of all queens where foreign brood did not hide what came before it."""
    return np.where(lost <= censored, lost, np.inf)


def _all_lost(found: pd.DataFrame) -> _Told:
    after, by, end = _floats(found, "lost_after", "lost_by", "end")
    nothing = np.zeros(len(found), dtype=bool)
    lower = np.where(np.isfinite(by), after, end)
    return _Told(lower, by, np.full(len(found), np.inf), nothing)


def _fewer_queens(past: History, below: int) -> _Told:
    """First count of fewer queens; where they were taken out alive, no further than that."""
    found, spans = held(past, "foundings"), held(past, "intervals")
    lower, upper = found["end"].to_numpy(dtype=np.float64).copy(), np.full(len(found), np.inf)
    taken = spans["at_risk"] < below
    short = spans[taken | (spans["alive"] < below)].groupby("code").head(1)
    code = short["code"].to_numpy(dtype=np.int64)
    lower[code] = short["after"].to_numpy()
    upper[code] = np.where(taken[short.index], np.inf, short["by"].to_numpy())
    out = found["entry_queens"].to_numpy(dtype=np.float64) < below
    return _Told(lower, upper, np.full(len(found), np.inf), np.asarray(out, dtype=bool))


def _by_looks(study: Study, found: pd.DataFrame, event: str, number: int) -> _Told:
    """First look that shows a stage of brood, or so many workers."""
    looks, begun = held(study, "checks"), start(study)
    code = begun.names.get_indexer(pd.Index(looks["founding"]))
    day = days(looks["date"], begun.zero[code])
    slack = numbers(looks["give_or_take"], 0.0) + begun.slack[code]
    lost, foreign = _floats(found, "lost_by", "brood_in")
    last = np.minimum(np.minimum(stops(study, begun, season=True).day, lost), foreign)
    shows, lacks = _shown(looks, event, number)
    shows, lacks = shows & (day <= last[code]), lacks & (day <= last[code])
    by, first = (np.full(len(found), np.inf) for _ in range(2))
    np.minimum.at(first, code[shows], day[shows])
    np.minimum.at(by, code[shows], (day + slack)[shows])
    after = found["entry"].to_numpy(dtype=np.float64).copy()
    lacks &= day < first[code]
    np.maximum.at(after, code[lacks], (day - slack)[lacks])
    late = ~np.isnan(begun.followed)
    out = late & (first <= found["entry"].to_numpy(dtype=np.float64))
    by = np.where(np.isfinite(by), np.minimum(by, np.maximum(lost, first)), by)
    return _Told(after, by, _lost_first(lost, foreign), np.asarray(out, dtype=bool))


def _shown(looks: pd.DataFrame, event: str, number: int) -> tuple[Flags, Flags]:
    """Looks that show what is waited for, and looks that show that it has not come."""
    workers = numbers(looks["workers"])
    if event == WORKERS:
        exact = ~looks["workers_at_least"].to_numpy(dtype=bool)
        return workers >= number, (workers < number) & exact
    stage = looks["brood"].map({"none": 0, **{name: i for i, name in enumerate(BROOD, 1)}})
    seen, wanted = stage.to_numpy(dtype=np.float64), BROOD.index(event) + 1
    shows = (seen >= wanted) | (workers > 0)  # workers were pupae
    return shows, (seen < wanted) & ~shows
