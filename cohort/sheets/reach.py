"""What a workbook may hold at most, and how one that holds more is refused.

What comes in: how far the filled cells of a tab reach and how many signs they hold, or an XML part
to go through. What goes out: nothing, or a refusal in plain words, before a reader is asked to
hold more than a club can type.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final
from xml.parsers import expat

from cohort.base.errors import StudyError

MAX_ROWS = 250_000
"""Last row of a tab that may hold anything."""
MAX_COLUMNS = 300
"""Last column of a tab that may hold anything."""
MAX_AREA = 12_000_000
"""Most cells of a workbook: last filled row times last filled column, of all tabs together."""
MAX_TEXT = 200_000_000
"""Most signs that all cells of a workbook may hold together, repeated ones counted each time."""
MAX_CELL = 1_000_000
"""Most signs of one cell that are looked at (a spreadsheet holds 32,767)."""
MAX_TABS = 500
"""Most tabs of a workbook."""
MAX_MERGED = 100_000
"""Most merged areas of a tab."""

SAVE_AGAIN: Final = (
    "Open it in your spreadsheet program and save it again as XLSX or ODS, without a password."
)

Attributes = Mapping[str, str]


class Refused(StudyError):
    """A workbook that is not read: its name, what is odd about it, what to do."""

    def __init__(self, name: str, what: str, remedy: str = SAVE_AGAIN) -> None:
        self.what = f"{what[:1].upper()}{what[1:]}"
        self.remedy = remedy
        super().__init__(f"{name}: {what} {remedy}")


def letters(column: int) -> str:
    """Column letters of a column counted from 1: 1 -> A, 28 -> AB."""
    out = ""
    while column > 0:
        column, rest = divmod(column - 1, 26)
        out = chr(65 + rest) + out
    return out


class Room:
    """What one workbook may still take, over all its tabs."""

    def __init__(self, name: str) -> None:
        self.name, self.area, self.text, self.tabs = name, 0, 0, 0

    def tab(self, rows: int, columns: int, text: int, *, tab: str) -> None:
        """Take note of a tab: its last filled row and column, and how many signs it holds."""
        self.tabs += 1
        self.area += rows * columns
        self.text += text
        if self.tabs > MAX_TABS:
            raise Refused(
                self.name,
                f"the workbook has more than {MAX_TABS} tabs.",
                "Save the tabs that belong here as a workbook of their own.",
            )
        if self.area > MAX_AREA:
            raise Refused(
                self.name,
                f"up to tab {tab} the workbook has {self.area:,} cells; "
                f"{MAX_AREA // 1_000_000} million are read.",
                "Empty stray cells far from the table, or save the tabs as CSV files.",
            )
        self.signs(0)

    def signs(self, more: int) -> None:
        """Refuse when the text read so far and `more` are too much."""
        if self.text + more > MAX_TEXT:
            raise Refused(
                self.name,
                f"its cells hold more than {MAX_TEXT // 1_000_000} million signs.",
                "Empty the cells that are filled by mistake, or save the tabs as CSV files.",
            )


class Reach:
    """How far the filled cells of one tab reach."""

    def __init__(self, room: Room, tab: str) -> None:
        self.room, self.tab, self.row, self.column, self.text = room, tab, 0, 0, 0

    def hold(self, row: int, column: int, text: int) -> None:
        """Take note of a filled cell and its text; all that repeats it counted."""
        self.row, self.column = max(self.row, row), max(self.column, column)
        if row > MAX_ROWS or column > MAX_COLUMNS:
            raise Refused(
                self.room.name,
                f"in tab {self.tab}, row {row}, a cell ({letters(column)}) is filled; tabs are "
                f"read to row {MAX_ROWS} and column {letters(MAX_COLUMNS)}.",
                "Empty the stray cell, or save the tab as a CSV file.",
            )
        self.text += text
        self.room.signs(self.text)

    def long(self, size: int, row: int) -> None:
        """Refuse a cell that holds more than any spreadsheet lets one type."""
        if size > MAX_CELL:
            raise Refused(
                self.room.name,
                f"in tab {self.tab}, row {row}, one cell holds more than {MAX_CELL:,} signs.",
                "See whether a file was pasted into the cell, and empty it.",
            )

    def close(self) -> None:
        """Add the tab to what the workbook holds."""
        self.room.tab(self.row, self.column, self.text, tab=self.tab)


# --- XML ----------------------------------------------------------------------------------------


def walk(
    xml: bytes,
    name: str,
    start: Callable[[str, Attributes], object] | None = None,
    end: Callable[[str], object] | None = None,
    text: Callable[[str], object] | None = None,
) -> None:
    """Go through an XML part, and refuse what the reader of workbooks would read otherwise.

    Parameters
    ----------
    xml : bytes
    name : str
        Name of the workbook.
    start, end, text : callable, optional
        Told of each element as it begins (name, attributes) and ends (name), and of text.

    Raises
    ------
    Refused
        No XML, of another encoding than UTF-8, or with definitions of its own (which may unfold
        without end; workbooks have none: ECMA-376 part 2, ISO/IEC 26300).
    """

    def declared(version: str, encoding: str | None, standalone: int) -> None:
        if encoding and encoding.lower() not in ("utf-8", "us-ascii"):
            raise Refused(name, f"the workbook is written in {encoding[:20]}, which is not read.")

    def defined(*_: object) -> None:
        raise Refused(name, "the workbook defines words of its own (DTD), which is not read.")

    if xml[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in xml[:64]:
        raise Refused(name, "the workbook is written in UTF-16, which is not read.")
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.buffer_size = 1 << 16
    parser.XmlDeclHandler = declared
    parser.StartDoctypeDeclHandler = defined
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = text
    try:
        parser.Parse(xml, True)
    except expat.ExpatError as fault:
        raise Refused(name, f"the workbook is damaged ({fault}).") from fault
