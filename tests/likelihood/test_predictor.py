"""The predictor by its formulas, its gradient by differences, and all who ask it.

The formulas stand here a second time, in plain Python, so that no user of the predictor can lose an
effect unseen: each is asked for foundings of one, two and four queens with every effect in play.
"""

import math

import numpy as np
import pytest
from scene_designs import full

from cohort.likelihood import layout as at
from cohort.likelihood.predictor import (
    Common,
    Founding,
    Genus,
    Own,
    common_of,
    doublings_of,
    founding_gradient,
    founding_parameters,
    gather_common,
    genus_of,
    gradient_of_founding,
    mated_chance,
    new_founding,
    own_of,
    parameters_by_founding,
    power,
    put_founding,
)
from cohort.model.kernel_arrays import by_founding, stacked
from cohort.model.log_posterior import log_posterior
from cohort.model.priors import EFFECTS, Priors

GENUS = Genus(-5.3, 0.4, -6.1, 1.2, 0.2, 3.9)
COMMON = Common(0.35, -0.45, -0.15, 0.8, 0.9, 0.0)
OWNS = [
    Own(1.0, 0.0, 0.0, 0.2, -0.3, 0.1, 0.4),
    Own(1.0, 0.0, 1.0, -0.3, 0.2, 0.0, -0.6),
    Own(2.0, 0.0, 1.0, 0.1, 0.0, -0.2, 0.0),
    Own(4.0, 1.0, 0.0, 0.0, -0.1, 0.1, 0.3),
    Own(5.0, math.log2(2.5), 3.0, 0.4, 0.3, 0.3, -1.2),
]


def plain(genus, common, own):
    """The formulas of the predictor's docstring, as one would write them by hand."""
    company = own.queens >= 2
    beyond_two = math.log2(own.queens / 2) if company else 0.0
    ratio = genus.together + common.size_step * beyond_two if company else 0.0
    odds = common.mated / (1 - common.mated) * math.exp(own.mated)
    surer = odds * math.exp(common.seen)
    none = (1 / (1 + odds)) ** (own.queens - own.seen) * (1 / (1 + surer)) ** own.seen
    return Founding(
        lone_before=genus.founding_hazard + own.before + (ratio if common.lasting else 0.0),
        ratio_before=0.0 if common.lasting else ratio,
        lone_after=genus.worker_hazard + own.after,
        ratio_after=genus.rivalry + common.size_step_rivalry * beyond_two,
        last_fight=genus.last_fight,
        log_day=genus.first_worker + own.later + (common.multi_days if company else 0.0),
        fertile=1 - none,
    )


@pytest.mark.parametrize("own", OWNS)
@pytest.mark.parametrize("lasting", [0.0, 1.0])
def test_it_is_what_its_docstring_says(own, lasting):
    common = COMMON._replace(lasting=lasting)
    assert founding_parameters(GENUS, common, own) == pytest.approx(plain(GENUS, common, own))


@pytest.mark.parametrize("own", OWNS)
@pytest.mark.parametrize("lasting", [0.0, 1.0])
def test_its_gradient_is_that_of_differences(own, lasting):
    weights = Founding(0.7, -1.3, 0.4, 1.1, -0.6, 0.9, 2.0)
    parts = [GENUS, COMMON._replace(lasting=lasting), own]

    def total(parts):
        return float(np.dot(founding_parameters(*parts), weights))

    found = founding_gradient(weights, parts[1], parts[2])
    data = [set(), {"lasting"}, {"queens", "doublings", "seen"}]  # of Genus, Common and Own
    tried = 0
    for i, part in enumerate(parts):
        for name, value in part._asdict().items():
            if name in data[i]:
                assert getattr(found[i], name) == 0.0
                continue
            ends = []
            for h in (1e-6, -1e-6):
                moved = list(parts)
                moved[i] = part._replace(**{name: value + h})
                ends.append(total(moved))
            assert getattr(found[i], name) == pytest.approx((ends[0] - ends[1]) / 2e-6, abs=1e-7)
            tried += 1
    assert tried == 6 + 5 + 4


