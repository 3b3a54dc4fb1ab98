"""`study.toml` -> the same raw table as a `study` tab: one setting a row.

What comes in: the bytes of the file. What goes out: a `RawTable` with the columns ``setting`` and
``value`` and the line of each setting. Values are kept as text; nothing is checked here.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from typing import Any

import numpy as np
import pandas as pd

from cohort.sheets.raw import Notice, RawTable
from cohort.sheets.sentences import tell
from cohort.sheets.text import decode
from cohort.terms import SETTINGS

_BRACKETS = 1000
"""Opening brackets that are read in a file; nobody types so many."""
_LONGEST = 10_000  # signs of a line of settings


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
        values = toml_of(text)
    except ValueError as fault:
        line = re.search(r"\bline (\d+)", str(fault))
        notices.append(
            Notice(
                level="error",
                rule="settings-unreadable",
                file=file,
                row=int(line[1]) if line else 0,
                what=tell("settings_unreadable", why=str(fault)),
                remedy=tell("settings_unreadable_do"),
            )
        )
        values = {}
    lines = _lines(text)
    notices += [
        _in_parts(file, name, lines.get(name, 0))
        for name, value in values.items()
        if isinstance(value, dict) and name in SETTINGS and not _by_part(name, value)
    ]
    names = list(values)
    texts = [
        _parts(values[name]) if _by_part(name, values[name]) else _text(values[name])
        for name in names
    ]
    frame = pd.DataFrame({"setting": names, "value": texts}, dtype=object)
    rows = np.array([lines.get(name, 0) for name in names], dtype=np.int64)
    return RawTable("study", file, "", frame, rows), notices


def toml_of(text: str) -> dict[str, Any]:
    """Values of a small TOML file.

    Raises
    ------
    ValueError
        With the reason: no TOML, a number or a line that no one can have typed, or brackets
        without end.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for number, line in enumerate(lines, start=1):
        if len(line) > _LONGEST:  # a name of many parts takes time with the square of its parts
            raise ValueError(f"line {number} has {len(line):,} signs; {_LONGEST:,} are read")
    if text.count("[") > _BRACKETS:  # how deep Python can go hangs on what else has been loaded
        raise ValueError("brackets in it stand too deep in one another")
    try:
        return tomllib.loads("\n".join(lines))
    except tomllib.TOMLDecodeError:
        raise
    except ValueError as fault:  # Python turns no more than 4,300 digits into a number
        raise ValueError("a number in it is far too long") from fault
    except RecursionError as fault:
        raise ValueError("brackets in it stand too deep in one another") from fault


def _by_part(name: str, value: object) -> bool:
    """Whether this is `adjust` part by part: lists of words behind names, and nothing deeper."""
    return (
        name == "adjust"
        and isinstance(value, dict)
        and all(
            isinstance(words, str)
            or (isinstance(words, list) and all(isinstance(word, str) for word in words))
            for words in value.values()
        )
    )


def _parts(value: dict[str, Any]) -> str:
    """Lists behind names as they are written in a cell of a workbook."""
    return "; ".join(f"{part}: {_text(words)}" for part, words in value.items() if words)


def _in_parts(file: str, name: str, row: int) -> Notice:
    return Notice(
        level="error",
        rule="settings-unreadable",
        file=file,
        row=row,
        column=name,
        what=tell("setting_in_parts", setting=name),
        remedy=tell("setting_in_parts_do", setting=name),
    )


def _lines(text: str) -> dict[str, int]:
    lines: dict[str, int] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        named = re.match(r"""\s*\[?\s*["']?([\w-]+)["']?\s*[=.\]]""", line)
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
    if isinstance(value, dict):
        return "(parts)"
    if isinstance(value, int) and abs(value) >= 10**18:
        return "(a number far too large)"
    return str(value).strip()
