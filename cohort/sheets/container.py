"""What a workbook file holds, looked at before a reader unpacks it.

What comes in: the bytes of an XLSX or ODS file. What goes out: `Contents`: how far the filled
cells of each tab reach, cells that hold an error or a formula without a stored value, and whether
macros or links to other files are inside. It refuses files that unpack to far more than a club
can type, before anything large is held in memory. It never runs a formula or follows a link.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field

from cohort.errors import StudyError

MAX_FILE = 60_000_000
"""Largest workbook file read (bytes)."""
MAX_UNPACKED = 400_000_000
"""Most bytes that the parts of one workbook may unpack to."""
MAX_ROWS = 250_000
"""Last row of a tab that may hold anything."""
MAX_COLUMNS = 300
"""Last column of a tab that may hold anything."""
MAX_AREA = 12_000_000
"""Most cells (last filled row times last filled column) of one tab."""


@dataclass(frozen=True)
class Trouble:
    """A cell whose value cannot be taken: its row and column (from 1) and what is wrong."""

    row: int
    column: int
    kind: str  # "error" or "formula"
    text: str


@dataclass(frozen=True)
class Contents:
    """What was seen in a workbook file.

    Parameters
    ----------
    kind : {"xlsx", "ods"}
    troubles : dict
        Tab name -> troubles.
    macros, links : bool
        Whether macros, or links to other files, are inside.
    """

    kind: str
    troubles: dict[str, tuple[Trouble, ...]] = field(default_factory=dict)
    macros: bool = False
    links: bool = False


def letters(column: int) -> str:
    """Column letters of a column counted from 1: 1 -> A, 28 -> AB."""
    out = ""
    while column > 0:
        column, rest = divmod(column - 1, 26)
        out = chr(65 + rest) + out
    return out


def _number(name: bytes) -> int:
    total = 0
    for sign in name:
        total = total * 26 + sign - 64
    return total


def contents(data: bytes, name: str) -> Contents:
    """Look through a workbook file.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name, for messages.

    Raises
    ------
    StudyError
        If it is no XLSX or ODS file, is damaged, locked by a password, or too large.
    """
    if len(data) > MAX_FILE:
        raise StudyError(
            f"{name}: the file has {len(data) // 1_000_000} MB; workbooks up to "
            f"{MAX_FILE // 1_000_000} MB are read. Save its tabs as CSV files."
        )
    if data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        raise StudyError(
            f"{name}: this is an old binary workbook or one locked by a password. "
            "Open it and save it as XLSX or ODS without a password."
        )
    parts = _unpack(data, name)
    if "xl/workbook.xml" in parts:
        return _xlsx(parts, name)
    if "content.xml" in parts:
        return _ods(parts, name)
    raise StudyError(f"{name}: this is no XLSX or ODS workbook. Save it again as one of these.")


def _unpack(data: bytes, name: str) -> dict[str, bytes]:
    damaged = StudyError(
        f"{name}: the file is damaged or no workbook. Open it in the spreadsheet program, save "
        "it again as XLSX or ODS, or fetch the copy that was sent."
    )
    parts: dict[str, bytes] = {}
    total = 0
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for info in archive.infolist():
                if info.flag_bits & 1:
                    raise StudyError(f"{name}: the file is locked by a password. Save it without.")
                part = _inflate(data, info, MAX_UNPACKED - total)
                if part is None:
                    raise StudyError(
                        f"{name}: the file unpacks to more than {MAX_UNPACKED // 1_000_000} MB. "
                        "It was not read. Save its tabs as CSV files."
                    )
                total += len(part)
                parts[info.filename] = part
    except (zipfile.BadZipFile, zlib.error, struct.error, OSError, ValueError, EOFError) as fault:
        raise damaged from fault
    except (NotImplementedError, RuntimeError, UnicodeDecodeError) as fault:
        raise damaged from fault
    return parts


def _inflate(data: bytes, info: zipfile.ZipInfo, room: int) -> bytes | None:
    """One part, unpacked by what is there and not by what its header claims; None if too large.

    `zipfile` believes the size in the header, the reader used later does not: so a header that
    lies would slip through.
    """
    head = data[info.header_offset : info.header_offset + 30]
    if head[:4] != b"PK\x03\x04":
        raise zipfile.BadZipFile("no part where the directory says")
    name_size, extra_size = struct.unpack("<HH", head[26:30])
    start = info.header_offset + 30 + name_size + extra_size
    packed = data[start : start + info.compress_size]
    if info.compress_type == zipfile.ZIP_STORED:
        return packed if len(packed) <= room else None
    if info.compress_type != zipfile.ZIP_DEFLATED:
        raise zipfile.BadZipFile("packed in a way that workbooks do not use")
    unpacker = zlib.decompressobj(-15)
    part = unpacker.decompress(packed, max(room, 0) + 1)
    return part if len(part) <= room else None


# --- XLSX ---------------------------------------------------------------------------------------

_SHEET = re.compile(rb"<(?:\w+:)?sheet\s[^>]*>")
_RELATION = re.compile(rb"<(?:\w+:)?Relationship\s[^>]*>")
_ATTRIBUTE = re.compile(rb"([\w:.-]+)\s*=\s*(?:\"([^\"]*)\"|'([^']*)')")
_ROW_OR_CELL = re.compile(
    rb"<(?:\w+:)?row\b([^>]*)>|<(?:\w+:)?c\b([^>]*?)(?:/>|>(.*?)</(?:\w+:)?c>)", re.DOTALL
)
_PLACE = re.compile(rb"([A-Z]{1,7})([0-9]{1,9})\Z")
_VALUE = re.compile(rb"<(?:\w+:)?v\b[^>]*>([^<]*)<")
_FORMULA = re.compile(rb"<(?:\w+:)?f\b")


def _attributes(tag: bytes) -> dict[bytes, bytes]:
    return {m[1]: m[2] if m[2] is not None else m[3] for m in _ATTRIBUTE.finditer(tag)}


def _xlsx(parts: dict[str, bytes], name: str) -> Contents:
    targets: dict[bytes, str] = {}
    for m in _RELATION.finditer(parts.get("xl/_rels/workbook.xml.rels", b"")):
        a = _attributes(m[0])
        target = a.get(b"Target", b"").decode("utf-8", "replace").lstrip("/")
        targets[a.get(b"Id", b"")] = target if target.startswith("xl/") else "xl/" + target
    troubles: dict[str, tuple[Trouble, ...]] = {}
    for m in _SHEET.finditer(parts["xl/workbook.xml"]):
        a = _attributes(m[0])
        link = next((v for k, v in a.items() if k.endswith(b":id")), b"")
        tab = _plain(a.get(b"name", b""))
        xml = parts.get(targets.get(link, ""), b"")
        troubles[tab] = tuple(_xlsx_tab(xml, name, tab))
    return Contents(
        kind="xlsx",
        troubles=troubles,
        macros=any(p.lower().endswith("vbaproject.bin") for p in parts),
        links=any(p.lower().startswith("xl/externallinks/") for p in parts),
    )


def _xlsx_tab(xml: bytes, name: str, tab: str) -> Iterator[Trouble]:
    row = column = 0
    reach = _Reach(name, tab)
    for m in _ROW_OR_CELL.finditer(xml):
        if m[1] is not None:
            number = _attributes(m[1]).get(b"r", b"")
            row, column = int(number) if number.isdigit() else row + 1, 0
            continue
        tag, inside = m[2], m[3]
        a = _attributes(tag)
        place = _PLACE.match(a.get(b"r", b""))
        if place:
            column, row = _number(place[1]), int(place[2])
        else:
            column += 1
        if not inside:
            continue
        reach.hold(row, column)
        trouble = _cell_trouble(a, inside, row, column)
        if trouble:
            yield trouble


def _cell_trouble(a: dict[bytes, bytes], inside: bytes, row: int, column: int) -> Trouble | None:
    value = _VALUE.search(inside)
    if a.get(b"t") == b"e":
        return Trouble(row, column, "error", _plain(value[1]) if value else "#ERROR")
    if value is None and _FORMULA.search(inside):
        return Trouble(row, column, "formula", "")
    return None


# --- ODS ----------------------------------------------------------------------------------------

_ODS_TAG = re.compile(
    rb"<table:table\s([^>]*)>|<table:table-row\b([^>]*)>|<table:(?:covered-)?table-cell\b([^>]*)>"
)


def _ods(parts: dict[str, bytes], name: str) -> Contents:
    troubles: dict[str, list[Trouble]] = {}
    tab, row, column, next_row = "", 0, 0, 1
    reach = _Reach(name, tab)
    xml = parts["content.xml"]
    for m in _ODS_TAG.finditer(xml):
        if m[1] is not None:
            tab, next_row = _plain(_attributes(m[1]).get(b"table:name", b"")), 1
            troubles.setdefault(tab, [])
            reach = _Reach(name, tab)
        elif m[2] is not None:
            repeats = _repeats(_attributes(m[2]).get(b"table:number-rows-repeated"))
            row, column, next_row = next_row, 0, next_row + repeats
        else:
            a = _attributes(m[3])
            column += _repeats(a.get(b"table:number-columns-repeated"))
            if b"office:value-type" in a or b"table:formula" in a:
                reach.hold(next_row - 1, column)
                troubles.setdefault(tab, []).extend(_ods_trouble(a, xml, m.end(), row, column))
    return Contents(
        kind="ods",
        troubles={t: tuple(found) for t, found in troubles.items()},
        macros=any(p.startswith(("Basic/", "Scripts/")) for p in parts),
        links=b"table:table-source" in xml or b"text:dde-connection" in xml,
    )


def _ods_trouble(
    a: dict[bytes, bytes], xml: bytes, end: int, row: int, column: int
) -> Iterator[Trouble]:
    if b"table:formula" not in a:
        return
    shown = re.match(rb"\s*<text:p[^>]*>([^<]*)<", xml[end : end + 400])
    text = _plain(shown[1]) if shown else ""
    if a.get(b"calcext:value-type") == b"error" or text.startswith(("#", "Err:")):
        yield Trouble(row, column, "error", text or "#ERROR")
    elif b"office:value-type" not in a:
        yield Trouble(row, column, "formula", "")


def _repeats(value: bytes | None) -> int:
    return max(1, int(value)) if value and value.isdigit() and len(value) < 10 else 1


# --- both ---------------------------------------------------------------------------------------


class _Reach:
    """How far the filled cells of one tab reach; refuses what a reader could not hold."""

    def __init__(self, name: str, tab: str) -> None:
        self.name, self.tab, self.row, self.column = name, tab, 0, 0

    def hold(self, row: int, column: int) -> None:
        """Take note of a filled cell."""
        self.row, self.column = max(self.row, row), max(self.column, column)
        if row > MAX_ROWS or column > MAX_COLUMNS or self.row * self.column > MAX_AREA:
            raise StudyError(
                f"{self.name}: in tab {self.tab}, row {row}, a cell ({letters(column)}) is filled; "
                f"tabs are read to row {MAX_ROWS}, column {letters(MAX_COLUMNS)} and "
                f"{MAX_AREA // 1_000_000} million cells. Empty the stray cell, or save the tab "
                "as a CSV file."
            )


def _plain(text: bytes) -> str:
    out = text.decode("utf-8", "replace")
    for code, sign in (("&lt;", "<"), ("&gt;", ">"), ("&quot;", '"'), ("&apos;", "'")):
        out = out.replace(code, sign)
    return out.replace("&amp;", "&")
