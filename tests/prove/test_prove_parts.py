"""Each part of a proof, with a fault planted in what it looks at: it has to see it.

No fit is made here. What a comparison or a sampler would hand over is made by hand, so that it is
known whether it is right; the whole, with faults planted in the program itself, is in
``tests/slow/test_prove_whole.py``.
"""

import dataclasses
import math
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

import cohort.history
import cohort.outcomes.quantities
from cohort.calibrate.ranks import KEPT, MUTANTS
from cohort.model.parameters import EFFECTS
from cohort.model.priors import Priors
from cohort.prove import by_hand, club, schools, twenty
from cohort.prove.lines import Line, Part, near
from cohort.terms.voice import told

WHAT = told("line_mu")


def held(lines):
    return Part("any", tuple(lines)).holds


# --- a line, and a part -------------------------------------------------------------------------


def test_a_number_lies_where_it_has_to_or_not():
    assert Line(WHAT, 1.0, 1.0, 2.0).holds
    assert not Line(WHAT, 0.999, 1.0, 2.0).holds
    assert not Line(WHAT, math.nan, -math.inf, math.inf).holds
    assert not Line(WHAT, math.inf, 0.0, math.inf).holds
    assert [near(WHAT, v, 3.0, 0.5).holds for v in (2.4, 2.5, 3.5, 3.6)] == [
        False,
        True,
        True,
        False,
    ]


def test_a_part_without_numbers_or_broken_off_does_not_hold():
    good = near(WHAT, 1.0, 1.0, 0.1)
    assert held([good, good])
    assert not held([good, near(WHAT, 2.0, 1.0, 0.1)])
    assert not held([])
    assert not Part("any", (good,), broke_off="no threads").holds


# --- by hand ------------------------------------------------------------------------------------


def test_the_paper_and_the_program_agree():
    assert held(by_hand.by_hand())
    assert by_hand.on_paper() == pytest.approx(0.0878530, abs=5e-8)  # as printed beside it


def test_a_loss_dated_at_the_look_is_seen(monkeypatch):
    plain = cohort.history.history
    monkeypatch.setattr(
        cohort.history, "history", lambda study: MUTANTS["dated at the look"](plain(study))
    )
    lines = by_hand.by_hand()
    assert [one.what.key for one in lines if not one.holds] == ["line_looks"]


def test_a_colony_read_wrongly_is_seen(monkeypatch):
    plain = cohort.outcomes.quantities.outcomes

    def wrong(*given):
        found = plain(*given)
        values = {
            key: found.values.get(key._replace(reading="seen"), value)
            if key.reading == "alike" else value
            for key, value in found.values.items()
        }  # fmt: skip
        return SimpleNamespace(values=values)

    monkeypatch.setattr(cohort.outcomes.quantities, "outcomes", wrong)
    lines = by_hand.by_hand()
    assert {one.what.values["reading"].key for one in lines if not one.holds} == {"reading_alike"}


# --- a simulated club ---------------------------------------------------------------------------


def made_club(*, off=0.0, inside=0.9, settled=True):
    """Printed numbers beside the truth: means off by so many SDs, so many ranges that hold it."""
    units = {"hazard_ratio": "ratio", "time_ratio": "ratio"}
    rows = [
        {"quantity": name, "genus": "average", "arm": "ratio" if name in units else "difference",
         "reading": "seen" if name.startswith("same") else "", "unit": units.get(name, "chance"),
         "day": pd.NA if name in units else club.DESIGN.horizon, "truth": 0.5,
         "log": math.log(0.5) if name in units else 0.5}
        for name in club.HEADLINES
    ]  # fmt: skip
    frame = pd.DataFrame(rows)
    sd = 0.1
    middle = frame.pop("log") + off * sd
    for column, shift in (("mean", 0.0), ("low", -1.645), ("high", 1.645)):
        value = middle + shift * sd
        frame[column] = np.where(frame["unit"] == "ratio", np.exp(value), value)
    frame["inside"] = True
    many = pd.DataFrame({"genus": "Lasius", "truth": 0.5, "inside": np.arange(200) < 200 * inside})
    known = pd.concat([frame, many], ignore_index=True)
    return club.Club(SimpleNamespace(settled=settled, second_opinion=opinions()), known)


def opinions(**off):
    """Six numbers of methods, each so many joint errors off the comparison; and one said twice."""
    rows = []
    for method, quantity, arm, unit in (
        ("aft", "time_ratio", "ratio", "ratio"),
        ("incidence", "chance_by_day", "single", "chance"),
        ("incidence", "chance_by_day", "multi", "chance"),
        ("exact", "chance_per_founding", "difference", "chance"),
        ("counted", "same_queens_any", "difference", "chance"),
        ("counted", "same_queens_count", "difference", "colonies"),
        ("incidence_jittered", "chance_by_day", "single", "chance"),  # said twice, held once
    ):
        joint = math.hypot(0.1, 0.1)
        model, own = 0.3 + off.get(method, 0.5) * joint, 0.3
        ends = [own, own - 0.1645, own + 0.1645, model, model - 0.1645, model + 0.1645]
        if unit == "ratio":
            ends = [math.exp(v) for v in ends]
        names = ("estimate", "low", "high", "model", "model_low", "model_high")
        rows.append({"method": method, "quantity": quantity, "arm": arm, "unit": unit,
                     "genus": "all", **dict(zip(names, ends, strict=True))})  # fmt: skip
    return pd.DataFrame(rows)


@pytest.mark.parametrize("off", [0.0, 2.9, -2.9])
def test_a_club_that_was_found_holds(off):
    lines = club.recovered(made_club(off=off))
    assert held(lines)
    assert [one.found for one in lines[2:]] == pytest.approx([off] * 4)


