"""Numbers of foundings in a keeper's series.

What comes in: the numbers already used. What goes out: the next ones, and the keeper's sign in a
number. A number is never given out twice, nor is a gap filled: a gap may be a container of which
nobody has written yet.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

_SERIES = re.compile(r"(.*?)-0*(\d{1,6})\Z")
MOST = 999_999


def keeper_of(number: str) -> str:
    """Keeper's sign in a number: ``K2-07`` -> ``K2``; blank when it has none."""
    match = _SERIES.match(number.strip())
    return match[1] if match else ""


def as_known(sign: str, known: Iterable[str]) -> str:
    """Sign as the sheets write it: ``k2`` -> ``K2``; as given where they have none like it."""
    alike = {name.lower(): name for name in known if name}
    return alike.get(sign.strip().lower(), sign.strip())


def is_of(keeper: str, sign: str, number: str) -> bool:
    """Whether a founding is a keeper's: by the column, else by its number; case is passed over.

    Parameters
    ----------
    keeper : str
        Sign asked for.
    sign, number : str
        What the column keeper says, and the number of the founding.
    """
    return (sign.strip() or keeper_of(number)).lower() == keeper.strip().lower()


def next_numbers(keeper: str, used: Iterable[str], count: int) -> tuple[str, ...]:
    """Next numbers of a keeper after the highest one used.

    Parameters
    ----------
    keeper : str
        Sign, such as ``K2``.
    used : iterable of str
        Numbers in sheets and lists, of any keeper.
    count : int
        How many are wanted.
    """
    last = 0
    for number in used:
        match = _SERIES.match(number.strip())
        if match and match[1] == keeper:
            last = max(last, int(match[2]))
    return tuple(f"{keeper}-{n:02d}" for n in range(last + 1, last + 1 + count))
