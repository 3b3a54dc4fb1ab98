"""What is asked for and cannot be done is refused in plain words, never dropped in silence."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from cohort.base.errors import SheetError, StudyError
from cohort.model.covariates import covariate_columns
from cohort.study import read_study


def frame(**columns: list[object]) -> pd.DataFrame:
    return pd.DataFrame(columns)


@pytest.mark.parametrize(
    ("columns", "adjust", "words"),
    [
        (
            {"housing": ["tube"] * 6}, "housing",
            ["'housing'", "same value in every founding", "take it out of adjust"],
        ),
        (
            {"feeding": ["fed", "none", "", "", "", "fed"]}, "feeding",
            ["'feeding'", "blank in 3 of 6 foundings", "fill it in"],
        ),
        (
            {"shelf_temperature": [24.0, 25.0, np.nan, np.nan, np.nan, np.nan]},
            "shelf_temperature", ["blank in 4 of 6 foundings"],
        ),
        ({"housing": ["tube"] * 6}, "colour", ["no column 'colour'", "Known here"]),
    ],
)  # fmt: skip
def test_a_column_that_cannot_be_adjusted_for(
    columns: dict[str, list[object]], adjust: str, words: list[str]
) -> None:
    with pytest.raises(StudyError) as error:
        covariate_columns(frame(**columns), (adjust,))
    for word in words:
        assert word in str(error.value)


def test_a_few_blanks_are_told_and_scaled_columns_are_right() -> None:
    table = frame(shelf_temperature=[22.0, 24.0, np.nan, 26.0], housing=["tube", "tube", "box", ""])
    names, x, notes, of = covariate_columns(table, ("shelf_temperature", "housing"))
    assert of == ("shelf_temperature", "housing", "housing")
    assert names == ("shelf_temperature", "housing: box v tube", "housing: not written v tube")
    assert x[:, 0] == pytest.approx(np.array([-2, 0, 0, 2]) / np.sqrt(2))
    assert x.mean(axis=0) == pytest.approx(np.zeros(3))
    assert len(notes) == 2
    assert "1 founding without 'shelf_temperature': taken as average" in notes[0]


def test_more_matings_than_queens_is_an_error_of_the_sheet(folder, today: dt.date) -> None:
    folder.put(
        "foundings.csv",
        "founding,genus,started,queens,mating_seen\n"
        "K2-01,Lasius,2026-07-04,1,2\nK2-02,Lasius,2026-07-04,3,3\n",
    )
    with pytest.raises(SheetError) as error:
        read_study(folder.path, today=today)
    (finding,) = [f for f in error.value.findings if f.level == "error"]
    assert finding.founding == "K2-01"
    assert finding.column == "mating_seen"
    assert finding.row == 2
    assert "More queens were seen mating than went in" in finding.what


def test_a_word_in_adjust_that_is_none_of_ours_is_named(folder, today: dt.date) -> None:
    folder.put("study.toml", 'title = "A study"\nadjust = ["fedding"]\n')
    with pytest.raises(SheetError) as error:
        read_study(folder.path, today=today)
    assert "feeding" in str(error.value)


def test_one_way_of_founding_cannot_be_fitted() -> None:
    from small_study import small_study

    from cohort.history import history
    from cohort.model.sample import prepare

    lines = {"A": "1 | 10 1/0, 60 1/5", "B": "1 | 10 1/0, 60 0/0"}
    with pytest.raises(StudyError, match="with one queen: there is nothing to compare"):
        prepare(history(small_study(lines)))
    outside = {"A": {"left_out": "mites"}, "B": {"left_out": "mites"}}
    with pytest.raises(StudyError, match="every one is left out"):
        prepare(history(small_study(lines, more=outside)))
