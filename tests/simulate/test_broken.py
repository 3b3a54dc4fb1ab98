"""Worlds with a broken assumption: sheets without an error, the clean one as the other simulator.

What is broken in each is looked for in the sheets or in the lives themselves, beside the clean
world, where it is not to be found.
"""

import dataclasses
import datetime as dt
import math

import numpy as np
import pandas as pd
import pytest

from cohort.simulate.broken import CLEAN, GENERA, SCENARIOS
from cohort.simulate.daily import STEP, lived
from cohort.simulate.events import run
from cohort.simulate.readings import by_reading
from cohort.simulate.scenario import broken_study, true_gains
from cohort.simulate.truth import GenusTruth
from cohort.study import read_study
from cohort.terms.questions import QUESTIONS, READINGS

TODAY = dt.date(2026, 11, 1)


def plan_of(n, size, genus="Lasius", **columns):
    return pd.DataFrame({"genus": genus, "size": np.full(n, size), **columns})


# --- the day by day simulator beside the event simulator ------------------------------------------


@pytest.mark.parametrize("size", [1, 3, 6])
def test_both_simulators_live_alike(size):
    """Nothing shared but the truth; all means within four Monte Carlo errors (and the step)."""
    truth = GenusTruth(
        log_hazard=math.log(0.006), together=0.5, doubling=0.3,
        founding_steps=(0.6, 0.3, 0, -0.4, -0.2), log_hazard_workers=math.log(0.003),
        worker_steps=(0, 0.3, -0.2, -0.5), rivalry=1.4,
        rivalry_doubling=0.3, last_fight=0.3, mated=0.7, frailty=0.6,
    )  # fmt: skip
    n, days = 12_000, (20, 50, 90, 160)
    ours = lived(plan_of(n, size), {"Lasius": truth}, 161, np.random.default_rng(1))
    theirs = run(n, size, truth, np.random.default_rng(2), 161.0)
    pairs = {}
    for day in days:
        left = (ours.deaths > day).sum(axis=1)
        workers = ours.first_worker <= day, theirs.first_worker <= day
        pairs[f"alive {day}"] = left, theirs.alive(day)
        pairs[f"none {day}"] = left == 0, theirs.alive(day) == 0
        pairs[f"workers {day}"] = workers
        mated = ((ours.deaths > day) & ours.mated).sum(axis=1)
        pairs[f"lasting {day}"] = (
            workers[0] & (mated > 0),
            workers[1] & (theirs.mated_alive(day) > 0),
        )
    for name, (a, b) in pairs.items():
        error = math.sqrt((np.var(a) + np.var(b)) / n)
        assert abs(np.mean(a) - np.mean(b)) <= 4 * error + 0.002, name


def test_a_last_fight_takes_both_at_one_moment():
    truth = GenusTruth(log_hazard_workers=math.log(0.002), rivalry=3.0, last_fight=1.0, mated=1.0)
    lives = lived(plan_of(2000, 2), {"Lasius": truth}, 180, np.random.default_rng(3))
    late = lives.deaths.min(axis=1) > lives.first_worker + STEP  # a step has one phase
    fought = late & np.isfinite(lives.deaths).all(axis=1)
    assert fought.sum() > 500
    assert (lives.deaths[fought, 0] == lives.deaths[fought, 1]).all()


# --- readings -------------------------------------------------------------------------------------


def test_readings_by_hand():
    """Three queens, two mated: two left. Alike: a pair without a mated one cannot be drawn."""
    got = by_reading(np.array([2, 1, 1, 0, 3]), np.array([2, 2, 1, 2, 0]), 3)
    np.testing.assert_allclose(got["seen"], [1, 1, 1, 0, 1])
    np.testing.assert_allclose(got["alike"], [1, 2 / 3, 1 / 3, 0, 0])
    np.testing.assert_allclose(got["mated-first"], [1, 0, 0, 0, 0])


def test_readings_are_in_order_and_alike_is_what_befalls_where_queens_die_alike():
    truth = dataclasses.replace(GENERA["Lasius"], mated=0.6)
    lives = lived(plan_of(20_000, 3), {"Lasius": truth}, 160, np.random.default_rng(5))
    here = lives.deaths > 160
    got = by_reading(here.sum(axis=1), lives.mated.sum(axis=1), 3)
    assert (got["seen"] >= got["alike"]).all()
    assert (got["alike"] >= got["mated-first"]).all()
    lasting = (here & lives.mated).any(axis=1)
    assert got["alike"].mean() == pytest.approx(lasting.mean(), abs=4 * 0.5 / math.sqrt(20_000))
    assert abs(got["seen"].mean() - lasting.mean()) > 0.03


