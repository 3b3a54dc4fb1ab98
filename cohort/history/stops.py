"""The day on which the follow-up of each founding must stop, and why.

What comes in: events, settings and the starts of a `Study`. What goes out: `Stops`, one limit per
founding. Losses are no stop: they are found among the counts. It alters no count.

Days here are whole numbers, and an event is dated *after* that day's look. A founding that was
given up, parted or joined by other queens stops at that look. An accident, an escape or a gift
of all queens may be the very reason why the row of that day shows fewer, so such a founding
stops at the last look *before* (half a day before the event, to keep one comparison for all).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cohort.errors import StudyError
from cohort.history.looks import DAY, Start, codes_of, days
from cohort.history.record import END_KINDS, Flags, Floats
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


def _ends(study: Study) -> pd.DataFrame:
    """Give the events that end a founding, as founding, date, kind and shift."""
    events = study.events
    end = events[events["event"] == "end"]
    unknown = ~end["other"].isin(AT_THE_LOOK + BEFORE_THE_LOOK)
    if unknown.any():
        row = end[unknown].iloc[0]
        raise StudyError(
            f"{row['file']}, row {row['row']}: the end of {row['founding']} bears '{row['other']}' "
            f"in `other`. Write one of: {', '.join(BEFORE_THE_LOOK + AT_THE_LOOK)}."
        )
    shift = np.where(end["other"].isin(BEFORE_THE_LOOK), -0.5, 0.0)
    return pd.DataFrame(
        {
            "founding": end["founding"],
            "date": end["date"],
            "kind": end["other"],
            "shift": shift,
        }
    )


def _plain(founding: pd.Series, date: pd.Series, kind: str) -> pd.DataFrame:
    """Give stops of one kind that come at the look of that day."""
    return pd.DataFrame({"founding": founding, "date": date, "kind": kind, "shift": 0.0})


def _stopping_events(study: Study) -> pd.DataFrame:
    """Give every dated reason to stop that belongs to a single founding."""
    events, foundings = study.events, study.foundings
    into = events[events["event"] == "queens-in"]
    apart = events[parted(study)]
    winter = events[events["event"] == "winter-in"]
    # The row of the new founding says as much as the event: either is enough.
    new = foundings[foundings["from_"].isin(foundings["founding"])]
    return pd.concat(
        [
            _ends(study),
            _plain(into["founding"], into["date"], "queens-in"),
            _plain(apart["founding"], apart["date"], "parted"),
            _plain(new["from_"], new["started"], "parted"),
            _plain(winter["founding"], winter["date"], "winter"),
        ],
        ignore_index=True,
    )


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
        that is estimated; they do not for a chart of the calendar.

    Raises
    ------
    StudyError
        If an end bears no known reason.
    """
    number = len(begun.names)
    rows = _stopping_events(study)
    code = codes_of(rows["founding"], begun)
    day = days(rows["date"], begun.zero[code])
    # A winter before the container was closed is not this founding's winter.
    keep = (day >= begun.closed[code]) & (season | (rows["kind"] != "winter").to_numpy())
    rank = np.array([END_KINDS.index(kind) for kind in rows["kind"]], dtype=np.int64)
    day = day + rows["shift"].to_numpy(dtype=np.float64)
    code, day, rank = code[keep], day[keep], rank[keep]
    everyone = np.arange(number, dtype=np.int64)
    horizon = float(study.settings.horizon_days) if season else np.inf
    codes = np.concatenate([code, everyone, everyone])
    found = np.concatenate([day, np.full(number, horizon), _study_end(study, begun)])
    general = np.repeat([END_KINDS.index("horizon"), END_KINDS.index("followed")], number)
    ranks = np.concatenate([rank, general])
    order = np.lexsort((ranks, found, codes))
    first = order[np.searchsorted(codes[order], everyone)]
    return Stops(found[first], np.array(END_KINDS)[ranks[first]])


def _study_end(study: Study, begun: Start) -> Floats:
    """Day of each founding on which the study ends; inf where no end is set."""
    if study.settings.ends is None:
        return np.full(len(begun.names), np.inf)
    last = np.full(len(begun.names), study.settings.ends, dtype="datetime64[D]")
    return np.asarray((last - begun.zero) / DAY, dtype=np.float64)
