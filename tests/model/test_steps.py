"""How the sampler goes: by what is asked, else by the size of the study."""

import numpy as np
import pytest
from arviz_stats.base import array_stats
from scene_designs import plain
from scenes import history_of, lived

from cohort.likelihood.density import density_c
from cohort.likelihood.exposure import packed
from cohort.model import sample as sampling
from cohort.model.design import model_design
from cohort.model.log_posterior import log_posterior
from cohort.model.nuts import sample_nuts
from cohort.model.priors import Priors


class Stop(Exception):
    pass


def told(monkeypatch, design, exposure, **asked):
    """What the sampler was told."""

    def noted(*_, **how):
        raise Stop(how)

    monkeypatch.setattr(sampling, "sample_nuts", noted)
    monkeypatch.setattr(sampling, "log_posterior", lambda *_: type("Land", (), dict.fromkeys(
        ("packed", "width", "start")))())  # fmt: skip
    with pytest.raises(Stop) as information:
        sampling.sample(design, exposure, Priors(), seed=1, **asked)
    return information.value.args[0]


def aimed_at(monkeypatch, design, exposure, **asked):
    """The acceptance the sampler was told to aim at."""
    return told(monkeypatch, design, exposure, **asked)["accept"]


def test_steps_are_of_one_acceptance_unless_asked(monkeypatch):
    assert aimed_at(monkeypatch, *plain()) == sampling.ACCEPT


@pytest.mark.parametrize(("foundings", "split", "tune"), [(198, False, 300), (200, True, 200)])
def test_a_large_study_goes_along_a_normal_exactly(monkeypatch, foundings, split, tune):
    from by_rows import Rates

    rates = Rates(level1=0.006, level2=0.004, tau=0.15, phi=0.9, sigma=0.5)
    half = foundings // 2
    sets = lived(half, 1, rates, [40, 80], 1) + lived(half, 3, rates, [40, 80], 2)
    more = {f"F{i}": {"genus": "AB"[i % 2]} for i in range(foundings)}
    exposure = packed(history_of(sets, more=more))
    assert len(exposure.foundings) == foundings
    how = told(monkeypatch, model_design(exposure), exposure)
    assert (how["split"], how["tune"], how["accept"]) == (split, tune, 0.9)
    assert told(monkeypatch, model_design(exposure), exposure, tune=7)["tune"] == 7


def test_who_asks_for_smaller_steps_gets_them(monkeypatch):
    assert aimed_at(monkeypatch, *plain(), accept=0.99) == 0.99


def alike(one, other):
    """Whether draws of several numbers, (chains, draws, numbers), come from one distribution."""
    spread = np.log(one.std(axis=(0, 1)) / other.std(axis=(0, 1)))
    ess = np.minimum(*(
        array_stats.ess(np.moveaxis(a, 2, 0), chain_axis=1, draw_axis=2, method="mean")
        for a in (one, other)
    ))  # fmt: skip
    error = np.sqrt((one.var(axis=(0, 1)) + other.var(axis=(0, 1))) / ess)
    apart = np.abs(one.mean(axis=(0, 1)) - other.mean(axis=(0, 1))) / error
    return bool(apart.max() < 4.5 and np.abs(spread).max() < 0.15 and abs(spread.mean()) < 0.03)


def test_going_along_a_normal_exactly_draws_the_same_posterior():
    design, exposure = plain()
    target = log_posterior(design, exposure, Priors())
    sds = target.sds()
    free = [place for place in range(target.width) if sds[place] < 0 and place not in sds]
    assert len(free) > 10
    stepped, split = (
        sample_nuts(
            density_c, target.packed, target.width, target.start, seed=5, draws=1500, tune=500,
            accept=0.95, chains=4, split=split,
        )
        for split in (False, True)
    )  # fmt: skip
    assert [int(stats["diverging"].sum()) for _, stats in (stepped, split)] == [0, 0]
    one, other = stepped[0][..., free], split[0][..., free]
    assert not np.array_equal(one, other)
    assert alike(one, other)
    # wrong by a tenth of the spread, as where a normal's part is taken twice or not at all
    assert not alike(one, other + 0.1 * (other - other.mean(axis=(0, 1))))
    assert not alike(one, other + 0.1 * other.std(axis=(0, 1)))
