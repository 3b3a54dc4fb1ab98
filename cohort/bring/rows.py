"""Rows of a brought table -> rows of the sheets.

What comes in: a grid and its mapping. What goes out: rows of ``foundings`` and ``checks`` and
findings about cells that could not be used. A blank stays a blank: a date, a count or a death
that is not in the table is in no sheet. Milestones become looks: a first worker on 12 July with
looks every 4 days was not there on 8 July.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field

from cohort.audit import cells as cell
from cohort.bring.grid import Grid
from cohort.bring.guess import ALIVE, DEAD
from cohort.bring.mapping import Mapping
from cohort.errors import Finding, Level
from cohort.sheets.numbers import keeper_of
from cohort.terms.contract import SHEETS
from cohort.terms.genera import split_name

BLANKS = ("-", "–", "?", "n/a", "na", "none", "unknown", "not yet", "/")
"""What people write where nothing is known; read as blank, except in a note."""
NOT_ALL = "brought: not all failed ones are in the file"
_BROOD = ("eggs", "larvae", "pupae")


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
    """

    foundings: tuple[dict[str, str], ...]
    checks: tuple[dict[str, str], ...]
    names: tuple[tuple[str, str, int], ...]
    findings: tuple[Finding, ...]


@dataclass
class _Row:
    """One row while it is read."""

    cells: dict[str, str]
    number: int
    mapping: Mapping
    file: str
    tab: str
    findings: list[Finding] = field(default_factory=list)
    looks: dict[dt.date, dict[str, str]] = field(default_factory=dict)

    def get(self, name: str) -> str:
        text = self.cells.get(name, "")
        return "" if name != "note" and text.lower() in BLANKS else text

    def tell(self, level: Level, rule: str, name: str, what: str, remedy: str) -> None:
        self.findings.append(Finding(
            level=level, rule=rule, what=what, remedy=remedy, file=self.file, tab=self.tab,
            row=self.number, column=self.mapping.heading(name) or name))

    def day(self, name: str, level: Level = "warning") -> dt.date | None:
        text = self.get(name)
        if not text:
            return None
        got = cell.date(text, self.mapping.date_order)
        if isinstance(got, dt.date):
            return got
        remedy = got.remedy if got.rule != "date-ambiguous" else (
            "Say in the mapping file how dates are typed: date_order = \"dmy\" or \"mdy\".")
        self.tell(level, got.rule, name, f"{got.what} It was not used.", remedy)
        return None

    def put(self, day: dt.date, **cells: str) -> None:
        self.looks.setdefault(day, {}).update(cells)


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
    findings: list[Finding] = list(grid.findings)
    fields = {h: f for h, f in mapping.headings.items() if f and h in grid.headings}
    for at, line in zip(grid.numbers, grid.rows, strict=True):
        cells = dict(mapping.same_for_all)
        cells |= {fields[h]: text for h, text in zip(grid.headings, line, strict=True)
                  if h in fields and text}
        row = _Row(cells, at, mapping, grid.file, grid.tab)
        founding = _founding(row)
        if founding is not None:
            own = cells.get("founding", "")
            founding["founding"] = number(own)
            if own and own != founding["founding"]:
                founding["note"] = _joined(f"own name: {own}", founding["note"])
            _looks(row, int(founding["queens"]), dt.date.fromisoformat(founding["started"]))
            foundings.append(founding)
            names.append((founding["founding"], own, at))
            checks += [{"founding": founding["founding"], "date": day.isoformat(), **look}
                       for day, look in sorted(row.looks.items())]
        findings += row.findings
    return Brought(tuple(foundings), tuple(checks), tuple(names), tuple(findings))


def _joined(*parts: str) -> str:
    return "; ".join(part for part in parts if part)


