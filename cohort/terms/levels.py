"""What sets foundings apart besides their genus, and which parts of the model it moves.

Comes in: nothing. Goes out: `PARTS`, the four parts of the model that something may move, and
`LEVELS`, the kinds of group foundings come in: by keeper, flight, species, season. Never: data.

This is the only list of them. The model (`cohort.model.parameters`), a design and its file
(`cohort.model.design`), the density, the PyMC model, draws by founding and the truth of a simulated
study are all made from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

BEFORE: Final = "before"
AFTER: Final = "after"
FIRST_WORKER: Final = "first_worker"
MATED: Final = "mated"
PARTS: Final = MappingProxyType(
    {
        BEFORE: "survival of queens before workers",
        AFTER: "survival of queens with workers",
        FIRST_WORKER: "day of the first worker",
        MATED: "share of mated queens",
    }
)
"""Parts of the model that may be moved, in the order of every array that holds them all.

A move is added to the log of the daily risk before workers, to that with workers, to the log day of
the first worker and to the logit of being mated.
"""


@dataclass(frozen=True)
class Level:
    """One kind of group that foundings come in.

    Attributes
    ----------
    name : str
        In the names of parameters and dims.
    column : str
        Of the history, by which foundings are grouped.
    word, words : str
        In a sentence: one of them, several of them.
    moves : tuple of str
        Which of `PARTS` it moves, each with an SD of its own.
    """

    name: str
    column: str
    word: str
    words: str
    moves: tuple[str, ...]

    def parameter(self, part: str) -> str:
        """Name of its effects on one part, in draws; that of their SD ends in ``_sd``."""
        return f"{self.name}_{part}"


_SURVIVAL: Final = (BEFORE, AFTER)
LEVELS: Final = (
    Level("keeper", "keeper", "keeper", "keepers", (*_SURVIVAL, FIRST_WORKER)),
    Level("flight", "flight", "flight", "flights", _SURVIVAL),
    Level("kind_within", "species", "species", "species of a genus", _SURVIVAL),
    Level("season", "season", "season", "seasons", (*_SURVIVAL, FIRST_WORKER)),
)
"""Every kind of group, in the order of the vector that is sampled.

How warm a keeper's room and a season are moves the first worker; what is left of it within them,
by flight and by species of a genus, is taken for little.
"""
SEASON: Final = LEVELS[-1]
"""A season of its own: what is said of the next one draws it anew."""
WITHIN_GENUS: Final = frozenset({"kind_within"})
"""Kinds of group that lie within one genus each."""
