"""Files made out of sight and put in place whole: a folder holds the old ones or the new ones.

Comes in: a folder that is to hold new files. Goes out: an empty place to fill (`remade`, `added`);
what was put there takes its place under the folder at the end. Never: a file among the old ones
before all are written; the loss of a file that is not ours.

Beside a folder ``out`` stands, while a command writes to it, its workshop ``.out.making``: the new
files and a lock. At the end folder and new files change places, in one step where the system can
(Linux), else by two renames with a note of what is under way. Where a folder cannot change places
(it is a mount, the folder one stands in, its parent cannot be written to) its files are moved one
by one, and a list of them is written down first. A command killed between two such steps leaves the
work half done: the next command that writes to the folder or reads it finishes it (`mended`).
A workshop left by a killed command is cleared by the next one that writes to the folder; never one
whose lock is held. A link in place of the workshop, or of a folder of ours, is refused.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import filelock

from cohort.base import moving
from cohort.base.disk import is_link
from cohort.base.errors import StudyError
from cohort.base.moving import Bench, Ours

ROOM: Final = 30_000_000
"""Bytes that must be free before work begins; the demo's results take 16 million."""
PATIENCE: Final = 10.0
"""Seconds a reader waits for a command that is just putting files in place."""
FULL: Final = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
LONGEST: Final = 240
"""Bytes of a folder's name that leave room for the name of its workshop."""


@dataclass
class Making:
    """Files that are being made.

    Attributes
    ----------
    folder : Path
        Where they will lie, as the person named it.
    place : Path
        Where they are written now.
    adds : bool
        True: they go among what lies in the folder; False: they are all it will hold.
    """

    folder: Path
    place: Path
    adds: bool = False

    def later(self, path: Path) -> Path:
        """Path that a file in `place` will have."""
        return self.folder / path.relative_to(self.place)


def _none(name: str) -> bool:
    return False


@contextlib.contextmanager
def remade(
    folder: Path, ours: Ours, check: Callable[[Path], None], *, room: int | None = None
) -> Iterator[Making]:
    """Fill a folder anew: on leaving, what was written is all that it holds.

    An error inside (an interruption too) leaves the folder as it was.

    Parameters
    ----------
    folder : Path
        Made if missing.
    ours : callable
        Whether a file (path below the folder, with ``/``) is one this program writes.
    check : callable
        Raises for a folder that must not be filled; asked once, before anything is written.
    room : int, optional
        Bytes that must be free; `ROOM` if not given.

    Raises
    ------
    StudyError
        Another command writes to it, it cannot be written to, there is no room.
    """

    def checked(at: Path) -> None:
        check(at)
        _no_links(at, ours)

    with _told(folder):
        _finished(folder, ours)  # its files may lie in the other workshop
    with _told(folder), _bench(folder, ours, checked) as bench:
        making = Making(folder, bench.new())
        _roomy(folder, making.place, ROOM if room is None else room)
        yield making
        if making.adds:
            moving.add(bench, making.place)
        else:
            moving.replace(bench, making.place)


@contextlib.contextmanager
def added(folder: Path, ours: Ours = _none) -> Iterator[Making]:
    """Add files to a folder, or write over those of the same name; all of them at the end.

    Parameters
    ----------
    folder : Path
        Made if missing. What else lies in it is left alone.
    ours : callable, optional
        See `remade`; only where the folder is also filled by that.

    Raises
    ------
    StudyError
        See `remade`.
    """

    def check(at: Path) -> None:
        if at.exists() and not at.is_dir():
            raise StudyError(f"{at} is a file; name a folder.")

    with remade(folder, ours, check, room=0) as making:
        making.adds = True
        yield making


def write(path: Path, data: bytes | str) -> None:
    """Write a file; an error bears its name (Python's own leaves it out when a disk is full)."""
    raw = data.encode("utf-8") if isinstance(data, str) else data
    try:
        path.write_bytes(raw)
    except OSError as fault:
        raise OSError(fault.errno, fault.strerror or str(fault), str(path)) from fault


def mended(folder: Path, ours: Ours) -> None:
    """Finish what a command left half in place that was cut off; for those who read a folder.

    Raises
    ------
    StudyError
        It cannot be finished from here.
    """
    why = "its workshop stands elsewhere"
    try:
        _finished(folder, ours)
    except OSError as fault:
        why = fault.strerror or str(fault)
    if moving.unfinished(moving.target_of(folder)):
        raise StudyError(
            f"{folder}: the command that wrote it was cut off, and its files cannot be put in "
            f"place from here ({why}). Run that command again."
        )


def _finished(folder: Path, ours: Ours) -> None:
    if moving.unfinished(moving.target_of(folder)):
        with _bench(folder, ours, patience=PATIENCE):
            pass


def _no_links(folder: Path, ours: Ours) -> None:
    """Refuse a folder in which a folder of ours is a link: what lies behind it is not ours."""
    for link in folder.iterdir() if folder.is_dir() else ():
        if ours(link.name) and is_link(link) and not link.is_file():
            raise moving.linked(folder, link)


