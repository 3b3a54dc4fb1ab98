"""The demo, for whoever wants to try a command before a study of their own.

Comes in: a new folder. Goes out: the sheets of an invented club in it, of its first season or of
three of its keepers one year on. They lie in the installed package; in a checkout of the sources
they are those of ``data/demo`` and ``data/demo-second-year``.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from cohort.base.errors import StudyError
from cohort.sheets.put import create

_PACKAGE: Final = Path(__file__).parents[1]
_SOURCES: Final = _PACKAGE.parent / "data"
_PLACES: Final = (_PACKAGE / "demo_season", _SOURCES / "demo")
_SECOND: Final = (_PACKAGE / "demo_second_year", _SOURCES / "demo-second-year")


def demo_season(*, second_year: bool = False) -> Path:
    """Folder of a demo; not to be changed.

    Parameters
    ----------
    second_year : bool
        That of the first season and the year after it.

    Raises
    ------
    StudyError
        The package was installed without it.
    """
    places = _SECOND if second_year else _PLACES
    for place in places:
        if (place / "study.toml").is_file():
            return place
    raise StudyError(
        "The demo is missing from this installation. Install founding-cohort anew from its wheel, "
        f"or take the folder data/{places[-1].name} of its sources."
    )


def write_demo(folder: Path, *, second_year: bool = False) -> list[Path]:
    """Copy a demo into a folder.

    Parameters
    ----------
    folder : Path
        New, or empty.
    second_year : bool
        As for `demo_season`.

    Returns
    -------
    list of Path
        The sheets written.

    Raises
    ------
    StudyError
        The folder holds something already, or is a file.
    """
    if folder.is_file():
        raise StudyError(f"{folder} is a file; name a new folder.")
    if folder.is_dir() and any(folder.iterdir()):
        raise StudyError(f"{folder} is not empty; name a new folder, so that nothing is mixed.")
    source = demo_season(second_year=second_year)
    sheets = sorted(path for path in source.iterdir() if path.is_file())
    folder.mkdir(parents=True, exist_ok=True)
    out = []
    for sheet in sheets:
        out.append(folder / sheet.name)
        create(out[-1], sheet.read_bytes())
    return out