@pytest.mark.parametrize("name", ["before", "after", "later", "mated", "size_step_rivalry"])
def test_a_gradient_without_one_of_them_would_be_seen(name):
    weights, own = Founding(0.7, -1.3, 0.4, 1.1, -0.6, 0.9, 2.0), OWNS[4]
    part = 1 if name == "size_step_rivalry" else 2
    slope = getattr(founding_gradient(weights, COMMON, own)[part], name)
    assert abs(slope) > 1e-3  # held to differences above: nought in its place is not equal to them


GENUS_AT = {
    "founding_hazard": at.E_HAZARD1, "together": at.E_TOGETHER, "worker_hazard": at.E_HAZARD2,
    "rivalry": at.E_RIVALRY, "last_fight": at.E_LAST_FIGHT, "first_worker": at.E_LOG_DAY,
}  # fmt: skip
COMMON_AT = {
    "size_step": at.S_SIZE_STEP, "size_step_rivalry": at.S_SIZE_STEP_RIVALRY,
    "multi_days": at.S_MULTI_DAYS, "mated": at.S_MATED, "seen": at.S_SEEN, "lasting": at.S_LASTING,
}  # fmt: skip
FOUNDING_AT = {
    "lone_before": at.HAZARD1, "ratio_before": at.TOGETHER, "lone_after": at.HAZARD2,
    "ratio_after": at.RIVALRY, "last_fight": at.LAST_FIGHT, "log_day": at.LOG_DAY,
    "fertile": at.FERTILE,
}  # fmt: skip
OWN_AT = {
    "before": at.P_BEFORE, "after": at.P_AFTER, "later": at.P_FIRST_WORKER, "mated": at.P_MATED
}  # fmt: skip


def numbered(width):
    """An array whose numbers are all different, so that a column read for another shows."""
    return np.arange(1.0, width + 1.0)


def test_each_field_is_read_from_the_column_named_for_it():
    effects, shared, row = (numbered(n) for n in (at.EFFECTS, at.SHARED_WIDTH, at.FOUNDING_WIDTH))
    assert genus_of(effects)._asdict() == {n: effects[i] for n, i in GENUS_AT.items()}
    assert common_of(shared)._asdict() == {n: shared[i] for n, i in COMMON_AT.items()}
    assert gradient_of_founding(row)._asdict() == {n: row[i] for n, i in FOUNDING_AT.items()}
    added = np.stack([numbered(at.PARTS), 10 * numbered(at.PARTS)], axis=1)
    own = own_of(4.0, 1.0, 3.0, added, 1)
    assert own[:3] == (4.0, 1.0, 3.0)
    assert own._asdict() | {n: added[i, 1] for n, i in OWN_AT.items()} == own._asdict()


def test_each_field_is_written_to_its_column_and_frailty_is_left_alone():
    shared, row = numbered(at.SHARED_WIDTH), np.full(at.FOUNDING_WIDTH, -7.0)
    founding = Founding(*numbered(len(FOUNDING_AT)))
    put_founding(founding, shared, row)
    want = {i: getattr(founding, n) for n, i in FOUNDING_AT.items()}
    want |= {at.THRESHOLD: shared[at.S_THRESHOLD], at.FRAILTY: -7.0}
    assert dict(enumerate(row)) == want


def test_gradient_is_added_to_the_columns_that_were_read_and_to_no_other():
    """What two foundings pull at is the sum of both; a switch has no gradient."""
    before = numbered(at.SHARED_WIDTH)
    after, one, two = before.copy(), Common(*numbered(6)), Common(*(0.5 * numbered(6)))
    gather_common(one, after)
    gather_common(two, after)
    added = {i: getattr(one, n) + getattr(two, n) for n, i in COMMON_AT.items() if n != "lasting"}
    assert (after - before).tolist() == [added.get(i, 0.0) for i in range(at.SHARED_WIDTH)]


