"""The first days of a study, and studies in which something never happened: the page is made."""

from __future__ import annotations

import re

import early
import pandas as pd
import pytest

from cohort import figures
from cohort.figures import ink
from cohort.figures.labels import ENGLISH
from cohort.newsletter import write_keeper_page, write_newsletter
from cohort.sheets import written


@pytest.fixture(scope="module", params=early.STUDIES)
def first_days(request, tmp_path_factory):
    """Material of one such study, and the folder of its page."""
    place = tmp_path_factory.mktemp("early")
    material = early.material_of(early.STUDIES[request.param], place / "study")
    write_newsletter(material, place / "page", today=early.TODAY)
    write_keeper_page(material, place / "page", "K1", (), on=early.TODAY)
    return material, place / "page"


def test_the_page_is_made_from_counts(first_days):
    _, page = first_days
    for name in (
        "newsletter.html",
        "details.html",
        "newsletter.pdf",
        "story.txt",
        "keeper-K1.html",
    ):
        assert (page / name).stat().st_size > 200, name
    for name in ("newsletter.html", "details.html", "keeper-K1.html", "story.txt", "captions.txt"):
        text = re.sub(r"<style>.*?</style>", "", (page / name).read_text("utf-8"), flags=re.DOTALL)
        assert not re.search(r"\bnan\b|\binf\b|NaT|None|<NA>", text), name


def test_every_picture_has_its_numbers_or_says_why_not(first_days):
    material, page = first_days
    for name, drawing in figures.numbers(material).items():
        assert bool(drawing.reason) == drawing.frame.empty, name
        files = {p.name for p in (page / "figures").glob(f"{name}-*")}
        whole = {f"{name}-{w}.{e}" for w in figures.picture(name).widths
                 for e in ("svg", "pdf", "png")}  # fmt: skip
        assert files == (set() if drawing.reason else whole), name


def test_every_founding_has_its_bar_once_one_was_looked_at(first_days):
    material, _ = first_days
    drawing = figures.numbers(material)["season"]
    if drawing.reason:
        assert drawing.reason == "no founding has been looked at yet"
        return
    bars = drawing.frame[drawing.frame["what"] == "bar"]
    assert set(bars["founding"]) == set(material.history.foundings["founding"])
    assert (bars["stop"] >= bars["start"]).all()


def test_tables_of_the_first_days_keep_to_their_columns(first_days, tmp_path):
    material, _ = first_days
    for name in ("comparisons", "curves", "foundings"):
        frame = getattr(material.results, name)
        assert written.blanks(frame, name) == []
        back = written.read(written.write(frame, name, tmp_path / f"{name}.csv"), name)
        pd.testing.assert_frame_equal(back, written.typed(frame, name).reset_index(drop=True))


def test_a_bar_without_length_is_seen():
    material = early.STUDIES["one row"]
    assert len(material["checks"]) == 1
    frame = pd.DataFrame(
        {"founding": ["a"], "genus": ["Lasius"], "named": [True], "way": ["single"], "rank": [0],
         "what": ["bar"], "start": [pd.Timestamp("2025-06-01")],
         "stop": [pd.Timestamp("2025-06-01")], "queens": [1], "workers": [False],
         "compared": [True]}
    )  # fmt: skip
    with ink.style():
        figure = figures.season.draw_season(frame, 85, ENGLISH)
    wide = [
        path.get_extents().width
        for axes in figure.axes[:1]
        for collection in axes.collections
        for path in collection.get_paths()
    ]
    assert min(wide) >= figures.season.LEAST_BAR - 1e-9
