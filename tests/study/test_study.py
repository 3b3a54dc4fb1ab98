"""The study: its types, what is spread out, and what is left out."""

import datetime as dt

import pandas as pd
import pytest

from cohort.base.errors import SheetError, StudyError
from cohort.study import Settings, read_study
from cohort.terms.adjusting import Adjust
from cohort.terms.contract import COVARIATES

FOUNDING_COLUMNS = [
    "founding",
    "genus",
    "named",
    "kind",
    "species",
    "season",
    "started",
    "queens",
    "arm",
    "left_out",
    "assigned",
    "block",
    "keeper",
    "catch",
    "from_",
    "flight_date",
    "followed_from",
    "housing",
    "feeding",
    "shelf",
    "mating_seen",
    "marked",
    "give_or_take",
    "photo",
    "note",
    "file",
    "row",
]
CHECK_COLUMNS = [
    "founding",
    "date",
    "queens_alive",
    "at_least",
    "workers",
    "workers_at_least",
    "brood",
    "fed",
    "give_or_take",
    "photo",
    "note",
    "file",
    "row",
    "from_rest",
]


def test_columns_and_types_are_those_agreed(folder, today):
    study = read_study(folder.path, today=today)
    columns = list(study.foundings.columns)
    assert [name for name in columns if name in FOUNDING_COLUMNS] == FOUNDING_COLUMNS
    assert set(columns) - set(FOUNDING_COLUMNS) <= {column.name for column in COVARIATES}
    assert list(study.checks.columns) == CHECK_COLUMNS
    assert list(study.events.columns) == [
        "founding",
        "date",
        "event",
        "number",
        "other",
        "note",
        "file",
        "row",
    ]
    assert list(study.faulty.columns) == ["founding", "why", "file", "row"]
    types = study.foundings.dtypes.astype(str)
    assert types["queens"] == "int64"
    assert types["mating_seen"] == "Int64"
    assert types["started"] == types["flight_date"] == "datetime64[ns]"
    assert types["give_or_take"] == "float64"
    checks = study.checks.dtypes.astype(str)
    assert checks["queens_alive"] == checks["workers"] == "Int64"
    assert checks["at_least"] == checks["from_rest"] == "bool"
    assert study.settings == Settings()
    assert study.settings.horizon_days == 180


def test_blank_is_not_zero(folder, today):
    folder.put("checks.csv", "+K2-02,2026-07-15,,\nK2-01,2026-07-15,0,\n")
    checks = read_study(folder.path, today=today).checks.set_index(["founding", "date"])
    blank = checks.loc[("K2-02", pd.Timestamp("2026-07-15"))]
    none = checks.loc[("K2-01", pd.Timestamp("2026-07-15"))]
    assert blank["queens_alive"] is pd.NA
    assert none["queens_alive"] == 0
    assert none["workers"] is pd.NA


def test_at_least_keeps_its_number_and_its_mark(folder, today):
    folder.put("checks.csv", "+K2-02,2026-07-15,2+,10+\n")
    last = read_study(folder.path, today=today).checks.iloc[-1]
    assert (last["queens_alive"], last["at_least"]) == (2, True)
    assert (last["workers"], last["workers_at_least"]) == (10, True)


def test_arm_is_filled_and_kinds_without_a_name_stay(folder, today):
    folder.put("kinds.csv", "kind,genus,species\nbig,Messor,\ntiny,,\n")
    folder.put(
        "foundings.csv",
        """\
founding,kind,genus,started,queens,feeding
K2-01,tiny,,2026-07-04,1,claustral
K2-02,big,,2026-07-04,3,semi-claustral
""",
    )
    mine = read_study(folder.path, today=today).foundings
    assert mine["genus"].tolist() == ["tiny", "Messor"]
    assert mine["named"].tolist() == [False, True]
    assert mine["arm"].tolist() == ["single", "multi"]
    assert mine["feeding"].tolist() == ["none", "fed"]


