"""Raw tables of one sheet -> one typed table, by the contract.

What comes in: the raw tables of one sheet, of all files, and the contract's columns. What goes
out: a `DataFrame` with every column of the contract, typed, and findings on headings and single
cells. A cell that cannot be read becomes blank here and has its finding; rows are never dropped.

Types: dates ``datetime64[ns]`` (NaT blank), counts ``Int64`` (<NA> blank) with a bool column
``<name>_at_least`` where ``5+`` is understood, numbers float (nan blank; days 0 when blank), all
else text (``""`` blank). ``file``, ``tab`` and ``row`` tell where a row stands; in `checks` the
bool column ``same`` tells that queens_alive was ``same``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from cohort.audit import cells
from cohort.audit.cells import Count, Problem
from cohort.audit.find import NOTHING, at, tell
from cohort.base.errors import Finding, Level
from cohort.sheets.found import Found
from cohort.sheets.raw import RawTable, column_name
from cohort.terms import words
from cohort.terms.columns import Column, Sheet
from cohort.terms.near import did_you_mean, nearest
from cohort.terms.voice import beside, either

# A wrong word in these columns leaves the row unusable; in the others it is read as blank.
_WORDS_THAT_MATTER = {"arm", "left_out", "event"}

_MOST_SIGNS = 200  # of a cell with a number, a date, a word or an id
_MOST_TEXT = 32_767  # of other cells: as many as Excel holds (Microsoft, "Excel specifications")


class Typed(NamedTuple):
    """A typed table and what was found while it was typed."""

    table: pd.DataFrame
    findings: Found


class Distinct(NamedTuple):
    """Distinct texts of a column: place of each cell among them."""

    codes: np.ndarray
    texts: list[str]


def typed(sheet: Sheet, raw: Sequence[RawTable], *, order: str, today: dt.date) -> Typed:
    """Typed table of one sheet.

    Parameters
    ----------
    sheet : Sheet
        Of the contract.
    raw : sequence of RawTable
        Of that sheet, of all files.
    order : str
        Setting ``date_order``; blank: only dates that can be one day are taken.
    today : date
        Dates after it are errors.
    """
    on_headings: list[Finding] = []
    parts = []
    for table in raw:
        part, found = _named(sheet, table)
        parts.append(part)
        on_headings += found
    findings = Found.of(on_headings)
    frame = _joined(sheet, parts)
    columns: dict[str, Any] = {}
    for column in sheet.columns:
        distinct = Distinct(*_factorized(frame[column.name].to_numpy()))
        made, told = _column(frame, sheet.name, column, distinct, order, today)
        columns.update(made)
        findings += told
    for name in ("file", "tab", "row"):
        columns[name] = frame[name].to_numpy()
    return Typed(pd.DataFrame(columns, copy=False), findings)


def _factorized(values: np.ndarray) -> tuple[np.ndarray, list[str]]:
    codes, texts = pd.factorize(values)
    return codes, [str(text) for text in texts]


def _named(sheet: Sheet, table: RawTable) -> tuple[pd.DataFrame, list[Finding]]:
    """Raw table with the contract's names, and findings on its headings."""
    findings: list[Finding] = []
    chosen: dict[str, str] = {}
    strange: list[str] = []
    for heading in table.frame.columns:
        name = column_name(str(heading))
        if name not in sheet.names:
            strange.append(str(heading))
        elif name in chosen:
            findings.append(_heading_twice(table, str(heading), chosen[name]))
        else:
            chosen[name] = str(heading)
    findings += [_strange(sheet, table, heading, set(chosen)) for heading in strange]
    if len(table.frame.columns):
        findings += _missing(sheet, table, chosen, strange)
    mine = {name: table.frame[heading] for name, heading in chosen.items()}
    part = pd.DataFrame(mine, index=table.frame.index)  # the index: no heading may be known
    for name in sheet.names:
        if name not in chosen:
            part[name] = ""
    part["file"], part["tab"], part["row"] = table.file, table.tab, table.rows
    return part, findings


def _joined(sheet: Sheet, parts: list[pd.DataFrame]) -> pd.DataFrame:
    filled = [part for part in parts if len(part)]
    if not filled:
        empty = {name: pd.Series(dtype=object) for name in (*sheet.names, "file", "tab")}
        return pd.DataFrame({**empty, "row": pd.Series(dtype=np.int64)})
    return filled[0] if len(filled) == 1 else pd.concat(filled, ignore_index=True)


