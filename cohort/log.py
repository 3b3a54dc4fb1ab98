"""Looks and events added to a study from the command line or from a note file.

What comes in: what was seen, as typed. What goes out: rows at the end of the CSV file of that
keeper, after the audit has passed them. A row with an error is not written; nothing is guessed,
and no workbook is touched.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from cohort.errors import Finding, SheetError, StudyError
from cohort.sheets.append import appended, locked, put_rows, safe_name
from cohort.sheets.delimited import read_delimited
from cohort.sheets.files import MAX_NOTES, bytes_of
from cohort.sheets.folder import read_folder
from cohort.sheets.notes import read_notes
from cohort.sheets.numbers import keeper_of
from cohort.sheets.raw import RawTable, Sheets, Source, column_name, sheet_of, tag_of
from cohort.terms import words
from cohort.terms.contract import SHEET_NAMES, SHEETS
from cohort.terms.near import did_you_mean

Row = Mapping[str, str]
New = Mapping[str, Mapping[str, Sequence[Row]]]


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
        Warnings and notes of the audit on the new rows.
    """

    files: tuple[Path, ...]
    rows: int
    findings: tuple[Finding, ...]


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
        Its number; ``rest`` (looks) or ``all`` (events) with `keeper`.
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
    base = {"founding": founding.strip(), "date": date.strip() or dt.date.today().isoformat()}
    new: dict[str, list[Row]] = {}
    if any(look.values()):
        new["checks"] = [{**base, **look}]
    if event and any(event.values()):
        new["events"] = [{**base, **event}]
    if not new:
        raise StudyError(
            "Nothing to write: say what you saw, such as --alive 3 --workers 0, or an event."
        )
    return write_rows(folder, lambda sheets: {keeper or _keeper(sheets, founding.strip()): new})


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
    tables, findings = read_notes(_note_bytes(folder, notes), notes.name)
    if any(finding.level == "error" for finding in findings):
        raise SheetError(findings, f"Nothing was written. {SheetError(findings)}")
    return write_rows(folder, lambda sheets: _by_keeper(sheets, tables, notes.name, keeper))


def _by_keeper(
    sheets: Sheets, tables: Sequence[RawTable], name: str, keeper: str
) -> dict[str, dict[str, list[Row]]]:
    """Rows of a note file by keeper and sheet."""
    new: dict[str, dict[str, list[Row]]] = {}
    loose: list[tuple[str, Row]] = []
    for table in tables:
        for row in table.frame.to_dict("records"):
            cells: Row = {str(heading): str(value) for heading, value in row.items()}
            if cells["founding"].lower() in (words.REST, words.ALL) and not keeper:
                loose.append((table.sheet, cells))
                continue
            whose = keeper or _keeper(sheets, cells["founding"])
            new.setdefault(whose, {}).setdefault(table.sheet, []).append(cells)
    for sheet, cells in loose:
        whose = _only(new, name, cells["founding"])
        new.setdefault(whose, {}).setdefault(sheet, []).append(cells)
    if not new:
        raise StudyError(f"{name}: no line with a look in it. Nothing was written.")
    return new


def _note_bytes(folder: Path, notes: Path) -> bytes:
    try:
        if notes.resolve().parent == folder.resolve() and sheet_of(notes.stem, SHEET_NAMES):
            raise StudyError(
                f"{notes.name} lies in the study and is read from there already; adding it again "
                "would count its lines twice. Nothing to do."
            )
        return bytes_of(notes, MAX_NOTES)
    except OSError as fault:
        raise StudyError(f"{notes}: cannot be read ({fault.strerror or fault}).") from fault


def _only(new: Mapping[str, object], name: str, word: str) -> str:
    if len(new) == 1:
        return next(iter(new))
    raise StudyError(
        f"{name}: '{word}' stands for the open foundings of one keeper, and the file does "
        "not tell which. Add --keeper, such as --keeper K2. Nothing was written."
    )


# --- whose file ---------------------------------------------------------------------------------


def foundings_typed(sheets: Sheets) -> dict[str, str]:
    """Numbers of foundings as typed -> keeper's sign (column, else file name, else number)."""
    out: dict[str, str] = {}
    for table in sheets.of("foundings"):
        names = {column_name(str(heading)): heading for heading in table.frame.columns}
        if "founding" not in names:
            continue
        tag = tag_of(table.file.rpartition(".")[0], SHEET_NAMES)
        signs = table.frame[names["keeper"]] if "keeper" in names else None
        for place, number in enumerate(table.frame[names["founding"]].astype(str)):
            sign = str(signs.iloc[place]) if signs is not None else ""
            out.setdefault(number, sign or tag or keeper_of(number))
    return out


