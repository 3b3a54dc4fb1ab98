"""How much of a number of one kind comes from its own foundings.

Comes in: draws of one outcome. Goes out: shares. Never: a summary of the outcome itself.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def own_share(kinds: Floats, untried: Floats) -> Floats:
    """Share of what is uncertain of an outcome that a kind's own foundings took away.

    One less the variance of the outcome of the kind over that of a kind with the same prior and
    no data of its own, both by the posterior. The kind not yet tried is that kind: its effects
    come from the same means and spreads between genera. 0 says that all is known from the other
    kinds, 1 that all is known from its own.

    Parameters
    ----------
    kinds : float array, shape (draws, kinds)
        Outcome of kinds with foundings; of ratios the log.
    untried : float array, shape (draws,)
        The same outcome of the kind not yet tried.

    Returns
    -------
    float array, shape (kinds,)
        From 0 to 1; nan where the outcome of the untried kind does not vary at all.
    """
    of_none = float(untried.var())
    if of_none == 0.0:
        return np.full(kinds.shape[1], np.nan)
    share: Floats = np.clip(1.0 - kinds.var(axis=0) / of_none, 0.0, 1.0)
    return share
