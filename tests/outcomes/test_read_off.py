"""Medians and values read off curves, by hand."""

import numpy as np
import pytest

from cohort.outcomes.quantities import _at, _median_day


@pytest.mark.parametrize(
    ("workers", "day"),
    [
        ([0.0, 0.0, 0.2, 0.6, 0.8], 5.0),  # half of .8 lies midway between days 4 and 6
        ([0.0, 0.4, 0.4, 0.8, 0.8], 2.0),  # reached exactly at an edge, then a pause
        ([0.0, 0.6, 0.8, 0.8, 0.8], 4.0 / 3.0),  # within the first cell
        ([0.0, 0.0, 0.0, 0.0, 0.0], 0.0),  # no workers at all: nought over nought would be nan
    ],
)
def test_the_median_day_lies_in_the_cell_that_reaches_half(workers, day):
    # Faults: the first edge not reached taken for the first reached; cells mislaid by one.
    edges = 2.0 * np.arange(5)
    assert _median_day(np.array([[workers]]), edges)[0, 0] == pytest.approx(day)


@pytest.mark.parametrize(
    ("bend", "day", "value"), [(10, 13, 3), (10, 7, 0), (6, 1, 0), (14, 19, 5)]
)
def test_a_day_is_read_off_the_four_nearest_edges(bend, day, value):
    # A straight curve with one bend outside the four: one edge too many or too far would show.
    points = 2.0 * np.arange(11)
    curve = np.maximum(points - bend, 0.0)
    assert _at(curve, points, day) == pytest.approx(value, abs=1e-12)
