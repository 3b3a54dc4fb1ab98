"""What a column and a sheet are.

What comes in: nothing. What goes out: `Column` and `Sheet`, the shapes of which the contract in
`cohort.terms.contract` is made. They hold words only; they read and check nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

Need = Literal["yes", "one-of", "no"]
Kind = Literal["id", "text", "word", "date", "count", "days", "number", "yes-no", "genus"]

_NONE: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True)
class Column:
    """One column of a sheet.

    Parameters
    ----------
    name : str
        Heading in the contract.
    need : {"yes", "one-of", "no"}
        ``yes``: every row needs it; ``one-of``: one of the columns so marked is needed.
    kind : str
        ``id``, ``text``, ``word`` (one of `allowed`), ``date``, ``count`` (whole number, 0 or
        more), ``days``, ``number`` (may have decimals), ``yes-no`` or ``genus``.
    allowed : tuple of str
        The fixed words; empty when any text will do.
    example : str
        As a keeper would type it.
    meaning : str
        For the blank sheet, the help and the README.
    unit : str
        Unit of a number; blank when it has none.
    at_least : bool
        Whether a count such as ``5+`` (at least five) is understood.
    meanings : mapping
        Meaning of each fixed word.
    """

    name: str
    need: Need
    kind: Kind
    allowed: tuple[str, ...]
    example: str
    meaning: str
    unit: str = ""
    at_least: bool = False
    meanings: Mapping[str, str] = field(default=_NONE, repr=False, compare=False)


@dataclass(frozen=True)
class Sheet:
    """One sheet of the contract: its name, what it is for, its columns in order."""

    name: str
    purpose: str
    columns: tuple[Column, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns in order."""
        return tuple(column.name for column in self.columns)

    @property
    def needed(self) -> tuple[str, ...]:
        """Columns that every row needs."""
        return tuple(column.name for column in self.columns if column.need == "yes")

    def column(self, name: str) -> Column:
        """Column by its name; KeyError when the sheet has no such column."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)
