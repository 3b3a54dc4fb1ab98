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
from cohort.base.errors import Finding, Level
from cohort.desk.bring.grid import Grid
from cohort.desk.bring.guess import ALIVE, DEAD
from cohort.desk.bring.mapping import Mapping
from cohort.sheets.numbers import keeper_of
from cohort.terms.contract import SHEETS
from cohort.terms.genera import split_name

BLANKS = ("-", "–", "?", "n/a", "na", "none", "unknown", "not yet", "/")
"""What people write where nothing is known; read as blank, except in a note."""
NOT_ALL = "brought: not all failed ones are in the file"
_OF_A_LOOK = ("last_look", "status", "queens_left", "workers", "note")
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
        text = self.get(name)
        if not text:
            return None
        got = cell.date(text, self.mapping.date_order)
        if isinstance(got, dt.date):
            return got
        remedy = (
            got.remedy
            if got.rule != "date-ambiguous"
            else ('Say in the mapping file how dates are typed: date_order = "dmy" or "mdy".')
        )
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
    faulty = {finding.row for finding in grid.findings if finding.level == "error"}
    for rows in _containers(grid, mapping):
        if faulty & {row.number for row in rows}:
            continue  # told already
        head = rows[0] if len(rows) == 1 else _merged(rows)
        founding = _founding(head)
        if founding is not None and not any(f.level == "error" for f in head.findings):
            own = head.cells.get("founding", "")
            founding["founding"] = number(own)
            if own and own != founding["founding"]:
                founding["note"] = _joined(f"own name: {own}", founding["note"])
            _looks(head, rows, int(founding["queens"]), founding["started"])
            foundings.append(founding)
            names.append((founding["founding"], own, head.number))
            checks += [
                {"founding": founding["founding"], "date": day.isoformat(), **look}
                for day, look in sorted(head.looks.items())
            ]
        findings += head.findings
    return Brought(tuple(foundings), tuple(checks), tuple(names), tuple(findings))


def _containers(grid: Grid, mapping: Mapping) -> list[list[_Row]]:
    """Rows of each container: those that bear the same own name belong together."""
    fields = {h: f for h, f in mapping.headings.items() if f and h in grid.headings}
    groups: dict[str, list[_Row]] = {}
    for at, line in zip(grid.numbers, grid.rows, strict=True):
        cells = dict(mapping.same_for_all)
        cells |= {
            fields[h]: text
            for h, text in zip(grid.headings, line, strict=True)
            if h in fields and text
        }
        own = cells.get("founding", "") or f"\0{at}"  # without a name a row stands alone
        groups.setdefault(own, []).append(_Row(cells, at, mapping, grid.file, grid.tab))
    return list(groups.values())


def _merged(rows: list[_Row]) -> _Row:
    """What the rows of one container say of it; they must not contradict each other."""
    first = rows[0]
    head = _Row({}, first.number, first.mapping, first.file, first.tab)
    for row in rows:
        for name, text in row.cells.items():
            if name in _OF_A_LOOK:
                continue
            if head.cells.setdefault(name, text) != text:
                row.tell(
                    "error",
                    "rows-differ",
                    name,
                    f"'{text}' here, '{head.cells[name]}' in row {first.number} of the same "
                    "container; it was not brought.",
                    "Correct the one that is wrong, or say in the mapping file what the heading "
                    "is (queens_left: at that look).",
                )
                head.findings += row.findings
                row.findings.clear()
    return head


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
        row.tell(
            "error",
            "nothing-there",
            "started",
            "No day 0 in this row; it was not brought.",
            "Write the day on which the last queen went in, if it is known.",
        )
        usable = False
    if not isinstance(got, cell.Count) or got.number < 1:
        row.tell(
            "error",
            "nothing-there",
            "queens",
            f"{f"'{queens}' is no number of queens" if queens else 'No number of queens'} in "
            "this row; it was not brought.",
            "Write how many queens went in.",
        )
        usable = False
    if not genus and not kind:
        row.tell(
            "error",
            "nothing-there",
            "genus",
            "Neither genus nor kind in this row; it was not brought.",
            "Write an own word for the kind if the genus is not known.",
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
            row.tell(
                "note",
                "unknown-word",
                name,
                f"{got.what} It went into the note.",
                "Write one of these words if one fits.",
            )


def _looks(head: _Row, rows: list[_Row], queens: int, day0: str) -> None:
    """Milestones and looks of a container as rows of ``checks``."""
    started = dt.date.fromisoformat(day0)
    for stage in _BROOD:
        day = head.day(stage)
        if day:
            head.put(day, brood=stage)
    every = dt.timedelta(days=head.mapping.look_every)
    alive = "1" if queens == 1 else "1+"
    worker = head.day("first_worker")
    if worker:
        head.put(worker, workers="1+")
        if every and worker - every > started:
            head.put(worker - every, workers="0")
    dead = head.day("all_dead")
    if dead:
        head.put(dead, queens_alive="0")
        if every and dead - every > started:
            head.put(dead - every, queens_alive=alive)
    for row in rows:
        _last_look(row, alive, dead)
        if row is not head:
            _take_over(head, row)


def _take_over(head: _Row, row: _Row) -> None:
    """Look of one row of several into the container's looks."""
    note = row.get("note")
    for day, look in row.looks.items():
        there = head.looks.get(day, {})
        for name, text in look.items():
            if there.get(name, text) not in (text, "1+"):
                row.tell(
                    "warning",
                    "looks-differ",
                    "last_look",
                    f"{name} on {day} is {there[name]} in one row and {text} in this one; "
                    "this one was not used.",
                    "Look which is right.",
                )
                break
        else:
            head.put(day, **look, **({"note": note} if note else {}))
    head.findings += row.findings


def _last_look(row: _Row, alive: str, dead: dt.date | None) -> None:
    status, left, workers = row.get("status").lower(), row.get("queens_left"), row.get("workers")
    day = row.day("last_look")
    if day is None:
        if not row.get("last_look") and (left or workers or (status and not dead)):
            row.tell(
                "warning",
                "no-day",
                "last_look",
                "It says how things were at the last look, but not when that was; it was not used.",
                "Write the day of the last look.",
            )
        return
    look: dict[str, str] = {}
    if left:
        look["queens_alive"] = _counted(row, "queens_left", left)
    elif status in ALIVE:
        look["queens_alive"] = alive
    elif status in DEAD and (dead is None or day >= dead):
        look["queens_alive"] = "0"
    elif status and status not in DEAD:
        row.tell(
            "warning",
            "unknown-word",
            "status",
            f"'{row.get('status')}' says neither alive nor dead; it was not used.",
            f"Write {ALIVE[0]} or {DEAD[0]}.",
        )
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
