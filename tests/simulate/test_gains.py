"""Truths made to a gain: counted again with other lives, and by the table of known outcomes."""

import dataclasses

import pytest

from cohort.simulate.gains import DAY, LEAST, MOST, SIZE, gain_of, truth_of_gain
from cohort.simulate.known import known_outcomes

GAINS = (0.30, 0.29, 0.14, 0.10, 0.07, 0.0, -0.07, -0.10, -0.14, -0.30, LEAST, MOST)


@pytest.mark.parametrize("gain", GAINS)
def test_a_truth_gains_what_was_asked_for(gain):
    assert gain_of(truth_of_gain(gain), foundings=100_000, seed=77) == pytest.approx(gain, abs=0.01)


@pytest.mark.parametrize("gain", [0.14, -0.14])
def test_a_colony_as_seen_is_what_known_outcomes_count(gain):
    """Where every queen is mated, a colony as seen and a lasting one are the same."""
    truth = truth_of_gain(gain)
    mated = {name: dataclasses.replace(own, mated=1.0) for name, own in truth.genera.items()}
    truth = dataclasses.replace(truth, genera=mated)
    known = known_outcomes(truth, [SIZE], DAY, foundings=60_000, seed=5)
    rows = known[(known["quantity"] == "same_queens_any") & (known["genus"] == "average")]
    last = rows[rows["day"] == DAY]["truth"]
    assert gain_of(truth, foundings=60_000) == pytest.approx(float(last.iloc[0]), abs=0.01)


def test_what_no_company_gains_is_refused():
    with pytest.raises(ValueError, match="the gain must lie"):
        truth_of_gain(0.5)
