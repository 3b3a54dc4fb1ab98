"""Files in a study folder that no reader takes, and what they seem to be.

What comes in: files whose names are none of ours, and the tables that were read. What goes out:
a warning for each keeper whose foundings stand in a file, or a note where it is something else.
The rows are looked at for their headings and numbers only; none of them is taken.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path, PurePath
from typing import NamedTuple

from cohort.base.errors import Level
from cohort.sheets.delimited import read_delimited
from cohort.sheets.files import told
from cohort.sheets.numbers import keeper_of
from cohort.sheets.raw import Notice, RawTable, column_name
from cohort.sheets.sentences import tell
from cohort.sheets.setting import toml_of
from cohort.sheets.text import decode
from cohort.terms import SETTINGS, SHEET_NAMES, SHEETS

MAX_LOOKED = 20_000_000
"""Largest file that is looked into (bytes)."""
OTHER_BOOKS = (".xls", ".xlsb", ".numbers", ".gsheet", ".fods")
"""Endings of spreadsheets that cannot be read."""
_LOOKED = (".csv", ".tsv", ".tab", ".txt")


class _Seen(NamedTuple):
    """What a file seems to hold: a sheet (blank: none of ours), rows, and numbers in it."""

    sheet: str
    rows: int
    numbers: tuple[str, ...]


def not_read(paths: Iterable[Path], tables: Sequence[RawTable]) -> list[Notice]:
    """What to say of files that were passed over.

    Parameters
    ----------
    paths : iterable of Path
        Files and folders that no reader took.
    tables : sequence of RawTable
        What was read.

    Returns
    -------
    list of Finding
        Warnings bear a founding of the keeper they are for.
    """
    keepers = _keepers(tables)
    notices: list[Notice] = []
    for path in paths:
        if path.is_file() and not path.name.startswith((".", "~$")):
            notices += _of_file(path, keepers)
    return notices


def _keepers(tables: Sequence[RawTable]) -> dict[str, str]:
    """Numbers of the study -> keeper's sign, blank where none is told."""
    found: dict[str, str] = {}
    for table in tables:
        names = {column_name(str(heading)): heading for heading in table.frame.columns}
        if table.sheet != "foundings" or "founding" not in names:
            continue
        numbers = table.frame[names["founding"]].astype(str)
        signs = table.frame[names["keeper"]] if "keeper" in names else [""] * len(numbers)
        for number, sign in zip(numbers, signs, strict=True):
            found.setdefault(number, str(sign) or keeper_of(number))
    return found


def _of_file(path: Path, keepers: Mapping[str, str]) -> list[Notice]:
    suffix = path.suffix.lower()
    if suffix in OTHER_BOOKS:
        return [_notice(path, "warning", tell("file_not_read"), tell("as_xlsx_do"))]
    if suffix == ".toml":
        return [_toml(path)]
    if suffix not in _LOOKED:
        return []
    seen = _seen(path, keepers)
    if seen is None or not (seen.sheet or seen.numbers):
        return [_notice(path, "note", tell("file_not_read"), _how_named(suffix))]
    mine: dict[str, str] = {}
    for number in seen.numbers:
        mine.setdefault(keepers[number], number)
    what, remedy = _what(seen), _remedy(path, seen, list(mine))
    return [_notice(path, "warning", what, remedy, owner) for owner in mine.values() or [""]]


def _notice(path: Path, level: Level, what: str, remedy: str, founding: str = "") -> Notice:
    return Notice(
        level=level,
        rule="file-not-read",
        file=told(path),
        founding=founding,
        what=what,
        remedy=remedy,
    )


def _how_named(suffix: str) -> str:
    if suffix == ".txt":
        return tell("notes_named_do")
    key = "named_do" if suffix == ".csv" else "named_csv_do"
    return tell(key, sheets=", ".join(SHEET_NAMES))


def _toml(path: Path) -> Notice:
    text, _ = decode(_bytes(path), told(path))
    try:
        ours = sorted(set(toml_of(text)) & set(SETTINGS))
    except ValueError:
        ours = []
    if not ours:
        return _notice(path, "note", tell("file_not_read"), tell("settings_elsewhere_do"))
    return _notice(
        path,
        "warning",
        tell("holds_settings", settings=", ".join(ours[:3])),
        tell("holds_settings_do"),
    )


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes() if path.stat().st_size <= MAX_LOOKED else b""
    except OSError:  # a file that is not read need not be readable
        return b""


def _seen(path: Path, keepers: Mapping[str, str]) -> _Seen | None:
    """What a file seems to hold; None when nothing can be told."""
    data = _bytes(path)
    if not data.strip():
        return None
    if path.suffix.lower() == ".txt":
        from cohort.sheets.known import Known
        from cohort.sheets.notes import read_notes

        tables, _ = read_notes(data, told(path), Known(keepers))
        numbers = [n for table in tables for n in table.frame["founding"] if n in keepers]
        rows = sum(len(table.rows) for table in tables if table.sheet == "checks")
        return _Seen("checks", rows, tuple(dict.fromkeys(numbers))) if numbers else None
    table, _ = read_delimited(data, told(path), "")
    cells = [str(cell) for heading in table.frame for cell in table.frame[heading].unique()]
    numbers = [cell for cell in dict.fromkeys(cells) if cell in keepers]
    return _Seen(_sheet(table), len(table.rows), tuple(numbers))


def _sheet(table: RawTable) -> str:
    """Sheet whose headings a table bears; blank when it is none of ours."""
    names = {column_name(str(heading)) for heading in table.frame.columns}
    hits = {name: len(names & set(sheet.names)) for name, sheet in SHEETS.items()}
    fit = [
        name
        for name, sheet in SHEETS.items()
        if hits[name] >= 2 and (hits[name] > 2 or set(sheet.needed) <= names)
    ]
    return max(fit, key=lambda name: hits[name], default="")


def _what(seen: _Seen) -> str:
    if seen.sheet:
        return tell("looks_like_sheet", sheet=seen.sheet, n=seen.rows)
    return tell("holds_numbers", number=seen.numbers[0], n=seen.rows)


def _remedy(path: Path, seen: _Seen, keepers: Sequence[str]) -> str:
    if not seen.sheet:
        return tell("holds_numbers_do")
    return tell("looks_like_sheet_do", name=_new_name(path, seen.sheet, keepers))


def _new_name(path: Path, sheet: str, keepers: Sequence[str]) -> str:
    """A free name that is read, with the keeper's sign first: ``checks-K2-Anna-final.csv``."""
    sign = keepers[0] if len(keepers) == 1 else ""
    drop = {*SHEET_NAMES, sign.lower(), ""}
    parts = [
        part for part in re.split(r"[\W_]+", PurePath(told(path)).stem) if part.lower() not in drop
    ]
    stem = "-".join([sheet, *([sign] if sign else []), *parts])
    ending = ".txt" if path.suffix.lower() == ".txt" else ".csv"
    names = [stem + ending, *(f"{stem}-{n}{ending}" for n in range(2, 1000))]
    return next((name for name in names if not (path.parent / name).exists()), names[0])
