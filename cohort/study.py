"""A study: frozen, typed, with no error in it.

What comes in: a folder of sheets. What goes out: `Study`, the only shape in which the rest of the
house takes data. The only way in is sheets without an error, or without the foundings in error
when that is asked for; nothing is repaired on the way.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from cohort.audit import Examined, Settings, examine
from cohort.audit.foundings import repeats
from cohort.audit.show import counted, lines
from cohort.base.display import Facts, Shown, several
from cohort.base.errors import Finding, SheetError
from cohort.sheets.folder import read_folder
from cohort.sheets.found import Found
from cohort.sheets.raw import Source
from cohort.terms import contract
from cohort.terms.columns import Sheet

__all__ = ["Settings", "Source", "Study", "read_study", "study_of"]


def _names(sheet: Sheet, *more: str, **instead: tuple[str, ...]) -> tuple[str, ...]:
    """Columns of a sheet in order, some replaced by others, and more at the end."""
    return (*(name for own in sheet.names for name in instead.get(own, (own,))), *more)


_FOUNDINGS = _names(
    contract.FOUNDINGS,
    "file",
    "row",
    genus=("genus", "named"),
    species=("species", "season"),
    **{"from": ("from_",)},
)
_CHECKS = _names(
    contract.CHECKS,
    "file",
    "row",
    "from_rest",
    queens_alive=("queens_alive", "at_least"),
    workers=("workers", "workers_at_least"),
)
_EVENTS = _names(contract.EVENTS, "file", "row")
_CATCHES = contract.CATCHES.names
_KINDS = contract.KINDS.names
_TEMPERATURES = contract.TEMPERATURES.names


@dataclass(frozen=True, repr=False)
class Study(Shown):
    """A study as it is analysed.

    Dates are ``datetime64[ns]`` (NaT blank), counts ``Int64`` (<NA> blank), text is ``""`` when
    blank. The frames are not to be changed.

    Parameters
    ----------
    settings : Settings
        What was agreed.
    kinds, foundings, checks, events, catches, temperatures : DataFrame
        The sheets, typed. In `foundings`, ``genus`` is the label of the analysis (genus, or the
        kind's own word while ``named`` is False), ``season`` is that of the settings and ``arm`` is
        filled in. In `checks`, `rest`
        rows are spread out (``from_rest``) and ``at_least`` marks ``5+``; sorted by founding (in
        the order of `foundings`) and date. In `events`, `all` rows are spread out.
    faulty : DataFrame
        Foundings left out for an error: founding, why, file, row.
    sources : tuple of Source
        Every file read, with its SHA-256.
    not_read : tuple of str
        One line for each file that looks like a sheet of the study and was not read.
    """

    settings: Settings
    kinds: pd.DataFrame
    foundings: pd.DataFrame
    checks: pd.DataFrame
    events: pd.DataFrame
    catches: pd.DataFrame
    temperatures: pd.DataFrame
    faulty: pd.DataFrame
    sources: tuple[Source, ...]
    not_read: tuple[str, ...] = ()

    def facts(self) -> tuple[str, Facts]:
        """Title and size of the study."""
        ways = self.foundings["arm"].value_counts()
        return f"Study: {self.settings.title or 'without a title'}", {
            "foundings": f"{len(self.foundings):,}, {ways.get('single', 0):,} of one queen and "
            f"{ways.get('multi', 0):,} of several",
            "kinds": ", ".join(sorted(self.foundings["genus"].unique())),
            "sheets": f"{several(len(self.checks), 'look')}, {several(len(self.events), 'event')} "
            f"from {several(len(self.sources), 'file')}",
        } | ({"left out for errors": f"{len(self.faulty)}"} if len(self.faulty) else {}) | (
            {"not read": "; ".join(self.not_read)} if self.not_read else {}
        )


def read_study(
    folder: str | Path, *, without_faulty: bool = False, today: dt.date | None = None
) -> Study:
    """Study of a folder of sheets.

    Parameters
    ----------
    folder : path
        With CSV files, workbooks or check notes.
    without_faulty : bool
        Leave out foundings that have an error, listed in `Study.faulty`; an error that belongs to
        no founding still stops.
    today : date, optional
        Dates after it are errors; today's date by default.

    Raises
    ------
    StudyError
        No such folder, or no sheet in it.
    SheetError
        Errors in the sheets; it carries all findings.
    """
    sheets = read_folder(folder)
    examined = examine(sheets, today or dt.date.today())
    return study_of(examined, sheets.sources, without_faulty=without_faulty)


def study_of(
    examined: Examined, sources: Sequence[Source] = (), *, without_faulty: bool = False
) -> Study:
    """Study of sheets that were examined; see `read_study`."""
    known = set(examined.tables["foundings"]["founding"]) - {""}
    errors = examined.findings.of_level("error")
    owners, names = errors.codes("founding")
    nobody = np.array([name not in known for name in names], dtype=bool)
    astray = errors.take(nobody[owners] if len(errors) else owners)
    if len(errors) and (len(astray) or not without_faulty):
        raise SheetError(examined.findings, _message(errors, astray, without_faulty))
    faulty = _faulty(errors)
    out = set(faulty["founding"])
    if known and known == out:
        raise SheetError(
            examined.findings,
            "Every founding has an error, so that none is left:\n" + "\n".join(lines(errors)),
        )
    mine = examined.tables["foundings"]
    keep = ~repeats(mine) & ~mine["founding"].isin(out).to_numpy()
    return Study(
        settings=examined.settings,
        kinds=_kinds(examined.tables["kinds"]),
        foundings=_foundings(mine[keep], examined.settings.season),
        checks=_checks(examined.seen.looks, out),
        events=_without(examined.seen.events, out)[list(_EVENTS)].reset_index(drop=True),
        catches=_catches(examined.tables["catches"]),
        temperatures=_first(examined.tables["temperatures"], _TEMPERATURES, ["shelf", "date"]),
        faulty=faulty,
        sources=tuple(sources),
        not_read=_not_read(examined.findings),
    )


def _not_read(findings: Found) -> tuple[str, ...]:
    """One line for each file that was passed over with a warning."""
    rules, names = findings.codes("rule")
    if "file-not-read" not in names:
        return ()
    told = findings.take(rules == names.index("file-not-read")).of_level("warning")
    return tuple({f.file: f"{f.file}: {f.what} {f.remedy}" for f in told}.values())


def _message(errors: Found, astray: Found, without_faulty: bool) -> str:
    shown = astray if without_faulty else errors
    text = [f"The sheets have {counted(shown)}.", *lines(shown)]
    if without_faulty:
        text.append("These belong to no one founding, so that leaving foundings out is no help.")
    elif not len(astray):
        count = len(errors.codes("founding")[1])
        text.append(
            f"Mend them, or go on without {'this founding' if count == 1 else 'these foundings'} "
            f"({count}) by adding --without-faulty."
        )
    return "\n".join(text)


def _faulty(errors: Found) -> pd.DataFrame:
    first: dict[str, Finding] = {}
    whys: dict[str, dict[str, None]] = {}
    for error in errors:
        first.setdefault(error.founding, error)
        whys.setdefault(error.founding, {})[error.what] = None
    return pd.DataFrame(
        {
            "founding": pd.Series(list(first), dtype=object),
            "why": pd.Series([" ".join(whys[name]) for name in first], dtype=object),
            "file": pd.Series([error.file for error in first.values()], dtype=object),
            "row": pd.Series([error.row for error in first.values()], dtype=np.int64),
        }
    )


def _foundings(table: pd.DataFrame, season: str) -> pd.DataFrame:
    queens = table["queens"].to_numpy(dtype=np.int64)
    arm = np.where(queens == 1, "single", "multi").astype(object)
    made = table.drop(columns="genus").rename(columns={"label": "genus", "from": "from_"})
    made = made.assign(queens=queens, arm=arm, season=season.strip())
    return made[list(_FOUNDINGS)].reset_index(drop=True)


def _without(table: pd.DataFrame, out: set[str]) -> pd.DataFrame:
    return table[~table["founding"].isin(out)] if out else table


def _checks(looks: pd.DataFrame, out: set[str]) -> pd.DataFrame:
    made = _without(looks, out).rename(columns={"queens_alive_at_least": "at_least"})
    return made[list(_CHECKS)].reset_index(drop=True)


def _catches(table: pd.DataFrame) -> pd.DataFrame:
    made = table.drop(columns="genus").rename(columns={"label": "genus"})
    return _first(made, _CATCHES, ["catch"])


def _kinds(table: pd.DataFrame) -> pd.DataFrame:
    """One row for each kind; what one row leaves blank is taken from the next that says it."""
    said = table[list(_KINDS)].replace("", pd.NA)
    made = said.groupby("kind", sort=False).first().reset_index()
    texts = [name for name in _KINDS if name != "first_called"]
    made[texts] = made[texts].fillna("").astype(object)
    return made[list(_KINDS)]


def _first(table: pd.DataFrame, columns: Sequence[str], key: list[str]) -> pd.DataFrame:
    """Table without its repeated rows."""
    return table[list(columns)].drop_duplicates(key).reset_index(drop=True)
