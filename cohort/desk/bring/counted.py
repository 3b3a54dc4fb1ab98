"""A count in a cell of somebody's own table, as people write it.

What comes in: the text of a cell. What goes out: the count as our sheets write it, or what is
wrong with it. ``3 queens`` is 3, ``Q1, Q2, Q3`` names three, ``dead`` is 0 queens; ``~3`` and
``3?`` are no counts, and none is made of them.
"""

from __future__ import annotations

import re

from cohort.audit import cells
from cohort.audit.cells import Count, Problem
from cohort.desk.sentences import tell
from cohort.terms import words
from cohort.terms.contract import SHEETS

_LABEL = re.compile(r"[^\W\d_]{0,8}[\s.#-]?[0-9]{1,3}")
_WITH_WORD = re.compile(r"([0-9]{1,6}\s?\+?)\s*([^\W\d_]+)\.?")
_ABOUT = re.compile(
    rf"(?:(?:{'|'.join(map(re.escape, sorted(words.ABOUT, key=len, reverse=True)))})\s*"
    r"([0-9]{1,6}).*|([0-9]{1,6})\s*\?+)",
    re.IGNORECASE,
)
_GONE = ("†", *words.DEAD)
_COUNTED = {"queens": words.QUEENS, "queens_left": words.QUEENS, "workers": words.WORKERS}


def counted(text: str, field: str) -> Count | Problem:
    """Count of queens or workers in a cell.

    Parameters
    ----------
    text : str
        As typed; not blank.
    field : {"queens", "queens_left", "workers"}
    """
    low = text.strip().lower()
    if field != "workers" and low in (*_GONE, *words.NONE_ALIVE):
        return Count(0, False)
    if field == "workers" and low in words.NO_WORKERS:
        return Count(0, False)
    about = _ABOUT.fullmatch(low)
    if about:
        number = about[1] or about[2]
        return Problem(
            "not-exact",
            tell("not_exact", text=text),
            tell("not_exact_do", number=number),
        )
    labels = [part.strip() for part in re.split(r"[,;+&/]|\s(?:and|und|et|y)\s", text)]
    if field != "workers" and len(labels) > 1 and _are_labels(labels):
        return Count(len(labels), False)
    named = _WITH_WORD.fullmatch(low)
    if named and named[2] in _COUNTED[field]:
        low = named[1].replace(" ", "")
    return cells.count(low, SHEETS["checks"].column("workers"))


def _are_labels(parts: list[str]) -> bool:
    """Whether parts name queens one by one: each with the same letters and a number of its own."""
    if not all(_LABEL.fullmatch(part) for part in parts) or parts[0][:1].isdigit():
        return False
    letters = {re.sub(r"[\W\d_]+", "", part).lower() for part in parts}
    numbers = [int(re.sub(r"\D+", "", part)) for part in parts]
    return len(letters) == 1 and len(set(numbers)) == len(numbers)
