"""The page in a browser: no error, no request, no sideways scroll, toggles by keyboard."""

from __future__ import annotations

import pytest
from browsing import opened

pytestmark = pytest.mark.needs_program


@pytest.fixture(scope="module")
def folder(written):
    return written


@pytest.mark.parametrize("width", [360, 768, 1280])
@pytest.mark.parametrize("name", ["newsletter.html", "details.html"])
def test_no_error_no_request_no_sideways_scroll(browser, folder, name, width):
    page, seen, context = opened(browser, folder, name, width)
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= width
    assert seen["console"] == []
    assert [u for u in seen["requests"] if not u.startswith((folder.as_uri(), "data:"))] == []
    assert len([u for u in seen["requests"] if u.startswith("file:")]) == 1
    context.close()


def test_numbers_open_and_close_by_keyboard(browser, folder):
    page, _, context = opened(browser, folder, "newsletter.html", 768)
    first = page.locator("details").first
    assert first.get_attribute("open") is None
    page.locator("summary").first.focus()
    page.keyboard.press("Enter")
    assert first.get_attribute("open") is not None
    page.keyboard.press("Space")
    assert first.get_attribute("open") is None
    context.close()


def test_each_width_shows_one_drawing_of_a_picture(browser, folder):
    for width, shown, hidden in ((360, "narrow", "wide"), (1280, "wide", "narrow")):
        page, _, context = opened(browser, folder, "newsletter.html", width)
        assert page.locator(f"#picture-both_ways .{shown}").is_visible()
        assert not page.locator(f"#picture-both_ways .{hidden}").is_visible()
        context.close()


def test_dark_paper_recolours_text_and_pictures(browser, folder):
    page, seen, context = opened(browser, folder, "newsletter.html", 1280, "dark")
    paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert paper == "rgb(22, 25, 29)"
    fills = page.evaluate(
        "[...new Set([...document.querySelectorAll('#picture-both_ways .wide text')]"
        ".map(t => getComputedStyle(t).fill))]"
    )
    assert "rgb(32, 36, 42)" not in fills
    assert "rgb(232, 234, 237)" in fills
    assert seen["console"] == []
    context.close()


def test_print_hides_what_paper_cannot_do(browser, folder):
    page, _, context = opened(browser, folder, "newsletter.html", 1280)
    page.emulate_media(media="print", color_scheme="dark")
    assert not page.locator("nav").is_visible()
    assert not page.locator("summary").first.is_visible()
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(32, 36, 42)"
    context.close()


def test_inside_the_pictures_no_words_leave_their_drawing(browser, folder):
    page, _, context = opened(browser, folder, "newsletter.html", 360)
    out = page.evaluate(
        """[...document.querySelectorAll('figure .narrow svg')].flatMap(s => {
        const box = s.getBoundingClientRect();
        return [...s.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()])
          .filter(([w, b]) => b.width && (b.left < box.left - 2 || b.right > box.right + 2))
          .map(([w]) => w)})"""
    )
    assert out == []
    context.close()
