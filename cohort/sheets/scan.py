"""The cells of a workbook gone through before a reader unpacks them.

What comes in: XML parts of an XLSX or ODS file. What goes out: cells that hold an error or a
formula without a stored value; or a refusal (`cohort.sheets.reach`). The parts are gone through
by a real XML parser (expat), as the reader does, so that nothing can hide behind a remark, a
quotation mark or another spelling. No formula is run.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from cohort.sheets.reach import MAX_CELL, MAX_MERGED, Attributes, Reach, Refused, Room, walk
from cohort.sheets.sentences import tell


@dataclass(frozen=True)
class Trouble:
    """A cell whose value cannot be taken: its row and column (from 1) and what is wrong."""

    row: int
    column: int
    kind: str  # "error" or "formula"
    text: str


def _number(name: str) -> int:
    total = 0
    for sign in name.upper():
        total = total * 26 + ord(sign) - 64
    return total


def _local(name: str) -> str:
    return name.rpartition(":")[2]


# --- XLSX ---------------------------------------------------------------------------------------

_PLACE = re.compile(r"([A-Za-z]{1,7})([0-9]{1,9})\Z")
_CONTENT = ("v", "f", "is")  # elements that fill a cell


def shared_lengths(xml: bytes, name: str) -> list[int]:
    """Signs of each shared text of an XLSX workbook."""
    lengths: list[int] = []

    def start(tag: str, _: Attributes) -> None:
        if _local(tag) == "si":
            lengths.append(0)

    def text(more: str) -> None:
        if lengths:
            lengths[-1] += len(more)
            if lengths[-1] > MAX_CELL:
                raise Refused(
                    name,
                    tell("long_cell", most=MAX_CELL),
                    tell("long_cell_do"),
                )

    walk(xml, name, start, None, text)
    return lengths


class XlsxTab:
    """Goes through the cells of one worksheet part."""

    def __init__(self, reach: Reach, shared: list[int]) -> None:
        self.reach, self.shared = reach, shared
        self.troubles: list[Trouble] = []
        self.row = self.column = self.merged = 0
        self.inside: str | None = None  # kind of the cell that is open
        self.filled: set[str] = set()
        self.value: list[str] = []
        self.size = 0
        self.in_value = False

    def read(self, xml: bytes) -> tuple[Trouble, ...]:
        """Troubles of the tab."""
        walk(xml, self.reach.room.name, self.start, self.end, self.text)
        self.reach.close()
        return tuple(self.troubles)

    def start(self, tag: str, a: Attributes) -> None:
        """Note a row, a cell, or what a cell is filled with."""
        tag = _local(tag)
        if self.inside is not None and tag in _CONTENT:
            self.filled.add(tag)
            self.in_value = tag == "v"
        elif tag == "c":
            self._cell(a)
        elif tag == "row":
            self._row(a)
        elif tag == "mergeCell":
            self.merged += 1
            if self.merged > MAX_MERGED:
                raise Refused(
                    self.reach.room.name,
                    tell("many_merged", tab=self.reach.tab, most=MAX_MERGED),
                    tell("many_merged_do"),
                )

    def _row(self, a: Attributes) -> None:
        given = a.get("r")
        if given is None:
            self.row += 1
        elif given.isascii() and given.isdigit() and len(given) < 10:
            self.row = int(given)
        else:
            raise Refused(
                self.reach.room.name, tell("odd_row", tab=self.reach.tab, given=given[:20])
            )
        self.column = 0

    def _cell(self, a: Attributes) -> None:
        given = a.get("r")
        if given is None:
            self.column += 1
        else:
            place = _PLACE.match(given)
            if place is None:
                raise Refused(
                    self.reach.room.name, tell("odd_cell", tab=self.reach.tab, given=given[:20])
                )
            self.column, self.row = _number(place[1]), int(place[2])
        self.inside, self.size, self.in_value = a.get("t", ""), 0, False
        self.filled.clear()
        self.value.clear()

    def text(self, more: str) -> None:
        """Count the signs of a cell and keep its value."""
        if self.inside is None:
            return
        self.size += len(more)
        self.reach.long(self.size, self.row)
        if self.in_value:
            self.value.append(more)

    def end(self, tag: str) -> None:
        """Hold a cell that is filled."""
        tag = _local(tag)
        if tag == "v":
            self.in_value = False
        if tag != "c" or self.inside is None:
            return
        if self.filled:
            value = "".join(self.value)
            self.reach.hold(self.row, self.column, self._length(value))
            if self.inside == "e":
                told = Trouble(self.row, self.column, "error", value[:20] or "#ERROR")
                self.troubles.append(told)
            elif "f" in self.filled and "v" not in self.filled:
                self.troubles.append(Trouble(self.row, self.column, "formula", ""))
        self.inside = None

    def _length(self, value: str) -> int:
        if self.inside != "s" or not (value.isascii() and value.isdigit() and len(value) < 10):
            return self.size
        return self.shared[int(value)] if int(value) < len(self.shared) else 0


# --- ODS ----------------------------------------------------------------------------------------


class OdsTabs:
    """Goes through the tabs of the content of an ODS file."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.troubles: dict[str, list[Trouble]] = {}
        self.links = False
        self.reach: Reach | None = None
        self.row = self.next_row = self.column = self.wide = 0
        self.cell: Attributes | None = None
        self.size = 0
        self.shown: list[str] = []
        self.aside = False  # inside a remark on a cell

    def read(self, xml: bytes) -> dict[str, tuple[Trouble, ...]]:
        """Troubles of each tab."""
        walk(xml, self.room.name, self.start, self.end, self.text)
        return {tab: tuple(found) for tab, found in self.troubles.items()}

    def start(self, tag: str, a: Attributes) -> None:
        """Note a tab, a row, a cell, or spaces that are counted and not typed."""
        if tag == "text:s":
            self.text(" " * min(self._times(a.get("text:c")), MAX_CELL + 1))
        elif tag in ("table:table-cell", "table:covered-table-cell"):
            self.wide = self._times(a.get("table:number-columns-repeated"))
            self.column += self.wide
            self.cell, self.size = a, 0
            self.shown.clear()
        elif tag == "table:table-row":
            self.row, self.column = self.next_row, 0
            self.next_row += self._times(a.get("table:number-rows-repeated"))
        elif tag == "table:table":
            self._tab(a.get("table:name", ""))
        elif tag == "office:annotation":
            self.aside = True
        elif tag in ("table:table-source", "text:dde-connection", "table:cell-range-source"):
            self.links = True

    def _tab(self, name: str) -> None:
        if self.reach is not None:
            raise Refused(self.room.name, tell("table_in_table", tab=self.reach.tab))
        self.reach, self.next_row = Reach(self.room, name), 1
        self.troubles.setdefault(name, [])

    def text(self, more: str) -> None:
        """Count the signs of a cell and keep the first of them."""
        if self.cell is None:
            return
        self.size += len(more)
        if self.reach is not None:
            self.reach.long(self.size, self.row)
        if not self.aside and len(self.shown) < 5:
            self.shown.append(more[:20])

    def end(self, tag: str) -> None:
        """Hold a cell that is filled; close a tab."""
        if tag in ("table:table-cell", "table:covered-table-cell"):
            if self.reach is not None and self.cell is not None:
                self._hold(self.reach, self.cell)
            self.cell = None
        elif tag == "office:annotation":
            self.aside = False
        elif tag == "table:table" and self.reach is not None:
            self.reach.close()
            self.reach = None

    def _hold(self, reach: Reach, a: Attributes) -> None:
        formula = "table:formula" in a
        if not formula and not any(name.startswith("office:") for name in a):
            return
        times = self.wide * (self.next_row - self.row)
        size = max(self.size, len(a.get("office:string-value", "")))
        reach.hold(self.next_row - 1, self.column, size * times)
        shown = "".join(self.shown).strip()
        if not formula:
            return
        found = self.troubles[reach.tab]
        if a.get("calcext:value-type") == "error" or shown.startswith(("#", "Err:")):
            found.append(Trouble(self.row, self.column, "error", shown[:20] or "#ERROR"))
        elif "office:value-type" not in a:
            found.append(Trouble(self.row, self.column, "formula", ""))

    def _times(self, given: str | None) -> int:
        if given is None:
            return 1
        if not (given.isascii() and given.isdigit() and len(given) < 19):
            raise Refused(self.room.name, tell("odd_repeat", given=given[:20]))
        return max(1, int(given))
