"""The rank of the truth among posterior draws, for parameters and printed outcomes.

Comes in: a seed and a task. Goes out: ranks with the fit's own record. A fit that
fails is marked and its ranks are kept: left out, it would make the rest look better than they are.
Never: a uniformity test (see `bands`).
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from cohort.base.errors import StudyError
from cohort.calibrate.season import Season, Shape, season
from cohort.history import History, history
from cohort.likelihood.exposure import Exposure, packed
from cohort.model.kernel_arrays import stacked
from cohort.model.parameters import EFFECTS, IN_EVERY_STUDY
from cohort.model.priors import Priors
from cohort.model.sample import Fit, sample
from cohort.outcomes.parameters import Draws, posterior_draws, prior_draws
from cohort.outcomes.quantities import NO_DAY, outcomes
from cohort.terms.questions import NEXT_SEASON

Floats = npt.NDArray[np.float64]
KEPT: Final = 99
"""Draws a truth is ranked among: ranks 0 to 99."""
SIZES: Final = (1, 3)
RHAT: Final = 1.05
ESS: Final = 50.0
DIVERGING: Final = 0.02
"""A fit fails above this R-hat, below so many independent draws (bulk), or above this share of
steps gone astray. Looser than the gate of a comparison, whose runs are ten times as long."""
DEPTH: Final = 7
DEPTH_AGAIN: Final = 8
"""Doublings of a path at most, in the first and in later runs: an extreme truth would otherwise
take minutes."""
HALF_HOUR: Final = 1 / 48


def _dated_at_the_look(past: History) -> History:
    """Every loss moved to the half hour before the look that showed it: the mutant."""
    frame = past.intervals
    lost = frame["lost"] > 0
    quiet = frame[lost].assign(by=frame["by"] - HALF_HOUR, alive=frame["at_risk"], lost=0)
    late = frame[lost].assign(after=frame["by"] - HALF_HOUR)
    both = pd.concat([frame[~lost], quiet, late]).sort_values(["code", "by"], ignore_index=True)
    return replace(past, intervals=both)


MUTANTS: Final[Mapping[str, Callable[[History], History]]] = {
    "": lambda past: past,
    "dated at the look": _dated_at_the_look,
}
"""Wrong readings of a history that a calibration must notice, by name."""


@dataclass(frozen=True)
class Task:
    """What is calibrated, and with how many draws.

    Attributes
    ----------
    shape : Shape
    priors : Priors
    mutant : str
        One of `MUTANTS`; blank for the model itself.
    chains : int
    draws, tune : int
        Per chain.
    accept : float or None
        Target acceptance of the first run, None for that of a comparison of as many foundings; a
        failed fit is run again, see `ranks_of`.
    """

    shape: Shape = field(default_factory=Shape)
    priors: Priors = field(default_factory=Priors)
    mutant: str = ""
    chains: int = 2
    draws: int = 300
    tune: int = 300
    accept: float | None = 0.95

    def packed(self, past: History) -> Exposure:
        """The history packed as the mutant would have it."""
        return packed(MUTANTS[self.mutant](past))


def harsh(mutant: str = "") -> Task:
    """A task in which the day of a loss matters: six times the losses, looks weeks apart.

    At the losses of the model's own priors and looks every few weeks, a loss dated at the look
    shifts a log hazard by a few hundredths, less than small studies can show. At ten times the
    losses most queens of some truths are dead at the first look, which tells so little of the
    rest that one fit in nine fails. For the same reason both log ratios in company vary less
    than in the model's own priors.
    """
    own = Priors()
    changed = {
        name: replace(own[name], mean=own[name].mean + math.log(6), sd=0.5)
        for name in ("founding_hazard", "worker_hazard")
    }
    changed |= {name: replace(own[name], sd=0.7) for name in ("together", "rivalry")}
    return Task(
        shape=Shape(rhythms=(21, 28)),
        priors=own.but(**changed),
        mutant=mutant,
    )


def large() -> Task:
    """Studies of so many foundings that a comparison samples them with larger steps."""
    return Task(shape=Shape(fewest=200, most=400), draws=400, accept=None)


def _parameters(drawn: Mapping[str, Floats], genera: tuple[str, ...]) -> dict[str, Floats]:
    """Every parameter by name, arrays (draws,), from draws named as the priors name them."""
    out = {}
    for i, effect in enumerate(EFFECTS):
        for g, genus in enumerate(genera):
            out[f"{effect}[{genus}]"] = drawn["genus"][:, i, g]
        out[f"{effect}_mean"] = drawn["genus_mean"][:, i]
        out[f"{effect}_sd"] = drawn["genus_sd"][:, i]
    for name in IN_EVERY_STUDY:
        values = drawn[name]
        if values.ndim == 1:
            out[name] = values
        else:
            out |= {f"{name}[{j}]": values[:, j] for j in range(values.shape[1])}
    return out


def _named_draws(posterior: xr.Dataset) -> dict[str, Floats]:
    """Thinned draws of a posterior under the names and shapes of the priors' draws."""
    small = posterior.isel(
        draw=np.linspace(0, posterior.sizes["draw"] - 1, _per_chain(posterior)).round().astype(int)
    )

    values = stacked(small)
    out = {
        "genus": np.stack([values[n] for n in EFFECTS], axis=1),
        "genus_mean": np.stack([values[f"{n}_mean"] for n in EFFECTS], axis=1),
        "genus_sd": np.stack([values[f"{n}_sd"] for n in EFFECTS], axis=1),
    }
    return out | {name: values[name] for name in IN_EVERY_STUDY}


