"""The same study under other readings: those taken out died, or lived on, or were left out.

Comes in: a `History`. Goes out: other histories, by name. Never: a fit; `sensitivity` fits them.

None of these is a likely story. They bound what could have been hidden by queens that were given
away, parted or lost by accident, and show what another rule of exclusion would have changed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.history import History
from cohort.history.winters import WinterRest
from cohort.model.replicated import FOLLOWED, could_follow

Floats = npt.NDArray[np.float64]
NOT_TAKEN: Final = frozenset({*FOLLOWED, "all lost"})
"""Ends of a founding that stayed where it was to the last."""
YEAR: Final = 365.0
NEXT: Final = 1.0
"""Days after which those taken out are said to have died."""


def _taken(history: History) -> npt.NDArray[np.bool_]:
    """Foundings that left with living queens before follow-up was due to end."""
    found = history.foundings
    out = ~found["end_kind"].isin(NOT_TAKEN) & (found["queens_end"] > 0)
    return np.asarray(out, dtype=bool)


def _removed(history: History) -> Floats:
    """Queens taken out alive just before each interval."""
    spans = history.intervals
    entry = history.foundings["entry_queens"].to_numpy()[spans["code"].to_numpy()]
    first = spans["code"].diff().fillna(1).ne(0)
    held = np.where(first, entry, spans["alive"].shift(fill_value=0))
    return np.asarray(held - spans["at_risk"], dtype=np.float64)


def _made(history: History, spans: pd.DataFrame, found: pd.DataFrame) -> History:
    ordered = spans.sort_values(["code", "after"], kind="stable").reset_index(drop=True)
    for name in ("at_risk", "alive"):
        ordered[name] = ordered[name].astype(np.int64)
    ordered["code"] = ordered["code"].astype(np.int32)
    ordered["lost"] = ordered["at_risk"] - ordered["alive"]
    return replace(history, intervals=ordered, foundings=found)


def _spans(code: npt.ArrayLike, after: npt.ArrayLike, by: npt.ArrayLike,
           at_risk: npt.ArrayLike, alive: npt.ArrayLike) -> pd.DataFrame:  # fmt: skip
    return pd.DataFrame(
        {"code": code, "after": after, "by": by, "at_risk": at_risk, "alive": alive}
    )


def taken_die(history: History) -> History:
    """Every queen taken out alive dies on the next day."""
    spans, found = history.intervals.copy(), history.foundings.copy()
    out = _removed(history)
    room = (spans["by"] - spans["after"]).to_numpy() > NEXT
    one = np.flatnonzero((out > 0) & room)
    held = spans.iloc[one]
    extra = _spans(
        held["code"], held["after"], held["after"] + NEXT, held["at_risk"] + out[one],
        held["at_risk"],
    )  # fmt: skip
    spans.loc[spans.index[one], "after"] += NEXT
    short = np.flatnonzero((out > 0) & ~room)
    spans["at_risk"] = spans["at_risk"].astype(float)
    spans.loc[spans.index[short], "at_risk"] += out[short]
    gone = np.flatnonzero(_taken(history))
    end, queens = found["end"].to_numpy(float)[gone], found["queens_end"].to_numpy()[gone]
    last = _spans(gone, end, end + NEXT, queens, 0)
    found.loc[gone, "lost_after"], found.loc[gone, "lost_by"] = end, end + NEXT
    found.loc[gone, "end"], found.loc[gone, "queens_end"] = end + NEXT, 0
    found.loc[gone, "end_kind"] = "all lost"
    return _made(history, pd.concat([spans, extra, last], ignore_index=True), found)


def taken_live(history: History) -> History:
    """Every queen taken out alive lives on where she was, to the last day.

    In a study that goes through winter she goes into winter rest as the others did, and is followed
    no further than a year after it began: of a second winter nothing is known.
    """
    spans, found = history.intervals.copy(), history.foundings.copy()
    out = pd.Series(_removed(history), index=spans.index)
    kept = out.groupby(spans["code"]).cumsum()
    spans["at_risk"] += kept
    spans["alive"] += kept
    total = out.groupby(spans["code"]).sum().reindex(found.index, fill_value=0.0).to_numpy()
    until = could_follow(found, history.horizon)
    end = found["end"].to_numpy(float)
    winters = _winters(history, until)
    if winters:
        seconds = [winters[name].starts[0] + YEAR if name in winters else np.inf
                   for name in found["founding"].astype(str)]  # fmt: skip
        until = np.minimum(until, np.array(seconds))
    on = np.flatnonzero((_taken(history) | (total > 0)) & (until > end))
    queens = found["queens_end"].to_numpy(float) + total
    last = _spans(on, end[on], until[on], queens[on], queens[on])
    found["queens_end"] = queens.astype(np.int64)
    found.loc[on, "end"] = until[on]
    alive = np.flatnonzero(queens > 0)
    found.loc[alive, ["lost_after", "lost_by"]] = np.inf
    found.loc[on, "end_kind"] = "followed"
    names = found["founding"].astype(str).to_numpy()[on]
    rested = {name: winters[name] for name in names if name in winters}
    made = _made(history, pd.concat([spans, last], ignore_index=True), found)
    return replace(made, winters={**history.winters, **rested})


def _winters(history: History, until: Floats) -> dict[str, WinterRest]:
    """First winter rest of each founding had it been followed to a day.

    Its own as far as it was followed into one; what is not known of it is that of the others, by
    the calendar: the median of those that went in within a year after the founding began.
    """
    found = history.foundings
    days = found["started"].to_numpy("datetime64[D]").astype(float)
    zero = pd.Series(days - found["closed"].to_numpy(float), index=found["founding"].astype(str))
    known = {name: rest for name, rest in history.winters.items() if rest.starts}
    if not known:
        return {}
    begins = np.array([zero[name] + rest.starts[0] for name, rest in known.items()])
    ends = np.array([zero[name] + rest.stops[0] for name, rest in known.items()])
    out: dict[str, WinterRest] = {}
    for (name, first), end, last in zip(zero.items(), found["end"], until, strict=True):
        mine = known.get(str(name))
        near = (begins > first) & (begins <= first + YEAR)
        near = near if near.any() else np.ones(len(begins), dtype=bool)
        begin = np.median(begins[near]) - first if mine is None else mine.starts[0]
        begin = max(float(begin), float(end)) if mine is None else begin
        stop = np.inf if mine is None else mine.stops[0]
        seen = ends[near & np.isfinite(ends)]
        if not np.isfinite(stop) and len(seen):
            stop = max(float(np.median(seen) - first), begin)
        if stop > begin and begin < last:
            more = ((), ()) if mine is None else (mine.starts[1:], mine.stops[1:])
            out[str(name)] = WinterRest((float(begin), *more[0]), (float(stop), *more[1]))
    return out


def without(history: History, out: npt.NDArray[np.bool_]) -> History:
    """The same history with some foundings left out of the comparison."""
    found = history.foundings
    return replace(history, foundings=found.assign(compared=found["compared"] & ~out))


def without_accidents(history: History) -> History:
    """Foundings that ended in an accident are left out."""
    return without(history, history.foundings["end_kind"].eq("accident").to_numpy())


def without_first_look(history: History) -> History:
    """Foundings that lost a queen before the first look are left out."""
    first = history.intervals.drop_duplicates("code")
    codes = first.loc[first["lost"] > 0, "code"]
    return without(history, history.foundings.index.isin(codes))


def with_left_out(history: History) -> History:
    """Foundings left out of the comparison for a reason agreed beforehand come in."""
    return replace(history, foundings=history.foundings.assign(compared=True))


def dated_midway(history: History) -> History:
    """Losses are dated to the day in the middle of their interval: what many a table does."""
    spans, found = history.intervals, history.foundings.copy()
    wide = (spans["lost"] > 0) & (spans["by"] - spans["after"] > NEXT)
    some, rest = spans[wide], spans[~wide]
    middle = (some["after"] + some["by"]) / 2
    low, high = middle - NEXT / 2, middle + NEXT / 2
    quiet = _spans(some["code"], some["after"], low, some["at_risk"], some["at_risk"])
    loss = _spans(some["code"], low, high, some["at_risk"], some["alive"])
    left = _spans(some["code"], high, some["by"], some["alive"], some["alive"])
    left = left[left["alive"] > 0]
    gone = some.index[some["alive"] == 0]
    codes = some.loc[gone, "code"].to_numpy()
    found.loc[codes, "end"] = found.loc[codes, "lost_by"] = high.loc[gone].to_numpy()
    found.loc[codes, "lost_after"] = low.loc[gone].to_numpy()
    return _made(history, pd.concat([rest, quiet, loss, left], ignore_index=True), found)


READINGS: Final[Mapping[str, tuple[str, Callable[[History], History]]]] = MappingProxyType(
    {
        "taken die": ("every queen taken out alive dies on the next day", taken_die),
        "taken live": ("every queen taken out alive lives on to the last day", taken_live),
        "without accidents": ("foundings that ended in an accident left out", without_accidents),
        "without first look": (
            "foundings that lost a queen before the first look left out",
            without_first_look,
        ),
        "with left out": ("foundings left out by a rule of the study brought in", with_left_out),
        "midway": ("losses dated to the middle of their interval", dated_midway),
    }
)
"""Other readings of a study: name -> what it means, and how to make it."""
