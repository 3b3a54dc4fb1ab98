"""The web pages on paper, printed by Chromium: no picture is cut by a page break or an edge.

Each picture gets a tiny word at its upper left and one at its lower right, under the caption;
poppler's ``pdftotext -bbox`` tells on which page of the PDF they and all words of the drawing
lie, and where. What is clipped is not in the PDF, so a missing word is a cut picture too.
Whether this finds cut pictures is shown on pages made wrong on purpose.
"""

from __future__ import annotations

import re
import subprocess
import xml.etree.ElementTree as ET
from collections import Counter
from dataclasses import dataclass

import pytest
from browsing import opened

pytestmark = pytest.mark.needs_program("pdftotext")

MARK = """() => [...document.querySelectorAll('figure')].map((figure, i) => {
    const word = (text, side) => {
        const mark = document.createElement('div');
        mark.textContent = text;
        for (const [k, v] of Object.entries({'font': '2px/2px sans-serif', 'text-align': side}))
            mark.style.setProperty(k, v);
        return mark;
    };
    figure.prepend(word(`ZQTOP${i}`, 'left'));
    figure.append(word(`ZQEND${i}`, 'right'));
    return {name: figure.id, words: [...figure.querySelectorAll('.wide svg text')]
        .map(t => t.textContent).join(' ').split(/\\s+/).filter(w => w)};
})"""
SIZES = {"A4": (595.0, 842.0), "Letter": (612.0, 792.0)}
EDGE = 20.0
"""Points (7 mm) that must stay free at every side: printers reach no further."""


@dataclass
class Word:
    """One word of the PDF, points from the upper left."""

    text: str
    page: int
    box: tuple[float, float, float, float]


def words_of(path) -> tuple[list[Word], list[tuple[float, float]]]:
    """Words and page sizes of a PDF."""
    done = subprocess.run(
        ["pdftotext", "-bbox", str(path), "-"], capture_output=True, text=True, check=True
    )
    text = re.sub(r"<!DOCTYPE[^>]*>", "", done.stdout).replace(' xmlns="', ' was="')
    text = re.sub(r"[\x00-\x08\x0b\x0c\x0e-\x1f]", "", text)
    words, sizes = [], []
    for i, page in enumerate(ET.fromstring(text).iter("page")):
        sizes.append((float(page.get("width")), float(page.get("height"))))
        for word in page.iter("word"):
            box = tuple(float(word.get(k)) for k in ("xMin", "yMin", "xMax", "yMax"))
            words.append(Word(word.text or "", i, box))
    return words, sizes


def cut(browser, folder, name, paper, tmp_path, style="") -> list[str]:
    """Pictures that do not stand whole on one page, each with what is wrong."""
    page, _, context = opened(browser, folder, name, 1280)
    pictures = page.evaluate(MARK)
    if style:
        page.evaluate(
            "css => { const s = new CSSStyleSheet(); s.replaceSync(css);"
            "document.adoptedStyleSheets = [s]; }", style
        )  # fmt: skip
    path = tmp_path / f"{paper}.pdf"
    page.pdf(path=path, format=paper)
    context.close()
    words, sizes = words_of(path)
    assert all(size == pytest.approx(SIZES[paper], abs=1.5) for size in sizes)
    assert pictures
    out = [f"{w.text} runs off page {w.page + 1}" for w in words if _outside(w, sizes[w.page])]
    for i, picture in enumerate(pictures):
        ends = [[w.page for w in words if w.text == f"ZQ{end}{i}"] for end in ("TOP", "END")]
        if [len(pages) for pages in ends] != [1, 1] or ends[0] != ends[1]:
            out.append(f"{picture['name']} stands on pages {ends}")
            continue
        here = Counter(w.text for w in words if w.page == ends[0][0])
        lost = Counter(picture["words"]) - here
        if lost.total() > 0:
            out.append(f"{picture['name']} lacks {list(lost)[:5]}")
    return out


def _outside(word: Word, size: tuple[float, float]) -> bool:
    left, top, right, bottom = word.box
    return left < EDGE or top < EDGE or right > size[0] - EDGE or bottom > size[1] - EDGE


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", ["newsletter.html", "details.html"])
def test_no_picture_is_cut_on_paper(browser, written, tmp_path, name, paper):
    assert cut(browser, written, name, paper, tmp_path) == []


@pytest.mark.parametrize(
    ("style", "found"),
    [("figure{break-inside:auto!important} figure svg{max-height:none!important;height:400mm}",
      r"stands on pages \[\[(\d+)\], \[(?!\1)\d+\]\]"),
     ("figure{width:400mm!important;max-width:none!important}",
      r"stands on pages \[\[\d+\], \[\]\]"),
     (".wide{overflow:hidden;height:30mm}", "both_ways lacks"),
     ("@page{margin:2mm}", "runs off page")],
)  # fmt: skip
def test_a_cut_picture_is_found_out(browser, written, tmp_path, style, found):
    wrong = cut(browser, written, "newsletter.html", "A4", tmp_path, style)
    assert re.search(found, " ".join(wrong)), wrong


def test_tables_keep_all_their_columns_on_paper(browser, written, tmp_path):
    """Every heading of the raw table is inside the page, not only those that fit a screen."""
    page, _, context = opened(browser, written, "details.html", 1280)
    heads = page.evaluate(
        "[...document.querySelector('#raw table').querySelectorAll('th[scope=col]')]"
        ".map(h => h.innerText)"
    )
    page.pdf(path=tmp_path / "raw.pdf", format="A4")
    context.close()
    words, sizes = words_of(tmp_path / "raw.pdf")
    first = {w.text for w in words if w.page == 0 and not _outside(w, sizes[0])}
    assert len(heads) == 10
    assert set(" ".join(heads).split()) <= first
