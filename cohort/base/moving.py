"""How new files take the place of old ones, so that a kill at any moment can be mended.

Comes in: a workshop with new files in it. Goes out: the files in place. Never: a choice of what is
written, a lock (see `cohort.base.making`).
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import re
import secrets
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from cohort.base.disk import exchanged, gone, is_link, kept_on_disk, patiently
from cohort.base.errors import StudyError

Ours = Callable[[str], bool]
READY: Final = "ready.json"
"""List of files that are being moved one by one."""
DRAFT: Final = f"{READY}.draft"
SWAPPING: Final = "swapping"
"""Says that folder and new files are changing places; holds the name of the new ones."""
OLD: Final = "old"
NEW: Final = "new-"
LOCK: Final = "lock"
_FILLED: Final = re.compile(rf"{NEW}[0-9a-f]{{8}}")
"""Name of a folder that `Bench.new` gave."""


def target_of(folder: Path) -> Path:
    """The folder itself, where a link points to it."""
    return Path(os.path.realpath(folder))


def workshops(target: Path) -> tuple[Path, Path]:
    """Where the workshop of a folder may stand: beside it, inside it."""
    return target.parent / f".{target.name}.making", target / ".making"


def pending(shop: Path) -> bool:
    """Whether files in a workshop are still on their way."""
    return os.path.exists(shop / READY)  # False too where a name is too long to be there


def own(shop: Path) -> bool:
    """Whether a folder is a workshop with nothing in it that is not ours."""
    if not shop.is_dir() or is_link(shop) or not os.access(shop, os.R_OK):
        return False
    names = (READY, DRAFT, SWAPPING, OLD, LOCK)
    return all(name in names or _FILLED.fullmatch(name) for name in os.listdir(shop))


def unfinished(target: Path) -> bool:
    """Whether a reader would not find the folder whole."""
    beside, inside = workshops(target)
    between = os.path.exists(beside / SWAPPING) and not target.exists()
    return between or pending(beside) or pending(inside)


@dataclass(frozen=True)
class Bench:
    """A workshop that this process holds.

    Attributes
    ----------
    target : Path
        The folder to fill.
    shop : Path
    ours : callable
        Whether a path below the folder is a file this program writes there.
    """

    target: Path
    shop: Path
    ours: Ours

    def new(self) -> Path:
        """An empty folder to fill; its name was never used, in case a killed run still writes."""
        place = self.shop / f"{NEW}{secrets.token_hex(4)}"
        place.mkdir()
        return place

    def tidy(self) -> None:
        """Finish what is half in place; clear away what is left over, ours alone."""
        if pending(self.shop):
            _finish(self)
        mark = self.shop / SWAPPING
        swapped = mark.exists()
        if swapped and not self.target.exists():  # cut off between the two renames
            name = mark.read_text("utf-8")
            whole = name in {new.name for new in self.shop.glob(f"{NEW}*")}
            os.rename(self.shop / (name if whole else OLD), self.target)
        for left in (*((self.shop / OLD,) if swapped else ()), *_filled(self.shop)):
            if swapped:  # what was in the folder, and perhaps something that came meanwhile
                _strays_back(self, left)
            gone(left)
        mark.unlink(missing_ok=True)
        (self.shop / DRAFT).unlink(missing_ok=True)
        inside = workshops(self.target)[1]
        if inside != self.shop and own(inside) and not pending(inside):
            _copies_gone(inside)


def files_of(folder: Path) -> list[str]:
    """Files, links and empty folders below a folder, as paths with ``/``; no workshop of ours."""
    out = []
    inside = workshops(folder)[1]
    hidden = inside if own(inside) else None
    for at, folders, names in os.walk(folder):
        below = Path(at).relative_to(folder)
        folders[:] = [name for name in folders if Path(at) / name != hidden]
        links = [name for name in folders if (Path(at) / name).is_symlink()]
        out += [(below / name).as_posix() for name in (*names, *links)]
        if not folders and not names and Path(at) != folder:
            out.append(below.as_posix())
    return sorted(out)


def replace(bench: Bench, new: Path) -> None:
    """Let new files take the place of all that lies in the folder."""
    target = bench.target
    kept_on_disk(new)
    if _stays(bench):
        return _one_by_one(bench, new, whole=True)
    try:
        if target.exists():
            shutil.copymode(target, new)
            if any(target.iterdir()):
                return _swap(bench, new)
            if os.name == "nt":
                target.rmdir()  # elsewhere an empty folder gives way by itself
        patiently(os.rename, new, target)
    except OSError as fault:
        if not new.exists() or fault.errno in (errno.ENOSPC, errno.EDQUOT):
            raise
        target.mkdir(exist_ok=True)
        _one_by_one(bench, new, whole=True)  # a mount of the same disk; open in another program
    return None


def add(bench: Bench, new: Path) -> None:
    """Let new files lie among what the folder holds."""
    kept_on_disk(new)
    bench.target.mkdir(exist_ok=True)
    _one_by_one(bench, new, whole=False)


def _stays(bench: Bench) -> bool:
    """Whether the folder itself must not be moved: somebody stands in it, or it holds the shop."""
    if bench.target in bench.shop.parents:
        return True
    try:
        here = Path(os.path.realpath(os.getcwd()))
    except OSError:  # the folder one stands in was taken away
        return False
    return here == bench.target or bench.target in here.parents


def _swap(bench: Bench, new: Path) -> None:
    (bench.shop / SWAPPING).write_text(new.name, encoding="utf-8")
    if exchanged(new, bench.target):
        return
    old = bench.shop / OLD
    patiently(os.rename, bench.target, old)
    try:
        patiently(os.rename, new, bench.target)
    except OSError:
        patiently(os.rename, old, bench.target)
        raise


def _one_by_one(bench: Bench, new: Path, *, whole: bool) -> None:
    """Move files one by one, by a list that is written down first."""
    files = files_of(new)
    there = files_of(bench.target) if whole else []
    _no_links(bench.target, files)
    if _other_disk(new, bench.target):
        new = _copied(files, new, workshops(bench.target)[1] / new.name)
    told = {
        "new": new.name,
        "inside": bench.target in new.parents,
        "files": files,
        "whole": whole,
        "drop": [name for name in there if bench.ours(name) and name not in files],
    }
    draft = bench.shop / DRAFT
    draft.write_text(json.dumps(told), encoding="utf-8")
    os.replace(draft, bench.shop / READY)
    _finish(bench)


def _other_disk(new: Path, target: Path) -> bool:
    """Whether a file cannot simply be renamed from one to the other: tried with an empty folder."""
    inside = workshops(target)[1]
    if inside in new.parents:
        return False
    here, there = new / "tried", inside / new.name
    here.mkdir()
    inside.mkdir(exist_ok=True)
    try:
        os.rename(here, there)
    except OSError as fault:
        if fault.errno != errno.EXDEV:
            raise
        here.rmdir()
        return True
    there.rmdir()
    return False


def _copied(files: list[str], one: Path, other: Path) -> Path:
    for name in files:
        (other / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(one / name, other / name)
    return other


def _copies_gone(inside: Path) -> None:
    """Clear away copies inside a folder whose workshop stands beside it."""
    for left in _filled(inside):
        gone(left)
    with contextlib.suppress(OSError):
        inside.rmdir()


def _filled(shop: Path) -> list[Path]:
    """Folders in a workshop that `Bench.new` gave."""
    there = shop.glob(f"{NEW}*")
    return [at for at in there if _FILLED.fullmatch(at.name) and not is_link(at)]


def _finish(bench: Bench) -> None:
    """Move what is on the list and not yet moved; then take away what it drops."""
    target = bench.target
    try:
        told = json.loads((bench.shop / READY).read_text("utf-8"))
        new = _named(workshops(target)[1] if told["inside"] else bench.shop, told["new"])
        files = [(_below(new, name), _below(target, name)) for name in told["files"]]
        drop = [_below(target, name) for name in told["drop"] if bench.ours(name)]
        if told.get("whole", True):
            _known(bench, told["files"])
        for one, other in files:
            if one.is_file():
                other.parent.mkdir(parents=True, exist_ok=True)
                patiently(os.replace, one, other)
        for path in drop:
            _taken(target, path)
    except OSError as fault:
        why = fault.strerror or fault
        raise StudyError(
            f"{target}: not all files could be put in place ({why}). Close what has them open, or "
            "make room. The next command that reads or writes this folder puts the rest in place."
        ) from fault
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as fault:
        raise StudyError(
            f"{target}: files of a command that was cut off cannot be put in place: "
            f"{bench.shop / READY} is damaged. Take {bench.shop} away and make the results again."
        ) from fault
    gone(new)
    (bench.shop / READY).unlink(missing_ok=True)


def _known(bench: Bench, files: list[str]) -> None:
    """Leave files to a command that knows them: it also knows which of the old ones must go."""
    strange = [name for name in files if not bench.ours(name)]
    if strange:
        raise StudyError(
            f"{bench.target}: the command that wrote it was cut off, and {strange[0]} cannot be "
            "put in place from here. Run that command again first."
        )


def _named(shop: Path, name: str) -> Path:
    """The folder of new files that a list names.

    Raises
    ------
    ValueError
        It is none that `Bench.new` gave, or a link stands in the way.
    """
    new = shop / name
    if not _FILLED.fullmatch(name) or is_link(shop) or is_link(new):
        raise ValueError(name)
    return new


def _below(folder: Path, name: str) -> Path:
    """A path below a folder, which no link leads out of.

    Raises
    ------
    ValueError
        It lies elsewhere: a list of ours holds no such path.
    """
    path = Path(name)
    if path.is_absolute() or path.drive or ".." in path.parts or not path.parts:
        raise ValueError(name)
    at = target_of((folder / name).parent)
    if folder not in (at, *at.parents):
        raise ValueError(name)
    return folder / name


def _no_links(target: Path, files: list[str]) -> None:
    """Refuse to write through a link to a folder elsewhere."""
    for name in files:
        try:
            _below(target, name)
        except ValueError as fault:
            raise linked(target, (target / name).parent) from fault


def linked(folder: Path, link: Path) -> StudyError:
    """What is said of a folder in which a link leads elsewhere."""
    return StudyError(
        f"{folder}: {link} is a link to a folder elsewhere, and nothing is written through it. "
        "Take the link away, or name another folder."
    )


def _taken(target: Path, path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        path.rmdir()
        return
    path.unlink(missing_ok=True)
    if path.parent != target:
        with contextlib.suppress(OSError):
            path.parent.rmdir()  # the last of its folder


def _strays_back(bench: Bench, left: Path) -> None:
    """Bring back what is not ours: it came into the folder while a command worked."""
    for name in files_of(left) if left.is_dir() else ():
        if bench.ours(name):
            continue
        try:
            back = _below(bench.target, name)
        except ValueError as fault:
            raise linked(bench.target, (bench.target / name).parent) from fault
        back.parent.mkdir(parents=True, exist_ok=True)
        os.rename(left / name, back)
