"""The page under axe-core, the accessibility checker of Deque (WCAG 2.2 rules), in Chromium.

axe-core comes from the npm registry through npm and is kept in pytest's cache folder; it is not
part of this project. Serious and critical faults are refused; a page made wrong on purpose shows
that the check can fail.
"""

from __future__ import annotations

import itertools
import os
import shutil
import subprocess
import tarfile

import pytest
from browsing import opened

AXE = "axe-core@>=4.10 <5"
PAGES = ("newsletter.html", "details.html")
GRAVE = ("serious", "critical")

pytestmark = pytest.mark.needs_program


def _missing(why: str) -> None:
    if os.environ.get("COHORT_ALL_PROGRAMS"):
        pytest.fail(f"{why}, and nothing may be missing here")
    pytest.skip(f"needs axe-core from the npm registry: {why}")


def _fetched(folder) -> None:
    npm = shutil.which("npm")
    if npm is None:
        _missing("the program npm is not on this machine")
    try:
        done = subprocess.run(
            [npm, "pack", AXE, "--pack-destination", str(folder), "--loglevel=error"],
            capture_output=True, text=True, timeout=120, check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        _missing("the registry gave no answer within two minutes")
    if done.returncode:
        _missing(f"npm says: {done.stderr.strip()[:300]}")


@pytest.fixture(scope="module")
def axe(request) -> str:
    """Source of axe-core."""
    folder = request.config.cache.mkdir("axe-core")
    if not list(folder.glob("axe-core-*.tgz")):
        _fetched(folder)
    with tarfile.open(max(folder.glob("axe-core-*.tgz"))) as packed:
        return packed.extractfile("package/axe.min.js").read().decode("utf-8")


def faults(page, axe: str) -> list[str]:
    """Serious and critical faults of an open page, each with its first place.

    Of each table the head and four rows are kept (the others are set alike, thousands of cells
    would take minutes), and of each picture its frame with the text that tells it: what is inside
    is one image to a reader, and its colours are held by the tests of the palette.
    """
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    page.evaluate(
        "document.querySelectorAll('tbody').forEach(b => "
        "[...b.rows].slice(4).forEach(r => r.remove()));"
        "document.querySelectorAll('figure svg').forEach(s => s.replaceChildren("
        "...[...s.children].filter(c => ['title', 'desc'].includes(c.tagName))))"
    )
    page.evaluate(axe)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    assert len(found["passes"]) > 10, "axe-core has looked at hardly anything"
    return [
        f"{fault['id']} ({fault['impact']}): {fault['nodes'][0]['html'][:120]}"
        for fault in found["violations"]
        if fault["impact"] in GRAVE
    ]


@pytest.mark.parametrize(("name", "scheme"), list(itertools.product(PAGES, ("light", "dark"))))
def test_axe_finds_no_serious_fault(browser, written, axe, name, scheme):
    page, seen, context = opened(browser, written, name, 360, scheme)
    for width in (360, 1280):
        page.set_viewport_size({"width": width, "height": 900})
        assert faults(page, axe) == [], width
    assert [url for url in seen["requests"] if url.startswith("http")] == []
    context.close()


def test_a_page_made_wrong_is_found_out(browser, written, axe, tmp_path):
    """A picture without a text and pale words on pale paper, on our own page."""
    text = (written / "newsletter.html").read_text(encoding="utf-8")
    wrong = (
        '<main><img src="data:image/gif;base64,R0lGODlhAQABAAAAACw=" width="9" height="9">'
        '<p><font color="#cccccc">Hardly to be read on white paper.</font></p></main>'
    )
    before, after = text.split("<main>")[0], text.split("</main>")[1]
    (tmp_path / "wrong.html").write_text(before + wrong + after, encoding="utf-8")
    page, _, context = opened(browser, tmp_path, "wrong.html", 1280)
    assert {fault.split(" ")[0] for fault in faults(page, axe)} == {"image-alt", "color-contrast"}
    context.close()
