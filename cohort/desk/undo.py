"""The last entry of a keeper taken back: what ``cohort log`` wrote, and nothing else.

Comes in: a study, a keeper's sign. Goes out: the sheets without those rows, and without the drawn
lists that came with them; all as it was lies in the folder of earlier versions. It takes rows out
only where they stand as they were written: a sheet that was changed there since is left alone, and
that is said.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from cohort.audit.added import new_findings, with_file
from cohort.audit.alike import together
from cohort.base.errors import SheetError, StudyError
from cohort.desk.sentences import refused, tell
from cohort.desk.whose import foundings_typed
from cohort.sheets.append import EARLIER, layout_of, locked, put_files
from cohort.sheets.files import bytes_of, inner
from cohort.sheets.folder import read_folder
from cohort.sheets.lists import FOLDER, MAX_LIST, named_on
from cohort.sheets.numbers import as_known
from cohort.sheets.raw import Sheets

ENTRIES: Final = "entries.json"
"""File in the folder of earlier versions: where the rows of the last entries stand."""
KEPT: Final = 20
"""Entries remembered."""


@dataclass(frozen=True)
class Piece:
    """Bytes that an entry added to a file: sheet, where they begin, how many, their SHA-256."""

    file: str
    sheet: str
    start: int
    length: int
    sum: str


@dataclass(frozen=True)
class Listed:
    """A drawn list that came with an entry: its file, and the SHA-256 of its bytes."""

    file: str
    sum: str


@dataclass(frozen=True)
class Entry:
    """One command that wrote rows: moment (ISO), keepers they are of, pieces, lists they need."""

    moment: str
    keepers: tuple[str, ...]
    pieces: tuple[Piece, ...]
    lists: tuple[Listed, ...] = ()


@dataclass(frozen=True)
class Undone:
    """What was taken back.

    Attributes
    ----------
    moment : str
        Of the entry.
    rows : mapping
        File -> rows as they stood in it.
    lists : tuple of str
        Files of drawn lists that were taken away.
    kept : mapping
        File of a drawn list that stays -> why: ``needed`` by foundings or by another entry,
        ``changed`` since.
    """

    moment: str
    rows: Mapping[str, tuple[str, ...]]
    lists: tuple[str, ...] = ()
    kept: Mapping[str, str] = field(default_factory=dict)


def entries(folder: Path) -> tuple[Entry, ...]:
    """Entries that are remembered, the oldest first; none where the list is damaged or missing."""
    try:
        told = json.loads((folder / EARLIER / ENTRIES).read_bytes())
        return tuple(
            Entry(
                str(one["moment"]),
                tuple(str(sign) for sign in one["keepers"]),
                tuple(Piece(**piece) for piece in one["pieces"]),
                tuple(Listed(**listed) for listed in one.get("lists", ())),
            )
            for one in told
            if all(_inside(str(part["file"])) for part in (*one["pieces"], *one.get("lists", ())))
        )
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return ()  # the list serves only to take entries back: without it none can be


def _inside(name: str) -> bool:
    """Whether a name is that of a file directly in the study: the list may come from elsewhere."""
    return Path(name).name == name and "\\" not in name and name not in ("", ".", "..")


def remembered(folder: Path, entry: Entry) -> dict[Path, bytes]:
    """The list with one more entry, as a file to be written with its rows."""
    return _list(folder, (*entries(folder), entry)[-KEPT:])


def _list(folder: Path, kept: Sequence[Entry]) -> dict[Path, bytes]:
    text = json.dumps([asdict(one) for one in kept], indent=1)
    return {folder / EARLIER / ENTRIES: text.encode()}


def piece(file: str, sheet: str, before: int, after: bytes) -> Piece:
    """What was added behind the first ``before`` bytes of a file."""
    added = after[before:]
    return Piece(file, sheet, before, len(added), hashlib.sha256(added).hexdigest())


def undo(folder: Path, keeper: str = "") -> Undone:
    """Take back the last entry, of a keeper or of anybody.

    Parameters
    ----------
    folder : Path
        The study.
    keeper : str
        Sign; the last entry of all where blank.

    Raises
    ------
    StudyError
        There is none, or its rows were changed since. Nothing is written.
    SheetError
        Later rows need what would be taken back. Nothing is written.
    """
    with locked(folder):
        sheets = read_folder(folder)
        sign = as_known(keeper, foundings_typed(sheets).values())
        kept = list(entries(folder))
        last = next((e for e in reversed(kept) if not sign or sign in e.keepers), None)
        if last is None:
            how = {"kept": str(KEPT), "folder": EARLIER}
            raise StudyError(
                tell("undo_none_of", keeper=keeper, **how) if keeper else tell("undo_none", **how)
            )
        files, rows, shorter = {}, {}, {}
        for one in last.pieces:
            path = folder / one.file
            before = path.stat().st_size if path.is_file() else 0
            files[path], rows[one.file] = _without(path, one)
            shorter[one.file] = (one.start, before - len(files[path]))
        trial = sheets
        for one in last.pieces:
            trial = with_file(trial, one.file, one.sheet, files[folder / one.file])
        errors = new_findings(sheets, trial, lambda finding: finding.level == "error")
        if errors:
            raise SheetError(errors, refused(tell("undo_needed"), errors))
        place = kept.index(last)
        others = [*kept[:place], *(_moved(one, shorter) for one in kept[place + 1 :])]
        why = {one.file: _stays(folder, one, trial, others) for one in last.lists}
        paths = [folder / FOLDER / name for name, reason in why.items() if not reason]
        gone = [path for path in paths if path.exists()]
        put_files(folder, files, _list(folder, others), gone)
    return Undone(
        last.moment,
        rows,
        tuple(path.name for path in gone),
        {name: reason for name, reason in why.items() if reason},
    )


def lists_of(folder: Path, sent: Mapping[str, bytes], new: Collection[str]) -> tuple[Listed, ...]:
    """Lists that an entry needs: those that are new, and those that an entry before it brought.

    Parameters
    ----------
    folder : Path
        The study.
    sent : mapping
        Name of a list -> its bytes.
    new : collection of str
        Names of those that come into being with the entry.
    """
    mine = {Listed(f"{name}.csv", hashlib.sha256(data).hexdigest()) for name, data in sent.items()}
    brought = {listed for entry in entries(folder) for listed in entry.lists}
    fresh = {f"{name}.csv" for name in new}
    kept = [one for one in mine if one.file in fresh or one in brought]
    return tuple(sorted(kept, key=lambda one: one.file))


def _stays(folder: Path, one: Listed, left: Sheets, others: Sequence[Entry]) -> str:
    """Why a list is not taken away with its entry; blank where it is.

    A list that rows of somebody else speak of is theirs, too, and so is one that a later entry
    brought once more.
    """
    path = inner(folder, FOLDER) / one.file
    if not os.path.lexists(path):
        return ""
    if path.is_symlink() or hashlib.sha256(bytes_of(path, MAX_LIST)).hexdigest() != one.sum:
        return "changed"
    named = named_on(path)
    for row in together(left, "foundings").to_dict("records"):
        number, block = str(row["founding"]), str(row["block"])
        if number in named or block in named or block.rpartition("-")[0] == path.stem:
            return "needed"
    return "needed" if any(one in entry.lists for entry in others) else ""


def _without(path: Path, one: Piece) -> tuple[bytes, tuple[str, ...]]:
    """A file without a piece, and the lines of the piece."""
    data = path.read_bytes() if path.is_file() else b""
    there = data[one.start : one.start + one.length]
    if hashlib.sha256(there).hexdigest() != one.sum:
        raise StudyError(tell("undo_changed", file=one.file))
    layout = layout_of(data, one.file)
    rest, joint = data[one.start + one.length :], layout.line_end.encode(layout.encoding)
    if not (rest and there.startswith(joint)):  # else it parts what stands before and behind
        joint = b""
    lines = there.decode(layout.encoding).splitlines()
    return data[: one.start] + joint + rest, tuple(line for line in lines if line.strip())


def _moved(entry: Entry, shorter: Mapping[str, tuple[int, int]]) -> Entry:
    """A later entry, whose pieces stand further to the front: from where on, and by how much."""

    def shifted(one: Piece) -> Piece:
        start, by = shorter.get(one.file, (0, 0))
        told: dict[str, Any] = asdict(one)
        return Piece(**told | {"start": one.start - by if one.start > start else one.start})

    return replace(entry, pieces=tuple(shifted(one) for one in entry.pieces))
