"""Warmth: degree-days from shelf logs, thermal constants, and the mean warmth of each founding.

Comes in: the shelf log and the foundings of a `Study`. Goes out: degree-days by shelf and day,
which foundings a complete log covers (and why not the others), and the mean shelf temperature
by which a comparison may be adjusted. Never: a model, a date on which something is due. The clock
that runs on degree-days is in `warm_clock`.

A row of the log gives the lowest and highest degree Celsius since the row before. A daily log has
a row for every day; only such a log drives degree-days. A weekly thermometer tells the lowest
and highest of a whole week: good enough to adjust by, not to add up.

How much sooner workers come for a degree: the published rate of *Solenopsis invicta*, -0.052707 +
0.0028802 T per day (Porter 1988, as given by Jarosik et al. 2011), falls to 0 at 18.3 C, so the log
of the days changes by -1 / (T - 18.3) per degree: -0.149 at 25 C, -0.103 at 28 C. The two sets
of constants of *Linepithema humile* give -0.099 and -0.132 at 26 C. A species of cooler summers
starts from a lower threshold and changes less (10 C: -0.067 at 25 C), and the mean of a lowest
and a highest reading is a rough measure, which flattens a slope. `LOG_DAYS_PER_DEGREE` covers
these: centre -0.08, and 0 and -0.16 both two SDs away.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.errors import StudyError

if TYPE_CHECKING:
    from cohort.study import Study

Floats = npt.NDArray[np.float64]
Method = Literal["sine", "average"]
LOG_DAYS_PER_DEGREE: Final = (-0.08, 0.04)
"""Normal prior of the change of the log day of the first worker per degree Celsius."""
COLUMN: Final = "shelf_temperature"
"""The word by which `adjust` asks for the mean warmth of the shelf."""
WINDOW: Final = 50
"""Days from day 0 whose warmth counts: until half of all foundings have workers, by the prior. A
fixed stretch, so that warmth is not measured over days that depend on the outcome."""
LONGEST: Final = 14
"""Days that one row of a log may speak for; beyond that the log has a hole."""
_DAY: Final = np.timedelta64(1, "D")


def _above(mean: Floats, half: Floats, limit: float) -> Floats:
    """Area of one day's sine above a limit, in degree-days."""
    low, high = mean - half, mean + half
    wave = np.where(half > 0, half, 1.0)
    t = np.arcsin(np.clip((limit - mean) / wave, -1.0, 1.0))
    part = ((mean - limit) * (np.pi / 2 - t) + wave * np.cos(t)) / np.pi
    area: Floats = np.where(low >= limit, mean - limit, np.where(high <= limit, 0.0, part))
    return area


def single_sine(
    low: npt.ArrayLike, high: npt.ArrayLike, lower: float, upper: float = math.inf
) -> Floats:
    """Degree-days of each day, its temperature taken for one turn of a sine.

    Parameters
    ----------
    low, high : array_like
        Lowest and highest temperature of the day, any one unit.
    lower, upper : float
        Thresholds in the same unit. Warmth above ``upper`` counts as if it were ``upper``
        (horizontal cut-off).

    Notes
    -----
    Baskerville and Emin 1969, doi 10.2307/1933912.
    """
    a, b = np.asarray(low, float), np.asarray(high, float)
    mean, half = (a + b) / 2, (b - a) / 2
    days = _above(mean, half, lower)
    return days - _above(mean, half, upper) if math.isfinite(upper) else days


def averaging(low: npt.ArrayLike, high: npt.ArrayLike, lower: float) -> Floats:
    """Degree-days of each day: the mean of lowest and highest, above the threshold.

    Days that are partly above the threshold, and on average below it, count nothing; `single_sine`
    counts their warm hours.
    """
    mean = (np.asarray(low, float) + np.asarray(high, float)) / 2
    days: Floats = np.maximum(0.0, mean - lower)
    return days


@dataclass(frozen=True)
class ThermalConstant:
    """How much warmth a development needs.

    Attributes
    ----------
    threshold : float
        Temperature at and below which it stands still, degrees Celsius.
    degree_days : float
        Degree-days above the threshold that it takes.
    """

    threshold: float
    degree_days: float

    @classmethod
    def from_rate(cls, at_zero: float, per_degree: float) -> ThermalConstant:
        """From a straight line of the daily rate: ``at_zero + per_degree * T``.

        Raises
        ------
        ValueError
            The rate does not rise with warmth.
        """
        if per_degree <= 0:
            raise ValueError("the daily rate must rise with temperature")
        return cls(-at_zero / per_degree, 1 / per_degree)

    def days(self, temperature: float) -> float:
        """Days it takes at a constant temperature; inf at the threshold and below."""
        above = temperature - self.threshold
        return self.degree_days / above if above > 0 else math.inf

    def log_days_per_degree(self, temperature: float) -> float:
        """Change of the log of those days per degree, at a constant temperature."""
        above = temperature - self.threshold
        return -1 / above if above > 0 else -math.inf


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
    last = study.checks.groupby("founding")["date"].max()
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
