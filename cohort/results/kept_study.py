"""The study in a folder of results: written beside the numbers, read to make a page again.

Comes in: a `Study`, or a folder. Goes out: the tables in ``study/``, or the `Study` again, without
what the folder does not keep (see `cohort.terms.written.kept`). Never: a sheet, a note, a place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.audit.settings import Settings, read_settings
from cohort.base.errors import StudyError
from cohort.base.frames import held
from cohort.results.files import AGAIN, STUDY_TABLES, DamagedError, loaded
from cohort.sheets import written
from cohort.sheets.raw import RawTable, Source
from cohort.study import COLUMNS, Study
from cohort.terms.adjusting import Adjust
from cohort.terms.written import WRITTEN
from cohort.terms.written.kept import FOLDER

_UNKEPT: Final = frozenset({"photo_credit", "date_order"})
"""Settings that are not written: no photograph is kept, and no date is read from text."""


def write_study_files(study: Study, place: Path) -> None:
    """Write the tables of a study into ``place/study``."""
    (place / FOLDER).mkdir()
    for name in STUDY_TABLES:
        frame = _settings(study.settings) if name == "settings" else _kept(study, name)
        table = f"{FOLDER}_{name}"
        written.write(frame, table, place / WRITTEN[table].file)


def _kept(study: Study, name: str) -> pd.DataFrame:
    frame = held(study, name)[list(WRITTEN[f"{FOLDER}_{name}"].names)]
    if name == "foundings" and not study.settings.show_keepers:
        codes, signs = pd.factorize(frame["keeper"].replace("", None), sort=True)
        numbers = np.array([*(str(i) for i in range(1, len(signs) + 1)), ""], dtype=object)
        frame = frame.assign(keeper=numbers[codes])
    return frame


def _settings(settings: Settings) -> pd.DataFrame:
    said = {
        f.name: _text(getattr(settings, f.name)) for f in fields(settings) if f.name not in _UNKEPT
    }
    if not settings.through_winter:  # what nearly no study says is not written as a no
        del said["through_winter"]
    rows = [(name, value) for name, value in said.items() if value]
    return pd.DataFrame(rows, columns=["setting", "value"], dtype=object)


def _text(value: object) -> str:
    """A setting as it is typed in a sheet."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Adjust):
        return value.said()
    if isinstance(value, tuple):
        return ", ".join(value)
    return "" if value is None else str(value)


def read_study_files(folder: Path, run: Mapping[str, Any]) -> Study:
    """Study of a folder of results, as far as the folder keeps it.

    Parameters
    ----------
    folder : Path
    run : dict
        What ``run.json`` says; it names the sheets.

    Raises
    ------
    StudyError
        The folder keeps no study (an earlier version wrote it), or a file is damaged.
    """
    lacking = [
        name for name in STUDY_TABLES if not (folder / WRITTEN[f"{FOLDER}_{name}"].file).is_file()
    ]
    if lacking:
        raise StudyError(
            f"{folder} does not keep the study behind its numbers ({FOLDER}/{lacking[0]}.csv is "
            f"not there), so no picture or page can be made from it. {AGAIN}"
        )

    def table(name: str) -> pd.DataFrame:
        path = folder / WRITTEN[f"{FOLDER}_{name}"].file
        return loaded(path, lambda at: written.read(at, f"{FOLDER}_{name}"))

    every = table("settings")
    ours = every["setting"].eq("adjust")  # may name columns of one's own, which no sheet's may
    said, adjust = every[~ours], Adjust.read("".join(every.loc[ours, "value"]))
    rows = np.arange(2, len(said) + 2)
    raw = RawTable("study", f"{FOLDER}/settings.csv", "", said.astype(object), rows)
    settings, findings = read_settings([raw])
    if findings:
        raise DamagedError(folder / FOLDER / "settings.csv", str(findings[0]))
    frames: dict[str, Any] = {
        name: _as_read(table(name), name) for name in STUDY_TABLES if name != "settings"
    }
    sources = tuple(Source(str(n), str(s)) for n, s in run["sheets"].items())
    return Study(settings=replace(settings, adjust=adjust), sources=sources, **frames)


def _as_read(frame: pd.DataFrame, name: str) -> pd.DataFrame:
    """The frame with every column a `Study` has; what was not kept is blank."""
    blank: dict[str, Any] = {"first_called": pd.NaT, "row": 0}
    made = {c: frame[c] if c in frame else blank.get(c, "") for c in COLUMNS[name]}
    out = pd.DataFrame(made, index=frame.index)
    if "first_called" in out:
        out["first_called"] = out["first_called"].astype("datetime64[ns]")
    return out
