"""Tables that commands write as CSV, and read again as they were.

What comes in: a frame and the name of its table in `cohort.terms.written`. What goes out: a file
whose columns, types and blanks are those of the table, and the same frame again. Text that a
spreadsheet could run as a formula bears an apostrophe in the file and none in the frame. A column
that is not in the table, or a value of another type, is a slip of ours and is not written.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.base import making
from cohort.base.errors import StudyError
from cohort.sheets.guard import guard_text, unguard_text
from cohort.terms.written import WRITTEN, Cell, Dtype, Written

DIGITS: Final = "%.6g"
"""How numbers that are not whole are written."""
_YES_NO: Final = {"True": True, "False": False}
_FRAME_DTYPE: Final[Mapping[Dtype, tuple[str, str]]] = {
    "text": ("object", "object"),
    "whole": ("int64", "Int64"),
    "number": ("float64", "float64"),
    "yes-no": ("bool", "boolean"),
    "date": ("datetime64[ns]", "datetime64[ns]"),
}
"""Type in a frame of a column that is never blank, and of one that may be."""


def dtype_of(cell: Cell) -> Any:
    """Type of a column in a frame (the stubs know these names as literals only)."""
    return _FRAME_DTYPE[cell.dtype][bool(cell.blank)]


def empty(name: str) -> pd.DataFrame:
    """The table without a row, its columns of their types; optional ones are not in it."""
    cells = [cell for cell in WRITTEN[name].cells if not cell.optional]
    return pd.DataFrame({cell.name: pd.Series(dtype=dtype_of(cell)) for cell in cells})


def typed(frame: pd.DataFrame, name: str) -> pd.DataFrame:
    """The frame with every column of its type, in the order of the table.

    Parameters
    ----------
    frame : DataFrame
        Columns in any order; blanks as None, NaN or NA.
    name : str
        Key of `WRITTEN`.

    Raises
    ------
    AssertionError
        A column is missing or is not in the table, or a value is not of the type: a slip of ours,
        never a keeper's.
    """
    table = WRITTEN[name]
    _same_columns(list(map(str, frame.columns)), table)
    order = [n for n in table.names if n in frame.columns]
    order += [n for n in frame.columns if n not in order]
    return pd.DataFrame(
        {n: _typed(frame[n], _cell(table, n), f"{table.file}, {n}") for n in order},
        index=frame.index,
    )


def _cell(table: Written, name: str) -> Cell:
    cell = table.cell(name)
    if cell is None:
        raise AssertionError(f"{table.file}: the column {name} is in no table")
    return cell


def _same_columns(columns: list[str], table: Written) -> None:
    lacking = [c.name for c in table.cells if not c.optional and c.name not in columns]
    if lacking:
        raise AssertionError(f"{table.file}: {', '.join(lacking)} is missing")
    for name in columns:
        _cell(table, name)


def _typed(column: pd.Series, cell: Cell, where: str) -> pd.Series:
    if cell.dtype == "text":
        return column.astype(object).where(column.notna(), "").map(str)
    nullable: Any = _FRAME_DTYPE[cell.dtype][1]
    try:
        return column.astype(nullable).astype(dtype_of(cell))
    except (TypeError, ValueError) as fault:
        raise AssertionError(f"{where}: not of type {cell.dtype} ({fault})") from fault


def blanks(frame: pd.DataFrame, name: str) -> list[str]:
    """Columns of a frame with a blank of which the table does not say what it means."""
    table, out = WRITTEN[name], []
    for column in map(str, frame.columns):
        cell = _cell(table, column)
        blank = frame[column].isna() | (frame[column].eq("") if cell.dtype == "text" else False)
        out += [column] if blank.any() and not cell.blank else []
    return out


def write(frame: pd.DataFrame, name: str, path: Path) -> Path:
    """Write a table as CSV (UTF-8, commas); returns its path.

    Raises
    ------
    AssertionError
        See `typed`.
    """
    out = typed(frame, name)
    for column in out.columns:
        if out[column].dtype == object:
            out[column] = _each(out[column], guard_text)
    # early releases of Python 3.12 leave a cell with a lone "\r" bare, and it is read as two rows
    bare = any(out[c].str.contains("\r").any() for c in out if out[c].dtype == object)
    text = out.to_csv(
        index=False,
        float_format=DIGITS,
        date_format="%Y-%m-%d",
        lineterminator="\n",
        quoting=csv.QUOTE_ALL if bare else csv.QUOTE_MINIMAL,
    )
    making.write(path, text)
    return path


def _each(texts: pd.Series, change: Callable[[str], str]) -> pd.Series:
    """The texts changed; each different one is worked out once."""
    return texts.map({text: change(text) for text in texts.unique()}).astype(object)


def read(path: Path, name: str) -> pd.DataFrame:
    """A table as `write` had it: text, whole numbers, dates and blanks are what they were.

    Raises
    ------
    StudyError
        The file cannot be read, lacks a column or holds a cell that is not of its type.
    """
    table = WRITTEN[name]
    try:
        raw = pd.read_csv(path, dtype=str, keep_default_na=False, encoding="utf-8")
    except (OSError, ValueError, csv.Error) as fault:  # pandas' own are all ValueErrors
        raise StudyError(f"{path}: cannot be read ({str(fault).strip()}). {_AGAIN}") from fault
    try:
        _same_columns(list(raw.columns), table)
    except AssertionError as slip:
        raise StudyError(
            f"{path}: not as this version writes it ({str(slip).partition(': ')[2]}). {_AGAIN}"
        ) from slip
    return pd.DataFrame({n: _read(raw[n], _cell(table, n), path) for n in raw.columns})


_AGAIN: Final = "It was changed, or another version wrote it. Make it again."


def _read(raw: pd.Series, cell: Cell, path: Path) -> pd.Series:
    if cell.dtype == "text":
        return _each(raw, unguard_text)
    blank = raw.eq("").to_numpy(dtype=bool)
    values = _VALUES[cell.dtype](raw.mask(blank))
    may_be_blank = bool(cell.blank) or cell.dtype == "number"
    wrong = values.isna().to_numpy(dtype=bool) & (~blank if may_be_blank else True)
    if np.any(wrong):
        at = int(np.flatnonzero(wrong)[0])
        raise StudyError(
            f"{path}, row {at + 2}, {cell.name}: '{raw.iloc[at]}' is no {_IS[cell.dtype]}. {_AGAIN}"
        )
    return values.astype(dtype_of(cell))


def _numbers(raw: pd.Series) -> pd.Series:
    return pd.to_numeric(raw, errors="coerce").astype("float64")


def _wholes(raw: pd.Series) -> pd.Series:
    values = _numbers(raw)
    return values.where(np.isfinite(values) & (values % 1 == 0)).astype("Int64")


def _dates(raw: pd.Series) -> pd.Series:
    return pd.to_datetime(raw, format="%Y-%m-%d", errors="coerce")


_VALUES: Final[Mapping[Dtype, Callable[[pd.Series], pd.Series]]] = {
    "whole": _wholes,
    "number": _numbers,
    "yes-no": lambda raw: raw.map(_YES_NO).astype("boolean"),
    "date": _dates,
}
_IS: Final[Mapping[Dtype, str]] = {
    "whole": "whole number",
    "number": "number",
    "yes-no": "True or False",
    "date": "date (YYYY-MM-DD)",
}


BEGIN: Final = "<!-- columns: made by the command above, not by hand -->\n"
END: Final = "<!-- end of columns -->\n"
RENEW: Final = "python -m cohort.sheets.written data/README.md"
"""The command that renews the dictionary of columns."""


def dictionary() -> str:
    """Every written table and its columns as Markdown."""
    parts = []
    for table in WRITTEN.values():
        cells = [*table.cells, *([table.rest] if table.rest else [])]
        parts.append(
            f"### `{table.file}`\n\nWritten by {table.by}. A row is {table.row}.\n\n"
            "| column | type | unit | meaning | blank |\n|---|---|---|---|---|\n"
            + "\n".join(_line(cell, cell is table.rest) for cell in cells)
        )
    return "\n\n".join(parts) + "\n"


def _line(cell: Cell, rest: bool) -> str:
    name = f"(each further one: {cell.name})" if rest else f"`{cell.name}`"
    blank = cell.blank or "never"
    if cell.optional:
        blank += "; the column may be left out"
    return f"| {name} | {cell.dtype} | {cell.unit} | {cell.meaning} | {blank} |"


def in_readme(text: str) -> str:
    """The text of ``data/README.md`` with the dictionary of columns as it is now.

    Raises
    ------
    ValueError
        The lines between which it stands are not there.
    """
    before, _, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not end:
        raise ValueError(f"the lines {BEGIN.strip()} and {END.strip()} are not there")
    return f"{before}{BEGIN}\n{dictionary()}\n{END}{after}"


def main(path: Path) -> None:
    """Renew the dictionary of columns in a file."""
    path.write_text(in_readme(path.read_text("utf-8")), "utf-8")


if __name__ == "__main__":
    import sys

    main(Path(sys.argv[1]))
