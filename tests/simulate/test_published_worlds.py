"""The truths of published experiments bring forth the numbers they were worked out from.

Each is lived through many times, by the simulator that draws every death exactly; what the papers
printed, and what the docstrings of ``cohort/simulate/published.py`` work out, is looked for there.
"""

import dataclasses
import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import binom, norm

from cohort.simulate.events import run
from cohort.simulate.published import EFFECTS, EXPERIMENTS

MANY = 40_000


def own(name, genus, effect="published", **changes):
    truth = EXPERIMENTS[name].worlds[effect].truth.genera[genus]
    return dataclasses.replace(truth, **changes)


def lived(truth, size, days, seed=1):
    return run(MANY, size, truth, np.random.default_rng([seed, size]), float(days))


def test_first_workers_of_oecophylla_come_4_3_days_or_8_percent_sooner():
    truth = own("smaragdina", "Oecophylla", mated=1.0, log_hazard=math.log(1e-9))
    one, many = (np.median(lived(truth, k, 300).first_worker) for k in (1, 3))
    assert one - many == pytest.approx(4.3, abs=0.15)
    assert 1 - many / one == pytest.approx(0.08, abs=0.003)
    # ten colonies against thirty-two: a two-sample test of logs finds it in four of five
    shift = -truth.multi_days / truth.within_days / math.sqrt(1 / 10 + 1 / 32)
    assert norm.cdf(shift - norm.ppf(0.975)) == pytest.approx(0.8, abs=0.005)


def test_half_of_the_queens_of_crematogaster_die_and_the_ratio_has_that_power():
    truth = own("scutellaris", "Crematogaster", frailty=0.0)
    share = math.exp(truth.log_hazard + math.log(73))  # cumulative hazard of a lone queen
    alone, paired = 1 - math.exp(-share), 1 - math.exp(-share * math.exp(truth.together))
    assert 15 * alone + 52 * paired == pytest.approx(33.5, abs=0.3)
    events = (norm.ppf(0.975) + norm.ppf(0.8)) ** 2 / truth.together**2 / (52 / 67 * 15 / 67)
    assert events == pytest.approx(33, abs=0.2)
    # somewhat fewer die in truth, for a queen left alone is in company no more
    dead = (lived(truth, 2, 73).deaths <= 73).mean()
    assert alone < dead < paired


def test_company_divides_the_risk_of_pogonomyrmex_by_three():
    truth = own("californicus", "Pogonomyrmex", frailty=0.0, mated=0.0)
    assert (lived(truth, 1, 50).deaths > 50).mean() == pytest.approx(0.5, abs=0.01)
    six = (lived(truth, 6, 50).deaths > 50).mean()
    assert six == pytest.approx(2 ** (-1 / 3), abs=0.02)  # .79: nearly all the time in company


def test_lasius_comes_down_to_one_and_most_of_solenopsis_live():
    chance = 1 - 0.5 ** (1 / 16)
    lives = brentq(lambda q: binom(5, q).sf(1) - chance, 1e-6, 0.5)
    assert lives == pytest.approx(0.070, abs=5e-4)
    # from the first worker on, as the paper's days from there to its end
    lasius = own("two-kinds", "Lasius", frailty=0.0)
    hazard = math.exp(lasius.log_hazard_workers + lasius.rivalry)
    assert hazard == pytest.approx(-math.log(lives) / 248, rel=0.01)
    alive = lived(dataclasses.replace(lasius, mated=1.0), 5, 293).alive(293.0)
    assert (alive >= 2).mean() < 2 * chance  # fewer still: some died before workers
    solenopsis = own("two-kinds", "Solenopsis", frailty=0.0)
    assert (lived(solenopsis, 5, 115).deaths > 115).mean() == pytest.approx(0.75, abs=0.01)


@pytest.mark.parametrize("name", EXPERIMENTS)
def test_effects_differ_in_what_is_claimed_and_in_nothing_else(name):
    worlds = EXPERIMENTS[name].worlds
    assert tuple(worlds) == EFFECTS
    assert len({(w.design.foundings, w.design.horizon, w.design.look_every)
                for w in worlds.values()}) == 1  # fmt: skip
    for genus, published in worlds["published"].truth.genera.items():
        none = worlds["none"].truth.genera[genus]
        moved = {
            field.name for field in dataclasses.fields(published)
            if getattr(published, field.name) != getattr(none, field.name)
        }  # fmt: skip
        assert moved <= {"together", "rivalry", "multi_days"}
        if name != "two-kinds":
            assert moved
            # only where company does nothing is it nought
            assert none.together == none.multi_days == 0.0
    names = {world.name for world in worlds.values()}
    assert len(names) == len(EFFECTS)  # no two share their luck
