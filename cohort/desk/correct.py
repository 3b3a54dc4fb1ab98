"""A look corrected: a new row that is read in place of the one that was wrong.

What comes in: the number of a founding, the day of the look, and what is right. What goes out: a
row in the keeper's file of corrections, with everything of the old look that was right. The old
row stays in its sheet as it is; the audit shows both.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from cohort.audit import cells, examine
from cohort.base.errors import StudyError
from cohort.desk.log import Logged, New, photo_there, write_rows
from cohort.desk.sentences import tell
from cohort.desk.whose import foundings_typed, keeper_for
from cohort.sheets.known import known_of
from cohort.sheets.note_dates import day_typed
from cohort.sheets.numbers import as_known
from cohort.sheets.raw import Sheets
from cohort.terms import words
from cohort.terms.voice import beside

BLANK = "-"
"""What is typed for a count that was not looked for after all."""


def correct(
    folder: Path,
    founding: str,
    date: str,
    right: Mapping[str, str],
    *,
    new_date: str = "",
    keeper: str = "",
) -> Logged:
    """Correct one look.

    Parameters
    ----------
    folder : Path
        The study.
    founding : str
        Its number.
    date : str
        Day of the look that is wrong.
    right : mapping
        Columns of ``checks`` -> what is right; ``-``: nobody looked for it. A column that is blank
        or not named stays as it was.
    new_date : str
        The right day, where the day was wrong.
    keeper : str
        Whose file; told from the sheets when blank.

    Raises
    ------
    StudyError
        There is no such look, or nothing would change. Nothing is written.
    SheetError
        If the audit finds an error in the corrected look. Nothing is written.
    """
    number = founding.strip()
    if number.lower() in words.RESERVED_IDS:
        raise StudyError(tell("correct_all", number=number))

    photo_there(folder, right.get("photo", "").strip().strip(BLANK))

    def choose(sheets: Sheets) -> New:
        whose = as_known(keeper, foundings_typed(sheets).values()) or keeper_for(sheets, number)
        return {whose: {"checks": [_row(sheets, number, date, right, new_date)]}}

    return write_rows(folder, choose, typed=True)


def _row(
    sheets: Sheets, number: str, date: str, right: Mapping[str, str], new_date: str
) -> dict[str, str]:
    seen = examine(sheets)
    order = seen.settings.date_order
    known = known_of(sheets.tables, dt.date.today())
    day = _day(day_typed(date, known), order)
    looks = seen.seen.looks
    mine = looks[looks["founding"] == number]
    there = mine[mine["date"] == pd.Timestamp(day)]
    if not len(there):
        missing = tell("correct_no_look", number=number, day=str(day))
        raise StudyError(beside(missing, tell("nothing_written"), _near(mine, day)))
    old = as_typed(there.iloc[0])
    given = {name: text.strip() for name, text in right.items() if text.strip()}
    row = {**old, **{name: "" if text == BLANK else text for name, text in given.items()}}
    when = _day(day_typed(new_date, known), order) if new_date.strip() else day
    if row == old and when == day:
        told = ", ".join(f"{name} {text}" for name, text in old.items() if text)
        what = told or tell("correct_nothing")
        raise StudyError(tell("correct_same", number=number, day=str(day), told=what))
    return {"founding": number, "date": when.isoformat(), **row, "corrects": day.isoformat()}


def _day(text: str, order: str) -> dt.date:
    got = cells.date(text.strip(), order, dt.date.today())
    if isinstance(got, cells.Problem):
        raise StudyError(beside(got.what, tell("nothing_written"), got.remedy))
    return got


def _near(mine: pd.DataFrame, day: dt.date) -> str:
    """Days on which it was looked at, those near to a day."""
    days = sorted((one.date() for one in mine["date"]), key=lambda one: abs((one - day).days))
    if not days:
        return tell("correct_never")
    return tell("correct_days", days=", ".join(str(one) for one in sorted(days[:3])))


def as_typed(look: pd.Series) -> dict[str, str]:
    """Cells of a typed look as a keeper would type them, by column; blank where there is nothing.

    Parameters
    ----------
    look : Series
        Row of the looks of `cohort.audit.examine`.
    """
    out = {}
    for name in ("queens_alive", "workers"):
        more = "+" if look[f"{name}_at_least"] else ""
        out[name] = "" if pd.isna(look[name]) else f"{look[name]}{more}"
    off = float(look["give_or_take"])
    texts = {name: str(look[name]) for name in ("brood", "fed", "photo", "note")}
    return {**out, **texts, "give_or_take": f"{off:g}" if off else ""}
