"""Tables with a day above each column: which day, what was counted, and what a cell says.

What comes in: the headings of a grid, what is known of the study, a cell. What goes out: the day
of each such heading, and a look with the events in it, read as a line of check notes is.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from cohort.sheets import note_dates
from cohort.sheets.known import Known
from cohort.sheets.note_line import NotUnderstood
from cohort.sheets.note_lines import Line, read_line
from cohort.terms import words

LOOK = "look"
OF_A_DAY = (LOOK, "look_queens", "look_workers")
"""Fields that several headings may have, each with its day."""
UNDER_DATES = ("queens", "workers", "queens/workers")
"""What a bare number below a day may count."""

_HERE = "§"  # stands for the number of the founding, which the row tells
_PAIR = re.compile(r"(\d{1,6}\+?)\s*[/|]\s*(\d{1,6}\+?)(?=\s|\Z)")
_BARE = re.compile(r"\d{1,6}\+?")
_COUNTED = {"look_queens": words.QUEENS, "look_workers": words.WORKERS}


class DayHeading(NamedTuple):
    """A heading that is a day: the field, and the day (ISO; blank where it could be several)."""

    field: str
    day: str


def day_headings(
    parts: Mapping[str, tuple[str, str]], order: str, known: Known
) -> dict[str, DayHeading]:
    """Headings that are days.

    Parameters
    ----------
    parts : mapping
        Heading -> what stands above it, and itself.
    order : str
        How dates are typed.
    known : Known
        Days that one without a year may be.
    """
    out = {}
    for heading, (upper, lower) in parts.items():
        field, texts = _split(upper, lower)
        date = next((d for text in texts if (d := note_dates.dated(text)) and not d.rest), None)
        if date is not None:
            out[heading] = DayHeading(field, _day(date, order, known))
    return out


def _split(upper: str, lower: str) -> tuple[str, list[str]]:
    """Field of a heading, and the texts of which one may be its day."""
    for field, counted in _COUNTED.items():
        for word in counted:
            bare = re.sub(rf"(?i)(?<!\w){re.escape(word)}(?!\w)[\s:.]*", " ", lower, count=1)
            if bare != lower and len(word) > 1:
                return field, _joined(upper, bare.strip(" ,;:-"))
    return LOOK, _joined(upper, lower)


def _joined(upper: str, lower: str) -> list[str]:
    together = (f"{lower} {upper}", f"{lower}{upper}", f"{upper} {lower}") if upper else ()
    texts = [text.strip() for text in (*together, lower) if text.strip()]
    with_year = [t for t in texts if (d := note_dates.dated(t)) and d.year]
    return [*with_year, *texts]


def _day(date: note_dates.Dated, order: str, known: Known) -> str:
    if date.year:
        can = set(note_dates.readings(date.typed, order))
        return can.pop().isoformat() if len(can) == 1 else ""
    try:
        return note_dates.day_of(date, known)
    except NotUnderstood:
        return ""


def known_days(texts: Iterable[str], order: str) -> tuple[dt.date | None, dt.date | None]:
    """First day 0 of a table and the day a year later, less one: no day comes twice in it."""
    can = [set(note_dates.readings(text, order)) for text in texts if text]
    days = [day for some in can if len(some) == 1 for day in some]
    return (min(days), min(days) + dt.timedelta(days=364)) if days else (None, None)


def counted_below(cells: Iterable[tuple[str, str]]) -> str:
    """What the bare numbers below days count; blank where the cells do not tell.

    Parameters
    ----------
    cells : iterable of (str, str)
        Each cell, and the queens at the start of its row.
    """
    seen = [(text.strip(), start.strip()) for text, start in cells if text.strip()]
    if any(_PAIR.match(text) for text, _ in seen):
        return ""
    bare = [(text, start) for text, start in seen if _BARE.fullmatch(text)]
    fits = [start.isdigit() and int(text.rstrip("+")) <= int(start) for text, start in bare]
    return "queens" if bare and all(fits) else ""


def asks(cells: Iterable[str]) -> bool:
    """Whether a cell holds a number that does not say what it counts."""
    return any(_BARE.fullmatch(text.strip()) or _PAIR.match(text.strip()) for text in cells)


def look_of(text: str, day: str, queens: str, counts: str) -> Line:
    """What a cell below a day says, as a line of check notes.

    Raises
    ------
    NotUnderstood
        When anything in it is not certain.
    """
    pair = _PAIR.match(text)
    if pair and counts == "queens/workers":
        text = f"{pair[1]} {pair[2]}{text[pair.end() :]}"
    elif counts == "workers" and _BARE.match(text):
        text = f"- {text}"
    try:
        return read_line(f"{_HERE} {text}", day, Known({_HERE: queens}))
    except NotUnderstood as why:
        remedy = why.remedy.replace(f"{_HERE} ", "").replace("number, living", "living")
        raise NotUnderstood(
            why.what, remedy.replace("; such as K2-07 3 0", "; such as 3 0")
        ) from why
