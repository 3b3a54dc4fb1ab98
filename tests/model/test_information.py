"""What a study tells of each effect: sums of what was seen, whatever way a loss is explained."""

from dataclasses import replace

import numpy as np
import pytest
from by_rows import Rates
from scenes import history_of, lived, packed_sets
from scipy.optimize import minimize
from scipy.stats import uniform

from cohort.likelihood import layout as at
from cohort.likelihood import packing
from cohort.likelihood.exposure import packed
from cohort.likelihood.genera import moves_of, pooling_of
from cohort.model import coordinates as coordinates_room
from cohort.model.conditional_mode import conditional_mode
from cohort.model.contrasts import contrasts, turn_of_levels
from cohort.model.curvature import score
from cohort.model.design import Grouping, model_design
from cohort.model.information import SPREAD, information, losses
from cohort.model.log_posterior import HALF, log_posterior
from cohort.model.parameters import EFFECTS
from cohort.model.priors import Priors


@pytest.fixture(scope="module")
def seen():
    rates = Rates(level1=0.008, level2=0.006, tau=0.2, phi=0.9, sigma=0.5)
    days = np.arange(7, 161, 7)
    sets = lived(8, 1, rates, days, 1) + lived(8, 3, rates, days, 2)
    history = history_of(sets, more={f"F{i}": {"genus": "AB"[i % 2]} for i in range(16)})
    return history, packed(history)


def test_every_queen_lost_counts_once(seen):
    history, exposure = seen
    lost = losses(exposure)
    by_code = history.intervals.groupby("code")["lost"].sum()
    for code, name in enumerate(history.foundings["founding"]):
        (f,) = np.flatnonzero(exposure.foundings["founding"] == name)
        assert lost[f].sum() == pytest.approx(by_code.get(code, 0)), name
    assert lost.sum() > 5
    assert lost[(exposure.foundings["size"] == 1).to_numpy(), :, 1].sum() == 0


def test_the_parts_are_sums_by_genus(seen):
    _, exposure = seen
    design = model_design(exposure)
    part = information(design, exposure)
    lost = losses(exposure)
    assert part.genus[0].sum() == pytest.approx(lost[:, 0].sum())
    assert part.genus[3].sum() == pytest.approx(lost[:, 1, 1].sum())
    mine = design.genus_code == 1
    assert part.genus[2, 1] == pytest.approx(lost[mine, 1].sum())
    assert part.lean[0] == pytest.approx(np.log2(1.5))
    assert part.lean[1] == pytest.approx(lost[:, 0, 1].sum() / lost[:, 0].sum())
    assert part.lean[3] == 0.5
    assert part.lean[4] == pytest.approx(np.log2(1.5))


def test_a_loss_is_in_company_from_two_queens_on_whichever_way_it_is_told():
    # Faults: a pair taken for a lone queen (in rows, and where the first worker splits the
    # interval); a loss of two counted as one half; one queen lost alone taken for company.
    pair_in_rows = (2, ((20.0, 1, 0), (40.0, 1, 1), (60.0, 0, 1)))
    pair_in_split = (2, ((20.0, 2, 0), (40.0, 0, None)))  # nobody need have lived at the worker
    two_of_four = (4, ((20.0, 4, 0), (40.0, 2, 1)))
    alone = (1, ((20.0, 1, 0), (40.0, 0, 0)))
    exposure = packed_sets([pair_in_rows, pair_in_split, two_of_four, alone], cell=2.0)
    assert 0.0 in exposure.nodes[:, at.LEAST]
    lost = losses(exposure)
    assert lost[0] == pytest.approx(np.array([[0, 1], [1, 0]]))
    assert lost[1, :, 0] == pytest.approx(0.0)
    assert lost[1].sum() == pytest.approx(2.0)
    assert lost[2] == pytest.approx(np.array([[0, 0], [0, 2]]))
    assert lost[3] == pytest.approx(np.array([[1, 0], [0, 0]]))


def test_queens_counted_no_more_are_not_lost():
    # Fault: "one at least was left" read as none left, and all three counted as losses.
    no_more = (3, ((30.0, 3, 0), (45.0, None, 0), (52.0, None, 1)))
    counted = (3, ((30.0, 3, 0), (45.0, None, 0), (52.0, 2, 1)))
    exposure = packed_sets([no_more, counted], cell=2.0)
    assert at.SOME in exposure.rows[:, at.AFTER]
    lost = losses(exposure)
    assert lost[0] == pytest.approx(0.0)
    assert lost[1].sum() == pytest.approx(1.0)