def test_a_new_founding_is_one_of_which_no_queen_was_seen_mating():
    effects, shared = np.array(GENUS), np.zeros(at.SHARED_WIDTH)
    for name, column in COMMON_AT.items():
        shared[column] = getattr(COMMON, name)
    added = np.array([[0.0, 0.1], [0.0, -0.2], [0.0, 0.3], [0.0, 0.4]])
    for queens, doublings in ((1, 0.0), (2, 0.0), (3, math.log2(1.5)), (8, 2.0)):
        own = Own(float(queens), doublings, 0.0, *added[:, 1])
        found = new_founding(effects, shared, queens, added, 1)
        assert found == pytest.approx(plain(GENUS, COMMON, own))
        assert doublings_of(queens) == pytest.approx(doublings, abs=1e-15)


def test_chances_and_powers_by_hand():
    assert [power(0.5, n) for n in range(4)] == [1.0, 0.5, 0.25, 0.125]
    # odds 4 to 1, trebled: 12 to 13; slope in the chance 3 / (.2 + 2.4)^2
    found = mated_chance(0.8, math.log(3.0))
    assert found == pytest.approx((12 / 13, 3 / 2.6**2, 12 / 13 / 13))
    assert mated_chance(0.8, 0.0) == (0.8, 1.0, 0.8 * (1 - 0.8))  # to the last bit
    assert mated_chance(1.0, -2.0) == (1.0, math.exp(2.0), 0.0)


def test_many_foundings_and_draws_at_once_are_each_asked_by_itself():
    rng = np.random.default_rng(3)
    effects = rng.normal(0, 1, (3, 2, at.EFFECTS))
    effects[..., at.E_LAST_FIGHT] = rng.uniform(size=(3, 2))
    shared = rng.normal(0, 0.3, (3, at.SHARED_WIDTH))
    shared[:, at.S_MATED] = rng.uniform(0.3, 0.9, 3)
    shared[:, at.S_LASTING] = 0.0
    genus, queens, seen = np.array([0, 1, -1]), np.array([1, 2, 4]), np.array([0, 1, 2])
    added = rng.normal(size=(3, at.PARTS, 3))
    found = parameters_by_founding(effects, shared, genus, queens, seen, added)
    for d in range(3):
        common = Common(*shared[d, at.S_SIZE_STEP : at.S_SEEN + 1], 0.0)
        for f in range(3):
            doublings = max(math.log2(queens[f]) - 1, 0.0)
            own = Own(queens[f], doublings, seen[f], *added[d, :, f])
            want = plain(Genus(*effects[d, genus[f]]), common, own)
            assert found[d, f, : at.FRAILTY] == pytest.approx(want)
            assert found[d, f, at.FRAILTY] == 0.0
            assert found[d, f, at.THRESHOLD] == shared[d, at.S_THRESHOLD]


def test_named_draws_reach_it_with_levels_covariates_and_warmth():
    design, exposure = full()
    target = log_posterior(design, exposure, Priors())
    q = target.start(5) + 0.1
    named = target.named(q[None, None])
    values = {name: array[0] for name, array in stacked(named).items()}
    par, _ = by_founding(stacked(named), design)
    for f in range(len(design.foundings)):
        effects = [float(values[name][design.genus_code[f]]) for name in EFFECTS]
        effects[at.E_LAST_FIGHT] = 1 / (1 + math.exp(-effects[at.E_LAST_FIGHT]))
        kinds = ("keeper", "flight", "kind_within", "season")
        at_level = {name: design.levels[name].index[f] for name in kinds}
        mites, size = design.x[f]  # which of them moves what: `scene_designs.full`
        before = sum(values[f"{name}_before"][at_level[name]] for name in kinds)
        before += values["slope_before"] @ [mites, size]
        after = sum(values[f"{name}_after"][at_level[name]] for name in kinds)
        after += values["slope_after"][0] * size
        later = float(values["warm_days"]) * design.warm[f]
        later += sum(values[f"{n}_first_worker"][at_level[n]] for n in ("keeper", "season"))
        later += values["slope_first_worker"][0] * mites
        mated = values["slope_mated"][0] * size
        names = ("size_step", "size_step_rivalry", "multi_days", "mated", "seen")
        common = Common(*(float(values[name]) for name in names), 0.0)
        own = Own(float(design.size[f]), 0.0, float(design.seen[f]), before, after, later, mated)
        want = plain(Genus(*effects), common, own)
        assert par[0, f, : at.FRAILTY] == pytest.approx(want, abs=1e-12)
