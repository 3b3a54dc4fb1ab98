"""A study or a history: both doors lead to the history that is compared."""

from pathlib import Path

import pandas as pd
import pytest

from cohort.base.errors import StudyError
from cohort.history import history
from cohort.history.warmed import as_compared, compared_history
from cohort.study import read_study
from cohort.terms.adjusting import Adjust

DEMO = Path(__file__).parents[2] / "data" / "demo"


@pytest.fixture(scope="module")
def demo():
    return read_study(DEMO)


def test_a_study_gives_the_history_that_is_compared(demo):
    past, agreed = as_compared(demo)
    expected, _ = compared_history(demo)
    pd.testing.assert_frame_equal(past.foundings, expected.foundings)
    assert past.warmth is not None
    assert history(demo).warmth is None  # the bare history is not what is compared
    assert agreed == demo.settings.adjust


def test_a_history_is_taken_as_it_is(demo):
    bare = history(demo)
    past, agreed = as_compared(bare, ["feeding"])
    assert past is bare
    assert agreed == Adjust.of(["feeding"])


def test_what_is_said_stands_before_the_settings(demo):
    assert as_compared(demo, [])[1] == Adjust()


def test_anything_else_is_refused_with_the_way_in():
    with pytest.raises(StudyError, match=r"not a list\. Read a study with"):
        as_compared([])