def _keeper(sheets: Sheets, founding: str) -> str:
    known = foundings_typed(sheets)
    if founding in known:
        return known[founding]
    if founding.lower() in words.RESERVED_IDS:
        signs = set(known.values())
        if len(signs) == 1:
            return signs.pop()
        raise StudyError(
            f"'{founding}' stands for the open foundings of one keeper. Add --keeper, such as "
            "--keeper K2. Nothing was written."
        )
    raise StudyError(
        f"There is no founding '{founding}' in the study. {did_you_mean(founding, known)} "
        "Nothing was written. Write it into the sheet foundings first."
    )


def target(folder: Path, sheet: str, keeper: str) -> Path:
    """CSV file of a keeper's rows of a sheet.

    Parameters
    ----------
    folder : Path
        The study.
    sheet : str
        ``checks``, ``events`` or ``foundings``.
    keeper : str
        Sign; blank for a study without signs.

    Returns
    -------
    Path
        The keeper's file if there is one, else the study's one file without a sign if there is
        one, else a new file of the keeper. Always directly inside the folder.
    """
    sign = safe_name(keeper) if keeper else ""
    own = folder / (f"{sheet}-{sign}.csv" if sign else f"{sheet}.csv")
    common = folder / f"{sheet}.csv"
    return common if not own.exists() and common.exists() else own


# --- writing ------------------------------------------------------------------------------------


def write_rows(
    folder: Path, choose: Callable[[Sheets], New], *, first: Callable[[], None] | None = None
) -> Logged:
    """Audit new rows with all that is there, then add them to the keepers' CSV files.

    Parameters
    ----------
    folder : Path
        The study.
    choose : callable
        Given the sheets as they are, yields keeper -> sheet -> rows. All of it happens under the
        lock of the study, so two writers cannot pass the audit side by side.
    first : callable, optional
        Done after the audit has passed the rows and before they are written.

    Raises
    ------
    SheetError
        If the audit finds an error that was not there before. Nothing is written.
    """
    if not folder.is_dir():
        raise StudyError(f"There is no folder {folder}. Start a study with: cohort begin")
    with locked(folder):
        sheets = read_folder(folder)
        jobs: dict[Path, tuple[str, list[Row]]] = {}
        for keeper, by_sheet in choose(sheets).items():
            for sheet, rows in by_sheet.items():
                path = target(folder, sheet, keeper)
                jobs.setdefault(path, (sheet, []))[1].extend(rows)
        trial = sheets
        for path, (sheet, rows) in jobs.items():
            trial = with_file(trial, path.name, sheet, appended(path, SHEETS[sheet].names, rows))
        findings = new_findings(sheets, trial)
        if any(finding.level == "error" for finding in findings):
            raise SheetError(findings, f"Nothing was written. {SheetError(findings)}")
        if first is not None:
            first()
        for path, (sheet, rows) in jobs.items():
            put_rows(path, SHEETS[sheet].names, rows)
    count = sum(len(rows) for _, rows in jobs.values())
    return Logged(tuple(jobs), count, tuple(findings))


def with_file(sheets: Sheets, name: str, sheet: str, data: bytes) -> Sheets:
    """Sheets as they would be with these bytes in one CSV file."""
    table, notices = read_delimited(data, name, sheet)
    tables = [t for t in sheets.tables if t.file != name]
    sources = [s for s in sheets.sources if s.name != name]
    return Sheets(
        tuple(sorted([*tables, table], key=lambda t: (t.file, t.tab))),
        (*(n for n in sheets.notices if n.file != name), *notices),
        tuple(
            sorted([*sources, Source(name, hashlib.sha256(data).hexdigest())], key=lambda s: s.name)
        ),
    )


def new_findings(before: Sheets, after: Sheets) -> list[Finding]:
    """Findings of the audit that were not there before the rows were added."""
    from cohort.audit import audit

    def key(finding: Finding) -> tuple[str, ...]:
        return (finding.rule, finding.file, str(finding.row), finding.column, finding.what)

    old = {key(finding) for finding in audit(before)}
    return [finding for finding in audit(after) if key(finding) not in old]
