"""The table of parameters: complete, held to a copy by hand, and all that is made from it."""

import dataclasses
import math
from itertools import pairwise

import numpy as np
import plain_priors
import pytest
from in_pymc import function_of, point_of
from plain_priors import log_prior
from scene_designs import SCENES, full, in_plain_words, plain, some
from scipy.stats import norm

from cohort.base.errors import StudyError
from cohort.likelihood import layout
from cohort.model.design import VARIANTS, Grouping, ModelDesign, as_dataset, from_dataset
from cohort.model.families import (
    Beta,
    BetweenGenera,
    CutNormal,
    HalfNormal,
    LogNormal,
    Normal,
)
from cohort.model.graph import written_out
from cohort.model.log_posterior import log_posterior
from cohort.model.parameters import BY_GENUS, COMMON, EFFECTS, IN_EVERY_STUDY, TABLE
from cohort.model.places import limits, places
from cohort.model.priors import Priors, draw
from cohort.newsletter.catalogue import languages
from cohort.newsletter.checklists import load
from cohort.simulate.truth import GenusTruth
from cohort.terms.levels import LEVELS, PARTS


def names_by_hand(model):
    """Names of the plain variables behind those that the model walks."""
    out = set()
    for value in model.value_vars:
        name = value.name
        if name.endswith("_signed"):
            name = name.removesuffix("_signed") + "_log__"
        elif name.endswith("_coordinate"):
            name = name.removesuffix("_coordinate")
            name += "" if name in ("walk", "frailty") else "_raw"
        out.add(name)
    return out


@pytest.mark.parametrize("scene", SCENES)
def test_the_priors_are_those_written_by_hand(scene):
    design, exposure = SCENES[scene]()
    target = log_posterior(design, exposure, Priors())
    model = written_out(design, exposure, Priors())
    theirs, names = function_of(model, model.free_RVs), names_by_hand(model)
    # an SD with a sign is a normal, not a half-normal; G deviations with sum 0 are G - 1 normals
    signed = sum(np.size(v) for n, v in model.initial_point().items() if n.endswith("_signed"))
    constant = len(EFFECTS) * 0.5 * math.log(2 * math.pi) - signed * math.log(2.0)
    for seed in range(3):
        q = some(target, seed)
        point, stretch = in_plain_words(target, q)
        ours = log_prior(point, names, len(design.genera), design.pooled_fight, limits(design))
        found = theirs(point_of(model, target, q))[0]
        assert found == pytest.approx(ours + stretch + constant, abs=1e-6)
    wide = written_out(design, exposure, Priors().but(rivalry={"sd": 2.0}))
    other = function_of(wide, wide.free_RVs)(point_of(wide, target, q))[0]
    assert abs(other - found) > 0.1


def test_every_row_is_whole():
    shared = [row.shared for row in TABLE.values() if row.shared >= 0]
    assert len(set(shared)) == len(shared)
    fields = {field.name for field in dataclasses.fields(GenusTruth)}
    for name, row in TABLE.items():
        assert row.name == name
        assert (row.prior is None) == bool(row.sd), name
        assert not row.sd or row.sd in TABLE, name
        assert row.truth in fields | {""}, name
        assert set(row.fixed) <= set(VARIANTS), name
        if row.prior is not None:
            assert len(row.says) > 10, name
            assert len(row.why) > 10, name
    assert tuple(row.name for row in BY_GENUS) == EFFECTS
    places_of = {part: getattr(layout, f"P_{part.upper()}") for part in PARTS}
    assert list(places_of.values()) == list(range(layout.PARTS))


