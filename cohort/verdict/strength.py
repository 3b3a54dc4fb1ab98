"""How sure each contrast is with every prior at half and at double strength.

Comes in: a fit and its outcomes. Goes out: a `Strength` for each power: chances of all contrasts,
and how they were come by. Never: a word.

A prior at strength a is its density to the power a (Kallioinen, Paananen, Buerkner and Vehtari
2024, doi 10.1007/s11222-023-10366-5). The posterior under such priors is that of the kept draws
with weights (`cohort.model.reweighted`). Where these say nothing reliable, the model is fitted
again with the scaled priors.

Three things are left as they are. Where one season was seen, what another may add comes from a
prior that is not scaled, so `next_season` is asked less than it should be. Given a draw, the kind
not yet tried takes its mean over all genera by the plain prior; that matters only where few genera
tell of it. And weights cost draws: of 1,500 they leave some 130 to 170 on the demo, so a chance
near 0.95 is told to about 0.02.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.likelihood.exposure import Exposure
from cohort.model.design import ModelDesign
from cohort.model.priors import Priors
from cohort.model.reweighted import POWERS, weights
from cohort.model.sample import Fit, Said, Sampler, sample, silent
from cohort.model.sensitivity import settled
from cohort.outcomes import Outcomes, outcomes, posterior_draws
from cohort.outcomes.parameters import thin
from cohort.outcomes.quantities import NO_DAY
from cohort.outcomes.table import contrasts, share_better
from cohort.results.verdict_rows import DIFFER, HEADLINE
from cohort.verdict.differ import level

Floats = npt.NDArray[np.float64]
PLACE: Final = ("quantity", "genus", "queens", "day", "reading")
"""What says which contrast a chance is of."""
UNDATED: Final = -1
"""Day of a contrast that has none, in a `PLACE`."""
WEIGHTS: Final = "weights"
REFIT: Final = "fitted again"
FAILED: Final = "fitted again, and not settled"
GIVEN: Final = "not known: the draws were brought along, and cannot be drawn again"


@dataclass(frozen=True)
class Strength:
    """Chances of every contrast with the priors at another strength.

    Attributes
    ----------
    chances : Series
        Chance that several do better, by `PLACE`; empty where it could not be had.
    how : str
        `WEIGHTS`, `REFIT`, `FAILED` or `GIVEN`.
    pareto_k, effective : float
        Of the weights.
    """

    chances: pd.Series
    how: str
    pareto_k: float
    effective: float

    def told(self) -> dict[str, Any]:
        """How they were come by, for ``diagnosis.json``."""
        return {
            "how": self.how,
            "pareto_k": round(self.pareto_k, 3) if math.isfinite(self.pareto_k) else None,
            "effective_draws": round(self.effective),
        }


def place(quantity: str, genus: str, queens: int, day: Any, reading: str) -> tuple[Any, ...]:
    """A `PLACE`; the day may be blank or `NO_DAY`."""
    dated = not pd.isna(day) and day != NO_DAY
    return quantity, genus, int(queens), int(day) if dated else UNDATED, reading


def chances(
    post: Outcomes, each: Floats | None = None, *, apart: tuple[str, ...] = ()
) -> pd.Series:
    """Chance that several do better, of every contrast of every kind.

    Parameters
    ----------
    post : Outcomes
    each : float array, shape (draws,), optional
        Weights that sum to 1; without them all draws count alike.
    apart : tuple of str
        Kinds of which it is asked whether they differ, see `cohort.verdict.differ.level`; the
        answer stands in rows of their own where all of them are there.

    Returns
    -------
    Series
        Indexed by `PLACE`.
    """
    these = [post.kinds.index(kind) for kind in apart if kind in post.kinds]
    asked = len(these) == len(apart) >= 2
    places: list[tuple[Any, ...]] = []
    values: list[float] = []
    for key, quantity, drawn in contrasts(post):
        places += [place(key.quantity, k, key.size, key.day, key.reading) for k in post.kinds]
        values += share_better(quantity, drawn, each).tolist()
        if asked and key.quantity == HEADLINE:
            places.append(place(key.quantity, DIFFER, key.size, key.day, key.reading))
            values.append(level(drawn[:, these], each))
    index = pd.MultiIndex.from_tuples(places, names=list(PLACE))
    return pd.Series(values, index, dtype=float)


def strengths(
    fit: Fit,
    post: Outcomes,
    horizon: int,
    *,
    aside: pd.DataFrame,
    apart: tuple[str, ...] = (),
    sampler: Sampler | None = sample,
    say: Said = silent,
) -> dict[str, Strength]:
    """Chances of every contrast at each of `POWERS`.

    Parameters
    ----------
    fit : Fit
        The model of the page.
    post : Outcomes
        Of its thinned draws, see `cohort.outcomes.posterior_draws`.
    horizon : int
        Last day.
    aside : DataFrame
        ``quantity``, ``genus``, ``queens`` and a column for each of `POWERS`: contrasts that were
        made apart.
    apart : tuple of str
        See `chances`.
    sampler : Sampler or None
        Who fits again; None where nobody can.
    say : callable
        Told of every fit that has to be made.
    """
    small = thin(fit.posterior, len(post.alive))  # after a further run they are more
    out = {}
    for name, power in POWERS.items():
        scaled = weights(small, fit.design, fit.priors, power)
        if scaled.reliable:
            found, how = chances(post, scaled.each, apart=apart), WEIGHTS
        elif sampler is None:
            found, how = chances(post).iloc[:0], GIVEN
        else:
            say(f"Fitting again with every prior at {name} strength")
            scaled_priors = fit.priors.at_strength(power)
            again = refitted(fit, scaled_priors, post.sizes, horizon, sampler=sampler)
            if again is None:
                found, how = chances(post).iloc[:0], FAILED
            else:
                found, how = chances(again, apart=apart), REFIT
        if len(aside):
            found = pd.concat([found, _aside(aside, name)])
        out[name] = Strength(found, how, scaled.pareto_k, scaled.effective)
    return out


def _aside(aside: pd.DataFrame, name: str) -> pd.Series:
    """Chances of contrasts made apart, by `PLACE`."""
    values = {
        place(row["quantity"], row["genus"], row["queens"], NO_DAY, ""): row[name]
        for row in aside.to_dict("records")
    }
    index = pd.MultiIndex.from_tuples(list(values), names=list(PLACE))
    return pd.Series(list(values.values()), index, dtype=float)


def refitted(
    fit: Fit,
    priors: Priors,
    sizes: tuple[int, ...],
    horizon: int,
    study: tuple[ModelDesign, Exposure] | None = None,
    sampler: Sampler = sample,
) -> Outcomes | None:
    """Outcomes of the same study under other priors; None where the chains do not agree.

    Parameters
    ----------
    fit : Fit
    priors : Priors
    sizes : tuple of int
    horizon : int
    study : ModelDesign and Exposure, optional
        Another reading of the study, in place of that of the fit.
    sampler : Sampler
    """
    design, exposure = study or (fit.design, fit.exposure)
    again = sampler(design, exposure, priors, seed=fit.seed)
    if not settled(again):
        return None
    drawn = posterior_draws(again.posterior, design, priors, seed=fit.seed)
    return outcomes(drawn, sizes, horizon)
