"""Contrasts between genera along which the data are independent.

Comes in: information on the effects by genus (`information`), priors of their means. Goes out:
columns, information and shares for `cohort.likelihood.genera`. Never: a likelihood; like
``information`` these numbers only choose coordinates for the sampler, and rough ones do.

If the effects are estimated with independent errors, the information D on them is diagonal; on
deviations that sum to zero it is B' (D - d d' / (sum d + 1 / s^2)) B, where d are its numbers, s
the prior SD of the mean, which is not known either, and B any orthogonal columns that sum to
zero. Its eigenvectors turn B into columns whose estimates are independent.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.linalg import helmert

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Contrasts:
    """Contrasts between genera, by effect.

    Attributes
    ----------
    columns : float array, shape (effects, genera, genera - 1)
        Orthogonal, of length 1, each summing to zero.
    information : float array, shape (effects, genera - 1)
        Information along each column.
    share : float array, shape (effects, genera)
        Share of each genus in the information on the mean.
    """

    columns: Floats
    information: Floats
    share: Floats


MOST: Final = 50
"""Levels of a kind that are turned at most: with more of them their common part is small."""


def turn_of_levels(information: Floats, groups: Ints, least: float) -> tuple[Floats, Floats]:
    """Independent directions of the effects of levels that a mean has to be told apart from.

    What all levels of a group have in common adds to the mean of the group, so the data tell
    nothing of it, and of a level only how far it lies from the others.

    Parameters
    ----------
    information : float array, shape (levels,)
        Information on each effect.
    groups : int array, shape (levels,)
        Which mean each is told apart from.
    least : float
        Information on a mean that comes from its prior.

    Returns
    -------
    float arrays, shapes (levels, levels) and (levels,)
        Orthogonal columns, and the information along each. Empty, and the information as it is,
        for more than `MOST` levels.
    """
    if len(information) > MOST:
        return np.zeros((0, 0)), information
    told = np.diag(information)
    for group in np.unique(groups):
        own = np.where(groups == group, information, 0.0)
        told -= np.outer(own, own) / (own.sum() + least)
    values, columns = np.linalg.eigh(told)
    return columns, values.clip(0.0)


def contrasts(information: Floats, mean_sd: Floats) -> Contrasts:
    """Contrasts whose estimates are independent.

    Parameters
    ----------
    information : float array, shape (effects, genera)
        Information on each effect of each genus.
    mean_sd : float array, shape (effects,)
        SDs of the priors of the means.
    """
    effects, genera = information.shape
    share = information / (information.sum(axis=1) + 1.0 / mean_sd**2)[:, None]
    if genera == 1:
        return Contrasts(np.zeros((effects, 1, 0)), np.zeros((effects, 0)), share)
    any_columns = helmert(genera).T
    on_deviations = information[:, :, None] * (np.eye(genera) - share[:, None])
    values, turned = np.linalg.eigh(any_columns.T @ on_deviations @ any_columns)
    return Contrasts(any_columns @ turned, values.clip(0.0), share)
