"""What a script or a notebook asks for in one line.

Comes in: a `Study`, a `Comparison`, or `Results` read from a folder. Goes out: a history, frames, a
matplotlib figure, or files. The methods of those three classes lead here. Never: a number of its
own.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from cohort.base.asked import folder_of
from cohort.base.errors import StudyError
from cohort.history.warmed import as_compared
from cohort.nonparametric.frames import survival
from cohort.study.subset import only
from cohort.terms.near import did_you_mean

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from cohort.comparison import Comparison
    from cohort.figures.material import Material
    from cohort.history import History
    from cohort.results import Results
    from cohort.study import Study

__all__ = [
    "figure",
    "history_of",
    "material_of",
    "only",
    "pool_studies",
    "second_opinion",
    "survival",
    "write_figures",
    "write_newsletter",
]


def history_of(study: Study) -> History:
    """The history that is compared; see `Study.history`."""
    return as_compared(study)[0]


def pool_studies(studies: Sequence[Study]) -> Study:
    """Several studies as one, so that seasons and clubs can be compared together.

    Parameters
    ----------
    studies : sequence of Study
        Column ``season`` of the foundings tells seasons apart.

    Returns
    -------
    Study

    Raises
    ------
    SheetError
        Sheets of two seasons contradict each other; it carries the findings, each with both places.
    StudyError
        No study, the same study twice, days counted from different moments, or something that is
        no study.

    Notes
    -----
    A colony that goes on into the next season and keeps its number is one founding, with the looks
    of all its sheets. Numbers that two clubs use are put behind the word of their study. What had
    to be settled between them is a warning (`UserWarning`), one sentence each.

    Examples
    --------
    >>> import cohort, pandas as pd
    >>> def season(year):
    ...     F = pd.DataFrame({"founding": [f"{year}-1", f"{year}-2"], "genus": "Lasius",
    ...                       "queens": [1, 3], "started": f"{year}-07-04"})
    ...     return cohort.study_from(F, season=year)
    >>> both = cohort.pool_studies([season("2024"), season("2025")])
    >>> both.foundings["season"].tolist()
    ['2024', '2024', '2025', '2025']
    """
    import warnings

    from cohort.study import Study
    from cohort.study.pool import pooled

    several = isinstance(studies, Iterable) and not isinstance(studies, Study | str)
    given: list[Any] = list(studies) if several else [studies]
    for one in given:
        if not isinstance(one, Study):
            raise StudyError(
                f"A {type(one).__name__} is no study. Read each with cohort.read_study(folder)."
            )
    whole = pooled(given)
    for note in whole.notes:
        warnings.warn(note, stacklevel=2)
    return whole.study


def second_opinion(study: Study, *, seed: int | None, level: float) -> pd.DataFrame:
    """The questions of a comparison by standard methods; see `Study.second_opinion`."""
    from cohort.base.asked import level_of, whole_of
    from cohort.comparison import SEED
    from cohort.model.priors import Priors
    from cohort.nonparametric.permutation import permutation
    from cohort.second_opinion import beside_model, common_day, opinions
    from cohort.sheets import written
    from cohort.terms.described import attributes

    sure, past = level_of(level), history_of(study)
    chance = SEED if seed is None else whole_of("seed", seed)
    lots = permutation(past, seed=chance, day=common_day(past))
    assumed = Priors()["multi_days"]
    rows = opinions(past, lots, (assumed.mean, assumed.sd), seed=chance, level=sure)
    alone = written.empty("comparisons")
    beside = beside_model(rows, alone, sure, winter=bool(past.winters))
    made = written.typed(beside, "second_opinion")
    made.attrs.update(attributes("second_opinion"))
    return made


def material_of(made: Comparison | Results) -> Material:
    """What pictures and page are made from; of `Results` what their folder holds.

    Raises
    ------
    StudyError
        Results that lie in no folder, or in one without the study they were made of.
    """
    from cohort.comparison import Comparison
    from cohort.figures.material import Material
    from cohort.results import Results
    from cohort.results.kept_study import read_study_files

    if isinstance(made, Comparison):
        return Material(made.results, made.history, made.study)
    if not isinstance(made, Results):
        raise StudyError(
            f"A comparison or results are wanted here, not a {type(made).__name__}. Make one with "
            "cohort.compare(study), or read it with cohort.read_results(folder)."
        )
    if made.folder is None:
        raise StudyError(
            "These results lie in no folder, so that the study behind them is not at hand. Ask the "
            "comparison itself, or read a folder with cohort.read_results(folder)."
        )
    study = read_study_files(made.folder, made.run)
    return Material(made, history_of(study), study)


def _picture(material: Material, name: str, width: int) -> Figure:
    from cohort import figures
    from cohort.figures import ink
    from cohort.figures.labels import ENGLISH
    from cohort.figures.material import NotDrawn

    known = {picture.name: picture for picture in figures.PICTURES}
    if name not in known:
        near = did_you_mean(name, known) or f"There are {', '.join(known)}."
        raise StudyError(f"There is no picture '{name}'. {near}")
    if width not in ink.WIDTHS:
        widths = " or ".join(str(one) for one in ink.WIDTHS)
        raise StudyError(f"A picture is {widths} mm wide, not {width}.")
    picture = known[name]
    try:
        frame = picture.frame(material)
    except NotDrawn as missing:
        raise StudyError(f"The picture '{name}' cannot be drawn: {missing}") from None
    with ink.style():
        drawn: Figure = picture.draw(frame, width, ENGLISH)
    return drawn


def figure(made: Comparison | Results, name: str, *, width: int = 175) -> Figure:
    """One picture of a comparison, for a notebook.

    Parameters
    ----------
    made : Comparison or Results
    name : str
        Such as ``both_ways``, ``queen_survival``, ``season``; a wrong name lists all.
    width : int
        Millimetres: 85 or 175.

    Returns
    -------
    matplotlib Figure

    Raises
    ------
    StudyError
        Unknown name, or no data for this picture (the message says which).

    Examples
    --------
    >>> import cohort
    >>> drawn = cohort.figure(cohort.read_results("out"), "season", width=85)
    >>> round(drawn.get_size_inches()[0] * 25.4)
    85
    """
    return _picture(material_of(made), name, width)


def write_figures(
    made: Comparison | Results, folder: str | Path, *, only: Sequence[str]
) -> list[Path]:
    """Write pictures as SVG, PDF and PNG into ``folder/figures``, both widths.

    Parameters
    ----------
    made : Comparison or Results
    folder : path
    only : sequence of str
        Names of the pictures.

    Returns
    -------
    list of Path
        Files written.

    Raises
    ------
    StudyError
        See `figure`.

    Examples
    --------
    >>> import cohort
    >>> paths = cohort.write_figures(cohort.read_results("out"), "pictures", only=["season"])
    >>> [path.name for path in paths][:2]
    ['season-85.svg', 'season-85.pdf']
    """
    from cohort.base import making
    from cohort.figures import ink
    from cohort.results.files import ours

    material, paths = material_of(made), list[Path]()
    with making.added(folder_of(folder), ours) as new, ink.style():
        where = new.place / "figures"
        where.mkdir()
        for name in only:
            for width in ink.WIDTHS:
                stem = where / f"{name}-{width}"
                paths += ink.save(_picture(material, name, width), stem, name, "")
    return [new.later(path) for path in paths]


def write_newsletter(
    made: Comparison | Results,
    folder: str | Path,
    *,
    language: str = "en",
    paper: str = "a4",
    pages: int = 2,
) -> list[Path]:
    """Write the page with all numbers behind it; it is all that the folder then holds.

    Parameters
    ----------
    made : Comparison or Results
        Of results read from a folder nothing is fitted again. A photograph lies with the sheets and
        not with the results, so such a page has none.
    folder : path
    language : str
        ``en``, ``de`` or ``fr``.
    paper : str
        Of newsletter.pdf: ``a4`` or ``letter``.
    pages : int
        Of newsletter.pdf: 2, or up to 4.

    Returns
    -------
    list of Path
        Files written, the page first.

    Raises
    ------
    StudyError
        When the language or the paper is not known, or the folder cannot be used (see
        `cohort.results.made`).

    Examples
    --------
    Examples are run by the tests but for this one, as they set such a page elsewhere:

    >>> import cohort
    >>> cohort.write_newsletter(cohort.read_results("out"), "page", language="de")  # doctest: +SKIP
    """
    from cohort import results
    from cohort.comparison import Comparison
    from cohort.newsletter import write_newsletter as write
    from cohort.newsletter.catalogue import load
    from cohort.newsletter.print_pages import check

    load(language)
    check(paper, pages)
    material = material_of(made)
    tree = made.draws if isinstance(made, Comparison) else None
    draws = b"" if isinstance(made, Comparison) else results.draws_of(made)
    with results.made(folder_of(folder)) as new:
        results.fill(new.place, material.results, tree, study=material.study, draws=draws)
        results.carry_over(new.folder, new.place)
        paths = write(material, new.place, language, paper=paper, pages=pages)
    return [new.later(path) for path in paths]
