"""Files written whole: the old one or the new one, never half of it.

What comes in: paths inside a study and the bytes for them. What goes out: the files, each in one
step (temporary file, fsync, rename), several of them so that a command that was cut off is
finished by the next. A sheet that is a link stays one: what it points to gets the bytes. It never
follows a link that stands for a folder of the study.
"""

from __future__ import annotations

import errno
import glob
import hashlib
import json
import os
import secrets
import shutil
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from cohort.base.errors import StudyError, printable
from cohort.sheets.files import inner

UNFINISHED = "unfinished.json"
"""File in the folder of earlier versions that says which renames a command had still to do."""
MAX_UNFINISHED = 1_000_000
_NEW = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)


def original(path: Path) -> Path:
    """File behind a sheet that is a link; the path itself where it is none.

    Raises
    ------
    StudyError
        If the link leads to no file.
    """
    if not path.is_symlink():
        return path
    try:
        real = path.resolve(strict=True)
    except FileNotFoundError:
        why = f"it is a link to {path.readlink()}, and there is no such file"
    except RuntimeError:  # how Python before 3.13 tells of a loop
        why = "it is a link that leads back to itself"
    except OSError as fault:
        loop = fault.errno == errno.ELOOP
        why = f"it is a link that {'leads back to itself' if loop else 'cannot be followed'}"
    else:
        if real.is_file():
            return real
        why = f"it is a link to {real}, which is no file"
    raise StudyError(
        f"{path.name}: {why}. Nothing was written. Put the file back where the link points, or "
        "take the link away."
    )


def replace(path: Path, data: bytes) -> None:
    """Put bytes in place of a file in one step; a reader sees the old file or the new one."""
    real = original(path)
    _sweep(real)
    temporary = _written(real, data)
    try:
        os.replace(temporary, real)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    _sync_folder(real.parent)


def create(path: Path, data: bytes) -> None:
    """Put bytes into a file that must not be there yet; it comes whole or not at all.

    Raises
    ------
    FileExistsError
        If there is a file or a link of that name.
    """
    if os.path.lexists(path):
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
    temporary = _written(path, data)
    try:
        try:
            os.link(temporary, path)  # unlike a rename it never takes the place of another file
        except FileExistsError:
            raise
        except OSError:  # a file system without hard links
            _claimed(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)
    _sync_folder(path.parent)


def _claimed(temporary: Path, path: Path) -> None:
    """Rename a file to a name that must be free: an empty file of ours holds it meanwhile."""
    path.open("xb").close()
    try:
        os.replace(temporary, path)
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def put_all(
    folder: Path, files: Mapping[Path, bytes], notes: Path, gone: Sequence[Path] = ()
) -> None:
    """Put several files of a study in place as one step; the caller holds the lock.

    Parameters
    ----------
    folder : Path
        The study.
    files : mapping
        File inside it -> its new bytes.
    notes : Path
        Where the renames still to do are noted; `finish` does them if this call is cut off.
    gone : sequence of Path
        Files inside it that are taken away in the same step; each must lie beside `notes`, too.
    """
    if len(files) == 1 and not gone:
        replace(*next(iter(files.items())))
        return
    staged: list[tuple[Path, Path]] = []
    todo: list[dict[str, str]] = []
    try:
        for path, data in files.items():
            real = original(path)
            _sweep(real)
            staged.append((real, _written(real, data)))
            todo.append(
                {
                    "file": path.relative_to(folder).as_posix(),
                    "from": staged[-1][1].name,
                    "before": _sum_of(real),
                    "after": hashlib.sha256(data).hexdigest(),
                }
            )
        todo += [
            {"file": path.relative_to(folder).as_posix(), "from": "", "before": _sum_of(path)}
            for path in gone
        ]
        replace(notes, json.dumps(todo, indent=1).encode())
    except BaseException:
        _undone(notes, staged)
        raise
    try:
        os.replace(staged[0][1], staged[0][0])
    except OSError:  # anything else may come when the file is in place: that is left to `finish`
        _undone(notes, staged)
        raise
    for real, temporary in staged[1:]:
        _moved(temporary, real)
    for path in gone:
        _gone(path, _sum_of(path), notes.parent)
    for real in dict.fromkeys(real.parent for real in (*(one for one, _ in staged), *gone)):
        _sync_folder(real)
    notes.unlink()


def _undone(notes: Path, staged: list[tuple[Path, Path]]) -> None:
    """Take away the note first: without it, temporary files are mere litter."""
    notes.unlink(missing_ok=True)
    for _, temporary in staged:
        temporary.unlink(missing_ok=True)


def _moved(temporary: Path, real: Path) -> None:
    try:
        os.replace(temporary, real)
    except OSError as fault:
        raise StudyError(
            f"{real.name}: not yet in place ({fault.strerror or fault}), while other files of this "
            "command are. Free the file; the next command that writes to the study puts it there."
        ) from fault


def _gone(path: Path, before: str, place: Path) -> None:
    """Take a file away, if it is as it was and a file like it is kept."""
    if path.is_symlink() or not path.is_file() or _sum_of(path) != before:
        return
    if not any(_sum_of(kept) == before for kept in place.glob(f"*{glob.escape(path.suffix)}")):
        return
    try:
        path.unlink()
    except OSError as fault:
        raise StudyError(
            f"{path.name}: not yet taken away ({fault.strerror or fault}), while other files of "
            "this command are in place. Free the file; the next command that writes to the study "
            "takes it away."
        ) from fault


