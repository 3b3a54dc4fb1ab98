"""Files and folders of a study, taken only where they are what they seem.

What comes in: paths. What goes out: bytes of plain files of a bearable size, names that can be
printed anywhere, and inner folders that do not lead out of the study. It writes nothing.
"""

from __future__ import annotations

import os
import re
import stat
from pathlib import Path

from cohort.base.errors import StudyError, printable
from cohort.sheets.sentences import tell

MAX_SHEET = 200_000_000
"""Largest CSV file read (bytes)."""
MAX_NOTES = 5_000_000
"""Largest file of check notes or settings read (bytes)."""
MAX_LINES = 4_000_000
"""Most lines of a CSV file."""
MAX_HEADINGS = 20_000
"""Most signs of the line of headings."""


def told(path: Path) -> str:
    """Name of a file as it is told: bytes that are no letters, and control signs, spelled out."""
    return printable(path.name)


def oddity(path: Path) -> str:
    """What a path is, when it is no plain file: ``a folder``; blank for a plain file."""
    try:
        mode = path.stat().st_mode
    except OSError:
        return tell("odd_link" if path.is_symlink() else "odd_unreachable")
    if stat.S_ISREG(mode):
        return ""
    return tell("odd_folder" if stat.S_ISDIR(mode) else "odd_file")


def bytes_of(path: Path, most: int) -> bytes:
    """Bytes of a plain file.

    Parameters
    ----------
    path : Path
    most : int
        Largest size that is read (bytes).

    Raises
    ------
    StudyError
        If it cannot be opened, is no plain file (a pipe would be waited for without end), or is
        larger than `most`.
    """
    try:
        # Asked of the open file, so that it cannot be changed for another in between.
        with os.fdopen(os.open(path, _PLAIN), "rb") as file:
            about = os.fstat(file.fileno())
            if not stat.S_ISREG(about.st_mode):
                raise StudyError(f"{told(path)} is no plain file and was not read.")
            if about.st_size > most:
                raise StudyError(
                    f"{told(path)} has {about.st_size // 1_000_000} MB; files of its kind are "
                    f"read up to {most // 1_000_000} MB. See whether it is the right file."
                )
            return file.read(most + 1)
    except OSError as fault:
        why = fault.strerror or str(fault)
        raise StudyError(
            f"{told(path)} cannot be opened ({why}). Close it elsewhere or ask for leave to read "
            "it."
        ) from fault


# A pipe is opened without waiting for its other end; where there are no pipes, bytes stay bytes.
_PLAIN = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


def unlike_sheet(text: str) -> str:
    """Say why a text is no sheet that a club can have typed; blank when it may be one."""
    start = text.lstrip()[: MAX_HEADINGS + 1]
    if len(start) > MAX_HEADINGS and not re.search(r"[\r\n]", start):
        return tell("long_first_line", most=MAX_HEADINGS)
    lines = max(text.count("\n"), text.count("\r"))
    if lines > MAX_LINES:
        return tell("many_lines", lines=lines, most=MAX_LINES)
    return ""


def inner(study: Path, name: str, *, make: bool = False) -> Path:
    """Folder of a study for what belongs to it and is no sheet, such as ``earlier``.

    Parameters
    ----------
    study : Path
    name : str
    make : bool
        Make it if it is not there.

    Raises
    ------
    StudyError
        If it is a link that leads out of the study, or to the study itself: what is kept there
        would be written, and old versions taken away, in a folder that belongs to somebody else,
        or among the sheets.
    """
    folder = study / name
    if folder.is_symlink():
        here = study.resolve()
        try:
            there = folder.resolve()
        except (OSError, RuntimeError):  # a loop
            there = here
        if there == here or not there.is_relative_to(here):
            where = "leads to the study itself" if there == here else "leads out of the study"
            raise StudyError(
                f"{printable(name)}: this folder of the study is a link that {where} (to "
                f"{printable(str(folder.readlink()))}). It is not followed, and nothing was "
                "written. Take the link away; a folder is made in its place."
            )
    if make:
        folder.mkdir(exist_ok=True)
    return folder
