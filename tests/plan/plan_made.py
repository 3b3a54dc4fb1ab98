"""A kind whose parameters are known, as the one draw of a plan."""

import math
from dataclasses import replace

import numpy as np

from cohort.outcomes.basis import Basis
from cohort.outcomes.known import known_draws
from cohort.simulate.truth import GenusTruth, Truth

KNOWN = GenusTruth(
    log_hazard=math.log(0.005),
    together=0.6,
    doubling=0.2,
    rivalry=1.6,
    last_fight=0.25,
    mated=0.8,
    log_hazard_workers=math.log(0.003),
    frailty=0.7,
    founding_steps=(0.3, 0.1, 0.0, -0.1, -0.2),
    worker_steps=(0.0, 0.2, 0.1, -0.2),
)


def basis(*truths, names=("Lasius",)):
    """One draw per truth; each of `names`, and a new kind, with the same parameters."""
    draws = known_draws([Truth(dict.fromkeys(names, own)) for own in truths])
    return Basis(
        draws,
        (),
        True,
        sizes=(1, 3),
        horizon=180,
        headline=3,
    )


def spread(count, seed):
    """Truths that differ as draws of a posterior would."""
    rng = np.random.default_rng(seed)
    return [
        replace(
            KNOWN,
            log_hazard=KNOWN.log_hazard + 0.4 * rng.normal(),
            together=KNOWN.together + 0.4 * rng.normal(),
            mated=float(rng.beta(16, 4)),
        )
        for _ in range(count)
    ]
