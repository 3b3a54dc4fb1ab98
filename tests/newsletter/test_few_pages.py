"""A page on which nothing is compared yet: each founding, what comes next, what others found."""

from __future__ import annotations

import datetime as dt
import re

import early
import numpy as np
import pandas as pd
import pytest

from cohort.figures import numbers
from cohort.newsletter import content, voice, write_newsletter
from cohort.newsletter.captions import _day
from cohort.newsletter.catalogue import languages
from cohort.newsletter.few import _italic, until
from cohort.newsletter.speech import ITALIC, UPRIGHT, without_marks

SIX = [
    ("K1-01", "Lasius", early.day(0), 1, "K1"), ("K1-02", "Lasius", early.day(0), 3, "K1"),
    ("K1-03", "Lasius", early.day(0), 1, "K1"), ("K1-04", "Messor", early.day(0), 1, "K1"),
    ("K1-05", "Messor", early.day(0), 1, "K1"), ("K1-06", "Tetramorium", early.day(0), 2, "K1"),
]  # fmt: skip
SEEN = [
    ("K1-01", early.day(20), 1, 0), ("K1-01", early.day(40), 1, 2),
    ("K1-02", early.day(20), 3, 0), ("K1-02", early.day(40), 2, 0),
    ("K1-03", early.day(12), 1, 0), ("K1-03", early.day(20), 0, 0),
    ("K1-04", early.day(40), 1, 0), ("K1-05", early.day(40), 1, 0),
    ("K1-06", early.day(8), 2, 0),
]  # fmt: skip
SHEETS = {
    "foundings": SIX, "checks": SEEN, "events": [("K1-06", early.day(9), "end", "", "given")],
}  # fmt: skip


def made(material, language="en"):
    return content(material, numbers(material), voice(language))


def barren(sheets, folder):
    """The material of a study without a fit: only singles are compared."""
    return early.material_of(sheets, folder)


@pytest.fixture(scope="module")
def singles(tmp_path_factory):
    """The six without their groups: nothing is fitted, the rest of the page is the same."""
    alone = [row for row in SIX if row[3] == 1]
    own = {row[0] for row in alone}
    sheets = {"foundings": alone, "checks": [row for row in SEEN if row[0] in own]}
    return barren(sheets, tmp_path_factory.mktemp("few") / "study")


@pytest.fixture(scope="module")
def no_workers(tmp_path_factory):
    """The six, none of which had workers: nothing is fitted."""
    checks = [(*row[:3], 0) for row in SEEN]
    place = tmp_path_factory.mktemp("six") / "study"
    return barren({**SHEETS, "checks": checks}, place)


def test_each_founding_by_hand(no_workers):
    told = [without_marks(text) for text in made(no_workers).few.each]
    assert told == [
        "K1-01, one Lasius queen: alive on day 40, no workers seen.",
        "K1-02, three Lasius queens: 2 of 3 alive on day 40, no workers seen.",
        "K1-03, one Lasius queen: all lost by day 20, no workers seen.",
        "K1-04 and K1-05, one Messor queen each: alive on day 40, no workers seen.",
        "K1-06, two Tetramorium queens: followed to day 8 (given away), no workers seen.",
    ]


def test_a_first_worker_is_told_by_the_look_that_showed_it(singles):
    told = [without_marks(text) for text in made(singles).few.each]
    assert told[0] == "K1-01, one Lasius queen: alive on day 40, first worker by day 40."


def test_how_many_more_by_hand(no_workers, singles):
    first, second, third, _ = (without_marks(text) for text in made(no_workers).few.more)
    # eight of each way, less four singles and two groups
    assert first.endswith("are needed: four more with one queen and six more with several.")
    assert "Lasius has two apart and one together" in second
    assert "Tetramorium has none apart and one together" in second
    assert "takes four of each way" in second
    assert third.startswith("All foundings are of one keeper.")
    alone = without_marks(made(singles).few.more[0])
    assert alone.endswith("four more with one queen and eight more with several.")


