"""Rules on winter rest: one that never ends, a second one, and looks that do not fit it.

What comes in: what was followed, the settings and today. What goes out: findings. Pairs of
winter-in and winter-out are held against each other in `events`.

How long a winter rest lasts is common practice, no source: three to six months in temperate kinds.
"""

from __future__ import annotations

import datetime as dt
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from cohort.audit import ids
from cohort.audit.find import NOTHING, at, day, tell
from cohort.audit.looks import HANDED, NEVER, Followed, pairs
from cohort.audit.rhythm import study_end
from cohort.audit.runs import day_numbers, key
from cohort.audit.settings import Settings
from cohort.sheets.found import Found
from cohort.terms import words

LONGEST: Final = 240
"""Days of winter rest beyond which its end was probably not written down."""
OFTEN: Final = 3
"""Looks in one winter rest, each within two rhythms of the last, that look like those of summer."""


class _Rests(NamedTuple):
    """Winter rests in order of founding and day, one element each."""

    code: np.ndarray
    start: np.ndarray
    stop: np.ndarray  # `NEVER` where it has no end
    row: np.ndarray  # place of winter-in among the events


def _rests(seen: Followed) -> _Rests:
    events = seen.events
    code, when = events["code"].to_numpy(), day_numbers(events["date"])
    word = events["event"].to_numpy()
    found: list[tuple[int, int, int, int]] = []
    for place in np.flatnonzero(np.isin(word, ["winter-in", "winter-out"])):
        mine = bool(found) and found[-1][0] == code[place]
        resting = mine and found[-1][2] == NEVER
        if word[place] == "winter-in" and not resting:
            found.append((int(code[place]), int(when[place]), int(NEVER), int(place)))
        elif word[place] == "winter-out" and resting:
            found[-1] = (*found[-1][:2], int(when[place]), found[-1][3])
    columns = np.array(found, dtype=np.int64).reshape(-1, 4).T
    return _Rests(*columns)


def never_over(seen: Followed, settings: Settings, today: dt.date) -> Found:
    """Put to winter rest long ago, not ended, and never taken from it."""
    rests = _rests(seen)
    last = study_end(settings, day_numbers(seen.looks["date"]), today)
    until = np.minimum(np.minimum(last, seen.end_day[rests.code]), _lost(seen)[rests.code])
    long = np.flatnonzero((rests.stop == NEVER) & (until - rests.start > LONGEST))
    return at(
        seen.events,
        rests.row[long],
        level="warning",
        rule="winter-no-out",
        column="event",
        what=[tell("winter_no_out", n=int(until[i] - rests.start[i])) for i in long],
        remedy=tell("winter_no_out_do"),
    )


def second_winter(seen: Followed, settings: Settings) -> Found:
    """Put to winter rest a second time, in a study that goes through the first."""
    if not settings.through_winter:
        return Found()
    rests = _rests(seen)
    # Sorted by founding and day: the second of a founding stands right behind its first.
    nth = np.arange(len(rests.code)) - np.searchsorted(rests.code, rests.code)
    second = np.flatnonzero(nth == 1)
    when = rests.start[second].astype("datetime64[D]")
    return at(
        seen.events,
        rests.row[second],
        level="note",
        rule="second-winter",
        column="event",
        what=[tell("winter_second", day=day(date)) for date in when],
        remedy=NOTHING,
    )


def _lost(seen: Followed) -> np.ndarray:
    """Day on which no queen was found, by founding; `NEVER` where there is none."""
    out = np.full(len(seen.end_day), NEVER, dtype=np.int64)
    none = seen.looks[seen.looks["queens_alive"].eq(0).fillna(False).to_numpy(dtype=bool)]
    np.minimum.at(out, none["code"].to_numpy(dtype=np.int64), day_numbers(none["date"]))
    return out


