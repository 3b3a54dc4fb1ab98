"""From a study to its history: what was seen of each founding.

What comes in: a `Study`. What goes out: a `History`. It estimates nothing and repairs nothing; a
sheet it cannot follow is a `StudyError` that sends the reader to the audit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from cohort.base.errors import StudyError
from cohort.history.intervals import (
    Anchors,
    Counts,
    Outs,
    Runs,
    anchor,
    counts,
    left_after,
    runs,
    take_out,
)
from cohort.history.looks import Looks, Start, codes_of, days, looks, numbers, start
from cohort.history.record import END_KINDS, FOUNDING_COLUMNS, Floats, History
from cohort.history.stops import Stops, parted, stops
from cohort.history.winters import WinterRest, winter_rests
from cohort.history.workers import FirstWorkers, first_workers
from cohort.study import COLUMNS, Study
from cohort.terms.contract import COVARIATES

PASSED_ON = (
    "founding",
    "genus",
    "named",
    "species",
    "season",
    "arm",
    "keeper",
    "block",
    "assigned",
    "left_out",
    "shelf",
    "started",
)


@dataclass(frozen=True)
class _Followed:
    """Intervals of every founding, the stop they were cut at and the counts they come from."""

    runs: Runs
    stops: Stops
    counts: Counts


def history(study: Study) -> History:
    """Give what was seen of every founding, as brackets, intervals, entry and end.

    Parameters
    ----------
    study : Study
        A study whose sheets bear no error.

    Returns
    -------
    History
        One row per founding, those left out of the comparison too, and one per interval.

    Raises
    ------
    StudyError
        If counts contradict each other in a way the audit calls an error.

    Notes
    -----
    With ``clock = "flight"`` days are counted from the flight, but a founding enters on the day
    its container was closed: its queens could not be missed from it before. Follow-up ends at the
    horizon or on the first winter day, whichever is first; at the horizon where the study goes
    through winter.
    """
    begun = start(study)
    seen = looks(study, begun)
    rests = winter_rests(study, begun) if study.settings.through_winter else {}
    anchors = anchor(seen, begun)
    outs = _outs(study, begun)
    used = _follow(study, begun, seen, anchors, outs, season=True)
    whole = _follow(study, begun, seen, anchors, outs, season=False)
    foundings = _foundings(study, begun, seen, used, rests)
    intervals = _frame(used.runs)
    last_look = _last(used.counts.code, used.counts.day, anchors.day)
    beyond = _frame(whole.runs)[whole.runs.look > last_look[whole.runs.code]]
    return History(
        foundings=foundings,
        intervals=intervals,
        later=beyond.reset_index(drop=True),
        horizon=int(study.settings.horizon_days),
        winters=_followed_into(rests, foundings),
    )


def _followed_into(rests: dict[int, WinterRest], foundings: pd.DataFrame) -> dict[str, WinterRest]:
    """Winter rests by founding, of those that were looked at in or after one."""
    last = foundings[["end", "looked_to", "first_by"]].replace(np.inf, 0.0).max(axis=1)
    return {
        str(foundings["founding"].iloc[code]): rest
        for code, rest in rests.items()
        if rest.cold(float(last.iloc[code])) > 0
    }


def _outs(study: Study, begun: Start) -> Outs:
    """Queens taken out alive, those parted into a new founding excepted."""
    events = study.events
    rows = events[(events["event"] == "queens-out") & ~parted(study)]
    blank = rows["number"].isna()
    if blank.any():
        row = rows[blank].iloc[0]
        raise StudyError(
            f"{row['file']}, row {row['row']}: queens-out of {row['founding']} has no number. "
            "Write in `number` how many queens were taken out."
        )
    code = codes_of(rows["founding"], begun)
    return Outs(
        code=code,
        day=days(rows["date"], begun.zero[code]),
        number=rows["number"].to_numpy(dtype=np.int64),
        word=rows["other"].to_numpy(dtype=object),
    )


def _follow(
    study: Study, begun: Start, seen: Looks, anchors: Anchors, outs: Outs, *, season: bool
) -> _Followed:
    """Follow every founding from entry to its stop."""
    stop = stops(study, begun, season=season)
    day, kind = stop.day.copy(), stop.kind.astype(object)
    number = counts(seen, anchors, day)
    inside = (outs.day >= anchors.day[outs.code]) & (outs.day <= day[outs.code])
    inside &= anchors.enters[outs.code]
    outs = Outs(outs.code[inside], outs.day[inside], outs.number[inside], outs.word[inside])
    left, at = left_after(number, outs)
    if (left < 0).any():
        name = begun.names[outs.code[int(np.argmax(left < 0))]]
        raise StudyError(
            f"events, {name}: more queens were taken out than the counts allow. Correct `number`, "
            "or the count of that day (a count is made before queens are taken out)."
        )
    empty = np.flatnonzero(left == 0)
    if len(empty):
        day[outs.code[empty]] = at[empty]
        # Where they went is not always written; taken out alive they were.
        word = outs.word[empty]
        kind[outs.code[empty]] = np.where(word == "", "given", word)
        number = counts(seen, anchors, day)
    number = take_out(number, outs)
    horizon = float(study.settings.horizon_days) if season else np.inf
    return _Followed(runs(number, np.full(len(day), horizon)), Stops(day, kind), number)


def _last(code: np.ndarray, values: np.ndarray, otherwise: np.ndarray) -> np.ndarray:
    """Give the last value of each founding in sorted arrays, or `otherwise` where it has none."""
    last = otherwise.copy()
    last[code] = values  # of repeated indices the last assignment stays
    return last


def _frame(run: Runs) -> pd.DataFrame:
    """Intervals as a frame."""
    return pd.DataFrame(
        {
            "code": run.code.astype(np.int32),
            "after": run.after,
            "by": run.by,
            "at_risk": run.at_risk,
            "alive": run.alive,
            "lost": run.at_risk - run.alive,
        }
    )


def _foundings(
    study: Study, begun: Start, seen: Looks, used: _Followed, rests: dict[int, WinterRest]
) -> pd.DataFrame:
    """One row per founding."""
    frame = study.foundings
    run, anchors = used.runs, used.counts.anchors
    number = len(frame)
    out = {name: frame[name].to_numpy() for name in PASSED_ON}
    for column in COVARIATES:
        given = frame[column.name]
        out[column.name] = numbers(given) if column.kind == "count" else given.to_numpy()
    flown = frame["flight_date"].dt.strftime("%Y-%m-%d").fillna("")
    out["flight"] = frame["catch"].where(frame["catch"].ne(""), flown).to_numpy()
    out["size"] = begun.size
    out["compared"] = frame["left_out"].eq("").to_numpy()
    out["mating_seen"] = numbers(frame["mating_seen"], 0.0).astype(np.int64)
    out["closed"] = begun.closed
    out["entry"], out["entry_queens"] = anchors.day, anchors.queens
    out["end"] = _last(run.code, run.by, anchors.day)
    out["queens_end"] = _last(run.code, run.alive, anchors.queens)
    gone = out["queens_end"] == 0
    never = np.full(number, np.inf)
    out["lost_after"] = np.where(gone, _last(run.code, run.after, never), np.inf)
    out["lost_by"] = np.where(gone, _last(run.code, run.by, never), np.inf)
    out["end_kind"] = _end_kinds(study, seen, used.stops, gone)
    out["brood_in"] = _brood_in(study, begun)
    last = np.where(gone, _last(run.code, run.look, used.stops.day), used.stops.day)
    last = np.minimum(last, used.stops.day)
    first = first_workers(seen, begun, anchors, last, out["brood_in"], rests)
    out.update(_first_columns(first, out["lost_by"]))
    own = {name: frame[name].to_numpy() for name in _own_columns(frame)}
    made = {name: out[name] for name in FOUNDING_COLUMNS}
    return pd.DataFrame(made | own, index=pd.RangeIndex(number))


def _own_columns(frame: pd.DataFrame) -> list[str]:
    """Columns of one's own, of frames or of sheets: covariates, as a rule."""
    known = {*COLUMNS["foundings"], *FOUNDING_COLUMNS}
    return [str(name) for name in frame.columns if name not in known]


