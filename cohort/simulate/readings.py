"""Colonies in three readings: as seen, mated and unmated alike, mated queens first to die.

In: living queens and mated queens at the start, founding by founding. Out: the chance that each
founding with workers is a colony that lasts. Never: whether there are workers.
"""

from __future__ import annotations

import numpy as np

from cohort.simulate.events import Floats, Ints
from cohort.terms.questions import ALIKE, MATED_FIRST, SEEN

__all__ = ["by_reading"]


def by_reading(alive: Ints, mated: Ints, size: int) -> dict[str, Floats]:
    """Return, by reading, the chance that each founding lasts, arrays (n,).

    Parameters
    ----------
    alive, mated : int arrays (n,)
        Living queens, and queens that were mated at the start.
    size : int
        Queens at the start.
    """
    none_mated = np.ones(len(alive))
    for taken in range(size):  # the living are drawn one by one from all that began
        left = np.maximum(size - mated - taken, 0) / (size - taken)
        none_mated = np.where(taken < alive, none_mated * left, none_mated)
    return {
        SEEN: (alive > 0).astype(float),
        ALIKE: np.where(alive > 0, 1.0 - none_mated, 0.0),
        MATED_FIRST: (alive > size - mated).astype(float),
    }
