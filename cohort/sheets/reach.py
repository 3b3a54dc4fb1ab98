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
from cohort.sheets.sentences import tell

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

SAVE_AGAIN: Final = tell("save_again")

Attributes = Mapping[str, str]


class Refused(StudyError):
    """A workbook that is not read: its name, what is odd about it, what to do."""

    def __init__(self, name: str, what: str, remedy: str = SAVE_AGAIN) -> None:
        self.what, self.remedy = what, remedy
        super().__init__(f"{name}: {what[:1].lower()}{what[1:]} {remedy}")


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
                tell("many_tabs", most=MAX_TABS),
                tell("many_tabs_do"),
            )
        if self.area > MAX_AREA:
            raise Refused(
                self.name,
                tell("large_area", tab=tab, cells=self.area, millions=MAX_AREA // 1_000_000),
                tell("large_area_do"),
            )
        self.signs(0)

    def signs(self, more: int) -> None:
        """Refuse when the text read so far and `more` are too much."""
        if self.text + more > MAX_TEXT:
            raise Refused(
                self.name,
                tell("much_text", millions=MAX_TEXT // 1_000_000),
                tell("much_text_do"),
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
                tell(
                    "stray_cell",
                    tab=self.tab,
                    row=str(row),
                    column=letters(column),
                    last_row=str(MAX_ROWS),
                    last_column=letters(MAX_COLUMNS),
                ),
                tell("stray_cell_do"),
            )
        self.text += text
        self.room.signs(self.text)

    def long(self, size: int, row: int) -> None:
        """Refuse a cell that holds more than any spreadsheet lets one type."""
        if size > MAX_CELL:
            raise Refused(
                self.room.name,
                tell("long_cell_at", tab=self.tab, row=str(row), most=MAX_CELL),
                tell("long_cell_at_do"),
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
            raise Refused(name, tell("book_encoding", encoding=encoding[:20]))

    def defined(*_: object) -> None:
        raise Refused(name, tell("book_dtd"))

    if xml[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in xml[:64]:
        raise Refused(name, tell("book_encoding", encoding="UTF-16"))
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
        raise Refused(name, tell("book_damaged", why=str(fault))) from fault
