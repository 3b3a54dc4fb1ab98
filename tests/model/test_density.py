"""The density that is sampled against the model written out in PyMC, and its coordinates.

Both walk the same coordinates. In the density their prior is that of a parameter with what the
change of coordinates stretches; in PyMC it is the normal that the coordinate has given the SD. The
two log densities may differ by a constant, and by nothing else.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from in_pymc import function_of, point_of
from scene_designs import SCENES, plain, some
from scipy.stats import halfnorm, norm

from cohort.likelihood import density
from cohort.likelihood.genera import pooling_of
from cohort.likelihood.study import study_loglik
from cohort.model import coordinates
from cohort.model.design import VARIANTS
from cohort.model.graph import written_out
from cohort.model.kernel_arrays import by_founding, stacked
from cohort.model.log_posterior import log_posterior
from cohort.model.parameters import EFFECTS
from cohort.model.priors import Priors
from cohort.terms.levels import LEVELS


def gaps(design, exposure):
    """Density minus graph at four vectors: a constant, if they are one model; and their slopes."""
    target = log_posterior(design, exposure, Priors())
    ours = target.log_density
    model = written_out(design, exposure, Priors())
    # what the kernel lives by without PyTensor: parameters of named draws
    theirs, out = function_of(model, slopes=True), []
    looks = function_of(model, [model["looks"]])
    for seed in range(4):
        q = some(target, seed)
        point = point_of(model, target, q)
        value, _, slopes = theirs(point)
        density, gradient = ours(q)
        out.append(density - value)
        for name, slope in point_of(model, target, gradient).items():
            np.testing.assert_allclose(slopes[name], slope, rtol=1e-9, atol=1e-9, err_msg=name)
    named = target.named(q[None, None])
    par, shared = by_founding(stacked(named), design)
    tables = exposure.records, exposure.rows, exposure.nodes
    from_arrays = study_loglik(par[0], shared[0], *tables)[0]
    assert from_arrays == pytest.approx(looks(point)[0], rel=1e-10)
    par[0][:, 0] += 0.1
    assert abs(study_loglik(par[0], shared[0], *tables)[0] - from_arrays) > 1e-4
    return np.array(out), target


@pytest.mark.parametrize("scene", SCENES)
def test_what_is_sampled_is_the_model_written_out(scene):
    design, exposure = SCENES[scene]()
    apart, target = gaps(design, exposure)
    assert np.ptp(apart) < 1e-9
    assert target.score[target.where["walk"]].any()
    assert target.score[target.where["frailty"]].any()
    # with other information on the foundings the coordinates stretch otherwise
    q = some(target, 1)
    other = replace(target, packed=target.packed.copy())
    other.information[target.where["frailty"]] += 3.0
    assert abs(other.log_density(q)[0] - target.log_density(q)[0]) > 1e-3


@pytest.mark.parametrize("variant", [v for v in VARIANTS if v])
def test_every_variant_is_the_variant_written_out(variant):
    design, exposure = plain()
    apart, target = gaps(design.as_variant(variant), exposure)
    assert np.ptp(apart) < 1e-9
    if variant != "one genus":
        agreed = log_posterior(design, exposure, Priors())
        vectors = [some(target, seed) for seed in range(40)]
        off = [agreed.log_density(q)[0] - target.log_density(q)[0] for q in vectors]
        assert np.abs(off).max() > 1e-3


def test_stretched_sds_are_the_same_model(monkeypatch):
    # Faults: a rate that the density knows and PyMC does not; what is stretched left out.
    monkeypatch.setattr(coordinates, "MANY", 1)
    monkeypatch.setattr(coordinates, "LEAST", 1)
    monkeypatch.setattr(coordinates, "FAR", 0.01)
    design, exposure = SCENES["full"]()
    apart, target = gaps(design, exposure)
    assert np.ptp(apart) < 1e-9
    names = ("first_worker_sd", "rivalry_sd", "keeper_before_sd", "season_after_sd", "walk_sd")
    rates = [target.rate(name) for name in names]
    assert min(rates) > 0.0
    assert target.rate("frailty_sd") == 0.0
    q = some(target, 1)
    place, rate = target.where["rivalry_sd"].start, target.rate("rivalry_sd")
    named = target.named(q[None, None])
    assert float(named["rivalry_sd"][0, 0]) == pytest.approx(abs(np.sinh(rate * q[place]) / rate))
    monkeypatch.setattr(coordinates, "FAR", math.inf)
    plain_sds = log_posterior(design, exposure, Priors())
    assert plain_sds.rate("rivalry_sd") == 0.0
    assert abs(plain_sds.log_density(q)[0] - target.log_density(q)[0]) > 1e-3


@pytest.mark.parametrize(
    ("scene", "variant"),
    [(scene, "") for scene in SCENES] + [("full", variant) for variant in VARIANTS if variant],
)
@pytest.mark.parametrize("large", [False, True])
def test_slopes_are_those_of_the_density(scene, variant, large, monkeypatch):
    if large:  # turned by curvature, and stretched
        monkeypatch.setattr(coordinates, "MANY", 1)
        monkeypatch.setattr(coordinates, "LEAST", 1)
        monkeypatch.setattr(coordinates, "FAR", 0.01)
    design, exposure = SCENES[scene]()
    target = log_posterior(design.as_variant(variant), exposure, Priors())
    assert (target.turn("walk") is not None) == large
    ours = target.log_density
    q = some(target, 3)
    gradient = ours(q)[1]
    step = 1e-5
    for i in range(target.width):
        there, back = q.copy(), q.copy()
        there[i] += step
        back[i] -= step
        want = (ours(there)[0] - ours(back)[0]) / (2 * step)
        assert gradient[i] == pytest.approx(want, rel=2e-5, abs=2e-5), i
    assert (gradient != 0).all()


def contrasts_of(target):
    """Where the contrasts between genera lie."""
    return slice(target.where[EFFECTS[0]].start, target.where[EFFECTS[-1]].stop)


def test_a_genus_alone_deviates_in_no_way():
    design, exposure = plain()
    lands = {v: log_posterior(design.as_variant(v), exposure, Priors()) for v in ("", "one genus")}
    ways = {v: contrasts_of(target) for v, target in lands.items()}
    assert {v: own.stop - own.start for v, own in ways.items()} == {"": 6 * 2, "one genus": 0}
    for target in lands.values():
        assert target.information[target.where["frailty"]].any()
    assert lands[""].information[ways[""]].any()
    alone = lands["one genus"]
    named = alone.named(some(alone, 1)[None, None])
    for effect in EFFECTS:
        np.testing.assert_array_equal(named[effect][..., 0], named[f"{effect}_mean"])


def test_any_contrasts_give_one_model():
    """Turned columns are other coordinates of the same prior; columns not orthogonal are not."""
    design, exposure = plain()
    target = log_posterior(design, exposure, Priors())
    turn = np.linalg.qr(np.random.default_rng(3).normal(size=(2, 2)))[0]
    q = some(target, 2)
    block, ways = contrasts_of(target), (6, 2)
    even = replace(target, packed=target.packed.copy())
    # where each way is told as much and none is pulled, turning is all that differs
    even.information[block] = even.score[block] = 0.0
    pooling_of(even.packed)[1][:] = 0.1
    want = even.log_density(q)[0]
    for other, same in ((turn, True), (turn @ np.diag([1.0, 1.1]), False)):
        turned, moved = replace(even, packed=even.packed.copy()), q.copy()
        pooling_of(turned.packed)[0][:] = pooling_of(even.packed)[0] @ other
        moved[block] = (q[block].reshape(ways) @ np.linalg.inv(other).T).ravel()
        np.testing.assert_allclose(
            turned.named(moved[None, None])["together"], even.named(q[None, None])["together"]
        )
        assert (abs(turned.log_density(moved)[0] - want) < 1e-9) == same


@pytest.mark.parametrize("scene", ["plain", "full"])
def test_each_sd_multiplies_what_it_is_said_to_multiply(scene):
    design, exposure = SCENES[scene]()
    design = replace(design, pooled_fight=False)  # else one SD multiplies nothing
    target = log_posterior(design, exposure, Priors())
    q, said = some(target, 4), target.sds()
    by_name = {name: set(said[own]) for name, own in target.where.items() if own.stop > own.start}
    named = {
        "walk": "walk_sd", "frailty": "frailty_sd"
    } | {name: f"{name}_sd" for name in EFFECTS} | {
        level.parameter(part): f"{level.parameter(part)}_sd"
        for level in LEVELS for part in level.moves
    }  # fmt: skip
    for name, sds in by_name.items():
        own = target.where[named[name]] if name in named else slice(-1, 0)
        assert sds == set(range(own.start, own.stop)), name
    unmoved = density.parameters(q, target.packed)[0]
    for sd in np.unique(said[said >= 0]):
        moved = q.copy()
        moved[sd] *= 1.3
        changed = density.parameters(moved, target.packed)[0] != unmoved
        for name in EFFECTS:  # moved along with the deviations (``share``)
            changed[target.where[f"{name}_mean"]] = False
        want = (said == sd) & ((target.information > 0) | (target.score != 0))
        want[sd] = True
        np.testing.assert_array_equal(changed, want)


def test_what_a_study_does_not_speak_of_stays_at_its_prior():
    design, exposure = plain()
    target = log_posterior(design, exposure, Priors())
    q = some(target, 2)
    gradient = target.log_density(q)[1]
    sds = [f"{level.parameter(part)}_sd" for level in LEVELS for part in level.moves]
    names = ("loading", "warm_days", *sds)
    unnamed = [target.where[name].start for name in names]
    centre, scale = target.middle()
    want = -(q - centre) / scale**2
    assert gradient[unnamed] == pytest.approx(want[unnamed])
    seen = target.where["seen"]
    assert gradient[seen] != pytest.approx(want[seen])  # seen matings are spoken of
    assert not {"loading", "warm_days", "warm_threshold", *sds} & set(
        target.named(q[None, None]).data_vars
    )


@pytest.mark.parametrize("sd", [0.0, 0.3, -2.0])
@pytest.mark.parametrize("information", [0.0, 0.5, 40.0])
def test_what_is_sampled_is_standard_normal_whatever_the_sd(sd, information):
    # A normal likelihood that tells the effect sd x w to be ``where``, with information
    # ``information``. The logs are quadratic, so differences of three are their derivative and
    # curvature.
    where = 0.7

    def shape_of(own, score):
        def log_of(v):
            w = density.standard_normal(v, sd, information, score)
            seen = -0.5 * own * (sd * w - where) ** 2
            return density.standard_normal_gradient(w, 0.0, sd, information, score)[0] + seen

        low, mid, high = (log_of(v) for v in (-1.0, 0.0, 1.0))
        return (high - low) / 2, high - 2 * mid + low

    assert shape_of(information, information * where) == pytest.approx((0.0, -1.0), abs=1e-9)
    if sd and information:
        assert abs(shape_of(3 * information, information * where)[1] + 1.0) > 0.05
        assert abs(shape_of(information, 0.0)[0]) > 0.05


@pytest.mark.parametrize(
    ("information", "score"), [(0.0, 0.0), (7.0, 0.0), (0.0, 2.0), (7.0, -3.0)]
)
def test_what_an_sd_multiplies_is_standard_normal(information, score):
    sd, points = -0.6, np.array([-1.0, 0.0, 1.3])
    w = np.array([density.standard_normal(v, sd, information, score) for v in points])
    logs = np.array(
        [density.standard_normal_gradient(x, 0.0, sd, information, score)[0] for x in w]
    )
    stretched = norm.logpdf(w) + math.log((w[2] - w[1]) / points[2])
    assert np.ptp(logs - stretched) < 1e-12
    assert np.ptp(logs - norm.logpdf(points)) > 0.1 or (information, score) == (0.0, 0.0)


def test_an_sd_without_its_sign_is_half_normal():
    design, exposure = plain()
    target = log_posterior(design, exposure, Priors().but(keeper_before_sd={"scale": 0.4}))
    q = some(target, 2)

    def at_sd(value):
        moved = q.copy()
        moved[target.where["keeper_before_sd"]] = (
            value  # no keeper is in this study: nothing else hangs on it
        )
        return target.log_density(moved)[0]

    fall = math.exp(at_sd(1.0) - at_sd(0.0))
    assert fall == pytest.approx(halfnorm.pdf(1.0, scale=0.4) / halfnorm.pdf(0.0, scale=0.4))
    assert at_sd(-1.0) == at_sd(1.0)


def test_a_place_where_the_model_breaks_is_a_step_gone_astray_and_no_number():
    design, exposure = plain()
    target = log_posterior(design, exposure, Priors())
    q = some(target, 2)
    q[target.where["within_days"]] = 900.0
    assert target.log_density(q)[0] == -math.inf


def test_draws_carry_the_names_people_use_and_the_signs_of_their_sds():
    design, exposure = SCENES["full"]()
    target = log_posterior(design, exposure, Priors())
    q = np.stack([some(target, i) for i in range(4)]).reshape(2, 2, -1)
    frailty, walk = (target.where[name].start for name in ("frailty_sd", "walk_sd"))
    q[..., frailty] = -0.5
    q[..., walk] = [[-0.2, 0.3], [0.1, -0.4]]
    named = target.named(q)
    assert named.sizes["chain"] == named.sizes["draw"] == 2
    assert (named["frailty_sd"] == 0.5).all()
    assert (named["walk_sd"] >= 0).all()
    flipped = q.copy()
    for name in ("frailty_sd", "walk_sd", "frailty", "walk"):
        flipped[..., target.where[name]] *= -1
    again = target.named(flipped)
    for name in ("frailty", "walk", "frailty_sd", "walk_sd"):
        np.testing.assert_array_equal(named[name], again[name])
    level = replace(target, packed=target.packed.copy())
    level.score[:] = 0.0
    assert (np.sign(level.named(q)["frailty"]) == -np.sign(land_block(target, q))).all()
    for name in ("keeper_before", "keeper_after", "keeper_first_worker"):
        assert named[name].dims == ("chain", "draw", "keeper")
    assert list(named["keeper"].to_numpy()) == ["ann", "bo"]
    assert list(named["covariate_before"].to_numpy()) == ["mites", "size"]
    assert named["slope_after"].dims == ("chain", "draw", "covariate_after")
    assert list(named["covariate_after"].to_numpy()) == ["size"]
    assert list(named["covariate_first_worker"].to_numpy()) == ["mites"]
    spread = named["together"] - named["together_mean"]
    assert np.abs(spread.mean("genus")).max() < 1e-12  # deviations sum to zero


def land_block(target, q):
    """The frailties of a vector."""
    return q[..., target.where["frailty"]]


def test_a_start_lies_within_reach_of_every_prior():
    design, exposure = SCENES["full"]()
    target = log_posterior(design, exposure, Priors())
    starts = np.stack([target.start(seed) for seed in range(50)])
    values = [target.log_density(q)[0] for q in starts]
    assert np.isfinite(values).all()
    names = ("multi_days", "within_days", *(f"{name}_mean" for name in EFFECTS))
    head = [target.where[name].start for name in names]
    for place, name in zip(head, names, strict=True):
        prior = Priors()[name.removesuffix("_mean")]
        assert (np.abs(starts[:, place] - prior.mean) <= prior.sd).all(), name
    assert abs(1 / (1 + np.exp(-starts[:, target.where["mated"]].mean())) - 0.8) < 0.06
    np.testing.assert_array_equal(target.start(3), target.start(3))
