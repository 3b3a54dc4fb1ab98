"""Whether two studies are of one club, and whether they say the same of a founding.

What comes in: several studies. What goes out: which of them use one series of founding numbers, and
a finding with both places for each cell that contradicts. Nothing is guessed or altered.

Two studies are of one club where at least half of the founding numbers that both use were begun on
the same day, with as many queens of the same kind. Elsewhere a number used twice means two
foundings.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any, Final

import pandas as pd

from cohort.base.errors import Finding
from cohort.study import Study

STANDS: Final = ("housing", "shelf")
"""May change while a colony lives: what the sheet of its first season says stands."""
FREE: Final = ("note", "photo")
"""Words beside a founding: those of every sheet are kept."""
DISAGREE: Final = "seasons-disagree"
"""Rule of the findings on sheets of two seasons that contradict each other."""
_MADE: Final = ("founding", "named", "season", "arm", "file", "row", "followed_from")


@dataclass(frozen=True)
class Clubs:
    """Studies by the series of numbers they use.

    Attributes
    ----------
    members : tuple of tuple of int
        Places of the studies of each club, in the order they were given.
    notes : tuple of str
        Where numbers are shared, and were taken for different foundings although some agree.
    """

    members: tuple[tuple[int, ...], ...]
    notes: tuple[str, ...]


def clubs(studies: Sequence[Study], named: Sequence[str]) -> Clubs:
    """Which studies are of one club.

    Parameters
    ----------
    studies : sequence of Study
    named : sequence of str
        A word for each study.
    """
    rows = [_by_number(study) for study in studies]
    of = list(range(len(studies)))
    notes = []
    for i, j in combinations(range(len(studies)), 2):
        shared = [name for name in rows[i] if name in rows[j]]
        same = [name for name in shared if _begun_alike(rows[i][name], rows[j][name])]
        if same and 2 * len(same) >= len(shared):
            of = [of[i] if own == of[j] else own for own in of]
        elif same:
            notes.append(
                f"{named[i]} and {named[j]} share {len(shared)} founding numbers, of which "
                f"{len(same)} began alike: all are taken for different foundings. If these are one "
                "club's, correct `started`, `queens` or the kind where they differ."
            )
    members = tuple(tuple(k for k, own in enumerate(of) if own == one) for one in sorted(set(of)))
    return Clubs(members, tuple(notes))


def apart(studies: Sequence[Study]) -> Clubs:
    """Each study a club of its own."""
    return Clubs(tuple((i,) for i in range(len(studies))), ())


def _by_number(study: Study) -> dict[str, dict[str, Any]]:
    rows = study.foundings.to_dict("records")
    return {str(row["founding"]): {str(k): v for k, v in row.items()} for row in rows}


def _begun_alike(one: dict[str, Any], other: dict[str, Any]) -> bool:
    alike = one["started"] == other["started"] and one["queens"] == other["queens"]
    return bool(alike) and _kinds_agree(one, other)


def _kinds_agree(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """The same label, or one of them had no name yet."""
    if one["genus"] == other["genus"]:
        return True
    words = {one["kind"], other["kind"]} - {""}
    return not (one["named"] and other["named"]) and len(words) == 1


def blank(value: object, column: str = "") -> bool:
    """Whether a cell says nothing; of give_or_take 0 is what a blank one is read as."""
    if value is None or value is pd.NaT or value is pd.NA:
        return True
    return bool(value != value) or value == "" or (column == "give_or_take" and value == 0)


def contradictions(study: Study, later: Study) -> list[Finding]:
    """Rows of foundings that both have and that do not say the same; one finding for each cell.

    Parameters
    ----------
    study, later : Study
        Of one club, files behind the word of their study.
    """
    mine, theirs = _by_number(study), _by_number(later)
    handed = _handed_to([study, later])
    found = []
    for name in (name for name in theirs if name in mine):
        one, other = mine[name], theirs[name]
        for column in (c for c in other if c in one):
            given = column == "keeper" and (name, other[column]) in handed
            if not given and _differ(column, one, other):
                found.append(_cell(name, column, one, other))
    return found


def _differ(column: str, one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Whether a cell contradicts another; a blank one contradicts none, but for left_out."""
    if column in (*_MADE, *FREE, *STANDS):
        return False
    if column == "genus":
        return not _kinds_agree(one, other)
    said = [not blank(row[column], column) for row in (one, other)]
    wanted = any(said) if column == "left_out" else all(said)  # blank: it is compared
    return wanted and bool(one[column] != other[column])


def _handed_to(studies: Iterable[Study]) -> set[tuple[str, str]]:
    """Foundings that were handed over, with the keeper they went to."""
    out: set[tuple[str, str]] = set()
    for study in studies:
        rows = study.events[study.events["event"] == "handed-over"]
        out |= set(zip(rows["founding"], rows["other"], strict=True))
    return out


def _cell(name: str, column: str, one: dict[str, Any], other: dict[str, Any]) -> Finding:
    return Finding(
        level="error",
        rule=DISAGREE,
        file=str(other["file"]),
        row=int(other["row"]),
        column=column,
        founding=name,
        what=f"{name}: '{_said(other[column])}' here, '{_said(one[column])}' in {one['file']}, row "
        f"{one['row']}.",
        remedy="Correct the one that is wrong. If these are two foundings, give one of them "
        "another number in all its sheets.",
    )


def _said(value: object) -> str:
    if isinstance(value, pd.Timestamp):
        return str(value.date())
    return "" if blank(value) else str(value)
