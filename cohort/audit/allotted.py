"""A founding that was allotted in a CSV sheet and is filled in in its keeper's workbook.

What comes in: raw sheets and the numbers of the drawn lists. What goes out: the sheets with one
row for such a founding, and findings where the two rows differ. `allot` writes the plan (kind,
queens, block) into a CSV sheet, for it never writes to a workbook; the keeper whose workbook has
the number ready fills it in there. Her row is the record: what she wrote stands, what she left
blank is known from the plan. No file is changed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from cohort.audit.alike import meant, plain, together
from cohort.audit.find import NOTHING, row_of, tell
from cohort.base.errors import Finding, Level
from cohort.sheets.found import Found
from cohort.sheets.raw import RawTable, Sheets, column_name
from cohort.terms.contract import FOUNDINGS
from cohort.terms.genera import spelled, split_name
from cohort.terms.voice import strung

_WHAT = ("kind", "genus")
_SMALL = ("started", "species")  # the plan bears the day of the draw; names come later


@dataclass(frozen=True)
class _Row:
    """A row of ``foundings``: its table, its place in it and its cells by the contract's names."""

    table: RawTable
    place: int
    cells: Mapping[str, str]

    @property
    def where(self) -> str:
        return row_of(self.table.file, self.table.rows[self.place])


def taken_up(sheets: Sheets, order: str) -> tuple[Sheets, Found]:
    """Sheets in which an allotted founding and its row in a workbook are one.

    Parameters
    ----------
    sheets : Sheets
        With `drawn`, the numbers of the lists.
    order : str
        Setting ``date_order``.

    Returns
    -------
    sheets : Sheets
        The same object when there is no such founding.
    findings : Found
        An error where the two rows speak of different queens, else what differs.
    """
    pairs = _pairs(sheets)
    if not pairs:
        return sheets, Found()
    genera = {str(r["kind"]): str(r["genus"]) for r in together(sheets, "kinds").to_dict("records")}
    findings: list[Finding] = []
    gone: dict[int, list[int]] = {}
    filled: dict[int, dict[int, dict[str, str]]] = {}
    for plan, record in pairs:
        gone.setdefault(id(plan.table), []).append(plan.place)
        filled.setdefault(id(record.table), {})[record.place] = _blanks(plan, record)
        findings += _told(plan, record, genera, order)
    tables = tuple(_changed(t, gone.get(id(t), []), filled.get(id(t), {})) for t in sheets.tables)
    return replace(sheets, tables=tables), Found.of(findings)


def _pairs(sheets: Sheets) -> list[tuple[_Row, _Row]]:
    """(row of the CSV sheet, row of the workbook) for each drawn number that has just these two."""
    found: dict[str, list[_Row]] = {}
    for table in sheets.of("foundings") if sheets.drawn else ():
        frame = plain(table)
        mine = np.flatnonzero(frame["founding"].isin(sheets.drawn).to_numpy())
        for place in mine.tolist():
            cells = {name: str(frame[name].iloc[place]) for name in FOUNDINGS.names}
            found.setdefault(cells["founding"], []).append(_Row(table, place, cells))
    both = [sorted(rows, key=lambda row: bool(row.table.tab)) for rows in found.values()]
    return [(a, b) for a, b in (r for r in both if len(r) == 2) if b.table.tab and not a.table.tab]


def _blanks(plan: _Row, record: _Row) -> dict[str, str]:
    """What the keeper left blank and the plan says; kind and genus are one thing."""
    named = any(record.cells[name] for name in _WHAT)
    return {
        name: text
        for name, text in plan.cells.items()
        if text and not record.cells[name] and not (named and name in (*_WHAT, "species"))
    }


def _label(row: _Row, genera: Mapping[str, str]) -> tuple[str, bool]:
    """Genus, else the own word for the kind; and whether a genus is known."""
    kind, genus = row.cells["kind"], row.cells["genus"] or genera.get(row.cells["kind"], "")
    first = split_name(genus)[0]
    return (spelled(first) or first, True) if first else (kind, False)


def _told(plan: _Row, record: _Row, genera: Mapping[str, str], order: str) -> list[Finding]:
    (theirs, sure), (own, _) = _label(plan, genera), _label(record, genera)
    sign, keeper = plan.cells["keeper"], record.cells["keeper"]
    if sign and keeper and sign != keeper:
        one, two = (tell("a_keeper", sign=who) for who in (sign, keeper))
        return [_others(record, "keeper", one, two, plan.where)]
    if own and sure and own.lower() != theirs.lower():
        column = "genus" if record.cells["genus"] else "kind"
        return [_others(record, column, theirs, own, plan.where)]
    a, b = (meant(FOUNDINGS, row.cells, order) for row in (plan, record))
    unlike = [
        name
        for name, one, two in zip(FOUNDINGS.names, a, b, strict=True)
        if "" not in (one, two) and one != two and name not in _WHAT
    ]
    if own and own != theirs:
        unlike.insert(0, "genus" if record.cells["genus"] else "kind")
    return [_differs(plan, record, unlike)] if unlike else []


def _others(record: _Row, column: str, theirs: str, own: str, where: str) -> Finding:
    """The two rows cannot be of the same queens."""
    number = record.cells["founding"]
    return _finding(
        record,
        "error",
        column,
        tell("allotted_others", number=number, theirs=theirs, where=where, own=own),
        tell("allotted_others_do"),
    )


def _differs(plan: _Row, record: _Row, unlike: list[str]) -> Finding:
    heavy = [name for name in unlike if name not in _SMALL]
    shown = strung(
        tell(
            "allotted_cell",
            column=name,
            here=record.cells[name],
            there=plan.cells[name] or plan.cells["kind"],
        )
        for name in unlike
    )
    number = record.cells["founding"]
    return _finding(
        record,
        "warning" if heavy else "note",
        (heavy or unlike)[0],
        tell("allotted_differs", number=number, where=plan.where, cells=shown),
        tell("allotted_differs_do") if heavy else NOTHING,
    )


def _finding(row: _Row, level: Level, column: str, what: str, remedy: str) -> Finding:
    return Finding(
        level=level,
        rule="allotted-row",
        file=row.table.file,
        tab=row.table.tab,
        row=int(row.table.rows[row.place]),
        column=column,
        founding=row.cells["founding"],
        what=what,
        remedy=remedy,
    )


def _changed(table: RawTable, gone: list[int], filled: Mapping[int, Mapping[str, str]]) -> RawTable:
    if not gone and not filled:
        return table
    columns = {str(heading): table.frame[heading].to_numpy(copy=True) for heading in table.frame}
    headings = {column_name(heading): heading for heading in reversed(list(columns))}
    for place, cells in filled.items():
        for name, text in cells.items():
            heading = headings.setdefault(name, name)
            blank = np.full(len(table.frame), "", dtype=object)
            columns.setdefault(heading, blank)[place] = text
    keep = ~np.isin(np.arange(len(table.frame)), gone)
    frame = pd.DataFrame(columns, dtype=object)[keep].reset_index(drop=True)
    return replace(table, frame=frame, rows=table.rows[keep])