COLUMN = {
    "size_step": layout.S_SIZE_STEP, "size_step_rivalry": layout.S_SIZE_STEP_RIVALRY,
    "multi_days": layout.S_MULTI_DAYS, "within_days": layout.WITHIN_DAYS,
    "frailty_sd": layout.SIGMA, "mated": layout.S_MATED, "seen": layout.S_SEEN,
    "loading": layout.LOADING, "warm_threshold": layout.S_THRESHOLD,
    "winter": layout.WINTER, "winter_company": layout.WINTER_COMPANY,
}  # fmt: skip
TRUTH = {
    "founding_hazard": "log_hazard", "together": "together",
    "worker_hazard": "log_hazard_workers", "rivalry": "rivalry", "last_fight": "last_fight",
    "first_worker": "log_median_day", "size_step": "doubling",
    "size_step_rivalry": "rivalry_doubling", "multi_days": "multi_days",
    "within_days": "within_days", "frailty_sd": "frailty", "mated": "mated",
    "seen": "mating_seen", "winter": "winter", "winter_company": "winter_company",
}  # fmt: skip
WINTER = {"winter", "winter_company"}
KEEPERS = {
    "keeper": "before after first_worker", "flight": "before after",
    "kind_within": "before after", "season": "before after first_worker",
}  # fmt: skip
LEVEL_PARTS = {f"{k}_{part}": (k, part) for k, parts in KEEPERS.items() for part in parts.split()}
"""Effects by level: of what, and on which part."""
DIMS = {"walk_sd": ("phase",), "walk": ("step",), "frailty": ("founding",)}
DIMS |= {name: (kind,) for name, (kind, _) in LEVEL_PARTS.items()}
DIMS |= {f"slope_{part}": (f"covariate_{part}",) for part in PARTS}
SD_OF = {"walk": "walk_sd", "frailty": "frailty_sd"} | {n: f"{n}_sd" for n in LEVEL_PARTS}
FIXED = {
    "no rivalry": {"rivalry": 0.0, "size_step_rivalry": 0.0},
    "no frailty": {"frailty_sd": 0.0},
    "no fertile fraction": {"mated": 1.0},
    "last fight takes one": {"last_fight": -40.0},  # a chance of 4e-18
}


def by_hand():
    """Every prior with its numbers from `plain_priors`, where the table has no part in them."""
    effects = zip(plain_priors.MEAN, plain_priors.MEAN_SD, plain_priors.BETWEEN, strict=True)
    out = {name: BetweenGenera(*own) for name, own in zip(EFFECTS, effects, strict=True)}
    out |= {name: Normal(*own) for name, own in plain_priors.NORMAL.items()}
    out |= {name: HalfNormal(scale) for name, scale in plain_priors.HALF.items()}
    out |= {"mated": Beta(*plain_priors.SHARE), "within_days": LogNormal(*plain_priors.WITHIN)}
    return out | {"warm_threshold": CutNormal(*plain_priors.THRESHOLD)}


def test_every_row_is_as_it_was_written_by_hand():
    assert {name: row.prior for name, row in TABLE.items() if row.prior} == by_hand()
    assert {name: row.shared for name, row in TABLE.items() if row.shared >= 0} == COLUMN
    assert {name: row.truth for name, row in TABLE.items() if row.truth} == TRUTH
    assert {name: row.dims for name, row in TABLE.items() if row.dims} == DIMS
    assert {name: row.sd for name, row in TABLE.items() if row.sd} == SD_OF
    assert {n: (row.of, row.part) for n, row in TABLE.items() if row.of} == LEVEL_PARTS
    of_covariates = {name: row.part for name, row in TABLE.items() if row.part and not row.of}
    assert of_covariates == {f"slope_{part}": part for part in PARTS}
    assert tuple(EFFECTS) == (
        "founding_hazard", "together", "worker_hazard", "rivalry", "last_fight", "first_worker"
    )  # fmt: skip
    assert IN_EVERY_STUDY == (
        "size_step", "size_step_rivalry", "multi_days", "within_days", "frailty_sd", "mated",
        "walk_sd", "walk",
    )  # fmt: skip
    assert list(TABLE)[: len(EFFECTS)] == list(EFFECTS)  # as it is printed
    with pytest.raises(dataclasses.FrozenInstanceError):
        TABLE["seen"].shared = 3


def test_a_variant_holds_each_parameter_at_its_value():
    for variant in VARIANTS:
        want = FIXED.get(variant, {}) | ({} if variant == "free loading" else {"loading": 1.0})
        held = {n: row.fixed_at(variant) for n, row in TABLE.items()}
        assert {n: value for n, value in held.items() if value is not None} == want, variant