def _heading_twice(table: RawTable, heading: str, first: str) -> Finding:
    return Finding(
        level="error",
        rule="heading-twice",
        file=table.file,
        tab=table.tab,
        row=0,
        column=heading,
        what=tell("heading_twice", first=first, second=heading),
        remedy=tell("heading_twice_do"),
    )


def _strange(sheet: Sheet, table: RawTable, heading: str, have: set[str]) -> Finding:
    lacking = [n for n in sheet.names if n not in have]
    hint = did_you_mean(column_name(heading), lacking)
    slip = nearest(column_name(heading), lacking, cutoff=0.85)
    if slip and (table.frame[heading] != "").any():
        return Finding(
            level="warning",
            rule="heading-misspelt",
            file=table.file,
            tab=table.tab,
            column=heading,
            what=tell("heading_misspelt", heading=heading),
            remedy=tell("heading_misspelt_do", near=slip),
        )
    return Finding(
        level="note",
        rule="extra-column",
        file=table.file,
        tab=table.tab,
        column=heading,
        what=tell("extra_column"),
        remedy=hint or NOTHING,
    )


def _missing(
    sheet: Sheet, table: RawTable, chosen: dict[str, str], strange: list[str]
) -> list[Finding]:
    lacking = [name for name in sheet.needed if name not in chosen]
    several = [column.name for column in sheet.columns if column.need == "one-of"]
    if several and not any(name in chosen for name in several):
        lacking.append(either(several))
    findings = []
    for name in lacking:
        hint = did_you_mean(name, strange)
        findings.append(
            Finding(
                level="error",
                rule="column-missing",
                file=table.file,
                tab=table.tab,
                column=name,
                what=tell("column_missing", column=name),
                remedy=beside(hint, tell("column_missing_do", column=name)),
            )
        )
    return findings


def _column(
    frame: pd.DataFrame, sheet: str, column: Column, distinct: Distinct, order: str, today: dt.date
) -> tuple[dict[str, Any], Found]:
    findings = _blank_cells(frame, sheet, column, distinct)
    read = _of_a_length(_reader(column, order, today), column)
    values, faulty = _values(distinct, read)
    findings += _told(frame, column, distinct, faulty, read)
    if column.kind == "date":
        findings += _after_today(frame, column, distinct, values, today)
    return _array(column, distinct.codes, values), findings


def _blank_cells(frame: pd.DataFrame, sheet: str, column: Column, distinct: Distinct) -> Found:
    if column.need != "yes" or column.name in ("queens_alive", "workers"):
        return Found()
    if "" not in distinct.texts:
        return Found()
    return at(
        frame,
        distinct.codes == distinct.texts.index(""),
        level="error",
        rule="cell-missing",
        column=column.name,
        what=tell("cell_missing", column=column.name),
        remedy=tell("cell_missing_do", meaning=tell(f"means_{sheet}_{column.name}")),
    )


def _reader(column: Column, order: str, today: dt.date) -> Callable[[str], object]:
    if column.kind == "count":
        return lambda text: _count_or_same(text, column)
    if column.kind in ("number", "days"):
        return lambda text: cells.number(text, column)
    if column.kind == "date":
        return lambda text: cells.date(text, order, today)
    if column.kind in ("word", "yes-no"):
        return lambda text: cells.word(text, column)
    if column.kind == "id":
        return lambda text: " ".join(text.split())
    return lambda text: text


def _of_a_length(read: Callable[[str], object], column: Column) -> Callable[[str], object]:
    """As `read`, but what is far too long for its column is told and not looked into."""
    most = _MOST_TEXT if column.kind == "text" else _MOST_SIGNS

    def limited(text: str) -> object:
        if len(text) <= most:
            return read(text)
        return Problem(
            "cell-too-long",
            tell("cell_too_long", signs=len(text), start=text[:20], most=most),
            tell("cell_too_long_do"),
        )

    return limited


def _count_or_same(text: str, column: Column) -> object:
    if column.name == "queens_alive" and text.lower() == words.SAME:
        return words.SAME
    return cells.count(text, column)


def _values(
    distinct: Distinct, read: Callable[[str], object]
) -> tuple[list[object], dict[str, list[int]]]:
    """Value of each distinct text, and which of them cannot be read, by rule."""
    values: list[object] = []
    faulty: dict[str, list[int]] = {}
    for code, text in enumerate(distinct.texts):
        value = read(text) if text else None
        if isinstance(value, Problem):
            faulty.setdefault(value.rule, []).append(code)
            value = None
        values.append(value)
    return values, faulty


