"""Looks and dates of a study as flat, sorted arrays of numbers.

What comes in: the frames of a `Study`. What goes out: `Start` (day 0 and entry of each founding)
and `Looks` (one element per check, days since day 0, sorted by founding and day). It judges no
count and drops no row; the audit has done the judging.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cohort.base.errors import StudyError
from cohort.base.frames import held
from cohort.history.record import Flags, Floats, Ints

if TYPE_CHECKING:
    from cohort.study import Study

DAY = np.timedelta64(1, "D")


@dataclass(frozen=True)
class Start:
    """Day 0 of each founding and the day from which it can be followed.

    Parameters
    ----------
    names : pandas.Index
        Founding ids; the position is the code.
    zero : numpy.ndarray of datetime64[D], shape (foundings,)
        Day 0: `started`, or the day of flight when the clock of the study is "flight".
    closed : numpy.ndarray, shape (foundings,)
        Day on which the container was closed; 0 unless the clock starts with the flight.
    followed : numpy.ndarray, shape (foundings,)
        Day first followed where that is later than `closed`, else nan.
    size : numpy.ndarray of int, shape (foundings,)
        Queens at the start.
    slack : numpy.ndarray, shape (foundings,)
        Days by which the start may be wrong.
    """

    names: pd.Index
    zero: np.ndarray
    closed: Floats
    followed: Floats
    size: Ints
    slack: Floats


@dataclass(frozen=True)
class Looks:
    """Every check as arrays of one length, sorted by founding, then day.

    Parameters
    ----------
    code, day : numpy.ndarray
        Founding and day since its day 0.
    queens : numpy.ndarray
        Queens counted exactly; nan where none were counted or the count is "at least".
    workers : numpy.ndarray
        Workers counted; nan where nobody looked.
    exact_workers : numpy.ndarray of bool
        Whether that count of workers is exact.
    slack : numpy.ndarray
        Days by which the date may be wrong, that of the start included.
    """

    code: Ints
    day: Floats
    queens: Floats
    workers: Floats
    exact_workers: Flags
    slack: Floats


def numbers(column: pd.Series, blank: float = np.nan) -> Floats:
    """Give a column as floats, blanks as `blank`."""
    return column.to_numpy(dtype=np.float64, na_value=blank)


def days(dates: pd.Series, zero: np.ndarray) -> Floats:
    """Give dates as days since `zero` (datetime64[D], same length); blank dates are nan."""
    stamps = dates.to_numpy(dtype="datetime64[ns]").astype("datetime64[D]")
    return np.asarray((stamps - zero) / DAY, dtype=np.float64)


def start(study: Study) -> Start:
    """Give day 0, entry and size of each founding.

    Raises
    ------
    StudyError
        If a founding of a study that counts from the flight flew after it was housed.
    """
    frame = study.foundings
    started = frame["started"].to_numpy(dtype="datetime64[ns]").astype("datetime64[D]")
    zero = started
    if study.settings.clock == "flight":
        flight = frame["flight_date"].to_numpy(dtype="datetime64[ns]").astype("datetime64[D]")
        zero = np.where(np.isnat(flight), started, flight)
    closed = np.asarray((started - zero) / DAY, dtype=np.float64)
    if (closed < 0).any():
        name = frame["founding"].iloc[int(np.argmax(closed < 0))]
        raise StudyError(
            f"foundings, {name}: flight_date is later than started. A queen cannot be housed "
            "before she flew: correct one of the two dates."
        )
    followed = days(frame["followed_from"], zero)
    followed = np.where(followed > closed, followed, np.nan)
    return Start(
        names=pd.Index(frame["founding"]),
        zero=zero,
        closed=closed,
        followed=followed,
        size=frame["queens"].to_numpy(dtype=np.int64),
        slack=numbers(frame["give_or_take"], 0.0),
    )


def codes_of(column: pd.Series, begun: Start) -> Ints:
    """Give the code of each founding id of a column.

    Raises
    ------
    StudyError
        If an id is not among the foundings.
    """
    values, uniques = pd.factorize(column)
    known = begun.names.get_indexer(uniques)
    if (known < 0).any():
        name = uniques[int(np.argmax(known < 0))]
        raise StudyError(
            f"checks or events name the founding '{name}', which is not among the foundings. "
            "Run `cohort audit` on the folder: it tells file and row."
        )
    return np.asarray(known[values], dtype=np.int64)


def looks(study: Study, begun: Start) -> Looks:
    """Give all checks of a study as sorted arrays.

    Raises
    ------
    StudyError
        If a check lies before day 0 of its founding, or names an unknown founding.
    """
    frame = held(study, "checks")
    code = codes_of(frame["founding"], begun)
    day = days(frame["date"], begun.zero[code])
    step = np.diff(code)
    if not ((step > 0) | ((step == 0) & (np.diff(day) >= 0))).all():
        order = np.lexsort((day, code))
        frame, code, day = frame.iloc[order], code[order], day[order]
    early = day < begun.closed[code]
    if early.any():
        row = frame.iloc[int(np.argmax(early))]
        raise StudyError(
            f"checks, {row['founding']} on {row['date']:%Y-%m-%d}: the look lies before the "
            "founding was started. Correct the date of the check or `started`."
        )
    queens = numbers(frame["queens_alive"])
    queens[frame["at_least"].to_numpy(dtype=bool)] = np.nan
    workers = numbers(frame["workers"])
    at_least = frame["workers_at_least"].to_numpy(dtype=bool)
    slack = numbers(frame["give_or_take"], 0.0) + begun.slack[code]
    return Looks(code, day, queens, workers, ~at_least & ~np.isnan(workers), slack)
