"""Drawn lists kept with a study, and what the sheets say against them.

What comes in: a study folder whose inner folder ``lists`` holds one CSV file per drawn list. What
goes out: all lots as one frame, new list files, and findings where foundings written as
``assigned = random`` differ from their list. A list file is never changed once it is written.
"""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import pandas as pd

from cohort.base.errors import Finding, StudyError
from cohort.sheets.files import bytes_of, inner, told
from cohort.sheets.guard import guard, unguard
from cohort.sheets.put import create
from cohort.sheets.sentences import tell

FOLDER = "lists"
"""Folder inside a study that holds the drawn lists; readers of sheets do not enter it."""
COLUMNS = (
    "list",
    "seed",
    "drawn",
    "sizes",
    "shares",
    "block_of",
    "block",
    "order",
    "kind",
    "keeper",
    "flight",
    "founding",
    "arm",
    "queens",
    "which",
    "assigned",
)
_NAME = re.compile(r"L(\d+)\Z")
MAX_LIST = 20_000_000
"""Largest list file read (bytes)."""


def next_name(folder: Path) -> str:
    """Name of the next list of a study: ``L1``, ``L2`` ..."""
    taken = [m for path in inner(folder, FOLDER).glob("*.csv") if (m := _NAME.match(path.stem))]
    return f"L{max((int(m[1]) for m in taken), default=0) + 1}"


