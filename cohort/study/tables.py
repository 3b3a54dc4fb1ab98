"""A study: frozen, typed, with no error in it.

What comes in: sheets that were examined. What goes out: `Study`, the only shape in which the rest
of the house takes data. The only way in is sheets without an error, or without the foundings in
error when that is asked for; nothing is repaired on the way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cohort.audit import Examined, Settings
from cohort.audit.foundings import repeats
from cohort.audit.seasons import seasons
from cohort.audit.show import counted, lines
from cohort.base import doors
from cohort.base.display import Facts, Shown, several
from cohort.base.errors import Finding, SheetError
from cohort.base.frames import hands_out_copies, held
from cohort.sheets.found import Found
from cohort.sheets.raw import Source
from cohort.terms import contract
from cohort.terms.columns import Sheet
from cohort.terms.described import described

if TYPE_CHECKING:
    from cohort.history.record import History

__all__ = ["Settings", "Source", "Study", "study_of"]


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
    corrects=(),  # only looks that stand are in a study
)
_EVENTS = _names(contract.EVENTS, "file", "row")
_CATCHES = contract.CATCHES.names
_KINDS = contract.KINDS.names
_TEMPERATURES = contract.TEMPERATURES.names
_FAULTY = ("founding", "why", "file", "row")
COLUMNS = {
    "kinds": _KINDS,
    "foundings": _FOUNDINGS,
    "checks": _CHECKS,
    "events": _EVENTS,
    "catches": _CATCHES,
    "temperatures": _TEMPERATURES,
    "faulty": _FAULTY,
}
"""Columns that a study makes, by frame; any other is a frame's own."""


