"""Two examples that can be worked on paper, and what the program makes of them.

Comes in: nothing. Goes out: lines. The program's side goes the way of a study: sheets, audit,
history, packed tables, likelihood; and, for the second, the recursion that every printed outcome
comes from. The paper's side uses none of it.

**Three looks at two queens.** ::

    day      30     50     80
    queens    2      1      1
    workers   0      1      .

A queen that is alone dies at h = .004 a day before workers, at g = .003 with workers, two together
at twice that each; of losses from two with workers a share theta = .2 takes both; the first worker
comes at E, log-normal with median 46 and spread .15, if a queen is mated, phi = .95.

*Up to day 30* both live: exp(-120 h). *From 30 to 50* one dies and the first worker comes on day e:
she first, 4/3 [exp(-h (e-30)) - exp(-4h (e-30))] exp(-g (50-e)), or the worker first,
exp(-4h (e-30)) (1-theta) 4/3 [exp(-g (50-e)) - exp(-4g (50-e))]; both times phi f(e), integrated
over e. *From 50 to 80* the queen left lives on: exp(-30 g). (Nobody lives alone at 2h: the hazard
of company ends with it.)

**What is a colony.** Three queens, each mated with chance .8. None dies before the first worker, on
day 40; from then on each dies at ln 2 / 120 a day, in company as alone, so that on day 160 each
lives with chance 1/2. One, two, three alive: 3/8, 3/8, 1/8. *As seen*: .992 x 7/8 = .868. *Dying
alike*: 3/8 x .8 + 3/8 x .96 + 1/8 x .992 = .784. *The mated first*: one alive is mated if all three
were, .512; two alive hold a mated one if two were, .896: 3/8 x .512 + 3/8 x .896 + 1/8 x .992 =
.652. Each alone: .8 x 1/2 = .4, at least one of three .784; together less that: .084, 0, -.132.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import Final

import numpy as np
import pandas as pd

from cohort.likelihood import layout as at
from cohort.prove.lines import Line, near
from cohort.terms.questions import READINGS
from cohort.terms.voice import told

H: Final = 0.004
G: Final = 0.003
THETA: Final = 0.2
PHI: Final = 0.95
MEDIAN: Final = 46.0
SPREAD: Final = 0.15
LOOKS: Final = ((30, 2, "0"), (50, 1, "1"), (80, 1, ""))
DAY: Final = 160
COLONY: Final = {"seen": 0.868, "alike": 0.784, "mated-first": 0.652}
GAIN: Final = {"seen": 0.084, "alike": 0.0, "mated-first": -0.132}
FINE: Final = 0.02
"""Days of a cell in which the first worker may lie; a comparison takes coarser ones."""
NEAR: Final = 0.003
"""The first worker's day is not quite certain here, and the recursion goes by two days."""


def on_paper() -> float:
    """The chance of the three looks, by the formula above and an integral."""
    from scipy.integrate import quad
    from scipy.stats import lognorm

    clock = lognorm(SPREAD, scale=MEDIAN)

    def middle(e: float) -> float:
        a, b = e - 30, 50 - e
        she_first = 4 / 3 * (math.exp(-H * a) - math.exp(-4 * H * a)) * math.exp(-G * b)
        fight = (1 - THETA) * 4 / 3 * (math.exp(-G * b) - math.exp(-4 * G * b))
        return float(clock.pdf(e)) * (she_first + math.exp(-4 * H * a) * fight)

    between = quad(middle, 30, 50, epsabs=1e-14)[0]
    return float(math.exp(-120 * H) * PHI * between * math.exp(-30 * G))


def as_compared() -> float:
    """The same chance, as a comparison has it: from sheets to the likelihood."""
    from cohort.history import history
    from cohort.likelihood.exposure import packed
    from cohort.likelihood.study import marginal_loglik
    from cohort.study.from_frames import study_from

    first = dt.date(2025, 6, 1)
    foundings = {"founding": ["K1-01"], "genus": ["Lasius"], "started": [first], "queens": [2]}
    checks = [
        {"founding": "K1-01", "date": first + dt.timedelta(days=day), "queens_alive": queens,
         "workers": workers}
        for day, queens, workers in LOOKS
    ]  # fmt: skip
    study = study_from(
        pd.DataFrame(foundings), pd.DataFrame(checks), today=dt.date(2026, 6, 1), horizon_days=100
    )
    exposure = packed(history(study), cell=FINE)
    par = np.zeros((1, 1, at.FOUNDING_WIDTH))
    par[..., at.HAZARD1], par[..., at.HAZARD2] = math.log(H), math.log(G)
    par[..., at.TOGETHER] = par[..., at.RIVALRY] = math.log(2)
    par[..., at.LAST_FIGHT], par[..., at.FERTILE] = THETA, PHI
    par[..., at.LOG_DAY] = math.log(MEDIAN)
    shared = np.zeros((1, at.SHARED_WIDTH))
    shared[0, at.WITHIN_DAYS], shared[0, at.LOADING] = SPREAD, 1.0
    tables = exposure.records, exposure.rows, exposure.nodes
    return float(np.exp(marginal_loglik(par, shared, *tables)[0, 0]))


def by_hand() -> tuple[Line, ...]:
    """Every number of the two examples."""
    from cohort.outcomes.parameters import Draws
    from cohort.outcomes.quantities import Key, colony, outcomes

    paper = on_paper()
    one = np.zeros((2, at.EFFECTS))
    one[:, at.E_HAZARD1], one[:, at.E_HAZARD2] = math.log(1e-12), math.log(math.log(2) / 120)
    one[:, at.E_LOG_DAY] = math.log(40.0)
    shared = np.zeros(at.SHARED_WIDTH)
    shared[at.WITHIN_DAYS], shared[at.LOADING], shared[at.S_MATED] = 0.01, 1.0, 0.8
    said = outcomes(Draws(("Lasius",), one[None], shared[None], 1), (1, 3), DAY).values
    return (
        near(told("line_looks"), as_compared(), paper, 1e-6 * paper, 8),
        *(
            near(told("line_colony", reading=told(f"reading_{r.replace('-', '_')}")),
                 float(said[colony(3, DAY, r)][0, 0]), COLONY[r], NEAR)
            for r in READINGS
        ),
        *(
            near(told("line_gain", reading=told(f"reading_{r.replace('-', '_')}")),
                 float(said[Key("colony", "same_queens_any", 3, DAY, r)][0, 0]), GAIN[r], NEAR)
            for r in READINGS
        ),
    )  # fmt: skip
