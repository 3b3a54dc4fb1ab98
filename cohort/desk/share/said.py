"""Rows of a study as they are compared with those of another.

Comes in: raw sheets. Goes out: `Said`: one row with its key, its cells and what they mean. Dates
are written ``YYYY-MM-DD``, for the other study may read ``5.7.`` the other way round.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Final

import pandas as pd

from cohort.audit.alike import meant, plain
from cohort.audit.allotted import taken_up
from cohort.audit.ids import of_file
from cohort.audit.settings import read_settings
from cohort.sheets.numbers import keeper_of
from cohort.sheets.raw import RawTable, Sheets, column_name
from cohort.terms import words
from cohort.terms.contract import SHEETS

Key = tuple[str, ...]
ROWS: Final = ("kinds", "catches", "foundings", "checks", "events", "temperatures")
"""Sheets whose rows are shared, those first that others name."""
KEYS: Final[Mapping[str, tuple[str, ...]]] = {
    "kinds": ("kind",),
    "catches": ("catch",),
    "foundings": ("founding",),
    "checks": ("founding", "date", "corrects"),
    "events": ("founding", "date", "event", "other", "number"),
    "temperatures": ("shelf", "date"),
}
"""Columns by which a row of a sheet is the same row in two studies."""
QUIET: Final = ("place", "photo", "note", "keeper")
"""Columns that need not be sent: where one side is blank, nothing is said of them."""


@dataclass(frozen=True)
class Said:
    """One row.

    Attributes
    ----------
    sheet : str
    key : tuple of str
        What `KEYS` names, and the keeper's sign for ``rest`` and ``all``.
    cells : mapping
        Columns that its sheet has -> text; dates as ``YYYY-MM-DD`` where they can be read.
    says : mapping
        The same, as values that can be compared.
    file : str
    row : int
    covers : frozenset of str
        Foundings that ``rest`` or ``all`` speaks of; empty for a row on one founding.
    """

    sheet: str
    key: Key
    cells: Mapping[str, str]
    says: Mapping[str, Hashable]
    file: str
    row: int
    covers: frozenset[str] = frozenset()

    @property
    def place(self) -> str:
        """Where it stands: ``checks-K2.csv, row 7``."""
        return f"{self.file}, row {self.row}"

    @property
    def of_all(self) -> bool:
        """Whether it speaks of all open foundings of its file."""
        return self.cells.get("founding", "").lower() in words.RESERVED_IDS

    @property
    def what(self) -> str:
        """The row as one would say it: ``K2-07, 2026-07-12``."""
        return ", ".join(text for name in KEYS[self.sheet] if (text := self.cells.get(name, "")))

    def differs(self, other: Said) -> tuple[str, ...]:
        """Columns that both sheets have and in which the rows do not say the same."""
        return tuple(
            name
            for name, value in self.says.items()
            if name in other.says
            and value != other.says[name]
            and not (name in QUIET and "" in (value, other.says[name]))
        )


def signs_of(sheets: Sheets) -> dict[str, str]:
    """Founding -> sign of its keeper: the sign in its number, else the column."""
    out: dict[str, str] = {}
    for table in sheets.of("foundings"):
        for row in plain(table).to_dict("records"):
            number = str(row["founding"])
            out.setdefault(number, keeper_of(number) or str(row["keeper"]))
    return out


def rows_of(sheets: Sheets) -> tuple[Said, ...]:
    """Rows of all sheets that are shared, in order of sheet, file and row."""
    order = read_settings(sheets.of("study"))[0].date_order
    sheets, _ = taken_up(sheets, order)
    known = _foundings(sheets)
    signs = signs_of(sheets)
    return tuple(
        said
        for sheet in ROWS
        for table in sheets.of(sheet)
        for said in _rows(table, order, known, signs)
    )


def _foundings(sheets: Sheets) -> pd.DataFrame:
    frames = [plain(table) for table in sheets.of("foundings")]
    columns = ["founding", "keeper", "file_", "started"]
    if not frames:
        return pd.DataFrame(columns=["founding", "keeper", "file", "started"], dtype=object)
    return pd.concat(frames, ignore_index=True)[columns].rename(columns={"file_": "file"})


def _rows(table: RawTable, order: str, known: pd.DataFrame, signs: Mapping[str, str]) -> list[Said]:
    sheet = SHEETS[table.sheet]
    there = {column_name(str(heading)) for heading in table.frame.columns}
    names = tuple(name for name in sheet.names if name in there)
    scope = _scope(table.file, known) if table.sheet in ("checks", "events") else frozenset()
    own = {signs.get(number, "") for number in scope}
    out = []
    for row in plain(table).to_dict("records"):
        values = dict(zip(sheet.names, meant(sheet, row, order), strict=True))
        cells = {name: _written(str(row[name]), values[name]) for name in names}
        if not any(cells.values()):
            continue
        key = tuple(str(_keyed(values[name])) for name in KEYS[table.sheet])
        every = cells.get("founding", "").lower() in words.RESERVED_IDS
        if every:
            key = (*key, own.pop() if len(own) == 1 else table.file)
            own = {signs.get(number, "") for number in scope}
        says = {name: values[name] for name in names}
        covers = scope if every else frozenset()
        out.append(Said(table.sheet, key, cells, says, table.file, int(row["row_"]), covers))
    return out


def _scope(file: str, known: pd.DataFrame) -> frozenset[str]:
    """Foundings that ``rest`` and ``all`` stand for in a file, whenever they began."""
    mine = of_file(file, known) if len(known) else None
    return frozenset() if mine is None else frozenset(known["founding"][mine].astype(str))


def _written(text: str, value: Hashable) -> str:
    return value.isoformat() if isinstance(value, dt.date) else " ".join(text.split())


def _keyed(value: Hashable) -> Hashable:
    return value.lower() if isinstance(value, str) else value
