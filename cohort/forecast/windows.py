"""Windows of the first worker, the chance of none this season, and losses in groups.

Comes in: `Conditional`. Goes out: one row per founding, in days since its day 0. Never: a date.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import ndtr

from cohort.forecast.conditional import Conditional
from cohort.likelihood import layout as at
from cohort.predict import conditional

Floats = npt.NDArray[np.float64]
LEVELS: Final = (0.5, 0.9)
OVERDUE: Final = 0.9
"""Share of like foundings that would have workers by now from which one is overdue."""
NEAR: Final = 0.1
"""Chance of workers within two weeks from which a group is near its first workers."""
AHEAD: Final = (7, 14)
"""Days from the day asked about over which losses in a group are forecast."""


def _quantile(share: Floats, mass: float) -> Floats:
    """Day at which a cumulative share (rows from 0 to 1, one column per day) reaches ``mass``."""
    reached = (share >= mass).argmax(axis=1)
    rows = np.arange(len(share))
    low = np.where(reached > 0, share[rows, np.maximum(reached - 1, 0)], 0.0)
    step = np.maximum(share[rows, reached] - low, 1e-300)
    out: Floats = reached + (mass - low) / step
    return out


def first_workers(what: Conditional, last_day: Floats) -> pd.DataFrame:
    """Window of the first worker of each founding that has none yet.

    Parameters
    ----------
    what : Given
    last_day : float array
        Days since day 0 on which the season ends for each founding.

    Returns
    -------
    DataFrame
        founding, low90, low50, middle, high50, high90 (days since day 0, given that workers come
        this season), none_this_season, unmated (chances), like_it (share of foundings of its
        kind that have workers by its last look, of those that get any), overdue, chance_by (the
        cumulative chance by day, a list; for checks).
    """
    waiting = what.state[:, conditional.SEEN] == 0
    looked = what.state[:, conditional.LOOKED]
    days = int(max(1, np.ceil((last_day - looked)[waiting].max(initial=1))))
    arrive, unmated, _ = conditional.first_worker_given_state(
        what.pars, what.shareds, what.omega, what.z, what.state, days
    )
    inside = np.clip(last_day[:, None] - looked[:, None] - np.arange(days), 0, 1)
    by_day = np.cumsum(arrive * inside, axis=1)
    whole = by_day[:, -1]
    share = by_day / np.maximum(whole, 1e-300)[:, None]
    out = pd.DataFrame({"founding": what.foundings["founding"].to_numpy()})
    for name, mass in (
        ("low90", 0.05),
        ("low50", 0.25),
        ("middle", 0.5),
        ("high50", 0.75),
        ("high90", 0.95),
    ):
        out[name] = looked + _quantile(share, mass)
    out["none_this_season"] = 1 - whole
    out["unmated"] = unmated
    out["like_it"] = _like_it(what)
    out["overdue"] = out["like_it"] >= OVERDUE
    out["chance_by"] = list(by_day)
    own = np.isinf(what.foundings["brood_in"].to_numpy(float))
    told: pd.DataFrame = out[waiting & own & (whole > 1e-12)].reset_index(drop=True)
    return told


def _like_it(what: Conditional) -> Floats:
    """Share of fertile foundings of the same kind and way with workers by the last look."""
    by_draw = what.omega.sum(axis=2)
    day = np.log(np.maximum(what.state[:, conditional.LOOKED], 1e-9))
    within_days = what.shareds[:, None, at.WITHIN_DAYS]
    so_far = ndtr((day[None, :] - what.pars[..., at.LOG_DAY]) / within_days)
    out: Floats = (by_draw * so_far.T).sum(axis=1)
    return out


def groups(what: Conditional, today: Floats, arrive_by: pd.DataFrame) -> pd.DataFrame:
    """Chances of losses in groups that are near their first workers or past them.

    Parameters
    ----------
    what : Given
    today : float array
        The day asked about, days since day 0 of each founding.
    arrive_by : DataFrame
        As `first_workers` gives it.

    Returns
    -------
    DataFrame
        founding, queens, workers (seen), workers_in_14 (chance that workers are there 14 days
        on), lose_one_7, lose_one_14, lose_all_7, lose_all_14: chances of counting fewer queens,
        and none, so many days after the day asked about, from the last count on.
    """
    seen = what.state[:, conditional.SEEN] == 1
    near = np.where(seen, 1.0, 0.0)
    chance = dict(zip(arrive_by["founding"], arrive_by["chance_by"], strict=True))
    for i, name in enumerate(what.foundings["founding"]):
        if name in chance:
            days = int(np.clip(today[i] + AHEAD[-1] - what.state[i, conditional.LOOKED], 1, None))
            near[i] = chance[name][min(days, len(chance[name])) - 1]
    chosen = (what.state[:, conditional.QUEENS] >= 2) & (near >= NEAR)
    until = today[:, None] + np.array(AHEAD, float)
    pick = np.flatnonzero(chosen)
    out = pd.DataFrame(
        {
            "founding": what.foundings["founding"].to_numpy()[pick],
            "queens": what.state[pick, conditional.QUEENS].astype(int),
            "workers": seen[pick],
            "workers_in_14": near[pick],
        }
    )
    lost = conditional.losses_given_state(
        np.ascontiguousarray(what.pars[:, pick]),
        what.shareds,
        np.ascontiguousarray(what.omega[pick]),
        what.z,
        what.state[pick],
        what.packed.records[pick],
        what.packed.rows,
        what.packed.nodes,
        until[pick],
    )
    for j, days in enumerate(AHEAD):
        out[f"lose_one_{days}"] = lost[:, j, 0]
        out[f"lose_all_{days}"] = lost[:, j, 1]
    return out
