"""What the audit says of rows that are not written yet.

What comes in: sheets, and the bytes one file would have. What goes out: the sheets as they would
be, and the findings that were not there before. It writes nothing.
"""

from __future__ import annotations

import hashlib
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


def new_findings(before: Sheets, after: Sheets) -> list[Finding]:
    """Findings of the audit that were not there before the rows were added."""
    from cohort.audit import audit

    def key(finding: Finding) -> tuple[str, ...]:
        return (finding.rule, finding.file, str(finding.row), finding.column, finding.what)

    old = {key(finding) for finding in audit(before)}
    return [finding for finding in audit(after) if key(finding) not in old]
