"""Text that no spreadsheet runs as a formula, and back again without loss.

What comes in: one value. What goes out: the value as it may stand in a CSV file, or as the keeper
meant it. A value that begins with ``=``, ``+``, ``-``, ``@``, a tab or a carriage return is run
as a formula by spreadsheets that open a CSV file; an apostrophe before it stops that. It never
touches a plain number, and never a value that does not begin with one of those signs.

`guard` is for cells of a keeper's own sheet, which may be numbers; `guard_text` for columns of ours
that hold nothing but text. Signs and apostrophe as in OWASP ASVS 5, 1.2.10, and CWE-1236.
"""

from __future__ import annotations

import re

_RUNS = re.compile(r"'*[=+\-@\t\r]")
_GUARDED = re.compile(r"'+[=+\-@\t\r]")
_SIGNS = "=+\\-@\t\r\n\0\uff1d\uff0b\uff0d\uff20"
"""Signs that begin a formula, the full-width ones too, and those a cell is split at."""
_SPOT = re.compile(rf"(^|[;\t\r\n])('*)(?=[{_SIGNS}])")
_GUARDED_SPOT = re.compile(rf"(^|[;\t\r\n])'('*)(?=[{_SIGNS}])")
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?\Z")


def guard(value: str) -> str:
    """Value with an apostrophe before it if a spreadsheet could run it.

    Parameters
    ----------
    value : str
        As the keeper means it.

    Returns
    -------
    str
        What to write in the file; `unguard` gives the value back.
    """
    if _RUNS.match(value) and not _NUMBER.match(value):
        return "'" + value
    return value


def unguard(value: str) -> str:
    """Value as the keeper means it, from what stands in a file (the inverse of `guard`)."""
    if value.startswith("'") and _GUARDED.match(value) and not _NUMBER.match(value[1:]):
        return value[1:]
    return value


def guard_text(value: str) -> str:
    """Text with an apostrophe before each place where a spreadsheet could begin a formula.

    Numbers typed as text too, and the places after a semicolon, tab or line break inside the
    value: a spreadsheet set to semicolons begins a new cell there.
    """
    return _SPOT.sub(r"\1'\2", value)


def unguard_text(value: str) -> str:
    """Text as it was (the inverse of `guard_text`)."""
    return _GUARDED_SPOT.sub(r"\1\2", value)
