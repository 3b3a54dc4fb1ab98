"""A known truth as draws for the recursion.

Comes in: truths of the simulator. Goes out: `Draws`, one draw each. Never: a posterior, chance.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cohort.likelihood import layout as at
from cohort.model.parameters import BY_GENUS, COMMON
from cohort.outcomes.parameters import Draws
from cohort.simulate.truth import GenusTruth, Truth


def _shared(own: GenusTruth) -> np.ndarray:
    out = np.zeros(at.SHARED_WIDTH)
    out[: at.WITHIN_DAYS] = [*own.founding_steps, *own.worker_steps]
    for row in COMMON:
        if row.shared >= 0:
            out[row.shared] = getattr(own, row.truth) if row.truth else row.otherwise
    return out


def known_draws(truths: Sequence[Truth]) -> Draws:
    """Truths as draws; the kind not yet tried is the mean of the genera.

    Parameters
    ----------
    truths : sequence of Truth
        Of the same genera. What genera share is taken from the first of them.
    """
    names = tuple(sorted(truths[0].genera))
    of = [row.truth for row in BY_GENUS]
    params = np.array(
        [[[getattr(t.genera[name], e) for e in of] for name in names] for t in truths]
    )
    shared = np.array([_shared(truth.genera[names[0]]) for truth in truths])
    whole = np.concatenate([params, params.mean(axis=1, keepdims=True)], axis=1)
    return Draws(names, whole, shared, 1)
