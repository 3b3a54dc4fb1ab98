"""What was counted of a kind on a day, before any model.

In comes a `Material`; out come foundings with workers and a living queen, of those whose fate on
that day is known. Never a share where too many are unknown.
"""

from __future__ import annotations

import math

from cohort.figures.material import Material
from cohort.nonparametric.followed import compared, known_to

MOST_FOLLOWED = 0.8
"""Share of foundings whose fate must be known on the day before a plain count is shown."""


def counted(
    material: Material, genus: str, way: str, day: int, *, queens: int = 0
) -> tuple[int, int]:
    """Foundings with workers and a living queen on a day, and of how many.

    Of those whose fate on that day is known; 0 of 0 where these are less than `MOST_FOLLOWED` of
    all, as then the lost would count for too much.

    Parameters
    ----------
    material : Material
    genus, way : str
    day : int
        Days since day 0.
    queens : int
        Founding size; 0: any.
    """
    inside = compared(material.history.foundings)
    known = known_to(inside, material.history.horizon) >= day
    mine = (inside["genus"] == genus) & (inside["arm"] == way)
    if queens:
        mine &= inside["size"] == queens
    of = inside[mine & known]
    if of.empty or len(of) < MOST_FOLLOWED * int(mine.sum()):
        return 0, 0
    living = (of["first_by"].astype(float) <= day) & (of["lost_by"].astype(float) > day)
    return int(living.sum()), len(of)


def any_of(colonies: int, foundings: int, queens: int) -> float:
    """Chance that so many foundings, drawn from those counted, hold at least one colony.

    One less the hypergeometric chance of none: no founding is drawn twice.
    """
    return 1 - math.comb(foundings - colonies, queens) / math.comb(foundings, queens)