def test_a_parameter_enters_where_the_study_tells_of_it():
    always = set(TABLE) - {"seen", "loading", "warm_threshold", "warm_days"} - WINTER
    always -= {n for n in TABLE if n.removesuffix("_sd") in LEVEL_PARTS or n.startswith("slope_")}
    zero = np.zeros(2, np.int64)
    nothing = ModelDesign(
        ("a", "b"), ("X",), zero, zero + 1, zero, np.zeros((5, 7)), np.zeros((4, 7)), True
    )
    grouping = Grouping(("u", "v"), np.array([0, 1]))

    def named(**changes):
        changed = dataclasses.replace(nothing, **changes)
        return {n for n, row in TABLE.items() if row.enters(changed)} - always

    assert always == {n for n, row in TABLE.items() if row.enters(nothing)}
    assert named(seen=np.array([0, 1])) == {"seen"}
    assert named(warm=np.array([0.0, 0.3])) == {"warm_days"}
    assert named(logged=np.array([False, True])) == {"warm_threshold"}
    assert named(variant="free loading") == {"loading"}
    assert named(winter=(60.0, 100.0)) == WINTER
    assert not WINTER & set(places(nothing))  # no place in the vector, so nothing else moves
    assert set(places(dataclasses.replace(nothing, winter=(60.0, 100.0)))) >= WINTER
    for kind, parts in KEEPERS.items():
        names = {f"{kind}_{part}{end}" for part in parts.split() for end in ("", "_sd")}
        assert named(levels={kind: grouping}) == names
    for i, part in enumerate(PARTS):
        moves = np.zeros((len(PARTS), 1), bool)
        moves[i] = True
        found = named(covariates=("size",), x=np.ones((2, 1)), moves=moves)
        assert found == {f"slope_{part}"}


def test_what_a_level_moves_is_said_in_words():
    for name, (kind, part) in LEVEL_PARTS.items():
        row, words = TABLE[f"{name}_sd"], next(own.words for own in LEVELS if own.name == kind)
        assert row.says == f"SD between {words}, {PARTS[part]}"
        assert row.why.startswith("a guess: ")
        assert words in row.why
        assert ("degrees" in row.why) == (part == "first_worker")


def test_every_prior_is_printed_in_every_language_and_no_other():
    with_prior = {name for name, row in TABLE.items() if row.prior is not None}
    for language in languages():
        assert set(load(language)["prior"]) == with_prior, language


@pytest.mark.parametrize("scene", SCENES)
def test_parameters_lie_end_to_end(scene):
    where = list(places(SCENES[scene]()[0]).values())
    assert where[0].start == 0
    assert all(one.stop == two.start for one, two in pairwise(where))


def test_each_variant_holds_what_it_is_said_to_hold():
    fixed_at = {
        v: {row.name for row in TABLE.values() if row.fixed_at(v) is not None} for v in VARIANTS
    }
    usual = {"loading"}
    assert fixed_at == {
        "": usual,
        "lasting": usual,
        "one genus": usual,
        "no rivalry": usual | {"rivalry", "size_step_rivalry"},
        "no frailty": usual | {"frailty_sd"},
        "no fertile fraction": usual | {"mated"},
        "free loading": set(),
        "last fight takes one": usual | {"last_fight"},
    }


def test_a_changed_prior_reaches_density_draws_and_graph():
    design, exposure = plain()
    wide = Priors().but(multi_days=Normal(0.4, 0.3))
    target, other = (log_posterior(design, exposure, priors) for priors in (Priors(), wide))
    place = target.where["multi_days"].start
    assert (target.middle()[0][place], other.middle()[0][place]) == (-0.05, 0.4)
    q = some(target, 1)
    moved = q.copy()
    moved[place] += 0.3

    def gain(prior):
        return norm.logpdf(moved[place], *prior) - norm.logpdf(q[place], *prior)

    gains = [log_posterior(design, exposure, p) for p in (Priors(), wide)]
    for land_ in gains:  # one set of coordinates: what the data tell does not hang on this prior
        land_.score[:] = 0.0
    apart = [land_.log_density(moved)[0] - land_.log_density(q)[0] for land_ in gains]
    assert apart[1] - apart[0] == pytest.approx(gain((0.4, 0.3)) - gain((-0.05, 0.25)))
    drawn = draw(wide, 2, 4000, np.random.default_rng(1))["multi_days"]
    assert drawn.mean() == pytest.approx(0.4, abs=0.03)
    assert drawn.std() == pytest.approx(0.3, abs=0.02)


