"""How often was looked and how long was followed stands on the page as the sheets have it."""

from __future__ import annotations

import early
import numpy as np
import pytest

from cohort.newsletter import how_done, voice


def said(sheets, tmp_path, language="en") -> str:
    material = early.material_of(sheets, tmp_path / "study")
    return how_done.how(material, voice(language))[1]


FOUND = early.found(1, 1, 3)
SHEETS = {
    "foundings": FOUND,
    # gaps: 4 4 8 (K1-01), 5 5 (K1-02), 10 (K1-03): sorted 4 4 5 5 8 10, half of them at most 5
    "checks": [
        ("K1-01", early.day(4), 1, 0), ("K1-01", early.day(8), 1, 0),
        ("K1-01", early.day(16), 1, 3),
        ("K1-02", early.day(5), 1, 0), ("K1-02", early.day(10), 0, 0),
        ("K1-03", early.day(10), 3, 0), ("K1-03", early.day(0), 3, 0),
    ],
}  # fmt: skip


def test_gaps_and_follow_up_by_hand(tmp_path):
    """The settings say every 4 days to day 160; nothing of that is printed."""
    text = said(SHEETS, tmp_path)
    assert text == (
        "6 looks are used; half came within 5 days of the one before. Of the foundings that "
        "did not lose every queen, half were followed to day 16 or longer, the longest to day 16. "
        "No founding was followed beyond its first day of winter rest."
    )
    assert "160" not in text


def test_the_same_in_german(tmp_path):
    text = said(SHEETS, tmp_path, "de")
    assert "6 Kontrollen zählen, die Hälfte davon im Abstand von höchstens 5 Tagen" in text
    assert "bis Tag 16 oder länger" in text


@pytest.mark.parametrize(
    ("name", "text"),
    [("checks absent", "No look can be used yet."),
     ("looked at on day 0 only", "No look can be used yet."),
     ("one row", "1 look is used, 4 days after the start. Of the")],
)  # fmt: skip
def test_the_first_days(name, text, tmp_path):
    assert said(early.STUDIES[name], tmp_path).startswith(text)


def test_all_lost_were_followed_to_no_day(tmp_path):
    text = said(early.STUDIES["all dead at the first look"], tmp_path)
    assert text == "4 looks are used; half came within 5 days of the one before."


@pytest.mark.slow  # two whole pages
def test_another_setting_changes_nothing(tmp_path, monkeypatch):
    told = said(SHEETS, tmp_path)
    monkeypatch.setattr(early, "SETTINGS", early.SETTINGS + "look_every = 19\n")
    assert said(SHEETS, tmp_path / "again") == told


@pytest.mark.slow  # twenty seconds each: a whole page
@pytest.mark.parametrize("again", [True, False])
def test_a_second_winter_is_where_it_ends(tmp_path, monkeypatch, again):
    """Rest from day 60 to 120, and for one founding a second one from day 200."""
    settings = early.SETTINGS.replace("160", "240").replace("ends = 2025-12-31\n", "")
    monkeypatch.setattr(early, "SETTINGS", settings + "through_winter = true\n")
    rests = [
        ("all", early.day(60), "winter-in", "", ""),
        ("all", early.day(120), "winter-out", "", ""),
    ]
    more = [("K1-01", early.day(200), "winter-in", "", "")] if again else []
    sheets = {
        "foundings": FOUND,
        "checks": early.looks(FOUND, (14, 1.0, 0), (59, 1.0, 3), (130, 1.0, 9), (210, 1.0, 9)),
        "events": rests + more,
    }
    text = said(sheets, tmp_path)
    assert "it begins on day 60 and ends on day 120" in text
    ended = "a second winter rest were followed to its first day and no further." in text
    assert ended is again


def test_every_look_in_use_has_its_gap(tmp_path):
    material = early.material_of(SHEETS, tmp_path / "study")
    gaps = how_done.gaps_between_looks(material)
    assert sorted(gaps) == [4, 4, 5, 5, 8, 10]
    ends = material.history.foundings["end"]
    assert np.sum(gaps) == ends.sum()
