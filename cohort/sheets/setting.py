"""`study.toml` -> the same raw table as a `study` tab: one setting a row.

What comes in: the bytes of the file. What goes out: a `RawTable` with the columns ``setting`` and
``value`` and the line of each setting. Values are kept as text; nothing is checked here.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib

import numpy as np
import pandas as pd

from cohort.sheets.raw import Notice, RawTable
from cohort.sheets.text import decode


def read_settings(data: bytes, file: str) -> tuple[RawTable, list[Notice]]:
    """Settings of `study.toml` as text.

    Parameters
    ----------
    data : bytes
        The whole file.
    file : str
        Name of the file, for the findings.

    Returns
    -------
    table : RawTable
        Empty when the file is not TOML.
    notices : list of Finding
        An error with the line when the file is not TOML.
    """
    text, found = decode(data, file)
    notices = list(found)
    try:
        values = tomllib.loads(text.replace("\r\n", "\n").replace("\r", "\n"))
    except (tomllib.TOMLDecodeError, RecursionError) as fault:
        line = re.search(r"at line (\d+)", str(fault))
        notices.append(
            Notice(
                level="error",
                rule="settings-unreadable",
                file=file,
                row=int(line[1]) if line else 0,
                what=f"The settings cannot be read: {fault}.",
                remedy='Write each as name = value, words in quotation marks: season = "2026".',
            )
        )
        values = {}
    lines = _lines(text)
    names = list(values)
    frame = pd.DataFrame(
        {"setting": names, "value": [_text(values[name]) for name in names]}, dtype=object
    )
    rows = np.array([lines.get(name, 0) for name in names], dtype=np.int64)
    return RawTable("study", file, "", frame, rows), notices


def _lines(text: str) -> dict[str, int]:
    lines: dict[str, int] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        named = re.match(r"""\s*["']?([\w-]+)["']?\s*=""", line)
        if named:
            lines.setdefault(named[1], number)
    return lines


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return value.date().isoformat()
    if isinstance(value, list):
        return ", ".join(_text(item) for item in value)
    return str(value).strip()