# --- sheets ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def sent(tmp_path_factory):
    """Study of every world, read from its sheets; an error in a sheet stops it."""
    out = {}
    for name, scenario in SCENARIOS.items():
        folder = broken_study(scenario, 3).write(tmp_path_factory.mktemp("worlds") / name)
        out[name] = read_study(folder, today=TODAY)
    return out


def test_every_world_sends_sheets_without_an_error(sent):
    for name, study in sent.items():
        assert len(study.foundings) == SCENARIOS[name].design.foundings
        assert set(study.foundings["arm"]) == {"single", "multi"}


def test_every_world_says_what_it_breaks():
    for name, scenario in SCENARIOS.items():
        assert scenario.name == name
        assert scenario.says.endswith(".")
        assert "\n" not in scenario.says
        assert bool(scenario.breaks) == bool(scenario.touches) == (name != "clean")
        assert set(scenario.touches) <= set(QUESTIONS)


def test_a_seed_gives_the_same_sheets_and_another_number_of_foundings_can_be_had():
    one, two = (broken_study(CLEAN.of(24), 9) for _ in range(2))
    assert one.sheets["checks.csv"].equals(two.sheets["checks.csv"])
    assert len(one.sheets["foundings.csv"]) == 24
    assert not broken_study(CLEAN.of(24), 10).sheets["checks.csv"].equals(one.sheets["checks.csv"])


def share_single(study, of):
    return (study.foundings[of]["queens"] == 1).mean()


def test_good_queens_sit_singly_and_nothing_but_the_lot_shows_it(sent):
    chosen = sent["good-queens-singly"].foundings
    assert set(chosen["assigned"]) == {"chosen"}
    assert chosen["mating_seen"].isna().all()
    assert set(sent["clean"].foundings["assigned"]) == {"random"}
    noted = sent["seen-mating-singly"]
    seen = noted.foundings["mating_seen"].fillna(0) > 0
    assert share_single(noted, seen) > share_single(noted, ~seen) + 0.2


def test_good_queens_live_longer():
    """Single foundings are of good queens: fewer are lost than in the clean world."""

    def lost(name):
        sheets = broken_study(SCENARIOS[name].of(2400), 5).sheets
        looks = sheets["checks.csv"].merge(sheets["foundings.csv"][["founding", "queens"]])
        single = looks[looks["queens"] == 1]
        return (single.groupby("founding")["queens_alive"].last() == 0).mean()

    for name in ("good-queens-singly", "seen-mating-singly"):
        assert lost(name) < lost("clean") - 0.05  # three standard errors


def test_looks_follow_losses(sent):
    looks = sent["looks-after-losses"].checks
    first = looks.groupby("founding").head(1).merge(sent["looks-after-losses"].foundings)
    some = first["workers"].fillna(0) == 0
    early = some & ((first["date"] - first["started"]).dt.days < 180)
    assert (first["queens_alive"] < first["queens"])[early].all()
    assert len(looks) < len(sent["clean"].checks) / 5


def test_forgotten_empties_and_accidents(sent):
    def empty(name):
        return (sent[name].checks.groupby("founding")["queens_alive"].last() == 0).sum()

    assert empty("empties-forgotten") < empty("clean") / 2
    events = sent["losses-called-accidents"].events
    assert set(events["other"]) == {"accident"}
    assert len(events) == pytest.approx(0.6 * empty("losses-called-accidents"), rel=0.3)


def test_a_hidden_queen_is_missed_only_beside_workers():
    scenario = SCENARIOS["one-hides"]
    right = broken_study(dataclasses.replace(scenario, sheets=CLEAN.sheets), 4).sheets["checks.csv"]
    wrong = broken_study(scenario, 4).sheets["checks.csv"]
    gap = right["queens_alive"] - wrong["queens_alive"]
    assert set(gap) == {0, 1}
    assert (right["workers"][gap == 1] != "0").all()
    assert (wrong.groupby("founding")["queens_alive"].diff().fillna(0) <= 0).all()


def lives_of(name, n=3000, size=3, seed=8):
    scenario = SCENARIOS[name]
    rng = np.random.default_rng(seed)
    plan = plan_of(n, size, start=rng.integers(0, 60, n), keeper=np.arange(n) % 4)
    plan = scenario.plan(plan, rng).assign(size=size)
    return plan, lived(plan, scenario.truth.genera, 180, rng, scenario.rule)