def _roomy(folder: Path, place: Path, room: int) -> None:
    free = shutil.disk_usage(place).free
    if free < room:
        raise StudyError(
            f"{folder}: only {free / 1e6:.1f} MB are free there, and {room / 1e6:.0f} MB should "
            "be. Nothing was written. Make room, or name a folder on another disk."
        )


@contextlib.contextmanager
def _told(folder: Path) -> Iterator[None]:
    """Say in plain words why a folder could not be written to."""
    try:
        yield
    except OSError as fault:
        why = fault.strerror or str(fault)
        kept = "Nothing was written; what lay there is as it was."
        if fault.errno in FULL and _about(fault, folder, unnamed=True):
            raise StudyError(
                f"{folder}: there is no room for the files ({why}). {kept} Make room, or name a "
                "folder on another disk."
            ) from fault
        if _about(fault, folder):
            raise StudyError(
                f"{folder} cannot be written to ({why}). {kept} Name another folder."
            ) from fault
        raise


def _about(fault: OSError, folder: Path, *, unnamed: bool = False) -> bool:
    """Whether an error speaks of the folder, its workshop or a folder above it."""
    if not isinstance(fault.filename, str | bytes):
        return unnamed
    named = Path(os.path.abspath(os.fsdecode(fault.filename)))
    target = moving.target_of(folder)
    homes = [target, Path(os.path.abspath(folder)), *moving.workshops(target)]
    inside = any(home == named or home in named.parents for home in homes)
    return inside or named in target.parents


@contextlib.contextmanager
def _bench(
    folder: Path,
    ours: Ours,
    check: Callable[[Path], None] = lambda at: None,
    *,
    patience: float = 0.0,
) -> Iterator[Bench]:
    """The workshop of a folder, locked, with nothing left in it; cleared away on leaving.

    `check` is asked before anything of an earlier command is cleared away.
    """
    target = moving.target_of(folder)
    made = _parents(target)
    try:
        shop = _home(target)
        lock = _locked(folder, shop, patience)
        try:
            check(folder)
            bench = Bench(target, shop, ours)
            bench.tidy()
            try:
                yield bench
            finally:
                bench.tidy()
        finally:
            _left(shop, lock)
    finally:
        for parent in made:
            with contextlib.suppress(OSError):
                parent.rmdir()  # only one that has stayed empty


def _parents(target: Path) -> list[Path]:
    """Make the folders above one that are missing; gives them, the lowest first."""
    missing = [parent for parent in target.parents if not parent.exists()]
    for parent in target.parents:
        if parent.exists() and not parent.is_dir():
            raise StudyError(f"{parent} is a file, so nothing can lie in it. Name another folder.")
    target.parent.mkdir(parents=True, exist_ok=True)
    if target.is_dir() and not os.access(target, os.W_OK | os.X_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(target))
    if len(os.fsencode(target.name)) > LONGEST and not target.exists():
        target.mkdir()
        missing.insert(0, target)
    return missing


def _home(target: Path) -> Path:
    """Where the workshop of a folder stands: beside it, or inside where beside is no place.

    One with files that are still on their way comes first.
    """
    beside, inside = moving.workshops(target)
    for shop in (beside, inside):
        if is_link(shop):
            raise moving.linked(target, shop)
    for shop in (beside, inside):
        if moving.pending(shop):
            return shop
    alone = not os.access(target.parent, os.W_OK | os.X_OK) or os.path.ismount(target)
    long = len(os.fsencode(target.name)) > LONGEST
    if not (target.is_dir() and (alone or long)):
        return beside
    if inside.exists() and not moving.own(inside):
        raise StudyError(
            f"{inside} holds files that are not of this program, and new files would be made "
            "there. Move them elsewhere, or name another folder."
        )
    return inside


def _locked(folder: Path, shop: Path, patience: float) -> filelock.BaseFileLock:
    while True:
        shop.mkdir(exist_ok=True)
        lock = filelock.FileLock(shop / moving.LOCK)
        try:
            lock.acquire(timeout=patience)
        except filelock.Timeout:
            raise StudyError(
                f"{folder}: another command is writing to it. Wait until it is done, or name "
                "another folder."
            ) from None
        except FileNotFoundError:
            continue  # another command has cleared the workshop away just now
        return lock


def _left(shop: Path, lock: filelock.BaseFileLock) -> None:
    """Leave a workshop: take it away if nothing is in it that a reader may have to finish."""
    done = not moving.pending(shop)
    if done and os.name == "posix":  # gone while it is held: nobody else can think they hold it
        (shop / moving.LOCK).unlink(missing_ok=True)
    lock.release()
    if done:
        with contextlib.suppress(OSError):
            if os.name != "posix":  # other systems keep a file that is open
                (shop / moving.LOCK).unlink(missing_ok=True)
            shop.rmdir()
