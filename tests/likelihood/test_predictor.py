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
    founding_gradient,
    founding_parameters,
    parameters_by_founding,
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
        effects = [float(values[name][design.genus[f]]) for name in EFFECTS]
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
