"""Looks and events added to a study from the command line or from a note file.

What comes in: what was seen, as typed. What goes out: rows at the end of the CSV file of that
keeper, after the audit has passed them. A row with an error is not written, nor one that is in
already; nothing is guessed, and no workbook is touched.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cohort.audit.added import new_findings, with_file
from cohort.audit.alike import meant, together
from cohort.audit.settings import read_settings
from cohort.base.errors import Finding, SheetError, StudyError
from cohort.desk.sentences import refused, tell
from cohort.desk.undo import Entry, piece, remembered
from cohort.desk.whose import Row, foundings_typed, keeper_for, named_in_file, target_of
from cohort.sheets import photos
from cohort.sheets.append import appended, locked, put_rows, start_of
from cohort.sheets.files import MAX_NOTES, bytes_of
from cohort.sheets.folder import read_folder
from cohort.sheets.known import known_of
from cohort.sheets.note_dates import day_typed
from cohort.sheets.notes import NoteRow, all_notes
from cohort.sheets.numbers import as_known
from cohort.sheets.raw import Sheets, sheet_of
from cohort.terms import words
from cohort.terms.contract import SHEET_NAMES, SHEETS

New = Mapping[str, Mapping[str, Sequence[Row]]]
Jobs = dict[Path, tuple[str, list[Row]]]
MESSAGE = "message"
"""What findings call a text that came in without a file."""


@dataclass(frozen=True)
class Logged:
    """What was written.

    Parameters
    ----------
    files : tuple of Path
        Files that have new rows.
    rows : int
        How many rows.
    findings : tuple of Finding
        Warnings and notes of the audit on what was written and on its keeper's foundings.
    already : int
        Rows that say what the study, or a row before them, said already; they were not written.
    """

    files: tuple[Path, ...]
    rows: int
    findings: tuple[Finding, ...]
    already: int = 0


def log_look(
    folder: Path,
    founding: str,
    look: Row,
    *,
    event: Row | None = None,
    date: str = "",
    keeper: str = "",
) -> Logged:
    """Add one look, an event, or both.

    Parameters
    ----------
    folder : Path
        The study.
    founding : str
        Its number; ``rest`` (looks, winter rest), ``all`` (events) or a shelf (events) with
        `keeper`.
    look : mapping
        Columns of ``checks`` -> text; empty when only an event is told.
    event : mapping, optional
        Columns of ``events`` -> text.
    date : str
        Day of the look; today when blank.
    keeper : str
        Whose file; told from the sheets or the number when blank.

    Raises
    ------
    SheetError
        If the audit finds an error in the new rows. Nothing is written.
    StudyError
        If there is nothing to write or no file can take it.
    """
    told: dict[str, Row] = {"checks": look, "events": event or {}}
    told = {sheet: row for sheet, row in told.items() if any(row.values())}
    if not told:
        raise StudyError(tell("log_nothing"))
    photo_there(folder, look.get("photo", ""))
    number, today = founding.strip(), dt.date.today()

    def choose(sheets: Sheets) -> New:
        day = day_typed(date, known_of(sheets.tables, today)).strip() or today.isoformat()
        base = {"founding": number, "date": day}
        whose = as_known(keeper, foundings_typed(sheets).values()) or keeper_for(sheets, number)
        return {whose: {sheet: [{**base, **row}] for sheet, row in told.items()}}

    return write_rows(folder, choose, typed=True)


def photo_there(folder: Path, name: str) -> None:
    """Refuse a photograph that is not where the page will look for it."""
    if not name.strip():
        return
    looked = folder.resolve() / name.strip()
    ending = ", ".join(photos.ENDINGS)
    if looked.suffix.lower() not in photos.ENDINGS:
        raise StudyError(tell("photo_ending", name=name, endings=ending))
    there = photos.inside(folder, name.strip())
    if there is not None and Path(name.strip()).is_absolute():
        short = there.relative_to(folder.resolve()).as_posix()
        raise StudyError(tell("photo_path", name=name, short=short))
    if there is None:
        raise StudyError(tell("photo_none", name=name, looked=str(looked)))


def log_notes(folder: Path, notes: Path, *, keeper: str = "") -> Logged:
    """Add every line of a file of check notes.

    Parameters
    ----------
    folder : Path
        The study.
    notes : Path
        Text file, as `cohort.sheets.notes` reads it.
    keeper : str
        Whose file; told from the sheets or the numbers when blank.

    Raises
    ------
    SheetError
        If a line is not understood, or the audit finds an error. Nothing is written.
    """
    return log_message(folder, _note_bytes(folder, notes), notes.name, keeper=keeper)


def log_message(
    folder: Path,
    text: bytes,
    name: str = MESSAGE,
    *,
    keeper: str = "",
    today: dt.date | None = None,
) -> Logged:
    """Add every line of a message: check notes, or lines of a chat.

    Parameters
    ----------
    folder : Path
        The study.
    text : bytes
        As it came.
    name : str
        What findings call it.
    keeper : str
        Whose; told from the sheets, the sender or the numbers when blank.
    today : date, optional
        A date without a year is the last such day up to it; today by default.

    Raises
    ------
    SheetError
        If a line is not understood, or the audit finds an error. Nothing is written.
    """
    told: list[Finding] = []

    def choose(sheets: Sheets) -> New:
        read = all_notes(text, name, known_of(sheets.tables, today or dt.date.today()))
        told.extend(read.findings)
        if any(finding.level == "error" for finding in told):
            raise SheetError(told, refused(tell("nothing_written"), told))
        return _by_keeper(sheets, read.rows, name, keeper)

    done = write_rows(folder, choose, typed=True)
    return replace(done, findings=(*told, *done.findings))


def _by_keeper(
    sheets: Sheets, rows: Sequence[NoteRow], name: str, keeper: str
) -> dict[str, dict[str, list[Row]]]:
    """Rows of a note file by keeper and sheet."""
    signs = {*foundings_typed(sheets).values()} - {""}
    keeper = as_known(keeper, signs) or named_in_file(name, sheets)
    only = next(iter(signs)) if len(signs) == 1 else ""
    new: dict[str, dict[str, list[Row]]] = {}
    loose: list[NoteRow] = []
    for row in rows:
        for_all = row.cells["founding"].lower() in (words.REST, words.ALL)
        whose = keeper or (
            row.sender or only if for_all else keeper_for(sheets, row.cells["founding"])
        )
        if for_all and not whose:
            loose.append(row)
            continue
        new.setdefault(whose, {}).setdefault(row.sheet, []).append(row.cells)
    for row in loose:
        whose = _only(new, name, row.cells["founding"])
        new.setdefault(whose, {}).setdefault(row.sheet, []).append(row.cells)
    if not new:
        raise StudyError(tell("notes_empty", name=name))
    return new


def _note_bytes(folder: Path, notes: Path) -> bytes:
    try:
        if notes.resolve().parent == folder.resolve() and sheet_of(notes.stem, SHEET_NAMES):
            raise StudyError(tell("notes_there", name=notes.name))
        return bytes_of(notes, MAX_NOTES)
    except OSError as fault:
        why = fault.strerror or str(fault)
        raise StudyError(tell("notes_unread", file=str(notes), why=why)) from fault


def _only(new: Mapping[str, object], name: str, word: str) -> str:
    if len(new) == 1:
        return next(iter(new))
    raise StudyError(tell("whose_of_file", name=name, word=word))


# --- writing ------------------------------------------------------------------------------------


def write_rows(
    folder: Path,
    choose: Callable[[Sheets], New],
    *,
    also: Callable[[], Mapping[Path, bytes]] | None = None,
    typed: bool = False,
) -> Logged:
    """Audit new rows with all that is there, then add them to the keepers' CSV files.

    Parameters
    ----------
    folder : Path
        The study.
    choose : callable
        Given the sheets as they are, yields keeper -> sheet -> rows. All of it happens under the
        lock of the study, so two writers cannot pass the audit side by side.
    also : callable, optional
        Asked after the audit has passed the rows: whole files that come into being with them.
    typed : bool
        Whether a keeper typed the rows just now: then one that is in already is passed over, and
        a word that is none of those allowed is refused.

    Raises
    ------
    SheetError
        If the audit finds an error that was not there before. Nothing is written.
    """
    if not folder.is_dir():
        raise StudyError(tell("no_folder", folder=str(folder)))
    with locked(folder):
        sheets = read_folder(folder)
        chosen = choose(sheets)
        jobs = _jobs(folder, sheets, chosen)
        asked = sum(len(rows) for _, rows in jobs.values())
        if typed:
            jobs = not_yet_in(sheets, jobs)
        trial, pieces = sheets, []
        for path, (sheet, rows) in jobs.items():
            names = SHEETS[sheet].names
            before, after = start_of(path, names), appended(path, names, rows)
            pieces.append(piece(path.name, sheet, before, after))
            trial = with_file(trial, path.name, sheet, after)
        findings = _told(sheets, trial, chosen, jobs, typed) if jobs else []
        if any(finding.level == "error" for finding in findings):
            shown = [_by_founding(finding, trial, jobs) for finding in findings]
            raise SheetError(findings, refused(tell("nothing_written"), shown))
        if jobs:
            heads = {p: (SHEETS[sheet].names, rows) for p, (sheet, rows) in jobs.items()}
            new = dict(also()) if also else {}
            if typed:
                moment = dt.datetime.now().astimezone().isoformat(timespec="microseconds")
                new |= remembered(folder, Entry(moment, tuple(chosen), tuple(pieces)))
            put_rows(folder, heads, new)
    count = sum(len(rows) for _, rows in jobs.values())
    return Logged(tuple(jobs), count, tuple(findings), asked - count)


def _by_founding(finding: Finding, trial: Sheets, jobs: Jobs) -> Finding:
    """Finding on a row that is not in the file yet, placed by its founding and not by a row."""
    new = {path.name: len(rows) for path, (_, rows) in jobs.items()}
    for table in trial.tables:
        mine = table.file == finding.file and not table.tab
        if mine and finding.founding and finding.row in table.rows[-new.get(table.file, 0) :]:
            return replace(finding, file=finding.founding, row=0)
    return finding


def _jobs(folder: Path, sheets: Sheets, chosen: New) -> Jobs:
    """Rows by the file that takes them."""
    known = foundings_typed(sheets)
    jobs: Jobs = {}
    for keeper, by_sheet in chosen.items():
        for sheet, rows in by_sheet.items():
            path = target_of(folder, sheet, keeper, rows, known)
            jobs.setdefault(path, (sheet, []))[1].extend(rows)
    return jobs


def not_yet_in(sheets: Sheets, jobs: Jobs) -> Jobs:
    """The rows that no sheet holds yet, each once.

    A row is in when a row of the same sheet says the same in every cell, whatever file it stands
    in; `rest` and `all` speak of the foundings of their own file only, and are looked for there.
    """
    order = read_settings(sheets.of("study"))[0].date_order
    left: Jobs = {}
    for path, (sheet, rows) in jobs.items():
        contract = SHEETS[sheet]
        there = together(sheets, sheet)
        there = there[there["founding"].isin({row["founding"] for row in rows})]
        own = there["file_"] == path.name
        there = there[own | ~there["founding"].str.lower().isin(words.RESERVED_IDS)]
        held = {meant(contract, row, order) for row in there.to_dict("records")}
        for row in rows:
            said = meant(contract, row, order)
            if said not in held or row.get("corrects"):  # what was corrected back stands again
                held.add(said)
                left.setdefault(path, (sheet, []))[1].append(row)
    return left


def _told(before: Sheets, after: Sheets, chosen: New, jobs: Jobs, typed: bool) -> list[Finding]:
    """What the audit says of the new rows and of their keepers' foundings; errors all."""
    files = {path.name for path in jobs}
    of_keeper = foundings_typed(after)

    def asked(finding: Finding) -> bool:
        whose = of_keeper.get(finding.founding)
        mine = finding.file in files if whose is None else whose in chosen
        return mine or finding.level == "error"

    told = []
    for finding in new_findings(before, after, asked):
        if typed and finding.rule == "unknown-word" and finding.file in files:
            remedy, _, _ = finding.remedy.partition(" Until then")  # it is not written at all
            finding = replace(finding, level="error", remedy=remedy)
        told.append(finding)
    return told
