"""What a written table and one of its columns are.

What comes in: nothing. What goes out: `Written` and `Cell`, and short ways to make them. They
hold words only; they write and read nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

from cohort.terms.columns import Column

Dtype = Literal["text", "whole", "number", "yes-no", "date"]


@dataclass(frozen=True)
class Cell:
    """One column of a written table.

    Parameters
    ----------
    name : str
        Heading.
    dtype : str
        ``text``; ``whole`` (a whole number); ``number``, also ``inf``; ``yes-no`` (True or False);
        ``date`` (YYYY-MM-DD).
    meaning : str
        What it is, in one line.
    unit : str
        Unit of a number; blank when it has none.
    blank : str
        What a blank cell means; blank where no cell is ever blank.
    optional : bool
        Whether the column is left out where a study has nothing to put there.
    """

    name: str
    dtype: Dtype
    meaning: str
    unit: str = ""
    blank: str = ""
    optional: bool = False


@dataclass(frozen=True)
class Written:
    """One table: its file, who writes it, what a row is, its columns in order.

    Parameters
    ----------
    name : str
        By which writer and reader know it.
    file : str
        Where it lies, below the folder of results or the study.
    by : str
        Command or script that writes it.
    row : str
        What one row is.
    cells : tuple of Cell
    rest : Cell, optional
        What every further column is, where their names depend on the study.
    """

    name: str
    file: str
    by: str
    row: str
    cells: tuple[Cell, ...]
    rest: Cell | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns in order."""
        return tuple(cell.name for cell in self.cells)

    def cell(self, name: str) -> Cell | None:
        """Column by its name; `rest` for one that is not named, None where there is no rest."""
        return next((cell for cell in self.cells if cell.name == name), self.rest)


def text(name: str, meaning: str, blank: str = "") -> Cell:
    """Give a column of text."""
    return Cell(name, "text", meaning, blank=blank)


def whole(name: str, meaning: str, unit: str = "", blank: str = "") -> Cell:
    """Give a column of whole numbers."""
    return Cell(name, "whole", meaning, unit, blank)


def number(name: str, meaning: str, unit: str = "", blank: str = "") -> Cell:
    """Give a column of numbers."""
    return Cell(name, "number", meaning, unit, blank)


def flag(name: str, meaning: str, blank: str = "") -> Cell:
    """Give a column of True and False."""
    return Cell(name, "yes-no", meaning, blank=blank)


def date(name: str, meaning: str, blank: str = "") -> Cell:
    """Give a column of dates."""
    return Cell(name, "date", meaning, blank=blank)


_DTYPES: Final[Mapping[str, Dtype]] = MappingProxyType(
    {"count": "whole", "number": "number", "days": "number", "date": "date"}
)


def as_typed(column: Column, blank: str) -> Cell:
    """Give a column of a sheet that is written out as its keepers typed it."""
    dtype = _DTYPES.get(column.kind, "text")
    return Cell(column.name, dtype, column.meaning, column.unit, blank)
