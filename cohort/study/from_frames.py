"""Frames in a notebook -> a study, through the same audit as sheets.

What comes in: pandas frames with the columns of the sheets. What goes out: a frozen `Study`. Every
cell is turned into the text a keeper would have typed, so that each rule of the audit speaks of
frames as it does of sheets. Nothing is repaired, and no frame that was given is altered.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.audit import examine
from cohort.audit.show import lines
from cohort.base.asked import day_of
from cohort.base.errors import StudyError
from cohort.sheets.found import Found
from cohort.sheets.raw import RawTable, Sheets, Source, column_name
from cohort.study import Study, study_of
from cohort.study.own import own_names, with_own
from cohort.terms import SETTINGS, SHEETS
from cohort.terms.adjusting import Adjust
from cohort.terms.near import did_you_mean

_SAID: Final = ("frames", "without_faulty=True")
_LEAST: Final = {"at_least": "queens_alive", "workers_at_least": "workers"}
"""Columns of `Study.checks` that mark a number as a least one, by the number they mark."""


def study_from(
    foundings: pd.DataFrame,
    checks: pd.DataFrame | None = None,
    events: pd.DataFrame | None = None,
    *,
    kinds: pd.DataFrame | None = None,
    catches: pd.DataFrame | None = None,
    temperatures: pd.DataFrame | None = None,
    without_faulty: bool = False,
    today: dt.date | None = None,
    **settings: object,
) -> Study:
    """Study of frames, examined by the rules that sheets are examined by.

    Parameters
    ----------
    foundings, checks, events, kinds, catches, temperatures : DataFrame
        With the columns of the sheet of that name (``cohort.terms.SHEETS``, the tab "words" of a
        blank workbook); a named index counts as a column. Frames of a `Study` are taken as well.
        Dates may be dates, timestamps or text; a timestamp with a time zone stands for the calendar
        day in its own zone. Yes and no may be booleans. Blank is None, NaN, NaT, NA or ``""``.
    without_faulty : bool
        Leave out foundings that have an error, listed in `Study.faulty`.
    today : date, optional
        Dates after it are errors; today's date by default.
    **settings
        Settings of the study, such as ``horizon_days=180``, ``adjust=["feeding"]`` or
        ``adjust={"first_worker": ["housing"]}``.

    Returns
    -------
    Study
        Columns of your own are kept in `Study.foundings`, `Study.checks` and `Study.events`, and
        those of foundings in `Study.history`, where ``adjust`` finds them. Names that a study
        makes itself (``named``, ``season``, ``file``, ``row`` ...) are made anew. A word that was
        not understood and is read as blank is told in `Study.not_read`.

    Raises
    ------
    SheetError
        Errors in the frames, each with frame, row (counted from 1) and column; it carries all
        findings.
    StudyError
        A setting that does not exist, or something that is no frame.

    Examples
    --------
    >>> import cohort, pandas as pd
    >>> F = pd.DataFrame({"founding": ["a", "b"], "genus": "Lasius", "queens": [1, 3],
    ...                   "started": "2026-07-04", "altitude": [210.0, 640.0]})
    >>> C = pd.DataFrame({"founding": ["a", "b"], "date": pd.Timestamp("2026-07-12"),
    ...                   "queens_alive": [1, 2], "workers": 0})
    >>> s = cohort.study_from(F, C, horizon_days=160)
    >>> s.foundings[["founding", "arm", "altitude"]].to_dict("list")
    {'founding': ['a', 'b'], 'arm': ['single', 'multi'], 'altitude': [210.0, 640.0]}
    """
    given = {
        "kinds": kinds, "foundings": foundings, "checks": checks, "events": events,
        "catches": catches, "temperatures": temperatures,
    }  # fmt: skip
    frames = {name: _plain(name, frame) for name, frame in given.items() if frame is not None}
    tables = [_settings(settings), *(_raw(name, frame) for name, frame in frames.items())]
    sources = tuple(Source(f"{t.file} (frame)", _sum(t.frame)) for t in tables if len(t.frame))
    sheets = Sheets(tuple(tables), (), sources)
    examined = examine(sheets, day_of(today))
    study = study_of(examined, sources, without_faulty=without_faulty, said=_SAID)
    own: dict[str, Any] = {
        name: with_own(typed := getattr(study, name), _own_of(typed, name, frames[name]))
        for name in ("foundings", "checks", "events")
        if name in frames
    }
    return replace(study, **own, not_read=_read_as_blank(examined.findings))


def _plain(name: str, frame: object) -> pd.DataFrame:
    """The frame with its named index among its columns, all of them called by text."""
    if not isinstance(frame, pd.DataFrame):
        raise StudyError(f"{name} is a {type(frame).__name__}; give a pandas DataFrame.")
    if frame.columns.nlevels > 1:
        raise StudyError(f"{name}: its columns have several levels; give each one name.")
    named = [label for label in frame.index.names if label is not None]
    lacking = [label for label in named if label not in frame.columns]
    out = frame.reset_index(level=lacking) if lacking else frame
    out = out.reset_index(drop=True).set_axis([str(label) for label in out.columns], axis=1)
    twice = out.columns[out.columns.duplicated()]
    if len(twice):
        raise StudyError(f"{name}: two columns are called '{twice[0]}'. Rename one of them.")
    return out


def _raw(name: str, frame: pd.DataFrame) -> RawTable:
    """A frame as a sheet that somebody typed; columns of its own are left to `_own_of`."""
    source = _as_sheet(name, frame)
    known = SHEETS[name].names
    texts = {str(c): _texts(source[c]) for c in source.columns if column_name(str(c)) in known}
    for mark, number in _LEAST.items() if name == "checks" else ():
        if mark in frame and number in texts:
            least = frame[mark].fillna(False).to_numpy(dtype=bool) & (texts[number] != "")
            texts[number] = np.where(least, texts[number] + "+", texts[number]).astype(object)
    cells = pd.DataFrame(texts, index=pd.RangeIndex(len(source)), dtype=object)
    blank = (cells == "").all(axis=1).to_numpy(dtype=bool)
    return RawTable(name, name, "", cells[~blank], np.arange(1, len(source) + 1)[~blank])


def _as_sheet(name: str, frame: pd.DataFrame) -> pd.DataFrame:
    """Frames of a `Study` as its sheets had them: no genus where a kind has none yet."""
    out = frame.rename(columns={"from_": "from"}) if "from" not in frame else frame
    if name == "foundings" and "named" in frame and "kind" in frame:
        named = frame["named"].fillna(True).to_numpy(dtype=bool)
        out = out.assign(genus=out["genus"].where(named, ""))
    return out


def _texts(column: pd.Series) -> np.ndarray:
    """Each cell as somebody would have typed it."""
    values = column.astype(object).to_numpy() if column.dtype == object else column
    try:
        codes, different = pd.factorize(values)
    except TypeError:  # lists and the like, which no rule will take
        codes, different = np.arange(len(column)), column.to_numpy(dtype=object)
    if column.dtype == object and any(isinstance(v, bool | np.bool_) for v in different):
        codes, different = np.arange(len(column)), column.to_numpy(dtype=object)  # True is not 1
    texts = np.array([*(text_of(value) for value in different), ""], dtype=object)
    return np.take(texts, codes)  # -1, a blank, takes the last


def text_of(value: object) -> str:
    """A value as it would be typed in a cell; blank for what is missing."""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value.strip()
    if value is None or value is pd.NA or value is pd.NaT or value != value:
        return ""
    if isinstance(value, np.datetime64):
        return str(value.astype("datetime64[D]"))
    if isinstance(value, dt.datetime):  # pandas' own too; with a zone, the day in that zone
        return value.date().isoformat()
    if isinstance(value, dt.timedelta):
        return text_of(value / dt.timedelta(days=1))
    if isinstance(value, float | np.floating) and float(value).is_integer():
        return str(int(value))
    return str(value)


def _settings(given: Mapping[str, object]) -> RawTable:
    """Settings as a sheet `study` has them."""
    for name in given:
        if name not in SETTINGS:
            near = did_you_mean(name, SETTINGS) or f"Settings are {', '.join(SETTINGS)}."
            raise StudyError(f"There is no setting '{name}'. {near}")
    said = {name: _setting(value) for name, value in given.items() if value is not None}
    frame = pd.DataFrame({"setting": list(said), "value": list(said.values())}, dtype=object)
    return RawTable("study", "settings", "", frame, np.arange(1, len(said) + 1))


def _setting(value: object) -> str:
    if isinstance(value, Adjust):
        return value.said()
    if isinstance(value, Mapping):
        return "; ".join(f"{part}: {_setting(names)}" for part, names in value.items())
    if isinstance(value, Iterable) and not isinstance(value, str):
        return ", ".join(str(one) for one in value)
    return text_of(value)


def _sum(frame: pd.DataFrame) -> str:
    """Sum of all cells, by which two frames are known to be the same."""
    cells = json.dumps([list(frame.columns), frame.to_numpy().tolist()], ensure_ascii=True)
    return hashlib.sha256(cells.encode()).hexdigest()


def _own_of(typed: pd.DataFrame, name: str, given: pd.DataFrame) -> pd.DataFrame:
    """The columns that are the giver's own, of the types they had, for the rows of a study."""
    rows = typed["row"].to_numpy(dtype=np.int64) - 1
    return given[own_names(given.columns, name)].iloc[rows]


def _read_as_blank(findings: Found) -> tuple[str, ...]:
    """One line for each kind of cell that was read as blank with a warning."""
    rules, names = findings.codes("rule")
    if "unknown-word" not in names:
        return ()
    told = findings.take(rules == names.index("unknown-word")).of_level("warning")
    return tuple(lines(told)) if len(told) else ()