def _level(column: Column) -> Level:
    worded = column.kind in ("word", "yes-no")
    return "warning" if worded and column.name not in _WORDS_THAT_MATTER else "error"


def _told(
    frame: pd.DataFrame,
    column: Column,
    distinct: Distinct,
    faulty: dict[str, list[int]],
    read: Callable[[str], object],
) -> Found:
    """Findings on cells that cannot be read; their words are made anew when they are told."""
    level = _level(column)
    read_as = tell("read_as_blank") if level == "warning" else ""
    findings = Found()
    for rule in sorted(faulty):
        places = np.flatnonzero(np.isin(distinct.codes, faulty[rule]))
        problem = _problem_at(distinct, distinct.codes[places], read)
        findings += at(
            frame,
            places,
            level=level,
            rule=rule,
            column=column.name,
            what=_what(problem),
            remedy=_remedy(problem, read_as),
        )
    return findings


def _problem_at(
    distinct: Distinct, codes: np.ndarray, read: Callable[[str], object]
) -> Callable[[int], Problem]:
    again = lru_cache(maxsize=256)(read)

    def problem(n: int) -> Problem:
        made = again(distinct.texts[codes[n]])
        assert isinstance(made, Problem)  # it was one when it was first read
        return made

    return problem


def _what(problem: Callable[[int], Problem]) -> Callable[[int], str]:
    return lambda n: problem(n).what


def _remedy(problem: Callable[[int], Problem], more: str) -> Callable[[int], str]:
    return lambda n: beside(problem(n).remedy, more)


def _after_today(
    frame: pd.DataFrame, column: Column, distinct: Distinct, values: list[object], today: dt.date
) -> Found:
    late = [
        code for code, value in enumerate(values) if isinstance(value, dt.date) and value > today
    ]
    if not late:
        return Found()
    places = np.flatnonzero(np.isin(distinct.codes, late))
    codes = distinct.codes[places]
    return at(
        frame,
        places,
        level="error",
        rule="date-after-today",
        column=column.name,
        what=lambda n: tell("date_after_today", day=str(values[codes[n]])),
        remedy=lambda n: _not_yet(values[codes[n]], today),
    )


def _not_yet(value: object, today: dt.date) -> str:
    """Remedy for a day to come: the same with day and month swapped, or a year before."""
    assert isinstance(value, dt.date)
    past = [
        (day, key)
        for year, month, of_month, key in (
            (value.year, value.day, value.month, "date_after_today_do_swapped"),
            (value.year - 1, value.month, value.day, "date_after_today_do_year"),
        )
        if (day := _day(year, month, of_month)) and today - dt.timedelta(days=366) < day <= today
    ]
    if not past:
        return tell("date_after_today_do", today=str(today))
    return tell(past[0][1], day=str(past[0][0]), today=str(today))


def _day(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


def _array(column: Column, codes: np.ndarray, values: list[object]) -> dict[str, Any]:
    if column.kind == "count":
        return _counts(column, codes, values)
    if column.kind in ("number", "days"):
        blank = 0.0 if column.kind == "days" else np.nan
        return {column.name: _taken(codes, [blank if v is None else v for v in values], float)}
    if column.kind == "date":
        stamps = np.array(
            ["NaT" if value is None else str(value) for value in values], dtype="datetime64[D]"
        )
        return {column.name: _taken(codes, stamps.astype("datetime64[ns]"), "datetime64[ns]")}
    return {column.name: _taken(codes, ["" if v is None else v for v in values], object)}


def _counts(column: Column, codes: np.ndarray, values: list[object]) -> dict[str, Any]:
    counts = [value if isinstance(value, Count) else None for value in values]
    blank = _taken(codes, [item is None for item in counts], bool)
    numbers = _taken(codes, [0 if item is None else item.number for item in counts], np.int64)
    made: dict[str, Any] = {column.name: pd.arrays.IntegerArray(numbers, blank)}
    if column.at_least:
        flags = [item is not None and item.at_least for item in counts]
        made[f"{column.name}_at_least"] = _taken(codes, flags, bool)
    if column.name == "queens_alive":
        made["same"] = _taken(codes, [value == words.SAME for value in values], bool)
    return made


def _taken(codes: np.ndarray, values: Any, dtype: Any) -> np.ndarray:
    if not len(values):
        return np.empty(0, dtype=dtype)
    pool: np.ndarray = np.empty(len(values), dtype=dtype)
    pool[:] = values
    return np.take(pool, codes)
