"""New foundings that go through winter rest: against the event simulator, and against no winter."""

import dataclasses
import math

import numpy as np
import pytest

from cohort.outcomes import outcomes
from cohort.outcomes.known import known_draws
from cohort.outcomes.quantities import Key
from cohort.plan.chances import chances
from cohort.simulate.events import run
from cohort.simulate.summaries import summaries
from cohort.simulate.truth import GenusTruth, Truth
from cohort.terms.questions import SEEN

BEGINS, DAYS, HORIZON = 64.0, 110.0, 250
COMMON = {
    "founding_steps": (0.5, 0.2, 0.0, -0.2, 0.3),
    "worker_steps": (0.0, 0.3, -0.2, 0.4),
    "doubling": 0.3,
    "rivalry_doubling": -0.2,
    "within_days": 0.3,
    "multi_days": -0.1,
    "mated": 0.8,
    "frailty": 0.6,
    "winter": -0.5,
    "winter_company": 0.8,
}
TRUTH = Truth(
    {
        "Lasius": GenusTruth(
            log_hazard=math.log(0.004), together=-0.4, log_hazard_workers=math.log(0.003),
            rivalry=1.6, last_fight=0.2, log_median_day=math.log(45.0), **COMMON,
        ),
        "Messor": GenusTruth(
            log_hazard=math.log(0.003), together=0.5, log_hazard_workers=math.log(0.002),
            rivalry=0.4, last_fight=0.1, log_median_day=math.log(75.0), **COMMON,
        ),
    }
)  # fmt: skip
SIZES = (1, 2, 4)


def told(truth=TRUTH, winter=(BEGINS, DAYS), horizon=HORIZON):
    draws = dataclasses.replace(known_draws([truth]), winter=winter)
    return outcomes(draws, SIZES, horizon)


@pytest.fixture(scope="module")
def lived():
    """Averages of 60,000 foundings of each kind and size, by day: within winter and after it."""
    out = {}
    for genus, own in TRUTH.genera.items():
        for k in SIZES:
            rng = np.random.default_rng([k, len(genus)])
            cold = np.tile([BEGINS, BEGINS + DAYS], (60_000, 1))
            paths = run(60_000, k, own, rng, HORIZON + 90.0, winter=cold)
            for day in (60.0, 90.0, 110.0, 180.0, HORIZON):
                for row in summaries(paths, (day,), after=(), horizon=day).to_dict("records"):
                    key = (genus, k, row["quantity"], row["reading"], int(day))
                    out[key] = row["mean"], row["se"]
    return out


NAMED = {
    "share_alive_before_workers": "queen_survival",
    "share_alive": "queen_survival",
    "queen_days": "queen_survival",
    "chance_by_day": "first_worker",
    "chance_per_founding": "colony",
    "chance_lasting": "colony",
    "colonies_per_queen": "colony",
}


def gaps(post, lived):
    """Errors beyond four standard errors of the simulator and the error of the grid."""
    out, count = {}, 0
    for (genus, k, name, reading, day), (mean, se) in lived.items():
        key = Key(NAMED.get(name, ""), name, k, day, reading)
        if key not in post.values:
            continue
        count += 1
        allowed = 0.4 if name == "queen_days" else 0.003
        error = float(post.values[key][0, post.kinds.index(genus)]) - mean
        if abs(error) > allowed + 4 * se:
            out[genus, k, name, reading, day] = error, se
    return out, count


@pytest.mark.parametrize("horizon", [110, 180, HORIZON])
def test_outcomes_are_those_of_the_simulator(lived, horizon):
    wrong, count = gaps(told(horizon=horizon), lived)
    assert wrong == {}
    assert count >= 80


@pytest.mark.parametrize(
    "change", [{"winter": 0.0}, {"winter_company": 0.0}, {"last_fight": 0.6}, {"rivalry": 0.2}]
)
def test_another_winter_would_be_seen(lived, change):
    other = {g: dataclasses.replace(own, **change) for g, own in TRUTH.genera.items()}
    assert gaps(told(Truth(other)), lived)[0]
    assert gaps(told(winter=(BEGINS, DAYS - 30.0)), lived)[0]


def test_a_winter_that_kills_nobody_is_left_out():
    mild = {g: dataclasses.replace(own, winter=-40.0) for g, own in TRUTH.genera.items()}
    there, without = told(Truth(mild)), told(Truth(mild), winter=None, horizon=HORIZON - 110)
    for key, values in there.values.items():
        if key.day == HORIZON and key.quantity != "queen_days":
            same = without.values[key._replace(day=HORIZON - 110)]
            near = 2e-3 if key.quantity == "share_alive" else 1e-9  # its curve is straight between
            np.testing.assert_allclose(values, same, rtol=0, atol=near, err_msg=str(key))


def test_a_winter_beyond_the_horizon_changes_nothing():
    one, other = told(winter=(90.0, 100.0), horizon=90), told(winter=None, horizon=90)
    assert one.values.keys() == other.values.keys()
    assert all(np.array_equal(one.values[key], other.values[key]) for key in one.values)


def test_before_winter_all_is_as_without_it():
    one, other = told(), told(winter=None)
    for key, values in one.values.items():
        if key.day == 60 and key.question != "queens_after_workers":
            np.testing.assert_allclose(values, other.values[key], atol=1e-12, err_msg=str(key))
    assert (one.values[Key("colony", "chance_per_founding", 2, HORIZON, SEEN)] > 0).all()


@pytest.mark.parametrize("day", [50, 100, 230])
def test_what_is_planned_agrees(lived, day):
    draws = dataclasses.replace(known_draws([TRUTH]), winter=(BEGINS, DAYS))
    own = chances(draws, 0, SIZES, day)
    rng = np.random.default_rng(day)
    for s, k in enumerate(SIZES):
        cold = np.tile([BEGINS, BEGINS + DAYS], (40_000, 1))
        paths = run(40_000, k, TRUTH.genera["Lasius"], rng, float(day), winter=cold)
        lost = (paths.alive(float(day)) == 0).mean()
        assert own.lost[0, s] == pytest.approx(lost, abs=0.003 + 4 * math.sqrt(0.25 / 40_000))
