"""A table brought again when it has grown, or one of foundings that the study has already.

What comes in: the sheets of the study, what was brought before, the rows of the table. What goes
out: the rows that are new. A founding that is there keeps its row as it stands; of its looks and
events only those go in that no sheet tells yet. A row that speaks of another founding than its
number does is refused.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pandas as pd

from cohort.audit import examine
from cohort.audit.alike import meant, together
from cohort.audit.settings import read_settings
from cohort.base.errors import Finding
from cohort.desk.bring.mapping import Mapping, read_mapping
from cohort.desk.bring.rows import Brought
from cohort.desk.correct import as_typed
from cohort.desk.sentences import tell
from cohort.desk.whose import foundings_typed
from cohort.sheets.guard import unguard
from cohort.sheets.raw import Sheets
from cohort.terms.contract import SHEETS

_DIGEST = 11
"""Signs of a checksum in the names of kept files, with the hyphen before it."""
_COUNTS = ("queens_alive", "workers", "brood")


@dataclass(frozen=True)
class Held:
    """What the study has of a keeper's foundings.

    Attributes
    ----------
    numbers : dict
        Own name in the table -> number of the founding.
    rows : DataFrame
        Typed rows of these foundings, by number.
    looks : DataFrame
        Their looks as they are read, corrections included.
    """

    numbers: dict[str, str]
    rows: pd.DataFrame
    looks: pd.DataFrame


def earlier(place: Path, stem: str) -> Mapping | None:
    """The last mapping of a table of this name, whatever was in it; None where there is none."""
    known = [path for path in place.glob(f"{stem}-*.toml") if _is_of(path.stem, stem)]
    known.sort(key=lambda path: (path.stat().st_mtime_ns, path.name))
    return read_mapping(known[-1].read_text("utf-8-sig"), known[-1].name) if known else None


def _is_of(name: str, stem: str) -> bool:
    return len(name) == len(stem) + _DIGEST


def held(sheets: Sheets, place: Path, stem: str, keeper: str) -> Held:
    """What the study has already of what a table may speak of.

    Parameters
    ----------
    sheets : Sheets
    place : Path
        Folder of what was brought.
    stem : str
        Name of the table, without its ending and checksum.
    keeper : str
        Sign.
    """
    whose = foundings_typed(sheets)
    numbers = {name: name for name, sign in whose.items() if sign.lower() == keeper.lower()}
    for path in sorted(place.glob(f"{stem}-*-names.csv")):
        if not _is_of(path.stem.removesuffix("-names"), stem):
            continue
        for row in csv.DictReader(io.StringIO(path.read_text("utf-8"))):
            if row["own_name"] and row["founding"] in numbers:
                numbers[unguard(row["own_name"])] = row["founding"]
    examined = examine(sheets) if sheets.tables else None
    if examined is None or not len(examined.tables["foundings"]):
        return Held({}, pd.DataFrame(), pd.DataFrame())
    rows = examined.tables["foundings"].drop_duplicates("founding").set_index("founding")
    return Held(numbers, rows, examined.seen.looks)


def new_of(brought: Brought, held: Held, sheets: Sheets, where: tuple[str, str]) -> Brought:
    """The rows of a table that the study does not have yet.

    Parameters
    ----------
    brought : Brought
        All rows of the table.
    held : Held
    sheets : Sheets
    where : tuple of (str, str)
        File and tab, for findings.
    """
    known = tuple(r["founding"] for r in brought.foundings if r["founding"] in held.rows.index)
    if not known:
        return brought
    own = {number: row for number, _, row in brought.names}
    there = {str(row["founding"]): row for row in held.rows.reset_index().to_dict("records")}
    wrong = [
        _another(row, there[row["founding"]], own[row["founding"]], where)
        for row in brought.foundings
        if row["founding"] in known
    ]
    looks = _new("checks", _not_read(brought.checks, held.looks), sheets)
    events = _new("events", brought.events, sheets)
    return replace(
        brought,
        foundings=tuple(row for row in brought.foundings if row["founding"] not in known),
        checks=looks,
        events=events,
        findings=(*brought.findings, *(finding for finding in wrong if finding)),
        known=known,
        already=len(brought.checks) + len(brought.events) - len(looks) - len(events),
    )


def _another(
    row: dict[str, str], there: dict[Hashable, Any], number: int, where: tuple[str, str]
) -> Finding | None:
    """An error where a row is not of the founding whose number it bears."""
    same_kind = not (row["genus"] and there["genus"]) or row["genus"] == there["genus"]
    day = there["started"]
    if pd.isna(day) or pd.isna(there["queens"]):
        return None  # an error of the sheets
    started = f"{day:%Y-%m-%d}"
    if same_kind and started == row["started"] and str(int(there["queens"])) == row["queens"]:
        return None
    here = _told(row["queens"], row["genus"] or row["kind"], row["started"])
    study = _told(str(int(there["queens"])), there["genus"] or there["kind"], started)
    return Finding(
        level="error",
        rule="other-founding",
        file=where[0],
        tab=where[1],
        row=number,
        founding=row["founding"],
        what=tell("other_founding", here=here, founding=row["founding"], there=study),
        remedy=tell("other_founding_do"),
    )


def _told(queens: str, kind: str, started: str) -> str:
    return tell("queens_since", n=int(queens), kind=kind or tell("kind_none"), day=started)


def _not_read(rows: Sequence[dict[str, str]], looks: pd.DataFrame) -> list[dict[str, str]]:
    """Looks whose counts no look of that day tells."""
    named = looks[~looks["from_rest"].astype(bool)]
    told: dict[tuple[str, str], dict[str, str]] = {
        (str(look["founding"]), f"{look['date']:%Y-%m-%d}"): as_typed(look)
        for _, look in named.iterrows()
    }
    return [row for row in rows if not _says(told.get((row["founding"], row["date"])), row)]


def _says(look: dict[str, str] | None, row: dict[str, str]) -> bool:
    """Whether a look tells all that was counted in a row."""
    counted = {name: row[name] for name in _COUNTS if row.get(name)}
    return bool(counted) and look is not None and all(look[n] == t for n, t in counted.items())


def _new(sheet: str, rows: Sequence[dict[str, str]], sheets: Sheets) -> tuple[dict[str, str], ...]:
    """Rows that stand in no sheet word for word."""
    order = read_settings(sheets.of("study"))[0].date_order
    contract = SHEETS[sheet]
    there: set[tuple[Hashable, ...]] = {
        meant(contract, row, order) for row in together(sheets, sheet).to_dict("records")
    }
    return tuple(row for row in rows if meant(contract, row, "ymd") not in there)
