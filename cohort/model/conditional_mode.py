"""Score of what an SD multiplies, from the conditional mode given the SDs.

Comes in: a log density with its gradient, in coordinates whose score is still 0. Goes out:
``score`` (see `cohort.likelihood.noncentred`). Never: an estimate that is reported. These numbers
only choose coordinates for the sampler, and rough ones do.

Given the SDs the density is about normal in the non-centred coordinates, with precision about 1, so
its mode is found in some tens of steps; a coordinate there is SD x score / sqrt(g). A search that
ends early, or finds no density where it begins, leaves rougher numbers or none: sampling is then
slower, and as true.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

Floats = npt.NDArray[np.float64]
STEPS: Final = 200
"""Steps of the search at most."""
ROUGH: Final = 1e-6
"""Ends the search: a step that gains less of the log density than this share of it."""
NOWHERE: Final = 1e12
"""Stands for minus the log density where there is none."""


def score(
    log_density: Callable[[Floats], tuple[float, Floats]],
    start: Floats,
    held: npt.NDArray[np.bool_],
    sd: Floats,
    information: Floats,
) -> Floats:
    """Score of every coordinate, 0 where no SD multiplies it.

    Parameters
    ----------
    log_density : callable
        Log density and gradient at a vector.
    start : float array, shape (coordinates,)
        Where the search begins; what is held stays there.
    held : bool array, shape (coordinates,)
        SDs that multiply something.
    sd : float array, shape (coordinates,)
        The SD at ``start`` that multiplies each coordinate; 0 where none does.
    information : float array, shape (coordinates,)
    """
    free = ~held

    def downhill(part: Floats) -> tuple[float, Floats]:
        q = start.copy()
        q[free] = part
        value, gradient = log_density(q)
        if not np.isfinite(value):
            return NOWHERE, np.zeros(part.size)
        return -value, -gradient[free]

    options = {"maxiter": STEPS, "ftol": ROUGH}
    found = minimize(downhill, start[free], jac=True, method="L-BFGS-B", options=options)
    mode = start.copy()
    mode[free] = found.x
    noncentred = sd > 0.0
    out = np.zeros(start.size)
    out[noncentred] = (mode * np.sqrt(1.0 + sd**2 * information))[noncentred] / sd[noncentred]
    return out
