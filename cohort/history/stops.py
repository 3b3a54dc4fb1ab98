"""The day on which the follow-up of each founding must stop, and why.

What comes in: events, settings and the starts of a `Study`. What goes out: `Stops`, one limit per
founding. Losses are no stop: they are found among the counts. It alters no count.

Days here are whole numbers, and an event is dated *after* that day's look. A founding that was
given up, parted or joined by other queens stops at that look. An accident, an escape or a gift
of all queens may be the very reason why the row of that day shows fewer, so such a founding
stops at the last look *before* (half a day before the event, to keep one comparison for all).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cohort.base.errors import StudyError
from cohort.history.looks import DAY, Start, codes_of, days
from cohort.history.record import END_KINDS, Flags, Floats, Ints
from cohort.history.winters import winter_rests
from cohort.terms.words import END_WHY, QUEENS_OUT_TO

if TYPE_CHECKING:
    from cohort.study import Study

AT_THE_LOOK = ("gave-up",)
BEFORE_THE_LOOK = tuple(word for word in END_WHY if word not in AT_THE_LOOK)


@dataclass(frozen=True)
class Stops:
    """The last day in use of each founding.

    Parameters
    ----------
    day : numpy.ndarray, shape (foundings,)
        Looks up to this day are used, that day included; inf where nothing stops it.
    kind : numpy.ndarray of str, shape (foundings,)
        One of `END_KINDS`.
    """

    day: Floats
    kind: np.ndarray


def parted(study: Study) -> Flags:
    """Give, for each row of events, whether queens were taken out into another founding."""
    events = study.events
    elsewhere = ~events["other"].isin(["", *QUEENS_OUT_TO])
    return np.asarray((events["event"] == "queens-out") & elsewhere, dtype=bool)


@dataclass(frozen=True)
class _Reasons:
    """Dated reasons to stop, one element each: founding, day, and the place in `END_KINDS`."""

    code: Ints
    day: Floats
    rank: Ints


def _reasons(founding: pd.Series, date: pd.Series, kinds: Sequence[str], begun: Start) -> _Reasons:
    """Give dated reasons as arrays; those that reach back to the look before, half a day early."""
    code = codes_of(founding, begun)
    shift = np.array([-0.5 if kind in BEFORE_THE_LOOK else 0.0 for kind in kinds])
    rank = np.array([END_KINDS.index(kind) for kind in kinds], dtype=np.int64)
    day = days(date, begun.zero[code])
    # What came before the container was closed (the winter of the year before) stops nothing.
    keep = day >= begun.closed[code]
    return _Reasons(code[keep], (day + shift)[keep], rank[keep])


def _end_words(end: pd.DataFrame) -> list[str]:
    """Give the reason of each end.

    Raises
    ------
    StudyError
        If an end bears no known reason.
    """
    unknown = ~end["other"].isin(AT_THE_LOOK + BEFORE_THE_LOOK)
    if unknown.any():
        row = end[unknown].iloc[0]
        raise StudyError(
            f"{row['file']}, row {row['row']}: the end of {row['founding']} has '{row['other']}' "
            f"in `other`. Write one of: {', '.join(BEFORE_THE_LOOK + AT_THE_LOOK)}."
        )
    return [str(word) for word in end["other"]]


def _dated(study: Study, begun: Start, *, season: bool) -> list[_Reasons]:
    """Give every dated reason to stop that belongs to a single founding."""
    events, foundings = study.events, study.foundings
    end = events[events["event"] == "end"]
    told = [_reasons(end["founding"], end["date"], _end_words(end), begun)]
    plain = [("queens-in", events["event"] == "queens-in"), ("parted", parted(study))]
    if season:
        plain.append(("winter", _last_winter(study, begun)))
    for kind, chosen in plain:
        rows = events[chosen]
        told.append(_reasons(rows["founding"], rows["date"], [kind] * len(rows), begun))
    # The row of the new founding says as much as the event: either is enough.
    new = foundings[foundings["from_"].isin(foundings["founding"])]
    told.append(_reasons(new["from_"], new["started"], ["parted"] * len(new), begun))
    return told


def _last_winter(study: Study, begun: Start) -> Flags:
    """Give, for each row of events, whether a founding is followed no further than that winter.

    The first winter rest, or the second in a study that goes through winter: of two winters
    nothing is said of a new founding.
    """
    inward = np.asarray(study.events["event"] == "winter-in", dtype=bool)
    if not study.settings.through_winter:
        return inward
    code = codes_of(study.events["founding"], begun)
    day = days(study.events["date"], begun.zero[code])
    rests = winter_rests(study, begun)
    ends = {whose: rest.starts[1] for whose, rest in rests.items() if len(rest.starts) > 1}
    second = np.array([ends.get(int(c), np.inf) for c in code])
    return np.asarray(inward & (day >= second), dtype=bool)


def stops(study: Study, begun: Start, *, season: bool) -> Stops:
    """Give the last day in use of each founding and why it is the last.

    Parameters
    ----------
    study : Study
        Events, settings and foundings.
    begun : Start
        Day 0 of each founding.
    season : bool
        Whether the horizon and the first winter day stop a founding too. They do for everything
        that is estimated, but for winter in a study that goes through it; they do not for a chart
        of the calendar.

    Raises
    ------
    StudyError
        If an end bears no known reason.
    """
    number = len(begun.names)
    dated = _dated(study, begun, season=season)
    everyone = np.arange(number, dtype=np.int64)
    horizon = float(study.settings.horizon_days) if season else np.inf
    general = np.repeat([END_KINDS.index("horizon"), END_KINDS.index("followed")], number)
    codes = np.concatenate([*(part.code for part in dated), everyone, everyone])
    found = np.concatenate(
        [*(part.day for part in dated), np.full(number, horizon), _study_end(study, begun)]
    )
    ranks = np.concatenate([*(part.rank for part in dated), general])
    order = np.lexsort((ranks, found, codes))
    first = order[np.searchsorted(codes[order], everyone)]
    return Stops(found[first], np.array(END_KINDS)[ranks[first]])


def _study_end(study: Study, begun: Start) -> Floats:
    """Day of each founding on which the study ends; inf where no end is set."""
    if study.settings.ends is None:
        return np.full(len(begun.names), np.inf)
    last = np.full(len(begun.names), study.settings.ends, dtype="datetime64[D]")
    return np.asarray((last - begun.zero) / DAY, dtype=np.float64)
