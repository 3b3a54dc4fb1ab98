"""How a kind of ant, a count and a share are written inside pictures.

In comes a label and a `Labels`; out comes text and whether it is italic. Never looks at data.
"""

from __future__ import annotations

import math

from cohort.figures.labels import Labels
from cohort.terms.questions import AVERAGE, NEW, NEXT_SEASON, OTHERS

POOLED = ("all", AVERAGE)


def kind_text(genus: str, named: bool, labels: Labels) -> tuple[str, bool]:
    """Name of a kind as printed, and True when it is set in italics."""
    if genus in POOLED:
        return labels.together, False
    if genus == NEW:
        return labels.untried, False
    if genus == NEXT_SEASON:
        return labels.next_season, False
    if genus == OTHERS:
        return labels.others, False
    if named:
        return genus, True
    return labels.unnamed.format(kind=genus), False


def foundings_text(count: int, labels: Labels) -> str:
    """'1 founding', '12 foundings'."""
    return labels.founding_one if count == 1 else labels.foundings.format(n=count)


def groups_text(count: int, labels: Labels) -> str:
    """'1 group', '12 groups'."""
    return labels.group_one if count == 1 else labels.groups.format(n=count)


def fate_text(count: int, fate: str, labels: Labels) -> str:
    """What became of so many queens, to be put behind their number: 'lost before ...'."""
    return (labels.fates_one if count == 1 else labels.fates)[fate]


def queens_text(count: int, labels: Labels) -> str:
    """'1 queen', '12 queens'."""
    return labels.queen_one if count == 1 else labels.queens.format(n=count)


def of_100(share: float) -> int:
    """A share as whole things of a hundred, halves up; the one rounding of page and pictures."""
    return math.floor(share * 100 + 0.5)


def chance_text(share: float) -> str:
    """A chance as whole things of a hundred, never as certain."""
    if share < 0.01:
        return "<1"
    return ">99" if share > 0.99 else str(of_100(share))
