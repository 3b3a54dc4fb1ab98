"""Many calibrated studies: one file each, named by seed, so that work can be taken up again.

Comes in: a folder and seeds. Goes out: files ``study-00001.json`` and their ranks as a table.
Never: a verdict (see `bands`).
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from typing import Any, Final

import pandas as pd

from cohort.base import tasks
from cohort.base.errors import StudyError
from cohort.calibrate.ranks import Task, ranks_of

RECORD: Final = (
    "seed",
    "failed",
    "runs",
    "foundings",
    "divergences",
    "kept_divergences",
    "seconds",
)
Work = Callable[[int], dict[str, Any]]


def _place(folder: Path, seed: int) -> Path:
    return folder / f"study-{seed:05d}.json"


def spread(
    folder: Path, seeds: Iterable[int], work: Work, *, jobs: int = 1, scheduler: str = ""
) -> None:
    """Do the work of all seeds that have no file yet, and put what it gives into one file each.

    Parameters
    ----------
    folder : Path
        Made if missing. Files of other work must not lie there.
    seeds : iterable of int
    work : callable
        Given a seed; gives what can be written as JSON.
    jobs, scheduler
        Studies at a time on this machine, or who does them: see `cohort.base.tasks.finish`.
    """
    todo = {_place(folder, seed): partial(work, seed) for seed in seeds}
    tasks.finish(todo, jobs=jobs, scheduler=scheduler)


def calibrate(
    folder: Path, seeds: Iterable[int], task: Task, *, jobs: int = 1, scheduler: str = ""
) -> None:
    """Draw, fit and rank the studies of all seeds that have no file yet; see `spread`."""
    spread(folder, seeds, partial(ranks_of, task=task), jobs=jobs, scheduler=scheduler)


def every(folder: Path) -> list[dict[str, Any]]:
    """What the files of a folder hold, by seed.

    Raises
    ------
    StudyError
        A file is damaged.
    """
    return [_read(path) for path in sorted(folder.glob("study-*.json"))]


def _read(path: Path) -> dict[str, Any]:
    try:
        return dict(json.loads(path.read_text("utf-8")))
    except (ValueError, TypeError) as fault:
        raise StudyError(
            f"{path} is damaged: it cannot be read. Take it away and calibrate again: only this "
            "study is made anew."
        ) from fault


def collected(folder: Path) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Ranks (one row per study, one column per quantity) and the record of each fit.

    Studies that could not be drawn are in the record alone.
    """
    found = every(folder)
    ranks = pd.DataFrame(
        {one["seed"]: one["ranks"] for one in found if one["ranks"]}, dtype="int64"
    ).T
    record = pd.DataFrame([{key: one.get(key) for key in RECORD} for one in found])
    return ranks.rename_axis("seed"), record
