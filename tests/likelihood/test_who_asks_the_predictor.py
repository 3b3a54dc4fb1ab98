"""All who ask the predictor: an effect by size or of company acts as the same effect of a genus.

Groups here are of four, one doubling beyond two. So the change per doubling does what the ratio in
company does, the time ratio what the day of the genus does, and neither touches a lone queen. Each
is asked by itself: one that loses an effect, or takes another size, no longer agrees.
"""

import math

import numpy as np
import pytest
from scenes import packed_sets
from scipy.stats import norm

from cohort.likelihood import layout as at
from cohort.likelihood.assembly import in_one, study_by_genus
from cohort.predict.recursion import recurse
from cohort.predict.state_occupancy import state_occupancy

GENUS = np.array([math.log(0.006), 0.4, math.log(0.005), 1.1, 0.2, math.log(40.0)])
ALIKE = [
    (at.S_SIZE_STEP, at.E_TOGETHER),
    (at.S_SIZE_STEP_RIVALRY, at.E_RIVALRY),
    (at.S_MULTI_DAYS, at.E_LOG_DAY),
]
"""What all share, and the effect of a genus that does the same to four queens."""
SIZES = np.array([1, 4])
MOVED = -0.3


def all_share():
    shared = np.zeros(at.SHARED_WIDTH)
    shared[at.WITHIN_DAYS], shared[at.SIGMA], shared[at.LOADING] = 0.2, 0.6, 0.9
    shared[[at.S_SIZE_STEP, at.S_SIZE_STEP_RIVALRY, at.S_MULTI_DAYS]] = 0.2, -0.1, -0.1
    shared[at.S_MATED] = 0.8
    return shared


def new_foundings(genus, shared):
    """Every number that is computed of new foundings, by size: shape (sizes, numbers)."""
    given = genus[None, None], shared[None], np.zeros((1, at.PARTS, 1)), np.ones(1)
    frailty = np.array([-0.8, 0.9]), np.array([0.5, 0.5])
    days = np.array([5, 12]), np.array([3, 9])
    cuts = np.array(at.CUTS1), np.array(at.CUTS2)
    made = recurse(*given, SIZES, 45, *days, *cuts, *frailty)
    return np.concatenate([part[0, 0].reshape(len(SIZES), -1) for part in made], axis=1)


def still_waiting(genus, shared):
    given = genus[None], shared[None], np.zeros((1, at.PARTS, 1)), np.ones(1)
    frailty = np.array([-0.8, 0.9]), np.array([0.5, 0.5])
    return state_occupancy(*given, SIZES, 38.0, *frailty)[0][:, None]


@pytest.mark.parametrize("asked", [new_foundings, still_waiting])
@pytest.mark.parametrize(("common", "effect"), ALIKE)
def test_new_foundings_of_four_feel_it_and_single_ones_do_not(asked, common, effect):
    genus, shared = GENUS.copy(), all_share()
    before = asked(genus, shared)
    genus[effect] += MOVED
    shared[common] += MOVED
    by_genus, by_common = asked(genus, all_share()), asked(GENUS, shared)
    assert by_common[1] == pytest.approx(by_genus[1], abs=1e-13)
    np.testing.assert_array_equal(by_common[0], before[0])
    if (asked, common) != (still_waiting, at.S_SIZE_STEP_RIVALRY):  # none of these has workers
        assert np.abs(by_common[1] - before[1]).max() > 1e-3


def test_groups_are_fertile_by_their_number_of_queens():
    """Where no queen dies: chance of workers 1 - .2^k times that of the day, by log-normal."""
    immortal = GENUS.copy()
    immortal[[at.E_HAZARD1, at.E_HAZARD2]] = -60.0
    shared = all_share()
    shared[at.S_MULTI_DAYS] = 0.0
    given = immortal[None, None], shared[None], np.zeros((1, at.PARTS, 1)), np.ones(1)
    days, cuts = (np.array([20]), np.array([19])), (np.array(at.CUTS1), np.array(at.CUTS2))
    out, _, workers, _ = recurse(*given, SIZES, 20, *days, *cuts, np.zeros(1), np.ones(1))
    by_then = norm.cdf(math.log(38.0 / 40.0) / 0.2)  # edge 19 is day 38, edge 20 day 40
    for s, fertile in enumerate((0.8, 1 - 0.2**4)):
        assert workers[0, 0, s, 19] == pytest.approx(fertile * by_then, abs=1e-12)
        assert out[0, 0, s, 2] == pytest.approx(fertile * 0.5, abs=1e-12)  # colonies as seen
        assert still_waiting(immortal, shared)[s] == pytest.approx(1 - fertile * by_then)


SEEN = [
    (1, ((14.0, 1, 0), (42.0, 1, 1), (70.0, 0, 1))),
    (4, ((14.0, 3, 0), (42.0, 3, 1), (70.0, 1, 1))),
    (4, ((14.0, 4, 0), (42.0, 2, 0), (70.0, 0, 1))),
    (1, ((14.0, 1, 0), (42.0, 1, 0))),
]


@pytest.mark.parametrize("moved", [False, True])
def test_a_study_and_its_gradient_feel_it_alike(moved):
    """Value by value, and the slope in what all share is the sum of slopes over genera."""
    exposure = packed_sets(SEEN, cell=2.0)
    who = np.array([[0, 1, 0], [0, 4, 1], [1, 4, 0], [1, 1, 1]])
    study = in_one(who, np.zeros((9, 7)), exposure.records, exposure.rows, exposure.nodes)
    effects = np.stack([GENUS, GENUS + 0.1], axis=1)
    z, shared = np.array([0.3, -0.2, 0.5, 0.0]), all_share()
    shared[at.S_SEEN] = 0.7
    added = np.full((at.PARTS, 4), 0.05) if moved else np.zeros((at.PARTS, 0))
    value, d_effects, d_shared, d_added, _ = study_by_genus(effects, shared, added, z, study)
    for common, effect in ALIKE[:2]:  # single queens have no company
        other, own = shared.copy(), effects.copy()
        other[common] += MOVED
        own[effect] += MOVED
        by_common, by_genus = (
            study_by_genus(e, s, added, z, study)[0] for e, s in ((effects, other), (own, shared))
        )
        assert by_common == pytest.approx(by_genus, abs=1e-11)
        assert abs(by_common - value) > 1e-3
        assert d_shared[common] == pytest.approx(d_effects[effect].sum(), abs=1e-11)
        assert abs(d_shared[common]) > 1e-3
    if not moved:
        assert d_added.shape == (at.PARTS, 0)
        return
    for common in (at.S_MATED, at.S_SEEN):
        ends = [shared.copy(), shared.copy()]
        ends[0][common] -= 1e-5
        ends[1][common] += 1e-5
        low, high = (study_by_genus(effects, end, added, z, study)[0] for end in ends)
        assert d_shared[common] == pytest.approx((high - low) / 2e-5, rel=1e-6)
        assert abs(d_shared[common]) > 1e-3
    groups = who[:, 1] == 4
    assert d_shared[at.S_MULTI_DAYS] == pytest.approx(d_added[at.P_FIRST_WORKER, groups].sum())
    for part, effect in (
        (at.P_BEFORE, at.E_HAZARD1), (at.P_AFTER, at.E_HAZARD2), (at.P_FIRST_WORKER, at.E_LOG_DAY)
    ):  # fmt: skip
        assert d_added[part].sum() == pytest.approx(d_effects[effect].sum())
    logit = shared[at.S_MATED] * (1 - shared[at.S_MATED])
    assert d_added[at.P_MATED].sum() == pytest.approx(d_shared[at.S_MATED] * logit)