def _resting(seen: Followed, rests: _Rests) -> np.ndarray:
    """For each look the winter rest it fell into, the first day left out; -1 where into none."""
    code, when = seen.looks["code"].to_numpy(), day_numbers(seen.looks["date"])
    out = np.full(len(code), -1)
    for n, (whose, start, stop, _) in enumerate(zip(*rests, strict=True)):
        own = slice(*np.searchsorted(code, [whose, whose + 1]))
        out[own] = np.where((when[own] > start) & (when[own] < stop), n, out[own])
    return out


def looked_often(seen: Followed, settings: Settings) -> Found:
    """Looked at in winter rest as often as in summer, so that it may have been taken from it."""
    rests = _rests(seen)
    of = _resting(seen, rests)
    when = day_numbers(seen.looks["date"])
    close = np.diff(when, prepend=0) <= 2 * settings.look_every
    same = np.diff(of, prepend=-1) == 0
    often = np.bincount(of[(of >= 0) & close & same], minlength=len(rests.code))
    some = np.flatnonzero(often >= OFTEN - 1)
    return at(
        seen.events,
        rests.row[some],
        level="warning",
        rule="look-in-winter",
        column="event",
        what=[
            tell(
                "look_in_winter",
                n=int((of == i).sum()),
                day=day(when[of == i].max().astype("datetime64[D]")),
            )
            for i in some
        ],
        remedy=tell("look_in_winter_do"),
    )


def first_worker_in_winter(seen: Followed) -> Found:
    """The first worker of all seen in winter rest, when no brood grows."""
    of = _resting(seen, _rests(seen))
    looks = seen.looks
    some = looks["workers"].fillna(0).gt(0).to_numpy(dtype=bool)
    code = looks["code"].to_numpy()
    first = np.flatnonzero(some)
    first = first[np.concatenate([[True], np.diff(code[first]) != 0])] if len(first) else first
    sought = looks["workers"].notna().to_numpy(dtype=bool)
    before = np.zeros(len(code), dtype=bool)  # a look of the same rest that saw none
    if len(code) > 1:
        before[1:] = sought[:-1] & (np.diff(code) == 0) & (of[1:] == of[:-1]) & (of[1:] >= 0)
    return at(
        looks,
        first[before[first]],
        level="warning",
        rule="worker-in-winter",
        column="workers",
        what=tell("worker_in_winter"),
        remedy=tell("worker_in_winter_do"),
    )


def not_of_the_rest(foundings: pd.DataFrame, events: pd.DataFrame, seen: Followed) -> Found:
    """Looked at on the day on which `rest` went into winter rest or out, and so left where it was.

    Most people look once more before they put all away, and mean all.
    """
    rest = (events["code"] == ids.REST) & events["event"].isin(words.WINTER_REST)
    rows = events[rest & events["date"].notna()].reset_index(drop=True)
    if not len(rows):
        return Found()
    place, code, when = pairs(rows, foundings, events[events["event"] == HANDED])
    looks = seen.looks[~seen.looks["from_rest"].to_numpy(dtype=bool)]
    named = np.isin(key(code, when), key(looks["code"].to_numpy(), day_numbers(looks["date"])))
    there = (seen.end_day[code] > when) & (_lost(seen)[code] > when)
    inward = (rows["event"] == "winter-in").to_numpy()[place]
    left = named & there & (_in_rest(_rests(seen), code, when) != inward)
    some = rows.take(place[left]).assign(founding=foundings["founding"].to_numpy()[code[left]])
    return at(
        some,
        np.arange(len(some)),
        level="warning",
        rule="not-of-the-rest",
        column="founding",
        what=tell("not_of_the_rest"),
        remedy=[tell("not_of_the_rest_do", event=event) for event in some["event"]],
    )


def _in_rest(rests: _Rests, code: np.ndarray, when: np.ndarray) -> np.ndarray:
    """Whether a founding is in winter rest on the evening of a day."""
    whose, after = rests.code[None, :] == code[:, None], rests.start[None, :] <= when[:, None]
    return np.asarray((whose & after & (rests.stop[None, :] > when[:, None])).any(axis=1))
