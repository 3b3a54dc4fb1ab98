"""How a compiled density is called: by its address, by the sampler past Python and by us.

Comes in: what a density found. Goes out: numbers written where the caller looks for them. Never: a
density of its own.
"""

from __future__ import annotations

import ctypes
import math
from collections.abc import Callable
from functools import cache
from types import SimpleNamespace
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from numba import carray, cfunc, config, njit, types  # type: ignore[attr-defined]  # carray is untyped
from numba.core.typing.ctypes_utils import to_ctypes

Floats = npt.NDArray[np.float64]

NUMBERS: Final = types.CPointer(types.float64)  # type: ignore[no-untyped-call]  # numba has no types
DENSITY: Final = types.int64(types.uint64, NUMBERS, NUMBERS, NUMBERS, types.voidptr)
"""Length of q, q, gradient to fill, log density to fill, all else it reads -> 0, or `ASTRAY`."""
EXPANDED: Final = types.int64(types.uint64, types.uint64, NUMBERS, NUMBERS, types.voidptr)
"""Length of q, numbers kept of a draw, q, these numbers to fill, all else it reads -> 0."""
ASTRAY: Final = 4
"""Tells the sampler that its step led where there is no density."""


@njit(cache=True, error_model="numpy")
def handed(width, value, gradient, gradient_, value_):  # type: ignore[no-untyped-def]  # compiled by numba
    """Write a density and its gradient where the sampler looks for them."""
    value_[0] = value
    for i in range(width):
        gradient_[i] = gradient[i]
    return 0 if math.isfinite(value) else ASTRAY


def copied(width, expanded, q_, out_, packed_):  # type: ignore[no-untyped-def]  # compiled by numba
    """Keep a draw as it is; see `EXPANDED`."""
    q = carray(q_, (width,))
    for i in range(width):
        out_[i] = q[i]
    return 0


@cache
def as_callback(function: Callable[..., int], signature: Any = DENSITY) -> Any:
    """A function compiled to be called by its address, and kept on disk.

    Parameters
    ----------
    function : function
        Of a module.
    signature : numba signature
        `DENSITY` or `EXPANDED`.
    """
    if config.DISABLE_JIT:  # type: ignore[attr-defined]  # numba sets it when it is imported
        return _not_compiled(function, signature)
    return cfunc(signature, cache=True)(function)


def _not_compiled(function: Callable[..., int], signature: Any) -> Any:
    """The Python function itself behind an address, where NUMBA_DISABLE_JIT is set.

    For debuggers and for coverage: some hundred times slower than machine code. Python stops where
    machine code goes on with infinity: such a place is `ASTRAY`.
    """

    def called(*given: Any) -> int:
        try:
            return function(*given[:-1], ctypes.c_void_p(given[-1]))  # which came as a bare number
        except ArithmeticError:
            given[3][0] = -math.inf
            return ASTRAY

    kinds = (signature.return_type, *signature.args)
    call = ctypes.CFUNCTYPE(*map(to_ctypes, kinds))(called)
    return SimpleNamespace(ctypes=call, address=ctypes.cast(call, ctypes.c_void_p).value)


def value_and_gradient(
    density: Callable[..., int], q: Floats, packed: Floats
) -> tuple[float, Floats]:
    """Log density and its gradient at a vector q, from the code that the sampler calls.

    Parameters
    ----------
    density : function
        With the signature `DENSITY`.
    q : float array, shape (coordinates,)
    packed : float array
        All else it reads.
    """
    here, gradient, value = np.ascontiguousarray(q, np.float64), np.empty(q.size), np.empty(1)

    def place(array: Floats) -> Any:
        return array.ctypes.data_as(ctypes.POINTER(ctypes.c_double))

    as_callback(density).ctypes(
        q.size, place(here), place(gradient), place(value), packed.ctypes.data
    )
    return float(value[0]), gradient
