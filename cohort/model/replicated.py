"""Studies replicated from a fit, each founding on its own calendar of looks.

Comes in: a `Fit` and its `History`. Goes out: the `Calendar`, what its looks showed, and what they
show in replicated studies (`Seen`), a few studies at a time. Never: a statistic of them.

Each founding keeps its own calendar of looks, its removals and its entry. One that lost all its
queens would have been looked at longer had it lived; its calendar goes on at its own rhythm to
the day up to which it could have been followed. A founding that runs on degree-days does so in
the replicates, by the log of its own shelf.

What is drawn anew: the frailty of each founding, from its own distribution
(`posterior_predictive`), and the day of its first worker. What is kept: the draws of all else,
those of genera, keepers, flights and seasons that stand in the model among them. This is the mixed
check of Marshall & Spiegelhalter (2003, doi 10.1002/sim.1403) for foundings, and the conditional
one for keepers. A keeper's effect drawn anew would ask whether the next keeper will be like these,
and would be blind to what this keeper's queens went through; the comparison rests on these keepers.
So where keepers stand in the model a check by keeper tells what their effects leave over (an effect
on one way only, or on the first workers), and where they do not it tells of all in which keepers
differ.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.history import History
from cohort.history.winters import WinterRest, usual_winter
from cohort.model.lived import lived_in_parts
from cohort.model.sample import Fit
from cohort.predict.posterior_predictive import Calendar, posterior_predictive

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
AT_ONCE: Final = 4_000_000
"""Looks replicated in one go; keeps a study of 10,000 foundings within memory."""
FOLLOWED: Final = ("followed", "horizon", "winter")


@dataclass(frozen=True)
class Seen:
    """Counts at every look, of one study or of many (first axis).

    Attributes
    ----------
    at_risk, alive : int arrays, shape (studies, looks)
        Queens in the interval that ends at the look, and alive at it; 0 and 0 once all are gone.
    first : float array, shape (studies, foundings)
        Day of the look that first showed workers; inf where none did.
    """

    at_risk: npt.NDArray[Any]
    alive: npt.NDArray[Any]
    first: npt.NDArray[Any]


@dataclass(frozen=True)
class Losses:
    """Queens lost, a number for every look that showed a loss: few of a large study's looks do.

    Attributes
    ----------
    study, look : int arrays, shape (losses,)
        Study by study, and within each in the order of its looks.
    queens : int array, shape (losses,)
    """

    study: Ints
    look: Ints
    queens: Ints


def losses(seen: Seen) -> Losses:
    """See `Losses`."""
    lost = seen.at_risk - seen.alive
    study, look = np.nonzero(lost)
    return Losses(study, look, lost[study, look].astype(np.int64))


def could_follow(chosen: pd.DataFrame, horizon: int) -> Floats:
    """Last day up to which each founding could have been followed."""
    started = chosen["started"].to_numpy("datetime64[D]").astype(float)
    zero = started - chosen["closed"].to_numpy(float)
    last = zero + chosen["end"].to_numpy(float)
    open_ = chosen["end_kind"].isin(FOLLOWED).to_numpy()
    season = (last[open_] if open_.any() else last).max()
    until: Floats = np.minimum(season - zero, float(horizon))
    return until


def _extended(days: Floats, gap: float, until: float) -> Floats:
    """Looks at the founding's own rhythm, and one on the last day."""
    more = np.arange(days[-1] + gap, until + 1e-9, gap)
    last = [until] if until - np.append(days, more)[-1] >= 1.0 else []
    return np.concatenate([days, more, last])


