"""A founding is of the season its queens flew in, however the study writes its seasons."""

import pandas as pd
import pytest

from cohort.audit.seasons import named_seasons, seasons


def of(setting, *days):
    """Seasons of foundings, each a day of start or (day of flight, day of start)."""
    pairs = [day if isinstance(day, tuple) else (None, day) for day in days]
    frame = pd.DataFrame(pairs, columns=["flight_date", "started"]).apply(pd.to_datetime)
    return seasons(setting, frame).tolist()


@pytest.mark.parametrize(
    ("setting", "wanted"),
    [
        ("2025, 2026", ["2025", "2025", "2026"]),
        ("2025 + 2026", ["2025", "2025", "2026"]),  # as several studies name themselves together
        ("2025", ["2025", "2025", "2026"]),  # the audit tells of the third
        ("", ["2025", "2025", "2026"]),
        ("spring trial", ["spring trial"] * 3),  # no year in it: as typed
        ("2025 and later", ["2025 and later"] * 3),
        # over New Year: a season runs from July to June
        ("2025/26", ["2024/25", "2025/26", "2025/26"]),
        ("2024-2025; 2025-2026", ["2024-2025", "2025-2026", "2025-2026"]),
        ("2025/27", ["2025/27"] * 3),  # no two years in a row: as typed
    ],
)
def test_the_setting_says_how_seasons_are_written(setting, wanted):
    assert of(setting, "2025-06-30", "2025-07-01", "2026-05-09") == wanted


def test_the_flight_decides_before_the_start():
    assert of("2025, 2026", ("2025-12-30", "2026-01-04"), (None, "2026-01-04")) == ["2025", "2026"]


def test_a_founding_without_a_day_has_no_season():
    assert of("2025", None) == [""]
    assert of("2025/26", None) == [""]


def test_seasons_are_named_once_each():
    assert named_seasons(" 2025 ,2026") == ["2025", "2026"]
    assert named_seasons("") == []
