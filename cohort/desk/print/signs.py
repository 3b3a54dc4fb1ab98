"""Keepers of a study, also of one that was just begun.

What comes in: a study folder and its sheets. What goes out: the keepers' signs. A workbook that
nobody has filled in yet tells its keeper by the numbers that stand ready in it. It writes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from cohort.audit.alike import together
from cohort.sheets.numbers import keeper_of
from cohort.sheets.raw import Sheets
from cohort.sheets.ready import ready_numbers


def signs(folder: Path, sheets: Sheets) -> tuple[str, ...]:
    """Signs of all keepers, in order.

    Parameters
    ----------
    folder : Path
        The study.
    sheets : Sheets
        Its sheets.

    Returns
    -------
    tuple of str
        From foundings, catches and the numbers ready in workbooks; empty in a study without any.
    """
    found: dict[str, str] = {}
    ready = (keeper_of(number) for number in ready_numbers(folder, sheets))
    for sign in (*_typed(sheets), *ready):
        if sign.strip():
            found.setdefault(sign.strip().lower(), sign.strip())
    return tuple(sorted(found.values(), key=lambda sign: (len(sign), sign)))


def _typed(sheets: Sheets) -> Iterator[str]:
    for row in together(sheets, "foundings").to_dict("records"):
        yield str(row["keeper"]) or keeper_of(str(row["founding"]))
    yield from together(sheets, "catches")["keeper"].astype(str)
