"""Twenty studies drawn, lived through, fitted and ranked: the calibration in small.

Twenty prove little: a program that is altogether wrong piles its ranks up at an end, and its
intervals miss. The long runs lie in ``tests/slow/results``.
"""

from cohort.calibrate import Task, calibrate, collected, summary
from cohort.calibrate.ranks import KEPT


def test_twenty_studies_are_drawn_fitted_and_ranked(tmp_path):
    calibrate(tmp_path, range(9001, 9021), Task())
    ranks, record = collected(tmp_path)
    assert len(record) == len(ranks) == 20
    assert (record["failed"] != "").sum() <= 1
    assert ranks.notna().all(axis=None)
    assert ((ranks >= 0) & (ranks <= KEPT)).all(axis=None)
    table = summary(ranks, KEPT)
    assert len(table) == 115
    assert 0.84 < table["coverage"].mean() < 0.96
    assert 0.42 < table["mean_rank"].mean() < 0.58
    assert (table["outside"] == 0).sum() >= 113
