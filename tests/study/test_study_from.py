"""A study made of frames: the same audit as sheets, own columns kept, nothing given is altered."""

import datetime as dt
from dataclasses import fields

import numpy as np
import pandas as pd
import pytest

import cohort
from cohort.base.errors import SheetError, StudyError
from cohort.study.from_frames import text_of
from cohort.terms.adjusting import Adjust

TODAY = dt.date(2026, 11, 1)
DERIVED = ["file", "row", "from_rest"]


def foundings(**more):
    base = {
        "founding": ["a", "b", "c"],
        "genus": ["Lasius", "Lasius", "Messor"],
        "queens": [1, 3, 1],
        "started": ["2026-07-04"] * 3,
    }
    return pd.DataFrame(base | more)


def checks(**more):
    base = {
        "founding": ["a", "b", "c"],
        "date": pd.Timestamp("2026-07-20"),
        "queens_alive": [1, 2, 1],
        "workers": [0, 0, 0],
    }
    return pd.DataFrame(base | more)


def made(f=None, c=None, **more):
    f = foundings() if f is None else f
    return cohort.study_from(f, checks() if c is None else c, today=TODAY, **more)


@pytest.fixture(scope="module")
def demo():
    return cohort.read_study("data/demo")


def test_the_frames_of_a_study_make_the_same_study(demo):
    """The demo has unnamed kinds, least numbers, rows for all others, partings, temperatures."""
    said = {f.name: getattr(demo.settings, f.name) for f in fields(demo.settings)}
    names = ("kinds", "foundings", "checks", "events", "catches", "temperatures")
    again = cohort.study_from(**{name: getattr(demo, name) for name in names}, **said)
    assert again.settings == demo.settings
    for name in names:
        one, other = (
            getattr(s, name).drop(columns=DERIVED, errors="ignore") for s in (demo, again)
        )
        pd.testing.assert_frame_equal(one, other)
    pd.testing.assert_frame_equal(demo.history().intervals, again.history().intervals)


def test_own_columns_keep_their_types_and_reach_the_history():
    own = {
        "altitude": [210.5, np.nan, 640.0],
        "lit": [True, False, True],
        "wing": pd.Categorical(["short", "long", "long"]),
    }
    study = made(foundings(**own).iloc[::-1], checks(height_mm=[1.0, 2.0, 3.0]))
    for frame in (study.foundings, study.history().foundings):
        rows = frame.set_index("founding")
        assert rows["altitude"].to_dict() == pytest.approx(
            {"a": 210.5, "b": np.nan, "c": 640.0}, nan_ok=True
        )
        assert rows["lit"].dtype == bool
        assert rows.loc["b", "wing"] == "long"
    assert study.checks.set_index("founding").loc["b", "height_mm"] == 2.0
    assert "altitude" not in cohort.compare(study.only(queens=1)).results.foundings


def test_a_founding_that_is_left_out_takes_its_own_columns_along():
    study = made(foundings(altitude=[1.0, 2.0, 3.0]), checks(queens_alive=[2, 2, 1]),
                 without_faulty=True)  # fmt: skip
    assert study.faulty["founding"].tolist() == ["a"]
    assert study.foundings["altitude"].tolist() == [2.0, 3.0]


def test_booleans_are_yes_and_no():
    study = made(foundings(marked=[True, False, None]), show_keepers=True)
    assert study.foundings["marked"].tolist() == ["yes", "no", ""]
    assert study.settings.show_keepers is True
    typed = made(foundings(marked=pd.array([True, None, False], dtype="boolean")))
    assert typed.foundings["marked"].tolist() == ["yes", "", "no"]
    assert made(c=checks(fed=[True, True, False])).checks["fed"].tolist() == ["yes", "yes", "no"]


@pytest.mark.parametrize(
    "stamp",
    [
        pd.Timestamp("2026-07-20 23:30", tz="Etc/GMT+4"),  # 03:30 of the next day in UTC
        dt.datetime(2026, 7, 20, 23, 30, tzinfo=dt.timezone(dt.timedelta(hours=-4))),
        "2026-07-20T23:30:00-04:00",
        dt.date(2026, 7, 20),
        np.datetime64("2026-07-20T23:30"),
        pd.Timestamp("2026-07-20 23:30"),
        pd.Period("2026-07-20", "D"),
    ],
)
def test_a_moment_stands_for_the_day_in_its_own_zone(stamp):
    for column in (pd.Series([stamp] * 3), pd.Series([stamp] * 3, dtype=object)):
        assert made(c=checks(date=column)).checks["date"].eq("2026-07-20").all()


def test_times_of_several_zones_may_stand_in_one_column():
    east = pd.Timestamp("2026-07-20 00:30", tz="Asia/Tokyo")
    west = pd.Timestamp("2026-07-19 23:30", tz="America/New_York")
    days = pd.Series([east, west, pd.NaT], dtype=object)
    frame = foundings(flight_date=days, started="2026-07-25")
    started = made(frame, checks(date="2026-07-30")).foundings["flight_date"]
    assert started.dt.day.tolist()[:2] == [20, 19]
    assert started.isna().tolist() == [False, False, True]


