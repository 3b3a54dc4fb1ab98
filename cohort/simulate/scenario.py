"""A world to live foundings through in, and what of it may differ from what the model takes.

In: a :class:`Scenario` and a seed.
Out: a :class:`~cohort.simulate.season.SimulatedStudy`, and what is true of new foundings there.
Never: a part of the model.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from cohort.simulate.daily import Lives, Rule, lived, nothing
from cohort.simulate.design import Design
from cohort.simulate.looks import Looks, looks_of
from cohort.simulate.readings import by_reading
from cohort.simulate.season import SimulatedStudy, laid_out, written_down
from cohort.simulate.truth import Truth
from cohort.terms.questions import READINGS

__all__ = ["Scenario", "broken_study", "true_gains"]

Planned = Callable[[pd.DataFrame, np.random.Generator], pd.DataFrame]
"""A plan (one row per founding) and chance; gives the plan as it was carried out."""
Looked = Callable[[pd.DataFrame, Looks, Lives, np.random.Generator], Looks]
"""The looks that were planned and what befell; gives the looks that were made."""
Written = Callable[
    [dict[str, pd.DataFrame | str], np.random.Generator], dict[str, pd.DataFrame | str]
]
"""Sheets as they should have been, by file name; gives those that were sent."""


def _as_planned(plan: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    return plan


def _as_due(plan: pd.DataFrame, looks: Looks, lives: Lives, rng: np.random.Generator) -> Looks:
    return looks


def _as_seen(
    sheets: dict[str, pd.DataFrame | str], rng: np.random.Generator
) -> dict[str, pd.DataFrame | str]:
    return sheets


@dataclass(frozen=True)
class Scenario:
    """A world, and what is wrong with it.

    Parameters
    ----------
    name : str
    says : str
        What is true there, in one plain line.
    breaks : str
        The assumption it breaks; blank where none is.
    touches : tuple of str
        Questions whose answers it spoils (`cohort.terms.questions`).
    design : Design
    truth : Truth
        What would be true if nothing were broken.
    plan, rule, looks, sheets : callable
        What differs: who is put where, what queens die of, when one looks, what is written.
    """

    name: str
    says: str
    breaks: str = ""
    touches: tuple[str, ...] = ()
    design: Design = field(default_factory=Design)
    truth: Truth = field(default_factory=Truth)
    plan: Planned = _as_planned
    rule: Rule = nothing
    looks: Looked = _as_due
    sheets: Written = _as_seen

    def of(self, foundings: int) -> Scenario:
        """The same world with another number of foundings."""
        return dataclasses.replace(
            self, design=dataclasses.replace(self.design, foundings=foundings)
        )


def broken_study(scenario: Scenario, seed: int) -> SimulatedStudy:
    """Return the sheets of one season in a world.

    Parameters
    ----------
    scenario : Scenario
    seed : int
        With the name of the world it seeds the one random generator used.
    """
    rng = np.random.default_rng([seed, *scenario.name.encode()])  # no two worlds share their luck
    design, truth = scenario.design, scenario.truth
    plan = scenario.plan(laid_out(design, list(truth.genera), rng), rng)
    looks = looks_of(plan, design, rng)
    until = float(looks.days[looks.open].max(initial=design.horizon))
    lives = lived(plan, truth.genera, until, rng, scenario.rule)
    looks = scenario.looks(plan, looks, lives, rng)
    made = written_down(plan, looks, lives.fates, design, truth, rng)
    return dataclasses.replace(made, sheets=scenario.sheets(made.sheets, rng))


def true_gains(
    scenario: Scenario, size: int, *, foundings: int = 20_000, seed: int = 1
) -> pd.DataFrame:
    """Return what new foundings of a world gain by sharing a container, in each reading.

    New foundings are of queens like all of that world, allotted by lot, with an ordinary keeper
    (none of the study's own: number -1), on the last day of the design.

    Parameters
    ----------
    scenario : Scenario
    size : int
        Queens of a group.
    foundings : int
        Simulated for each genus and way.
    seed : int

    Returns
    -------
    pandas.DataFrame
        Columns reading, contrast (``same_queens_any``, ``same_queens_count``), genus (``average``
        is the mean of the genera), truth, se (Monte Carlo).
    """
    genera = list(scenario.truth.genera)
    rows = []
    for genus in genera:
        chances = {k: _chances(scenario, genus, k, foundings, seed) for k in (1, size)}
        for reading in READINGS:
            (one, one_se), (many, many_se) = (chances[k][reading] for k in (1, size))
            lost = size * (1 - one) ** (size - 1)
            for contrast, alone, slope in (
                ("same_queens_any", 1 - (1 - one) ** size, lost),
                ("same_queens_count", size * one, size),
            ):
                error = math.hypot(many_se, slope * one_se)
                rows.append((reading, contrast, genus, many - alone, error))
    table = pd.DataFrame(rows, columns=["reading", "contrast", "genus", "truth", "se"])
    by = table.assign(square=table["se"] ** 2).groupby(["reading", "contrast"], sort=False)
    mean = by.agg(truth=("truth", "mean"), square=("square", "sum")).reset_index()
    mean = mean.assign(genus="average", se=np.sqrt(mean["square"]) / len(genera))
    return pd.concat([table, mean.drop(columns="square")], ignore_index=True)


def _chances(
    scenario: Scenario, genus: str, size: int, foundings: int, seed: int
) -> dict[str, tuple[float, float]]:
    """Chance of a colony and its Monte Carlo error, by reading."""
    rng = np.random.default_rng([seed, size, *genus.encode()])
    design = dataclasses.replace(scenario.design, foundings=foundings)
    # the queens are those of the world; where they are put is not
    plan = scenario.plan(laid_out(design, [genus], rng), rng)
    plan = plan.assign(size=size, keeper=-1)
    lives = lived(plan, scenario.truth.genera, design.horizon, rng, scenario.rule)
    alive = (lives.deaths > design.horizon) & (np.arange(size) < size)
    workers = lives.first_worker <= design.horizon
    out = {}
    for reading, lasts in by_reading(alive.sum(axis=1), lives.mated.sum(axis=1), size).items():
        value = workers * lasts
        out[reading] = float(value.mean()), float(value.std(ddof=1) / math.sqrt(foundings))
    return out