def calendar(history: History) -> tuple[Calendar, Seen]:
    """Looks of every compared founding, in the order the model has them, and what they showed."""
    chosen = history.foundings[history.foundings["compared"]]
    frame = history.intervals[history.intervals["code"].isin(chosen.index)]
    until = could_follow(chosen, history.horizon)
    gaps = (frame["by"] - frame["after"]).groupby(frame["code"]).median()
    usual = float(gaps.median()) if len(gaps) else 7.0
    parts = {code: part for code, part in frame.groupby("code")}
    days, taken, risk, alive = [], [], [], []
    lost = chosen["end_kind"].to_numpy() == "all lost"
    for i, (code, queens) in enumerate(
        zip(chosen.index, chosen["entry_queens"].to_numpy(int), strict=True)
    ):
        part = parts.get(code)
        if part is None:
            days.append(np.zeros(0))
            counts: tuple[Ints, Ints] = (np.zeros(0, int), np.zeros(0, int))
        else:
            counts = (part["at_risk"].to_numpy(int), part["alive"].to_numpy(int))
            own = part["by"].to_numpy(float)
            gap = max(float(gaps[code]) if len(own) >= 3 else usual, 1.0)
            days.append(_extended(own, gap, until[i]) if lost[i] else own)
        more = np.zeros(len(days[-1]) - len(counts[0]), int)
        before = np.concatenate([[queens], counts[1][:-1]])[: len(counts[0])]
        taken.append(np.concatenate([before - counts[0], more]))
        risk.append(np.concatenate([counts[0], more]))
        alive.append(np.concatenate([counts[1], more]))
    ends = np.cumsum([len(d) for d in days])
    seen = np.isfinite(chosen["first_by"].to_numpy(float))
    looked = chosen["looked_to"].to_numpy(float)
    end = chosen["end"].to_numpy(float)
    plan = Calendar(
        start=(ends - [len(d) for d in days]).astype(np.int64),
        stop=ends.astype(np.int64),
        day=np.concatenate(days),
        taken=np.concatenate(taken).astype(np.int64),
        size=chosen["size"].to_numpy(np.int64),
        entry=chosen["entry"].to_numpy(float),
        entry_queens=chosen["entry_queens"].to_numpy(np.int64),
        entry_workers=chosen["entry_workers"].to_numpy(bool),
        sought=np.where(seen | (lost & (looked >= end)), np.inf, looked),
        **_logs(history, chosen),
        **_winters(history, chosen),
    )
    observed = Seen(
        np.concatenate(risk)[None, :],
        np.concatenate(alive)[None, :],
        chosen["first_by"].to_numpy(float)[None, :],
    )
    return plan, observed


def _logs(history: History, chosen: pd.DataFrame) -> dict[str, Any]:
    """Shelf logs of the foundings that run on degree-days; nothing when none does."""
    warmth = history.warmth
    if warmth is None or not warmth.clocks:
        return {}
    clocks = [warmth.clocks.get(str(name)) for name in chosen["founding"]]
    none = np.zeros(0)
    days = [0 if clock is None else len(clock.low) for clock in clocks]
    return {
        "low": np.concatenate([none, *(c.low for c in clocks if c is not None)]),
        "high": np.concatenate([none, *(c.high for c in clocks if c is not None)]),
        "log_start": np.concatenate([[0], np.cumsum(days)]).astype(np.int64),
        "reference": float(warmth.reference),
    }


def _winters(history: History, chosen: pd.DataFrame) -> dict[str, Any]:
    """Winter rests of the foundings; nothing where none was followed into one.

    One that lost all its queens before its first would have had the usual one, had it lived.
    """
    usual = usual_winter(history, map(str, chosen["founding"]))
    if usual is None:
        return {}
    expected = WinterRest((usual[0],), (usual[0] + usual[1],))
    rests = [
        history.winters.get(str(name), expected if kind == "all lost" else None)
        for name, kind in zip(chosen["founding"], chosen["end_kind"], strict=True)
    ]
    none = np.zeros(0)
    return {
        "winter_in": np.concatenate([none, *(r.starts for r in rests if r is not None)]),
        "winter_out": np.concatenate([none, *(r.stops for r in rests if r is not None)]),
        "winter_start": np.cumsum([0, *(0 if r is None else len(r.starts) for r in rests)]).astype(
            np.int64
        ),
    }


def owner(plan: Calendar) -> Ints:
    """Founding of each look, shape (looks,)."""
    return np.repeat(np.arange(len(plan.size)), plan.stop - plan.start)


def begun(plan: Calendar) -> Floats:
    """Day on which the interval of each look begins, shape (looks,)."""
    before = np.concatenate([[0.0], plan.day[:-1]])[: len(plan.day)]
    some = plan.stop > plan.start
    before[plan.start[some]] = plan.entry[some]
    return before


def replicates(fit: Fit, plan: Calendar, *, seed: int, draws: int) -> Iterator[Seen]:
    """Replicated studies, one per kept posterior draw, some at a time.

    Parameters
    ----------
    fit : Fit
    plan : Calendar
        Of the same study, as `calendar` gives it.
    seed : int
    draws : int
        Studies in all: posterior draws evenly thinned over chains, all of them at most.
    """
    chains, length = fit.posterior.sizes["chain"], fit.posterior.sizes["draw"]
    keep = np.linspace(0, length - 1, min(length, max(1, draws // chains))).round().astype(int)
    rng = np.random.default_rng(seed)
    size = max(1, AT_ONCE // max(1, len(plan.day)))
    for pars, shareds in lived_in_parts(fit, keep):
        for at in range(0, len(pars), size):
            some = slice(at, at + size)
            yield Seen(*posterior_predictive(pars[some], shareds[some], plan, rng))
