"""The demos are made anew byte for byte, and show everything a season, and a year, can bring."""

import datetime as dt
import re
from pathlib import Path

import pandas as pd
import pytest

from cohort.audit import audit
from cohort.base.errors import StudyError
from cohort.sheets.folder import read_folder
from cohort.simulate.club import SPOILT
from cohort.simulate.club_years import SECOND
from cohort.simulate.demo import demo_files, write_demo
from cohort.study import read_study

DEMO = Path(__file__).parents[2] / "data" / "demo"
AGAIN = "Make the demo anew: python -m cohort.simulate.demo data/demo (the folder must be empty)."


@pytest.fixture(scope="module")
def files():
    return demo_files()


def frame(name):
    parts = sorted(DEMO.glob(f"{name}*.csv"))
    return pd.concat([pd.read_csv(p, dtype=str, keep_default_na=False) for p in parts]).fillna("")


def test_demo_is_made_anew_byte_for_byte(files, tmp_path):
    assert {p.name for p in DEMO.iterdir()} == set(files), AGAIN
    for name, text in files.items():
        assert (DEMO / name).read_bytes() == text.encode("utf-8"), f"{name} differs. {AGAIN}"
    folder = write_demo(tmp_path / "demo")
    assert {p.name for p in folder.iterdir()} == set(files)
    with pytest.raises(StudyError, match="Name a new folder"):
        write_demo(folder)


def test_one_changed_byte_would_be_seen(files):
    name = "checks-K1.csv"
    assert (DEMO / name).read_bytes() != files[name].replace("3", "2", 1).encode("utf-8")


def test_demo_is_as_large_as_promised():
    foundings = frame("foundings")
    assert 60 <= len(foundings) <= 80
    assert foundings["queens"].astype(int).sum() >= 150
    assert set(foundings["queens"].astype(int)) == {1, 2, 3, 4, 5, 6}
    assert set(foundings["keeper"]) == {"K1", "K2", "K3", "K4"}
    compared = foundings[(foundings["left_out"] == "") & (foundings["genus"] != "")]
    ways = compared.assign(multi=compared["queens"].astype(int) > 1)
    both = ways.groupby("genus")["multi"].nunique() == 2
    assert both.sum() >= 7
    shared = compared.groupby("genus")["keeper"].nunique()
    assert (shared >= 2).sum() >= 5
    assert (compared["assigned"] == "random").mean() > 0.9


def test_demo_shows_what_a_season_can_bring():
    foundings, events, kinds = frame("foundings"), frame("events"), frame("kinds")
    catches = frame("catches")
    notes = (DEMO / "checks-K3.txt").read_text(encoding="utf-8")
    assert {"mites", "boosted", "social-parasite", "split-off", "other"} <= set(
        foundings["left_out"]
    )
    assert (kinds["genus"] == "").sum() == 2
    assert (kinds["first_called"] != "").sum() == 1
    assert set(events["event"]) >= {
        "queens-out", "queens-in", "brood-in", "moved", "fight", "killed", "males", "mould",
        "winter-in", "winter-out", "end",
    }  # fmt: skip
    assert {"given", "gave-up"} <= set(events["other"])
    assert "end accident" in notes
    assert "queens-out 1 escaped" in notes
    assert re.search(r"^K3-\d\d 5\+ 0$", notes, re.M)
    assert re.search(r"^rest same$", notes, re.M)
    parted = foundings[foundings["from"] != ""].iloc[0]
    out = events[(events["founding"] == parted["from"]) & (events["other"] == parted["founding"])]
    assert out["number"].item() == parted["queens"]
    assert (foundings["followed_from"] != "").sum() == 1
    assert (foundings["give_or_take"] != "").sum() == 1
    assert set(SPOILT).isdisjoint(foundings["founding"])
    assert {"light", "hand", "chamber", "trap", "given", "bought"} <= set(catches["method"])
    assert (catches["not_kept"] != "").any()
    kept = catches["queens"].astype(int) - catches["died"].replace("", "0").astype(int)
    begun = foundings[foundings["from"] == ""].groupby("catch")["queens"]
    assert begun.apply(lambda q: q.astype(int).sum()).to_dict() == dict(
        zip(catches["catch"], kept, strict=True)
    )


