"""What queens become after the first worker, and what that is worth from day 0.

Comes in: chances of 0..c queens left of c by edge since the first worker (`closed.company`), and
how likely the first worker finds c queens in each cell. Goes out: sums over both. Never: a hazard.
"""

from __future__ import annotations

from typing import Final

from numba import njit

from cohort.likelihood import BORROWS
from cohort.likelihood.transition_probabilities import power

PAD: Final = 16
"""Cells of nothing after the last one, so that a sum runs over whole stretches of so many: what is
left over from those is added one by one, and that took a sixth of all outcomes."""


@njit(**BORROWS)
def worth(top, table2, unmated, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """What c queens at the first worker are worth l cells and a half later, latest l first.

    Queens alive, chance that any is alive, chance that a mated one is if mated and unmated queens
    die alike, into the first three of ``out``, shape (4, top + 1, cells + PAD).
    """
    cells = out.shape[2] - PAD
    for c in range(1, top + 1):
        for i in range(out.shape[2]):
            out[0, c, i] = out[1, c, i] = out[2, c, i] = 0.0
        none_mated = 1.0
        for m in range(1, c + 1):
            none_mated *= unmated
            for i in range(cells):
                p = 0.5 * (table2[c, m, i] + table2[c, m, i + 1])
                out[0, c, cells - 1 - i] += p * m
                out[1, c, cells - 1 - i] += p
                out[2, c, cells - 1 - i] += p * (1.0 - none_mated)


@njit(**BORROWS)
def mated_first(k, table2, mated, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that a mated queen is alive if the mated die before the unmated, as in `worth`.

    Of k queens at the start, c of them alive at the first worker; into ``out``, shape
    (top + 1, cells + PAD). Of m living queens one is mated only if more than k - m were mated at
    the start, which also says that one was: this chance takes the place of the fertile chance.
    """
    cells = out.shape[1] - PAD
    for c in range(1, k + 1):
        for i in range(out.shape[1]):
            out[c, i] = 0.0
        enough, ways = 0.0, 1.0
        for m in range(1, c + 1):
            j = k - m + 1  # mated queens that are just enough, chosen in so many ways
            enough += ways * power(mated, j) * power(1.0 - mated, k - j)
            ways *= j / (k - j + 1.0)
            for i in range(cells):
                out[c, cells - 1 - i] += 0.5 * (table2[c, m, i] + table2[c, m, i + 1]) * enough


@njit(**BORROWS, fastmath=True)
def by_then(j, k, arrive, first, last, value):  # type: ignore[no-untyped-def]  # compiled by numba
    """Sum over the cell of the first worker of arrivals times their worth at edge j.

    ``value`` lies latest first (see `worth`), so both run forward together; both end in `PAD` cells
    of nothing.
    """
    total = 0.0
    late = value.shape[1] - PAD - j
    n = (min(j, last) - first + PAD - 1) // PAD * PAD
    for c in range(1, k + 1):
        a = arrive[c, first : first + n]
        v = value[c, late + first : late + first + n]
        for i in range(n):
            total += a[i] * v[i]
    return total


@njit(**BORROWS)
def parted(top, table2, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """What is left of c queens by edge since the first worker, into ``out``, (top + 1, 4, edges).

    Chances of none, one and several queens, and expected queens.
    """
    for c in range(2, top + 1):
        for i in range(out.shape[2]):
            out[c, 0, i] = out[c, 1, i] = out[c, 2, i] = out[c, 3, i] = 0.0
        for m in range(c + 1):
            part = min(m, 2)
            for i in range(out.shape[2]):
                out[c, part, i] += table2[c, m, i]
                out[c, 3, i] += m * table2[c, m, i]


@njit(**BORROWS)
def shared_nest(k, parts, arrive, first, last, weight, left):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add what is left of two or more queens by edge since the first worker, not yet scaled."""
    for c in range(2, k + 1):
        reach = 0.0
        for i in range(first, last):
            reach += weight * arrive[c, i]
        for part in range(4):
            for i in range(left.shape[1]):
                left[part, i] += reach * parts[c, part, i]


@njit(**BORROWS)
def scale(left):  # type: ignore[no-untyped-def]  # compiled by numba
    """Make chances of what `shared_nest` added up, by size and edge."""
    for s in range(left.shape[0]):
        for i in range(left.shape[2]):
            whole = left[s, 0, i] + left[s, 1, i] + left[s, 2, i]
            if whole > 0.0:
                for part in range(4):
                    left[s, part, i] /= whole
