"""newsletter.pdf: two pages for print, set by typst.

In comes `Content` with drawn pictures; out comes a PDF of two pages. What keepers wrote reaches
the typesetter as data, never as markup. When everything does not fit, the longest lists are cut
first and the page says where the rest stands. Never shrinks text.
"""

from __future__ import annotations

import json
import re
from importlib import resources
from pathlib import Path
from typing import Any

import typst

from cohort.figures import ink
from cohort.newsletter.content import Content
from cohort.newsletter.speech import ITALIC, UPRIGHT

FONTS = (ink.FONT_FOLDER,)
PICTURES_IN_ORDER = ("queen_survival", "queens_left", "first_days", "catches")
COUNTED_PICTURES = ("hundred", "first_days", "catches")
TALL_SEASON = 205.0
"""Season charts higher than this (millimetres) stand on the web page only."""


def write(content: Content, out: Path, made: str) -> Path:
    """Write newsletter.pdf into a folder that already holds `figures/`.

    Parameters
    ----------
    content : Content
        What the page says, with drawn pictures.
    out : pathlib.Path
        Output folder.
    made : str
        Day it was made, as printed; may be blank.

    Returns
    -------
    pathlib.Path
        The file.
    """
    source = (resources.files("cohort.newsletter") / "templates" / "print.typ").read_bytes()
    head, front, back = _head(content, made), _front(content), _back(content)
    front = _fitting(source, out, head, front, "front")
    back = _fitting(source, out, head, back, "back")
    path = out / "newsletter.pdf"
    inputs = _inputs(head, front=front, back=back)
    typst.compile(  # type: ignore[misc]  # the stubs forget bytes
        source,
        output=str(path),
        root=str(out),
        font_paths=list(FONTS),
        ignore_system_fonts=True,
        sys_inputs=inputs,
    )
    return path


def _inputs(head: dict[str, Any], **parts: list[dict[str, Any]]) -> dict[str, str]:
    return {"data": json.dumps({**head, "front": [], "back": [], **parts}, ensure_ascii=False)}


def _fitting(
    source: bytes, out: Path, head: dict[str, Any], blocks: list[dict[str, Any]], side: str
) -> list[dict[str, Any]]:
    """Blocks that fit on one page: each in turn is kept if the page still holds it."""

    def fits(chosen: list[dict[str, Any]]) -> bool:
        inputs = _inputs({**head, "only": side}, **{side: chosen})
        found = typst.query(  # type: ignore[misc]  # the stubs forget bytes
            source, "<pages>", field="value", one=True, root=str(out),
            font_paths=list(FONTS), ignore_system_fonts=True, sys_inputs=inputs,
        )  # fmt: skip
        return int(json.loads(found)) <= 1

    if fits(blocks):
        return blocks
    kept: list[dict[str, Any]] = []
    for block in blocks:
        if fits([*kept, block]):
            kept.append(block)
    return kept


def _head(content: Content, made: str) -> dict[str, Any]:
    say = content.voice.say
    season = say("season", season=content.season) if content.season else ""
    place = ", ".join(part for part in (season, content.place) if part)
    return {
        "lang": content.voice.catalogue.language,
        "title": content.title,
        "sub": f"{place}. {content.study_line}" if place else content.study_line,
        "headline": _runs(content.headline),
        "foot": " ".join(part for part in (say("print_foot"), made) if part),
        "only": "",
    }


def _front(content: Content) -> list[dict[str, Any]]:
    """First page: the finding, then kind by kind, then pictures."""
    blocks = [{**block, "wide": True} for block in _figure(content, "both_ways", 175)]
    blocks += [_text("", text) for text in content.short]
    if not content.compared:
        blocks += [_text("", text) for text in content.counted]
    told = [part for part in content.kinds if part.genus not in ("average", "new")]
    if len(told) > 1:
        blocks += [_text("", part.short) for part in told]
    elif told:
        blocks += [_text(topic, text) for topic, text in told[0].said[1:]]
    for name in PICTURES_IN_ORDER if content.compared else COUNTED_PICTURES:
        blocks += _figure(content, name, 85)
    return blocks


def _back(content: Content) -> list[dict[str, Any]]:
    """Second page: the season over its whole width, then what a reader must know."""
    say = content.voice.say
    blocks: list[dict[str, Any]] = []
    season = content.pictures.get("season")
    if season and _height(season.drawing.svg(175)) <= TALL_SEASON:
        blocks += [{**block, "wide": True} for block in _figure(content, "season", 175)]
    elif season:
        blocks.append(_text(say("h_season"), say("print_season")))
    blocks.append(_text(say("h_cautions"), " ".join(content.cautions)))
    blocks.append(_text(say("h_unseen"), " ".join(content.not_seen)))
    blocks.append(_text(say("h_how"), " ".join((*content.how, content.level))))
    blocks.append(_text(say("h_left_out"), "; ".join(content.left_out)))
    blocks += _figure(content, "flow", 85)
    if content.compared:
        blocks += _figure(content, "hundred", 85)
    return blocks


def _height(path: Path) -> float:
    """Height of a picture, millimetres (matplotlib writes points of 1/72 inch)."""
    hit = re.search(r'height="([\d.]+)pt"', path.read_text(encoding="utf-8")[:2000])
    return float(hit.group(1)) / 72 * 25.4 if hit else float("inf")


def _figure(content: Content, name: str, width: int) -> list[dict[str, Any]]:
    shown = content.pictures.get(name)
    if shown is None:
        return []
    return [
        {
            "kind": "figure",
            "file": f"figures/{name}-{width}.pdf",
            "alt": shown.alt,
            "caption": _runs(shown.caption),
            "wide": False,
        }
    ]


def _text(title: str, text: str) -> dict[str, Any]:
    return {"kind": "text", "title": _runs(title), "text": _runs(text), "wide": False}


def _runs(text: str) -> list[dict[str, Any]]:
    """Text as runs of upright and italic."""
    runs = []
    for i, piece in enumerate(re.split(f"[{ITALIC}{UPRIGHT}]", text)):
        if piece:
            runs.append({"text": piece, "italic": i % 2 == 1})
    return runs