def new_list(folder: Path, name: str, lots: Sequence[Mapping[str, str]]) -> dict[Path, bytes]:
    """File of a drawn list that is not there yet, and its bytes; arguments as for `write_list`.

    Raises
    ------
    StudyError
        If a list of that name is there already, or the folder of the lists cannot be used.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for lot in lots:
        writer.writerow([guard(lot.get(column, "")) for column in COLUMNS])
    try:
        path = inner(folder, FOLDER, make=True) / f"{name}.csv"
    except OSError as fault:
        raise StudyError(
            f"{folder / FOLDER}: cannot be written to ({fault.strerror or fault})."
        ) from fault
    if os.path.lexists(path):
        raise StudyError(_THERE.format(name=path.name))
    return {path: out.getvalue().encode()}


_THERE = "{name}: this list is there already and is not changed. Draw again under a new name."


def write_list(folder: Path, name: str, lots: Sequence[Mapping[str, str]]) -> Path:
    """Keep a drawn list in the study.

    Parameters
    ----------
    folder : Path
        The study.
    name : str
        Name of the list, such as ``L1``.
    lots : sequence of mapping
        One per founding, keyed by `COLUMNS`.

    Returns
    -------
    Path
        The new file.

    Raises
    ------
    StudyError
        If a list of that name is there already, or nothing can be written.
    """
    path, data = next(iter(new_list(folder, name, lots).items()))
    try:
        create(path, data)
    except FileExistsError as fault:
        raise StudyError(_THERE.format(name=path.name)) from fault
    except OSError as fault:
        raise StudyError(f"{path}: cannot be written ({fault.strerror or fault}).") from fault
    return path


def read_lists(folder: Path) -> pd.DataFrame:
    """All lots of all lists of a study.

    Parameters
    ----------
    folder : Path
        The study.

    Returns
    -------
    DataFrame
        `COLUMNS` as text (``order`` and ``queens`` as whole numbers), with ``file`` and ``row``;
        no rows when nothing was drawn. Lists printed before the season have blank ``founding``.

    Raises
    ------
    StudyError
        If a list file was damaged or altered so that it is no list any more.
    """
    lots: list[dict[str, object]] = []
    for path in sorted(inner(folder, FOLDER).glob("*.csv"), key=_in_order):
        lots += _read_list(path)
    frame = pd.DataFrame(lots, columns=[*COLUMNS, "file", "row"])
    return frame.astype({"order": "int64", "queens": "int64", "row": "int64"})


def named_on(path: Path) -> frozenset[str]:
    """Foundings and blocks that a list file names; none where it cannot be read."""
    try:
        lots = list(_read_list(path))
    except StudyError:
        return frozenset()
    return frozenset(str(lot[name]) for lot in lots for name in ("founding", "block")) - {""}


def drawn_numbers(folder: Path) -> tuple[frozenset[str], list[Finding]]:
    """Numbers of foundings on the lists of a study, and a warning where a list cannot be read."""
    try:
        return frozenset(str(n) for n in read_lists(folder)["founding"]) - {""}, []
    except StudyError as fault:
        return frozenset(), [_altered(fault)]


class _Altered(StudyError):
    """A list that is none any more: its file, the row (0: none), what is wrong, what to do."""

    def __init__(self, file: str, row: int, what: str) -> None:
        self.file, self.row, self.what, self.remedy = file, row, what, tell("list_altered_do")
        where = f"{file}, row {row}" if row else file
        super().__init__(f"{where}: {what[:1].lower()}{what[1:]} {self.remedy}")


def _altered(fault: StudyError) -> Finding:
    if isinstance(fault, _Altered):
        return Finding(
            level="warning",
            rule="list-altered",
            file=fault.file,
            row=fault.row,
            what=fault.what,
            remedy=fault.remedy,
        )
    return Finding(level="warning", rule="list-altered", what=str(fault), remedy="")


def _in_order(path: Path) -> tuple[int, str]:
    match = _NAME.match(path.stem)
    return (int(match[1]) if match else 0, path.name)


def _read_list(path: Path) -> Iterator[dict[str, object]]:
    name = f"{FOLDER}/{told(path)}"
    try:
        text = bytes_of(path, MAX_LIST).decode("utf-8-sig")
        rows = list(csv.reader(io.StringIO(text)))
    except (UnicodeDecodeError, csv.Error) as fault:
        raise _Altered(name, 0, tell("list_altered")) from fault
    if not rows or tuple(rows[0]) != COLUMNS:
        raise _Altered(name, 0, tell("list_headings"))
    for number, cells in enumerate(rows[1:], start=2):
        if not any(cells):
            continue
        lot: dict[str, object] = dict(zip(COLUMNS, map(unguard, cells), strict=False))
        whole = [str(lot.get(c, "")) for c in ("order", "queens")]
        if len(cells) != len(COLUMNS) or not all(w.isascii() and w.isdigit() for w in whole):
            raise _Altered(name, number, tell("list_no_lot"))
        yield {
            **lot,
            "order": int(whole[0][:9]),
            "queens": int(whole[1][:9]),
            "file": name,
            "row": number,
        }


# --- the sheets against the lists ---------------------------------------------------------------


def against_lists(foundings: pd.DataFrame, lists: pd.DataFrame) -> list[Finding]:
    """Where the sheet differs from the drawn list.

    Parameters
    ----------
    foundings : DataFrame
        Columns founding, queens, assigned, block, started, file, row (as in a `Study`).
    lists : DataFrame
        From `read_lists`.

    Returns
    -------
    list of Finding
        Warnings: none of this makes a row unusable.
    """
    if lists.empty or foundings.empty:
        return []
    whole = foundings["queens"].notna() & foundings["started"].notna()  # others are errors already
    drawn = foundings[whole & (foundings["assigned"] == "random")]
    known = set(lists["block"]) - {""}
    by_number = lists[(lists["founding"] != "") & (lists["assigned"] == "random")]
    numbered = by_number.drop_duplicates("founding").set_index("founding")
    findings = [f for _, row in drawn.iterrows() for f in _one(row, numbered, known)]
    for number in numbered.index.difference(pd.Index(foundings["founding"])):
        lot = numbered.loc[number]
        findings.append(
            _differs(
                lot,
                tell(
                    "list_not_in_sheet",
                    founding=str(number),
                    queens=_queens(int(lot["queens"])),
                    block=str(lot["block"]),
                ),
                tell("list_not_in_sheet_do"),
                str(number),
            )
        )
    blank = lists[(lists["founding"] == "") & (lists["block"] != "")]
    for block, lots in blank.groupby("block", sort=False):
        findings += _in_turn(drawn[drawn["block"] == block], lots)
    return findings


def _differs(row: pd.Series, what: str, remedy: str, founding: str) -> Finding:
    return Finding(
        level="warning",
        rule="against-the-list",
        what=what,
        remedy=remedy,
        file=str(row["file"]),
        row=int(row["row"]),
        founding=founding,
    )


def _queens(number: int) -> str:
    return tell("queens", n=number)


def _one(row: pd.Series, numbered: pd.DataFrame, known: set[str]) -> Iterator[Finding]:
    number, block = str(row["founding"]), str(row["block"])
    if number in numbered.index:
        lot = numbered.loc[number]
        if int(lot["queens"]) != int(row["queens"]):
            yield _differs(
                row,
                tell(
                    "list_other_queens",
                    founding=number,
                    queens=_queens(int(lot["queens"])),
                    here=str(row["queens"]),
                ),
                tell("list_other_queens_do"),
                number,
            )
        if block and block != lot["block"]:
            yield _differs(
                row,
                tell("list_other_block", founding=number, block=str(lot["block"]), here=block),
                tell("list_block_do"),
                number,
            )
    elif block not in known and block.rpartition(".")[0] in known:
        own = block.rpartition(".")[0]
        yield _differs(
            row,
            tell("list_lot", founding=number, lot=block, block=own),
            tell("list_lot_do", block=own),
            number,
        )
    elif block not in known:
        yield _differs(
            row,
            tell("list_has_not", founding=number, block=block)
            if block
            else tell("list_has_not_no_block", founding=number),
            tell("list_has_not_do"),
            number,
        )


def _in_turn(rows: pd.DataFrame, lots: pd.DataFrame) -> Iterator[Finding]:
    """Foundings of a printed list must follow its lots in order."""
    rows = rows.sort_values(["started", "founding"], kind="stable")
    expected = [int(n) for n in lots.sort_values("order")["queens"]]
    for place, (_, row) in enumerate(rows.iterrows()):
        if place >= len(expected):
            yield _differs(
                row,
                tell(
                    "list_one_more",
                    block=str(row["block"]),
                    n=len(expected),
                    founding=str(row["founding"]),
                ),
                tell("list_one_more_do"),
                str(row["founding"]),
            )
        elif int(row["queens"]) != expected[place]:
            yield _differs(
                row,
                tell(
                    "list_out_of_turn",
                    lot=place + 1,
                    block=str(row["block"]),
                    queens=_queens(expected[place]),
                    founding=str(row["founding"]),
                    here=str(row["queens"]),
                ),
                tell("list_out_of_turn_do"),
                str(row["founding"]),
            )
            return