def _per_chain(posterior: xr.Dataset) -> int:
    return -(-(KEPT + 1) // int(posterior.sizes["chain"]))


def outcomes_by_name(draws: Draws, horizon: int) -> dict[str, Floats]:
    """Printed outcomes by name, arrays (draws,)."""
    post = outcomes(draws, SIZES, horizon)
    wanted = {
        "chance_lasting": (3,),  # of one queen it is the same as seen
        "chance_per_founding": (1, 3),
        "same_queens_any": (3,),
        "same_queens_count": (3,),
        "share_alive_before_workers": (1, 3),
        "share_alive": (1, 3),
        "median_day": (1, 3),
        "hazard_ratio": (3,),
        "chance_one_left": (3,),
        "chance_none_left": (3,),
    }
    last = {"chance_one_left": 60, "chance_none_left": 60}
    out = {}
    for (_, name, size, day, reading), values in post.values.items():
        if size not in wanted.get(name, ()):
            continue
        if day not in (NO_DAY, last.get(name, horizon)):
            continue
        what = f"{name} ({reading})" if reading else name
        for kind, column in zip(post.kinds, values.T, strict=True):
            if kind == NEXT_SEASON:  # the average and a draw of its own, of which no sheet tells
                continue
            out[f"{what} of {size} [{kind}]"] = column
    return out


def _divergences(fit: Fit) -> int:
    return int(fit.stats["diverging"].sum())


def failure(fit: Fit) -> str:
    """Why a fit has failed; blank when it has not."""
    from cohort.model.gate import judge

    told = judge(fit.posterior, fit.stats, {})
    diverging = told.divergences / fit.stats["diverging"].size
    if not told.rhat <= RHAT:
        return f"R-hat {told.rhat:.3f} of {told.worst}"
    if not told.ess_bulk >= ESS:
        return f"{told.ess_bulk:.0f} independent draws"
    if not diverging <= DIVERGING:
        return f"{100 * diverging:.1f} % of steps went astray"
    return ""


def ranks_of(seed: int, task: Task) -> dict[str, Any]:
    """Ranks of the truth of one study among 99 thinned posterior draws.

    A fit that fails is run again with smaller steps and twice the draws, and if need be once
    more with five times the draws, which then are as many as a comparison's own chains have.

    Parameters
    ----------
    seed : int
    task : Task

    Returns
    -------
    dict
        ``seed``; ``failed`` (why; blank if not); ``ranks`` by quantity, 0 to 99; ``truth`` by
        quantity; ``foundings``; ``seconds`` (processor time of this process, all threads) of
        sampling; ``runs``; ``divergences`` of the first run and ``kept_divergences`` of the run
        whose ranks are kept. Where no study could be drawn, ``failed`` says so and ``ranks`` is
        empty.
    """
    try:
        drawn = season(seed, task.shape, task.priors)
    except StudyError as trouble:
        return {"seed": seed, "failed": f"not drawn: {trouble}", "ranks": {}, "truth": {}}
    design, exposure = drawn.design, task.packed(history(drawn.study))
    begun = time.process_time()
    draws, tune, chains = task.draws, task.tune, task.chains
    fit = sample(
        design,
        exposure,
        task.priors,
        seed=seed,
        draws=draws,
        tune=tune,
        accept=task.accept,
        chains=chains,
        depth=DEPTH,
    )
    failed, runs, diverged = failure(fit), 1, _divergences(fit)
    for more in (2, 5):
        if not failed:
            break
        runs += 1
        fit = sample(
            design,
            exposure,
            task.priors,
            seed=seed + runs - 1,
            draws=more * draws,
            tune=2 * tune,
            accept=0.99,
            chains=chains,
            depth=DEPTH_AGAIN,
        )
        failed = failure(fit)
    seconds = time.process_time() - begun
    ranks, truth = _ranked(seed, task, drawn, fit)
    return {
        "seed": seed,
        "failed": failed,
        "runs": runs,
        "foundings": len(design.foundings),
        "divergences": diverged,
        "kept_divergences": _divergences(fit),
        "seconds": round(seconds, 2),
        "ranks": ranks,
        "truth": truth,
    }


def _ranked(
    seed: int, task: Task, drawn: Season, fit: Fit
) -> tuple[dict[str, int], dict[str, float]]:
    """Ranks and truths by quantity; equal values (chances of 0 or 1) fall out at random."""
    genera, horizon = task.shape.genera, task.shape.horizon
    true = prior_draws(drawn.design, task.priors, seed=seed, draws=1)
    kept = _per_chain(fit.posterior) * int(fit.posterior.sizes["chain"])
    ours = posterior_draws(fit.posterior, fit.design, task.priors, seed=seed + 2, draws=kept)
    truth = _parameters(drawn.drawn, genera) | outcomes_by_name(true, horizon)
    found = _parameters(_named_draws(fit.posterior), genera) | outcomes_by_name(ours, horizon)
    rng = np.random.default_rng([seed, 3])
    ranks = {}
    for name, values in found.items():
        kept_values = values[:KEPT]
        below = int((kept_values < truth[name][0]).sum())
        same = int((kept_values == truth[name][0]).sum())
        ranks[name] = below + int(rng.integers(0, same + 1))
    return ranks, {name: float(values[0]) for name, values in truth.items()}