def _first_columns(first: FirstWorkers, lost_by: Floats) -> dict[str, np.ndarray]:
    """Columns that tell of the first worker."""
    return {
        "entry_workers": first.entered,
        "first_after": first.after,
        # A doubtful date cannot put the first worker after the loss of all queens.
        "first_by": np.where(np.isfinite(first.by), np.minimum(first.by, lost_by), np.inf),
        "looked_to": first.after,
        "workers_cens": first.censored,
        "brood_day": first.brood_day,
        "brood_workers": first.brood_workers,
    }


def _brood_in(study: Study, begun: Start) -> Floats:
    """Day on which foreign brood was first put into each founding, else inf."""
    rows = study.events[study.events["event"] == "brood-in"]
    code = codes_of(rows["founding"], begun)
    day = np.full(len(begun.names), np.inf)
    np.minimum.at(day, code, days(rows["date"], begun.zero[code]))
    return day


def _end_kinds(study: Study, seen: Looks, stop: Stops, gone: np.ndarray) -> np.ndarray:
    """Why follow-up ends: the horizon only where somebody looked on or after that day."""
    horizon = float(study.settings.horizon_days)
    reached = np.zeros(len(gone), dtype=bool)
    reached[seen.code[seen.day >= horizon]] = True
    kind = np.where((stop.kind == "horizon") & ~reached, "followed", stop.kind)
    kind = np.where(gone, "all lost", kind).astype(object)
    if not np.isin(kind.astype(str), END_KINDS).all():  # a slip of ours, never a keeper's
        raise AssertionError("an end kind of no known name")
    return kind
