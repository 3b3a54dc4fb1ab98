"""Ordinary mistakes of keepers, each put into a small season of three balconies.

The season is read on 15 July 2026. Text that begins with ``+`` is added to a file; ``a -> b``
replaces a in it. What must be said of each stands in `mistakes.md`; after a change that was meant,
``python tests/audit/mistakes.py`` writes that table anew: read each line of it before it is kept.
"""

from __future__ import annotations

import datetime as dt
import tempfile
from functools import cache
from pathlib import Path
from typing import NamedTuple

from cohort.audit import audit
from cohort.base.errors import Finding
from cohort.sheets.folder import read_folder

TODAY = dt.date(2026, 7, 15)
F1, F2, C1, C2, E1, KS = (
    "foundings-K1.csv",
    "foundings-K2.csv",
    "checks-K1.csv",
    "checks-K2.txt",
    "events-K1.csv",
    "kinds.csv",
)
HEAD_E = "founding,date,event,number,other,note\n"
OWN = "founding,date,queens_alive\nK1-02,2026-07-14,3\n"
SEASON = {
    "study.toml": 'title = "Three balconies"\nseason = "2026"\n',
    F1: "founding,genus,started,queens,keeper,from,left_out,arm,mating_seen,feeding\n"
    "K1-01,Lasius,2026-07-04,1,K1,,,,,\nK1-02,Lasius,2026-07-04,3,K1,,,,,\n"
    "K1-03,Messor,2026-07-05,2,K1,,,,,\n",
    F2: "founding,genus,started,queens,keeper\n"
    "K2-01,Lasius,2026-07-04,1,K2\nK2-02,Lasius,2026-07-06,3,K2\n",
    C1: "founding,date,queens_alive,workers,brood,fed,note\n"
    "K1-01,2026-07-08,1,0,eggs,,\nK1-02,2026-07-08,3,0,,,\nK1-03,2026-07-08,2,0,,,\n"
    "K1-01,2026-07-12,1,0,,,\nK1-02,2026-07-12,3,0,larvae,no,\nK1-03,2026-07-12,2,0,,,\n",
    C2: "2026-07-08\nK2-01 1 0 eggs\nK2-02 3 0\n\n2026-07-12\nK2-01 1 0\nK2-02 3 0 calm\n",
}


class Mistake(NamedTuple):
    """What a keeper did, and the files it is in."""

    name: str
    files: dict[str, str]


def row(cells: str) -> dict[str, str]:
    """A look more in the CSV file of keeper K1 (row 8)."""
    return {C1: f"+{cells}\n"}


def cell(old: str, new: str, file: str = C1) -> dict[str, str]:
    return {file: f"{old} -> {new}"}


def note(line: str) -> dict[str, str]:
    """A line more in the check notes of keeper K2 (line 8)."""
    return {C2: f"+{line}\n"}


def event(cells: str) -> dict[str, str]:
    return {E1: f"{HEAD_E}{cells}\n"}