@pytest.mark.parametrize(
    ("fault", "seen"),
    [
        ({"off": 3.2}, {"line_headline"}),
        ({"off": -3.2}, {"line_headline"}),
        ({"inside": 0.7}, {"line_inside"}),
        ({"settled": False}, {"line_settled"}),
    ],
)
def test_a_club_that_was_not_found_is_seen(fault, seen):
    lines = club.recovered(made_club(**fault))
    assert {one.what.key for one in lines if not one.holds} == seen


def test_a_second_opinion_that_agrees_holds():
    lines = club.second(made_club())
    assert held(lines)
    assert [one.found for one in lines[1:]] == pytest.approx([0.5] * 6)


@pytest.mark.parametrize("method", ["aft", "incidence", "exact", "counted"])
def test_a_second_opinion_that_contradicts_is_seen(method):
    of = made_club()
    of = dataclasses.replace(
        of, results=SimpleNamespace(settled=True, second_opinion=opinions(**{method: -3.1}))
    )
    wrong = {one.what.values["method"].key for one in club.second(of) if not one.holds}
    assert wrong == {f"method_{method}"}


def test_too_few_opinions_are_no_proof():
    few = opinions().assign(genus=["all"] * 4 + ["Lasius"] * 3)
    of = club.Club(SimpleNamespace(settled=True, second_opinion=few), pd.DataFrame())
    assert {one.what.key for one in club.second(of) if not one.holds} == {"line_methods"}


# --- eight schools ------------------------------------------------------------------------------


def drawn_exactly(seed=3, *, chains=4, draws=2000):
    """Independent draws of the posterior: tau from a grid of its marginal, the rest is normal."""
    rng = np.random.default_rng(seed)
    tau = schools.SCALE * np.tan((np.arange(4000) + 0.5) / 4000 * math.pi / 2)
    noise = np.diag(schools.ERROR**2)
    ones, own = np.ones((8, 8)), np.eye(8)

    def given(t):
        whole = schools.SCALE**2 * ones + t**2 * own + noise
        return -0.5 * (
            np.linalg.slogdet(whole)[1] + schools.EFFECT @ np.linalg.solve(whole, schools.EFFECT)
        )

    weight = np.exp([given(t) for t in tau])
    sd, effects = np.empty(chains * draws), np.empty((chains * draws, 8))
    picked = rng.choice(len(tau), size=chains * draws, p=weight / weight.sum())
    for t in np.unique(picked):
        cover = schools.SCALE**2 * ones + tau[t] ** 2 * own
        gain = cover @ np.linalg.inv(cover + noise)
        these = np.flatnonzero(picked == t)
        left = cover - gain @ cover
        effects[these] = rng.multivariate_normal(gain @ schools.EFFECT, left, len(these))
        sd[these] = tau[t]
    shape = (chains, draws)
    every = np.zeros((*shape, len(EFFECTS), 8))
    every[:, :, 0] = effects.reshape(*shape, 8)
    spread = np.ones((*shape, len(EFFECTS)))
    spread[..., 0] = sd.reshape(shape)
    mean = np.zeros((*shape, len(EFFECTS)))
    mean[..., 0] = every[:, :, 0].mean(axis=-1)
    wide = type(Priors()["founding_hazard"])(0.0, schools.SCALE, schools.WIDE)
    return schools.Sampled(mean, spread, every, Priors().but(founding_hazard=wide))


def test_exact_draws_hold():
    assert held(schools.outside(drawn_exactly()))


def test_schools_taken_one_by_one_are_seen():
    of = drawn_exactly()
    alone = of.effects.copy()
    alone[:, :, 0] += schools.EFFECT - np.array(schools.exact()[2])
    lines = schools.outside(dataclasses.replace(of, effects=alone))
    assert {one.what.key for one in lines if not one.holds} == {"line_school"}


def test_a_spread_and_a_mean_that_are_wrong_are_seen():
    of = drawn_exactly()
    wide = schools.outside(dataclasses.replace(of, sd=1.1 * of.sd))
    assert "line_tau" in {one.what.key for one in wide if not one.holds}
    high = schools.outside(dataclasses.replace(of, mean=of.mean + 1.0))
    assert {one.what.key for one in high if not one.holds} == {"line_mu"}


# --- twenty studies -----------------------------------------------------------------------------


def uniform(seed=1, quantities=115):
    rng = np.random.default_rng(seed)
    ranks = pd.DataFrame(rng.integers(0, KEPT + 1, (twenty.STUDIES, quantities)))
    return ranks.add_prefix("q"), pd.DataFrame({"failed": [""] * twenty.STUDIES})


def test_even_ranks_hold():
    assert held(twenty.calibrated(*uniform()))


@pytest.mark.parametrize(
    ("spoil", "seen"),
    [
        (lambda ranks: ranks // 2, {"line_mean_rank", "line_outside"}),
        (lambda ranks: KEPT // 4 + ranks // 2, {"line_coverage"}),
        (lambda ranks: ranks.where(ranks > 50, 0), {"line_coverage", "line_mean_rank"}),
    ],
    ids=["low", "ranges too wide", "half of them at an end"],
)
def test_uneven_ranks_are_seen(spoil, seen):
    ranks, record = uniform()
    lines = twenty.calibrated(spoil(ranks), record)
    assert seen <= {one.what.key for one in lines if not one.holds}


def test_failed_fits_and_missing_studies_are_seen():
    ranks, record = uniform()
    record.loc[:1, "failed"] = "R-hat 2.0"
    assert {o.what.key for o in twenty.calibrated(ranks, record) if not o.holds} == {"line_failed"}
    ranks, record = uniform()
    lines = twenty.calibrated(ranks.iloc[:17], record)
    assert "line_studies" in {one.what.key for one in lines if not one.holds}
