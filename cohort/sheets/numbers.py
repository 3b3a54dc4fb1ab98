"""Numbers of foundings in a keeper's series.

What comes in: the numbers already used. What goes out: the next ones, and the keeper's sign in a
number. A number is never given out twice, nor is a gap filled: a gap may be a container of which
nobody has written yet.
"""

from __future__ import annotations

import difflib
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


def near_number(got: str, known: Iterable[str]) -> str:
    """The number of a founding that was meant; blank where it cannot be told.

    ``k1-3`` for ``K1-03``: the same sign and number in another spelling comes first, then letters
    taken for digits, then a slip in the sign. Another number of the same series is never offered:
    ``K1-20`` is not ``K1-02``.

    Parameters
    ----------
    got : str
        As typed.
    known : iterable of str
        Numbers of the study.
    """
    names = [name for name in dict.fromkeys(known) if name]
    for spelled in (spelled_alike, _digits):
        alike = [name for name in names if spelled(name) == spelled(got)]
        if alike:
            return alike[0] if len(alike) == 1 else ""
    others = [name for name in names if not _same_series(got, name)]
    near = difflib.get_close_matches(got.lower(), [name.lower() for name in others], 2, 0.75)
    if len(near) == 2 and _like(got, near[0]) == _like(got, near[1]):
        return ""
    return next((name for name in others if near and name.lower() == near[0]), "")


def _like(got: str, name: str) -> float:
    return difflib.SequenceMatcher(None, name, got.lower()).ratio()


def spelled_alike(number: str) -> tuple[str, ...]:
    """Letters and numbers of it, whatever stands between: ``K1 03.`` -> ``k``, ``1``, ``3``.

    Of two spellings of one number it is the same: case and leading zeros are passed over.
    """
    return tuple(part.lstrip("0") or "0" for part in re.findall(r"[^\W\d_]+|\d+", number.lower()))


def _digits(number: str) -> tuple[str, ...]:
    """As `spelled_alike`, with letters that look like digits taken for them."""
    return spelled_alike(number.lower().translate(str.maketrans("oil", "011")))


def _same_series(one: str, other: str) -> bool:
    sign = keeper_of(one).lower()
    return bool(sign) and sign == keeper_of(other).lower()
