"""Shelf logs: degree-days by shelf and day, and the mean warmth of each founding.

Comes in: the shelf log and the foundings of a `Study`. Goes out: degree-days by shelf and day,
which foundings a complete log covers (and why not the others), and the mean shelf temperature
by which a comparison may be adjusted. Never: a model, a date on which something is due.

A row of the log gives the lowest and highest degree Celsius since the row before. A daily log has
a row for every day; only such a log drives degree-days. A weekly thermometer tells the lowest
and highest of a whole week: good enough to adjust by, not to add up.

"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.base.errors import StudyError
from cohort.base.frames import held
from cohort.warmth.thermal import averaging, single_sine

if TYPE_CHECKING:
    from cohort.study import Study

Floats = npt.NDArray[np.float64]
Method = Literal["sine", "average"]
COLUMN: Final = "shelf_temperature"
"""The word by which `adjust` asks for the mean warmth of the shelf."""
WINDOW: Final = 50
"""Days from day 0 whose warmth counts: until half of all foundings have workers, by the prior. A
fixed stretch, so that warmth is not measured over days that depend on the outcome."""
LONGEST: Final = 14
"""Days that one row of a log may speak for; beyond that the log has a hole."""
_DAY: Final = np.timedelta64(1, "D")


def usable_rows(log: pd.DataFrame) -> pd.DataFrame:
    """Rows of a shelf log with a date and both readings, in order of shelf and date."""
    usable = log[log["date"].notna() & log["min_c"].notna() & log["max_c"].notna()]
    return usable.sort_values(["shelf", "date"], kind="stable").reset_index(drop=True)


def _gaps(log: pd.DataFrame) -> Floats:
    """Days since the row before on the same shelf; nan for the first row of a shelf."""
    day = log["date"].to_numpy("datetime64[D]")
    gap = np.full(len(log), np.nan)
    same = log["shelf"].to_numpy()[1:] == log["shelf"].to_numpy()[:-1]
    gap[1:][same] = ((day[1:] - day[:-1]) / _DAY)[same]
    return gap


def degree_days(
    log: pd.DataFrame,
    threshold: float,
    upper: float = math.inf,
    *,
    method: Method = "sine",
) -> pd.DataFrame:
    """Degree-days by shelf and day, and added up since the first row of the shelf.

    Parameters
    ----------
    log : DataFrame
        ``shelf``, ``date``, ``min_c``, ``max_c``: a row for every day of each shelf.
    threshold, upper : float
        Degrees Celsius.
    method : {"sine", "average"}

    Returns
    -------
    DataFrame
        ``shelf``, ``date``, ``degree_days``, ``total``.

    Raises
    ------
    StudyError
        A shelf has rows that span several days: such rows cannot be added up.
    """
    rows = usable_rows(log)
    gap = _gaps(rows)
    if (gap > 1).any():
        at = int(np.argmax(gap > 1))
        row = rows.iloc[at]
        raise StudyError(
            f"temperatures, shelf {row['shelf']}: the row of {row['date']:%Y-%m-%d} spans "
            f"{gap[at]:.0f} days. Degree-days need a lowest and highest for every day; weekly "
            "readings can only adjust a comparison (`adjust`)."
        )
    low, high = rows["min_c"], rows["max_c"]
    one = (
        single_sine(low, high, threshold, upper)
        if method == "sine"
        else averaging(low, high, threshold)
    )
    out = rows[["shelf", "date"]].assign(degree_days=one)
    return out.assign(total=out.groupby("shelf")["degree_days"].cumsum())


def _last_looks(study: Study) -> pd.Series:
    """Last look of each founding, at most on its last day; day 0 where nobody has looked yet."""
    last = held(study, "checks").groupby("founding")["date"].max()
    own = study.foundings.set_index("founding")["started"]
    horizon = own + pd.to_timedelta(study.settings.horizon_days, unit="D")
    return last.reindex(own.index).fillna(own).clip(upper=horizon)


def _why_not(shelf: str, dates: npt.NDArray[np.datetime64], a: np.datetime64,
             b: np.datetime64) -> str:  # fmt: skip
    """Why a log does not cover the days from a to b; blank when it does."""
    if not shelf:
        return "no shelf is noted"
    if not len(dates):
        return f"shelf {shelf} has no log"
    if dates[0] > a:
        return f"the log of shelf {shelf} begins on {dates[0]}, after {a}"
    if dates[-1] < b:
        return f"the log of shelf {shelf} ends on {dates[-1]}, before {b}"
    inside = dates[(dates >= a) & (dates <= b)]
    # The row of day 0 may speak for days before it; every later day needs a row of its own.
    have = np.unique(np.concatenate([[a], inside]))
    step = np.diff(have) / _DAY
    if len(have) == (b - a) / _DAY + 1 and a in dates:
        return ""
    span = float(step.max()) if len(step) else 1.0
    if span > LONGEST:
        hole = have[int(step.argmax())]
        return f"the log of shelf {shelf} has a hole of {span:.0f} days after {hole}"
    return f"the log of shelf {shelf} has rows that span up to {max(span, 2):.0f} days"


def coverage(study: Study, until: pd.Series | None = None) -> pd.DataFrame:
    """Which foundings have a complete log of their shelf from their start to their last look.

    Parameters
    ----------
    study : Study
    until : Series of dates by founding, optional
        Last day that must be covered; by default the last look up to the horizon.

    Returns
    -------
    DataFrame
        One row per founding: ``founding``, ``shelf``, ``since``, ``until`` (dates), ``covered``,
        ``why`` (blank where covered). Only those covered may be put on degree-days.
    """
    log = usable_rows(study.temperatures)
    by_shelf = {
        str(shelf): np.unique(part["date"].to_numpy("datetime64[D]"))
        for shelf, part in log.groupby("shelf")
    }
    found = study.foundings
    last = _last_looks(study) if until is None else until.reindex(found["founding"])
    until_day = last.to_numpy("datetime64[D]")
    since = found["started"].to_numpy("datetime64[D]")
    shelf = found["shelf"].fillna("").astype(str).to_numpy()
    none = np.zeros(0, "datetime64[D]")
    why = [
        _why_not(s, by_shelf.get(s, none), a, b)
        for s, a, b in zip(shelf, since, until_day, strict=True)
    ]
    return pd.DataFrame(
        {
            "founding": found["founding"].to_numpy(),
            "shelf": shelf,
            "since": since,
            "until": until_day,
            "covered": [reason == "" for reason in why],
            "why": why,
        }
    )


def _daily(rows: pd.DataFrame) -> tuple[npt.NDArray[np.datetime64], Floats]:
    """Every day a shelf's log speaks for, and its mean temperature; holes stay out."""
    day = rows["date"].to_numpy("datetime64[D]")
    mean = ((rows["min_c"] + rows["max_c"]) / 2).to_numpy(float)
    gap = np.concatenate([[1.0], np.diff(day) / _DAY])
    span = np.where(gap > LONGEST, 1, gap).astype(int)  # after a hole: its own day only
    days = np.concatenate(
        [
            np.arange(d - np.timedelta64(n - 1, "D"), d + _DAY)
            for d, n in zip(day, span, strict=True)
        ]
    )
    return days, np.repeat(mean, span)


