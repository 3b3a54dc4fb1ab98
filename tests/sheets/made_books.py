"""Workbook files made for tests: XLSX by a library, ODS by hand."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from typing import Any

import xlsxwriter

HEAD = ("founding", "genus", "started", "queens", "note")


def book(fill: Callable[[Any, Any], None], tab: str = "foundings", **options: Any) -> bytes:
    out = io.BytesIO()
    made = xlsxwriter.Workbook(out, {"in_memory": True, **options})
    fill(made, made.add_worksheet(tab))
    made.close()
    return out.getvalue()


def altered(data: bytes, part: str, change: Callable[[bytes], bytes], **more: bytes) -> bytes:
    """A workbook file with one part changed and others added."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            new.writestr(name, change(old.read(name)) if name == part else old.read(name))
        for name, content in more.items():
            new.writestr(name.replace("__", "/").replace("_dot_", "."), content)
    return out.getvalue()


ODS = (
    b'<?xml version="1.0"?><office:document-content '
    b'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    b'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    b'xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0" '
    b'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body>'
    b'<office:spreadsheet><table:table table:name="%s">%s</table:table>'
    b"</office:spreadsheet></office:body></office:document-content>"
)


def ods(rows: bytes, tab: bytes = b"foundings") -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        new.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        new.writestr("content.xml", ODS % (tab, rows))
        new.writestr(
            "META-INF/manifest.xml",
            b'<manifest:manifest xmlns:manifest="urn:oasis:names'
            b':tc:opendocument:xmlns:manifest:1.0"/>',
        )
    return out.getvalue()


def cells(*texts: str) -> bytes:
    return (
        b"<table:table-row>"
        + b"".join(
            b'<table:table-cell office:value-type="string"><text:p>%s</text:p></table:table-cell>'
            % text.encode()
            for text in texts
        )
        + b"</table:table-row>"
    )
