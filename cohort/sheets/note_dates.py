"""Dates in check notes: at the beginning of a line, or alone in it.

What comes in: a line. What goes out: the date as it is to stand in the sheet, and what follows
it. A date without a year is a day of the study where only one fits; what could be two days is
refused, with what to write.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from cohort.sheets.note_line import NotUnderstood
from cohort.sheets.sentences import tell
from cohort.terms import words
from cohort.terms.voice import either

if TYPE_CHECKING:
    from cohort.sheets.known import Known

HOW_DATE = tell("note_how_date")

_NAME = "|".join(sorted(map(re.escape, words.MONTHS), key=len, reverse=True))
_WORD = r"(?:(?P<word>[^\W\d_]{2,10})\.?,?\s+)?"  # such as the weekday
_YEAR = (
    r"(?P<year>[0-9]{1,4}\s?[-./]\s?[0-9]{1,2}\s?[-./]\s?[0-9]{1,4}"
    rf"|[0-9]{{1,2}}(?:\.|er)?\s+(?:de\s+)?(?:{_NAME})\b\.?,?\s+(?:de\s+)?[0-9]{{4}}"
    rf"|(?:{_NAME})\b\.?\s+[0-9]{{1,2}},?\s+[0-9]{{4}})(?![0-9])"
)
_NO_YEAR = (
    r"(?P<short>[0-9]{1,2}\s?(?P<between>[./])\s?[0-9]{1,2}\.?"
    rf"|[0-9]{{1,2}}(?:\.|er)?\s+(?:de\s+)?(?:{_NAME})\b\.?"
    rf"|(?:{_NAME})\b\.?\s+[0-9]{{1,2}}\b\.?)(?![0-9])"
)
_AT_START = re.compile(rf"{_WORD}(?:{_YEAR}|{_NO_YEAR})(?=[\s:,(]|\Z)", re.IGNORECASE)
_ALONE = re.compile(r"\s*[:.,]?\Z")
_SHORT = re.compile(r"([0-9]{1,2})\s?[./]\s?([0-9]{1,2})\.?")
_NUMBERS = re.compile(r"([0-9]{1,4})\s?([-./])\s?([0-9]{1,2})\s?\2\s?([0-9]{1,4})")


class Dated(NamedTuple):
    """A date at the beginning of a line: as typed, whether it has a year, and what follows."""

    typed: str
    year: bool
    rest: str


def dated(line: str) -> Dated | None:
    """Date with which a line begins; None where it begins with none.

    Any word may stand before a date alone in its line with its year, else a weekday only.
    """
    found = _AT_START.match(line)
    if not found:
        return None
    rest = line[found.end() :]
    rest = "" if _ALONE.match(rest) else rest.lstrip(" :,")
    plain = found["word"] is None or found["word"].lower() in words.WEEKDAYS
    if not plain and (rest or not found["year"]):
        return None
    return Dated(found["year"] or found["short"], found["year"] is not None, rest)


def day_typed(text: str, known: Known) -> str:
    """Day of a look typed just now, as ISO where one only can be meant; else as typed.

    Parameters
    ----------
    text : str
        With or without its year.
    known : Known
        With the day it is typed on: no look is of a day to come, nor of one before the first queen.
    """
    date = dated(text.strip())
    if date is None or date.rest:
        return text
    if not date.year:
        try:
            return day_of(date, known)
        except NotUnderstood:
            return text
    day = _of_the_past(date.typed, known)
    return text if day == date.typed else day


def _of_the_past(typed: str, known: Known) -> str:
    """Day of a date with its year: from the first queen on, up to today; as typed if several."""
    first, last = known.first or dt.date.min, known.today or dt.date.max
    can = {day for day in readings(typed, known.order) if first <= day <= last}
    return can.pop().isoformat() if len(can) == 1 else typed


def begins_dated(line: str) -> bool:
    """Whether a date stands at the beginning of a line, perhaps behind a word."""
    return bool(_AT_START.match(line))


def day_of(date: Dated, known: Known) -> str:
    """Date as it goes into the sheet: as typed where it has a year, else the day of the study.

    Raises
    ------
    NotUnderstood
        When no day of the study fits, or several do.
    """
    if not date.year:
        return _in_study(date.typed, known).isoformat()
    return _of_the_past(date.typed, known) if known.today else date.typed


def _in_study(typed: str, known: Known) -> dt.date:
    if known.first is None or known.last is None:
        raise NotUnderstood(tell("note_no_year"), HOW_DATE)
    pairs = dict.fromkeys(_months(typed, known.order))
    last = known.last if known.today is None else min(known.last, known.today)
    found = {
        day
        for month, of_month in pairs
        for year in range(known.first.year, known.last.year + 1)
        if (day := _day(year, month, of_month)) and known.first <= day <= last
    }
    if known.today is not None:  # looks go on when the agreed days are over
        latest = (_latest(*pair, known.today) for pair in pairs)
        found |= {day for day in latest if day and day >= known.first}
    can = sorted(found)
    if not can:
        until = str(known.today or known.last)
        raise NotUnderstood(
            tell("note_no_such_day", text=typed, first=str(known.first), last=until), HOW_DATE
        )
    if len(can) > 1:
        raise NotUnderstood(
            tell("note_several_days", text=typed, could=either(map(str, can))),
            tell("note_several_days_do", day=str(can[0])),
        )
    return can[0]


def _latest(month: int, of_month: int, today: dt.date) -> dt.date | None:
    """Last such day up to today: of a message just written nothing else is likely."""
    past = (_day(year, month, of_month) for year in range(today.year, today.year - 5, -1))
    return next((one for one in past if one and one <= today), None)


def _months(typed: str, order: str) -> list[tuple[int, int]]:
    """Month and day that a date without a year may mean."""
    short = _SHORT.fullmatch(typed)
    if short:
        one, two = int(short[1]), int(short[2])
        can = {"dmy": (two, one), "mdy": (one, two)}
        # Whoever writes the year first in sheets may write 12.7. in a note as others do.
        some = [can[order]] if order in can else [*can.values()]
        return [pair for pair in some if _day(2000, *pair)]
    return _by_name(typed)[0]


def _by_name(text: str) -> tuple[list[tuple[int, int]], str]:
    """Month and day of a date with the name of a month, and its year; nothing where it is none."""
    low = " ".join(re.findall(r"[0-9]+|[^\W\d_]+", text.lower())).replace(" de ", " ")
    found = re.fullmatch(rf"([0-9]{{1,2}})(?:er| er)? ({_NAME})(?: ([0-9]{{4}}))?", low)
    if found:
        return [(words.MONTHS[found[2]], int(found[1]))], found[3] or ""
    first = re.fullmatch(rf"({_NAME}) ([0-9]{{1,2}})(?: ([0-9]{{4}}))?", low)
    if first:
        return [(words.MONTHS[first[1]], int(first[2]))], first[3] or ""
    return [], ""


def _day(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


def readings(text: str, order: str = "") -> list[dt.date]:
    """Days of the calendar that a date with its year may mean.

    Parameters
    ----------
    text : str
        As typed.
    order : {"", "dmy", "mdy", "ymd"}
        Only the reading in this order, where it is given.
    """
    text = text.strip()
    numbers = _NUMBERS.fullmatch(text)
    if numbers:
        return [day for _, day in _of_numbers(numbers, order)]
    pairs, year = _by_name(text)
    days = [_day(int(year), month, day) for month, day in pairs if year]
    return [day for day in days if day]


def _of_numbers(found: re.Match[str], order: str) -> list[tuple[str, dt.date]]:
    one, two, three = found[1], int(found[3]), found[4]
    if len(one) == 4:
        day = _day(int(one), two, int(three)) if len(three) <= 2 else None
        return [("ymd", day)] if day else []
    if len(one) > 2 or len(three) not in (2, 4):
        return []
    year = int(three) + (2000 if len(three) == 2 else 0)
    can = {"dmy": _day(year, two, int(one)), "mdy": _day(year, int(one), two)}
    if len(three) == 2:
        can["ymd"] = _day(2000 + int(one), two, int(three))
    return [(name, day) for name, day in can.items() if day and order in ("", name)]


def order_of(texts: Sequence[str]) -> str:
    """The one order of day, month and year in which all of these are days; blank if several."""
    left = _orders(texts)
    return left.pop() if len(left) == 1 else ""


def _orders(texts: Sequence[str]) -> set[str]:
    left = set(words.DATE_ORDER)
    for text in texts:
        found = _NUMBERS.fullmatch(text.strip())
        if found and len(found[1]) < 4:
            left &= {name for name, _ in _of_numbers(found, "")}
    return left


def order_of_chat(texts: Sequence[str], known: Known) -> str:
    """Order of the dates that a messenger wrote; blank where it cannot be told.

    All of them have one order. It is the one in which a message falls into the days of the study,
    or where none does behind its first day, and not behind today; only where several do, what the
    study says of its own dates.
    """
    left = _orders(texts)
    if known.first and known.last:
        for last in (min(known.last, known.today or known.last), known.today or dt.date.max):
            if len(left) > 1:
                left = _between(texts, left, known.first, last) or left
    if len(left) > 1:
        left &= {known.order}
    return left.pop() if len(left) == 1 else ""


def _between(texts: Sequence[str], orders: set[str], first: dt.date, last: dt.date) -> set[str]:
    """Orders in which one of the dates falls between two days."""
    return {
        order
        for order in orders
        if any(first <= day <= last for text in texts for day in readings(text, order))
    }
