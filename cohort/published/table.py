"""Published findings, one by one.

Comes in: ``data/findings.csv``, which lies in the installed package. Goes out: `Finding`. Never: a
judgement on them.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from cohort.base.errors import StudyError

_HERE: Final = Path(__file__).parent
_PLACES: Final = (_HERE / "findings.csv", _HERE.parents[1] / "data" / "findings.csv")


@dataclass(frozen=True)
class Finding:
    """One finding of one paper.

    Attributes
    ----------
    row : int
        Its number in the table.
    genus, species : str
        Blank: ants in general.
    authors, journal, volume, pages, doi : str
        Of the paper; blank where not seen.
    year : int
    from_memory : bool
        True when a part of the reference was not seen.
    question : str
        Question of ``comparisons.csv`` it speaks to; blank: none.
    groups : str
        Groups against single queens: better, worse, same, mixed, more, sooner; blank: no such
        comparison.
    finding : str
        In plain English, numbers as printed.
    """

    row: int
    genus: str
    species: str
    authors: str
    year: int
    journal: str
    volume: str
    pages: str
    doi: str
    from_memory: bool
    question: str
    groups: str
    finding: str


@cache
def findings() -> tuple[Finding, ...]:
    """All published findings, in the order of the table.

    Returns
    -------
    tuple of Finding

    Raises
    ------
    StudyError
        The package was installed without the table.
    """
    for place in _PLACES:
        if place.is_file():
            with place.open(encoding="utf-8", newline="") as file:
                return tuple(_finding(row) for row in csv.DictReader(file))
    raise StudyError(
        "The table of published findings is missing from this installation. Install "
        "founding-cohort anew from its wheel, or take data/findings.csv of its sources."
    )


def _finding(row: dict[str, str]) -> Finding:
    plain = (
        "genus", "species", "authors", "journal", "volume", "pages", "doi", "question", "groups",
        "finding",
    )  # fmt: skip
    return Finding(
        row=int(row["row"]),
        year=int(row["year"]),
        from_memory=row["reference"] != "read",
        **{name: row[name] for name in plain},
    )
