"""The parts of a proof, one after another.

Comes in: names of parts, a seed. Goes out: a `Proof`. A part that cannot come to its end has
failed, and the others are done all the same.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from typing import Final

from cohort.base.errors import CohortError, StudyError
from cohort.calibrate.report import today
from cohort.model.sample import Said, silent
from cohort.prove.lines import Line, Part
from cohort.results import versions
from cohort.terms.near import did_you_mean

PARTS: Final = ("by_hand", "recovered", "second", "outside", "calibrated")
"""In the order of the page."""
SAYS: Final = {
    "by_hand": "Working two examples on paper",
    "recovered": "Comparing a simulated club",
    "second": "Asking textbook methods about the same club",
    "outside": "Sampling eight schools",
    "calibrated": "Drawing and fitting twenty studies",
}


@dataclass(frozen=True)
class Proof:
    """What was proved, here and now.

    Attributes
    ----------
    parts : tuple of Part
    seed : int
        Added to the seeds of all parts; 0 for those of the published page.
    day : date
    versions : dict of str
    sources : str
        What the sources of likelihood and predictions say, 16 letters of a SHA-256.
    """

    parts: tuple[Part, ...]
    seed: int
    day: dt.date
    versions: dict[str, str]
    sources: str

    @property
    def holds(self) -> bool:
        """Whether there are parts, and every one holds."""
        return bool(self.parts) and all(part.holds for part in self.parts)


def _runners(seed: int, say: Said) -> dict[str, tuple[int | None, Callable[[], tuple[Line, ...]]]]:
    """Seed and work of each part; the club is compared once for both that ask it."""
    from cohort.prove import by_hand, club, schools, twenty

    @cache
    def compared() -> club.Club:
        return club.club(club.SEED + seed, say)

    return {
        "by_hand": (None, by_hand.by_hand),
        "recovered": (club.SEED + seed, lambda: club.recovered(compared())),
        "second": (club.SEED + seed, lambda: club.second(compared())),
        "outside": (
            schools.SEED + seed,
            lambda: schools.outside(schools.sampled(schools.SEED + seed)),
        ),
        "calibrated": (
            twenty.SEED + seed,
            lambda: twenty.calibrated(*twenty.ranked(twenty.SEED + seed)),
        ),
    }


def prove(names: Iterable[str] = PARTS, *, seed: int = 0, say: Said = silent) -> Proof:
    """Do the parts of a proof.

    Parameters
    ----------
    names : iterable of str
        Of `PARTS`; none is all.
    seed : int
        Added to the seed of every part.
    say : callable
        Told what is being done.

    Returns
    -------
    Proof

    Raises
    ------
    StudyError
        No such part.

    Examples
    --------
    >>> from cohort.prove import prove
    >>> prove(["by_hand"]).holds
    True
    """
    from cohort.likelihood import machine_code

    asked = list(dict.fromkeys(names)) or list(PARTS)
    for name in asked:
        if name not in PARTS:
            near = did_you_mean(name, PARTS) or f"There are {', '.join(PARTS)}."
            raise StudyError(f"There is no part '{name}'. {near}")
    runners, parts = _runners(seed, say), []
    for name in (one for one in PARTS if one in asked):
        own, work = runners[name]
        say(SAYS[name])
        begun, broke_off = time.monotonic(), ""
        lines: tuple[Line, ...] = ()
        try:
            lines = work()
        except CohortError as fault:
            broke_off = str(fault)
        parts.append(Part(name, lines, own, time.monotonic() - begun, broke_off))
    return Proof(tuple(parts), seed, today(), versions(), machine_code.digest_of()[:16])
