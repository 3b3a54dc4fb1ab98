"""What each founding of a fit lived by, draw by draw, one's own effects included.

Comes in: a `Fit`, and which draws. Goes out: the parameters the compiled code takes by founding.
Never: a likelihood.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cohort.likelihood.by_founding import SHARED_FROM
from cohort.likelihood.layout import FOUNDING_WIDTH
from cohort.model.kernel_arrays import by_founding, stacked
from cohort.model.sample import Fit

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
AT_ONCE: Final = 20_000_000
"""Numbers by draw and founding that are held at a time."""


def lived_in_parts(fit: Fit, keep: Ints) -> Iterator[tuple[Floats, Floats]]:
    """`lived` some draws at a time, so that a large study fits into memory.

    Parameters
    ----------
    fit : Fit
    keep : int array
        Numbers of the draws, the same of every chain.

    Yields
    ------
    tuple
        As of `lived`, the same draws of every chain together.
    """
    numbers = fit.posterior.sizes["chain"] * len(keep) * len(fit.design.foundings) * FOUNDING_WIDTH
    for some in np.array_split(keep, -(-numbers // AT_ONCE)):
        if len(some):
            yield lived(fit, some)


def lived(fit: Fit, keep: Any) -> tuple[Floats, Floats]:
    """The compiled code's parameters of every founding, in some draws.

    Parameters
    ----------
    fit : Fit
    keep : int array or slice
        Numbers of the draws, the same of every chain.

    Returns
    -------
    par : float array, shape (draws, foundings, FOUNDING_WIDTH)
    shared : float array, shape (draws, SHARED_WIDTH)
        Of shape (draws, foundings, SHARED_WIDTH) where one's own effects move what all foundings
        share elsewhere.
    """
    par, shared = by_founding(stacked(fit.posterior.isel(draw=keep)), fit.design)
    if fit.moved is None:
        return par, shared
    moved = fit.moved.isel(draw=keep).transpose("chain", "draw", "founding", "moved")
    own = moved.to_numpy().reshape(-1, *moved.shape[2:])
    columns = [int(column) for column in moved["moved"].to_numpy()]
    if any(column >= SHARED_FROM for column in columns):
        shared = np.repeat(shared[:, None], par.shape[1], axis=1)
    for i, column in enumerate(columns):
        if column < SHARED_FROM:
            par[..., column] += own[..., i]
        else:
            shared[..., column - SHARED_FROM] += own[..., i]
    return par, shared
