"""The safety lines: law first, short where there is little room, whole in one place."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from cohort.sheets.cautions import CAUTIONS, LINES
from cohort.terms.genera import LAW_FIRST

README = Path(__file__).parents[2] / "README.md"


def test_the_whole_text_has_every_hazard_and_law_first() -> None:
    words = [word for word, _ in CAUTIONS]
    assert words[0] == "First"
    assert set(words) >= {
        "Stings", "Children", "Collecting", "Bought or given queens", "Release, mail",
        "Foreign or invasive kinds", "Killing", "Barriers and solvents", "Lamps", "Privacy",
    }  # fmt: skip
    text = dict(CAUTIONS)
    assert "permit" in text["Bought or given queens"]
    assert "flames" in text["Barriers and solvents"]
    assert "differs from country to country" in text["Foreign or invasive kinds"]


def test_killing_has_a_time_and_says_what_it_rests_on() -> None:
    # Bergh and others, Collection Forum: larvae below -17.6 C for about 50 hours all died; to cool
    # wool through took up to 36 hours. A week is a margin of ours: longer than both together.
    text = dict(CAUTIONS)["Killing"]
    hours = int(re.search(r"about (\d+) hours, Bergh", text).group(1))  # type: ignore[union-attr]  # asserted by the match
    assert hours == 50
    assert "a week" in text
    assert hours + 36 < 7 * 24
    degrees = float(re.search(r"-(\d+) °C", text).group(1))  # type: ignore[union-attr]  # asserted by the match
    assert degrees >= 17.6
    assert "for ants no tested guidance is known" in text


@pytest.mark.parametrize("place", ["begin", "bring", "due", "plan", "allot", "checks"])
def test_each_place_has_one_short_line_with_the_law_first(place: str) -> None:
    line = LINES[place]
    assert line.startswith(LAW_FIRST)
    assert "\n" not in line
    assert len(line) <= (300 if place == "checks" else 190)


def test_nobody_is_told_not_to_post() -> None:
    told = " ".join([*(text for _, text in CAUTIONS), *LINES.values(), README.read_text("utf-8")])
    assert not re.search(r"\bpost (it|them|foreign)|or post\b", told)
    assert "deep-freeze long" not in told
