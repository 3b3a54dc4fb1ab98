"""A quicker last step of compiling a model for nutpie.

Comes in: nothing. Goes out: a context in which nutpie copies what it computed number by number.
Never: another result; a test holds both ways against each other.

nutpie 0.16 assigns one array to another; numba then compiles the words of an error about shapes
that cannot occur, a quarter of the whole compile. The two functions replaced here are nutpie's
own and private: where they are missing (another version), nothing is replaced and compiling
takes its usual time.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np

NAMES = ("_make_c_logp_func", "_make_c_expand_func", "make_extraction_fn")


def _logp(
    n_dim: int, logp_fn: Any, user_data: Any, shared_keys: Any, shared_data: Any
) -> tuple[Any, Any]:
    import numba
    from numba import carray  # type: ignore[attr-defined]  # exported, untyped
    from nutpie.compile_pymc import make_extraction_fn

    extract = make_extraction_fn(logp_fn, shared_data, shared_keys, user_data.dtype)
    number = numba.types.CPointer(numba.types.double)
    signature = numba.types.int64(numba.types.uint64, number, number, number, numba.types.voidptr)

    def logp_numba(dim, x_, out_, logp_, user_data_):  # type: ignore[no-untyped-def]  # compiled by numba
        if dim != n_dim:
            return -1
        try:
            value, slopes = extract(carray(x_, (n_dim,)), user_data_)
            number = value.item()
            logp_[0] = number
            finite = True
            for i in range(n_dim):
                out_[i] = slopes[i]
                finite = finite and np.isfinite(slopes[i])
            if not finite:
                return 3
            if not np.isfinite(number):
                return 4
        except Exception:  # as nutpie has it: the sampler reads a code
            return 1
        return 0

    return logp_numba, signature


def _expand(
    n_dim: int, n_expanded: int, expand_fn: Any, user_data: Any, shared_keys: Any, shared_data: Any
) -> tuple[Any, Any]:
    import numba
    from numba import carray  # type: ignore[attr-defined]  # exported, untyped
    from nutpie.compile_pymc import make_extraction_fn

    extract = make_extraction_fn(expand_fn, shared_data, shared_keys, user_data.dtype)
    number = numba.types.CPointer(numba.types.double)
    signature = numba.types.int64(
        numba.types.uint64, numba.types.uint64, number, number, numba.types.voidptr
    )

    def expand_numba(dim, expanded, x_, out_, user_data_):  # type: ignore[no-untyped-def]  # compiled by numba
        if dim != n_dim or expanded != n_expanded:
            return -1
        try:
            (values,) = extract(carray(x_, (n_dim,)), user_data_)
            for i in range(n_expanded):
                out_[i] = values[i]
        except Exception:  # as nutpie has it: the sampler reads a code
            return -2
        return 0

    return expand_numba, signature


@contextmanager
def plain_copies() -> Iterator[bool]:
    """Compile models number by number inside this context; yields whether that is possible."""
    from nutpie import compile_pymc as theirs

    if not all(hasattr(theirs, name) for name in NAMES):
        yield False
        return
    kept = [getattr(theirs, name) for name in NAMES[:2]]
    for name, ours in zip(NAMES, (_logp, _expand), strict=False):
        setattr(theirs, name, ours)
    try:
        yield True
    finally:
        for name, own in zip(NAMES, kept, strict=False):
            setattr(theirs, name, own)