def test_unmated_queens_die_first():
    for name, least in (("unmated-die-first", 0.15), ("clean", -0.05)):
        _, lives = lives_of(name)
        dead = lives.deaths < 180
        gap = dead[~lives.mated].mean() - dead[lives.mated].mean()
        assert gap > least if least > 0 else abs(gap) < 0.05


def test_large_groups_alone_fight():
    def lost_beside_workers(name, size):
        _, lives = lives_of(name, size=size)
        came = np.isfinite(lives.first_worker)
        since = lives.deaths[came] - lives.first_worker[came, None]
        return ((since > 0) & (since < 30)).sum() / (since > 0).sum()

    two, six = (lost_beside_workers("large-groups-fight", k) for k in (2, 6))
    assert six > 3 * two
    clean = [lost_beside_workers("clean", k) for k in (2, 6)]
    assert clean[1] == pytest.approx(clean[0], rel=0.3)


def test_first_workers_come_in_two_humps():
    for name, humps in (("two-humps", True), ("clean", False)):
        _, lives = lives_of(name)
        log_day = np.log(lives.first_worker[np.isfinite(lives.first_worker)])
        middle = (abs(log_day - math.log(42) + 0.05) < 0.1).mean()
        assert (middle < 0.2) == humps


def test_when_queens_die():
    """Deaths per queen-day: one keeper's nine days, late summer, and company by its days."""
    plan, lives = lives_of("bad-week")
    season = plan["start"].to_numpy()[:, None] + lives.deaths
    struck = (plan["keeper"] == 0).to_numpy()
    week = ((season >= 62) & (season < 71)).mean(axis=1)
    assert week[struck].mean() > 10 * week[~struck].mean()
    plan, lives = lives_of("cold-autumn")
    season = plan["start"].to_numpy()[:, None] + lives.deaths
    autumn = [((season >= a) & (season < a + 20)).sum() / (season >= a).sum() for a in (90, 125)]
    assert autumn[1] > 2 * autumn[0]
    ratios = {}
    for name in ("company-at-first", "clean"):
        early = [(lives_of(name, size=k)[1].deaths < 14).mean() for k in (1, 3)]
        late = []
        for k in (1, 3):
            deaths = lives_of(name, size=k)[1].deaths
            late.append(((deaths > 14) & (deaths < 35)).sum() / (deaths > 14).sum())
        ratios[name] = early[1] / early[0], late[1] / late[0]
    assert ratios["company-at-first"][0] > 1.7 * ratios["clean"][0]
    assert ratios["company-at-first"][1] < 0.7 * ratios["clean"][1]


def test_keepers_of_one_world_differ_and_the_truth_is_of_an_ordinary_one():
    two, same = (true_gains(s, 3, foundings=1500) for s in (SCENARIOS["two-keepers"], CLEAN))
    gap = (two["truth"] - same["truth"]).abs()
    assert (gap <= 4 * np.hypot(two["se"], same["se"])).all()


# --- what is true ---------------------------------------------------------------------------------


def test_true_gains_by_hand():
    """Every queen mated, no company effect, no difference between the ways but rivals: none."""
    plain = GenusTruth(rivalry=0.0, last_fight=0.0, mated=1.0, frailty=0.0, multi_days=0.0)
    truth = dataclasses.replace(CLEAN.truth, genera={"Lasius": plain})
    got = true_gains(dataclasses.replace(CLEAN, truth=truth), 3, foundings=8000)
    assert set(got["reading"]) == set(READINGS)
    every = got[got["genus"] == "average"].set_index(["contrast", "reading"])["truth"]
    # one colony at most from three together; apart three times the chance of one
    one = math.exp(-50 * 0.003 - 130 * 0.002)
    assert every["same_queens_count", "seen"] == pytest.approx(
        1 - (1 - one) ** 3 - 3 * one, abs=0.05
    )
    assert (every["same_queens_any"].abs() < 0.03).all()
    # all mated: all readings are one
    assert every["same_queens_any"].nunique() == 1


def test_a_gain_in_reading_is_least_where_the_mated_die_first():
    got = true_gains(SCENARIOS["unmated-die-first"], 3, foundings=4000)
    by = got[(got["genus"] == "average") & (got["contrast"] == "same_queens_any")]
    value = by.set_index("reading")["truth"]
    assert value["seen"] > value["alike"] > value["mated-first"]
