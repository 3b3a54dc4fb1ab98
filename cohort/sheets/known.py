"""What the sheets of a study tell by which its check notes are read.

What comes in: the raw tables of foundings and settings. What goes out: `Known`: the numbers that
there are, the keepers' signs, and the days of the study. Nothing is judged here; a cell that
cannot be read tells nothing.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from cohort.sheets.note_dates import readings
from cohort.sheets.numbers import spelled_alike
from cohort.sheets.raw import RawTable, column_name
from cohort.terms import words

_HORIZON = 180  # days, where the study does not say (contract: horizon_days)


@dataclass(frozen=True)
class Known:
    """What is known of a study.

    Parameters
    ----------
    queens : mapping
        Number of each founding -> queens at the start, as typed.
    signs : frozenset of str
        Keepers' signs.
    order : {"", "dmy", "mdy", "ymd"}
        Setting ``date_order``.
    first, last : date or None
        From the first day 0 to the end of the study (``ends``, or the last day 0 and
        ``horizon_days``): the days that a date without a year may be.
    today : date or None
        Given for a message that was just written; a date without a year is then the last such day.
    """

    queens: Mapping[str, str] = field(default_factory=dict)
    signs: frozenset[str] = frozenset()
    order: str = ""
    first: dt.date | None = None
    last: dt.date | None = None
    today: dt.date | None = None

    @cached_property
    def _spelled(self) -> dict[tuple[str, ...], list[str]]:
        alike: dict[tuple[str, ...], list[str]] = {}
        for number in self.queens:
            alike.setdefault(spelled_alike(number), []).append(number)
        return alike

    def numbers_like(self, typed: str) -> list[str]:
        """Foundings that a number may mean: itself, else those of other case and zeros."""
        return [typed] if typed in self.queens else self._spelled.get(spelled_alike(typed), [])

    def sign(self, name: str) -> str:
        """Keeper's sign that a name is, in any case; blank where it is none."""
        return next((sign for sign in self.signs if sign.lower() == name.strip().lower()), "")


NOTHING = Known()
"""Of a note that is read by itself."""


def known_of(tables: Iterable[RawTable], today: dt.date | None = None) -> Known:
    """What raw tables tell.

    Parameters
    ----------
    tables : iterable of RawTable
        Of all sheets; only ``foundings`` and ``study`` are looked at.
    today : date, optional
        For a message just written.
    """
    tables = list(tables)
    settings = dict(_settings(tables))
    order = settings.get("date_order", "").lower()
    order = order if order in words.DATE_ORDER else ""
    queens: dict[str, str] = {}
    signs: set[str] = set()
    starts: list[dt.date] = []
    for row in _foundings(tables):
        number = " ".join(row.get("founding", "").split())
        if number:
            queens.setdefault(number, row.get("queens", ""))
        signs.add(row.get("keeper", "").strip())
        starts += _one(row.get("started", ""), order)
    first, last = _days(settings, order, starts)
    return Known(queens, frozenset(signs - {""}), order, first, last, today)


def _foundings(tables: Iterable[RawTable]) -> Iterator[dict[str, str]]:
    for table in tables:
        if table.sheet == "foundings":
            names = [column_name(str(heading)) for heading in table.frame.columns]
            for line in table.frame.itertuples(index=False):
                yield dict(zip(names, map(str, line), strict=True))


def _settings(tables: Iterable[RawTable]) -> Iterator[tuple[str, str]]:
    for table in tables:
        names = [column_name(str(heading)) for heading in table.frame.columns]
        if table.sheet == "study" and {"setting", "value"} <= set(names):
            frame = table.frame.set_axis(names, axis=1)
            for name, value in zip(frame["setting"], frame["value"], strict=True):
                yield column_name(str(name)), str(value).strip()


def _one(text: str, order: str) -> list[dt.date]:
    """The day of a cell, where it can be one only."""
    can = set(readings(text, order))
    return [day for day in can if words.YEARS[0] <= day.year <= words.YEARS[1]][: len(can) == 1]


def _days(
    settings: Mapping[str, str], order: str, starts: list[dt.date]
) -> tuple[dt.date | None, dt.date | None]:
    if not starts:
        years = re.findall(r"(?<!\d)(?:19|20)\d\d(?!\d)", settings.get("season", ""))
        if len(years) != 1:
            return None, None
        return dt.date(int(years[0]), 1, 1), dt.date(int(years[0]), 12, 31)
    horizon = settings.get("horizon_days", "")
    most = int(horizon) if re.fullmatch(r"[0-9]{1,4}", horizon) else _HORIZON
    ends = _one(settings.get("ends", ""), order)
    return min(starts), max([*ends, max(starts) + dt.timedelta(days=most)])
