"""What the numbers of a comparison were made of: whether made again they would be the same.

Comes in: results, or a study that is to be compared. Goes out: a `Made` to set beside another.
Never: a look at the numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

from cohort.results.files import MINE
from cohort.results.folder import Results, versions
from cohort.study import Study


@dataclass(frozen=True)
class Made:
    """What decides of the numbers of a comparison: its sheets, program, seed and level.

    Attributes
    ----------
    sheets : dict of str
        Their sha256 by name.
    foundings : frozenset of str
    program : str
        Version of this package.
    seed : int
    level : float
    """

    sheets: dict[str, str]
    foundings: frozenset[str]
    program: str
    seed: int
    level: float


def to_make(study: Study, seed: int, level: float) -> Made:
    """What decides of the numbers, were a study compared now."""
    sheets = {source.name: source.sha256 for source in study.sources}
    foundings = frozenset(study.foundings["founding"].astype(str))
    return Made(sheets, foundings, versions()[MINE], int(seed), float(level))


def made_of(results: Results) -> Made:
    """What decided of the numbers of results that are there."""
    run = results.run
    foundings = frozenset(results.foundings["founding"].astype(str))
    program = str(run["versions"].get(MINE))
    return Made(dict(run["sheets"]), foundings, program, int(run["seed"]), float(run["level"]))