def _founding(row: _Row) -> dict[str, str] | None:
    """Row of ``foundings``; None (and an error told) when something it needs is missing."""
    started = row.day("started", "error")
    queens = row.get("queens")
    got = cell.count(queens, SHEETS["foundings"].column("queens")) if queens else None
    genus, more = split_name(row.get("genus"))
    kind = row.get("kind")
    usable = True
    if not row.get("started"):
        row.tell("error", "nothing-there", "started", "No day 0 in this row; it was not brought.",
                 "Write the day on which the last queen went in, if it is known.")
        usable = False
    if not isinstance(got, cell.Count) or got.number < 1:
        row.tell("error", "nothing-there", "queens",
                 f"{f"'{queens}' is no number of queens" if queens else 'No number of queens'} in "
                 "this row; it was not brought.", "Write how many queens went in.")
        usable = False
    if not genus and not kind:
        row.tell("error", "nothing-there", "genus", "Neither genus nor kind in this row; it was "
                 "not brought.", "Write an own word for the kind if the genus is not known.")
        usable = False
    if not usable or started is None or not isinstance(got, cell.Count):
        return None
    out = {"genus": genus, "kind": "" if genus else kind, "species": row.get("species") or more,
           "started": started.isoformat(), "queens": str(got.number),
           "keeper": row.get("keeper") or row.mapping.keeper, "note": row.get("note")}
    flight = row.day("flight_date")
    if flight:
        out["flight_date"] = flight.isoformat()
    _words(row, out)
    if row.mapping.failed != "all":
        out |= {"left_out": "other", "note": _joined(out["note"], NOT_ALL)}
    return out


def _words(row: _Row, out: dict[str, str]) -> None:
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
            row.tell("note", "unknown-word", name, f"{got.what} It went into the note.",
                     "Write one of these words if one fits.")


def _looks(row: _Row, queens: int, started: dt.date) -> None:
    """Milestones and the last look as rows of ``checks``."""
    for stage in _BROOD:
        day = row.day(stage)
        if day:
            row.put(day, brood=stage)
    every = dt.timedelta(days=row.mapping.look_every)
    alive = "1" if queens == 1 else "1+"
    worker = row.day("first_worker")
    if worker:
        row.put(worker, workers="1+")
        if every and worker - every > started:
            row.put(worker - every, workers="0")
    dead = row.day("all_dead")
    if dead:
        row.put(dead, queens_alive="0")
        if every and dead - every > started:
            row.put(dead - every, queens_alive=alive)
    _last_look(row, alive, dead)


def _last_look(row: _Row, alive: str, dead: dt.date | None) -> None:
    status, left, workers = row.get("status").lower(), row.get("queens_left"), row.get("workers")
    day = row.day("last_look")
    if day is None:
        if not row.get("last_look") and (left or workers or (status and not dead)):
            row.tell("warning", "no-day", "last_look", "It says how things were at the last look, "
                     "but not when that was; it was not used.", "Write the day of the last look.")
        return
    look: dict[str, str] = {}
    if left:
        look["queens_alive"] = _counted(row, "queens_left", left)
    elif status in ALIVE:
        look["queens_alive"] = alive
    elif status in DEAD and (dead is None or day >= dead):
        look["queens_alive"] = "0"
    elif status and status not in DEAD:
        row.tell("warning", "unknown-word", "status", f"'{row.get('status')}' says neither alive "
                 "nor dead; it was not used.", f"Write {ALIVE[0]} or {DEAD[0]}.")
    if workers:
        look["workers"] = _counted(row, "workers", workers)
    filled = {name: text for name, text in look.items() if text}
    if filled:
        row.put(day, **filled)


def _counted(row: _Row, name: str, text: str) -> str:
    got = cell.count(text, SHEETS["checks"].column("workers"))
    if isinstance(got, cell.Problem):
        row.tell("warning", got.rule, name, f"{got.what} It was not used.", got.remedy)
        return ""
    return f"{got.number}{'+' if got.at_least else ''}"


def keeps_own(own: str, keeper: str, used: set[str]) -> bool:
    """Whether a typed name is a free number of the keeper's own series and may stay."""
    return bool(own) and own not in used and keeper_of(own) == keeper
