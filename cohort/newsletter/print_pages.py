"""newsletter.pdf: two pages for print, set by typst.

In comes `Content` with drawn pictures; out comes a PDF of two pages. What keepers wrote reaches
the typesetter as data, never as markup. When everything does not fit, the answer and what we would
do are given room first, the table by kind is folded, and the page says where the rest stands.
Never shrinks text.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from importlib import resources
from pathlib import Path
from typing import Any

import typst

from cohort.base import making
from cohort.base.errors import StudyError
from cohort.figures import ink
from cohort.newsletter.content import Content
from cohort.newsletter.photo import PHOTO
from cohort.newsletter.speech import ITALIC, UPRIGHT

FONTS = (ink.FONT_FOLDER,)
PAPERS = ("a4", "letter")
PAGES = (2, 4)
BESIDE = ("hundred", "how_sure", "first_days", "catches")
"""Pictures that may stand beside the text of either page, the first ones first."""
MORE = ("queen_survival", "first_worker", "queens_left", "catches", "flow")
"""Pictures of the third and fourth page."""
FOLDS = (40, 20, 12, 8, 5, 3)
"""Rows of the table by kind that are tried, the most first; the rest is counted in its last row."""
TALL_SEASON = 205.0
"""Season charts higher than this (millimetres) stand on the web page only."""


def check(paper: str, pages: int) -> None:
    """Refuse paper and pages that are not set.

    Raises
    ------
    StudyError
        An unknown paper, or a number of pages that is not set.
    """
    if paper not in PAPERS:
        raise StudyError(f"No page on paper '{paper}'. Paper that can be had: {', '.join(PAPERS)}.")
    if pages not in PAGES:
        raise StudyError(f"{pages} pages are not set: 2 are, or up to 4 (--pages 4).")


def write(content: Content, out: Path, made: str, *, paper: str = "a4", pages: int = 2) -> Path:
    """Write newsletter.pdf into a folder that already holds `figures/`.

    Parameters
    ----------
    content : Content
        What the page says, with drawn pictures.
    out : pathlib.Path
        Output folder.
    made : str
        Day it was made, as printed; may be blank.
    paper : str
        `a4` or `letter`.
    pages : int
        2, or up to 4.

    Returns
    -------
    pathlib.Path
        The file.
    """
    source = (resources.files("cohort.newsletter") / "templates" / "print.typ").read_bytes()
    place = out / "figures" / PHOTO
    place.unlink(missing_ok=True)
    if content.photo is not None:
        making.write(place, content.photo.data)
    head = _head(content, made) | {"paper": f"us-{paper}" if paper == "letter" else paper}
    front = _fitting(source, out, head, _front(content), "front")
    shown = {Path(b["file"]).name.rsplit("-", 1)[0] for b in front if "file" in b}
    back = _fitting(source, out, head, _back(content, shown), "back")
    rest: list[dict[str, Any]] = []
    if pages > 2:
        there = {b["file"] for b in (*front, *back) if "file" in b}
        more = [b for b in _more(content) if b.get("file", "") not in there]
        rest = _fitting(source, out, head, more, "more", pages - 2)
    head["foot"] = _foot(content, made, _dropped(content, [*front, *back, *rest]))
    path = out / "newsletter.pdf"
    inputs = _inputs(head, front=front, back=back, more=rest)
    pdf: Any = typst.compile(  # type: ignore[misc]  # the stubs forget bytes
        source,
        root=str(out),
        font_paths=list(FONTS),
        ignore_system_fonts=True,
        sys_inputs=inputs,
    )
    making.write(path, bytes(pdf))
    return path


def _dropped(content: Content, kept: list[dict[str, Any]]) -> list[str]:
    """Headings of what a reader must be able to find, where no page had room for it."""
    there = {"".join(run["text"] for run in block.get("title", ())) for block in kept}
    say = content.voice.say
    wanted = ["h_sure"] if content.sure else []
    return [say(key) for key in (*wanted, "h_unseen") if say(key) not in there]


def _foot(content: Content, made: str, dropped: list[str]) -> str:
    """Credits and where the rest stands; with what found no room on these pages, by its heading."""
    say = content.voice.say
    rest = say("print_foot")
    if dropped:
        rest = say("print_foot_dropped", what=" · ".join(dropped))
    return " ".join(part for part in (content.credits, rest, made) if part)


def _inputs(head: dict[str, Any], **parts: list[dict[str, Any]]) -> dict[str, str]:
    empty: dict[str, Any] = {"front": [], "back": [], "more": []}
    return {"data": json.dumps({**head, **empty, **parts}, ensure_ascii=False)}


def _fitting(
    source: bytes,
    out: Path,
    head: dict[str, Any],
    blocks: list[dict[str, Any]],
    side: str,
    room: int = 1,
) -> list[dict[str, Any]]:
    """Blocks that fit on so many pages, in the order in which they are read.

    What a reader must not miss (the lower `rank`) is given room first; a block that no longer fits
    is folded or set on the other side where it can be, else left out.
    """

    def fits(chosen: list[dict[str, Any]]) -> bool:
        inputs = _inputs({**head, "only": side}, **{side: chosen})
        found = typst.query(  # type: ignore[misc]  # the stubs forget bytes
            source, "<pages>", field="value", one=True, root=str(out),
            font_paths=list(FONTS), ignore_system_fonts=True, sys_inputs=inputs,
        )  # fmt: skip
        return int(json.loads(found)) <= room

    if fits(blocks):
        return blocks
    kept: dict[int, dict[str, Any]] = {}
    for at in sorted(range(len(blocks)), key=lambda i: blocks[i]["rank"]):
        for shape in (blocks[at], *blocks[at].get("folded", ())):
            wanted = kept | {at: shape}
            if fits([wanted[i] for i in sorted(wanted)]):
                kept = wanted
                break
    return [kept[i] for i in sorted(kept)]


def _head(content: Content, made: str) -> dict[str, Any]:
    say = content.voice.say
    season = say("season", season=content.season) if content.season else ""
    place = ", ".join(part for part in (season, content.place) if part)
    return {
        "lang": content.voice.catalogue.language,
        "title": content.title,
        "sub": f"{place}. {content.study_line}" if place else content.study_line,
        "headline": _runs(content.headline),
        "lead": [_runs(text) for text in (*content.lead, content.level) if text],
        # the longest footer, so that what fits with it fits with any
        "foot": _foot(content, made, [say("h_sure"), say("h_unseen")]),
        "only": "",
    }


def _front(content: Content) -> list[dict[str, Any]]:
    """First page: the answer and what we would do, before anything else; then pictures."""
    say = content.voice.say
    blocks = [_text("", text, rank=(4 if i < 2 else 16) + i)
              for i, text in enumerate(content.kind_leads)]  # fmt: skip
    if not content.compared:
        blocks += [_text("", text, rank=1) for text in content.counted]
        beside = "right" if content.few.each else "left"  # where nothing else fills the left
        parts = (("few", content.few.each), ("more", content.few.more),
                 ("ahead", content.few.ahead), ("published", content.few.published))  # fmt: skip
        blocks += [_text("" if j else say(f"h_{key}"), text, side, rank=2 + i)
                   for i, (key, said) in enumerate(parts) for j, text in enumerate(said)
                   for side in [beside if key in ("published", "more") else "left"]]  # fmt: skip
    for i, text in enumerate(content.next_season):
        blocks.append(_text("" if i else say("h_next"), text, rank=2))
    blocks += _figure(content, "both_ways", 175, "wide", rank=12)
    if content.by_kind is not None:
        blocks.append(_table(content, rank=3))
    if content.by_kind_says:
        blocks.append(_either(say("h_kinds"), " ".join(content.by_kind_says), rank=15))
    if content.sure:
        blocks.append(_either(say("h_sure"), " ".join(content.sure), rank=13))
    if content.photo is not None:
        photo = _block(f"figures/{PHOTO}", content.photo.alt, content.photo.caption, "right", 22)
        blocks.append(photo | {"high": 70})
    if len(content.kinds) == 1:
        blocks += [_text(topic, text, rank=30) for topic, text in content.kinds[0].said]
    for i, name in enumerate(BESIDE):
        blocks += _figure(content, name, 85, "right", rank=24 if i else 14)
    return blocks


def _back(content: Content, shown: set[str]) -> list[dict[str, Any]]:
    """Second page: the season over its whole width, then what a reader must know.

    Pictures that found no room on the first page (those not in `shown`) fill it.
    """
    say = content.voice.say
    blocks: list[dict[str, Any]] = []
    season = content.pictures.get("season")
    if season and _height(season.drawing.svg(175)) <= TALL_SEASON:
        (drawn,) = _figure(content, "season", 175, "wide", rank=5)
        blocks.append(drawn | {"title": _runs(say("h_season"))})
    blocks.append(_text(say("h_cautions"), " ".join(content.cautions), rank=0))
    how = " ".join((*content.how, content.left_some)).strip()
    blocks.append(_text(say("h_how"), how, "right", rank=1))
    blocks.append(_text(say("h_unseen"), " ".join(content.not_seen), rank=2))
    blocks += _figure(content, "flow", 85, "left", rank=6)
    for name in BESIDE:
        if name not in shown:
            blocks += _figure(content, name, 85, "right", rank=7)
    return blocks


def _more(content: Content) -> list[dict[str, Any]]:
    """Third and fourth page: the other questions kind by kind, and more pictures."""
    blocks = [
        _text(part.title, " ".join(text for _, text in part.said), rank=i)
        for i, part in enumerate(content.kinds)
    ]
    for name in MORE:
        blocks += _figure(content, name, 85, "left", rank=99)
    return blocks


def _height(path: Path) -> float:
    """Height of a picture, millimetres (matplotlib writes points of 1/72 inch)."""
    hit = re.search(r'height="([\d.]+)pt"', path.read_text(encoding="utf-8")[:2000])
    return float(hit.group(1)) / 72 * 25.4 if hit else float("inf")


def _figure(content: Content, name: str, width: int, side: str, rank: int) -> list[dict[str, Any]]:
    shown = content.pictures.get(name)
    if shown is None:
        return []
    return [_block(f"figures/{name}-{width}.pdf", shown.alt, shown.caption, side, rank)]


def _block(file: str, alt: str, caption: str, side: str, rank: int) -> dict[str, Any]:
    return {"kind": "figure", "file": file, "alt": alt, "caption": _runs(caption), "side": side,
            "rank": rank}  # fmt: skip


def _text(title: str, text: str, side: str = "left", *, rank: int) -> dict[str, Any]:
    return {"kind": "text", "title": _runs(title), "text": _runs(text), "side": side, "rank": rank}


def _either(title: str, text: str, *, rank: int) -> dict[str, Any]:
    """Text at the left, or at the right where the left is full."""
    sides = (_text(title, text, side, rank=rank) for side in ("left", "right"))
    return next(sides) | {"folded": list(sides)}


def _table(content: Content, rank: int) -> dict[str, Any]:
    """The table by kind, and the same with fewer rows for pages that are full."""
    table, say = content.by_kind, content.voice.say
    assert table is not None

    def of(rows: Sequence[tuple[str, ...]]) -> dict[str, Any]:
        cut = len(table.rows) - len(rows)
        more = say("more_kinds", n=cut) + ": newsletter.html" if cut else ""
        return {
            "kind": "table", "side": "wide", "rank": rank, "title": _runs(table.title),
            "text": _runs(""), "head": list(table.head), "more": more,
            "rows": [[_runs(cell) for cell in row] for row in rows],
        }  # fmt: skip

    shorter = [of(table.rows[:n]) for n in FOLDS if n < len(table.rows)]
    return of(table.rows) | {"folded": shorter}


def _runs(text: str) -> list[dict[str, Any]]:
    """Text as runs of upright and italic."""
    runs = []
    for i, piece in enumerate(re.split(f"[{ITALIC}{UPRIGHT}]", text)):
        if piece:
            runs.append({"text": piece, "italic": i % 2 == 1})
    return runs
