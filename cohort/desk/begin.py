"""A new study: one workbook per keeper in a folder.

What comes in: a folder and what was agreed. What goes out: XLSX files that exist nowhere yet. It
never overwrites a file and never writes to a workbook that is already there; a workbook comes whole
or not at all.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from cohort.base.errors import StudyError
from cohort.sheets.blank import blank_workbook
from cohort.sheets.numbers import next_numbers
from cohort.sheets.put import create
from cohort.sheets.raw import RawTable
from cohort.terms.contract import SETTINGS
from cohort.terms.near import did_you_mean

MOST_KEEPERS = 500
_SIGN = re.compile(r"[A-Za-z][A-Za-z0-9]{0,11}\Z")


@dataclass(frozen=True)
class Begun:
    """Workbooks written, and those that were there already and were left alone."""

    written: tuple[Path, ...]
    left: tuple[Path, ...]


def begin(
    folder: Path,
    keepers: int | Sequence[str] = 1,
    *,
    numbers: int = 99,
    settings: Mapping[str, str] | None = None,
) -> Begun:
    """Write an empty workbook for each keeper.

    Parameters
    ----------
    folder : Path
        Folder of the study; made if it is not there.
    keepers : int or sequence of str
        How many keepers (``K1``, ``K2`` ...), or their signs (letters and digits).
    numbers : int
        Numbers that stand ready for each keeper, 1 to 999; they follow those already in the study.
    settings : mapping of str to str, optional
        Settings for the tab ``study``, such as ``{"title": "...", "horizon_days": "180"}``.

    Raises
    ------
    StudyError
        If the folder cannot be used, a sign or setting is not understood, or every workbook is
        there already.
    """
    signs = _signs(keepers)
    if not 1 <= numbers <= 999:
        raise StudyError(f"{numbers} numbers per keeper were asked for. Take 1 to 999.")
    agreed = dict(settings or {})
    for name in agreed:
        if name not in SETTINGS:
            raise StudyError(
                f"'{name}' is not a setting of a study. {did_you_mean(name, SETTINGS)} "
                f"Settings: {', '.join(SETTINGS)}."
            )
    _readable(agreed)
    if folder.exists() and not folder.is_dir():
        raise StudyError(f"{folder} is a file. Name a folder for the study.")
    written: list[Path] = []
    left: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        used = _used(folder)
        for sign in signs:
            path = folder / f"{sign}.xlsx"
            ready = next_numbers(sign, used, numbers)
            try:
                create(path, blank_workbook(sign, numbers=ready, settings=agreed))
            except FileExistsError:
                left.append(path)
            else:
                written.append(path)
    except OSError as fault:
        raise StudyError(
            f"{folder}: cannot be written to ({fault.strerror or fault}). "
            f"Workbooks written before: {', '.join(path.name for path in written) or 'none'}."
        ) from fault
    if not written:
        raise StudyError(
            f"{folder}: {', '.join(path.name for path in left)} already there. Nothing was "
            "written; an existing workbook is never overwritten."
        )
    return Begun(tuple(written), tuple(left))


def _used(folder: Path) -> tuple[str, ...]:
    """Numbers that a study has given to foundings; those of drawn lists may yet be filled in."""
    if not any(folder.iterdir()):
        return ()
    from cohort.desk.whose import foundings_typed
    from cohort.sheets.folder import read_folder

    try:
        sheets = read_folder(folder)
    except StudyError:  # no sheets in it yet, or none that can be read
        return ()
    return tuple(number for number in foundings_typed(sheets) if number not in sheets.drawn)


def _readable(agreed: Mapping[str, str]) -> None:
    """Refuse a setting that no command could read afterwards."""
    import numpy as np
    import pandas as pd

    from cohort.audit.settings import read_settings

    typed = pd.DataFrame({"setting": list(agreed), "value": list(agreed.values())}, dtype=object)
    rows = np.zeros(len(typed), dtype=np.int64)
    _, found = read_settings([RawTable("study", "", "", typed, rows)])
    for fault in found:
        if fault.level == "error":
            raise StudyError(f"{fault} Nothing was written.")


def _signs(keepers: int | Sequence[str]) -> tuple[str, ...]:
    if isinstance(keepers, int):
        if not 1 <= keepers <= MOST_KEEPERS:
            raise StudyError(f"{keepers} keepers were asked for. Take 1 to {MOST_KEEPERS}.")
        return tuple(f"K{n}" for n in range(1, keepers + 1))
    for sign in keepers:
        if not _SIGN.match(sign):
            raise StudyError(
                f"'{sign}' cannot be a keeper's sign. Take a letter, then letters or digits, "
                "such as K3 or AB: the sign becomes part of file names and numbers."
            )
    if len({sign.lower() for sign in keepers}) < len(keepers):
        raise StudyError("A keeper's sign was given twice. Each keeper needs a sign of their own.")
    return tuple(keepers)
