"""The density that is sampled against the model written out in PyMC, and its coordinates.

The graph has plain coordinates (positive SDs, standard normals); the density has signed SDs and
eased ones. Between two vectors the two log densities may differ by what the change of coordinates
stretches, which is written here once more, and by nothing else.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scene_lineups import SCENES, in_plain_words, plain, some
from scipy.stats import halfnorm, norm

from cohort.model.coordinates import landscape
from cohort.model.graph import written_out
from cohort.model.lineup import VARIANTS
from cohort.model.parameters import EFFECTS
from cohort.model.priors import Priors
from cohort.terms.levels import LEVELS
from cohort.transitions import density
from cohort.transitions.genera import pooling_of


def gaps(lineup, exposure):
    """Density minus graph minus stretch at four vectors: a constant, if they are one model."""
    land = landscape(lineup, exposure, Priors())
    ours = land.log_density
    model = written_out(lineup, exposure, Priors())
    # terms one by one: more than 32 in one sum is more than plain numpy takes
    logp = model.compile_logp(jacobian=False, sum=False, mode="FAST_COMPILE")
    names = {v.name for v in model.value_vars}
    out = []
    for seed in range(4):
        q = some(land, seed)
        point, stretch = in_plain_words(land, q)
        assert names <= set(point)
        terms = logp({name: point[name] for name in names})
        theirs = float(sum(np.sum(term) for term in terms))
        out.append(ours(q)[0] - theirs - stretch)
    return np.array(out), land


@pytest.mark.parametrize("scene", SCENES)
def test_what_is_sampled_is_the_model_written_out(scene):
    lineup, exposure = SCENES[scene]()
    apart, land = gaps(lineup, exposure)
    assert np.ptp(apart) < 1e-8
    assert land.pull[land.where["walk"]].any()
    assert land.pull[land.where["frailty"]].any()
    # with other information on the foundings the coordinates stretch otherwise
    q = some(land, 1)
    other = replace(land, laid=land.laid.copy())
    other.told[land.where["frailty"]] += 3.0
    assert abs(other.log_density(q)[0] - land.log_density(q)[0]) > 1e-3


@pytest.mark.parametrize("variant", [v for v in VARIANTS if v])
def test_every_variant_is_the_variant_written_out(variant):
    lineup, exposure = plain()
    apart, land = gaps(lineup.as_variant(variant), exposure)
    assert np.ptp(apart) < 1e-8
    q = some(land, 1)
    if variant != "one genus":
        as_agreed = landscape(lineup, exposure, Priors()).log_density(q)[0]
        assert abs(as_agreed - land.log_density(q)[0]) > 1e-3


@pytest.mark.parametrize(
    ("scene", "variant"),
    [(scene, "") for scene in SCENES] + [("full", variant) for variant in VARIANTS if variant],
)
def test_slopes_are_those_of_the_density(scene, variant):
    lineup, exposure = SCENES[scene]()
    land = landscape(lineup.as_variant(variant), exposure, Priors())
    ours = land.log_density
    q = some(land, 3)
    slopes = ours(q)[1]
    step = 1e-5
    for i in range(land.width):
        there, back = q.copy(), q.copy()
        there[i] += step
        back[i] -= step
        want = (ours(there)[0] - ours(back)[0]) / (2 * step)
        assert slopes[i] == pytest.approx(want, rel=2e-5, abs=2e-5), i
    assert (slopes != 0).all()


def contrasts_of(land):
    """Where the contrasts between genera lie."""
    return slice(land.where[EFFECTS[0]].start, land.where[EFFECTS[-1]].stop)


def test_a_genus_alone_deviates_in_no_way():
    lineup, exposure = plain()
    lands = {v: landscape(lineup.as_variant(v), exposure, Priors()) for v in ("", "one genus")}
    ways = {v: contrasts_of(land) for v, land in lands.items()}
    assert {v: own.stop - own.start for v, own in ways.items()} == {"": 6 * 2, "one genus": 0}
    for land in lands.values():
        assert land.told[land.where["frailty"]].any()
    assert lands[""].told[ways[""]].any()
    alone = lands["one genus"]
    named = alone.named(some(alone, 1)[None, None])
    for effect in EFFECTS:
        np.testing.assert_array_equal(named[effect][..., 0], named[f"{effect}_mean"])


def test_any_contrasts_give_one_model():
    """Turned columns are other coordinates of the same prior; columns not orthogonal are not."""
    lineup, exposure = plain()
    land = landscape(lineup, exposure, Priors())
    turn = np.linalg.qr(np.random.default_rng(3).normal(size=(2, 2)))[0]
    q = some(land, 2)
    block, ways = contrasts_of(land), (6, 2)
    even = replace(land, laid=land.laid.copy())
    # where each way is told as much and none is pulled, turning is all that differs
    even.told[block] = even.pull[block] = 0.0
    pooling_of(even.laid)[1][:] = 0.1
    want = even.log_density(q)[0]
    for other, same in ((turn, True), (turn @ np.diag([1.0, 1.1]), False)):
        turned, moved = replace(even, laid=even.laid.copy()), q.copy()
        pooling_of(turned.laid)[0][:] = pooling_of(even.laid)[0] @ other
        moved[block] = (q[block].reshape(ways) @ np.linalg.inv(other).T).ravel()
        np.testing.assert_allclose(
            turned.named(moved[None, None])["together"], even.named(q[None, None])["together"]
        )
        assert (abs(turned.log_density(moved)[0] - want) < 1e-9) == same


@pytest.mark.parametrize("scene", ["plain", "full"])
def test_each_sd_multiplies_what_it_is_said_to_multiply(scene):
    lineup, exposure = SCENES[scene]()
    lineup = replace(lineup, pooled_fight=False)  # else one SD multiplies nothing
    land = landscape(lineup, exposure, Priors())
    q, said = some(land, 4), land.sds()
    by_name = {name: set(said[own]) for name, own in land.where.items() if own.stop > own.start}
    named = {
        "walk": "walk_sd", "frailty": "frailty_sd"
    } | {name: f"{name}_sd" for name in EFFECTS} | {
        level.parameter(part): f"{level.parameter(part)}_sd"
        for level in LEVELS for part in level.moves
    }  # fmt: skip
    for name, sds in by_name.items():
        own = land.where[named[name]] if name in named else slice(-1, 0)
        assert sds == set(range(own.start, own.stop)), name
    unmoved = density.parameters(q, land.laid)[0]
    for sd in np.unique(said[said >= 0]):
        moved = q.copy()
        moved[sd] *= 1.3
        changed = density.parameters(moved, land.laid)[0] != unmoved
        for name in EFFECTS:  # moved along with the deviations (``share``)
            changed[land.where[f"{name}_mean"]] = False
        want = (said == sd) & ((land.told > 0) | (land.pull != 0))
        want[sd] = True
        np.testing.assert_array_equal(changed, want)


def test_what_a_study_does_not_speak_of_stays_at_its_prior():
    lineup, exposure = plain()
    land = landscape(lineup, exposure, Priors())
    q = some(land, 2)
    slopes = land.log_density(q)[1]
    sds = [f"{level.parameter(part)}_sd" for level in LEVELS for part in level.moves]
    names = ("loading", "warm_days", *sds)
    unnamed = [land.where[name].start for name in names]
    centre, scale = land.middle()
    want = -(q - centre) / scale**2
    assert slopes[unnamed] == pytest.approx(want[unnamed])
    seen = land.where["seen"]
    assert slopes[seen] != pytest.approx(want[seen])  # seen matings are spoken of
    assert not {"loading", "warm_days", "warm_threshold", *sds} & set(
        land.named(q[None, None]).data_vars
    )


@pytest.mark.parametrize("sd", [0.0, 0.3, -2.0])
@pytest.mark.parametrize("told", [0.0, 0.5, 40.0])
def test_what_is_sampled_is_standard_normal_whatever_the_sd(sd, told):
    # A normal likelihood that tells the effect sd x w to be ``where``, with information ``told``.
    # The logs are quadratic, so differences of three are their slope and curvature.
    where = 0.7

    def shape_of(information, pull):
        def log_of(v):
            w = density.ease(v, sd, told, pull)
            seen = -0.5 * information * (sd * w - where) ** 2
            return density.ease_back(w, 0.0, sd, told, pull)[0] + seen

        low, mid, high = (log_of(v) for v in (-1.0, 0.0, 1.0))
        return (high - low) / 2, high - 2 * mid + low

    assert shape_of(told, told * where) == pytest.approx((0.0, -1.0), abs=1e-9)
    if sd and told:
        assert abs(shape_of(3 * told, told * where)[1] + 1.0) > 0.05
        assert abs(shape_of(told, 0.0)[0]) > 0.05


@pytest.mark.parametrize(("told", "pull"), [(0.0, 0.0), (7.0, 0.0), (0.0, 2.0), (7.0, -3.0)])
def test_what_an_sd_multiplies_is_standard_normal(told, pull):
    sd, points = -0.6, np.array([-1.0, 0.0, 1.3])
    w = np.array([density.ease(v, sd, told, pull) for v in points])
    logs = np.array([density.ease_back(x, 0.0, sd, told, pull)[0] for x in w])
    stretched = norm.logpdf(w) + math.log((w[2] - w[1]) / points[2])
    assert np.ptp(logs - stretched) < 1e-12
    assert np.ptp(logs - norm.logpdf(points)) > 0.1 or (told, pull) == (0.0, 0.0)


def test_an_sd_without_its_sign_is_half_normal():
    lineup, exposure = plain()
    land = landscape(lineup, exposure, Priors().but(keeper_before_sd={"scale": 0.4}))
    q = some(land, 2)

    def at_sd(value):
        moved = q.copy()
        moved[land.where["keeper_before_sd"]] = (
            value  # no keeper is in this study: nothing else hangs on it
        )
        return land.log_density(moved)[0]

    fall = math.exp(at_sd(1.0) - at_sd(0.0))
    assert fall == pytest.approx(halfnorm.pdf(1.0, scale=0.4) / halfnorm.pdf(0.0, scale=0.4))
    assert at_sd(-1.0) == at_sd(1.0)


def test_a_place_where_the_model_breaks_is_a_step_gone_astray_and_no_number():
    lineup, exposure = plain()
    land = landscape(lineup, exposure, Priors())
    q = some(land, 2)
    q[land.where["within_days"]] = 900.0
    assert land.log_density(q)[0] == -math.inf


def test_draws_carry_the_names_people_use_and_the_signs_of_their_sds():
    lineup, exposure = SCENES["full"]()
    land = landscape(lineup, exposure, Priors())
    q = np.stack([some(land, i) for i in range(4)]).reshape(2, 2, -1)
    frailty, walk = (land.where[name].start for name in ("frailty_sd", "walk_sd"))
    q[..., frailty] = -0.5
    q[..., walk] = [[-0.2, 0.3], [0.1, -0.4]]
    named = land.named(q)
    assert named.sizes["chain"] == named.sizes["draw"] == 2
    assert (named["frailty_sd"] == 0.5).all()
    assert (named["walk_sd"] >= 0).all()
    flipped = q.copy()
    for name in ("frailty_sd", "walk_sd", "frailty", "walk"):
        flipped[..., land.where[name]] *= -1
    again = land.named(flipped)
    for name in ("frailty", "walk", "frailty_sd", "walk_sd"):
        np.testing.assert_array_equal(named[name], again[name])
    level = replace(land, laid=land.laid.copy())
    level.pull[:] = 0.0
    assert (np.sign(level.named(q)["frailty"]) == -np.sign(land_block(land, q))).all()
    for name in ("keeper_before", "keeper_after", "keeper_first_worker"):
        assert named[name].dims == ("chain", "draw", "keeper")
    assert list(named["keeper"].to_numpy()) == ["ann", "bo"]
    assert list(named["covariate_before"].to_numpy()) == ["mites", "size"]
    assert named["slope_after"].dims == ("chain", "draw", "covariate_after")
    assert list(named["covariate_after"].to_numpy()) == ["size"]
    assert list(named["covariate_first_worker"].to_numpy()) == ["mites"]
    spread = named["together"] - named["together_mean"]
    assert np.abs(spread.mean("genus")).max() < 1e-12  # deviations sum to zero


def land_block(land, q):
    """The frailties of a vector."""
    return q[..., land.where["frailty"]]


def test_a_start_lies_within_reach_of_every_prior():
    lineup, exposure = SCENES["full"]()
    land = landscape(lineup, exposure, Priors())
    starts = np.stack([land.start(seed) for seed in range(50)])
    values = [land.log_density(q)[0] for q in starts]
    assert np.isfinite(values).all()
    names = ("multi_days", "within_days", *(f"{name}_mean" for name in EFFECTS))
    head = [land.where[name].start for name in names]
    for place, name in zip(head, names, strict=True):
        prior = Priors()[name.removesuffix("_mean")]
        assert (np.abs(starts[:, place] - prior.mean) <= prior.sd).all(), name
    assert abs(1 / (1 + np.exp(-starts[:, land.where["mated"]].mean())) - 0.8) < 0.06
    np.testing.assert_array_equal(land.start(3), land.start(3))
