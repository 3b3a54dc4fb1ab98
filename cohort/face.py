"""What a script or a notebook asks for in one line: pictures and pages of a comparison.

Comes in: a `Comparison`. Goes out: a matplotlib figure, or files. Never: a number of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cohort.base.errors import StudyError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from cohort.comparison import Comparison


def _picture(made: Comparison, name: str, width: int) -> Figure:
    from cohort import figures
    from cohort.figures import ink
    from cohort.figures.labels import ENGLISH
    from cohort.figures.material import Material, NotDrawn

    known = {picture.name: picture for picture in figures.PICTURES}
    if name not in known:
        raise StudyError(f"There is no picture '{name}'; there are {', '.join(known)}.")
    picture = known[name]
    try:
        frame = picture.frame(Material(made.results, made.history, made.study))
    except NotDrawn as missing:
        raise StudyError(f"The picture '{name}' cannot be drawn: {missing}") from None
    with ink.style():
        drawn: Figure = picture.draw(frame, width, ENGLISH)
    return drawn


def figure(made: Comparison, name: str, *, width: int = 175) -> Figure:
    """One picture of a comparison, for a notebook.

    Parameters
    ----------
    made : Comparison
    name : str
        Such as ``genera``, ``queen_survival``, ``season``; a wrong name lists all.
    width : int
        Millimetres: 85 or 175.

    Raises
    ------
    StudyError
        Unknown name, or no data for this picture (the message says which).
    """
    return _picture(made, name, width)


def write_figures(made: Comparison, folder: Path, *, only: Sequence[str]) -> list[Path]:
    """Write pictures as SVG, PDF and PNG into ``folder/figures``, both widths.

    Parameters
    ----------
    made : Comparison
    folder : Path
    only : sequence of str
        Names of the pictures.

    Raises
    ------
    StudyError
        See `figure`.
    """
    from cohort.base import making
    from cohort.figures import ink
    from cohort.resultfiles import ours

    paths: list[Path] = []
    with making.added(Path(folder), ours) as new, ink.style():
        where = new.place / "figures"
        where.mkdir()
        for name in only:
            for width in ink.WIDTHS:
                stem = where / f"{name}-{width}"
                paths += ink.save(_picture(made, name, width), stem, name, "")
    return [new.later(path) for path in paths]


def write_newsletter(made: Comparison, folder: Path, *, language: str = "en") -> list[Path]:
    """Write the page with all numbers behind it; it is all that the folder then holds.

    See `cohort.newsletter`.

    Raises
    ------
    StudyError
        When the language is not known, or the folder cannot be used (see `cohort.results.made`).
    """
    from cohort import results
    from cohort.figures.material import Material
    from cohort.newsletter import write_newsletter as write

    with results.made(Path(folder)) as new:
        results.fill(new.place, made.results, made.draws)
        results.carry_over(new.folder, new.place)
        paths = write(Material(made.results, made.history, made.study), new.place, language)
    return [new.later(path) for path in paths]
