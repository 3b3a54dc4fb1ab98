"""Workers to expect in the strongest colony of a division, and in all its colonies.

Comes in: by draw and size, the chance of a colony and its workers; foundings of each size. Goes
out: workers by division and draw. Never: where the chances come from.

Foundings share the draw and nothing else. Whether a founding has a colony on the day and how many
workers its first brood has are taken to be unrelated given the draw.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.stats import gamma

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
POINTS: Final = 15
"""Points that stand for the spread of one founding's count, equally likely."""
AT_ONCE: Final = 5_000_000
"""Numbers held at a time."""


def points(variation: Floats, many: int = POINTS) -> Floats:
    """Equally likely values with mean 1 that stand for a gamma variable.

    Parameters
    ----------
    variation : float array
        Coefficient of variation; 0: every value is 1.
    many : int

    Returns
    -------
    float array
        Shape of ``variation``, and ``many``.
    """
    at = (np.arange(many) + 0.5) / many
    square = np.maximum(variation, 1e-6)[..., None] ** 2
    out = np.where(square < 1e-8, 1.0, gamma.ppf(at, 1 / square, scale=square))
    ready: Floats = out / out.mean(axis=-1, keepdims=True)
    return ready


def in_all(chance: Floats, workers: Floats, counts: Ints) -> Floats:
    """Workers of all colonies together, shape (divisions, draws)."""
    out: Floats = counts @ (chance * workers).T
    return out


def strongest(chance: Floats, workers: Floats, variation: Floats, counts: Ints) -> Floats:
    """Workers of the strongest colony (0 where there is none), shape (divisions, draws).

    Parameters
    ----------
    chance : float array, shape (draws, sizes)
        That a founding has a colony.
    workers : float array, shape (draws, sizes)
        Workers expected in it.
    variation : float array, shape (draws, sizes)
        Coefficient of variation of its workers.
    counts : int array, shape (divisions, sizes)
        Foundings of each size.
    """
    draws, sizes = chance.shape
    many = points(variation)
    each = (workers[..., None] * many).reshape(draws, -1)
    order = np.argsort(each, axis=1)
    rising = np.take_along_axis(each, order, axis=1)
    whose = np.eye(sizes)[np.arange(sizes).repeat(many.shape[-1])] / many.shape[-1]
    own = whose[order]  # (draws, values, sizes): the share of its size that a value stands for
    above = 1 - np.concatenate([np.zeros((draws, 1, sizes)), own.cumsum(axis=1)[:, :-1]], axis=1)
    # chance that the strongest stays below each value, from that of one founding of each size
    log_below = np.log1p(-np.minimum(chance[:, None, :] * above, 1 - 1e-12))
    steps = np.diff(rising, axis=1, prepend=0.0)
    out = np.empty((len(counts), draws))
    block = max(1, AT_ONCE // (draws * each.shape[1]))
    for first in range(0, len(counts), block):
        part = counts[first : first + block].astype(float)
        below = np.exp(np.einsum("is,dvs->idv", part, log_below, optimize=True))
        out[first : first + block] = ((1 - below) * steps).sum(axis=2)
    return out
