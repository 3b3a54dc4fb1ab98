"""What the priors alone say of a study's outcomes, without the curves.

Comes in: a design and the priors. Goes out: an `Outcomes` with values and no curves, light enough
to come from another process. Never: data.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from cohort.model.design import ModelDesign
from cohort.model.priors import Priors
from cohort.outcomes.parameters import prior_draws
from cohort.outcomes.quantities import Outcomes, outcomes


def prior_predictive(
    design: ModelDesign, priors: Priors, seed: int, sizes: tuple[int, ...], horizon: int
) -> Outcomes:
    """Every outcome of new foundings by the priors alone.

    Parameters
    ----------
    design : ModelDesign
    priors : Priors
    seed : int
    sizes : tuple of int
        Founding sizes.
    horizon : int
        Last day.
    """
    whole = outcomes(prior_draws(design, priors, seed=seed), sizes, horizon)
    none = np.zeros(0)
    return replace(whole, days=none, alive=none, workers=none, left=none)
