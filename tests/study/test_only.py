"""A part of a study: what stays is as it was, and a wrong word is told."""

import pandas as pd
import pytest

import cohort
from cohort.base.errors import StudyError


@pytest.fixture(scope="module")
def demo():
    return cohort.read_study("data/demo")


@pytest.mark.parametrize(
    "which",
    [
        {"genus": ["Lasius", "Messor"]}, {"keeper": "K2"}, {"queens": 1},
        {"genus": "Lasius", "arm": "multi"},
    ],
)  # fmt: skip
def test_the_history_of_a_part_is_a_part_of_the_history(demo, which):
    part = demo.only(**which).history()
    whole = demo.history()
    mine = whole.foundings[whole.foundings["founding"].isin(part.foundings["founding"])]
    pd.testing.assert_frame_equal(part.foundings, mine.reset_index(drop=True), check_dtype=False)
    spans = whole.intervals[whole.intervals["code"].isin(mine.index)].drop(columns="code")
    pd.testing.assert_frame_equal(part.intervals.drop(columns="code"), spans.reset_index(drop=True))


def test_it_keeps_what_belongs_to_its_foundings(demo):
    part = demo.only(genus=["Lasius", "Messor"])
    assert set(part.foundings["genus"]) == {"Lasius", "Messor"}
    names = set(part.foundings["founding"])
    assert set(part.checks["founding"]) <= names
    assert set(part.events["founding"]) <= names
    assert set(part.catches["catch"]) == set(part.foundings["catch"]) - {""}
    assert part.settings == demo.settings
    assert len(demo.foundings) > len(part.foundings)


def test_a_group_whose_parted_founding_goes_still_ends_where_it_was_parted(demo):
    child = demo.foundings[demo.foundings["from_"].ne("")].iloc[0]
    parent = child["from_"]
    events = demo.events
    without = cohort.study_from(
        demo.foundings.drop(columns="row"), demo.checks,
        events[~((events["founding"] == parent) & (events["other"] == child["founding"]))],
        kinds=demo.kinds, catches=demo.catches,
    )  # fmt: skip
    whole = without.history().foundings.set_index("founding").loc[parent]
    alone = without.only(founding=parent).history().foundings.iloc[0]
    assert whole["end_kind"] == alone["end_kind"]
    assert whole["end"] == alone["end"]


def test_own_columns_may_choose():
    f = pd.DataFrame({"founding": ["a", "b"], "genus": "Lasius", "queens": [1, 2],
                      "started": "2026-07-04", "dark": [True, False]})  # fmt: skip
    study = cohort.study_from(f)
    assert study.only(dark=True).foundings["founding"].tolist() == ["a"]
    assert study.only(dark=[True, False]).foundings["founding"].tolist() == ["a", "b"]


def test_wrong_words_are_told_with_the_near_ones(demo):
    with pytest.raises(StudyError, match=r"no column 'genuss'\. Did you mean 'genus'"):
        demo.only(genuss="Lasius")
    with pytest.raises(StudyError, match=r"'Lassius' in genus\. Did you mean 'Lasius'"):
        demo.only(genus=["Messor", "Lassius"])
    with pytest.raises(StudyError, match=r"'7' in queens\. There is 1, 2"):
        demo.only(queens=7)
    with pytest.raises(StudyError, match="No founding is all of this at once: queens=1, arm='mul"):
        demo.only(queens=1, arm="multi")


def test_studies_are_pooled_by_season(demo):
    one, other = (demo.only(keeper=k) for k in ("K1", "K2"))
    with pytest.raises(StudyError, match="named twice"):  # both come from the same sheets
        cohort.pool_studies([one, other])
    with pytest.raises(StudyError, match="A str is no study"):
        cohort.pool_studies(["data/demo"])
    assert cohort.pool_studies([demo]) == demo
    assert cohort.pool_studies(demo) == demo
