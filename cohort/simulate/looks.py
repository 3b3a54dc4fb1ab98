"""When keepers look, and what they then write down.

In: the plan of a season (one row per founding), its design, and what truly happened.
Out: the days of looking, and the check sheet.
Never: writes down anything between two looks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from cohort.simulate.events import Bools, Floats, Ints

if TYPE_CHECKING:
    from cohort.simulate.design import Design
    from cohort.simulate.fates import Fates

__all__ = ["Looks", "check_sheet", "looks_of", "workers_seen"]

#: Workers are counted exactly up to here, and again about 30 days after the first.
EXACT = 10


@dataclass(frozen=True)
class Looks:
    """Days of looking since day 0: `days` (n, looks) ascending, `open` where one took place."""

    days: Floats
    open: Bools

    @property
    def last(self) -> Floats:
        """Day of the last look planned, array (n,)."""
        latest: Floats = np.where(self.open, self.days, -1.0).max(axis=1)
        return latest

    def take(self, rows: Bools) -> Looks:
        """Return the looks of some rows."""
        return Looks(self.days[rows], self.open[rows])


def looks_of(plan: pd.DataFrame, design: Design, rng: np.random.Generator) -> Looks:
    """Return the days on which each founding of `plan` (columns start, keeper, entry) is seen.

    The day of entry of a founding followed from later is a look. ``every`` and ``irregular``
    end with a look on the horizon; ``shelf`` goes on to the first shelf day on which all
    foundings of the keeper have reached it. Winter ends all looking.
    """
    n, gap = len(plan), design.look_every
    start, entry = plan["start"].to_numpy(), plan["entry"].to_numpy(dtype=float)
    if design.calendar == "shelf":
        keeper = plan["keeper"].to_numpy()
        offset = rng.integers(0, gap, keeper.max() + 1)[keeper]
        end = plan.groupby("keeper")["start"].transform("max").to_numpy() + design.horizon
        end = end + (offset - end) % gap
        first = start + 1 + (offset - start - 1) % gap
        count = int((end - first).max()) // gap + 1
        days = (first - start)[:, None] + gap * np.arange(count)[None, :]
        last = end - start
    else:
        last = np.full(n, design.horizon)
        low, high = (gap, gap) if design.calendar == "every" else (min(2, gap), 2 * gap - 2)
        most = design.horizon // max(1, low) + 1
        steps = rng.integers(low, max(low, high) + 1, (n, most))
        days = np.minimum(np.cumsum(steps, axis=1), design.horizon)
    days = np.concatenate([entry[:, None], days.astype(float)], axis=1)
    opened = (days > entry[:, None]) & (days <= last[:, None])
    opened[:, 1:] &= np.diff(days, axis=1) > 0
    opened[:, 0] = entry > 0
    if design.winter is not None:
        when, cold = days + start[:, None], (design.winter - design.first_flight).days
        awake = when < cold
        if design.spring is not None:
            awake |= when >= (design.spring - design.first_flight).days
        opened &= awake
    return Looks(days, opened)


def workers_seen(days: Floats, first_worker: Floats, brood: Ints) -> Ints:
    """Return the workers on each day, array like `days` (n, looks); 0 before the first.

    The first brood is complete 25 days after its first worker and stands still to day 45;
    then the nest grows by a fiftieth of it a day. Only the count near day 30 has a model.
    """
    since = days - first_worker[:, None]
    grown = np.clip(since / 25.0, 0.0, 1.0) + np.clip(since - 45.0, 0.0, None) / 50.0
    count = 1 + np.floor((brood[:, None] - 1) * grown)
    return np.where(since >= 0, count, 0).astype(np.int64)


def check_sheet(
    plan: pd.DataFrame,
    looks: Looks,
    fates: Fates,
    dates: NDArray[np.object_],
    design: Design,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """Return the check sheet: founding, date, queens_alive, workers, and code (the keeper).

    A look that finds no queen is a founding's last. With shelf days, only foundings in which
    something changed are named, the others stand under ``rest``; each has a row of day 0.
    """
    days = looks.days
    dead = np.zeros(days.shape, dtype=np.int64)
    for j in range(fates.deaths.shape[1]):
        dead += fates.deaths[:, j, None] <= days
    gone = np.where(fates.taken_at[:, None] < days, fates.taken[:, None], 0)
    alive = plan["size"].to_numpy()[:, None] - dead - gone
    ended = np.maximum.accumulate((alive == 0) & looks.open, axis=1)
    kept = looks.open.copy()
    kept[:, 1:] &= ~ended[:, :-1]
    workers = np.where(kept, workers_seen(days, fates.first_worker, fates.brood), 0)
    text = _as_written(workers, days - fates.first_worker[:, None], design)
    text[rng.random(days.shape) < design.blank] = ""
    if design.calendar == "shelf":
        return _with_rest(plan, days, kept, alive, text, dates)
    row, column = np.nonzero(kept)
    return pd.DataFrame(
        {
            "founding": plan["founding"].to_numpy()[row],
            "date": dates[plan["start"].to_numpy()[row] + days[row, column].astype(np.int64)],
            "queens_alive": alive[row, column],
            "workers": text[row, column],
            "code": plan["code"].to_numpy()[row],
        }
    )


def _as_written(workers: Ints, since: Floats, design: Design) -> NDArray[np.object_]:
    """Return counts as text: exact to ten and near day 30, else ``10+``."""
    near = np.abs(since - 30.0) <= max(6, design.look_every)
    words = np.arange(workers.max(initial=0) + 1).astype(str).astype(object)
    text = words[workers]
    text[(workers > EXACT) & ~near] = f"{EXACT}+"
    return np.asarray(text, dtype=object)


def _with_rest(
    plan: pd.DataFrame,
    days: Floats,
    kept: Bools,
    alive: Ints,
    text: NDArray[np.object_],
    dates: NDArray[np.object_],
) -> pd.DataFrame:
    """Return named rows for what changed, and one ``rest`` row per keeper and shelf day."""
    size = plan["size"].to_numpy()
    shown = np.concatenate([size[:, None], alive], axis=1)
    wrote = np.concatenate([np.full((len(plan), 1), "0", dtype=object), text], axis=1)
    # Where there was no look the state of the last look still stands.
    seen = np.concatenate([np.ones((len(plan), 1), dtype=bool), kept], axis=1)
    at = np.maximum.accumulate(np.where(seen, np.arange(shown.shape[1])[None, :], 0), axis=1)
    before = np.take_along_axis(shown, at, axis=1)[:, :-1]
    said = np.take_along_axis(wrote, at, axis=1)[:, :-1]
    named = kept & ((alive != before) | (text != said) | (text == ""))
    named[:, 0] |= kept[:, 0]
    when = plan["start"].to_numpy()[:, None] + days.astype(np.int64)
    row, column = np.nonzero(named)
    code = plan["code"].to_numpy()
    first = pd.DataFrame({"founding": plan["founding"], "date": dates[plan["start"]], "code": code})
    first = first.assign(queens_alive=size.astype(str), workers="0", order=0)
    changed = pd.DataFrame(
        {
            "founding": plan["founding"].to_numpy()[row],
            "date": dates[when[row, column]],
            "queens_alive": alive[row, column].astype(str),
            "workers": text[row, column],
            "code": code[row],
            "order": 1,
        }
    )
    parts = [first[(plan["entry"] == 0).to_numpy()], changed]
    quiet = kept & ~named
    row, column = np.nonzero(quiet)
    rest = pd.DataFrame({"code": code[row], "date": dates[when[row, column]]}).drop_duplicates()
    parts.append(rest.assign(founding="rest", queens_alive="same", workers="", order=2))
    sheet = pd.concat(parts).sort_values(["code", "date", "order", "founding"], kind="stable")
    return sheet[["founding", "date", "queens_alive", "workers", "code"]]
