"""Files that several runs may write into one folder at once, each of them whole.

Comes in: a path and what the file is to hold. Goes out: the file, by one rename from a draft whose
name no other run has, be it on this machine or another. Drafts that killed runs left are cleared.
"""

from __future__ import annotations

import contextlib
import secrets
import time
from pathlib import Path
from typing import Final

ENDING: Final = ".part"
LONG_ENDED: Final = 3600
"""Seconds after which nobody writes to a draft any more; it takes moments."""


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
