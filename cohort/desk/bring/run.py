"""Bringing a table into a study, step by step: look first, write when asked.

What comes in: a file and a study folder. What goes out: in the folder ``brought`` of the study
the original (with its checksum in the name), the mapping to correct and, once written, which name
got which number; rows in the keeper's CSV files. The file brought is never changed.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from cohort.audit.cells import Count
from cohort.base.errors import SheetError, StudyError
from cohort.desk.bring import again
from cohort.desk.bring.counted import counted
from cohort.desk.bring.grid import Grid, read_grid
from cohort.desk.bring.guess import Taken, guess
from cohort.desk.bring.mapping import ASK_FAILED, ASK_UNDER, Mapping, read_mapping, write_mapping
from cohort.desk.bring.rows import Brought, convert, keeps_own
from cohort.desk.bring.wide import (
    LOOK,
    OF_A_DAY,
    asks,
    counted_below,
    day_headings,
    known_days,
)
from cohort.desk.log import Logged, write_rows
from cohort.desk.sentences import refused, tell
from cohort.desk.whose import foundings_typed
from cohort.sheets.append import safe_name
from cohort.sheets.container import MAX_FILE
from cohort.sheets.files import bytes_of, inner
from cohort.sheets.folder import read_folder
from cohort.sheets.guard import guard
from cohort.sheets.known import Known, known_of
from cohort.sheets.lists import read_lists
from cohort.sheets.note_dates import order_of
from cohort.sheets.numbers import next_numbers
from cohort.sheets.put import replace as put_file
from cohort.sheets.raw import Sheets
from cohort.sheets.ready import ready_numbers
from cohort.sheets.sentences import tell as put

FOLDER = "brought"
"""Folder inside a study for originals and mappings; readers of sheets do not enter it."""


@dataclass(frozen=True)
class Look:
    """What was found in a file that is to be brought.

    Parameters
    ----------
    grid : Grid
    mapping : Mapping
        Proposed, or as corrected.
    taken : tuple of Taken
        Heading, field and why.
    mapping_file, original, names_file : Path
        Where they are kept in the study.
    new : bool
        Whether the mapping file was made just now.
    """

    grid: Grid
    mapping: Mapping
    taken: tuple[Taken, ...]
    mapping_file: Path
    original: Path
    names_file: Path
    new: bool


def look(
    file: Path,
    folder: Path,
    *,
    keeper: str = "",
    tab: str = "",
    failed: str = "",
    look_every: int | None = None,
    date_order: str = "",
    under_dates: str = "",
) -> Look:
    """Look at a file, keep the original and write the mapping file if there is none.

    Parameters
    ----------
    file : Path
        Somebody's own table (XLSX, ODS or CSV).
    folder : Path
        The study; must be there.
    keeper, tab, failed, look_every, date_order, under_dates
        Set or override what the mapping file says.

    Raises
    ------
    StudyError
        If the file or an existing mapping cannot be read.
    """
    data = _bytes(file)
    if not folder.is_dir():
        raise StudyError(tell("no_folder", folder=str(folder)))
    digest = hashlib.sha256(data).hexdigest()
    stem = f"{safe_name(file.stem)}-{digest[:10]}"
    place = inner(folder, FOLDER)
    paths = (
        place / f"{stem}.toml",
        place / f"{stem}{file.suffix.lower()}",
        place / f"{stem}-names.csv",
    )
    new = not paths[0].exists()
    read = None if new else read_mapping(_text(paths[0]), paths[0].name)
    known, last = read, again.earlier(place, safe_name(file.stem)) if new else None
    grid = read_grid(data, file.name, tab or (known.tab if known else ""))
    if known and date_order:
        known = replace(known, date_order=date_order)
    empty = Mapping(file.name, digest, grid.tab, {}, date_order=date_order)
    if last is not None and not date_order:
        empty = replace(empty, date_order=last.date_order)
    taken, proposed = _understood(grid, known or empty, folder)
    mapping = proposed if known is None else _filled_up(known, proposed)
    if last is not None:
        mapping = _as_last_time(mapping, last)
    mapping = replace(
        mapping,
        keeper=keeper or mapping.keeper,
        failed=failed or mapping.failed,
        look_every=mapping.look_every if look_every is None else look_every,
        under_dates=under_dates or mapping.under_dates,
    )
    shown = tuple(_as_mapped(t, mapping) for t in taken)
    try:
        inner(folder, FOLDER, make=True)
        if not paths[1].exists():
            put_file(paths[1], data)
        if mapping != read:
            put_file(paths[0], write_mapping(mapping, shown).encode("utf-8"))
    except OSError as fault:
        why = fault.strerror or str(fault)
        raise StudyError(put("put_no_writing", folder=str(place), why=why)) from fault
    return Look(grid, mapping, shown, *paths, new)


def _as_last_time(proposed: Mapping, last: Mapping) -> Mapping:
    """A mapping with the answers and corrections of an earlier one of the same table."""
    # queens alone: asked again, where by now two numbers stand in a cell
    counts = "" if last.under_dates == "queens" else last.under_dates
    fields = {heading: last.headings.get(heading, f) for heading, f in proposed.headings.items()}
    return replace(
        proposed,
        headings=fields,
        keeper=last.keeper,
        failed=last.failed,
        look_every=last.look_every,
        same_for_all=last.same_for_all,
        under_dates=proposed.under_dates or counts,
    )


def _filled_up(known: Mapping, proposed: Mapping) -> Mapping:
    """A mapping as it was corrected, with the days that can be told by now."""
    days = {heading: day or proposed.days.get(heading, "") for heading, day in known.days.items()}
    return replace(known, days=days, under_dates=known.under_dates or proposed.under_dates)


def _understood(grid: Grid, mapping: Mapping, folder: Path) -> tuple[tuple[Taken, ...], Mapping]:
    """What each heading is taken for, and the mapping to propose."""
    study = known_of(sheets_of(folder).tables)
    parts = dict(zip(grid.headings, grid.parts, strict=True))
    order = mapping.date_order or study.order or _order(grid)
    first = guess(grid, order)
    started = next((t.heading for t in first if t.field == "started"), "")
    window = known_days(grid.column(started) if started else [], order)
    if window[0] is None:
        window = (study.first, study.last)
    days = day_headings(parts, order, Known(order=order, first=window[0], last=window[1]))
    taken = guess(grid, order, days)
    fields = {t.heading: t.field for t in taken}
    told = {heading: day.day for heading, day in days.items()}
    counts = counted_below(below(grid, fields)) if days else ""
    made = replace(mapping, headings=fields, date_order=order, under_dates=counts, days=told)
    return taken, made


def _order(grid: Grid) -> str:
    """The one order in which all dates of a table are days, where there is one only."""
    cells = [text for row in grid.rows for text in row if len(text) <= 10]
    return order_of([*(part for pair in grid.parts for part in pair), *cells])


def below(grid: Grid, fields: dict[str, str]) -> list[tuple[str, str]]:
    """Cells below the days, each with the queens at the start of its row."""
    places = [j for j, heading in enumerate(grid.headings) if fields.get(heading) == LOOK]
    start = next((j for j, h in enumerate(grid.headings) if fields.get(h) == "queens"), None)
    return [
        (row[j], "" if start is None else _number(row[start])) for row in grid.rows for j in places
    ]


def _number(text: str) -> str:
    got = counted(text, "queens") if text else None
    return str(got.number) if isinstance(got, Count) else ""


def _bytes(file: Path) -> bytes:
    return bytes_of(file, MAX_FILE)


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as fault:
        raise StudyError(tell("mapping_unread", name=path.name)) from fault


def _as_mapped(taken: Taken, mapping: Mapping) -> Taken:
    field = mapping.headings.get(taken.heading, "")
    return taken if field == taken.field else Taken(taken.heading, field, tell("why_by_hand"))


def trial(seen: Look, sheets: Sheets, folder: Path) -> Brought:
    """Rows as they would be written.

    Raises
    ------
    StudyError
        If the mapping lacks what every founding needs.
    """
    mapping = seen.mapping
    lacking: list[str] = [name for name in ("started", "queens") if not mapping.has(name)]
    if not mapping.has("genus") and not mapping.has("kind"):
        lacking.append(tell("genus_or_kind"))
    if lacking:
        fields = tuple(lacking)
        raise StudyError(
            tell("bring_lacking", file=seen.grid.file, fields=fields, where=_where(seen))
        )
    if not mapping.keeper:
        raise StudyError(tell("bring_whose", where=_where(seen)))
    no_day = [
        heading
        for heading, field in mapping.headings.items()
        if field in OF_A_DAY and heading in seen.grid.headings and not mapping.days.get(heading)
    ]
    if no_day:
        named: str = ", ".join(map(repr, no_day[:3]))
        if no_day[3:]:
            named = tell("and_others", headings=named)
        raise StudyError(
            tell("bring_no_day", file=seen.grid.file, headings=named, where=_where(seen))
        )
    cells = [text for text, _ in below(seen.grid, mapping.headings)]
    if not mapping.under_dates and asks(cells):
        raise StudyError(
            tell("bring_under", file=seen.grid.file, ask=ASK_UNDER, where=_where(seen))
        )
    place, stem = inner(folder, FOLDER), safe_name(Path(seen.grid.file).stem)
    there = again.held(sheets, place, stem, mapping.keeper)
    numbers = _numbering(mapping.keeper, sheets, folder, there.numbers)
    brought = convert(seen.grid, mapping, numbers)
    return again.new_of(brought, there, sheets, (seen.grid.file, seen.grid.tab))


def _where(seen: Look) -> str:
    """The mapping file, as it is told in every message."""
    return tell("bring_where", file=seen.mapping_file.name, folder=FOLDER)


def _numbering(
    keeper: str, sheets: Sheets, folder: Path, there: dict[str, str]
) -> Callable[[str], str]:
    used = set(foundings_typed(sheets)) | {str(n) for n in read_lists(folder)["founding"]}
    ready = set(ready_numbers(folder, sheets))  # theirs for the foundings to come
    given: set[str] = set()

    def fresh() -> Iterator[str]:
        while True:
            yield next_numbers(keeper, used | given | ready, 1)[0]

    supply = fresh()

    def number(own: str) -> str:
        if own in there:
            return there[own]
        taken = own if keeps_own(own, keeper, used | given) else next(supply)
        given.add(taken)
        return taken

    return number


def write(seen: Look, folder: Path, *, without_faulty: bool = False) -> tuple[Logged, Brought]:
    """Add the rows to the study.

    Parameters
    ----------
    seen : Look
    folder : Path
    without_faulty : bool
        Leave out rows that cannot be brought; they are listed in the findings.

    Raises
    ------
    SheetError
        If a row cannot be brought (and is not to be left out), or the audit finds an error.
    StudyError
        If the question about the failed ones is open, or the file was brought before.
    """
    new = not seen.mapping.failed and bool(trial(seen, sheets_of(folder), folder).foundings)
    if new:
        raise StudyError(tell("bring_failed", ask=ASK_FAILED, where=_where(seen)))
    if seen.names_file.exists():
        names, mapping = seen.names_file.name, seen.mapping_file.name
        told = {"names": names, "folder": FOLDER, "mapping": mapping}
        raise StudyError(tell("bring_before", file=seen.grid.file, **told))
    held: list[Brought] = []

    def choose(sheets: Sheets) -> dict[str, dict[str, list[dict[str, str]]]]:
        brought = trial(seen, sheets, folder)
        if not without_faulty and any(f.level == "error" for f in brought.findings):
            raise SheetError(brought.findings, _with_mapping(seen, refused("", brought.findings)))
        if not (brought.foundings or brought.known):
            why = tell("bring_none", file=seen.grid.file)
            raise SheetError(brought.findings, _with_mapping(seen, why))
        held.append(brought)
        rows = {
            "foundings": list(brought.foundings),
            "checks": list(brought.checks),
            "events": list(brought.events),
        }
        return {seen.mapping.keeper: {sheet: r for sheet, r in rows.items() if r}}

    def with_names() -> dict[Path, bytes]:
        return {seen.names_file: _names(held[0])}

    try:
        logged = write_rows(folder, choose, also=with_names)
    except SheetError as fault:
        if _where(seen) in str(fault):
            raise
        raise SheetError(fault.findings, _with_mapping(seen, fault.args[0])) from fault
    return logged, held[0]


def _with_mapping(seen: Look, fault: str) -> str:
    return tell("bring_mapped", fault=fault, where=_where(seen))


def _names(brought: Brought) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("founding", "own_name", "row"))
    for number, own, row in brought.names:
        writer.writerow((number, guard(own), row))
    return out.getvalue().encode("utf-8")


def sheets_of(folder: Path) -> Sheets:
    """Sheets of the study; none when nothing lies in it yet."""
    try:
        return read_folder(folder)
    except StudyError:
        return Sheets((), (), ())
