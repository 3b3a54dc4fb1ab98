"""Recovery on degree-days: a season on two shelves five degrees apart, with swings and a summer."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from cohort.comparison import compare
from cohort.forecast import due
from cohort.history import history
from cohort.model.asked import fit
from cohort.outcomes.basis import results_basis
from cohort.simulate.design import Design
from cohort.simulate.season import simulate_study
from cohort.simulate.truth import GenusTruth, Truth
from cohort.simulate.warm import Shelves
from cohort.study import read_study

pytestmark = pytest.mark.slow
SPREAD, THRESHOLD = 0.1, 13.0
DAYS = {"Lasius": 45.0, "Messor": 38.0}


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    truth = Truth(
        {g: GenusTruth(within_days=SPREAD, log_median_day=math.log(d)) for g, d in DAYS.items()},
        threshold=THRESHOLD,
    )
    design = Design(foundings=80, horizon=150, shelves=Shelves((20.0, 25.0)))
    folder = tmp_path_factory.mktemp("shelves") / "study"
    simulate_study(design, truth, 1).write(folder)
    return read_study(folder, today=dt.date(2026, 6, 1))


def test_the_threshold_is_found_and_plain_days_spread_wider(study, tmp_path):
    made = compare(study, seed=3)
    assert made.results.settled, made.results.diagnosis["reasons"]
    notes = " ".join(made.results.diagnosis["notes"])
    assert "80 of 80 foundings run on degree-days" in notes
    drawn = made.fit.posterior
    threshold = drawn["warm_threshold"].to_numpy().ravel()
    low, high = np.quantile(threshold, [0.05, 0.95])
    assert low < THRESHOLD < high
    reference = made.history.warmth.reference
    # the truth tells days at 22.5 C, the mean of the shelves; the fit at that of the first weeks
    for i, (genus, days) in enumerate(sorted(DAYS.items())):
        own = np.exp(drawn["first_worker"].to_numpy().reshape(-1, 2)[:, i])
        true = days * (22.5 - THRESHOLD) / (reference - THRESHOLD)
        assert np.quantile(own, 0.02) < true < np.quantile(own, 0.98), genus
        constant = own * (reference - threshold)  # degree-days
        assert np.corrcoef(threshold, constant)[0, 1] < -0.7
    plain = fit(history(study), seed=3, draws=500)
    tau, wider = (float(f["within_days"].mean()) for f in (drawn, plain.posterior))
    assert tau == pytest.approx(SPREAD, abs=0.04)
    assert wider > 1.7 * tau
    assert "warm_threshold" not in plain.posterior

    made.write(tmp_path / "results")
    basis = results_basis(tmp_path / "results")
    assert basis.reference == pytest.approx(reference)
    assert np.median(basis.threshold) == pytest.approx(np.median(threshold), abs=0.2)
    told = due(study, dt.date(2025, 7, 20), basis)
    assert "complete shelf log" in " ".join(told.says)
    print({"threshold": (threshold.mean(), low, high), "tau": tau, "plain": wider})
