"""A study folder -> all its sheets as typed.

What comes in: a folder with CSV files, workbooks, plain check notes and `study.toml`, of one
keeper or of many. What goes out: `Sheets`. Folders inside it are not entered (results may lie
there); nothing is written.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

from cohort.errors import StudyError
from cohort.sheets.delimited import read_delimited
from cohort.sheets.lists import drawn_numbers
from cohort.sheets.raw import Notice, RawTable, Sheets, Source, sheet_of
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
    """
    place = Path(folder)
    _must_be_folder(place)
    tables: list[RawTable] = []
    notices: list[Notice] = []
    sources: list[Source] = []
    passed_over: list[Path] = []
    for path in sorted(place.iterdir(), key=lambda item: item.name):
        reader = _reader(path)
        if reader is None:
            passed_over.append(path)
            continue
        data = _bytes(path)
        found, told = reader(path, data)
        tables += found
        notices += told
        sources.append(Source(path.name, hashlib.sha256(data).hexdigest()))
    notices += not_read(passed_over, tables)
    if not sources:
        unread = next((f" {notice}" for notice in notices if notice.level == "warning"), "")
        raise StudyError(
            f"No sheets in {place}: a study holds at least foundings.csv or a workbook with a tab "
            f"'foundings'. Start one with: cohort begin{'.' if unread else ''}{unread}"
        )
    drawn, told = drawn_numbers(place)
    return Sheets(tuple(tables), (*notices, *told), tuple(sources), drawn)


def _must_be_folder(place: Path) -> None:
    if place.is_dir():
        return
    if place.exists():
        raise StudyError(f"{place} is a file. Give the folder of the study in which it lies.")
    raise StudyError(
        f"There is no folder {place}. Look at the spelling, or start one with: cohort begin"
    )


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as fault:
        why = fault.strerror or str(fault)
        raise StudyError(
            f"{path.name} cannot be opened ({why}). Close it elsewhere or ask for leave to read it."
        ) from fault


def _reader(path: Path) -> Callable[[Path, bytes], _Read] | None:
    if not path.is_file() or path.name.startswith((".", "~$")):
        return None
    sheet = sheet_of(path.stem, SHEET_NAMES)
    suffix = path.suffix.lower()
    if suffix == ".csv" and sheet:
        return _csv
    if path.name.lower() == "study.toml":
        return _toml
    if suffix in {".xlsx", ".xlsm", ".ods"}:
        return _workbook
    if suffix == ".txt" and sheet == "checks":
        return _notes
    return None


def _csv(path: Path, data: bytes) -> _Read:
    table, notices = read_delimited(data, path.name, sheet_of(path.stem, SHEET_NAMES))
    return [table], notices


def _toml(path: Path, data: bytes) -> _Read:
    table, notices = read_settings(data, path.name)
    return [table], notices


def _workbook(path: Path, data: bytes) -> _Read:
    from cohort.sheets.workbook import read_workbook

    try:
        return read_workbook(data, path.name)
    except StudyError as fault:  # the other files are still read, so that all faults are told
        notice = Notice(
            level="error",
            rule="unreadable-file",
            file=path.name,
            what=str(fault).removeprefix(f"{path.name}: "),
            remedy="",
        )
        return [], [notice]


def _notes(path: Path, data: bytes) -> _Read:
    from cohort.sheets.notes import read_notes

    return read_notes(data, path.name)
