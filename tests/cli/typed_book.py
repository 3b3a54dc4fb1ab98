"""Cells typed into a workbook that is there, as a keeper types them: everything else stays."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from xml.etree import ElementTree as Tree

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_REST = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
Cell = str | int | dt.date


def typed_into(path: Path, tab: str, rows: Sequence[tuple[int | None, Mapping[str, Cell]]]) -> None:
    """Type rows below the headings of a tab; without a row number below the last that is filled."""
    Tree.register_namespace("", _MAIN[1:-1])
    Tree.register_namespace("r", _REST)
    data = path.read_bytes()
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    names = [
        one.get("name") for one in Tree.fromstring(parts["xl/workbook.xml"]).iter(f"{_MAIN}sheet")
    ]
    part = f"xl/worksheets/sheet{names.index(tab) + 1}.xml"
    sheet = _Sheet(Tree.fromstring(parts[part]), parts["xl/sharedStrings.xml"])
    for number, cells in rows:
        sheet.type(number, cells)
    parts[part] = sheet.text()
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        for name, content in parts.items():
            book.writestr(name, content)


class _Sheet:
    """A tab of a workbook as it is stored."""

    def __init__(self, root: Tree.Element, shared: bytes) -> None:
        self.root, self.data = root, root.find(f"{_MAIN}sheetData")
        self.shared = [_joined(one) for one in Tree.fromstring(shared).iter(f"{_MAIN}si")]
        self.rows = {int(row.get("r")): row for row in self.data}
        self.columns = {self.said(cell): _letters(cell) for cell in self.rows[1]}
        self.styles = {
            place: one.get("style")
            for one in root.iter(f"{_MAIN}col")
            for place in range(int(one.get("min")), min(int(one.get("max")), 60) + 1)
        }

    def said(self, cell: Tree.Element) -> str:
        value = cell.find(f"{_MAIN}v")
        if cell.get("t") == "s":
            return self.shared[int(value.text)]
        inner = cell.find(f"{_MAIN}is")
        return _joined(inner) if inner is not None else (value.text if value is not None else "")

    def type(self, number: int | None, cells: Mapping[str, Cell]) -> None:
        filled = [n for n, row in self.rows.items() if any(self.said(cell) for cell in row)]
        number = number or max(filled) + 1
        if number not in self.rows:
            self.rows[number] = Tree.SubElement(self.data, f"{_MAIN}row", {"r": str(number)})
        for name, value in cells.items():
            self._put(self.rows[number], f"{self.columns[name]}{number}", value)

    def _put(self, row: Tree.Element, place: str, value: Cell) -> None:
        cell = next((one for one in row if one.get("r") == place), None)
        if cell is None:
            cell = Tree.SubElement(row, f"{_MAIN}c", {"r": place})
            style = self.styles.get(_place(cell))
            if style:
                cell.set("s", style)
            row[:] = sorted(row, key=_place)
        cell[:] = []
        cell.attrib.pop("t", None)
        if isinstance(value, dt.date):
            value = (value - dt.date(1899, 12, 30)).days
        if isinstance(value, int):
            Tree.SubElement(cell, f"{_MAIN}v").text = str(value)
        else:
            cell.set("t", "inlineStr")
            inner = Tree.SubElement(cell, f"{_MAIN}is")
            Tree.SubElement(inner, f"{_MAIN}t").text = value

    def text(self) -> bytes:
        self.data[:] = sorted(self.data, key=lambda row: int(row.get("r")))
        return Tree.tostring(self.root, xml_declaration=True, encoding="UTF-8")


def _joined(element: Tree.Element) -> str:
    return "".join(one.text or "" for one in element.iter(f"{_MAIN}t"))


def _letters(cell: Tree.Element) -> str:
    return re.sub(r"\d", "", cell.get("r"))


def _place(cell: Tree.Element) -> int:
    place = 0
    for letter in _letters(cell):
        place = place * 26 + ord(letter) - 64
    return place
