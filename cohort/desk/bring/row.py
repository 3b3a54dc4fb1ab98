"""One row of a brought table while it is read: its cells, the looks made of it, what is told.

What comes in: cells by field. What goes out: days and texts, and findings with their place.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from cohort.audit import cells as cell
from cohort.base.errors import Finding, Level
from cohort.desk.bring.mapping import Mapping
from cohort.desk.sentences import tell
from cohort.terms.voice import beside

BLANKS = ("-", "–", "?", "n/a", "na", "none", "unknown", "not yet", "/")
"""What people write where nothing is known; read as blank, except in a note."""


@dataclass
class Row:
    """One row while it is read."""

    cells: dict[str, str]
    number: int
    mapping: Mapping
    file: str
    tab: str
    findings: list[Finding] = field(default_factory=list)
    looks: dict[dt.date, dict[str, str]] = field(default_factory=dict)
    below: dict[str, str] = field(default_factory=dict)
    events: list[dict[str, str]] = field(default_factory=list)

    def get(self, name: str) -> str:
        """Cell of a field; blank where the sign in it says that nothing is known."""
        text = self.cells.get(name, "")
        return "" if name != "note" and text.lower() in BLANKS else text

    def tell(self, level: Level, rule: str, name: str, what: str, remedy: str) -> None:
        """Keep a finding on the cell of a field."""
        self.findings.append(
            Finding(
                level=level,
                rule=rule,
                what=what,
                remedy=remedy,
                file=self.file,
                tab=self.tab,
                row=self.number,
                column=self.mapping.heading(name) or name,
            )
        )

    def day(self, name: str, level: Level = "warning") -> dt.date | None:
        """Day in the cell of a field; None where it is blank, or is none (which is told)."""
        text = self.get(name)
        if not text:
            return None
        got = cell.date(text, self.mapping.date_order)
        if isinstance(got, dt.date):
            return got
        remedy = got.remedy if got.rule != "date-ambiguous" else tell("order_do")
        self.tell(level, got.rule, name, beside(got.what, tell("not_used")), remedy)
        return None

    def put(self, day: dt.date, **cells: str) -> None:
        """Add cells to the look of a day."""
        self.looks.setdefault(day, {}).update(cells)
