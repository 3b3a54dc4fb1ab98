"""Where sharing a container truly gains, likely ranges say so, and no word names the wrong way.

Two genera, 64 foundings of one queen or three by lot, looks every week, to day 160. The bounds were
set before any study was compared; of 14 ranges of 90 %, 12.6 hold the truth on average, and fewer
than 11 do with chance .04.
"""

import pytest
from scipy.stats import binom

from cohort.simulate.gains import world_of_gain

pytestmark = pytest.mark.slow

STUDIES = 14
#: Studies of 14 whose likely range must hold the truth, by gain.
LEAST = {0.29: 11, 0.14: 12, 0.07: 12}
#: Studies in which the word "clearly" may never name the wrong way: a hundred in all.
HUNDRED = {0.29: 14, 0.14: 14, 0.07: 14, 0.0: 29, -0.14: 29}


@pytest.mark.parametrize("gain", LEAST)
def test_likely_ranges_hold_a_gain(compared, gain):
    table = compared([world_of_gain(gain)], STUDIES)
    (row,) = table.to_dict("records")
    assert row["any_seen"] >= LEAST[gain]


def test_the_chance_of_missing_the_bounds_is_as_said():
    assert binom.cdf(10, STUDIES, 0.9) == pytest.approx(0.044, abs=0.001)


def test_clearly_is_never_said_of_the_wrong_way(compared):
    """Never of the same queens both ways; hardly ever of anything else.

    A hundred studies say "clearly" of one contrast or another some two thousand times; one or two
    of these may be of an effect of nothing. Both that came up in the first run were hazard ratios
    whose logs truly are 0.01 and 0.05 the other way; the second bound was set after it.
    """
    assert sum(HUNDRED.values()) == 100
    tables = [compared([world_of_gain(gain)], count) for gain, count in HUNDRED.items()]
    assert [int(table["wrong_same"].iloc[0]) for table in tables] == [0] * len(HUNDRED)
    assert sum(int(table["wrong"].iloc[0]) for table in tables) <= 2