MISTAKES = (
    # --- numbers of foundings
    Mistake("one number twice", {F1: "+K1-02,Messor,2026-07-06,1,K1,,,,,\n"}),
    Mistake("two keepers with one number", {F2: "+K1-01,Messor,2026-07-06,1,K2\n"}),
    Mistake("letter O for 0", row("K1-O2,2026-07-14,3,0,,,")),
    Mistake("zero of the number lost", row("K1-2,2026-07-14,3,0,,,")),
    Mistake("small letters in the number", row("k1-02,2026-07-14,3,0,,,")),
    Mistake("number of nobody", row("K1-07,2026-07-14,3,0,,,")),
    Mistake("a number left out", {F1: "+K1-05,Messor,2026-07-06,1,K1,,,,,\n"}),
    Mistake("number blank", row(",2026-07-14,3,0,,,")),
    # --- queens and workers
    Mistake("queens at the start blank", cell("2026-07-04,3", "2026-07-04,", F1)),
    Mistake("no queen at the start", cell("2026-07-04,3", "2026-07-04,0", F1)),
    Mistake("'3 queens' at the start", cell("2026-07-04,3", "2026-07-04,3 queens", F1)),
    Mistake("3+ at the start", cell("2026-07-04,3", "2026-07-04,3+", F1)),
    Mistake("'single' with three queens", cell("3,K1,,,,", "3,K1,,,single,", F1)),
    Mistake("more matings than queens", cell("3,K1,,,,", "3,K1,,,,4", F1)),
    Mistake("workers in the queens' column", row("K1-02,2026-07-14,12,3,,,")),
    Mistake("queens come back", row("K1-01,2026-07-14,2,0,,,")),
    Mistake("count in words", row("K1-02,2026-07-14,three,0,,,")),
    Mistake("a decimal", row('K1-02,2026-07-14,"2,5",0,,,')),
    Mistake("'ca. 3'", row("K1-02,2026-07-14,ca. 3,0,,,")),
    Mistake("'2-3'", row("K1-02,2026-07-14,2-3,0,,,")),
    Mistake("'20?' workers", row("K1-02,2026-07-14,3,20?,,,")),
    Mistake("'dead' for a count", row("K1-02,2026-07-14,dead,0,,,")),
    Mistake("a cross for a death", row("K1-02,2026-07-14,x,0,,,")),
    Mistake("a minus", row("K1-02,2026-07-14,-1,0,,,")),
    Mistake("queens and workers swapped", row("K1-02,2026-07-14,0,3,,,")),
    Mistake("'none' for 0 workers", row("K1-02,2026-07-14,3,none,,,")),
    Mistake("workers gone to 0", {C1: "+K1-02,2026-07-13,3,4,,,\nK1-02,2026-07-14,3,0,,,\n"}),
    Mistake("workers where no queen is", row("K1-02,2026-07-13,0,0,,,\nK1-02,2026-07-14,,5,,,")),
    # --- days
    Mistake("day and month swapped", row("K1-02,2026-12-07,3,0,,,")),
    Mistake("a date that could be two", row("K1-02,07/08/2026,3,0,,,")),
    Mistake("two digits of the year", row("K1-02,12.7.26,3,0,,,")),
    Mistake("the year of last season", row("K1-02,2025-07-14,3,0,,,")),
    Mistake("no year", row("K1-02,14.7.,3,0,,,")),
    Mistake("31 June", row("K1-02,2026-06-31,3,0,,,")),
    Mistake("a spreadsheet's bare number", row("K1-02,46217,3,0,,,")),
    Mistake("date blank", row("K1-02,,3,0,,,")),
    Mistake("'yesterday'", row("K1-02,yesterday,3,0,,,")),
    Mistake("look before the start", row("K1-03,2026-07-04,2,0,,,")),
    Mistake("started a month late", cell("K1-02,Lasius,2026-07-04", "K1-02,Lasius,2026-07-10", F1)),
    # --- words
    Mistake("genus misspelt", cell("K1-03,Messor", "K1-03,Mesor", F1)),
    Mistake("genus blank", cell("K1-03,Messor", "K1-03,", F1)),
    Mistake("two kinds in a cell", cell("K1-03,Messor", "K1-03,Messor/Lasius", F1)),
    Mistake("common name for a genus", cell("K1-03,Messor", "K1-03,harvester", F1)),
    Mistake("'cocoons' for brood", row("K1-02,2026-07-14,3,0,cocoons,,")),
    Mistake("'honey' for fed", row("K1-02,2026-07-14,3,0,,honey,")),
    Mistake("escaped, in the note", row("K1-02,2026-07-14,2,0,,,one escaped")),
    # --- events
    Mistake("'died' as an event", event("K1-02,2026-07-13,died,1,,")),
    Mistake("'escaped' as an event", event("K1-02,2026-07-13,escaped,1,,")),
    Mistake("queens out, no number", event("K1-02,2026-07-13,queens-out,,given,")),
    Mistake("more out than there were", event("K1-02,2026-07-13,queens-out,5,given,")),
    Mistake("end without a reason", event("K1-01,2026-07-13,end,,,")),
    Mistake("looks go on after the end", {**event("K1-01,2026-07-10,end,,given,")}),
    Mistake("parted, without 'from'", event("K1-02,2026-07-13,queens-out,1,K1-09,")),
    Mistake("event before the start", event("K1-03,2026-07-01,fight,,,")),
    # --- rows and files
    Mistake("two looks of a day disagree", row("K1-02,2026-07-12,2,0,,,")),
    Mistake("the row entered twice", row("K1-02,2026-07-12,3,0,larvae,no,")),
    Mistake("'rest' with a number", row("rest,2026-07-14,3,0,,,")),
    Mistake("'same' for one founding", row("K1-02,2026-07-14,same,0,,,")),
    Mistake("heading misspelt", cell("queens_alive", "quens_alive")),
    Mistake("needed heading gone", cell("founding,date", "founding,day")),
    Mistake("a comma too many", row("K1-02,2026-07-14,3,0,,,calm, and warm")),
    Mistake("a quotation mark left open", cell("-03,2026-07-08,2,0,,", '-03,2026-07-08,2,0,,"')),
    Mistake("a sheet under a name of one's own", {"K1 July.csv": OWN}),
    Mistake("notes under a name of one's own", {"balcony.txt": "2026-07-14\nK1-02 3 0\n"}),
    Mistake("horizon typed as words", {"study.toml": '+horizon_days = "half a year"\n'}),
    # --- check notes
    Mistake("note without a count", note("K2-02")),
    Mistake("note: words for counts", note("K2-02 three 0")),
    Mistake("note: '3/0'", note("K2-02 3/0")),
    Mistake("note: 'dead' of three queens", note("K2-02 dead")),
    Mistake("note: one escaped", note("K2-02 2 0 escaped")),
    Mistake("note: eggs?", note("K2-02 3 0 eggs?")),
    Mistake("note: two numbers in a line", note("K2-01 K2-02 1 0")),
    Mistake("note: a date that is none", note("14.13.\nK2-02 3 0")),
    Mistake("note: slip of the pen", note("K2-02 3 0 larvea")),
    Mistake("note: '~3'", note("K2-02 ~3 0")),
)  # fmt: skip


