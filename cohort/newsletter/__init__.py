"""The page for the club: newsletter.html, newsletter.pdf, details.html, story and captions.

In comes a `Material`; out come the files of an output folder, all made from one `Content`. Never
fits, never reads a sheet.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from cohort import figures
from cohort.figures.material import Material
from cohort.newsletter import next_season, page, plain_text, print_pages
from cohort.newsletter.catalogue import languages
from cohort.newsletter.content import Content, content, with_drawings
from cohort.newsletter.photo import photo
from cohort.newsletter.speech import voice

__all__ = ["Content", "Material", "content", "languages", "voice", "write_newsletter"]


def write_newsletter(
    material: Material,
    out: Path,
    language: str = "en",
    *,
    today: dt.date | None = None,
    folders: Sequence[Path] = (),
    paper: str = "a4",
    pages: int = 2,
) -> list[Path]:
    """Write the page and all that belongs to it.

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
    basis = next_season.basis_for(material, out)
    ready = content(material, numbered, speaker, basis=basis, photo=taken, faults=faults)
    alts = {name: shown.alt for name, shown in ready.pictures.items()}
    drawn = figures.write_all(
        material, out / "figures", labels=speaker.labels, alts=alts, numbered=numbered
    )
    ready = with_drawings(ready, drawn)
    made = speaker.say("made", date=today) if today else ""
    texts = {
        "newsletter.html": page.render(ready, material, made),
        "details.html": page.render_details(ready, material, made),
        "story.txt": plain_text.story(ready),
        "captions.txt": plain_text.captions(ready),
    }
    paths = []
    for name, text in texts.items():
        paths.append(out / name)
        paths[-1].write_text(text, encoding="utf-8")
    paths.insert(1, print_pages.write(ready, out, made, paper=paper, pages=pages))
    return paths + [path for drawing in drawn.values() for path in drawing.paths]
