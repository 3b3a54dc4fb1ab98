"""Small steps on a disk: a file put in place whole, a patient rename, two folders exchanged.

Comes in: paths. Goes out: what is on the disk. Never: a choice of what is written, a lock.

Files that several runs may write into one folder at once (`put`) come by one rename from a draft
whose name no other run has, be it on this machine or another; drafts that killed runs left are
cleared.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import secrets
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

ENDING: Final = ".part"
LONG_ENDED: Final = 3600
"""Seconds after which nobody writes to a draft any more; it takes moments."""
_WAITS: Final = (0.05, 0.1, 0.2, 0.4, 0.8)
"""Seconds between trials: a virus scanner may have a new file open for a moment (Windows)."""
_AT: Final = -100  # AT_FDCWD: paths as they are
_EXCHANGE: Final = 2  # RENAME_EXCHANGE, renameat2(2)


def draft_of(path: Path) -> Path:
    """Name beside a file for what is not whole yet; another one each time it is asked for."""
    return path.with_name(f"{path.name}.{secrets.token_hex(8)}{ENDING}")


def put(path: Path, text: str) -> None:
    """Put a text into a file in one step; of two runs that do so at once the last one stays."""
    draft = draft_of(path)
    try:
        draft.write_text(text, "utf-8")
        draft.replace(path)
    except BaseException:
        draft.unlink(missing_ok=True)
        raise


def clear(folder: Path) -> None:
    """Take away the drafts in a folder that runs long ended left there."""
    for left in folder.glob(f"*{ENDING}"):
        with contextlib.suppress(OSError):  # another run was quicker, or it cannot be removed
            if left.stat().st_mtime < time.time() - LONG_ENDED:
                left.unlink()


def is_link(path: Path) -> bool:
    """Whether a path stands for a folder or file elsewhere (on Windows a junction too)."""
    return os.path.islink(path) or os.path.isjunction(path)


def patiently(move: Callable[[Path, Path], None], one: Path, other: Path) -> None:
    """Rename; try again for a while where another program has a file open."""
    for wait in _WAITS:
        try:
            return move(one, other)
        except PermissionError:
            time.sleep(wait)
    return move(one, other)


def exchanged(one: Path, other: Path) -> bool:
    """Let two folders change places in one step; False where the system has no such step."""
    if not sys.platform.startswith("linux"):
        return False
    try:
        call: Any = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    if call(_AT, os.fsencode(one), _AT, os.fsencode(other), _EXCHANGE) == 0:
        return True
    code = ctypes.get_errno()
    if code in (errno.EINVAL, errno.ENOSYS):
        return False
    raise OSError(code, os.strerror(code), str(other))


def gone(folder: Path) -> None:
    """Take a folder away, also while the second process still writes its last file there."""
    for wait in (0.0, *_WAITS):
        shutil.rmtree(folder, ignore_errors=True)
        if not folder.exists():
            return
        time.sleep(wait)


def _walked(folder: Path) -> Iterator[Path]:
    for at, _, names in os.walk(folder):
        yield from (Path(at) / name for name in names)
        yield Path(at)


def kept_on_disk(new: Path) -> None:
    """Wait until the files are on the disk, so that a power cut leaves none of them torn."""
    for path in _walked(new):
        if path.is_dir() and os.name != "posix":  # other systems cannot open a folder for this
            continue
        handle = os.open(path, os.O_RDONLY if os.name == "posix" else os.O_RDWR)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
