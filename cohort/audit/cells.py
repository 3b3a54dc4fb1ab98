"""One cell as typed -> its value, or what is wrong with it.

What comes in: the text of a cell and the column it stands in. What goes out: a value, or a
`Problem` with words for a keeper. Each function knows one kind of cell and nothing of the row;
what could be read in two ways is never guessed.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import NamedTuple

from cohort.terms import words
from cohort.terms.columns import Column
from cohort.terms.near import did_you_mean


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
_NAMED = re.compile(r"(\d{1,2})\.?[ -]+([A-Za-z]{3,9})\.?,?[ -]+(\d{4})", re.ASCII)
_NAMED_FIRST = re.compile(r"([A-Za-z]{3,9})\.? +(\d{1,2}),? +(\d{4})", re.ASCII)
_MONTHS = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
_WRITE_ISO = "Write it as YYYY-MM-DD, such as 2026-07-04."


def count(text: str, column: Column) -> Count | Problem:
    """Whole number, 0 or more; ``5+`` where the column takes it."""
    found = _COUNT.fullmatch(text)
    if found is None:
        return Problem(
            "not-a-count",
            f"'{text}' is not a whole number.",
            "Write the number alone"
            + ("; 5+ for at least five." if column.at_least else ".")
            + " Leave the cell blank if it was not looked at, 0 if there was none.",
        )
    if found[2] and not column.at_least:
        return Problem(
            "not-exact", f"'{text}': an exact number is needed here.", "Write the number without +."
        )
    return Count(int(found[1]), bool(found[2]))


def number(text: str, column: Column) -> float | Problem:
    """Number with a decimal point or comma; days may not be below 0."""
    if _NUMBER.fullmatch(text) is None:
        return Problem(
            "not-a-number",
            f"'{text}' is not a number.",
            "Write the number alone, without a unit.",
        )
    value = float(text.replace(",", "."))
    if column.kind == "days" and value < 0:
        return Problem("below-zero", f"'{text}' is below 0.", "Write 0 or more days.")
    return value


def date(text: str, order: str) -> dt.date | Problem:
    """Day of a date cell; a text that could be two days is a problem unless `order` is given.

    Parameters
    ----------
    text : str
        As typed.
    order : {"", "dmy", "mdy", "ymd"}
        Setting ``date_order``.
    """
    found = _ISO.fullmatch(text) or _COMPACT.fullmatch(text)
    if found is not None:
        return _checked(text, _day(int(found[1]), int(found[2]), int(found[3])))
    short = _SHORT.fullmatch(text)
    if short is not None:
        return _short(text, order, int(short[1]), int(short[3]), short[4])
    return _with_month_name(text)


def _with_month_name(text: str) -> dt.date | Problem:
    named = _NAMED.fullmatch(text)
    first = _NAMED_FIRST.fullmatch(text)
    if named is not None:
        return _checked(text, _day(int(named[3]), _month(named[2]), int(named[1])))
    if first is not None:
        return _checked(text, _day(int(first[3]), _month(first[1]), int(first[2])))
    if re.fullmatch(r"[0-9]{5}(?:[.,][0-9]+)?", text):
        return Problem(
            "date-as-number",
            f"'{text}' is the bare number a spreadsheet keeps for a date.",
            "Give the column the form of a date and save again, or write it as YYYY-MM-DD.",
        )
    return Problem("not-a-date", f"'{text}' is not a date.", _WRITE_ISO)


def _short(text: str, order: str, one: int, two: int, year: str) -> dt.date | Problem:
    readings = {
        "dmy": _day(_century(year), two, one),
        "mdy": _day(_century(year), one, two),
        "ymd": _day(2000 + one, two, int(year)) if len(year) == 2 else None,
    }
    if order and not (order == "ymd" and len(year) == 4):
        return _checked(text, readings[order])
    days = {day for day in readings.values() if day is not None}
    if len(days) < 2:
        return _checked(text, next(iter(days), None))
    could = " or ".join(day.isoformat() for day in sorted(days))
    return Problem(
        "date-ambiguous",
        f"'{text}' could be {could}.",
        "Write it as YYYY-MM-DD, or set date_order (dmy or mdy) for the study.",
    )


def _century(year: str) -> int:
    return int(year) if len(year) == 4 else 2000 + int(year)


def _month(name: str) -> int:
    low = name.lower()
    near = [place for place, month in enumerate(_MONTHS, 1) if month.startswith(low[:3])]
    return near[0] if near and _MONTHS[near[0] - 1].startswith(low[:4]) else 0


def _day(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


def _checked(text: str, day: dt.date | None) -> dt.date | Problem:
    if day is None:
        return Problem("not-a-date", f"'{text}' is no day of the calendar.", _WRITE_ISO)
    if not words.YEARS[0] <= day.year <= words.YEARS[1]:
        return Problem("not-a-date", f"'{text}': the year {day.year} cannot be right.", _WRITE_ISO)
    return day


_ALSO = {
    **words.FEEDING_ALSO,
    **words.EVENT_ALSO,
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
    return unknown_word(text, column.allowed)


def unknown_word(text: str, allowed: tuple[str, ...]) -> Problem:
    """Problem that names the words allowed and a close match."""
    hint = did_you_mean(text, allowed)
    return Problem(
        "unknown-word",
        f"'{text}' is not one of {', '.join(allowed)}.",
        hint or "Use one of these words, or leave the cell blank.",
    )