def test_checks_follow_the_order_of_foundings_then_days(folder, today):
    folder.put(
        "foundings.csv",
        """\
founding,genus,started,queens
K2-02,Lasius,2026-07-04,3
K2-01,Lasius,2026-07-04,1
""",
    )
    checks = read_study(folder.path, today=today).checks
    assert checks["founding"].tolist() == ["K2-02", "K2-02", "K2-01", "K2-01"]
    assert checks["row"].tolist() == [3, 5, 2, 4]
    assert checks["date"].iloc[:2].is_monotonic_increasing


def test_repeats_are_read_once(folder, today):
    clean = read_study(folder.path, today=today)
    for name in ("foundings", "checks"):
        text = (folder.path / f"{name}.csv").read_text("utf-8")
        folder.put(f"{name} (1).csv", text)
    again = read_study(folder.path, today=today)
    assert again.foundings["founding"].tolist() == clean.foundings["founding"].tolist()
    columns = ["founding", "date", "queens_alive", "workers"]
    pd.testing.assert_frame_equal(again.checks[columns], clean.checks[columns])


def test_an_error_stops_and_the_message_offers_the_way_out(folder, today):
    folder.put("checks.csv", "+K2-02,2026-07-15,4,0\n")
    with pytest.raises(SheetError, match="--without-faulty") as raised:
        read_study(folder.path, today=today)
    assert [f.rule for f in raised.value.findings] == ["count-rises"]
    assert "checks.csv, row 6" in str(raised.value)


def test_foundings_in_error_are_left_out_and_listed(folder, today):
    folder.put("foundings.csv", "+K2-03,Lasius,2026-07-06,2,K2\n")
    folder.put("checks.csv", "+K2-02,2026-07-15,4,0\nK2-03,2026-07-14,2,0\nK2-03,2026-07-15,3,x\n")
    study = read_study(folder.path, without_faulty=True, today=today)
    assert study.foundings["founding"].tolist() == ["K2-01"]
    assert set(study.checks["founding"]) == {"K2-01"}
    faulty = study.faulty.set_index("founding")
    assert set(faulty.index) == {"K2-02", "K2-03"}
    assert faulty.loc["K2-02", "row"] == 6
    assert faulty.loc["K2-02", "file"] == "checks.csv"
    assert "4 queens alive" in faulty.loc["K2-02", "why"]
    assert "not a whole number" in faulty.loc["K2-03", "why"]
    assert "3 queens alive" in faulty.loc["K2-03", "why"]


def test_an_error_that_belongs_to_no_founding_still_stops(folder, today):
    folder.put("checks.csv", "+K2-09,2026-07-15,4,0\n")
    with pytest.raises(SheetError, match="no one founding"):
        read_study(folder.path, without_faulty=True, today=today)


def test_no_founding_left_is_told(folder, today):
    folder.put("checks.csv", "+K2-02,2026-07-15,4,0\nK2-01,2026-07-15,2,0\n")
    with pytest.raises(SheetError, match="Every founding has an error"):
        read_study(folder.path, without_faulty=True, today=today)


def test_settings_are_typed(folder, today):
    folder.put(
        "study.toml",
        """\
title = "A club"
season = 2026
horizon_days = 160
ends = 2026-12-01
leave_out = ["mites", "boosted"]
adjust = "feeding, temperature"
show_keepers = true
fight_rule = "keeper's-choice"
look_every = 7
primary_question = "Colony"
""",
    )
    settings = read_study(folder.path, today=today).settings
    assert settings == Settings(
        title="A club",
        season="2026",
        horizon_days=160,
        ends=dt.date(2026, 12, 1),
        leave_out=("mites", "boosted"),
        adjust=Adjust(
            before=("feeding", "shelf_temperature"),
            after=("feeding", "shelf_temperature"),
            first_worker=("shelf_temperature",),
        ),
        show_keepers=True,
        fight_rule="keeper's-choice",
        look_every=7,
        primary_question="colony",
    )


def test_without_a_folder_there_is_no_study(tmp_path):
    with pytest.raises(StudyError):
        read_study(tmp_path / "nowhere")