@hands_out_copies(**{name: described(f"sheet:{name}") for name in COLUMNS})
@dataclass(frozen=True, repr=False, eq=False)
class Study(Shown):
    """A study as it is analysed.

    Dates are ``datetime64[ns]`` (NaT blank), counts ``Int64`` (``<NA>`` blank), text is ``""`` when
    blank. Frames are handed out as copies, with units and meanings of their columns in ``attrs``.

    Parameters
    ----------
    settings : Settings
        What was agreed.
    kinds, foundings, checks, events, catches, temperatures : DataFrame
        The sheets, typed. In `foundings`, ``genus`` is the label of the analysis (genus, or the
        kind's own word while ``named`` is False), ``season`` is that of the flight, else of the
        start, as the settings name it, and ``arm`` is filled in; columns of one's own stand behind
        the others. In `checks`, `rest` rows are spread out (``from_rest``) and ``at_least`` marks
        ``5+``; sorted by founding (in the order of `foundings`) and date. In `events`, `all` rows
        are spread out.
    faulty : DataFrame
        Foundings left out for an error: founding, why, file, row.
    sources : tuple of Source
        Every file read, with its SHA-256.
    not_read : tuple of str
        One line for each file that looks like a sheet of the study and was not read.

    Examples
    --------
    >>> import cohort
    >>> s = cohort.read_study("data/demo")
    >>> s.settings.horizon_days
    180
    >>> s.checks.attrs["meanings"]["queens_alive"]
    'Living queens; blank: not looked at; 5+: at least five; same: with `rest` only'
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

    def history(self) -> History:
        """What was seen of every founding: the very history that `cohort.compare` goes by.

        Brackets, intervals, queens at risk and lost, entry and end; the warmth of each shelf where
        it has a log; the rarest of very many kinds as one.

        Returns
        -------
        History

        Examples
        --------
        >>> import cohort
        >>> found = cohort.read_study("data/demo").history().foundings
        >>> found[["founding", "first_after", "first_by"]].iloc[0].to_dict()
        {'founding': 'K1-01', 'first_after': 36.0, 'first_by': 40.0}
        """
        past: History = doors.call("history_of", self)
        return past

    def only(self, **which: object) -> Study:
        """A smaller study, of foundings with certain values.

        Parameters
        ----------
        **which
            By column of `foundings` (one of your own, too) a value or a list of them, such as
            ``genus=["Lasius", "Messor"], keeper="K2"``. A founding must meet all.

        Returns
        -------
        Study

        Raises
        ------
        StudyError
            There is no such column, a value never occurs in it, or no founding meets all.

        Notes
        -----
        Catches stay where a founding names them. `faulty` stays: of a founding in error it is not
        known what it is.

        Examples
        --------
        >>> import cohort
        >>> s = cohort.read_study("data/demo").only(genus=["Lasius", "Messor"], queens=[1, 3])
        >>> sorted(s.foundings["genus"].unique())
        ['Lasius', 'Messor']
        """
        part: Study = doors.call("only", self, which)
        return part

    def survival(
        self,
        event: str,
        *,
        below: int | None = None,
        at_least: int | None = None,
        shift: float = 1e-6,
    ) -> pd.DataFrame:
        """Brackets of an event, one row per compared founding, ready for lifelines.

        As `cohort.survival`, but that ``lower`` is a little later than the look.

        Parameters
        ----------
        event : str
            ``first_worker``, ``all_lost``, ``eggs``, ``larvae``, ``pupae``, ``queens`` or
            ``workers``.
        below, at_least : int, optional
            Of ``queens`` and ``workers``.
        shift : float
            Days that ``lower`` is later, because lifelines closes brackets and takes the log of
            ``lower``. With 0 it is the look itself.

        Returns
        -------
        DataFrame
            Columns as in `cohort.survival`.

        Raises
        ------
        StudyError
            No such event, or a number that is missing or has no use here.

        Examples
        --------
        >>> import cohort
        >>> frame = cohort.read_study("data/demo").survival("queens", below=2)
        >>> sorted(frame["group"].unique())  # a single queen cannot come down to one
        ['multi']
        """
        brackets: pd.DataFrame = doors.call(
            "survival", self, event, below=below, at_least=at_least, shift=shift
        )
        return brackets

    def second_opinion(self, *, seed: int | None = None, level: float = 0.9) -> pd.DataFrame:
        """The questions of a comparison answered by standard methods, without the model.

        Parameters
        ----------
        seed : int, optional
            Of resamples and lots; by default that of `cohort.compare`.
        level : float
            Mass of every range, between 0.5 and 0.99.

        Returns
        -------
        DataFrame
            As ``second_opinion.csv``; the model's columns are blank.

        Raises
        ------
        StudyError
            No such level.

        Examples
        --------
        >>> import cohort
        >>> table = cohort.read_study("data/demo").second_opinion(seed=1)
        >>> int(table["model"].count())
        0
        """
        table: pd.DataFrame = doors.call("second_opinion", self, seed=seed, level=level)
        return table

    def facts(self) -> tuple[str, Facts]:
        """Title and size of the study."""
        found = held(self, "foundings")
        looks, events, faulty = (len(held(self, n)) for n in ("checks", "events", "faulty"))
        ways = found["arm"].value_counts()
        return f"Study: {self.settings.title or 'without a title'}", {
            "foundings": f"{len(found):,}, {ways.get('single', 0):,} of one queen and "
            f"{ways.get('multi', 0):,} of several",
            "kinds": ", ".join(sorted(found["genus"].unique())),
            "sheets": f"{several(looks, 'look')}, {several(events, 'event')} "
            f"from {several(len(self.sources), 'file')}",
        } | ({"left out for errors": f"{faulty}"} if faulty else {}) | (
            {"not read": "; ".join(self.not_read)} if self.not_read else {}
        )


def study_of(
    examined: Examined,
    sources: Sequence[Source] = (),
    *,
    without_faulty: bool = False,
    said: tuple[str, str] = ("sheets", "--without-faulty"),
) -> Study:
    """Study of sheets that were examined; see `cohort.read_study`.

    `said`: what holds the errors, and what may be added to go on without faulty foundings.
    """
    known = set(examined.tables["foundings"]["founding"]) - {""}
    errors = examined.findings.of_level("error")
    owners, names = errors.codes("founding")
    nobody = np.array([name not in known for name in names], dtype=bool)
    astray = errors.take(nobody[owners] if len(errors) else owners)
    if len(errors) and (len(astray) or not without_faulty):
        raise SheetError(examined.findings, _message(errors, astray, without_faulty, said))
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


def _message(errors: Found, astray: Found, without_faulty: bool, said: tuple[str, str]) -> str:
    shown = astray if without_faulty else errors
    text = [f"The {said[0]} have {counted(shown)}.", *lines(shown)]
    if without_faulty:
        text.append("These belong to no one founding, so that leaving foundings out is no help.")
    elif not len(astray):
        count = len(errors.codes("founding")[1])
        text.append(
            f"Mend them, or go on without {'this founding' if count == 1 else 'these foundings'} "
            f"({count}) by adding {said[1]}."
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
    made = made.assign(queens=queens, arm=arm, season=seasons(season, table))
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
