"""What is handed out may be changed by anybody: the frozen object is not."""

import copy
import pickle
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from made_ours import invented

import cohort
from cohort.base.errors import StudyError
from cohort.model.sample import Fit
from cohort.outcomes import Outcomes
from cohort.outcomes.quantities import Key
from cohort.results.files import TABLES
from cohort.study import COLUMNS

FRAMES = {
    "study": tuple(COLUMNS),
    "history": ("foundings", "intervals", "later"),
    "results": (*TABLES, "raw", "contrasts"),
}
PAIRS = [(owner, name) for owner, names in FRAMES.items() for name in names]


@pytest.fixture(scope="module")
def owners():
    study = cohort.read_study("data/demo")
    return {"study": study, "history": study.history(), "results": invented().results}


@pytest.mark.parametrize(("owner", "name"), PAIRS)
def test_a_change_of_what_was_handed_out_changes_nothing(owners, owner, name):
    held = owners[owner]
    before = getattr(held, name)
    mine = getattr(held, name)
    mine["new"] = 1
    for column in before.columns if len(before) else ():
        mine.loc[mine.index[0], column] = mine[column].iloc[-1]
        values = mine[column].to_numpy()
        if values.dtype.kind in "fi" and values.flags.writeable:
            values[:] = 0
    mine.drop(columns=list(before.columns[:1]), inplace=True)
    mine.attrs["units"] = {}
    pd.testing.assert_frame_equal(getattr(held, name), before)
    assert getattr(held, name).attrs == before.attrs


@pytest.mark.parametrize(("owner", "name"), PAIRS)
def test_every_column_of_ours_bears_its_meaning(owners, owner, name):
    frame = getattr(owners[owner], name)
    lacking = set(map(str, frame.columns)) - set(frame.attrs["meanings"])
    assert not lacking
    assert all(frame.attrs["meanings"].values())


def test_units_are_those_of_the_column_dictionary(owners):
    frame = owners["history"].foundings
    assert frame.attrs["units"]["first_by"] == "days since day 0"
    assert "inf: not seen" in frame.attrs["meanings"]["first_by"]
    assert frame[frame["compared"]].attrs == frame.attrs  # a part of it says so still
    with pytest.raises(TypeError, match="fixed"):
        frame.attrs["units"]["first_by"] = "weeks"
    again = pickle.loads(pickle.dumps(frame))
    assert again.attrs == frame.attrs


def test_a_copy_is_equal_and_a_changed_one_is_not(owners):
    for held in owners.values():
        assert held == copy.deepcopy(held)
        assert held == pickle.loads(pickle.dumps(held))
        assert held != 1
    study, past = owners["study"], owners["history"]
    assert study == cohort.read_study("data/demo")
    assert study != replace(study, checks=study.checks.iloc[1:])
    assert study != replace(study, settings=replace(study.settings, horizon_days=99))
    assert past != replace(past, horizon=99)
    assert past != study


def outcomes(kinds=("Lasius", "average"), draws=500):
    values = {Key("colony", f"q{i}", 1, 30.0): np.zeros((draws, 2)) for i in range(400)}
    curve = np.zeros((draws, 3, 2, 90))
    return Outcomes(
        kinds, (1, 3), values, np.arange(90.0), curve, curve, np.zeros((*curve.shape, 3)), 4
    )


def test_nothing_public_prints_its_innards(owners):
    for shown in (*owners.values(), outcomes()):
        lines = repr(shown).splitlines()
        assert len(lines) < 12
        assert max(map(len, lines)) < 200
        assert "array(" not in repr(shown)
        assert "<table>" in shown._repr_html_()
    assert "500 of 4 chains" in repr(outcomes())
    assert "400 of 400 quantities" in repr(outcomes())
    assert outcomes() == outcomes()
    assert outcomes() != outcomes(("Messor", "average"))
    assert Fit.__eq__ is not object.__eq__


def test_what_cannot_be_compared_is_refused_in_plain_words(owners):
    study = owners["study"]
    with pytest.raises(StudyError, match=r"level is 90\. Write 0\.9 for 90 of 100"):
        cohort.compare(study, level=90)
    for wrong in (0.3, 1.0, float("nan"), "0.9", True, None):
        with pytest.raises(StudyError, match=r"level is .*Give a share between 0\.5 and 0\.99"):
            cohort.compare(study, level=wrong)
    with pytest.raises(StudyError, match=r"2 studies.*cohort\.pool_studies\(\[a, b\]\)"):
        cohort.compare([study, study])
    with pytest.raises(StudyError, match=r"not a str\. Read one with cohort\.read_study"):
        cohort.compare("data/demo")
