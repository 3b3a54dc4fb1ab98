"""Rows of a brought table -> rows of the sheets.

What comes in: a grid and its mapping. What goes out: rows of ``foundings`` and ``checks`` and
findings about cells that could not be used. A blank stays a blank: a date, a count or a death
that is not in the table is in no sheet. Milestones become looks: a first worker on 12 July with
looks every 4 days was not there on 8 July.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from cohort.audit import cells as cell
from cohort.base.errors import Finding
from cohort.desk.bring.counted import counted
from cohort.desk.bring.grid import Grid
from cohort.desk.bring.mapping import Mapping
from cohort.desk.bring.row import Row
from cohort.desk.bring.row_looks import looks_of
from cohort.desk.bring.wide import OF_A_DAY
from cohort.desk.sentences import tell
from cohort.sheets.numbers import keeper_of
from cohort.terms.contract import SHEETS
from cohort.terms.genera import split_name
from cohort.terms.voice import beside

NOT_ALL = "brought: not all failed ones are in the file"
_OF_A_LOOK = ("last_look", "status", "queens_left", "workers", "note")


@dataclass(frozen=True)
class Brought:
    """Rows for the study.

    Parameters
    ----------
    foundings, checks : tuple of dict
        Column -> text.
    names : tuple of (str, str, int)
        Number given, own name, row in the file.
    findings : tuple of Finding
        An error for each row that was not brought, warnings for cells not used.
    events : tuple of dict
        Column -> text; told in a cell below a day.
    known : tuple of str
        Foundings of the table that are in the study already: their row is not written.
    already : int
        Their looks and events that are in already.
    """

    foundings: tuple[dict[str, str], ...]
    checks: tuple[dict[str, str], ...]
    names: tuple[tuple[str, str, int], ...]
    findings: tuple[Finding, ...]
    events: tuple[dict[str, str], ...] = ()
    known: tuple[str, ...] = ()
    already: int = 0


def convert(grid: Grid, mapping: Mapping, number: Callable[[str], str]) -> Brought:
    """Rows for the study.

    Parameters
    ----------
    grid : Grid
    mapping : Mapping
    number : callable
        Own name -> number of the founding (a new one each time).
    """
    foundings: list[dict[str, str]] = []
    checks: list[dict[str, str]] = []
    names: list[tuple[str, str, int]] = []
    events: list[dict[str, str]] = []
    findings: list[Finding] = list(grid.findings)
    faulty = {finding.row for finding in grid.findings if finding.level == "error"}
    for rows in _containers(grid, mapping):
        if faulty & {row.number for row in rows}:
            continue  # told already
        if len(rows) == 1 and _only_a_name(rows[0]):
            findings += rows[0].findings
            continue
        head = rows[0] if len(rows) == 1 else _merged(rows)
        founding = _founding(head)
        if founding is not None and not any(f.level == "error" for f in head.findings):
            own = head.cells.get("founding", "")
            founding["founding"] = number(own)
            if own and own != founding["founding"]:
                founding["note"] = _joined(f"own name: {own}", founding["note"])
            looks_of(head, rows, int(founding["queens"]), founding["started"])
            foundings.append(founding)
            names.append((founding["founding"], own, head.number))
            checks += [
                {"founding": founding["founding"], "date": day.isoformat(), **look}
                for day, look in sorted(head.looks.items())
            ]
            events += [{"founding": founding["founding"], **event} for event in head.events]
        findings += head.findings
    return Brought(tuple(foundings), tuple(checks), tuple(names), tuple(findings), tuple(events))


def _only_a_name(row: Row) -> bool:
    """Whether a row holds nothing but a name: a line of explanation, most likely; it is told."""
    if row.below or set(row.cells) - set(row.mapping.same_for_all) != {"founding"}:
        return False
    row.tell(
        "warning",
        "only-a-name",
        "founding",
        tell("only_a_name", text=row.cells["founding"]),
        tell("only_a_name_do"),
    )
    return True


def _containers(grid: Grid, mapping: Mapping) -> list[list[Row]]:
    """Rows of each container: those that bear the same own name belong together."""
    fields = {h: f for h, f in mapping.headings.items() if f and h in grid.headings}
    groups: dict[str, list[Row]] = {}
    for at, line in zip(grid.numbers, grid.rows, strict=True):
        cells = dict(mapping.same_for_all)
        cells |= {
            fields[h]: text
            for h, text in zip(grid.headings, line, strict=True)
            if h in fields and text and fields[h] not in OF_A_DAY
        }
        row = Row(cells, at, mapping, grid.file, grid.tab)
        row.below = {
            h: text
            for h, text in zip(grid.headings, line, strict=True)
            if fields.get(h) in OF_A_DAY and text
        }
        own = cells.get("founding", "") or f"\0{at}"  # without a name a row stands alone
        groups.setdefault(own, []).append(row)
    return list(groups.values())


def _merged(rows: list[Row]) -> Row:
    """What the rows of one container say of it; they must not contradict each other."""
    first = rows[0]
    head = Row({}, first.number, first.mapping, first.file, first.tab)
    for row in rows:
        for name, text in row.cells.items():
            if name in _OF_A_LOOK:
                continue
            if head.cells.setdefault(name, text) != text:
                row.tell(
                    "error",
                    "rows-differ",
                    name,
                    tell(
                        "rows_differ",
                        text=text,
                        other=head.cells[name],
                        row=str(first.number),
                    ),
                    tell("rows_differ_do"),
                )
                head.findings += row.findings
                row.findings.clear()
    return head


def _joined(*parts: str) -> str:
    return "; ".join(part for part in parts if part)


def _founding(row: Row) -> dict[str, str] | None:
    """Row of ``foundings``; None (and an error told) when something it needs is missing."""
    started = row.day("started", "error")
    queens = row.get("queens")
    got = counted(queens, "queens") if queens else None
    genus, more = split_name(row.get("genus"))
    kind = row.get("kind")
    usable = True
    if not row.get("started"):
        row.tell(
            "error",
            "nothing-there",
            "started",
            tell("no_day0"),
            tell("no_day0_do"),
        )
        usable = False
    if not isinstance(got, cell.Count) or got.number < 1 or got.at_least:
        row.tell(
            "error",
            "nothing-there",
            "queens",
            tell("odd_queens_in", text=queens) if queens else tell("no_queens_in"),
            tell("queens_in_do"),
        )
        usable = False
    if not genus and not kind:
        row.tell(
            "error",
            "nothing-there",
            "genus",
            tell("no_kind_in"),
            tell("no_kind_in_do"),
        )
        usable = False
    if not usable or started is None or not isinstance(got, cell.Count):
        return None
    out = {
        "genus": genus,
        "kind": "" if genus else kind,
        "species": row.get("species") or more,
        "started": started.isoformat(),
        "queens": str(got.number),
        "keeper": row.get("keeper") or row.mapping.keeper,
        "note": row.get("note"),
    }
    if re.search(r"[^\W\d_]", queens) and len(re.findall(r"\d+", queens)) > 1:
        out["note"] = _joined(out["note"], f"queens: {queens}")  # they were named one by one
    flight = row.day("flight_date")
    if flight:
        out["flight_date"] = flight.isoformat()
    _words(row, out)
    if row.mapping.failed != "all":
        out |= {"left_out": "other", "note": _joined(out["note"], NOT_ALL)}
    return out


def _words(row: Row, out: dict[str, str]) -> None:
    """Fixed words; what is none of them goes into the note, so that it is not lost."""
    for name in ("housing", "feeding"):
        text = row.cells.get(name, "")
        if not text:
            continue
        got = cell.word(text, SHEETS["foundings"].column(name))
        if isinstance(got, str):
            out[name] = got
        else:
            out["note"] = _joined(out["note"], f"{name}: {text}")
            row.tell(
                "note",
                "unknown-word",
                name,
                beside(got.what, tell("into_note")),
                tell("into_note_do"),
            )


def keeps_own(own: str, keeper: str, used: set[str]) -> bool:
    """Whether a typed name is a free number of the keeper's own series and may stay."""
    return bool(own) and own not in used and keeper_of(own) == keeper
