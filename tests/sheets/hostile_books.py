"""Workbooks made to do harm, or broken in ways that programs break them: small on disk."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from typing import Any

import xlsxwriter
from made_books import HEAD, altered, book, cells, ods

SHEET = "xl/worksheets/sheet1.xml"


def plain(made: Any, tab: Any) -> None:
    tab.write_row(0, 0, HEAD)
    tab.write_row(1, 0, ("K2-01", "Lasius", "2026-07-04", 1, "calm"))


def with_rows(xml: bytes) -> bytes:
    """The plain workbook with more rows in its one tab."""
    return altered(
        book(plain), SHEET, lambda old: old.replace(b"</sheetData>", xml + b"</sheetData>")
    )


def packed(parts: dict[str, bytes], level: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", level) as new:
        for name, content in parts.items():
            new.writestr(name, content)
    return out.getvalue()


def parts_of(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as old:
        return {name: old.read(name) for name in old.namelist()}


def renamed(data: bytes, change: Callable[[str], str]) -> bytes:
    return packed({change(name): content for name, content in parts_of(data).items()})


FAR = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'


def other_case() -> bytes:
    """The part bears its name in other letter case than the list of parts says."""
    return renamed(with_rows(FAR), lambda name: name.replace("sheet1.xml", "Sheet1.XML"))


def utf16() -> bytes:
    return altered(
        book(plain), SHEET, lambda xml: xml.decode().replace("UTF-8", "UTF-16").encode("utf-16")
    )


def shared_text() -> bytes:
    """One text of 32,000 signs that 200,000 cells share: 6 GB once it is written out."""
    long = f"<si><t>{'x' * 32_000}</t></si>".encode()
    data = with_rows(
        b"".join(
            b'<row r="%d">' % n + b'<c t="s"><v>0</v></c>' * 4 + b"</row>" for n in range(3, 50_003)
        )
    )
    return altered(
        data, "xl/sharedStrings.xml", lambda xml: xml.replace(b"<si>", long + b"<si>", 1)
    )


def many_tabs() -> bytes:
    out = io.BytesIO()
    made = xlsxwriter.Workbook(out, {"in_memory": True})
    for n in range(600):
        made.add_worksheet(f"t{n}").write(0, 0, "x")
    made.close()
    return out.getvalue()


def one_part_for_many_tabs() -> bytes:
    """Sixty tabs show the same part of a quarter of a million cells."""
    data = with_rows(b'<row r="240000"><c r="J240000"><v>1</v></c></row>')
    more = b"".join(b'<sheet name="t%d" sheetId="%d" r:id="rId1"/>' % (n, n + 9) for n in range(60))
    return altered(
        data, "xl/workbook.xml", lambda xml: xml.replace(b"</sheets>", more + b"</sheets>")
    )


def two_of_one_name() -> bytes:
    """The first of two parts of one name is harmless, the second is not."""
    out = io.BytesIO()
    good, bad = parts_of(book(plain)), parts_of(with_rows(FAR))
    with zipfile.ZipFile(out, "w") as new:
        for name, content in good.items():
            new.writestr(name, content)
        new.writestr("xl/worksheets/SHEET1.xml", bad[SHEET])
    return out.getvalue()


def text_cell(inside: bytes) -> bytes:
    return (
        b'<table:table-row><table:table-cell office:value-type="string"><text:p>'
        + inside
        + b"</text:p></table:table-cell></table:table-row>"
    )


ROWS = cells("founding", "queens") + cells("K2-01", "3")


def quoted() -> bytes:
    """A > inside a quoted attribute hides the repeats from who looks for tags by pattern."""
    return ods(
        ROWS + b'<table:table-row><table:table-cell table:content-validation-name=">" '
        b'table:number-columns-repeated="2000000000" office:value-type="float" office:value="1"/>'
        b"</table:table-row>"
    )


def repeated_rows(times: str) -> bytes:
    return ods(
        ROWS
        + f'<table:table-row table:number-rows-repeated="{times}">'.encode()
        + b'<table:table-cell office:value-type="string"><text:p>K2-01</text:p></table:table-cell>'
        b'<table:table-cell office:value-type="string"><text:p>x</text:p></table:table-cell>'
        b"</table:table-row>"
    )


def table_in_table() -> bytes:
    inner = b'<table:table table:name="b">' + cells("x") + b"</table:table>"
    return ods(
        ROWS
        + b"<table:table-row><table:table-cell>"
        + inner
        + b"</table:table-cell></table:table-row>"
    )


def locked_ods() -> bytes:
    manifest = b"<manifest:manifest><manifest:encryption-data/></manifest:manifest>"
    return packed(
        {**parts_of(ods(ROWS)), "content.xml": b"\x8f\x11" * 99, "META-INF/manifest.xml": manifest}
    )


def entities(data: bytes, part: str, root: bytes) -> bytes:
    laughs = (
        b'<!DOCTYPE x [<!ENTITY a "haha">'
        + b"".join(b'<!ENTITY %c "%s">' % (98 + i, b"&%c;" % (97 + i) * 10) for i in range(9))
        + b"]>"
    )
    return altered(data, part, lambda xml: xml.replace(root, laughs + root, 1))


# Name of the case -> the workbook and a piece of the one message that is told.
REFUSED: dict[str, tuple[Callable[[], bytes], str]] = {
    "part in other letter case": (other_case, "row 1048576"),
    "cell in small letters": (
        lambda: with_rows(b'<row><c r="xfd1048576"><v>1</v></c></row>'),
        "row 1048576",
    ),
    "far cell behind a remark": (
        lambda: with_rows(b'<!-- <c r="A1"> -->' + FAR + b"<!-- </c> -->"),
        "row 1048576",
    ),
    "far cell behind a quoted sign": (
        lambda: with_rows(b'<row spans=">" r="1048576"><c s=">"><v>1</v></c></row>'),
        "row 1048576",
    ),
    "two parts of one name": (two_of_one_name, "two parts of one name"),
    "utf-16 sheet": (utf16, "UTF-16"),
    "other encoding": (
        lambda: altered(book(plain), SHEET, lambda xml: xml.replace(b"UTF-8", b"ISO-8859-1")),
        "ISO-8859-1",
    ),
    "entities": (lambda: entities(book(plain), SHEET, b"<worksheet"), "words of its own"),
    "entities in the texts": (
        lambda: entities(book(plain), "xl/sharedStrings.xml", b"<sst"),
        "words of its own",
    ),
    "entities in ods": (
        lambda: entities(ods(ROWS), "content.xml", b"<office:document-content"),
        "words of its own",
    ),
    "shared text": (shared_text, "million signs"),
    "cell of 60 MB": (
        lambda: packed(
            parts_of(
                with_rows(
                    b'<row r="9"><c r="B9" t="inlineStr"><is><t>'
                    + b"x" * 60_000_000
                    + b"</t></is></c></row>"
                )
            )
        ),
        "one cell holds more",
    ),
    "shared text of 40 MB": (
        lambda: packed(
            parts_of(
                altered(
                    book(plain),
                    "xl/sharedStrings.xml",
                    lambda xml: xml.replace(b"<t>calm", b"<t>calm" + b"x" * 40_000_000),
                )
            )
        ),
        "one cell holds more",
    ),
    "many tabs": (many_tabs, "more than 500 tabs"),
    "one part for many tabs": (one_part_for_many_tabs, "million are read"),
    "a part that is missing": (
        lambda: packed({n: c for n, c in parts_of(book(plain)).items() if n != SHEET}),
        "missing from the file",
    ),
    "no xml": (lambda: altered(book(plain), SHEET, lambda xml: xml[: len(xml) // 2]), "damaged"),
    "two thousand million spaces": (
        lambda: ods(ROWS + text_cell(b'a<text:s text:c="2000000000"/>b')),
        "one cell holds more",
    ),
    "spaces by the thousand": (
        lambda: ods(ROWS + text_cell(b'a<text:s text:c="900000"/>b' * 300)),
        "one cell holds more",
    ),
    "row a thousand million times": (lambda: repeated_rows("1000000000"), "is filled"),
    "row times a number beyond counting": (lambda: repeated_rows("9" * 40), "repeated '999"),
    "row times plus": (lambda: repeated_rows("+1000000000"), "repeated '+1000"),
    "repeats behind a quoted sign": (quoted, "is filled"),
    "table in a table": (table_in_table, "inside a table"),
    "text repeated": (
        lambda: ods(
            ROWS + b'<table:table-row table:number-rows-repeated="20000">'
            b'<table:table-cell office:value-type="string"><text:p>'
            + b"x" * 30_000
            + b"</text:p></table:table-cell></table:table-row>"
        ),
        "million signs",
    ),
    "ods with a password": (locked_ods, "locked by a password"),
    "xls named xlsx, or with a password": (
        lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600),
        "old binary workbook (XLS) or one locked by a password",
    ),
    "csv named xlsx": (lambda: b"founding,queens\nK2-01,3\n", "damaged or no workbook"),
    "many parts": (
        lambda: packed({f"x{n}": b"" for n in range(20_001)}, zipfile.ZIP_STORED),
        "more than 20,000 parts",
    ),
}

# Odd, and harmless: these are read.
READ: dict[str, Callable[[], bytes]] = {
    "whole columns merged": lambda: altered(
        book(plain),
        SHEET,
        lambda xml: xml.replace(
            b"</sheetData>",
            b'</sheetData><mergeCells count="20000">'
            + b'<mergeCell ref="A1:XFD1048576"/>' * 20_000
            + b"</mergeCells>",
        ),
    ),
    "formatted cell far out": lambda: with_rows(
        b'<row r="1048576"><c r="XFD1048576" s="0"/></row>'
    ),
    "a dimension that is not so": lambda: altered(
        book(plain), SHEET, lambda xml: xml.replace(b"A1:E2", b"A1:XFD1048576")
    ),
    "deep brackets": lambda: with_rows(b"<a>" * 100_000 + b"</a>" * 100_000),
    "empty rows to the end": lambda: ods(
        ROWS + b'<table:table-row table:number-rows-repeated="1048000"><table:table-cell '
        b'table:number-columns-repeated="16384"/></table:table-row>'
    ),
    "all parts in capitals": lambda: renamed(book(plain), str.upper),
}
