"""Calls an analyst may get wrong: each is refused in words that say what to give, before any work.

What is wrong with sheets, models, draws and pictures is asked where these are tested; here stand
the plain arguments, and names that do not exist.
"""

import datetime as dt

import numpy as np
import pytest

import cohort
from cohort.base.asked import day_of, number_of, whole_of
from cohort.terms.adjusting import Adjust

S = cohort.read_study("data/demo").only(genus=["Lasius", "Messor"])
WHOLE = "Give a whole number"
WRONG = {
    "no draws": (lambda: cohort.compare(S, draws=0), rf"draws is 0\. {WHOLE}, 1 or more"),
    "fewer than none": (lambda: cohort.fit(S, seed=1, draws=-5), rf"draws is -5\. {WHOLE}"),
    "draws as text": (lambda: cohort.compare(S, draws="x"), rf"draws is 'x'\. {WHOLE}"),
    "draws by halves": (lambda: cohort.fit(S, seed=1, draws=2.5), rf"draws is 2\.5\. {WHOLE}"),
    "acceptance": (
        lambda: cohort.compare(S, accept=2),
        r"accept is 2\. Give a number from",
    ),
    "accept as text": (lambda: cohort.fit(S, seed=1, accept="x"), "accept is 'x'"),
    "seed as text": (lambda: cohort.compare(S, seed="a"), rf"seed is 'a'\. {WHOLE}, 0 or more"),
    "seed below 0": (lambda: cohort.fit(S, seed=-1), rf"seed is -1\. {WHOLE}"),
    "no seed": (lambda: cohort.compare(S, seed=None), rf"seed is None\. {WHOLE}"),
    "seed too large": (lambda: cohort.fit(S, seed=2**70), rf"{WHOLE}"),
    "seed of opinions": (lambda: S.second_opinion(seed="a"), rf"seed is 'a'\. {WHOLE}"),
    "adjust": (lambda: cohort.compare(S, adjust=5), "adjust: 5 is no name of a column"),
    "adjust in a list": (lambda: cohort.fit(S, seed=1, adjust=[5]), "5 is no name of a column"),
    "change": (lambda: cohort.founding_model(S, change=5), "change is a int; give a function"),
    "below": (lambda: S.survival("queens", below="x"), "a whole number from 1, such as below=2"),
    "half a queen": (lambda: S.survival("queens", below=1.5), "a whole number from 1"),
    "event": (lambda: S.survival(5), r"There is no event '5'\. There are"),
    "today": (lambda: cohort.read_study("data/demo", today="2026-07-04"), "Give a date, as"),
    "today of frames": (lambda: cohort.study_from(S.foundings, today="x"), "today is 'x'"),
    "pooling a number": (lambda: cohort.pool_studies(5), "A int is no study"),
    "pooling a name": (lambda: cohort.pool_studies("data/demo"), "A str is no study"),
    "priors by place": (lambda: cohort.Priors(5), "5 is no mapping of names to priors"),
    "no parameter": (lambda: cohort.Priors()["togehter"], "Did you mean 'together'"),
    "no strength": (lambda: cohort.Priors().at_strength(0), "power is 0. Give a number from 0.01"),
    "strength as text": (lambda: cohort.Priors().at_strength("x"), "power is 'x'"),
    "no such number": (lambda: cohort.Priors().column("x"), "none of mean, sd, between"),
    "a number for a folder": (lambda: cohort.read_study(5), "5 is no folder. Give its path"),
    "a number for results": (lambda: cohort.read_results(5), "5 is no folder"),
    "nobody to tell": (lambda: cohort.compare(S, say=5), "say is 5. Give a function"),
    "no json": (lambda: cohort.Priors.from_json("x"), "the text that as_json wrote"),
    "other json": (lambda: cohort.Priors.from_json("[1]"), "of another version"),
}


@pytest.mark.parametrize("name", WRONG)
def test_it_is_refused_in_plain_words(name):
    call, words = WRONG[name]
    with pytest.raises(cohort.StudyError, match=words):
        call()


def test_what_is_right_is_taken_as_it_is():
    """The refusals are not of everything: numbers of numpy, a datetime, one column by its name."""
    assert whole_of("seed", np.int32(7)) == 7
    assert number_of("accept", np.float32(0.75), 0.5, 0.999, "") == 0.75
    assert day_of(dt.datetime(2026, 7, 4, 23, 30)) == dt.date(2026, 7, 4)
    assert day_of(None) == dt.date.today()
    assert Adjust.of("housing") == Adjust.of(["housing"])
    assert len(S.survival("queens", below=np.int64(2)))
    assert cohort.Priors().at_strength(1.0) == cohort.Priors()


def test_a_name_that_does_not_exist_is_answered_with_those_that_do():
    with pytest.raises(AttributeError, match=r"cohort has no 'comparison_of'; it has .*compare"):
        cohort.comparison_of  # noqa: B018 - looking it up is the test
