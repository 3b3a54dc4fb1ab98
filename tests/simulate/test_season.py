"""A simulated season is what a keeper could have written, and nothing that did not happen."""

import datetime as dt
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cohort.base.errors import StudyError
from cohort.simulate.design import CALENDARS, Design
from cohort.simulate.fates import first_brood
from cohort.simulate.looks import workers_seen
from cohort.simulate.season import simple_study, simulate_study
from cohort.simulate.truth import GenusTruth, Truth

TRUTH = Truth(
    {"Lasius": GenusTruth(), "Messor": GenusTruth(together=0.6, rivalry=2.0)},
    {"keeper_before": 0.2, "flight_before": 0.1},
)


def table(study, name):
    parts = [v for k, v in study.sheets.items() if k.startswith(name) and k.endswith(".csv")]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()


def spread_rest(study):
    """Checks with `rest` rows written out, plainly and one by one (the contract's words)."""
    rows = []
    for name in [k for k in study.sheets if k.startswith("checks")]:
        sheet = study.sheets[name]
        foundings = study.sheets[name.replace("checks", "foundings")]
        last = {}
        late = foundings.get("followed_from", pd.Series("", index=foundings.index))
        since = {
            f: e or s
            for f, s, e in zip(foundings["founding"], foundings["started"], late, strict=True)
        }
        for date, day in sheet.groupby("date", sort=True):
            named = day[day["founding"] != "rest"]
            for row in named.itertuples():
                last[row.founding] = (int(row.queens_alive), row.workers)
                rows.append((row.founding, date, int(row.queens_alive), row.workers))
            if len(named) < len(day):
                for one, (alive, workers) in last.items():
                    if one not in set(named["founding"]) and alive > 0 and date >= since[one]:
                        rows.append((one, date, alive, workers))
    return pd.DataFrame(rows, columns=["founding", "date", "queens_alive", "workers"])


designs = st.builds(
    Design,
    foundings=st.integers(2, 40),
    sizes=st.sampled_from([(1, 3), (1, 2, 4), (1,), (2, 6)]),
    keepers=st.integers(1, 3),
    look_every=st.integers(1, 20),
    calendar=st.sampled_from(CALENDARS),
    delayed=st.sampled_from([0.0, 0.3]),
    removals=st.sampled_from([0.0, 0.6]),
    seen=st.sampled_from([0.0, 0.5]),
    blank=st.sampled_from([0.0, 0.1]),
    winter=st.sampled_from([None, dt.date(2025, 10, 15)]),
)


