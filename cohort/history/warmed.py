"""A history with the warmth its foundings had: the one that is compared.

Comes in: a `Study`. Goes out: `compared_history`, `as_compared` for whatever takes a study or a
history, and the clocks of foundings whose shelf has a complete log. Never: a threshold (that is
estimated), a date on which something is due.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.base.errors import StudyError
from cohort.history.build import history
from cohort.history.gathered import gathered
from cohort.history.record import History
from cohort.history.winters import WinterRest
from cohort.study import Study
from cohort.terms.adjusting import Adjust
from cohort.warmth.clock import LEAST, ROOM, WarmClock, Warmth, thresholds
from cohort.warmth.shelves import coverage, shelf_temperature, usable_rows

Floats = npt.NDArray[np.float64]
_DAY: Final = np.timedelta64(1, "D")


def compared_history(study: Study) -> tuple[History, str]:
    """The history that is compared, and a note where the rarest kinds are taken as one.

    It knows the warmth of each founding's shelf, where shelves have a log.
    """
    past, note = gathered(history(study))
    return with_warmth(study, past), note


def as_compared(
    given: Study | History, adjust: Adjust | Iterable[str] | None = None
) -> tuple[History, Adjust]:
    """The history that is compared and what it is adjusted for, from a study or a history.

    Parameters
    ----------
    given : Study or History
        A history is taken as it is.
    adjust : Adjust or iterable of str, optional
        Left out, what the settings of the study say; of a history nothing.

    Raises
    ------
    StudyError
        It is neither a study nor a history.
    """
    if isinstance(given, History):
        return given, Adjust.of(adjust or ())
    if not isinstance(given, Study):
        raise StudyError(
            f"A study or a history is wanted here, not a {type(given).__name__}. Read a study with "
            "cohort.read_study(folder), or make one of frames with cohort.study_from(...)."
        )
    agreed = given.settings.adjust if adjust is None else adjust
    return compared_history(given)[0], Adjust.of(agreed)


def with_warmth(study: Study, past: History) -> History:
    """The history with the warmth of each founding's shelf, and clocks where logs are whole."""
    if not len(study.temperatures):
        return past
    warmth = shelf_temperature(study)
    known = past.foundings["founding"].map(warmth)
    foundings = past.foundings.assign(**{str(warmth.name): known})
    return replace(past, foundings=foundings, warmth=warmth_of(study, past))


def _complete(rows: pd.DataFrame, since: np.datetime64) -> tuple[Floats, Floats]:
    """Lowest and highest of each day from a day on, as far as the log has a row for every day."""
    day = rows["date"].to_numpy("datetime64[D]")
    mine = rows[day >= since]
    day = day[day >= since]
    steps = np.flatnonzero(np.diff(day) != _DAY)
    stop = int(steps[0]) + 1 if len(steps) else len(day)
    low, high = (mine[c].to_numpy(float)[:stop] for c in ("min_c", "max_c"))
    return low, high


def warm_clocks(
    study: Study,
    *,
    reference: float | None = None,
    until: pd.Series | None = None,
    closed: pd.Series | None = None,
    winters: Mapping[str, WinterRest] | None = None,
) -> dict[str, WarmClock]:
    """A clock for every founding whose shelf has a complete log.

    Parameters
    ----------
    study : Study
    reference : float, optional
        Degrees Celsius; by default the mean `shelf_temperature` of those foundings.
    until : Series of dates by founding, optional
        See `cohort.warmth.coverage`.
    closed : Series by founding, optional
        Days from day 0 to the day the container was closed, where days count from the flight. A
        queen was not on the shelf yet, so these pass as days at the reference.
    winters : mapping of WinterRest, optional
        By founding. The clock stands still in winter rest, whatever the shelf it stood on before
        was like: its days are warm days then.
    """
    cover = coverage(study, until)
    cover = cover[cover["covered"]]
    log = usable_rows(study.temperatures).drop_duplicates(["shelf", "date"])
    shelves = {str(shelf): part for shelf, part in log.groupby("shelf")}
    if reference is None:
        known = shelf_temperature(study).reindex(cover["founding"])
        reference = float(known.mean()) if len(known) else math.nan
    out = {}
    starts = cover["since"].to_numpy("datetime64[D]")
    for name, shelf, since in zip(cover["founding"], cover["shelf"], starts, strict=True):
        low, high = _complete(shelves[str(shelf)], since)
        before = 0 if closed is None else round(float(closed[name]))
        ahead = np.full(before, reference)
        low, high = np.append(ahead, low), np.append(ahead, high)
        if winters and str(name) in winters:
            low, high = _outside(winters[str(name)], low, high)
        out[str(name)] = WarmClock(low, high, reference)
    return out


def _outside(rest: WinterRest, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """The days of a log that lie outside winter rest."""
    by_edge = np.array([rest.cold(float(day)) for day in range(len(low) + 1)])
    warm = np.diff(by_edge) < 0.5
    return low[warm], high[warm]


def warmth_of(study: Study, past: History, *, reference: float | None = None) -> Warmth:
    """Which foundings of a study run on degree-days, from day 0 to their last look in use.

    Parameters
    ----------
    study : Study
    past : History
        Of the same study.
    reference : float, optional
        Degrees Celsius. By default the mean temperature, over the first weeks, of the shelves of
        the compared foundings that have a log; then at least `LEAST` of them are asked for.

    Returns
    -------
    Warmth
        Without clocks where too few compared foundings have a log, or shelves are so cold that
        no threshold fits below them.
    """
    found = past.foundings
    name = found["founding"].astype(str)
    closed = pd.Series(found["closed"].to_numpy(float), index=name)
    seen = found["first_by"].to_numpy(float)
    last = np.maximum(found["end"].to_numpy(float), found["looked_to"].to_numpy(float))
    last = np.maximum(last, np.where(np.isfinite(seen), seen, 0.0))
    on = pd.to_timedelta(np.ceil(last - closed.to_numpy()).clip(0), unit="D")
    until = pd.Series(found["started"].to_numpy("datetime64[ns]") + on.to_numpy(), index=name)
    cover = coverage(study, until)
    why = dict(zip(cover["founding"].astype(str), cover["why"].astype(str), strict=True))
    compared = name[found["compared"].to_numpy(bool)]
    logged = [one for one in compared if why[one] == ""]
    own = reference is None
    if own and logged:
        reference = float(shelf_temperature(study).reindex(logged).mean())
    if not logged or reference is None or (own and len(logged) < LEAST):
        few = f"fewer than {LEAST} foundings have a shelf log for every day"
        return Warmth(why={one: reason or few for one, reason in why.items()})
    low, high = thresholds(reference)
    if high - low < ROOM:
        cold = f"the logged shelves are too cold for it ({reference:.1f} C on average)"
        return Warmth(why={one: reason or cold for one, reason in why.items()})
    clocks = warm_clocks(
        study, reference=reference, until=until, closed=closed, winters=past.winters
    )
    return Warmth(clocks, reference, {one: reason for one, reason in why.items() if reason})