def _sum_of(real: Path) -> str:
    """SHA-256 of a file; blank where there is none."""
    return hashlib.sha256(real.read_bytes()).hexdigest() if real.exists() else ""


def finish(folder: Path, notes: Path) -> None:
    """Do what a command that was cut off in `put_all` had still to do; the caller holds the lock.

    Only files directly in the study or one folder below it are put in place, only from whole
    temporary files beside them, and never over a file that was changed since: its rows are then
    kept beside the note, and the keeper is told on the error stream. A file is taken away only
    where all other files are in place and one like it is kept beside the note. A note that says
    anything else is thrown away.
    """
    try:
        if notes.is_symlink() or notes.stat().st_size > MAX_UNFINISHED:
            return
        todo = json.loads(notes.read_bytes())
    except (OSError, ValueError, RecursionError):
        return
    whole = 0
    for real, temporary, entry in _believed(folder, todo):
        now, before, after = _sum_of(real), entry.get("before"), entry.get("after")
        if now == before and _sum_of(temporary) == after:
            os.replace(temporary, real)
            _sync_folder(real.parent)
        elif temporary.exists() and now != after:
            _set_aside(real, temporary, notes.parent)
        elif now == before != after:
            _tell(f"{real.name}: rows of a command that was cut off are lost. Give them again.")
        whole += _sum_of(real) == after
    going = _to_go(folder, todo, notes.parent)
    if going and whole + len(going) == len(todo):  # else there are rows that need them
        for path, before in going:
            _gone(path, before, notes.parent)
    notes.unlink(missing_ok=True)


def _set_aside(real: Path, temporary: Path, place: Path) -> None:
    """Keep rows that cannot be put in place, under a name that no sweep takes away."""
    which = temporary.name.removeprefix(f".{real.name}.").removesuffix(".tmp")
    kept = place / f"{real.stem}.not-added-{which}{real.suffix}"
    _tell(  # first: told twice is better than not at all
        f"{real.name}: rows of a command that was cut off were not added, because the file was "
        f"changed since. The file as it would be with them is {place.name}/{kept.name}: copy from "
        "it what is missing."
    )
    shutil.move(temporary, kept)  # the file behind a link may lie on another disk


def _tell(sentence: str) -> None:
    print(printable(sentence), file=sys.stderr, flush=True)


def _believed(folder: Path, todo: object) -> Iterator[tuple[Path, Path, dict[str, object]]]:
    """File, temporary file and entry of what a note says, as far as `put_all` can have said it."""
    for entry in todo if isinstance(todo, list) else []:
        if not isinstance(entry, dict):
            continue
        name, source = str(entry.get("file", "")), str(entry.get("from", ""))
        parts = _parts(name)
        if not 0 < len(parts) <= 2 or not source or "/" in source or "\\" in source:
            continue
        try:
            if len(parts) == 2:
                inner(folder, parts[0])
            real = original(folder / name)
        except StudyError as fault:
            _tell(f"{name}: rows of a command that was cut off were not added. {fault}")
            continue
        temporary = real.parent / source
        mine = source.startswith(f".{real.name}.") and source.endswith(".tmp")
        odd = (temporary.exists() and not temporary.is_file()) or temporary.is_symlink()
        if mine and not odd:
            yield real, temporary, entry


def _parts(name: str) -> list[str]:
    """Parts of a path inside a study; none where it could lead elsewhere."""
    parts = name.split("/")
    plain = all(part and part not in (".", "..") and "\\" not in part for part in parts)
    return parts if plain else []


def _to_go(folder: Path, todo: object, place: Path) -> list[tuple[Path, str]]:
    """Files that a note says are to be taken away, and their checksum: none but in a folder."""
    out = []
    for entry in todo if isinstance(todo, list) else []:
        if not isinstance(entry, dict) or entry.get("from") != "":
            continue
        parts = _parts(str(entry.get("file", "")))
        if len(parts) != 2 or folder / parts[0] == place or (folder / parts[0]).is_symlink():
            continue
        out.append((folder / parts[0] / parts[1], str(entry.get("before", ""))))
    return out


def _written(real: Path, data: bytes) -> Path:
    """Temporary file beside a file that holds the bytes, on the disk.

    It may be read by whom the file may be read by; a new one by whom the system's umask says.
    """
    mode = real.stat().st_mode & 0o777 if real.exists() else None
    temporary = real.parent / f".{real.name}.{secrets.token_hex(4)}.tmp"
    try:
        handle = os.open(temporary, _NEW, 0o666 if mode is None else mode)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if mode is not None:
            temporary.chmod(mode)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    return temporary


def _sync_folder(folder: Path) -> None:
    if os.name != "posix":  # other systems cannot open a folder for this
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _sweep(real: Path) -> None:
    """Take away temporary files of a command that was cut off; the lock is held."""
    for left in real.parent.glob(f".{glob.escape(real.name)}.*.tmp"):
        left.unlink(missing_ok=True)
