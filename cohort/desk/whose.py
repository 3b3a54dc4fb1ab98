"""Whose foundings and whose files: which keeper a row is of, and which CSV file takes it.

Comes in: the sheets as they are, a number as typed. Goes out: a keeper's sign, a path inside the
study. It writes nothing.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path

from cohort.audit.alike import together
from cohort.base.errors import StudyError
from cohort.desk.sentences import tell
from cohort.sheets.append import safe_name
from cohort.sheets.numbers import as_known, keeper_of, near_number
from cohort.sheets.raw import Sheets, column_name, tag_of
from cohort.study.keepers import HANDED
from cohort.terms import words
from cohort.terms.contract import SHEET_NAMES

Row = Mapping[str, str]
CORRECTIONS = "corrections"
"""End of the name of the file that takes corrections: ``checks-K1-corrections.csv``."""


def foundings_typed(sheets: Sheets) -> dict[str, str]:
    """Numbers of foundings as typed -> keeper's sign (column, else file name, else number).

    Of one that was handed over it is the keeper who looks after it now.
    """
    out: dict[str, str] = {}
    for table in sheets.of("foundings"):
        names = {column_name(str(heading)): heading for heading in table.frame.columns}
        if "founding" not in names:
            continue
        tag = tag_of(table.file.rpartition(".")[0], SHEET_NAMES)
        signs = table.frame[names["keeper"]] if "keeper" in names else None
        for place, number in enumerate(table.frame[names["founding"]].astype(str)):
            sign = str(signs.iloc[place]) if signs is not None else ""
            out.setdefault(number, sign or tag or keeper_of(number))
    handed = together(sheets, "events")
    handed = handed[handed["event"].str.lower().str.replace(" ", "-").eq(HANDED)]
    for number, sign in zip(handed["founding"], handed["other"], strict=True):
        if number in out and sign:  # the last row is the last keeper
            out[number] = as_known(sign, out.values())
    return out


def on_shelf(sheets: Sheets, shelf: str) -> set[str]:
    """Numbers of the foundings, as typed, that stand on a shelf; none where there is no such."""
    out: set[str] = set()
    for table in sheets.of("foundings"):
        names = {column_name(str(heading)): heading for heading in table.frame.columns}
        if shelf and {"founding", "shelf"} <= set(names):
            there = table.frame[names["shelf"]].astype(str).str.strip() == shelf
            out |= set(table.frame.loc[there, names["founding"]].astype(str))
    return out


def keeper_for(sheets: Sheets, founding: str) -> str:
    """Sign of the keeper of a founding; of the only one for ``rest``, ``all`` and a shelf.

    Raises
    ------
    StudyError
        There is no such founding, or several keepers of whom one must be named.
    """
    known = foundings_typed(sheets)
    if founding in known:
        return known[founding]
    shelved = on_shelf(sheets, founding)
    if shelved or founding.lower() in words.RESERVED_IDS:
        signs = {known[name] for name in shelved or known}
        if len(signs) == 1:
            return signs.pop()
        raise StudyError(tell("whose_all", founding=founding))
    near = near_number(founding, known)
    if near:
        raise StudyError(tell("whose_near", founding=founding, near=near))
    raise StudyError(tell("whose_none", founding=founding))


def target(folder: Path, sheet: str, keeper: str) -> Path:
    """CSV file of a keeper's rows of a sheet.

    Parameters
    ----------
    folder : Path
        The study.
    sheet : str
        ``checks``, ``events`` or ``foundings``.
    keeper : str
        Sign; blank for a study without signs.

    Returns
    -------
    Path
        The keeper's file if there is one, else the study's one file without a sign if there is
        one, else a new file of the keeper. Always directly inside the folder.
    """
    own, common = _own(folder, sheet, keeper), folder / f"{sheet}.csv"
    return common if not os.path.lexists(own) and os.path.lexists(common) else own


def _own(folder: Path, sheet: str, keeper: str, more: str = "") -> Path:
    sign = safe_name(keeper) if keeper else ""
    return folder / f"{'-'.join(part for part in (sheet, sign, more) if part)}.csv"


def target_of(
    folder: Path, sheet: str, keeper: str, rows: Sequence[Row], known: Mapping[str, str]
) -> Path:
    """As `target`; but `rest` in a file of several keepers would speak of all their foundings.

    So would a shelf; ``known`` has the numbers of foundings, with the keeper of each. Corrections
    have a file of their own: a sheet that stands may lack their column.
    """
    if any(row.get("corrects") for row in rows):
        return _own(folder, sheet, keeper, CORRECTIONS)
    for_all = any(row.get("founding", "").lower() in words.RESERVED_IDS for row in rows)
    for_all |= sheet == "events" and any(row["founding"] not in known for row in rows)
    if for_all and keeper and {*known.values()} - {"", keeper}:
        return _own(folder, sheet, keeper)
    return target(folder, sheet, keeper)


def named_in_file(name: str, sheets: Sheets) -> str:
    """Keeper by whose sign a file of notes is called, such as ``checks-K2-2026-07-12.txt``.

    Blank where a sheet without the sign would do: a name of one's own says nothing.
    """
    start, *parts = Path(name).stem.lower().split("-")
    known = {sign.lower(): sign for sign in foundings_typed(sheets).values() if sign}
    return known.get(parts[0], "") if start == "checks" and parts else ""
