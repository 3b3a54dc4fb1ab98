"""What the audit says of rows that are not written yet.

What comes in: sheets, and the bytes one file would have. What goes out: the sheets as they would
be, and the findings that were not there before. It writes nothing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace

from cohort.base.errors import Finding
from cohort.sheets.delimited import read_delimited
from cohort.sheets.raw import Sheets, Source


def with_file(sheets: Sheets, name: str, sheet: str, data: bytes) -> Sheets:
    """Sheets as they would be with these bytes in one CSV file."""
    table, notices = read_delimited(data, name, sheet)
    tables = [t for t in sheets.tables if t.file != name]
    sources = [s for s in sheets.sources if s.name != name]
    source = Source(name, hashlib.sha256(data).hexdigest())
    return replace(
        sheets,
        tables=tuple(sorted([*tables, table], key=lambda t: (t.file, t.tab))),
        notices=(*(n for n in sheets.notices if n.file != name), *notices),
        sources=tuple(sorted([*sources, source], key=lambda s: s.name)),
    )


def new_findings(
    before: Sheets, after: Sheets, asked: Callable[[Finding], bool] | None = None
) -> list[Finding]:
    """Findings of the audit that were not there before the rows were added.

    Parameters
    ----------
    before, after : Sheets
    asked : callable, optional
        Which of them are wanted; all by default.

    Returns
    -------
    list of Finding
        The sheets as they were are examined only where a finding may be an old one: what is found
        on a new row is new.
    """
    from cohort.audit import audit

    found = [finding for finding in audit(after) if asked is None or asked(finding)]
    rows = _new_rows(before, after)
    if all((finding.file, finding.tab, finding.row) in rows for finding in found):
        return found
    old = {_key(finding) for finding in audit(before)}
    return [finding for finding in found if _key(finding) not in old]


def _key(finding: Finding) -> tuple[str, ...]:
    return (finding.rule, finding.file, str(finding.row), finding.column, finding.what)


def _new_rows(before: Sheets, after: Sheets) -> set[tuple[str, str, int]]:
    """File, tab and row of each row that was not there before."""
    return _rows(after) - _rows(before)


def _rows(sheets: Sheets) -> set[tuple[str, str, int]]:
    return {(one.file, one.tab, int(row)) for one in sheets.tables for row in one.rows}
