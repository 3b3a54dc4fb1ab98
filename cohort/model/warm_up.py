"""Machine code at hand before it is wanted: compiled functions are called once, on no draws.

Comes in: what a fit will be held against. Goes out: nothing but code, in memory and on disk, from
where another process takes it. Where the disk holds it already this takes a moment.

Compiling is half of a first comparison. A second process does its share with this while the first
compiles the density.
"""

from __future__ import annotations

import numpy as np

from cohort.history import History
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import Exposure


def _nothing(foundings: int) -> tuple[np.ndarray, np.ndarray]:
    return np.zeros((0, foundings, at.FOUNDING_WIDTH)), np.zeros((0, at.SHARED_WIDTH))


def warm_likelihood(exposure: Exposure) -> None:
    """Code of one founding's likelihood, which is also the largest piece of the density."""
    from cohort.likelihood.study import marginal_loglik

    none = _nothing(len(exposure.foundings))
    marginal_loglik(*none, exposure.records, exposure.rows, exposure.nodes)


def warm_checks(history: History) -> None:
    """Code that replicates a study."""
    from cohort.model.replicated import calendar
    from cohort.predict.posterior_predictive import posterior_predictive

    plan, _ = calendar(history)
    posterior_predictive(*_nothing(len(plan.size)), plan, np.random.default_rng(0))