def test_a_bracket_of_the_first_worker_blurs_its_log_day_like_a_uniform_of_its_width():
    sets = [
        (1, ((20.0, 1, 0), (40.0, 1, 1))),
        (1, ((28.0, 1, 0), (32.0, 1, 1))),
        (1, ((20.0, 1, 0), (40.0, 1, 0))),  # none seen: tells nothing here,
        (2, ((20.0, 2, 0), (40.0, 0, None))),  # nor where one may have come unseen
    ]
    exposure = packed_sets(sets, cell=2.0)
    part = information(model_design(exposure), exposure)
    first = [1 / (SPREAD**2 + uniform.var(scale=np.log(b / a))) for a, b in ((20, 40), (28, 32))]
    assert part.genus[5].sum() == pytest.approx(sum(first))
    assert first[0] < 0.5 * first[1]
    assert exposure.records[3, at.NODES_TO] > exposure.records[3, at.NODES_FROM]


def test_a_step_is_told_like_the_difference_of_two_log_counts():
    # A log of a Poisson count n varies by about 1 / n (delta method), so a difference of two by
    # 1 / a + 1 / b. A loss on the cut itself falls before it, as where the steps are laid.
    sets = [(1, ((14.0, 0, 0),))] * 2  # day 7, on the cut
    sets += [(1, ((2.0, 1, 0), (20.0, 0, 0)))] * 3  # day 11
    sets += [(1, ((22.0, 1, 0), (34.0, 0, 0)))] * 4  # day 28
    exposure = packed_sets(sets, cell=2.0)
    assert sorted(set(exposure.loss_days1)) == [7.0, 11.0, 28.0]
    design = model_design(exposure)
    step = information(design, exposure).step
    assert step[0] == pytest.approx(1 / (1 / 2 + 1 / 7))
    assert step[1] == pytest.approx(1 / (1 / 5 + 1 / 4))
    assert step[2:] == pytest.approx(0.0)
    assert step[0] != pytest.approx(1 / (1 / 5 + 1 / 4))


