"""Text that no spreadsheet runs as a formula, and back again without loss.

What comes in: one value. What goes out: the value as it may stand in a CSV file, or as the keeper
meant it. A value that begins with ``=``, ``+``, ``-``, ``@``, a tab or a carriage return is run
as a formula by spreadsheets that open a CSV file; an apostrophe before it stops that. It never
touches a plain number, and never a value that does not begin with one of those signs.
"""

from __future__ import annotations

import re

_RUNS = re.compile(r"'*[=+\-@\t\r]")
_GUARDED = re.compile(r"'+[=+\-@\t\r]")
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
