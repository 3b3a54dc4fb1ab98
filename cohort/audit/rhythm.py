"""Rules on how often was looked, and on how foundings end.

What comes in: what was followed, the settings and today. What goes out: warnings. A founding
needs looks from its entry to the first of: all queens lost, an end, the agreed last day, the end
of the study; not while it is in winter rest.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from cohort.audit.find import at, day, tell
from cohort.audit.looks import NEVER, Followed, entry_days
from cohort.audit.runs import day_numbers
from cohort.audit.settings import Settings
from cohort.sheets.found import Found

RHYTHMS = 3  # so many agreed rhythms without a look are worth a warning


class Gap(NamedTuple):
    """A stretch without a look: founding, its days, and the look that ended it (-1: none)."""

    code: np.ndarray
    after: np.ndarray
    until: np.ndarray
    look: np.ndarray


def long_gaps(foundings: pd.DataFrame, seen: Followed, settings: Settings, today: dt.date) -> Found:
    """No look for three rhythms outside winter, the longest stretch of each founding."""
    limit = RHYTHMS * settings.look_every
    gaps = _gaps(foundings, seen, settings, today)
    length = _without_winter(gaps, seen, limit)
    far = np.flatnonzero(length > limit)
    order = far[np.lexsort((gaps.after[far], -length[far], gaps.code[far]))]
    first = order[np.concatenate([[True], np.diff(gaps.code[order]) != 0])] if len(order) else order
    what = [_stretch(gaps, place, int(length[place]), settings) for place in first]
    return _told(
        foundings,
        seen,
        gaps.code[first],
        gaps.look[first],
        rule="no-look",
        what=what,
        remedy=tell("no_look_do"),
    )


def _stretch(gaps: Gap, place: int, length: int, settings: Settings) -> str:
    since = day(gaps.after[place].astype("datetime64[D]"))
    until = day(gaps.until[place].astype("datetime64[D]"))
    if gaps.look[place] >= 0:
        return tell(
            "no_look_between", since=since, until=until, length=length, n=settings.look_every
        )
    return tell("no_look_since", since=since, length=length, n=settings.look_every)


def _told(
    foundings: pd.DataFrame,
    seen: Followed,
    code: np.ndarray,
    look: np.ndarray,
    *,
    rule: str,
    what: Sequence[str],
    remedy: str,
) -> Found:
    """Warnings at the looks given; without one (-1) at the last look, else in foundings."""
    row = np.where(look >= 0, look, _state(foundings, seen).last_look[code])
    findings = Found()
    for table, mine, places in ((seen.looks, row >= 0, row), (foundings, row < 0, code)):
        findings += at(
            table,
            places[mine],
            level="warning",
            rule=rule,
            column="date",
            what=[what[p] for p in np.flatnonzero(mine).tolist()],
            remedy=remedy,
        )
    return findings


def no_end(foundings: pd.DataFrame, seen: Followed, settings: Settings, today: dt.date) -> Found:
    """The study is over, and a living founding was last seen before, without an end."""
    if settings.ends is None or today <= settings.ends:
        return Found()
    ends = np.int64(np.datetime64(settings.ends, "D").astype(np.int64))
    due = np.minimum(ends, day_numbers(foundings["started"]) + settings.horizon_days)
    state = _state(foundings, seen)
    code = np.flatnonzero(state.open_ & (state.last_day < due))
    gaps = Gap(code, state.last_day[code], due[code], np.full(len(code), -1))
    length = _without_winter(gaps, seen, settings.look_every)
    late = length > settings.look_every
    what = [
        tell("no_end", ends=str(settings.ends), day=day(since.astype("datetime64[D]")))
        for since in gaps.after[late]
    ]
    return _told(
        foundings,
        seen,
        code[late],
        gaps.look[late],
        rule="no-end",
        what=what,
        remedy=tell("no_end_do"),
    )


class _State(NamedTuple):
    last_day: np.ndarray  # day of the last look, else of the entry
    last_look: np.ndarray  # place of the last look; -1: none
    open_: np.ndarray  # a queen may live and no end is noted


def _state(foundings: pd.DataFrame, seen: Followed) -> _State:
    looks = seen.looks
    size = len(foundings)
    last_day = entry_days(foundings)
    last_look = np.full(size, -1)
    code = looks["code"].to_numpy()
    last_look[code] = np.arange(len(looks))  # sorted, so that the last one stays
    have = last_look >= 0
    last_day[have] = np.maximum(last_day[have], day_numbers(looks["date"])[last_look[have]])
    lost = np.zeros(size, dtype=bool)
    lost[code[looks["queens_alive"].eq(0).fillna(False).to_numpy(dtype=bool)]] = True
    known = foundings["started"].notna().to_numpy() & (foundings["founding"] != "").to_numpy()
    known &= ~foundings["founding"].duplicated().to_numpy()
    return _State(last_day, last_look, known & ~lost & (seen.end_day == NEVER))


def _gaps(foundings: pd.DataFrame, seen: Followed, settings: Settings, today: dt.date) -> Gap:
    """Stretches between looks that lie inside the following, and those after the last look."""
    looks = seen.looks
    code, when = looks["code"].to_numpy(), day_numbers(looks["date"])
    state = _state(foundings, seen)
    horizon = day_numbers(foundings["started"]) + settings.horizon_days
    last = study_end(settings, when, today)
    until_all = np.minimum(np.minimum(horizon, last), seen.end_day)
    first = np.ones(len(code), dtype=bool)
    first[1:] = code[1:] != code[:-1]
    after = np.concatenate([[0], when[:-1]]) if len(when) else when
    entry = entry_days(foundings)[code]
    after = np.where(first, entry, np.maximum(after, entry))  # a look before it has its own error
    dead = looks["queens_alive"].eq(0).fillna(False).to_numpy(dtype=bool)
    over = np.concatenate([[False], dead[:-1]]) & ~first if len(dead) else dead
    known = foundings["started"].notna().to_numpy()
    between = np.flatnonzero(~over & known[code])
    ending = np.flatnonzero(state.open_)
    return Gap(
        np.concatenate([code[between], ending]),
        np.concatenate([after[between], state.last_day[ending]]),
        np.concatenate([np.minimum(when, until_all[code])[between], until_all[ending]]),
        np.concatenate([between, np.full(len(ending), -1)]),
    )


def study_end(settings: Settings, when: np.ndarray, today: dt.date) -> np.int64:
    """Last day on which a look is expected: today, `ends`, or the last check of all.

    Without `ends` the study ends with its last check. A study that has none yet has no such day.
    """
    now = np.datetime64(today, "D").astype(np.int64)
    if settings.ends is not None:
        return np.int64(min(now, np.datetime64(settings.ends, "D").astype(np.int64)))
    return np.int64(min(now, when.max())) if len(when) else np.int64(-NEVER)


def _without_winter(gaps: Gap, seen: Followed, limit: int) -> np.ndarray:
    """Days of each stretch outside winter rest (only counted out where longer than `limit`)."""
    length: np.ndarray = gaps.until - gaps.after
    rests = _winters(seen)
    if not rests:
        return length
    for place in np.flatnonzero(length > limit):
        for start, stop in rests.get(int(gaps.code[place]), ()):
            inside = min(stop, int(gaps.until[place])) - max(start, int(gaps.after[place]))
            length[place] -= max(inside, 0)
    return length


def _winters(seen: Followed) -> dict[int, list[tuple[int, int]]]:
    """Winter rests of each founding as (first day, last day)."""
    events = seen.events[seen.events["event"].isin(["winter-in", "winter-out"])]
    rests: dict[int, list[tuple[int, int]]] = {}
    days_ = day_numbers(events["date"]).tolist()
    for code, when, event in zip(events["code"].tolist(), days_, events["event"], strict=True):
        mine = rests.setdefault(int(code), [])
        if event == "winter-in" and (not mine or mine[-1][1] != NEVER):
            mine.append((when, int(NEVER)))
        elif event == "winter-out" and mine and mine[-1][1] == NEVER:
            mine[-1] = (mine[-1][0], when)
    return rests
