"""A study folder -> all its sheets as typed.

What comes in: a folder with CSV files, workbooks, plain check notes and `study.toml`, of one
keeper or of many. What goes out: `Sheets`. Folders inside it are not entered (results may lie
there); nothing is written.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path, PurePath

from cohort.base.asked import folder_of
from cohort.base.errors import StudyError
from cohort.sheets.container import MAX_FILE
from cohort.sheets.delimited import read_delimited
from cohort.sheets.files import MAX_NOTES, MAX_SHEET, bytes_of, oddity, told
from cohort.sheets.lists import drawn_numbers
from cohort.sheets.raw import Notice, RawTable, Sheets, Source, sheet_of
from cohort.sheets.sentences import tell
from cohort.sheets.setting import read_settings
from cohort.sheets.unread import not_read
from cohort.terms import SHEET_NAMES

_Read = tuple[list[RawTable], list[Notice]]


def read_folder(folder: str | Path) -> Sheets:
    """Everything typed in a study folder.

    Parameters
    ----------
    folder : path
        The study.

    Returns
    -------
    Sheets
        Tables in order of file name, notices and the SHA-256 of each file read.

    Raises
    ------
    StudyError
        When there is no such folder, or no sheet in it.

    Examples
    --------
    >>> import cohort
    >>> sheets = cohort.read_sheets("data/demo")
    >>> sheets.of("foundings")[0].file
    'foundings-K1.csv'
    """
    place = folder_of(folder)
    _must_be_folder(place)
    tables: list[RawTable] = []
    notices: list[Notice] = []
    sources: list[Source] = []
    passed_over: list[Path] = []
    notes: list[tuple[str, bytes]] = []
    for path in sorted(place.iterdir(), key=lambda item: item.name):
        reader = _reader(path)
        if reader is None and not _is_note(path):
            passed_over.append(path)
            continue
        name, odd = told(path), oddity(path)
        if odd:
            notices.append(_no_file(name, odd))
            continue
        data = bytes_of(path, _MOST.get(path.suffix.lower(), MAX_FILE))
        sources.append(Source(name, hashlib.sha256(data).hexdigest()))
        if reader is None:
            notes.append((name, data))
            continue
        found, seen = reader(name, data)
        tables += found
        notices += seen
    found, seen = _notes(notes, tables)
    tables = sorted([*tables, *found], key=lambda table: table.file)
    notices += seen
    notices += not_read(passed_over, tables)
    if not sources:
        unread = next((f" {notice}" for notice in notices if notice.level == "warning"), "")
        raise StudyError(
            f"No sheets in {place}: a study holds at least foundings.csv or a workbook with a tab "
            f"'foundings'. Start one with: cohort begin{'.' if unread else ''}{unread}"
        )
    drawn, altered = drawn_numbers(place)
    return Sheets(tuple(tables), (*notices, *altered), tuple(sources), drawn)


def _must_be_folder(place: Path) -> None:
    if place.is_dir():
        return
    if place.exists():
        raise StudyError(f"{place} is a file. Give the folder of the study in which it lies.")
    raise StudyError(
        f"There is no folder {place}. Look at the spelling, or start one with: cohort begin"
    )


_MOST = {".csv": MAX_SHEET, ".txt": MAX_NOTES, ".toml": MAX_NOTES}  # bytes, by ending


def _no_file(name: str, odd: str) -> Notice:
    return Notice(
        level="error",
        rule="not-a-file",
        file=name,
        what=tell("not_a_file", odd=odd),
        remedy=tell("not_a_file_do"),
    )


def _reader(path: Path) -> Callable[[str, bytes], _Read] | None:
    if path.name.startswith((".", "~$")):
        return None
    sheet = sheet_of(PurePath(told(path)).stem, SHEET_NAMES)
    suffix = path.suffix.lower()
    if suffix == ".csv" and sheet:
        return _csv
    if path.name.lower() == "study.toml":
        return _toml
    if suffix in {".xlsx", ".xlsm", ".ods"}:
        return _workbook
    return None


def _is_note(path: Path) -> bool:
    named = sheet_of(PurePath(told(path)).stem, SHEET_NAMES) == "checks"
    return named and path.suffix.lower() == ".txt" and not path.name.startswith((".", "~$"))


def _csv(name: str, data: bytes) -> _Read:
    table, notices = read_delimited(data, name, sheet_of(PurePath(name).stem, SHEET_NAMES))
    return [table], notices


def _toml(name: str, data: bytes) -> _Read:
    table, notices = read_settings(data, name)
    return [table], notices


def _workbook(name: str, data: bytes) -> _Read:
    from cohort.sheets.workbook import read_workbook

    return read_workbook(data, name)


def _notes(files: list[tuple[str, bytes]], tables: list[RawTable]) -> _Read:
    """Check notes last: how they are read hangs on the foundings that there are."""
    if not files:
        return [], []
    from cohort.sheets.known import known_of
    from cohort.sheets.notes import read_notes

    known = known_of(tables)
    made = [read_notes(data, name, known) for name, data in files]
    return [one for found, _ in made for one in found], [one for _, seen in made for one in seen]
