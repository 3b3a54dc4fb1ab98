"""The committed tables of the long runs of the calibration, held against the rules.

The long run is ``python analyses/calibrate.py``; its table, picture and record lie in ``results``
with seeds, versions and date. Saeilynoja et al. 2022, doi 10.1007/s11222-022-10090-6; Talts et
al. 2018, arXiv 1804.06788.
"""

import json
from pathlib import Path

import pandas as pd
import pytest

from cohort.calibrate import Task, fingerprint, harsh, large
from cohort.model.priors import Priors

RESULTS = Path(__file__).parent / "results"


def committed(name):
    record = json.loads((RESULTS / f"{name}.json").read_text("utf-8"))
    return record, pd.read_csv(RESULTS / f"{name}.csv")


def test_the_committed_run_is_calibrated():
    """Reads the committed table, makes no fit: what the long run found, held against the rules."""
    record, table = committed("calibration")
    assert record["studies"] >= 300
    # a truth in which no founding can enter late is drawn now and then, since hazards may be high
    assert record["not_drawn"] <= 0.01 * record["studies"]
    assert record["outside_bands"] == []
    assert (table["outside"] == 0).all()
    assert table["coverage"].between(0.84, 0.96).all(), table.nsmallest(5, "coverage")
    assert abs(record["pooled_coverage"] - 0.9) < 0.02
    assert record["failed"] < 0.02 * record["studies"]


def test_large_studies_are_calibrated_as_they_are_sampled():
    """Studies of hundreds of foundings are sampled with larger steps than small ones."""
    record, table = committed("calibration-large")
    assert record["studies"] >= 40
    assert record["foundings"] == [200, 400]
    assert record["not_drawn"] == 0
    assert record["outside_bands"] == []
    assert (table["outside"] == 0).all()
    small = committed("calibration")[0]
    count = record["studies"] + small["studies"]
    pooled = sum(r["studies"] * r["pooled_coverage"] for r in (record, small)) / count
    assert abs(pooled - 0.9) < 0.02
    # 40 studies: a coverage of .9 is known to within .05
    assert abs(record["pooled_coverage"] - 0.9) < 0.05
    assert record["failed"] <= 0.02 * record["studies"]


@pytest.mark.parametrize("name", ["calibration", "calibration-large"])
def test_divergences_of_every_study_are_counted(name):
    record, _ = committed(name)
    # 9 of 300 small studies; 5 of 40 large ones, of one to three draws each (acceptance .8)
    assert record["diverged"] <= 0.15 * record["studies"]
    assert record["divergences"] >= record["most_divergences"] >= (record["diverged"] > 0)
    assert {"diverged_kept", "divergences_kept", "most_divergences_kept"} <= set(record)


def test_the_same_harsh_task_read_rightly_stays_inside():
    """The control of the mutant: the same losses and looks, dated as the model dates them."""
    record, table = committed("calibration-harsh")
    assert record["studies"] >= 95
    assert record["mutant"] == ""
    assert record["outside_bands"] == []
    assert abs(record["pooled_coverage"] - 0.9) < 0.02
    assert (abs(table["coverage"] - 0.9) < 0.06 * (300 / record["studies"]) ** 0.5).all()


def test_the_committed_run_of_the_mutant_is_not():
    """Losses dated at the look, where losses are common and looks weeks apart."""
    record, table = committed("calibration-dated-at-the-look")
    assert record["mutant"] == "dated at the look"
    assert record["studies"] >= 95
    assert record["foundings"] == committed("calibration-harsh")[0]["foundings"]
    assert len(record["outside_bands"]) >= 40
    assert record["pooled_coverage"] < 0.85
    # What goes wrong first is what the date of a loss bears on: the course of the hazard over the
    # days, and with it how many are alive before workers.
    assert {"walk_sd[0]", "walk[0]", "walk[1]"} <= set(table.nlargest(10, "outside")["quantity"])


TASKS = {
    "calibration": Task(),
    "calibration-large": large(),
    "calibration-harsh": harsh(),
    "calibration-dated-at-the-look": harsh("dated at the look"),
}


@pytest.mark.parametrize("name", TASKS)
def test_the_committed_run_is_of_the_model_as_it_is(name):
    """A change of likelihood, priors or outcomes makes a calibration stale: it is run anew."""
    then, now = committed(name)[0]["model"], fingerprint(TASKS[name])
    assert list(then) == list(now)
    stale = {key: (then[key], now[key]) for key in then if now[key] != pytest.approx(then[key])}
    assert not stale, "run analyses/calibrate.py again, as tests/slow/results/README.md says"


def test_the_model_is_known_by_what_it_says():
    """Another prior, and a loss read otherwise, are each seen; how it is sampled is not."""
    as_is = fingerprint(Task())
    wider = fingerprint(Task(priors=Priors().but(frailty_sd={"scale": 0.8})))
    assert wider["log_prior, study 1"] != pytest.approx(as_is["log_prior, study 1"])
    mutant = fingerprint(Task(mutant="dated at the look"))
    assert mutant["log_likelihood, study 1"] != pytest.approx(as_is["log_likelihood, study 1"])
    assert mutant["log_prior, study 1"] == as_is["log_prior, study 1"]
    assert fingerprint(Task(draws=5, accept=0.6)) == as_is
