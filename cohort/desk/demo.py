"""The demo season, for whoever wants to try a command before a study of their own.

Comes in: a new folder. Goes out: the sheets of an invented club in it. They lie in the installed
package; in a checkout of the sources they are those of ``data/demo``.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from cohort.base.errors import StudyError
from cohort.sheets.put import create

_PACKAGE: Final = Path(__file__).parents[1]
_PLACES: Final = (_PACKAGE / "demo_season", _PACKAGE.parent / "data" / "demo")


def demo_season() -> Path:
    """Folder of the demo season; not to be changed.

    Raises
    ------
    StudyError
        The package was installed without it.
    """
    for place in _PLACES:
        if (place / "study.toml").is_file():
            return place
    raise StudyError(
        "The demo season is missing from this installation. Install founding-cohort anew from its "
        "wheel, or take the folder data/demo of its sources."
    )


def write_demo(folder: Path) -> list[Path]:
    """Copy the demo season into a folder.

    Parameters
    ----------
    folder : Path
        New, or empty.

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
    sheets = sorted(path for path in demo_season().iterdir() if path.is_file())
    folder.mkdir(parents=True, exist_ok=True)
    out = []
    for sheet in sheets:
        out.append(folder / sheet.name)
        create(out[-1], sheet.read_bytes())
    return out
