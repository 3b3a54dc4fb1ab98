"""Clubs of a federation: each compared by itself, and all of them as one study.

Comes in: studies by club. Goes out: a folder of results for each club and one for all, and a table
that sets them side by side. Never: a number made of the clubs' numbers.

What a club's own comparison says and what the pooled one says are two answers to two questions, and
the pooled one is no average of the others: each club's posterior holds the same priors once more,
so that clubs averaged would count them many times. ``cohort/power/README.md`` says what can be done
with studies that do not fit one machine.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final

import pandas as pd

from cohort import results
from cohort.base import making, tasks
from cohort.base.display import several
from cohort.base.errors import StudyError
from cohort.comparison.steps import SEED, compare
from cohort.model.sample import Said, silent
from cohort.results import Results
from cohort.results.verdict_rows import HEADLINE, said_of
from cohort.sheets import written
from cohort.study import Study, read_study
from cohort.study.pool import pooled
from cohort.terms.questions import AVERAGE, SEEN

CLUBS: Final = "clubs"
POOLED: Final = "pooled"
"""Folder of all clubs together, and their name in the table."""

Files = dict[str, bytes]
"""Files of a folder of results by their path below it."""


@dataclass(frozen=True)
class Federation:
    """What clubs and all of them together found.

    Attributes
    ----------
    table : DataFrame
        One row per club, and one for all; columns of ``clubs.csv`` (`cohort.terms.written`).
    folders : dict of str to Path
        Folders of results by club.
    notes : tuple of str
        What had to be settled between the studies to pool them.
    """

    table: pd.DataFrame
    folders: dict[str, Path]
    notes: tuple[str, ...]


def read_clubs(folders: Iterable[Path], *, without_faulty: bool = False) -> dict[str, Study]:
    """Studies by club; a club bears the name of its folder.

    Raises
    ------
    StudyError
        No such study, an error in one, or two folders of one name.
    """
    out: dict[str, Study] = {}
    for folder in folders:
        name = folder.resolve().name
        if name in out:
            raise StudyError(
                f"Two folders are called {name}: clubs bear the names of their folders. Give one "
                "of them another name."
            )
        out[name] = read_study(folder, without_faulty=without_faulty)
    return out


def compared(study: Study, seed: int, level: float) -> Files | str:
    """Files of a folder of results of one study; where it cannot be compared at all, why."""
    try:
        made = compare(study, seed=seed, level=level)
    except StudyError as fault:
        return str(fault)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        results.fill(place, made.results, made.draws, made.study)
        files = sorted(path for path in place.rglob("*") if path.is_file())
        return {path.relative_to(place).as_posix(): path.read_bytes() for path in files}


def _put(failed: dict[Path, str], place: Path, found: Files | str) -> None:
    """Put the results of one study in place, the folder as a whole."""
    if isinstance(found, str):
        failed[place] = found
        return
    with results.made(place) as new:
        for name, data in found.items():
            (new.place / name).parent.mkdir(exist_ok=True)
            making.write(new.place / name, data)
        results.carry_over(place, new.place)


def _there(same: Callable[[Path, Results], bool], place: Path) -> bool:
    """Whether a folder holds whole results that are the same as would be made."""
    try:
        return same(place, results.read(place))
    except StudyError:
        return False


def _same(wanted: Mapping[Path, results.Made], place: Path, found: Results) -> bool:
    return wanted[place] == results.made_of(found)


def federation(
    studies: Mapping[str, Study],
    out: Path,
    *,
    seed: int = SEED,
    level: float = 0.9,
    jobs: int = 1,
    scheduler: str = "",
    say: Said = silent,
) -> Federation:
    """Compare every club by itself, and all of them as one study.

    Parameters
    ----------
    studies : mapping of str to Study
        By club, see `read_clubs`. Keepers, foundings, blocks, catches and shelves of two clubs are
        never taken for the same.
    out : Path
        Gets ``clubs/NAME/`` and ``pooled/``, each a folder of results put in place as it is done,
        and ``clubs.csv``. Results that are there of these very sheets, seed and level are kept.
    seed : int
    level : float
    jobs, scheduler
        Comparisons at a time on this machine, or who makes them: see `cohort.base.tasks.finish`.
    say : callable
        Told what is being done.

    Returns
    -------
    Federation

    Raises
    ------
    StudyError
        Fewer than two clubs, or studies that cannot be pooled; nobody to make the comparisons. A
        club that cannot be compared stops no other: the table says why.
    """
    if len(studies) < 2:
        raise StudyError("A federation has at least two clubs: name their folders.")
    whole = pooled(list(studies.values()), clubs=tuple(studies))
    folders = {name: out / CLUBS / name for name in studies} | {POOLED: out / POOLED}
    every = dict(zip(folders.values(), (*studies.values(), whole.study), strict=True))
    wanted = {place: results.to_make(study, seed, level) for place, study in every.items()}
    # the longest first: whoever is done early takes of the others
    longest = sorted(every, key=lambda place: -len(every[place].foundings))
    failed: dict[Path, str] = {}
    say(f"Comparing {several(len(studies), 'club')}, and all of them as one")
    tasks.finish(
        {place: partial(compared, every[place], seed, level) for place in longest},
        partial(_put, failed),
        there=partial(_there, partial(_same, wanted)),
        jobs=jobs,
        scheduler=scheduler,
    )
    rows = [_row(name, place, failed.get(place, "")) for name, place in folders.items()]
    table = written.typed(pd.DataFrame(rows), CLUBS)
    with making.added(out) as new:
        written.write(table, CLUBS, new.place / f"{CLUBS}.csv")
    return Federation(table, folders, whole.notes)


def _row(name: str, place: Path, why: str) -> dict[str, Any]:
    """A club in the table: its foundings and the headline of its own comparison."""
    out: dict[str, Any] = {"club": name, "settled": False, "why": why, "word": "", "side": ""}
    blank = ("queens", "day", "mean", "low", "high", "level", "chance_multi_better")
    out |= dict.fromkeys(("single", "multi"), 0) | dict.fromkeys(blank)
    if why:
        return out
    found = results.read(place)
    arms = found.foundings.loc[found.foundings["compared"].astype(bool), "arm"]
    out |= {way: int((arms == way).sum()) for way in ("single", "multi")}
    if not found.settled:
        return out | {"why": "; ".join(found.diagnosis["reasons"])}
    size = int(found.diagnosis["headline"])
    said = said_of(found.verdicts).get((HEADLINE, AVERAGE, size))
    out |= {"settled": True} if said is None else {
        "settled": True, "word": said.word, "side": said.side,
    }  # fmt: skip
    rows = found.comparisons
    mine = rows["quantity"].eq(HEADLINE) & rows["reading"].eq(SEEN) & rows["queens"].eq(size)
    mine &= rows["genus"].eq(AVERAGE) & ~rows["carried_over"].astype(bool)
    last = rows[mine].nlargest(1, "day")
    return out | {name: row[name] for row in last.to_dict("records") for name in blank}
