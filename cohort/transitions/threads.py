"""Compiled work spread over the cores of this machine.

Comes in: a compiled function that fills a stretch of its outputs and lets other threads run
(``nogil``). Goes out: nothing; the outputs are full. Never: numbers of its own.

numba's own parallel loops do the same and take three times as long to compile.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final

STRETCHES: Final = 4
"""Stretches per core: cores that finish early take more."""


def spread(fill: Callable[..., object], count: int, *given: object) -> None:
    """Call ``fill(first, last, *given)`` for stretches that make up 0..count, on all cores.

    Parameters
    ----------
    fill : callable
        Works on first <= i < last. An error it raises is raised here.
    count : int
        With 0 it is called once, on nothing.
    *given
        What else it takes, outputs among them.
    """
    cores = os.cpu_count() or 1
    parts = max(1, min(STRETCHES * cores, count))
    edges = [count * i // parts for i in range(parts + 1)]
    with ThreadPoolExecutor(cores) as pool:
        list(pool.map(lambda first, last: fill(first, last, *given), edges[:-1], edges[1:]))