def test_priors_are_checked_when_they_are_made():
    for change, words in (
        ({"frailty_sd": {"scale": -1.0}}, "scale must be above 0; it is -1"),
        ({"frailty_sd": {"scale": 0.0}}, "must be above 0"),
        ({"walk_sd": {"scale": math.nan}}, "must be a number"),
        ({"mated": Beta}, "takes a Beta"),
        ({"mated": {"a": 0.0}}, "a must be above 0"),
        ({"together": {"sd": "wide"}}, "sd must be a number; it is 'wide'"),
        ({"togther": {"sd": 2.0}}, "no parameter 'togther'. Did you mean 'together'"),
        ({"frailty": -1}, "no parameter 'frailty'.*frailty_sd"),
        ({"frailty_sd": -1}, "takes a HalfNormal, not a int: give .*'scale'"),
        ({"frailty_sd": {"scale": True}}, "must be a number; it is True"),
        (
            {"together": {"within_days": 2.0}},
            "has no 'within_days'; its numbers are mean, sd, between",
        ),
        ({"together": HalfNormal(1.0)}, "takes a BetweenGenera, not a HalfNormal"),
    ):
        for make in (Priors, Priors().but):
            with pytest.raises(StudyError, match=words):
                make(**change)
        with pytest.raises(StudyError, match=words):
            Priors(change)
    with pytest.raises(StudyError, match="between must be above 0"):
        BetweenGenera(0.0, 1.0, 0.0)


def test_priors_come_back_from_their_text():
    changed = Priors().but(together={"sd": 2.0}, mated=Beta(5.0, 2.0))
    assert Priors.from_json(changed.as_json()) == changed != Priors()
    assert Priors.from_json(Priors().as_json()) == Priors()
    with pytest.raises(StudyError, match="another version"):
        Priors.from_json('{"together": {"mean": 0.0}}')


def test_a_design_comes_back_whole():
    # Fault: keepers and matings seen forgotten, though their effects were read back.
    for design in (
        full()[0],
        plain()[0].as_variant("no rivalry"),
        SCENES["logged"]()[0],
        SCENES["wintered"]()[0],
    ):
        again = from_dataset(as_dataset(design))
        for field in dataclasses.fields(design):
            want, got = getattr(design, field.name), getattr(again, field.name)
            if isinstance(want, np.ndarray):
                want = want.reshape(len(design.foundings), -1) if field.name == "x" else want
                assert field.name != "moves" or got.shape == (4, len(design.covariates))
                np.testing.assert_array_equal(got, want, err_msg=field.name)
                assert got.dtype == want.dtype, field.name
            elif field.name == "levels":
                assert list(got) == list(want)
                for name, own in want.items():
                    assert got[name].names == own.names, name
                    np.testing.assert_array_equal(got[name].index, own.index, err_msg=name)
            else:
                assert got == want or (got != got and want != want), field.name


def test_common_parameters_enter_by_their_rule():
    design = plain()[0]
    named = {row.name for row in COMMON if row.enters(design)}
    assert named == {
        "size_step", "size_step_rivalry", "multi_days", "within_days", "frailty_sd", "mated",
        "seen", "walk_sd", "walk"
    }  # fmt: skip
    assert {row.name for row in COMMON if row.enters(full()[0])} == named | {
        "warm_days", *(f"{level.parameter(part)}_sd" for level in LEVELS for part in level.moves)
    }  # fmt: skip


def test_what_only_a_variant_has_is_drawn_for_that_variant():
    rng = np.random.default_rng(2)
    assert "loading" not in draw(Priors(), 2, 10, rng)
    free = draw(Priors(), 2, 4000, rng, variant="free loading")["loading"]
    assert free.mean() == pytest.approx(1.0, abs=0.05)
    assert free.std() == pytest.approx(0.5, abs=0.05)
