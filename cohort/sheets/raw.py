"""The shape that every reader of sheets yields.

What comes in: nothing; readers (CSV, workbook, plain notes) fill these shapes. What goes out:
`RawTable`, `Notice`, `Source` and `Sheets`. Nothing here reads a file, turns text into numbers
or alters what a keeper typed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import pandas as pd

from cohort.base.errors import Finding

# A notice is a finding made while a file is read (a line not understood, an encoding guessed).
Notice = Finding


@dataclass(frozen=True)
class RawTable:
    """One sheet as typed: text cells with the row each came from.

    Parameters
    ----------
    sheet : str
        Name of the sheet in the contract (``foundings``, ``checks`` ...).
    file : str
        File name inside the study folder.
    tab : str
        Tab of a workbook as typed; blank for other files.
    frame : DataFrame of str, one row per row that is not wholly blank
        Columns are the headings as typed. Cells carry no outer spaces; ``""`` is blank. A real
        spreadsheet date is written ``YYYY-MM-DD``, a whole number without ``.0``.
    rows : ndarray of int, shape (len(frame),)
        Row in the file, counted from 1 with the heading row (line number for plain notes).
    """

    sheet: str
    file: str
    tab: str
    frame: pd.DataFrame
    rows: np.ndarray


@dataclass(frozen=True)
class Source:
    """A file that was read: its name in the folder and the SHA-256 of its bytes (hex)."""

    name: str
    sha256: str


@dataclass(frozen=True)
class Sheets:
    """All that lies in a study folder, as typed.

    Parameters
    ----------
    tables : tuple of RawTable
        In order of file name, then tab.
    notices : tuple of Finding
        What was seen while reading.
    sources : tuple of Source
        Every file read.
    drawn : frozenset of str
        Numbers of the foundings on the drawn lists.
    """

    tables: tuple[RawTable, ...]
    notices: tuple[Notice, ...]
    sources: tuple[Source, ...]
    drawn: frozenset[str] = frozenset()

    def of(self, sheet: str) -> tuple[RawTable, ...]:
        """Tables of one sheet, such as ``checks``, of all files."""
        return tuple(table for table in self.tables if table.sheet == sheet)


def column_name(heading: str) -> str:
    """Heading as typed -> name as in the contract: ``" Queens alive "`` -> ``queens_alive``."""
    return re.sub(r"[\s\-_]+", "_", heading.strip().lower()).strip("_")


def sheet_of(stem: str, known: tuple[str, ...]) -> str:
    """Sheet that a file stem or tab name speaks of; blank when it is none of `known`.

    ``Foundings-K2`` -> ``foundings``. The sheet's name comes first, alone or followed by a sign
    that is not a letter.
    """
    low = stem.strip().lower()
    for name in known:
        if low == name or (low.startswith(name) and not low[len(name)].isalpha()):
            return name
    return ""


def tag_of(stem: str, known: tuple[str, ...]) -> str:
    """Rest of a file stem after the sheet's name: ``foundings-K2`` -> ``K2``."""
    sheet = sheet_of(stem, known)
    return stem.strip()[len(sheet) :].strip(" -_.") if sheet else stem.strip()