@pytest.mark.parametrize(
    ("value", "typed"),
    [
        (3, "3"), (3.0, "3"), (19.5, "19.5"), (np.int8(4), "4"), (np.float32(2), "2"),
        (True, "yes"), (np.False_, "no"), (None, ""), (np.nan, ""), (pd.NA, ""), (pd.NaT, ""),
        (" K2 ", "K2"), (dt.timedelta(days=2), "2"), (pd.Timedelta(hours=36), "1.5"),
    ],
)  # fmt: skip
def test_a_value_is_what_one_would_have_typed(value, typed):
    assert text_of(value) == typed


def test_true_and_one_in_one_column_are_told_apart():
    column = pd.Series([True, 1, 0], dtype=object)
    with pytest.raises(
        SheetError, match=r"(?s)checks, row 1, workers.*'yes' is not a whole number"
    ):
        made(c=checks(workers=column))


def test_errors_name_frame_row_and_column():
    wrong = checks(queens_alive=[1, 4, 1])
    with pytest.raises(
        SheetError, match=r"(?s)checks, row 2, queens_alive.*4 queens alive"
    ) as raised:
        made(c=wrong)
    assert "The frames have 1 error" in str(raised.value)
    assert "by adding without_faulty=True" in str(raised.value)
    assert "--" not in str(raised.value)
    with pytest.raises(SheetError, match=r"(?s)foundings, row 3, started.*'2026-13-01' is no day"):
        made(foundings(started=["2026-07-04", "2026-07-04", "2026-13-01"]))
    with pytest.raises(SheetError, match=r"(?s)foundings, queens.*The column queens is missing"):
        made(foundings().drop(columns="queens"))
    with pytest.raises(SheetError, match=r"(?s)settings, row 1, horizon_days.*0 is not between"):
        made(horizon_days=0)


def test_rows_are_those_of_the_frame_even_where_some_are_blank():
    gap = pd.concat([checks().iloc[:1], pd.DataFrame([{}]), checks().iloc[1:]])
    gap["queens_alive"] = [1, np.nan, 4, 1]
    with pytest.raises(SheetError, match="checks, row 3"):
        made(c=gap)


def test_the_number_of_a_founding_may_be_the_index():
    study = made(foundings(altitude=[1, 2, 3]).set_index("founding"))
    assert study.foundings["founding"].tolist() == ["a", "b", "c"]
    assert study.foundings["altitude"].tolist() == [1, 2, 3]


def test_nothing_given_is_altered():
    f = foundings(marked=[True, False, True], altitude=[1, 2, 3])
    c = checks(date=pd.Timestamp("2026-07-20 23:30", tz="Etc/GMT+4"))
    kept = f.copy(deep=True), c.copy(deep=True)
    study = made(f, c)
    pd.testing.assert_frame_equal(f, kept[0])
    pd.testing.assert_frame_equal(c, kept[1])
    f.loc[0, "altitude"] = 99
    assert study.foundings["altitude"].tolist() == [1, 2, 3]


def test_settings_are_those_of_a_sheet():
    study = made(
        horizon_days=160, ends=dt.date(2026, 12, 1), leave_out=["mites", "boosted"], title=None,
        adjust={"before": ["feeding"], "first_worker": ["housing"]},
    )  # fmt: skip
    assert study.settings.horizon_days == 160
    assert study.settings.ends == dt.date(2026, 12, 1)
    assert study.settings.leave_out == ("mites", "boosted")
    assert study.settings.adjust == Adjust(before=("feeding",), first_worker=("housing",))
    assert made(adjust=["feeding"]).settings.adjust == Adjust.of(["feeding"])
    with pytest.raises(StudyError, match=r"no setting 'horizon'\. Did you mean 'horizon_days'"):
        made(horizon=160)


def test_what_is_no_frame_is_refused_in_plain_words():
    with pytest.raises(StudyError, match="foundings is a dict; give a pandas DataFrame"):
        made({"founding": []})
    twice = pd.concat([foundings(), foundings()[["genus"]]], axis=1)
    with pytest.raises(StudyError, match="foundings: two columns are called 'genus'"):
        made(twice)
    with pytest.raises(SheetError, match="There is no founding"):
        made(foundings().iloc[:0], checks().iloc[:0])


def test_a_word_that_is_read_as_blank_is_told():
    study = made(foundings(housing=["tubb", "test-tube", ""]))
    assert study.foundings["housing"].tolist() == ["", "test-tube", ""]
    assert "'tubb' is not one of" in " ".join(study.not_read)
    assert "tubb" in repr(study)
    assert made().not_read == ()


def test_least_numbers_stay_least_numbers():
    c = made(c=checks(queens_alive=[1, 2, 1], at_least=[False, True, False])).checks
    assert c.set_index("founding")["at_least"].to_dict() == {"a": False, "b": True, "c": False}


def test_the_same_frames_pooled_twice_are_the_same_study_twice():
    with pytest.raises(StudyError, match="named twice"):
        cohort.pool_studies([made(), made()])
    later, other = (
        made(foundings(started="2026-07-11"), season="second"),
        foundings(queens=[2, 2, 2]),
    )
    with pytest.warns(UserWarning, match="founding numbers come up in more than one"):
        both = cohort.pool_studies([made(season="first"), later, made(other)])
    assert set(both.foundings["season"]) == {"first", "second", "2026"}
    assert len(both.foundings) == 9


def test_foundings_that_two_seasons_name_alike_are_one():
    with pytest.warns(UserWarning, match="more than one season"):
        both = cohort.pool_studies([made(season="first"), made(season="second")])
    assert both.foundings["founding"].tolist() == ["a", "b", "c"]
    assert len(both.checks) == 3
