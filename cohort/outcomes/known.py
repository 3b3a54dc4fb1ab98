"""A known truth as draws for the recursion.

Comes in: truths of the simulator. Goes out: `Draws`, one draw each. Never: a posterior, chance.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cohort.outcomes.parameters import Draws
from cohort.simulate.truth import GenusTruth, Truth
from cohort.transitions import layout as at


def _effects(own: GenusTruth) -> list[float]:
    return [
        own.log_hazard,
        own.together,
        own.log_hazard_workers,
        own.rivalry,
        own.last_fight,
        own.log_median_day,
    ]


def _shared(own: GenusTruth) -> np.ndarray:
    out = np.zeros(at.SHARED_WIDTH)
    out[: at.TAU] = [*own.founding_steps, *own.worker_steps]
    out[at.TAU], out[at.SIGMA], out[at.LOADING] = own.spread, own.frailty, 1.0
    out[at.S_SIZE_STEP], out[at.S_MULTI_DAYS] = own.doubling, own.multi_time
    out[at.S_MATED], out[at.S_SEEN] = own.mated, own.mating_seen
    return out


def known_draws(truths: Sequence[Truth]) -> Draws:
    """Truths as draws; the kind not yet tried is the mean of the genera.

    Parameters
    ----------
    truths : sequence of Truth
        Of the same genera. What genera share is taken from the first of them.
    """
    names = tuple(sorted(truths[0].genera))
    params = np.array([[_effects(truth.genera[name]) for name in names] for truth in truths])
    shared = np.array([_shared(truth.genera[names[0]]) for truth in truths])
    whole = np.concatenate([params, params.mean(axis=1, keepdims=True)], axis=1)
    return Draws(names, whole, shared, 1)