def test_keepers_are_codes_and_numbers_have_one_decimal():
    temperatures = frame("temperatures")
    assert temperatures["min_c"].str.fullmatch(r"\d+\.\d").all()
    assert temperatures.groupby("shelf")["date"].apply(
        lambda d: pd.to_datetime(d).diff().dt.days.median()
    ).to_dict() == {"S1": 1.0, "S2": 7.0}
    assert frame("foundings")["keeper"].str.fullmatch(r"K\d").all()


def test_audit_finds_only_the_spoilt_number():
    findings = audit(read_folder(DEMO), dt.date(2026, 11, 1))
    assert [(f.level, f.rule) for f in findings] == [
        ("warning", "id-gap"),
        ("note", "kind-named"),
    ]
    assert SPOILT[0] in findings[0].what


SECOND_DEMO = DEMO.with_name("demo-second-year")
AGAIN_SECOND = "Make it anew: python -m cohort.simulate.demo data/demo-second-year --second-year"


def second(name):
    parts = sorted(SECOND_DEMO.glob(f"{name}*.csv"))
    return pd.concat([pd.read_csv(p, dtype=str, keep_default_na=False) for p in parts]).fillna("")


def test_the_second_year_is_made_anew_byte_for_byte(tmp_path):
    made = demo_files(SECOND)
    assert {p.name for p in SECOND_DEMO.iterdir()} == set(made), AGAIN_SECOND
    for name, text in made.items():
        assert (SECOND_DEMO / name).read_bytes() == text.encode("utf-8"), AGAIN_SECOND
    assert {p.name for p in write_demo(tmp_path / "demo", SECOND).iterdir()} == set(made)


@pytest.mark.parametrize("keeper", ["K1", "K2"])
def test_the_second_year_says_of_the_first_what_the_first_demo_says(keeper):
    for sheet in ("checks", "events", "foundings"):
        name = f"{sheet}-{keeper}.csv"
        first = pd.read_csv(DEMO / name, dtype=str, keep_default_na=False)
        then = pd.read_csv(SECOND_DEMO / name, dtype=str, keep_default_na=False)
        day = "started" if sheet == "foundings" else "date"
        then = then[then[day] <= "2026-03-31"].reset_index(drop=True)
        pd.testing.assert_frame_equal(then[list(first)], first)
        # one look fewer would be seen
        assert len(then) > 1
        assert not then.iloc[1:].reset_index(drop=True)[list(first)].equals(first)


def test_the_second_year_follows_colonies_through_winter_and_founds_anew():
    foundings, checks, events = second("foundings"), second("checks"), second("events")
    new = foundings["started"] > "2026-03-31"
    assert 30 <= (~new).sum() <= 40
    assert 18 <= new.sum() <= 22
    assert set(foundings["keeper"]) == {"K1", "K2", "K5"}
    assert set(foundings.loc[new & (foundings["keeper"] == "K1"), "founding"]) == {
        f"K1-{n}" for n in range(21, 32)
    }
    spring = checks[
        (checks["date"] > "2026-04-01") & checks["founding"].isin(foundings["founding"])
    ]
    old = set(foundings.loc[~new, "founding"])
    assert len(old & set(spring["founding"])) >= 15  # of K2 `rest` rows say most of it
    assert {"winter-in", "winter-out"} <= set(events["event"])
    assert foundings["founding"].is_unique


def test_the_second_year_has_no_fault():
    findings = audit(read_folder(SECOND_DEMO), dt.date(2026, 11, 1))
    assert [(f.level, f.rule) for f in findings] == [("warning", "id-gap")]
    past = read_study(SECOND_DEMO, today=dt.date(2026, 11, 1)).history()
    assert set(past.foundings["season"]) == {"2025", "2026"}
    assert len(past.winters) >= 25
    ways = past.foundings[past.foundings["compared"]].groupby(["season", "arm"]).size()
    assert ways.min() >= 8
