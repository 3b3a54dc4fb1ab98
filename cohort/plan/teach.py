"""What each division would teach: how much narrower the answer would be afterwards.

Comes in: chances by draw and the foundings of a division. Goes out: the share by which the spread
of the difference is expected to shrink. Never: a fit.

An approximation, stated: what is seen of a division is taken to be how many foundings of each
size have a colony on the day, binomial given a draw. Every such result is weighed by its
chance; given it, the draws are weighed by Bayes' rule and the spread (SD) of the difference is
taken over the weighed draws. The looks in between, and foundings of other kinds, would narrow it
further. With few draws left under a result the spread is too small, so this errs a little on the
hopeful side for large divisions.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import gammaln, logsumexp, xlogy

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
DRAWS: Final = 600
RESULTS: Final = 4000
"""Results of one division that are gone through; with more, a grid of them is."""


def _log_binomial(n: int, p: Floats) -> Floats:
    """Log chance of 0..n colonies by draw, shape (n + 1, draws)."""
    x = np.arange(n + 1)[:, None]
    ways = gammaln(n + 1) - gammaln(x + 1) - gammaln(n - x + 1)
    out: Floats = ways + xlogy(x, p) + xlogy(n - x, 1 - p)
    return out


def narrowing(colony: Floats, counts: Ints, difference: Floats) -> float:
    """Expected share by which the SD of a difference shrinks.

    Parameters
    ----------
    colony : float array, shape (draws, sizes)
        Chance of a colony by draw and size.
    counts : int array, shape (sizes,)
        Foundings of each size.
    difference : float array, shape (draws,)

    Returns
    -------
    float
        0 = teaches nothing, 1 = would settle it; nan when there are too many results to weigh.
    """
    used = np.flatnonzero(counts)
    if np.prod(counts[used] + 1.0) > RESULTS:
        return float("nan")
    pick = np.linspace(0, len(difference) - 1, min(DRAWS, len(difference))).round().astype(int)
    aim = difference[pick]
    spread = aim.std()
    if spread < 1e-12:
        return 0.0
    log_p = np.zeros((1, len(pick)))
    for s in used:
        one = _log_binomial(int(counts[s]), colony[pick, s])
        log_p = (log_p[:, None, :] + one[None, :, :]).reshape(-1, len(pick))
    whole = logsumexp(log_p, axis=1, keepdims=True)
    weights = np.exp(log_p - whole)
    mean = weights @ aim
    variance = np.maximum(weights @ aim**2 - mean**2, 0)
    chance = np.exp(whole[:, 0]) / len(pick)
    return float(1 - (chance * np.sqrt(variance)).sum() / spread)