def test_it_says_to_which_day_was_looked(no_workers):
    ready = made(no_workers)
    day = voice("en").write(early.FIRST + dt.timedelta(days=40))
    assert (
        f"Looked at until {day} (day 40 at most); 4 foundings are still open." in ready.study_line
    )


def test_a_study_that_is_over_says_no_such_thing(tmp_path):
    over = early.material_of(early.STUDIES["all ended on day 1"], tmp_path / "over")
    assert until(over, voice("en")) == ""
    assert made(over).few.ahead == ()


def test_what_comes_next_goes_by_general_assumptions(no_workers):
    told = [without_marks(text) for text in made(no_workers).few.ahead]
    assert "general assumptions, the same for every kind" in told[0]
    assert told[1].startswith("The next look is due on ")
    windows = told[3:]
    assert {text.split(":")[0] for text in windows} == {
        "K1-01, one Lasius queen",
        "K1-02, three Lasius queens",
        "K1-04 and K1-05, one Messor queen each",
    }
    assert not any("K1-03" in text or "K1-06" in text for text in windows)  # lost, given away
    for text in windows:
        assert re.search(r": \d+ \w+ to \d+ \w+ \(\d+ \w+ to \d+ \w+\)\.\Z", text), text
    assert not any("of 100" in text or "%" in text for text in told)  # no chance of a group


def test_what_others_found_has_its_papers(no_workers):
    told = [without_marks(text) for text in made(no_workers).few.published]
    assert told[0].startswith("What published work found on Lasius: L. niger: groups had")
    assert told[2] == "No published work on Tetramorium or its near kin is known here."
    assert "doi:10.1101/2024.07.16.603683" in told[-1]
    assert "doi:10.1007/s00040-017-0551-1" in told[-1]
    assert told[-1].count("Sommer & Hoelldobler 1995") == 1


def test_numbers_of_foundings_are_told_only_where_they_tell_nothing(tmp_path):
    two = [(f"K{1 + i % 2}-0{i}", "Lasius", early.day(0), 1, f"K{1 + i % 2}") for i in range(1, 5)]
    sheets = {"foundings": two, "checks": [(row[0], early.day(9), 1, 0) for row in two]}
    hidden = made(early.material_of(sheets, tmp_path / "hidden")).few
    assert [without_marks(text) for text in hidden.each] == [
        "One Lasius queen (four alike): alive on day 9, no workers seen."
    ]
    assert not re.search(r"K\d", " ".join((*hidden.each, *hidden.ahead, *hidden.more)))
    assert not any("one keeper" in text for text in hidden.more)


@pytest.mark.parametrize("language", languages())
def test_the_page_has_it_in_every_language(language, no_workers, tmp_path):
    write_newsletter(no_workers, tmp_path, language)
    page = (tmp_path / "newsletter.html").read_text("utf-8")
    own = voice(language)
    for key in ("few", "ahead", "published", "more"):
        assert f'<section id="{key}">' in page
        assert own.say(f"h_{key}") in page
    story = (tmp_path / "story.txt").read_text("utf-8")
    assert "K1-02" in story
    assert "{" not in story
    assert not re.search(r"\b(clearly|significant)", story, re.IGNORECASE)


def test_a_picture_without_a_day_has_a_caption():
    """The first day may be nan: a kind that had no workers. It stopped the whole page once."""
    frame = pd.DataFrame({"genus": ["a", "b"], "named": [True, True], "day": [np.nan, 42.0]})
    assert _day(frame) in (0, 42)
    assert _day(frame.assign(day=np.nan)) == 0


def test_names_are_marked_once():
    text = _italic("On Lasius: Lasius niger; L. niger and P. x", "Lasius", ("Lasius niger",))
    assert without_marks(text) == "On Lasius: Lasius niger; L. niger and P. x"
    assert text.count(ITALIC) == text.count(UPRIGHT) == 3
    assert f"{ITALIC}Lasius niger{UPRIGHT}" in text