def test_what_is_told_lies_at_the_places_of_what_it_tells(seen):
    _, exposure = seen
    design = model_design(exposure)
    design = replace(
        design,
        levels={
            "keeper": Grouping(("a", "b"), np.arange(16) % 2),
            "flight": Grouping(("f", "g", "h"), np.arange(16) % 3),
            "kind_within": Grouping(("A x", "A y"), np.arange(16) // 8),
        },
    )
    part, target = information(design, exposure), log_posterior(design, exposure, Priors())
    assert target.width == target.where["first_worker_mean"].stop + 6 + 16 + 3 * 2 + 2 * 3 + 2 * 2
    between = contrasts(part.genus, Priors().column("sd"))
    genera = [target.information[target.where[name]] for name in EFFECTS]
    assert np.array_equal(genera, between.information)
    columns, share = pooling_of(target.packed)
    assert np.array_equal(columns, between.columns)
    assert np.array_equal(share, between.share)
    assert np.array_equal(target.information[target.where["frailty"]], part.founding)
    lost = losses(exposure)
    whole = {
        "before": lost[:, 0].sum(), "after": lost[:, 1].sum(), "first_worker": part.genus[5].sum()
    }  # fmt: skip
    assert set(part.levels) == {
        "keeper_before", "keeper_after", "keeper_first_worker", "flight_before", "flight_after",
        "kind_within_before", "kind_within_after",
    }  # fmt: skip
    for name, own in part.levels.items():
        assert own.sum() == pytest.approx(whole[next(e for e in whole if name.endswith(e))])
    assert len({tuple(own) for own in part.levels.values()}) == 7
    assert np.array_equal(target.information[target.where["walk"]], part.step)
    moves = moves_of(target.packed)
    assert np.array_equal(moves[moves[:, packing.EFFECT] == 0, packing.AMOUNT], part.lean)
    assert not target.information[: target.where["walk"].start].any()


def test_a_study_without_losses_leans_on_nothing():
    exposure = packed_sets([(1, ((20.0, 1, 0),)), (2, ((20.0, 2, 0),))], cell=2.0)
    part = information(model_design(exposure), exposure)
    assert part.lean == pytest.approx([0.0, 0.0, 0.0, 0.5, 0.0])
    assert part.step == pytest.approx(0.0)
    one = packed_sets([(3, ((20.0, 3, 0), (40.0, 2, 0)))], cell=2.0)  # one loss leans wholly
    assert information(model_design(one), one).lean[0] == pytest.approx(np.log2(1.5))


def test_contrasts_are_told_independently():
    told_, s = np.array([[3.0, 0.0, 12.0, 7.0], [0.0, 0.0, 0.0, 5.0]]), np.array([0.7, 1.5])
    between = contrasts(told_, s)
    for e in range(2):
        columns, d = between.columns[e], told_[e]
        np.testing.assert_allclose(columns.T @ columns, np.eye(3), atol=1e-12)
        np.testing.assert_allclose(columns.sum(axis=0), 0.0, atol=1e-12)
        # precision of the mean (prior and data) and the contrasts; the mean integrated out
        both = np.column_stack([np.ones(4), columns])
        whole = both.T @ np.diag(d) @ both
        whole[0, 0] += 1 / s[e] ** 2
        left = whole[1:, 1:] - np.outer(whole[1:, 0], whole[0, 1:]) / whole[0, 0]
        np.testing.assert_allclose(left, np.diag(between.information[e]), atol=1e-12)
        # the mean is walked moved by its regression on the deviations: then it is told apart too
        move = np.eye(4)
        move[0, 1:] = -between.share[e] @ columns
        turned = move.T @ whole @ move
        np.testing.assert_allclose(turned[0, 1:], 0.0, atol=1e-12)
        assert np.abs(whole[0, 1:]).max() > 1


def test_a_genus_alone_has_no_contrasts():
    between = contrasts(np.full((6, 1), 4.0), np.ones(6))
    assert between.columns.shape == (6, 1, 0)
    assert between.information.shape == (6, 0)


def test_the_mode_and_its_curvature_by_hand():
    """An SD held; two effects it multiplies; two foundings, each told of with the first effect.

    All is normal, so the precision is a matrix P on (effect, effect, founding, founding), the mode
    P^-1 b, and what the data tell of the effects is the inverse of their block of P^-1, less the 1
    of their priors.
    """
    tells = np.array([[3.0, 0.0, 2.0, 1.0], [0.0, 5.0, 0.0, 0.0]])
    precision = np.eye(4) + np.diag([3.0, 5.0, 4.0, 1.5])
    precision[0, 2:] = precision[2:, 0] = tells[0, 2:]
    b = np.array([0.8, -0.5, 0.4, 1.0])

    def log_density(q):  # q[0] is the SD, which is held
        x = q[1:]
        gradient = np.concatenate([[1e6], b - precision @ x])  # of the first nothing is asked
        return float(b @ x - 0.5 * x @ precision @ x), gradient

    held = np.array([True, False, False, False, False])
    start = np.array([0.6, 3.0, -2.0, 1.0, 0.0])
    found = conditional_mode(log_density, start, held, slice(3, 5))
    assert found.at[0] == 0.6
    assert found.at[1:] == pytest.approx(np.linalg.solve(precision, b), abs=1e-4)
    whole = np.linalg.inv(precision)
    assert found.free.tolist() == [1, 2]
    assert found.covariance == pytest.approx(whole[:2, :2], abs=1e-4)
    assert found.single == pytest.approx([5.0, 2.5], abs=1e-4)
    told_ = found.told(slice(1, 3))
    assert told_ == pytest.approx(np.linalg.inv(whole[:2, :2]) - np.eye(2), abs=1e-3)
    assert told_[0, 0] < 3.0 - 0.5  # fault: foundings taken as known, which gives 3
    # score: an SD of .6, information as told on the effects' own scale
    own, sd = np.array([found.at[2]]), np.array([0.6])
    assert score(own, sd, np.array([5.0 / 0.36])) == pytest.approx([-0.5 / 0.6], rel=1e-4)
    assert score(own, np.zeros(1), np.ones(1)) == 0.0


def test_a_search_that_finds_no_density_leaves_the_start():
    start = np.array([0.5, 1.0, 2.0])
    held = np.array([True, False, False])
    nowhere = conditional_mode(lambda q: (-np.inf, q), start, held, slice(2, 3))
    assert np.array_equal(nowhere.at, start)
    assert np.array_equal(nowhere.told(slice(1, 2)), [[0.0]])


def test_a_step_too_long_is_halved():
    # Newton's method on log cosh leaps from 1.5 to -3.6 and further each time.
    def log_density(q):
        return -float(np.log(np.cosh(q)).sum()), -np.tanh(q)

    found = conditional_mode(log_density, np.array([1.5]), np.array([False]), slice(1, 1))
    assert found.at == pytest.approx([0.0], abs=0.1)


def test_nothing_is_pulled_that_no_sd_multiplies(seen):
    _, exposure = seen
    target = log_posterior(model_design(exposure), exposure, Priors())
    assert not target.score[: target.where["walk"].start].any()
    heads = slice(target.where[f"{EFFECTS[0]}_sd"].start, target.where[f"{EFFECTS[-1]}_mean"].stop)
    assert not target.score[heads].any()
    foundings, lost = (
        target.score[target.where["frailty"]],
        target.information[target.where["frailty"]],
    )
    # who lost queens is pulled up against who lost none
    assert foundings[lost > 0].mean() > foundings[lost == 0].mean() + 0.3


def test_what_all_levels_have_in_common_is_told_by_the_mean_alone():
    # By hand: two keepers of 6 losses each, a mean with no prior: (u1 - u2)^2 / 2 times
    # 6 6 / (6 + 6) = 3 is what is known of them, so 6 along (1, -1) / sqrt(2), and 0 along (1, 1).
    columns, told_ = turn_of_levels(np.array([6.0, 6.0]), np.zeros(2, np.int64), 0.0)
    assert told_ == pytest.approx([0.0, 6.0])
    assert np.abs(columns[:, 0]) == pytest.approx(np.sqrt([0.5, 0.5]))
    assert columns[0, 0] * columns[1, 0] > 0
    assert columns[0, 1] * columns[1, 1] < 0


def test_turns_are_orthogonal_and_give_back_the_information_without_the_mean():
    own, groups = np.array([9.0, 2.0, 0.0, 5.0, 7.0]), np.array([0, 0, 0, 1, 1])
    columns, told_ = turn_of_levels(own, groups, 0.4)
    assert columns.T @ columns == pytest.approx(np.eye(5))
    # the same by the inverse: information on levels and means together, the means taken out
    together = np.zeros((7, 7))
    for level, (amount, group) in enumerate(zip(own, groups, strict=True)):
        along = np.zeros(7)
        along[[level, 5 + group]] = 1.0
        together += amount * np.outer(along, along)
    together[5:, 5:] += 0.4 * np.eye(2)
    levels, between, means = together[:5, :5], together[:5, 5:], together[5:, 5:]
    left = levels - between @ np.linalg.inv(means) @ between.T
    assert columns @ np.diag(told_) @ columns.T == pytest.approx(left)
    as_if_one, _ = turn_of_levels(own, np.zeros(5, np.int64), 0.4)
    assert np.abs(as_if_one @ np.diag(told_) @ as_if_one.T - left).max() > 0.5


def test_many_levels_are_not_turned():
    columns, told_ = turn_of_levels(np.arange(60.0), np.zeros(60, np.int64), 1.0)
    assert columns.size == 0
    assert np.array_equal(told_, np.arange(60.0))


def _spread_of_contrasts(target):
    """Mean and covariance of contrasts and steps given the SDs, all else unknown.

    By second differences of the density over all coordinates but the SDs, at its mode.
    """
    sds, q = target.sds(), target.middle()[0]
    for place in np.unique(sds[sds >= 0]):
        name = next(n for n, own in target.where.items() if own.start <= place < own.stop)
        rate = target.rate(name)
        first, length = target.rows[:, packing.FIRST], target.rows[:, packing.LENGTH]
        usual = HALF * target.rows[(first <= place) & (place < first + length)][0, packing.B]
        q[place] = np.arcsinh(rate * usual) / rate if rate else usual
    free = np.flatnonzero(~np.isin(np.arange(target.width), sds))

    def downhill(part):
        q[free] = part
        value, gradient = target.log_density(q)
        return -value, -gradient[free]

    q[free] = minimize(downhill, q[free], jac=True, method="BFGS", options={"gtol": 1e-7}).x
    gradient = downhill(q[free])[1]
    assert np.abs(gradient).max() < 1e-3
    curved = np.empty((len(free), len(free)))
    for k in range(len(free)):
        near = q[free]
        near[k] += 1e-5
        curved[k] = (downhill(near)[1] - gradient) / 1e-5
        q[free[k]] -= 1e-5
    covariance = np.linalg.inv(0.5 * (curved + curved.T))
    out = []
    for name in (*EFFECTS, "walk"):
        here = np.searchsorted(free, np.arange(len(q))[target.where[name]])
        out.append((q[target.where[name]], covariance[np.ix_(here, here)]))
    return out


def test_large_studies_have_contrasts_and_steps_standard_normal_given_the_sds(seen, monkeypatch):
    _, exposure = seen
    design = model_design(exposure)
    few = _spread_of_contrasts(log_posterior(design, exposure, Priors()))
    monkeypatch.setattr(coordinates_room, "MANY", 1)
    many = _spread_of_contrasts(log_posterior(design, exposure, Priors()))
    for mean, covariance in many:
        assert mean == pytest.approx(0.0, abs=0.05)
        assert covariance == pytest.approx(np.eye(len(mean)), abs=0.05)
    # wrong by counts: they take the rest as known
    assert max(np.abs(c - np.eye(len(m))).max() for m, c in few) > 0.1
