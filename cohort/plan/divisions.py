"""Every way to divide a number of queens into foundings.

Comes in: whole numbers. Goes out: a table of how many foundings of each size. Never: a chance.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
MOST: Final = 4000
"""Divisions that are compared at once; with more, only those of at most two sizes are."""


def partitions(queens: int, largest: int) -> Iterator[tuple[int, ...]]:
    """Integer partitions with parts up to ``largest``, largest parts first."""
    if queens == 0:
        yield ()
        return
    for part in range(min(queens, largest), 0, -1):
        for rest in partitions(queens - part, part):
            yield (part, *rest)


def count(queens: int, largest: int) -> int:
    """How many partitions there are, without listing them."""
    ways = [1] + [0] * queens
    for part in range(1, largest + 1):
        for total in range(part, queens + 1):
            ways[total] += ways[total - part]
    return ways[queens]


def of_two_sizes(queens: int, largest: int) -> Iterator[tuple[int, ...]]:
    """Partitions in which at most two sizes come up."""
    for a in range(min(queens, largest), 0, -1):
        if queens % a == 0:
            yield (a,) * (queens // a)
        for b in range(a - 1, 0, -1):
            for many in range((queens - b) // a, 0, -1):
                rest = queens - many * a
                if rest % b == 0:
                    yield (a,) * many + (b,) * (rest // b)


def divisions(queens: int, largest: int) -> tuple[Ints, bool]:
    """Foundings of each size in every division.

    Parameters
    ----------
    queens, largest : int
        At least 1.

    Returns
    -------
    counts : int array, shape (divisions, largest)
        Column j holds the foundings of j + 1 queens.
    whole : bool
        False when there are more than `MOST` divisions and only those of at most two sizes are
        given.
    """
    whole = count(queens, largest) <= MOST
    make = partitions if whole else of_two_sizes
    rows = [np.bincount(p, minlength=largest + 1)[1:] for p in make(queens, largest)]
    return np.array(rows, dtype=np.int64), whole


def text(counts: Ints) -> str:
    """A division in words: ``3 + 3 + 1``, many alike as ``12 x 1``."""
    parts = []
    for size in range(len(counts), 0, -1):
        many = int(counts[size - 1])
        if many > 2:
            parts.append(f"{many} x {size}")
        else:
            parts += [str(size)] * many
    return " + ".join(parts)
