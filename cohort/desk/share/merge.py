"""What was sent taken into a study: new rows at the end of its CSV files, and nothing else.

Comes in: a study, and folders or packed studies. Goes out: the study with the new rows, what is in
conflict. All of it happens under the lock of the study and in one step. No row is changed and none
is taken out; the entry can be taken back like one of ``cohort log``, and the sheets as they were
lie in the folder of earlier versions.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from cohort.audit.added import new_findings, with_file
from cohort.base.errors import Finding, SheetError, StudyError
from cohort.desk.sentences import refused, tell
from cohort.desk.share.compare import Compared, Conflict, compared
from cohort.desk.share.said import Said, rows_of, signs_of
from cohort.desk.share.sent import Sent, read_sent
from cohort.desk.share.spoken import of_all
from cohort.desk.undo import Entry, Piece, lists_of, piece, remembered
from cohort.desk.whose import target, target_of
from cohort.sheets.append import appended, layout_of, locked, open_elsewhere, put_rows, start_of
from cohort.sheets.files import inner
from cohort.sheets.folder import read_folder
from cohort.sheets.lists import FOLDER
from cohort.sheets.numbers import keeper_of
from cohort.sheets.raw import Sheets
from cohort.sheets.sentences import tell as put
from cohort.terms.contract import SHEETS

Row = dict[str, str]
Jobs = dict[Path, tuple[str, list[Said]]]
SETTLED: Final = ("horizon_days", "ends", "clock", "season", "leave_out", "fight_rule")
"""Settings that are told where they differ; ours stay."""


@dataclass(frozen=True)
class Merged:
    """What came of it.

    Attributes
    ----------
    files : tuple of Path
        Files with new rows, and new lists.
    rows : mapping
        Sheet -> rows added.
    already : int
        Rows that were in.
    conflicts : tuple of Conflict
    held : tuple of Said
        Rows that hang on a conflict.
    settings : tuple of (name, ours, theirs)
        Settings that differ.
    findings : tuple of Finding
        Warnings and notes of the audit that the new rows brought.
    """

    files: tuple[Path, ...]
    rows: Mapping[str, int]
    already: int
    conflicts: tuple[Conflict, ...]
    held: tuple[Said, ...]
    settings: tuple[tuple[str, str, str], ...]
    findings: tuple[Finding, ...]


def merge(folder: Path, sent: Path) -> Merged:
    """Take what was sent into a study.

    Parameters
    ----------
    folder : Path
        The study.
    sent : Path
        A folder, or a file made by `pack`.

    Raises
    ------
    StudyError
        No study; what was sent cannot be read; a file of the study is open elsewhere.
    SheetError
        The audit finds an error in the study with the new rows. Nothing is written.
    """
    if not folder.is_dir():
        raise StudyError(tell("no_folder", folder=str(folder)))
    if sent.resolve() == folder.resolve():
        raise StudyError(tell("merge_itself", sent=str(sent)))
    given = read_sent(sent)
    with locked(folder):
        sheets = read_folder(folder)
        other_lists, new_lists = _lists(folder, given)
        ours, theirs = rows_of(sheets), rows_of(given.sheets)
        found, jobs = _settled(folder, sheets, ours, theirs, other_lists)
        trial, pieces, heads = _tried(sheets, jobs)
        findings = new_findings(sheets, trial) if jobs else []
        errors = [finding for finding in findings if finding.level == "error"]
        if errors:
            raise SheetError(errors, refused(tell("merge_errors"), errors))
        if jobs or new_lists:
            signs = tuple(sorted({_sign(row) for row in found.new} - {""}))
            moment = dt.datetime.now().astimezone().isoformat(timespec="microseconds")
            lists = lists_of(folder, given.lists, {path.stem for path in new_lists})
            memory = remembered(folder, Entry(moment, signs, tuple(pieces), lists))
            put_rows(folder, heads, {**new_lists, **memory})
    counts: dict[str, int] = {}
    for row in found.new:
        counts[row.sheet] = counts.get(row.sheet, 0) + 1
    return Merged(
        (*jobs, *new_lists), counts, found.already, found.conflicts, found.held,
        _settings(sheets, given.sheets), tuple(findings),
    )  # fmt: skip


def _settled(
    folder: Path, sheets: Sheets, ours: Sequence[Said], theirs: Sequence[Said], lists: set[str]
) -> tuple[Compared, Jobs]:
    """New rows by the file that takes them, after those were held that cannot go in."""
    doubtful: set[str] = set()
    more: list[Conflict] = []
    refused: set[tuple[str, int, str]] = set()
    while True:
        left = [row for row in theirs if (row.file, row.row, row.sheet) not in refused]
        found = compared(ours, left, lists=lists, doubtful=doubtful)
        jobs = _jobs(folder, sheets, found.new)
        again = _columns(jobs) or _of_all(sheets, jobs, ours, theirs)
        if not again:
            return replace(found, conflicts=(*found.conflicts, *more)), jobs
        for conflict, row in again:
            more.append(conflict)
            refused.add((row.file, row.row, row.sheet))
            if row.sheet == "foundings":
                doubtful.add(row.key[0])


def _sign(row: Said) -> str:
    if row.of_all:
        return row.key[-1]
    return keeper_of(row.cells.get("founding", ""))


def _jobs(folder: Path, sheets: Sheets, new: Sequence[Said]) -> Jobs:
    known = {**signs_of(sheets), **{
        row.cells["founding"]: _sign(row) for row in new if row.sheet == "foundings"
    }}  # fmt: skip
    grouped: dict[tuple[str, str, bool], list[Said]] = {}
    for row in new:
        which = (row.sheet, _sign(row), bool(row.cells.get("corrects")))
        grouped.setdefault(which, []).append(row)
    jobs: Jobs = {}
    for (sheet, sign, _), rows in grouped.items():
        if "founding" in SHEETS[sheet].names:
            path = target_of(folder, sheet, sign, [row.cells for row in rows], known)
        else:
            path = target(folder, sheet, "")
        jobs.setdefault(path, (sheet, []))[1].extend(rows)
    return jobs


def _cells(path: Path, row: Said) -> Row:
    """Cells as they are written.

    A founding in a sheet of several keepers gets the sign in its number where none was sent.
    """
    cells = dict(row.cells)
    shared = row.sheet == "foundings" and path.name == "foundings.csv"
    if shared and not cells.get("keeper") and "keeper" in _headings(path, row.sheet):
        cells["keeper"] = keeper_of(cells["founding"])
    return cells


def _headings(path: Path, sheet: str) -> set[str]:
    from cohort.sheets.raw import column_name

    if not path.is_file() or not path.read_bytes().strip():
        return set(SHEETS[sheet].names)
    return {column_name(name) for name in layout_of(path.read_bytes(), path.name).headings}


def _columns(jobs: Jobs) -> list[tuple[Conflict, Said]]:
    """Rows with something in a column that the sheet which takes them lacks."""
    out = []
    for path, (sheet, rows) in jobs.items():
        there = _headings(path, sheet)
        for row in rows:
            lacking = sorted(n for n, text in row.cells.items() if text and n not in there)
            if lacking:
                heads = ", ".join(lacking)
                told = tell("column_lacking", file=path.name, columns=heads)
                fault = Conflict("column", sheet, row.what, (), path.name, row.place, told)
                out.append((fault, row))
    return out


def _tried(
    sheets: Sheets, jobs: Jobs
) -> tuple[Sheets, list[Piece], dict[Path, tuple[tuple[str, ...], list[Row]]]]:
    trial, pieces, heads = sheets, [], {}
    for path, (sheet, rows) in jobs.items():
        if open_elsewhere(path):
            raise StudyError(put("put_open_there", name=path.name))
        names, cells = SHEETS[sheet].names, [_cells(path, row) for row in rows]
        after = appended(path, names, cells)
        pieces.append(piece(path.name, sheet, start_of(path, names), after))
        trial = with_file(trial, path.name, sheet, after)
        heads[path] = (names, cells)
    return trial, pieces, heads


def _of_all(
    sheets: Sheets, jobs: Jobs, ours: Sequence[Said], theirs: Sequence[Said]
) -> list[tuple[Conflict, Said]]:
    """Rows that would make ``rest`` or ``all`` speak of others than was meant."""
    if not jobs:
        return []
    trial, _, _ = _tried(sheets, jobs)
    new = [row for _, some in jobs.values() for row in some]
    return of_all(rows_of(trial), ours, theirs, new)


def _lists(folder: Path, given: Sent) -> tuple[set[str], dict[Path, bytes]]:
    """Names of lists that are others here, and files of those that are not here yet."""
    others: set[str] = set()
    new: dict[Path, bytes] = {}
    for name, data in given.lists.items():
        path = inner(folder, FOLDER) / f"{name}.csv"
        if not path.exists():
            new[path] = data
        elif path.read_bytes() != data:
            others.add(name)
    if new:
        inner(folder, FOLDER, make=True)
    return others, new


def _settings(ours: Sheets, theirs: Sheets) -> tuple[tuple[str, str, str], ...]:
    from cohort.audit.settings import read_settings

    here, there = (read_settings(one.of("study"))[0] for one in (ours, theirs))
    pairs = ((name, getattr(here, name), getattr(there, name)) for name in SETTLED)
    return tuple((name, _text(a), _text(b)) for name, a, b in pairs if a != b)


def _text(value: object) -> str:
    if isinstance(value, tuple | list | frozenset):
        return ", ".join(map(str, value))
    return "" if value is None else str(value)