def shelf_temperature(study: Study, *, days: int = WINDOW) -> pd.Series:
    """Mean temperature of each founding's shelf over its first days, degrees Celsius.

    Parameters
    ----------
    study : Study
    days : int
        Days from day 0 that count. A row of the log that covers several days counts for each.

    Returns
    -------
    Series of float
        By founding, in the order of the study; nan where the log speaks for fewer than half of
        the days from day 0 to the last look (at most ``days``), or no shelf is noted.
    """
    log = usable_rows(study.temperatures)
    known = {str(shelf): _daily(part) for shelf, part in log.groupby("shelf")}
    found = study.foundings
    until = _last_looks(study).to_numpy("datetime64[D]")
    out = np.full(len(found), np.nan)
    starts = found["started"].to_numpy("datetime64[D]")
    for i, shelf in enumerate(found["shelf"].fillna("").astype(str)):
        if shelf not in known:
            continue
        day, mean = known[shelf]
        stop = min(until[i], starts[i] + np.timedelta64(days - 1, "D"))
        inside = (day >= starts[i]) & (day <= stop)
        wanted = (stop - starts[i]) / _DAY + 1
        if inside.sum() >= 0.5 * wanted:
            out[i] = mean[inside].mean()
    return pd.Series(out, index=found["founding"].to_numpy(), name=COLUMN)


def centred(temperature: pd.Series, reference: float = math.nan) -> Floats:
    """Degrees above a reference, by default the mean of the foundings; 0 where not known."""
    values = temperature.to_numpy(float)
    known = np.isfinite(values)
    if not known.any():
        return np.zeros(len(values))
    zero = reference if math.isfinite(reference) else values[known].mean()
    return np.where(known, values - zero, 0.0)
