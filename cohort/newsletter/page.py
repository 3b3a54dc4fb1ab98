"""The web pages: newsletter.html, details.html and a keeper's own.

In comes `Content` (or `KeeperContent`); out comes one self-contained file each: no script, no
request to anywhere, a content policy that forbids both, every keeper's word escaped. Never holds a
sentence of its own.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable, Sequence
from importlib import resources
from pathlib import Path

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup, escape

from cohort.base.errors import printable
from cohort.figures import PICTURES, ink, svg
from cohort.figures.material import Material
from cohort.figures.palette import DARK
from cohort.figures.season import draw_season
from cohort.newsletter import checklist, counts, flagged, second_opinion, sensitivity, tables
from cohort.newsletter.checklists import load as load_checklists
from cohort.newsletter.content import Content
from cohort.newsletter.csv_link import csv_link
from cohort.newsletter.keeper import KeeperContent
from cohort.newsletter.speech import ITALIC, UPRIGHT, without_marks

BESIDE = ("comparisons.csv", "curves.csv", "foundings.csv", "second_opinion.csv")
"""Files of unrounded numbers that a page may link to, where they lie beside it."""


def render(content: Content, made: str, folder: Path | None = None) -> str:
    """Text of newsletter.html.

    Parameters
    ----------
    content : Content
        What the page says.
    made : str
        Day it was made, as printed; blank leaves the line out.
    folder : pathlib.Path, optional
        Folder of results, where files beside the page are looked for.
    """
    source = ""
    if content.photo is not None:
        source = f"data:image/jpeg;base64,{base64.b64encode(content.photo.data).decode()}"
    return _fill("newsletter.html.j2", content, _from_files(content), folder, made=made,
                 photo=source)  # fmt: skip


def render_details(
    content: Content,
    material: Material,
    made: str,
    folder: Path | None = None,
    *,
    compared: Sequence[tables.Table] | None = None,
) -> str:
    """Text of details.html: the raw table first, then the model's numbers and the lists.

    Parameters
    ----------
    content : Content
        What the page says.
    material : Material
        Where sources and diagnosis are looked up.
    made : str
        Day it was made, as printed; blank leaves the line out.
    folder : pathlib.Path, optional
        Folder of results, where files beside the page are looked for.
    compared : sequence of Table, optional
        What `tables.comparison_tables` gave, when it was asked before.
    """
    voice = content.voice
    if compared is None:
        compared = tables.comparison_tables(material, voice) if content.compared else []
    said, variants = sensitivity.further_fits(folder, voice)
    return _fill(
        "details.html.j2",
        content,
        _from_files(content),
        folder,
        made=made,
        raw=tables.raw_table(material, voice),
        permutation=counts.permutation(material, voice),
        verdicts=sensitivity.verdict_tables(material, voice) if content.compared else [],
        assumed=sensitivity.sensitivity_tables(material, voice) if content.compared else [],
        further=said,
        variants=variants,
        second=second_opinion.section(material, voice),
        comparisons=compared,
        flagged=flagged.sentences(material, voice),
        checked=len(material.results.diagnosis.get("checks", ())),
        checklists=checklist.checklists(content, material, folder),
        fill=load_checklists(voice.catalogue.language)["fill"],
        random=checklist.design(material) == "arrive",
        priors=checklist.priors(material, voice) if content.compared else None,
        sources=[(str(s.name), str(s.sha256)) for s in material.study.sources],
    )


def render_keeper(content: KeeperContent, made: str, *, rhythm: bool, club: bool) -> str:
    """Text of a keeper's own page.

    Parameters
    ----------
    content : KeeperContent
        What the page says.
    made : str
        Day it was made, as printed; blank leaves the line out.
    rhythm : bool
        True when what is due stands on the rhythm of the looks alone.
    club : bool
        True when the club's page lies beside it.
    """
    voice, ahead = content.voice, content.ahead
    line = voice.say("k_due_unknown")
    if ahead is not None:
        line = voice.say("k_due", n=ahead.open, date=ahead.on)
    drawn: dict[int, str] = {}
    with ink.style():
        for width in ink.WIDTHS if content.pictures else ():
            shown = content.pictures["season"]
            figure = draw_season(shown.drawing.frame, width, voice.labels)
            drawn[width] = ink.as_svg(figure, f"season-{width}", shown.title, shown.alt)

    def pictured(_: str, width: int) -> Markup:
        return Markup(svg.inline(drawn[width]))

    return _fill("keeper.html.j2", content, pictured, None, made=made, rhythm=rhythm, club=club,
                 due_line=line)  # fmt: skip


def rich(text: str) -> Markup:
    """Escaped text with scientific names in italics."""
    safe = str(escape(text))
    return Markup(safe.replace(ITALIC, '<i class="name">').replace(UPRIGHT, "</i>"))


def picture(content: Content, name: str, width: int) -> Markup:
    """A picture for the body of a page."""
    text = content.pictures[name].drawing.svg(width).read_text(encoding="utf-8")
    return Markup(svg.inline(text))


def _from_files(content: Content) -> Callable[[str, int], Markup]:
    """What puts the drawn pictures of a folder into a page."""
    return lambda name, width: picture(content, name, width)


def _fill(
    template: str,
    content: Content | KeeperContent,
    pictured: Callable[[str, int], Markup],
    beside: Path | None,
    **more: object,
) -> str:
    folder = resources.files("cohort.newsletter") / "templates"
    style = (folder / "page.css").read_text(encoding="utf-8") + _dark()
    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_shown,
    )
    environment.filters["rich"] = rich
    environment.filters["plain"] = without_marks
    environment.filters["csv"] = csv_link
    page = environment.from_string(
        (folder / "macros.html.j2").read_text(encoding="utf-8")
        + (folder / template).read_text(encoding="utf-8")
    )
    return page.render(
        c=content,
        say=content.voice.say,
        lang=content.voice.catalogue.language,
        style=Markup(style),
        digest=_digest(style),
        picture=pictured,
        beside=[n for n in BESIDE if beside is not None and (beside / n).is_file()],
        whole=dict.fromkeys(content.pictures, "") | {one.name: one.file for one in PICTURES},
        widths=lambda name: content.pictures[name].drawing.widths or ink.WIDTHS,
        placed=lambda section: [one.name for one in PICTURES if one.section == section],
        **more,
    )


def _shown(value: object) -> object:
    """What is filled in, without signs that steer a terminal or the direction of reading."""
    if isinstance(value, str):
        return type(value)(printable(value))
    return value


def _digest(style: str) -> str:
    """Hash by which the content policy knows our own style sheet."""
    return base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()


def _dark() -> str:
    """Rules that recolour the pictures on dark paper."""
    rules = []
    for light, dark in DARK.items():
        for part in ("fill", "stroke"):
            # marks are copies of a path: inside a copy no rule that names an ancestor applies
            named = f'[{part}="{light}"]'
            rules.append(f"figure svg {named},path{named}{{{part}:{dark}}}")
    return "@media screen and (prefers-color-scheme:dark){" + "".join(rules) + "}\n"
