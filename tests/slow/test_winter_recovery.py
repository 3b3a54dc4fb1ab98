"""Recovery through winter: a large study lived through by the simulator, with a winter of its own.

Half of the foundings start in autumn and have their first workers in spring.
"""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from cohort.history import history
from cohort.model.asked import fit
from cohort.outcomes import outcomes, posterior_draws
from cohort.outcomes.quantities import Key, colony
from cohort.simulate.design import Design
from cohort.simulate.events import run
from cohort.simulate.season import simulate_study
from cohort.simulate.truth import GenusTruth, Truth
from cohort.study import read_study
from cohort.terms.questions import SEEN

pytestmark = pytest.mark.slow

SHARED = {
    "within_days": 0.2, "mated": 0.85, "frailty": 0.5, "winter": -0.3, "winter_company": 1.0
}  # fmt: skip
TRUTH = {
    "Lasius": GenusTruth(
        log_hazard=math.log(0.004), together=-0.3, rivalry=1.8, last_fight=0.3,
        log_median_day=math.log(45.0), **SHARED,
    ),
    "Messor": GenusTruth(
        log_hazard=math.log(0.003), together=0.5, rivalry=0.3, last_fight=0.1,
        log_median_day=math.log(60.0), **SHARED,
    ),
}  # fmt: skip
DESIGN = Design(
    foundings=600, sizes=(1, 3), look_every=10, horizon=300, first_flight=dt.date(2025, 7, 20),
    flight_span=80, winter=dt.date(2025, 11, 1), spring=dt.date(2026, 3, 1),
)  # fmt: skip


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    folder = tmp_path_factory.mktemp("winter") / "study"
    simulate_study(DESIGN, Truth(TRUTH), 12).write(folder)
    past = history(read_study(folder, today=dt.date(2026, 11, 1)))
    return past, fit(past, seed=2, draws=400)


def test_what_is_true_of_winter_is_found(found):
    past, made = found
    assert len(past.winters) > 300
    for name in ("winter", "winter_company"):
        draws = made.posterior[name].to_numpy().ravel()
        off = (draws.mean() - SHARED[name]) / draws.std()
        assert abs(off) < 3, (name, draws.mean(), draws.std())
        assert draws.std() < 0.4  # far from its prior: 1 and .7
    days = made.posterior["first_worker"].mean(("chain", "draw")).to_numpy()
    # by the calendar half of the first workers came after winter, 120 days later
    np.testing.assert_allclose(days, [math.log(45.0), math.log(60.0)], atol=0.08)


def test_colonies_after_the_first_winter_are_as_many_as_there_are(found):
    past, made = found
    drawn = posterior_draws(made.posterior, made.design, made.priors, seed=1)
    begins, days = drawn.winter
    post, off = outcomes(drawn, (1, 3), past.horizon), []
    for g, (genus, own) in enumerate(TRUTH.items()):
        for k in (1, 3):
            cold = np.tile([begins, begins + days], (100_000, 1))
            paths = run(100_000, k, own, np.random.default_rng(k), float(past.horizon), winter=cold)
            for day in (begins + days, past.horizon):
                known = ((paths.first_worker <= day) & (paths.alive(day) > 0)).mean()
                said = post.values[colony(k, int(day), SEEN)][:, g]
                off.append((said.mean() - known) / said.std())
                assert abs(said.mean() - known) < 0.1, (genus, k, day, said.mean(), known)
    # 150 foundings of each kind and size: a share of a half is known to .04
    assert np.abs(off).max() < 3.3, off
    assert np.sqrt(np.mean(np.square(off))) < 2, off
    key = Key("colony", "same_queens_any", 3, int(begins + days), SEEN)
    assert key in post.values
