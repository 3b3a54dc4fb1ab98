"""How a sampler calls a compiled density: by its address, past Python.

Comes in: what a density found. Goes out: numbers written where the sampler looks for them. Never: a
density of its own.
"""

from __future__ import annotations

import math
from typing import Final

from numba import carray, njit, types  # type: ignore[attr-defined]  # carray is untyped

NUMBERS: Final = types.CPointer(types.float64)  # type: ignore[no-untyped-call]  # numba has no types
DENSITY: Final = types.int64(types.uint64, NUMBERS, NUMBERS, NUMBERS, types.voidptr)
"""Length of q, q, slopes to fill, log density to fill, all else it reads -> 0, or `ASTRAY`."""
EXPANDED: Final = types.int64(types.uint64, types.uint64, NUMBERS, NUMBERS, types.voidptr)
"""Length of q, numbers kept of a draw, q, these numbers to fill, all else it reads -> 0."""
ASTRAY: Final = 4
"""Tells the sampler that its step led where there is no density."""


@njit(cache=True, error_model="numpy")
def handed(width, value, slopes, slopes_, value_):  # type: ignore[no-untyped-def]  # compiled by numba
    """Write a density and its slopes where the sampler looks for them."""
    value_[0] = value
    for i in range(width):
        slopes_[i] = slopes[i]
    return 0 if math.isfinite(value) else ASTRAY


def copied(width, expanded, q_, out_, laid_):  # type: ignore[no-untyped-def]  # compiled by numba
    """Keep a draw as it is; see `EXPANDED`."""
    q = carray(q_, (width,))
    for i in range(width):
        out_[i] = q[i]
    return 0
