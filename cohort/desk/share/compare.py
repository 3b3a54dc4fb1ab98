"""What of the rows sent is new, what is there already, and what is in conflict.

Comes in: rows of both studies. Goes out: a frozen `Compared`. Never: a file; a row of ours changed.

A row in conflict is held back, and so are the rows that hang on it: looks at a founding whose
number is in doubt, foundings of a kind whose word means two things. A number used by two clubs is
such a conflict; it cannot be told from a slip of the pen, so both rows are shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from cohort.desk.sentences import tell
from cohort.desk.share.said import Key, Said

WHICH: Final[Mapping[str, tuple[str, ...]]] = {
    "foundings": ("genus", "kind", "started", "queens"),
    "kinds": ("genus",),
    "catches": ("date", "kind", "genus"),
}
"""Columns that say which founding, kind or catch it is: where they differ it may be another one."""


@dataclass(frozen=True)
class Conflict:
    """A row sent that was not taken.

    Attributes
    ----------
    why : str
        ``differs`` (the same row says something else), ``number`` (two foundings, kinds or catches
        may bear one number), ``list``, ``block``, ``shelf`` (one name for two things), ``rest`` (a
        row on all open foundings would speak of others), ``column`` (a sheet of ours has no such
        column).
    sheet : str
    what : str
        The row as one would say it: ``K2-07, 2026-07-12``.
    values : tuple of (column, ours, theirs)
        What differs; blank where nothing is compared.
    ours, theirs : str
        Places.
    remedy : str
    """

    why: str
    sheet: str
    what: str
    values: tuple[tuple[str, str, str], ...]
    ours: str
    theirs: str
    remedy: str


@dataclass(frozen=True)
class Compared:
    """Rows sent, sorted.

    Attributes
    ----------
    new : tuple of Said
    already : int
        Rows that are in, or come twice in what was sent.
    conflicts : tuple of Conflict
    held : tuple of Said
        Rows without a fault of their own that hang on one in conflict.
    """

    new: tuple[Said, ...]
    already: int
    conflicts: tuple[Conflict, ...]
    held: tuple[Said, ...]


@dataclass
class _Sorted:
    new: list[Said] = field(default_factory=list)
    already: int = 0
    conflicts: list[Conflict] = field(default_factory=list)
    held: list[Said] = field(default_factory=list)


def compared(
    ours: Sequence[Said],
    theirs: Sequence[Said],
    *,
    lists: Iterable[str] = (),
    doubtful: Iterable[str] = (),
) -> Compared:
    """Sort the rows that were sent.

    Parameters
    ----------
    ours, theirs : sequence of Said
    lists : iterable of str
        Names of drawn lists that are other lists here.
    doubtful : iterable of str
        Foundings that are held back for a reason found before.
    """
    there, taken = _by_key(ours), _by_key([])
    out = _Sorted()
    shelves, blocks = _shelves(ours, theirs), _blocks(ours, theirs)
    lists = set(lists)
    doubt: dict[str, set[str]] = {"kinds": set(), "catches": set(), "foundings": set(doubtful)}
    for row in theirs:
        same = there.get((row.sheet, row.key), [])
        if any(not row.differs(one) for one in (*same, *taken.get((row.sheet, row.key), []))):
            out.already += 1
            continue
        fault = _fault(row, same, shelves, blocks, lists)
        if _hangs(row, doubt):  # what it says of another founding is no conflict of its own
            out.held.append(row)
            if row.sheet == "foundings":
                doubt["foundings"].add(row.key[0])
        elif fault is not None:
            out.conflicts.append(fault)
            if fault.why in ("number", "list", "block"):
                doubt.get(row.sheet, set()).add(row.key[0])
        else:
            out.new.append(row)
            taken.setdefault((row.sheet, row.key), []).append(row)
    return Compared(tuple(out.new), out.already, tuple(out.conflicts), tuple(out.held))


def _by_key(rows: Iterable[Said]) -> dict[tuple[str, Key], list[Said]]:
    out: dict[tuple[str, Key], list[Said]] = {}
    for row in rows:
        out.setdefault((row.sheet, row.key), []).append(row)
    return out


def _hangs(row: Said, doubt: Mapping[str, set[str]]) -> bool:
    cell = {name: text.lower() for name, text in row.cells.items()}
    on = [
        ("kinds", cell.get("kind", "")),
        ("catches", cell.get("catch", "") if row.sheet == "foundings" else ""),
        ("foundings", cell.get("founding", "")),
        ("foundings", cell.get("from", "")),
    ]
    return any(name and name in doubt[sheet] for sheet, name in on)


def _fault(
    row: Said, same: Sequence[Said], shelves: set[str], blocks: set[str], lists: set[str]
) -> Conflict | None:
    if same:
        return _differs(row, same[0])
    block = row.cells.get("block", "") if row.sheet == "foundings" else ""
    if block and block.rpartition("-")[0] in lists:
        return _named(row, "list", block.rpartition("-")[0])
    if block and block in blocks:
        return _named(row, "block", block)
    if row.sheet == "temperatures" and row.key[0] in shelves:
        return _named(row, "shelf", row.cells["shelf"])
    return None


def _differs(row: Said, mine: Said) -> Conflict:
    columns = row.differs(mine)
    which = set(columns) & set(WHICH.get(row.sheet, ()))
    values = tuple((name, mine.cells[name], row.cells[name]) for name in columns)
    why = "number" if which else "differs"
    remedy = _OTHER.get(row.sheet, _SAME) if which else _SAME
    return Conflict(why, row.sheet, row.what, values, mine.place, row.place, remedy)


_SAME: Final = tell("same_do")
_OTHER: Final[Mapping[str, str]] = {
    "foundings": tell("other_foundings"),
    "kinds": tell("other_kinds"),
    "catches": tell("other_catches"),
}


def _named(row: Said, why: str, name: str) -> Conflict:
    remedy = {
        "list": tell("named_list", name=name),
        "block": tell("named_block", name=name),
        "shelf": tell("named_shelf", name=name),
    }[why]
    return Conflict(why, row.sheet, row.what, (), "", row.place, remedy)


def _shelves(ours: Sequence[Said], theirs: Sequence[Said]) -> set[str]:
    """Shelves that both have, without one reading in common: they may be two."""
    keys = [{row.key for row in rows if row.sheet == "temperatures"} for rows in (ours, theirs)]
    names = [{key[0] for key in some} for some in keys]
    common = {key[0] for key in keys[0] & keys[1]}
    return (names[0] & names[1]) - common


def _blocks(ours: Sequence[Said], theirs: Sequence[Said]) -> set[str]:
    """Blocks that both have, without one founding in common: they may be two."""
    have: list[dict[str, set[str]]] = []
    for rows in (ours, theirs):
        of: dict[str, set[str]] = {}
        for row in rows:
            if row.sheet == "foundings" and row.cells.get("block", ""):
                of.setdefault(row.cells["block"], set()).add(row.key[0])
        have.append(of)
    both = set(have[0]) & set(have[1])
    return {name for name in both if not have[0][name] & have[1][name]}
