"""Bytes of a text file -> text, whatever program saved them.

What comes in: the bytes of a CSV, TOML or note file. What goes out: the text and, where an
encoding had to be told from the bytes, a notice. The bytes themselves are never altered.
"""

from __future__ import annotations

import codecs

from cohort.sheets.raw import Notice
from cohort.sheets.sentences import tell

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def decode(data: bytes, file: str) -> tuple[str, tuple[Notice, ...]]:
    """Text of a file: UTF-8 with or without mark, UTF-16 with mark, else Windows-1252.

    Parameters
    ----------
    data : bytes
        The whole file.
    file : str
        Name for the notices.

    Returns
    -------
    text : str
        Without a byte-order mark.
    notices : tuple of Finding
        A note when the file is not UTF-8; an error when bytes are damaged beyond reading.
    """
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return _strict(data, encoding, file)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
        notice = Notice(
            level="note",
            rule="encoding",
            file=file,
            what=tell("encoding"),
            remedy=tell("encoding_do"),
        )
        return _no_zero_bytes(text, file, (notice,))
    return _no_zero_bytes(text, file, ())


def _strict(data: bytes, encoding: str, file: str) -> tuple[str, tuple[Notice, ...]]:
    try:
        return _no_zero_bytes(data.decode(encoding), file, ())
    except UnicodeDecodeError as fault:
        text = data.decode(encoding, errors="replace")
        row = text[: max(fault.start // 2, 0)].count("\n") + 1
        notice = Notice(
            level="error",
            rule="damaged-file",
            file=file,
            row=row,
            what=tell("damaged_bytes"),
            remedy=tell("damaged_bytes_do"),
        )
        return _no_zero_bytes(text, file, (notice,))


def _no_zero_bytes(
    text: str, file: str, notices: tuple[Notice, ...]
) -> tuple[str, tuple[Notice, ...]]:
    at = text.find("\x00")
    if at < 0:
        return text, notices
    notice = Notice(
        level="error",
        rule="damaged-file",
        file=file,
        row=text.count("\n", 0, at) + 1,
        what=tell("zero_bytes"),
        remedy=tell("zero_bytes_do"),
    )
    return text.replace("\x00", "�"), (*notices, notice)
