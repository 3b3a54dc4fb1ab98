"""Many simulated seasons, one file each, and what they say together.

Comes in: a `Wish`, numbers of foundings, how many seasons. Goes out: a frozen `Power`. Never:
does a season again whose file is there.

Seasons are tasks (`cohort.base.tasks`), done here or on a cluster. Each leaves
``foundings-F/season-S.json``; a run that was broken off goes on from there.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.base import making, tasks
from cohort.base.display import several
from cohort.base.errors import StudyError
from cohort.base.moving import files_of
from cohort.power.replicate import BAD_RHAT, Replicate, prior_range, replicate
from cohort.power.textbook import Textbook, textbook
from cohort.power.wish import Wish, check

DESIGN: Final = "wish.json"
ROOT_N: Final = -0.5
"""Slope of log width in log foundings where only one number of foundings was tried."""
FAR: Final = 4.0
"""Times the largest number tried beyond which a needed number is not told."""


@dataclass(frozen=True)
class Power:
    """What simulated seasons say of a study.

    Attributes
    ----------
    wish : Wish
    table : DataFrame
        One row per number of foundings: foundings, seasons, power (share of intervals that
        exclude no difference), power_se (Monte Carlo), wrong_side, width (mean), width_se,
        coverage, truth (mean), unsettled (seasons whose chains did not agree, left out of the
        rest).
    slope, level : float
        log width = level + slope log foundings.
    needed : int or None
        Smallest number of foundings for the wished width; None when none was wished or it lies
        too far beyond what was tried.
    width : float or None
        The wished width.
    textbook : Textbook or None
    single, multi : float
        Mean true chances behind the textbook's size.
    prior_low, prior_high : float
        What the priors alone say of the contrast.
    """

    wish: Wish
    table: pd.DataFrame
    slope: float
    level: float
    needed: int | None
    width: float | None
    textbook: Textbook | None
    single: float
    multi: float
    prior_low: float
    prior_high: float


def _file(folder: Path, foundings: int, seed: int) -> Path:
    return folder / f"foundings-{foundings}" / f"season-{seed:05d}.json"


def _read(path: Path) -> Replicate | None:
    """A season done before; None when its file is not there or was broken off."""
    try:
        return Replicate(**json.loads(path.read_text("utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def _whole(path: Path) -> bool:
    return _read(path) is not None


def _season(wish: Wish, foundings: int, seed: int) -> dict[str, Any]:
    return asdict(replicate(wish, foundings, seed))


def _same_wish(wish: Wish, folder: Path) -> None:
    """Refuse a folder whose seasons were simulated for something else.

    Raises
    ------
    StudyError
    """
    path = folder / DESIGN
    if not path.exists():
        if folder.is_dir() and files_of(folder):
            raise StudyError(f"{folder} holds other files; name a new folder for the seasons.")
        with making.added(folder) as new:
            making.write(new.place / DESIGN, json.dumps(wish.as_dict(), indent=1))
        return
    try:
        before = dict(json.loads(path.read_text("utf-8")))
    except (ValueError, TypeError) as fault:
        raise StudyError(
            f"{path} is damaged: it cannot be read. Name a new folder for the seasons."
        ) from fault
    now = json.loads(json.dumps(wish.as_dict()))
    if before != now:
        other = ", ".join(sorted(k for k in now if now[k] != before.get(k)))
        raise StudyError(
            f"{folder} holds seasons simulated with another {other}. Name a new folder, or ask "
            "for the same again to go on."
        )


def seasons(
    wish: Wish,
    foundings: tuple[int, ...],
    count: int,
    folder: Path,
    *,
    seed: int = 1,
    jobs: int = 1,
    scheduler: str = "",
    say: Callable[[str], None] = lambda what: None,
) -> pd.DataFrame:
    """Every season asked for, those whose file is there read from it.

    Returns
    -------
    DataFrame
        One row per season, the fields of `Replicate`.
    """
    _same_wish(wish, folder)
    work = {
        _file(folder, n, s): partial(_season, wish, n, s)
        for n in foundings
        for s in range(seed, seed + count)
    }
    before = sum(map(_whole, work))
    if before:
        say(f"{before} of {several(len(work), 'season')} were done before")
    say(f"Simulating and comparing {several(len(work) - before, 'season')}")
    tasks.finish(work, there=_whole, jobs=jobs, scheduler=scheduler)
    rows = [asdict(one) for one in map(_read, work) if one is not None]
    return pd.DataFrame(rows).sort_values(["foundings", "seed"], ignore_index=True)


def summary(found: pd.DataFrame) -> pd.DataFrame:
    """Power, width and coverage by number of foundings; see `Power.table`."""
    rows: list[dict[str, Any]] = []
    for foundings, part in found.groupby("foundings"):
        good = part[part["rhat"] <= BAD_RHAT]
        n = max(len(good), 1)
        width = good["high"] - good["low"]
        share = float(good["excludes"].mean())
        inside = (good["low"] <= good["truth"]) & (good["truth"] <= good["high"])
        rows.append(
            {
                "foundings": foundings,
                "seasons": len(good),
                "power": share,
                # with a few seasons a share of 0 or 1 is not certain: (x + 1) / (n + 2)
                "power_se": math.sqrt(_shrunk(share, n) * (1 - _shrunk(share, n)) / n),
                "wrong_side": float((good["excludes"] & ~good["right_side"]).mean()),
                "width": float(width.mean()),
                "width_se": float(width.std(ddof=1) / math.sqrt(n)) if n > 1 else math.nan,
                "coverage": float(inside.mean()),
                "truth": float(good["truth"].mean()),
                "unsettled": len(part) - len(good),
            }
        )
    return pd.DataFrame(rows)


def _shrunk(share: float, n: int) -> float:
    return (share * n + 1) / (n + 2)


def width_law(table: pd.DataFrame) -> tuple[float, float]:
    """Slope and level of log width in log foundings."""
    x, y = np.log(table["foundings"].to_numpy(float)), np.log(table["width"].to_numpy(float))
    slope = float(np.polyfit(x, y, 1)[0]) if len(x) > 1 else ROOT_N
    slope = slope if slope < -0.05 else ROOT_N
    return slope, float((y - slope * x).mean())


def needed(slope: float, level: float, width: float, tried: int) -> int | None:
    """Smallest number of foundings for a width; None when far beyond what was tried."""
    count = math.exp((math.log(width) - level) / slope)
    return math.ceil(count - 1e-9) if count <= FAR * tried else None


def power(
    wish: Wish,
    foundings: tuple[int, ...],
    count: int,
    folder: Path,
    *,
    width: float | None = None,
    seed: int = 1,
    jobs: int = 1,
    scheduler: str = "",
    say: Callable[[str], None] = lambda what: None,
) -> Power:
    """Chance that a study of each size finds a difference, and how wide its range would be.

    Parameters
    ----------
    wish : Wish
    foundings : tuple of int
        Numbers of foundings in all.
    count : int
        Seasons simulated for each.
    folder : Path
        One file per season; seasons found there are not done again.
    width : float, optional
        Wished width of the interval.
    seed : int
        Of the first season; the next take the numbers after it.
    jobs : int
        Seasons at a time.
    scheduler : str
        Address of a Dask scheduler; blank for this machine.
    say : callable
        Told how far it is.

    Raises
    ------
    StudyError
        A study that cannot be, another wish in the folder, no cluster.
    """
    check(wish, foundings)
    found = seasons(
        wish, foundings, count, folder, seed=seed, jobs=jobs, scheduler=scheduler, say=say
    )
    table = summary(found)
    if not table["seasons"].all():
        raise StudyError(
            "No comparison of a simulated season settled; ask for more foundings or more seasons."
        )
    slope, level = width_law(table)
    single, multi = float(found["single"].mean()), float(found["multi"].mean())
    wanted = None if width is None else needed(slope, level, width, int(max(foundings)))
    return Power(
        wish,
        table,
        slope,
        level,
        wanted,
        width,
        textbook(single, multi, alpha=1 - wish.level),
        single,
        multi,
        *prior_range(wish),
    )
