"""Many calibrated studies: one file each, named by seed, so that work can be taken up again.

Comes in: a folder and seeds. Goes out: files ``study-00001.json`` and their ranks as a table.
Never: a verdict (see `bands`).
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from typing import Any, Final

import pandas as pd

from cohort.base import background, disk, telling
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


def _one(folder: Path, seed: int, work: Work, main: int, shared: bool) -> None:
    """One study, unless another process has done it meanwhile; for the process of this number."""
    background.ends_with(main)
    if shared:
        background.alone()
    place = _place(folder, seed)
    if place.exists():
        return
    with telling.heard_by(None):  # the studies are counted
        found = work(seed)
    disk.put(place, json.dumps(found))  # a file that is there is whole


def spread(folder: Path, seeds: Iterable[int], work: Work, *, jobs: int = 1) -> None:
    """Do the work of all seeds that have no file yet, and put what it gives into one file each.

    Parameters
    ----------
    folder : Path
        Made if missing. Files of other work must not lie there.
    seeds : iterable of int
    work : callable
        Given a seed; gives what can be written as JSON.
    jobs : int
        Processes of this machine, each of which then works on one core; under
        ``joblib.parallel_config("dask")`` those of a cluster.
    """
    import joblib

    folder.mkdir(parents=True, exist_ok=True)
    disk.clear(folder)
    waiting = [seed for seed in seeds if not _place(folder, seed).exists()]
    jobs = max(1, min(jobs, len(waiting)))
    with background.unheard():
        ran = joblib.Parallel(n_jobs=jobs, return_as="generator_unordered")(
            joblib.delayed(_one)(folder, seed, work, os.getpid(), jobs > 1) for seed in waiting
        )
    with background.ended(ran) as coming:
        for _ in telling.counted(coming, len(waiting)):
            pass


def calibrate(folder: Path, seeds: Iterable[int], task: Task, *, jobs: int = 1) -> None:
    """Draw, fit and rank the studies of all seeds that have no file yet; see `spread`."""
    spread(folder, seeds, partial(ranks_of, task=task), jobs=jobs)


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
