"""Rows of a study as they are compared with those of another.

Comes in: raw sheets. Goes out: `Said`: one row with its key, its cells and what they mean. Dates
are written ``YYYY-MM-DD``, for the other study may read ``5.7.`` the other way round.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from cohort.audit.alike import meant, plain, together
from cohort.audit.allotted import taken_up
from cohort.audit.find import row_of
from cohort.audit.ids import handed_on, of_file
from cohort.audit.looks import HANDED
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
        Foundings that ``rest`` or ``all`` speaks of on its day, whenever they began: those of its
        file, without those handed over before, with those that its keeper was handed. Empty for a
        row on one founding.
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
        return row_of(self.file, self.row)

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
    signs, handed = signs_of(sheets), _handed(sheets, order, known)
    return tuple(
        said
        for sheet in ROWS
        for table in sheets.of(sheet)
        for said in _rows(table, order, _Scopes(known, handed, signs))
    )


def _foundings(sheets: Sheets) -> pd.DataFrame:
    frames = [plain(table) for table in sheets.of("foundings")]
    columns = ["founding", "keeper", "file_", "started"]
    if not frames:
        return pd.DataFrame(columns=["founding", "keeper", "file", "started"], dtype=object)
    return pd.concat(frames, ignore_index=True)[columns].rename(columns={"file_": "file"})


def _handed(sheets: Sheets, order: str, known: pd.DataFrame) -> pd.DataFrame:
    """Events by which foundings were handed over, as `handed_on` wants them."""
    events = SHEETS["events"]
    place: dict[str, int] = {}
    for code, number in enumerate(known["founding"]):
        place.setdefault(str(number), code)
    rows = []
    for row in together(sheets, "events").to_dict("records"):
        said = dict(zip(events.names, meant(events, row, order), strict=True))
        number = str(row["founding"])
        if said["event"] == HANDED and isinstance(said["date"], dt.date) and number in place:
            rows.append((place[number], said["date"], str(row["other"]).strip()))
    frame = pd.DataFrame(rows, columns=["code", "date", "other"])
    return frame.assign(date=pd.to_datetime(frame["date"]))


@dataclass(frozen=True)
class _Scopes:
    """Foundings as typed, those handed over, and the keepers' signs."""

    known: pd.DataFrame
    handed: pd.DataFrame
    signs: Mapping[str, str]

    def of(self, file: str) -> np.ndarray:
        """Foundings that ``rest`` and ``all`` stand for in a file, as they began."""
        mine = of_file(file, self.known) if len(self.known) else None
        return np.zeros(len(self.known), dtype=bool) if mine is None else mine

    def on(self, day: Hashable, file: str, scope: np.ndarray) -> frozenset[str]:
        """Numbers of those that they stand for on a day."""
        if isinstance(day, dt.date) and len(self.known):
            number = (day - dt.date(1970, 1, 1)).days
            scope = handed_on(file, scope, self.known, self.handed, number)
        return frozenset(self.known["founding"][scope].astype(str))

    def sign(self, scope: np.ndarray, file: str) -> str:
        """Sign of the keeper of a file; the name of the file where it has not one."""
        own = {self.signs.get(number, "") for number in self.known["founding"][scope].astype(str)}
        return own.pop() if len(own) == 1 else file


def _rows(table: RawTable, order: str, scopes: _Scopes) -> list[Said]:
    sheet = SHEETS[table.sheet]
    there = {column_name(str(heading)) for heading in table.frame.columns}
    names = tuple(name for name in sheet.names if name in there)
    scope = scopes.of(table.file)
    out = []
    for row in plain(table).to_dict("records"):
        values = dict(zip(sheet.names, meant(sheet, row, order), strict=True))
        cells = {name: _written(str(row[name]), values[name]) for name in names}
        if not any(cells.values()):
            continue
        key = tuple(str(_keyed(values[name])) for name in KEYS[table.sheet])
        every = cells.get("founding", "").lower() in words.RESERVED_IDS
        if every:
            key = (*key, scopes.sign(scope, table.file))
        says = {name: values[name] for name in names}
        covers = scopes.on(values["date"], table.file, scope) if every else frozenset()
        out.append(Said(table.sheet, key, cells, says, table.file, int(row["row_"]), covers))
    return out


def _written(text: str, value: Hashable) -> str:
    return value.isoformat() if isinstance(value, dt.date) else " ".join(text.split())


def _keyed(value: Hashable) -> Hashable:
    return value.lower() if isinstance(value, str) else value
