"""Where a photograph named in a sheet lies.

What comes in: a study folder and a name as typed. What goes out: the file, if it lies in the
folder. It opens nothing.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

ENDINGS: Final = (".jpg", ".jpeg", ".png")
"""Endings of the photographs that can be printed."""


def inside(folder: Path, name: str) -> Path | None:
    """The file of a name, if it lies in (or below) the folder of a study."""
    home = folder.resolve()
    path = (home / name).resolve()
    if home in path.parents and path.suffix.lower() in ENDINGS and path.is_file():
        return path
    return None
