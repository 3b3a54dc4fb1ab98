"""What a workbook file holds, looked at before a reader unpacks it.

What comes in: the bytes of an XLSX or ODS file. What goes out: `Contents`: cells that hold an error
or a formula without a stored value, whether macros or links to other files are inside, and a
packet of the parts that were looked at, for the reader. It refuses files that unpack to far more
than a club can type, before anything large is held in memory. It never runs a formula, follows a
link or alters the file.
"""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field

from cohort.sheets.reach import Attributes, Reach, Refused, Room, letters, walk
from cohort.sheets.scan import OdsTabs, Trouble, XlsxTab, shared_lengths
from cohort.sheets.sentences import tell

__all__ = ["Contents", "Trouble", "contents", "letters"]

MAX_FILE = 60_000_000
"""Largest workbook file read (bytes)."""
MAX_UNPACKED = 400_000_000
"""Most bytes that the parts of one workbook may unpack to."""
MAX_PARTS = 20_000
"""Most parts of one workbook file."""


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
    packet : bytes
        The parts that were looked at, packed anew: a reader that is given these sees nothing else.
    """

    kind: str
    troubles: dict[str, tuple[Trouble, ...]] = field(default_factory=dict)
    macros: bool = False
    links: bool = False
    packet: bytes = field(default=b"", repr=False)


_DAMAGED = tell("damaged_or_no_book")
_FETCH = tell("fetch_do")


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
        raise Refused(
            name,
            tell("book_large", size=len(data) // 1_000_000, most=MAX_FILE // 1_000_000),
            tell("as_csv_do"),
        )
    if data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        raise Refused(name, tell("book_old"))
    parts = _unpack(data, name)
    if "xl/workbook.xml" in parts:
        return _xlsx(parts, name)
    if "content.xml" in parts:
        return _ods(parts, name)
    raise Refused(name, tell("no_book"))


def _unpack(data: bytes, name: str) -> dict[str, bytes]:
    """Parts by their name in small letters, which is how a reader looks for them."""
    parts: dict[str, bytes] = {}
    total = 0
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            listed = archive.infolist()
            _countable(listed, name)
            for info in listed:
                part = _inflate(data, info, MAX_UNPACKED - total)
                if part is None:
                    raise Refused(
                        name,
                        tell("book_unpacks", most=MAX_UNPACKED // 1_000_000),
                        tell("as_csv_do"),
                    )
                total += len(part)
                parts[info.filename.lower()] = part
    except (zipfile.BadZipFile, zlib.error, struct.error, OSError, ValueError, EOFError) as fault:
        raise Refused(name, _DAMAGED, _FETCH) from fault
    except (NotImplementedError, RuntimeError, UnicodeDecodeError) as fault:
        raise Refused(name, _DAMAGED, _FETCH) from fault
    return parts


def _countable(listed: list[zipfile.ZipInfo], name: str) -> None:
    if any(info.flag_bits & 1 for info in listed):
        raise Refused(name, tell("book_locked"))
    if len(listed) > MAX_PARTS:
        raise Refused(name, tell("book_parts", most=MAX_PARTS))
    if len({info.filename.lower() for info in listed}) < len(listed):
        raise Refused(name, tell("book_two_parts"))


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


def _packed(parts: dict[str, bytes]) -> bytes:
    """Parts in a new packet, not compressed."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packet:
        for part, content in parts.items():
            packet.writestr(part, content)
    return out.getvalue()


# --- XLSX ---------------------------------------------------------------------------------------

_WORKBOOK = "xl/workbook.xml"
_RELATIONS = "xl/_rels/workbook.xml.rels"
_SHARED = "xl/sharedstrings.xml"
_READ = ("[content_types].xml", "_rels/.rels", _WORKBOOK, _RELATIONS, "xl/styles.xml", _SHARED)


def _xlsx(parts: dict[str, bytes], name: str) -> Contents:
    read = {part: parts[part] for part in _READ if part in parts}
    for part in ("[content_types].xml", "_rels/.rels", "xl/styles.xml"):
        walk(read.get(part, b"<none/>"), name)
    tabs = list(_tabs(read, name))
    shared = shared_lengths(read[_SHARED], name) if _SHARED in read else []
    room = Room(name)
    troubles: dict[str, tuple[Trouble, ...]] = {}
    for tab, part in tabs:
        if part not in parts:
            raise Refused(name, tell("book_no_cells", tab=tab), _FETCH)
        troubles[tab] = XlsxTab(Reach(room, tab), shared).read(parts[part])
        read[part] = parts[part]
    return Contents(
        kind="xlsx",
        troubles=troubles,
        macros=any(part.endswith("vbaproject.bin") for part in parts),
        links=any(part.startswith("xl/externallinks/") for part in parts),
        packet=_packed(read),
    )


def _tabs(parts: dict[str, bytes], name: str) -> Iterator[tuple[str, str]]:
    """Tabs of a workbook and the part in which the cells of each lie."""
    targets: dict[str, str] = {}
    named: list[tuple[str, str]] = []

    def relation(tag: str, a: Attributes) -> None:
        if tag.rpartition(":")[2] == "Relationship":
            target = a.get("Target", "").lower().lstrip("/")
            targets[a.get("Id", "")] = target if target.startswith("xl/") else "xl/" + target

    def sheet(tag: str, a: Attributes) -> None:
        if tag.rpartition(":")[2] == "sheet":
            link = next((value for key, value in a.items() if key.endswith(":id")), "")
            named.append((a.get("name", ""), link))

    walk(parts.get(_RELATIONS, b"<none/>"), name, relation)
    walk(parts[_WORKBOOK], name, sheet)
    return ((tab, targets.get(link, "")) for tab, link in named)


# --- ODS ----------------------------------------------------------------------------------------

_MIMETYPE = b"application/vnd.oasis.opendocument.spreadsheet"
_MANIFEST = (
    b'<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>'
)


def _ods(parts: dict[str, bytes], name: str) -> Contents:
    read: dict[str, bytes] = {"mimetype": _MIMETYPE, "META-INF/manifest.xml": _MANIFEST}
    read["content.xml"] = parts["content.xml"]
    if b"encryption-data" in parts.get("meta-inf/manifest.xml", b""):
        raise Refused(name, tell("book_locked"))
    tabs = OdsTabs(Room(name))
    troubles = tabs.read(read["content.xml"])
    return Contents(
        kind="ods",
        troubles=troubles,
        macros=any(part.startswith(("basic/", "scripts/")) for part in parts),
        links=tabs.links,
        packet=_packed(read),
    )