@given(designs, st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_counts_obey_the_book(design, seed):
    study = simulate_study(design, TRUTH, seed)
    foundings = table(study, "foundings").set_index("founding")
    checks, events = spread_rest(study), table(study, "events")
    outs = events[events["event"] == "queens-out"] if len(events) else events
    taken = dict(zip(outs["founding"], outs["date"], strict=True)) if len(outs) else {}
    fates = study.fates.set_index("founding")
    assert set(checks["founding"]) <= set(foundings.index)
    for one, rows in checks.groupby("founding"):
        started = foundings.loc[one, "started"]
        assert rows["date"].is_monotonic_increasing
        assert rows["date"].is_unique
        assert rows["date"].min() >= started
        left = np.concatenate([[foundings.loc[one, "queens"]], rows["queens_alive"]])
        assert (np.diff(left) <= 0).all()
        assert (left[:-1] > 0).all()  # nobody looks on after the last queen is gone
        if one in taken:
            after = rows.loc[rows["date"] > taken[one], "queens_alive"]
            upto = rows.loc[rows["date"] <= taken[one], "queens_alive"]
            assert taken[one] in set(rows["date"])
            assert upto.iloc[-1] >= 2
            assert after.empty or after.iloc[0] <= upto.iloc[-1] - 1
        first = rows.loc[~rows["workers"].isin(["", "0"]), "date"]
        if len(first):
            day = (pd.Timestamp(first.iloc[0]) - pd.Timestamp(started)).days
            assert fates.loc[one, "first_worker"] <= day


def test_seed_decides_all():
    a, b, c = (simulate_study(Design(foundings=20), TRUTH, seed) for seed in (5, 5, 6))
    assert all(
        x.equals(y) if isinstance(x, pd.DataFrame) else x == y
        for x, y in zip(a.sheets.values(), b.sheets.values(), strict=True)
    )
    assert not a.sheets["checks.csv"].equals(c.sheets["checks.csv"])


def test_blocks_hold_every_size_once_and_ids_leave_no_gap():
    study = simulate_study(Design(foundings=60, sizes=(1, 2, 4)), TRUTH, 1)
    sheet = study.sheets["foundings.csv"]
    for _, block in sheet.groupby("block"):
        assert sorted(block["queens"]) == [1, 2, 4]
        assert block["genus"].nunique() == block["keeper"].nunique() == 1
    for keeper, rows in sheet.groupby("keeper"):
        assert list(rows["founding"]) == [f"{keeper}-{i + 1:02d}" for i in range(len(rows))]


def test_clean_study_is_looked_at_to_the_horizon():
    calm = {"Lasius": GenusTruth(log_hazard=-20.0, log_hazard_workers=-20.0, rivalry=0.0)}
    study = simple_study(6, calm, look_every=7, horizon=160, seed=2)
    assert set(study.sheets) == {"study.toml", "foundings.csv", "checks.csv"}
    checks = study.sheets["checks.csv"].merge(study.sheets["foundings.csv"], on="founding")
    day = (pd.to_datetime(checks["date"]) - pd.to_datetime(checks["started"])).dt.days
    assert sorted(set(day)) == [*range(7, 160, 7), 160]
    assert (checks["queens_alive"] == checks["queens"]).all()
    assert (study.fates["alive"] == study.fates["queens"]).all()


def test_shelf_days_say_the_same_with_fewer_rows():
    study = simulate_study(Design(foundings=40, calendar="shelf", keepers=2), TRUTH, 3)
    written, meant = table(study, "checks"), spread_rest(study)
    assert (written["founding"] == "rest").sum() > 20
    assert len(meant) > 1.5 * len(written)
    days = pd.to_datetime(meant.loc[meant["founding"].str.startswith("K1"), "date"])
    looked = days[~days.isin(pd.to_datetime(table(study, "foundings")["started"]))]
    assert looked.dt.dayofweek.nunique() == 1


def test_a_founding_lost_before_it_was_met_is_never_known():
    harsh = Truth({"Lasius": GenusTruth(log_hazard=math.log(0.05), frailty=0.0)})
    study = simulate_study(Design(foundings=200, delayed=1.0), harsh, 4)
    sheet, checks = study.sheets["foundings.csv"], study.sheets["checks.csv"]
    assert 0 < len(sheet) < 120
    entry = checks.groupby("founding", sort=False)["date"].min()
    assert (entry == sheet.set_index("founding")["followed_from"]).all()
    assert (checks.groupby("founding", sort=False)["queens_alive"].first() > 0).all()


def test_keepers_and_flights_differ_when_told_to():
    apart = Truth(
        {"Lasius": GenusTruth(log_hazard=math.log(0.01), mated=0.0)},
        level_sds={"keeper_before": 1.5},
    )
    alike = Truth({"Lasius": GenusTruth(log_hazard=math.log(0.01), mated=0.0)})
    spread = []
    for truth in (apart, alike):
        study = simulate_study(Design(foundings=1200, sizes=(1,), keepers=6), truth, 5)
        keeper = study.fates["founding"].str[:2]
        spread.append(study.fates.groupby(keeper)["alive"].mean().std())
    assert spread[0] > 0.1 > 2 * spread[1]


CALM = GenusTruth(log_hazard=math.log(1e-6), mated=1.0, within_days=0.05)
GIVEN = {"housing": ("test-tube", "box"), "depth_mm": (10.0, 20.0, 60.0)}


def test_covariates_move_what_they_are_said_to_move_and_stand_in_the_sheet():
    slopes = {"first_worker": {"housing: box": 0.3, "depth_mm": 0.01}}
    design = Design(foundings=600, sizes=(1,), covariates=GIVEN)
    study = simulate_study(design, Truth({"Lasius": CALM}, slopes=slopes), 7)
    sheet, day = study.sheets["foundings.csv"], np.log(study.fates["first_worker"].astype(float))
    assert sheet["housing"].value_counts().to_dict() == {"test-tube": 300, "box": 300}
    dish, depth = sheet["housing"] == "box", sheet["depth_mm"].astype(float)
    design_matrix = np.column_stack([np.ones(600), dish, depth - depth.mean()])
    at_tube, by_dish, by_depth = np.linalg.lstsq(design_matrix, day)[0]
    assert by_dish == pytest.approx(0.3, abs=0.02)
    assert by_depth == pytest.approx(0.01, abs=0.0006)
    # at the mean of the study the genus has its own median
    assert at_tube + by_dish / 2 == pytest.approx(CALM.log_median_day, abs=0.02)
    assert Truth.from_json(study.truth.as_json()).slopes == slopes


def test_covariates_that_move_nothing_leave_every_fate_alone():
    plain = simulate_study(Design(foundings=40), TRUTH, 8).fates
    given = simulate_study(Design(foundings=40, covariates=GIVEN), TRUTH, 8).fates
    pd.testing.assert_frame_equal(plain, given)


def test_covariates_move_survival_and_mating_too():
    design = Design(foundings=600, sizes=(1,), covariates=GIVEN)
    mortal = GenusTruth(log_hazard=math.log(0.01), mated=0.0, frailty=0.0)
    half = GenusTruth(log_hazard=math.log(1e-6), mated=0.5)
    for own, part in ((mortal, "before"), (half, "mated")):
        slopes = {part: {"housing: box": 1.0}}
        study = simulate_study(design, Truth({"Lasius": own}, slopes=slopes), 9)
        box = (study.sheets["foundings.csv"]["housing"] == "box").to_numpy()
        if part == "before":
            safe = (study.fates["lost"] > 30).to_numpy()
            found = [np.log(-np.log(safe[rows].mean())) for rows in (box, ~box)]
        else:
            mated = np.isfinite(study.fates["first_worker"].astype(float)).to_numpy()
            found = [np.log(mated[rows].mean() / (1 - mated[rows].mean())) for rows in (box, ~box)]
        assert found[0] - found[1] == pytest.approx(1.0, abs=0.4)


@pytest.mark.parametrize(
    ("slopes", "message"),
    [({"first_worker": {"feeding: fed": 1.0}}, "gives out no 'feeding'"),
     ({"first_worker": {"housing: soil": 1.0}}, "no founding has 'soil'"),
     ({"hatching": {"housing: box": 1.0}}, "'hatching' is none of before")],
)  # fmt: skip
def test_slopes_of_what_is_not_there_are_refused(slopes, message):
    with pytest.raises(ValueError, match=message):
        simulate_study(Design(foundings=8, covariates=GIVEN),
                       Truth({"Lasius": CALM}, slopes=slopes), 1)  # fmt: skip
    with pytest.raises(ValueError, match="laid out already"):
        simulate_study(Design(foundings=8, covariates={"size": (1, 2)}), TRUTH, 1)


def test_keepers_and_seasons_move_what_they_are_said_to_move():
    own = {"Lasius": GenusTruth(log_hazard=math.log(1e-6), mated=1.0, within_days=0.1)}
    design = Design(foundings=900, sizes=(1,), keepers=6, flight_span=1)

    def days(seed=5, **sds):
        fates = simulate_study(design, Truth(own, sds), seed).fates
        return np.log(fates["first_worker"].astype(float)), fates["founding"].str[:2]

    day, keeper = days(keeper_first_worker=0.3)
    plain, _ = days()
    assert day.groupby(keeper).mean().std() > 0.1 > 4 * plain.groupby(keeper).mean().std()
    seasons = [days(seed, season_first_worker=0.4)[0].mean() for seed in range(6)]
    assert np.std(seasons) > 0.15
    assert np.std([days(seed)[0].mean() for seed in range(6)]) < 0.02
    with pytest.raises(ValueError, match="'keeper' is none of"):
        Truth(own, {"keeper": 0.3})


def test_first_brood_is_negative_binomial():
    """Mean mu, variance mu + mu^2 / r with r = 1 / brood_spread^2 (counts of 0 become 1)."""
    own = GenusTruth(log_brood=math.log(20.0), brood_ratio=0.5, brood_spread=0.3)
    got = first_brood(200_000, 3, own, np.random.default_rng(6))
    mu = 20 * math.exp(0.5)
    variance = mu + mu**2 * 0.09
    assert abs(got.mean() - mu) < 4 * math.sqrt(variance / 200_000)
    assert got.var() == pytest.approx(variance, rel=0.02)
    assert got.var() != pytest.approx(mu, rel=0.5)  # Poisson


def test_workers_are_none_before_the_first_and_the_brood_at_thirty_days():
    days = np.array([[39.9, 40.0, 52.0, 70.0, 85.0, 135.0]])
    count = workers_seen(days, np.array([40.0]), np.array([13]))
    assert count[0].tolist() == [0, 1, 6, 13, 13, 25]


def test_counts_above_ten_are_exact_only_near_day_thirty():
    study = simple_study(60, {"Lasius": GenusTruth(log_brood=3.5, brood_spread=0.1)}, seed=7)
    checks = study.sheets["checks.csv"].merge(study.sheets["foundings.csv"], on="founding")
    checks = checks.merge(study.fates[["founding", "first_worker"]], on="founding")
    day = (pd.to_datetime(checks["date"]) - pd.to_datetime(checks["started"])).dt.days
    since = day - checks["first_worker"]
    plus = checks["workers"] == "10+"
    assert plus.any()
    assert (abs(since[plus] - 30) > 7).all()
    exact = checks.loc[~plus & (abs(since - 30) > 7), "workers"].astype(int)
    assert exact.max() <= 10


def test_write_never_overwrites(tmp_path):
    study = simple_study(4, {"Lasius": GenusTruth()})
    folder = study.write(tmp_path / "new")
    assert {p.name for p in folder.iterdir()} == {
        "study.toml",
        "foundings.csv",
        "checks.csv",
        "truth.json",
    }
    assert b"\r" not in (folder / "checks.csv").read_bytes()
    assert Truth.from_json((folder / "truth.json").read_text()).genera.keys() == {"Lasius"}
    with pytest.raises(StudyError, match="never overwrites"):
        study.write(folder)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"foundings": 0}, "at least 1"),
        ({"delayed": 1.5}, "share"),
        ({"sizes": (1, 1)}, "different whole numbers"),
        ({"calendar": "monthly"}, "must be one of"),
    ],
)
def test_a_season_that_cannot_be_is_refused(changes, words):
    with pytest.raises(ValueError, match=words):
        Design(**changes)


@pytest.mark.bench
def test_ten_thousand_foundings_with_a_million_checks(tmp_path):
    import time

    begin = time.perf_counter()
    calm = {g: GenusTruth(log_hazard=-9.0, log_hazard_workers=-9.0) for g in "ABCDEF"}
    study = simple_study(10_000, calm, look_every=2, horizon=210)
    study.write(tmp_path / "big")
    assert len(study.sheets["checks.csv"]) > 900_000
    assert time.perf_counter() - begin < 20