def season(place: Path, files: dict[str, str]) -> Path:
    """The season with a mistake in it."""
    for name, text in SEASON.items():
        (place / name).write_text(text, "utf-8")
    for name, text in files.items():
        path = place / name
        before = path.read_text("utf-8") if path.exists() else ""
        old, arrow, new = text.partition(" -> ")
        if text.startswith("+"):
            path.write_text(before + text[1:], "utf-8")
        elif arrow:
            assert before.count(old) >= 1, old
            path.write_text(before.replace(old, new, 1), "utf-8")
        else:
            path.write_text(text, "utf-8")
    return place


class Told(NamedTuple):
    """What the audit says of a mistake, the worst first; the rows it read; the files it was of."""

    findings: tuple[Finding, ...]
    rows: frozenset[tuple[str, int]]
    before: dict[str, bytes]
    after: dict[str, bytes]


@cache
def told(number: int) -> Told:
    """What is said of a mistake, by its place among `MISTAKES`."""
    with tempfile.TemporaryDirectory() as made:
        place = season(Path(made), MISTAKES[number].files)
        before = {path.name: path.read_bytes() for path in place.iterdir()}
        sheets = read_folder(place)
        found = tuple(audit(sheets, TODAY))
        after = {path.name: path.read_bytes() for path in place.iterdir()}
    rows = frozenset((table.file, int(row)) for table in sheets.tables for row in table.rows)
    return Told(found, rows, before, after)


def table() -> str:
    """Each mistake with all that is said of it."""
    lines = ["| what was done | | where | what is said | what to do |", "|---|---|---|---|---|"]
    for number, mistake in enumerate(MISTAKES):
        for finding in told(number).findings:
            said = (mistake.name, finding.level, finding.where, finding.what, finding.remedy)
            lines.append("| " + " | ".join(said) + " |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    Path(__file__).with_suffix(".md").write_text(table(), "utf-8")
