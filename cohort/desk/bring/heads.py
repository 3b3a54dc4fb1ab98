"""Where the headings of somebody's own table stand: below titles, in one row or in two.

What comes in: the first rows of a table as text, and which cells are merged. What goes out:
`Head`, each column's heading with what stands above it. No cell below is looked at but to tell
a heading from data.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from cohort.sheets.note_dates import dated
from cohort.terms import words

ROWS = 40
"""Rows among which the headings are looked for."""

Merged = Sequence[tuple[tuple[int, int], tuple[int, int]]]

_NUMBER = re.compile(r"[\d.,+\-/ ]+")


@dataclass(frozen=True)
class Head:
    """Headings of a table.

    Parameters
    ----------
    row : int
        Last row of headings (from 0); data begin below it.
    lower : tuple of str
        What stands in that row, by column; blank where there is no heading.
    upper : tuple of str
        What stands above it and spans the column, such as a day over queens and workers.
    """

    row: int
    lower: tuple[str, ...]
    upper: tuple[str, ...]

    @property
    def headings(self) -> tuple[str, ...]:
        """One text for each column: both, where there are two."""
        pairs = zip(self.upper, self.lower, strict=True)
        return tuple(" ".join(part for part in pair if part) for pair in pairs)


def is_day(text: str) -> bool:
    """Whether a text is a day, with or without its year."""
    date = dated(text)
    return date is not None and not date.rest


def _spans(text: str) -> bool:
    """Whether a text is likely to speak of the columns to the right: a day, a month, a year."""
    low = text.lower().strip(". ")
    months = any(word in words.MONTHS for word in re.findall(r"[^\W\d_]+", low))
    return is_day(text) or months or bool(re.fullmatch(r"(?:19|20)\d\d", low))


def _heads(text: str) -> bool:
    return is_day(text) or not _NUMBER.fullmatch(text)


def find_head(cells: Sequence[Sequence[str]], merged: Merged = ()) -> Head | None:
    """Headings of a table; None where no row looks like them.

    Parameters
    ----------
    cells : sequence of sequences of str
        Rows from the first, each as long as it is filled.
    merged : sequence
        Merged areas: first and last cell of each (row, column), from 0.
    """
    width = max((len(row) for row in cells[:200]), default=0)
    rows = [[*row, *[""] * (width - len(row))] for row in cells[: ROWS + 2]]
    counts = [sum(map(bool, row)) for row in cells[:200]]
    need = max(2, round(0.5 * max(counts, default=0)))
    for at, row in enumerate(rows[:ROWS]):
        filled = [text for text in row if text]
        wordy = [text for text in filled if _heads(text) and not is_day(text)]
        if len(filled) >= need and wordy and all(map(_heads, filled)) and at + 1 < len(cells):
            return _whole(rows, at, merged)
    return None


def _whole(rows: list[list[str]], at: int, merged: Merged) -> Head:
    """Head with the row below it or above it that belongs to it."""
    row = rows[at]
    first = next(place for place, text in enumerate(row) if text)
    below = rows[at + 1] if at + 1 < len(rows) else []
    under = [place for place, text in enumerate(below) if text]
    if len(under) > 1 and min(under) > first and _only_days(row, below, under):
        upper = _spread(row, at, merged, set(under))
        return Head(at + 1, tuple(below), tuple(upper))
    above = rows[at - 1] if at else []
    over = [place for place, text in enumerate(above) if text]
    spanned = {a[1] for a, b in merged if a[0] == at - 1 and b[1] > a[1]}
    if len(over) > 1 or any(place > first and place in spanned for place in over):
        filled = {place for place, text in enumerate(row) if text}
        return Head(at, tuple(row), tuple(_spread(above, at - 1, merged, filled)))
    return Head(at, tuple(row), ("",) * len(row))


def _only_days(row: Sequence[str], below: Sequence[str], under: Sequence[int]) -> bool:
    """Whether a row below the headings goes on with them: days of a month, or what was counted."""
    texts = [below[place] for place in under]
    days = all(text.isdigit() and 1 <= int(text) <= 31 for text in texts)
    spanned = any(_spans(text) for text in row if text)
    named = all(_heads(text) for text in texts)
    return spanned and (days or named) and all(row[p] == "" or _spans(row[p]) for p in under)


def _spread(row: Sequence[str], at: int, merged: Merged, filled: set[int]) -> list[str]:
    """Texts of an upper row over each of the columns they span."""
    ends = {a[1]: b[1] for a, b in merged if a[0] == at}
    out, text, last = [], "", -1
    for place, own in enumerate(row):
        if own:
            text, last = own, ends.get(place, len(row) if _spans(own) and not ends else place)
        out.append(text if place <= last and (place in filled or own) else "")
    return out
