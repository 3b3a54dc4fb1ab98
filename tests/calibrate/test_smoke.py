"""Twenty studies drawn, lived through, fitted and ranked: the calibration in small.

The same twenty that ``cohort prove`` makes, held by the same rules. Twenty prove little: a program
that is altogether wrong piles its ranks up at an end, and its intervals miss. The long runs lie in
``tests/slow/results``; that a fault of the program is seen here is in ``test_prove_whole.py``.
"""

import pytest

from cohort.calibrate.ranks import KEPT
from cohort.prove import twenty


@pytest.fixture(scope="module")
def ranked():
    return twenty.ranked(twenty.SEED)


def test_twenty_studies_are_drawn_fitted_and_ranked(ranked):
    ranks, record = ranked
    assert len(record) == len(ranks) == twenty.STUDIES == 20
    assert ranks.notna().all(axis=None)
    assert ((ranks >= 0) & (ranks <= KEPT)).all(axis=None)
    assert ranks.shape[1] == 115
    lines = twenty.calibrated(ranks, record)
    assert all(line.holds for line in lines), [line for line in lines if not line.holds]


def test_ranks_of_ranges_half_as_wide_would_be_seen(ranked):
    """As if the posterior were twice as sure as it is: ranks drawn away from the middle."""
    ranks, record = ranked
    sure = (2 * ranks - KEPT // 2).clip(0, KEPT)
    wrong = {line.what.key for line in twenty.calibrated(sure, record) if not line.holds}
    assert "line_coverage" in wrong
