"""One cell as typed -> its value, or what is wrong with it.

What comes in: the text of a cell and the column it stands in. What goes out: a value, or a
`Problem` with words for a keeper. Each function knows one kind of cell and nothing of the row;
what could be read in two ways is never guessed.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from typing import NamedTuple

from cohort.audit.find import tell
from cohort.terms import instead, words
from cohort.terms.columns import Column
from cohort.terms.near import did_you_mean
from cohort.terms.voice import either


class Problem(NamedTuple):
    """What is wrong with a cell, and what to do."""

    rule: str
    what: str
    remedy: str


class Count(NamedTuple):
    """A count; `at_least` for ``5+``."""

    number: int
    at_least: bool


_COUNT = re.compile(r"(\d{1,9})(?:[.,]0+)?\s*(\+?)", re.ASCII)
_NUMBER = re.compile(r"[+-]?\d{1,9}(?:[.,]\d{1,12})?", re.ASCII)
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]\d{1,2}:\d{2}\S*)?", re.ASCII)
_COMPACT = re.compile(r"((?:19|20)\d{2})(\d{2})(\d{2})", re.ASCII)
_SHORT = re.compile(r"(\d{1,2})([./ -])\s?(\d{1,2})\2\s?(\d{4}|\d{2})", re.ASCII)
_NAMED = re.compile(
    r"([0-9]{1,2})(?:\.|er)?[ -]+(?:de )?([^\W\d_]{3,10})\.?,?[ -]+(?:de )?([0-9]{4})"
)
_NAMED_FIRST = re.compile(r"([^\W\d_]{3,10})\.? +([0-9]{1,2}),? +([0-9]{4})")
_NO_YEAR = re.compile(
    r"[0-9]{1,2}[./-][0-9]{1,2}[./-]?|[0-9]{1,2}(?:\.|er)?[ -]+(?:de )?[^\W\d_]{3,10}\.?"
    r"|[^\W\d_]{3,10}\.? +[0-9]{1,2}\.?"
)
_FAR = 5  # a reading so many years before another of the same text is not proposed
_WRITE_ISO = tell("write_iso")


def count(text: str, column: Column) -> Count | Problem:
    """Whole number, 0 or more; ``5+`` where the column takes it."""
    found = _COUNT.fullmatch(text)
    if found is None:
        return Problem(
            "not-a-count",
            tell("not_a_count", text=text),
            instead.for_count(text, column) or _number_alone(column),
        )
    if found[2] and not column.at_least:
        return Problem("not-exact", tell("not_exact", text=text), tell("not_exact_do"))
    return Count(int(found[1]), bool(found[2]))


def _number_alone(column: Column) -> str:
    if column.at_least:
        return tell("not_a_count_do_at_least")
    return tell("not_a_count_do", number=column.example)


def number(text: str, column: Column) -> float | Problem:
    """Number with a decimal point or comma; days may not be below 0."""
    if _NUMBER.fullmatch(text) is None:
        return Problem(
            "not-a-number",
            tell("not_a_number", text=text),
            tell("not_a_number_do"),
        )
    value = float(text.replace(",", "."))
    if column.kind == "days" and value < 0:
        return Problem("below-zero", tell("below_zero", text=text), tell("below_zero_do"))
    return value


def date(text: str, order: str, today: dt.date | None = None) -> dt.date | Problem:
    """Day of a date cell; a text that could be two days is a problem unless `order` is given.

    Parameters
    ----------
    text : str
        As typed.
    order : {"", "dmy", "mdy", "ymd"}
        Setting ``date_order``.
    today : date, optional
        Readings after it are not proposed, where another is not; what is read does not depend
        on it.
    """
    found = _ISO.fullmatch(text) or _COMPACT.fullmatch(text)
    if found is not None:
        return _checked(text, _day(int(found[1]), int(found[2]), int(found[3])))
    short = _SHORT.fullmatch(text)
    if short is not None:
        return _short(text, order, today, short)
    return _with_month_name(text)


def _with_month_name(text: str) -> dt.date | Problem:
    named = _NAMED.fullmatch(text)
    first = _NAMED_FIRST.fullmatch(text)
    if named is not None:
        return _named(text, int(named[3]), named[2], int(named[1]))
    if first is not None:
        return _named(text, int(first[3]), first[1], int(first[2]))
    if _NO_YEAR.fullmatch(text):
        return Problem("not-a-date", tell("date_no_year", text=text), _WRITE_ISO)
    if re.fullmatch(r"[0-9]{5}(?:[.,][0-9]+)?", text):
        return Problem(
            "date-as-number",
            tell("date_as_number", text=text),
            tell("date_as_number_do"),
        )
    return Problem("not-a-date", tell("not_a_date", text=text), _WRITE_ISO)


def _named(text: str, year: int, name: str, day: int) -> dt.date | Problem:
    month = words.MONTHS.get(name.lower(), 0)
    if not month:
        return Problem("not-a-date", tell("date_month", name=name), _WRITE_ISO)
    return _checked(text, _day(year, month, day))


def _short(text: str, order: str, today: dt.date | None, found: re.Match[str]) -> dt.date | Problem:
    one, two, year = int(found[1]), int(found[3]), found[4]
    readings = {
        "dmy": _day(_century(year), two, one),
        "mdy": _day(_century(year), one, two),
        "ymd": _day(2000 + one, two, int(year)) if len(year) == 2 else None,
    }
    can = {name: day for name, day in readings.items() if day is not None}
    settled = bool(order) and not (order == "ymd" and len(year) == 4)
    if settled and readings[order] is None and can:
        return Problem(
            "not-a-date",
            tell("date_not_in_order", text=text, order=tell(f"order_{order}")),
            tell("date_not_in_order_do", day=str(_likely(can, today)[0][1])),
        )
    if settled:
        return _checked(text, readings[order])
    if len(set(can.values())) < 2:
        return _checked(text, next(iter(can.values()), None))
    return _open(text, order, _likely(can, today), today)


def _likely(can: Mapping[str, dt.date], today: dt.date | None) -> list[tuple[str, dt.date]]:
    """Readings to propose: not in the future and not years before another, if any is so."""
    past = {name: day for name, day in can.items() if today is None or day <= today} or can
    latest = max(past.values()).year
    first = {day: name for name, day in reversed([*past.items()]) if latest - day.year < _FAR}
    return [(name, day) for name, day in past.items() if first.get(day) == name]


def _open(
    text: str, order: str, likely: list[tuple[str, dt.date]], today: dt.date | None
) -> Problem:
    """Problem of a text that could be two days, with what to write."""
    name, day = likely[0]
    if today is not None and day > today:
        could = either(str(day) for _, day in likely)
        return Problem(
            "date-ambiguous",
            tell("date_not_come", text=text, could=could),
            tell("date_not_come_do", today=str(today)),
        )
    if len(likely) == 1:
        return Problem(
            "date-ambiguous",
            tell("date_half_open", text=text),
            tell("date_half_open_do", day=str(day))
            if order
            else tell("date_half_open_do_order", day=str(day), order=name),
        )
    could = either(_by_order(str(day), name) for name, day in likely)
    names = either(_by_order(name, name) for name, _ in likely)
    return Problem(
        "date-ambiguous",
        tell("date_open", text=text, could=could),
        tell("date_open_do") if order else tell("date_open_do_order", orders=names),
    )


def _by_order(what: str, order: str) -> str:
    return tell("by_order", what=what, order=tell(f"order_{order}"))


def _century(year: str) -> int:
    return int(year) if len(year) == 4 else 2000 + int(year)


def _day(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


def _checked(text: str, day: dt.date | None) -> dt.date | Problem:
    if day is None:
        return Problem("not-a-date", tell("no_such_day", text=text), _WRITE_ISO)
    if not words.YEARS[0] <= day.year <= words.YEARS[1]:
        wrong = tell("no_such_year", text=text, year=str(day.year))
        return Problem("not-a-date", wrong, _WRITE_ISO)
    return day


_ALSO = {
    **words.FEEDING_ALSO,
    **words.EVENT_ALSO,
    **words.BROOD_ALSO,
    **words.ADJUST_ALSO,
}
_YES = {"y": "yes", "true": "yes", "n": "no", "false": "no"}


def word(text: str, column: Column) -> str | Problem:
    """Fixed word, whatever its case and with spaces for hyphens."""
    low = text.lower()
    if column.kind == "yes-no":
        low = _YES.get(low, low)
    if low in column.allowed and low not in words.FEEDING_ALSO:
        return low
    also = _ALSO.get(low, low.replace(" ", "-").replace("_", "-"))
    also = _ALSO.get(also, also)
    if also in column.allowed:
        return also
    return unknown_word(text, column)


def unknown_word(text: str, column: Column) -> Problem:
    """Problem that names the words allowed, and what to write."""
    remedy = did_you_mean(text, column.allowed)
    if column.name == "event":
        remedy = instead.for_event(text) or remedy
    if column.name == "brood":
        remedy = instead.for_brood(text) or remedy
    use = tell("one_of_these" if column.need == "yes" else "one_of_these_or_blank")
    what = tell("unknown_word", text=text, words=", ".join(column.allowed))
    return Problem("unknown-word", what, remedy or use)
