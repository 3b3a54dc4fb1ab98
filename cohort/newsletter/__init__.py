"""The page for the club: newsletter.html, newsletter.pdf, details.html, story and captions.

In comes a `Material`; out come the files of an output folder, all made from one `Content`. Never
fits, never reads a sheet.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cohort import figures
from cohort.base import making
from cohort.base.errors import Finding, StudyError
from cohort.figures import ink
from cohort.figures.material import Material
from cohort.figures.plan_picture import save_plan
from cohort.newsletter import keeper as own_page
from cohort.newsletter import next_season, page, plain_text, print_pages, story, tables
from cohort.newsletter.ahead import ahead
from cohort.newsletter.catalogue import languages
from cohort.newsletter.content import Content, content, with_drawings, with_plans
from cohort.newsletter.photo import photo
from cohort.newsletter.speech import voice
from cohort.results.files import ours

if TYPE_CHECKING:
    from cohort.base.background import Later
    from cohort.outcomes.basis import Basis

__all__ = [
    "Content",
    "Material",
    "content",
    "languages",
    "voice",
    "write_keeper_page",
    "write_newsletter",
]
FORECAST_DRAWS = 300
"""Draws that what is due stands on, the same as for `cohort due`."""


def write_newsletter(
    material: Material,
    out: Path,
    language: str = "en",
    *,
    today: dt.date | None = None,
    folders: Sequence[Path] = (),
    paper: str = "a4",
    pages: int = 2,
    written: Later[object] | None = None,
) -> list[Path]:
    """Write the page and all that belongs to it.

    It writes as it goes: give it a place of `cohort.results.made`, so that a folder of results is
    always whole.

    Parameters
    ----------
    material : Material
        Results, history and study.
    out : pathlib.Path
        Output folder; made if missing. Pictures go to its folder `figures`. Where it holds the
        draws behind the results, the page also says what we would do next season.
    language : str
        One of `languages()`.
    today : datetime.date, optional
        Day printed as the day of making; left out when not given.
    folders : sequence of pathlib.Path
        Folders of the studies, where photographs named in the sheets are looked for.
    paper : str
        Of newsletter.pdf: `a4` or `letter`.
    pages : int
        Of newsletter.pdf: 2, or up to 4 with more pictures and each kind.
    written : Later, optional
        The writing of the results into `out`, where it still goes on: waited for before they are
        read.

    Returns
    -------
    list of pathlib.Path
        Files written, the page first.

    Raises
    ------
    StudyError
        When the language or the paper is not known, or so many pages are not set.
    """
    speaker = voice(language)
    print_pages.check(paper, pages)
    out.mkdir(parents=True, exist_ok=True)
    numbered = figures.numbers(material)
    taken, faults = photo(material, tuple(folders), speaker)
    ready = content(material, numbered, speaker, photo=taken, faults=faults)
    alts = {name: (shown.title, shown.alt) for name, shown in ready.pictures.items()}
    with figures.begin(
        material, out / "figures", labels=speaker.labels, alts=alts, numbered=numbered
    ) as begun:
        if written is not None:
            written.result()
        ready = with_plans(ready, material, next_season.basis_for(material, out))
        compared = tables.comparison_tables(material, speaker) if ready.compared else []
        drawn = begun.drawn()
    drawn |= _plan_drawn(ready, out / "figures")
    ready = with_drawings(ready, drawn)
    made = speaker.say("made", date=today) if today else ""
    texts = {
        "newsletter.html": page.render(ready, made, out),
        "details.html": page.render_details(ready, material, made, out, compared=compared),
        "story.txt": story.story(ready),
        "captions.txt": plain_text.captions(ready),
    }
    paths = []
    for name, text in texts.items():
        paths.append(out / name)
        making.write(paths[-1], text)
    paths.insert(1, print_pages.write(ready, out, made, paper=paper, pages=pages))
    return paths + [path for drawing in drawn.values() for path in drawing.paths]


def _plan_drawn(ready: Content, folder: Path) -> dict[str, figures.Drawing]:
    """Draw the first plan of next season; take away the picture of an earlier run."""
    for width in ink.WIDTHS:
        for ending in ("svg", "pdf", "png"):
            (folder / f"plan-{width}.{ending}").unlink(missing_ok=True)
    if "plan" not in ready.pictures:
        return {}
    first = ready.planned[0]
    shown, title = ready.pictures["plan"], next_season.title(first, ready.voice)
    paths = save_plan(first.plan.table, folder, title, labels=ready.voice.labels, alt=shown.alt)
    return {"plan": figures.Drawing("plan", shown.drawing.frame, paths)}


def write_keeper_page(
    material: Material,
    out: Path,
    keeper: str,
    findings: Sequence[Finding],
    *,
    on: dt.date,
    language: str = "en",
    today: dt.date | None = None,
    place: Path | None = None,
) -> Path:
    """Write one keeper's own page into a folder of results.

    Parameters
    ----------
    material : Material
        Results, history and study of the whole club.
    out : pathlib.Path
        Folder; where it holds the draws behind the results, the page also says which first workers
        are to be expected and which groups are at risk, else only when to look.
    keeper : str
        As the sheets write it, see `cohort.newsletter.keeper.find`.
    findings : sequence of Finding
        What the audit found, see `cohort.newsletter.keeper.findings_of`.
    on : datetime.date
        Day for which it is told what is due.
    language : str
        One of `languages()`.
    today : datetime.date, optional
        Day printed as the day of making; left out when not given.
    place : pathlib.Path, optional
        Where to write it, for who moves it into `out` (see `cohort.base.making`).

    Returns
    -------
    pathlib.Path
        The file, ``keeper-K2.html``.

    Raises
    ------
    StudyError
        When the language is not known.
    """
    speaker = voice(language)
    basis = _forecast_basis(material, out)
    try:
        told = ahead(material.study, keeper, on, basis, speaker)
    except StudyError:  # nothing had been started by that day
        told = None
    ready = own_page.keeper_content(material, keeper, speaker, ahead=told, findings=findings)
    name = own_page.file_name(keeper)
    text = page.render_keeper(
        ready,
        speaker.say("made", date=today) if today else "",
        rhythm=basis is None,
        club=(out / "newsletter.html").is_file(),
    )
    if place is not None:
        making.write(place / name, text)
        return place / name
    with making.added(out, ours) as new:
        making.write(new.place / name, text)
    return out / name


def _forecast_basis(material: Material, folder: Path) -> Basis | None:
    """Draws to forecast from: those of this comparison, if it settled and they lie there."""
    if not material.settled or not (folder / "draws.nc").is_file():
        return None
    from cohort.outcomes.basis import results_basis

    try:
        return results_basis(folder, draws=FORECAST_DRAWS)
    except StudyError:  # of another version: the rhythm is told, and the page says so
        return None
