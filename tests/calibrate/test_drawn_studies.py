"""Studies drawn for a calibration: a design that knows no truth, a truth from the priors."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import ks_2samp

from cohort.calibrate import MUTANTS, Shape, Task, large
from cohort.calibrate.season import design_of, names, plans, season, truths
from cohort.history import history
from cohort.likelihood import layout as at
from cohort.model.coordinates import MANY
from cohort.model.priors import EFFECTS, Priors, draw
from cohort.simulate.truth import draw_truth

SHAPE = Shape()


@pytest.fixture(scope="module")
def drawn():
    return [season(seed, SHAPE, Priors()) for seed in range(1, 7)]


def test_a_seed_gives_one_study(drawn):
    again = season(1, SHAPE, Priors())
    assert again.study.checks.equals(drawn[0].study.checks)
    assert not again.study.checks.equals(drawn[1].study.checks)


def test_sheets_come_back_as_planned(drawn):
    entered, given, gave_up, blank = 0, 0, 0, 0
    for seed, one in enumerate(drawn, start=1):
        planned = plans(SHAPE, np.random.default_rng([seed, 1]))
        past = history(one.study)
        own = past.foundings
        assert tuple(own["founding"]) == names(len(planned)) == one.design.foundings
        assert SHAPE.fewest <= len(planned) <= SHAPE.most
        assert own["size"].tolist() == [p.size for p in planned]
        assert own["entry"].tolist() == [p.entry for p in planned]
        assert own["genus"].tolist() == [SHAPE.genera[p.genus_code] for p in planned]
        late = own["entry"] > 0
        wanted = np.maximum(own["size"] - 1, 1)
        assert (own["entry_queens"][late] == wanted[late]).all()
        assert not own["entry_workers"].any()
        entered += int(late.sum())
        given += int((one.study.events["event"] == "queens-out").sum())
        gave_up += int((own["end_kind"] == "gave-up").sum())
        blank += int(one.study.checks["workers"].isna().sum())
    assert min(entered, given, gave_up, blank) > 3


def test_the_design_does_not_know_the_truth():
    other = Priors().but(frailty_sd={"scale": 3.0})
    calm, wild = season(4, SHAPE, Priors()), season(4, SHAPE, other)
    assert calm.drawn["frailty_sd"] != wild.drawn["frailty_sd"]
    for column in ("genus", "queens", "started", "followed_from"):
        assert calm.study.foundings[column].equals(wild.study.foundings[column])


def test_the_design_keeps_every_step_whatever_was_lost():
    design = design_of(SHAPE, plans(SHAPE, np.random.default_rng(0)))
    assert (np.abs(design.steps1).sum(axis=0)[: at.N1 - 1] > 0).all()
    assert (np.abs(design.steps2).sum(axis=0)[at.N1 - 1 :] > 0).all()


def test_truths_of_the_priors_are_those_of_the_simulators_own_draw():
    """Two codes of the same priors: the model's and the simulator's, marginal by marginal."""
    n, rng = 3000, np.random.default_rng(11)
    ours = draw(Priors(), 2, n, rng)
    theirs = [draw_truth(["A", "B"], rng).genera for _ in range(n)]
    logit = {"last_fight"}
    names = {
        "founding_hazard": "log_hazard",
        "together": "together",
        "worker_hazard": "log_hazard_workers",
        "rivalry": "rivalry",
        "last_fight": "last_fight",
        "first_worker": "log_median_day",
    }
    pairs = {}
    for effect, name in names.items():
        value = np.array([getattr(t["A"], name) for t in theirs])
        value = np.log(value / (1 - value)) if effect in logit else value
        pairs[effect] = (ours["genus"][:, EFFECTS.index(effect), 0], value)
        other = np.array([getattr(t["B"], name) for t in theirs])
        other = np.log(other / (1 - other)) if effect in logit else other
        between = ours["genus"][:, EFFECTS.index(effect)]
        pairs[f"{effect} between"] = (between[:, 0] - between[:, 1], value - other)
    for mine, name in (
        ("size_step", "doubling"),
        ("size_step_rivalry", "rivalry_doubling"),
        ("within_days", "within_days"),
        ("multi_days", "multi_days"),
        ("frailty_sd", "frailty"),
        ("mated", "mated"),
        ("seen", "mating_seen"),
    ):
        pairs[mine] = (ours[mine], np.array([getattr(t["A"], name) for t in theirs]))
    one = [truths({k: v[i : i + 1] for k, v in ours.items()})[0] for i in range(1500)]
    for piece in (0, 1, 3, 4):
        pairs[f"step {piece}"] = (
            np.array([t.founding_steps[piece] for t in one]),
            np.array([t["A"].founding_steps[piece] for t in theirs]),
        )
    for piece in (1, 2, 3):
        pairs[f"worker step {piece}"] = (
            np.array([t.worker_steps[piece] for t in one]),
            np.array([t["A"].worker_steps[piece] for t in theirs]),
        )
    chances = {name: ks_2samp(*pair).pvalue for name, pair in pairs.items()}
    assert min(chances.values()) > 1e-4, chances
    # a mean that is a fifth of an SD off would be seen in the plain ones
    wrong = ks_2samp(ours["multi_days"] + 0.05, pairs["multi_days"][1]).pvalue
    assert wrong < 1e-6


def test_the_mutant_moves_every_loss_to_its_look_and_nothing_else(drawn):
    past = history(drawn[2].study)
    moved = MUTANTS["dated at the look"](past)
    lost, late = past.intervals["lost"] > 0, moved.intervals["lost"] > 0
    assert lost.sum() == late.sum() > 10
    np.testing.assert_allclose(moved.intervals["by"][late], past.intervals["by"][lost])
    assert (moved.intervals["by"] - moved.intervals["after"])[late].max() < 0.03
    days = [
        ((h.intervals["by"] - h.intervals["after"]) * h.intervals["at_risk"]).sum()
        for h in (past, moved)
    ]
    assert days[0] == pytest.approx(days[1])
    pd.testing.assert_frame_equal(moved.foundings, past.foundings)
    plain, mutant = Task().packed(past), Task(mutant="dated at the look").packed(past)
    # a loss is preceded by no days at risk of its own; they count as lived through
    exposure = slice(at.EXPOSURE, at.EXPOSURE + at.N1)
    seen = mutant.rows[mutant.rows[:, at.AFTER] != at.SOME, exposure].sum(axis=1)
    assert np.quantile(seen, 0.8) < 0.03 < np.quantile(plain.rows[:, exposure].sum(axis=1), 0.5)


def test_a_large_study_is_sampled_as_a_comparison_of_its_size():
    task = large()
    one = season(3, task.shape, task.priors)
    count = len(one.study.foundings)
    assert task.shape.fewest >= MANY
    assert task.shape.fewest <= count <= task.shape.most
    assert one.design.foundings == names(count)
    assert len(set(names(400))) == 400
    assert task.accept is None
