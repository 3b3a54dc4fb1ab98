"""Looks of a brought container: milestones, last looks, and what stands below days.

What comes in: the rows of one container. What goes out: the looks and events in them, kept in
its first row. A cell that is not understood is told, and kept as a note of its day.
"""

from __future__ import annotations

import datetime as dt

from cohort.audit import cells as cell
from cohort.base.errors import Finding
from cohort.desk.bring.counted import counted
from cohort.desk.bring.guess import ALIVE, DEAD
from cohort.desk.bring.row import BLANKS, Row
from cohort.desk.bring.wide import LOOK, look_of
from cohort.desk.sentences import tell
from cohort.sheets.note_line import NotUnderstood
from cohort.terms.voice import beside, each

_BROOD = ("eggs", "larvae", "pupae")


def looks_of(head: Row, rows: list[Row], queens: int, day0: str) -> None:
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
        _days(head, row, queens)


def _days(head: Row, row: Row, queens: int) -> None:
    """What stands below days: counts, or what a line of check notes may say."""
    for heading, text in row.below.items():
        what, iso = row.mapping.headings[heading], row.mapping.days.get(heading, "")
        day = dt.date.fromisoformat(iso)
        if text.lower() in BLANKS:
            continue
        if what == LOOK:
            _as_in_notes(head, row, heading, day, queens)
            continue
        name = "queens_left" if what == "look_queens" else "workers"
        got = counted(text, name)
        if isinstance(got, cell.Problem):
            _not_used(head, row, heading, beside(got.what, tell("not_used")), got.remedy)
            continue
        column = "queens_alive" if what == "look_queens" else "workers"
        _put(head, row, heading, day, {column: f"{got.number}{'+' if got.at_least else ''}"})


def _as_in_notes(head: Row, row: Row, heading: str, day: dt.date, queens: int) -> None:
    text = row.below[heading]
    try:
        named = counted(text, "queens_left")
        if isinstance(named, cell.Count) and not text.strip().rstrip("+").isdigit():
            text = f"{named.number}{'+' if named.at_least else ''} -"
        told = look_of(text, day.isoformat(), str(queens), row.mapping.under_dates)
    except NotUnderstood as why:
        what = beside(tell("not_understood", text=text, why=why.what), tell("kept_as_note"))
        _not_used(head, row, heading, what, why.remedy)
        head.put(day, note=text)
        return
    kept = ("queens_alive", "workers", "brood", "fed", "note")
    look = {name: (told.check or {}).get(name, "") for name in kept}
    _put(head, row, heading, day, {name: value for name, value in look.items() if value})
    for event in told.events:
        head.events.append({**event, "date": day.isoformat()})
        head.events[-1].pop("founding")


def _put(head: Row, row: Row, heading: str, day: dt.date, look: dict[str, str]) -> None:
    """Cells into the look of a day, unless another column says otherwise of it."""
    there = head.looks.get(day, {})
    said = {name: text for name, text in look.items() if name != "note"}
    apart = [name for name, text in said.items() if there.get(name, text) not in (text, "1+")]
    if apart:
        both = each(
            tell("here_elsewhere", name=name, here=look[name], there=there[name]) for name in apart
        )
        told = tell("said_twice", text=row.below[heading], day=str(day), what=both)
        _not_used(head, row, heading, beside(told, tell("not_used")), tell("said_twice_do"))
        return
    if look:
        notes = [text for text in (there.get("note", ""), look.get("note", "")) if text]
        head.put(day, **look | ({"note": "; ".join(dict.fromkeys(notes))} if notes else {}))


def _not_used(head: Row, row: Row, heading: str, what: str, remedy: str) -> None:
    """Tell of a cell below a day; `row` is where it stands."""
    head.findings.append(
        Finding(
            level="warning",
            rule="not-used",
            what=what,
            remedy=remedy,
            file=row.file,
            tab=row.tab,
            row=row.number,
            column=heading,
        )
    )


def _take_over(head: Row, row: Row) -> None:
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
                    tell("looks_differ", name=name, day=str(day), there=there[name], here=text),
                    tell("looks_differ_do"),
                )
                break
        else:
            head.put(day, **look, **({"note": note} if note else {}))
    head.findings += row.findings


def _last_look(row: Row, alive: str, dead: dt.date | None) -> None:
    status, left, workers = row.get("status").lower(), row.get("queens_left"), row.get("workers")
    day = row.day("last_look")
    if day is None:
        if not row.get("last_look") and (left or workers or (status and not dead)):
            row.tell(
                "warning",
                "no-day",
                "last_look",
                tell("no_last_day"),
                tell("no_last_day_do"),
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
            tell("odd_state", text=row.get("status")),
            tell("odd_state_do", alive=ALIVE[0], dead=DEAD[0]),
        )
    if workers:
        look["workers"] = _counted(row, "workers", workers)
    filled = {name: text for name, text in look.items() if text}
    if filled:
        row.put(day, **filled)


def _counted(row: Row, name: str, text: str) -> str:
    got = counted(text, name)
    if isinstance(got, cell.Problem):
        row.tell("warning", got.rule, name, beside(got.what, tell("not_used")), got.remedy)
        return ""
    return f"{got.number}{'+' if got.at_least else ''}"
