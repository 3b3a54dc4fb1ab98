"""The committed table of published experiments speaks of the model as it is."""

import json
from pathlib import Path

import pytest

from cohort.calibrate import Task, fingerprint

RECORD = Path(__file__).parents[2] / "data" / "published" / "conclusions.json"


def stale(then, now):
    assert list(then) == list(now)
    return {key: (then[key], now[key]) for key in then if now[key] != pytest.approx(then[key])}


def test_the_table_is_of_the_model_as_it_is():
    """A change of likelihood, priors or outcomes makes it stale: it is made anew."""
    then, now = json.loads(RECORD.read_text("utf-8"))["model"], fingerprint(Task())
    told = "run analyses/published_designs.py again, as data/published/README.md says"
    assert not stale(then, now), told
    key = "same_queens_count (seen) of 3 [average], study 2"
    assert set(stale(then, now | {key: now[key] * 1.0001})) == {key}
