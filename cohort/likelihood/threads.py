"""Compiled work spread over the cores of this machine.

Comes in: a compiled function that fills a stretch of its outputs and lets other threads run
(``nogil``). Goes out: nothing; the outputs are full. Never: numbers of its own.

numba's own parallel loops do the same and take three times as long to compile.
"""

from __future__ import annotations

import os
import threading
from collections import deque
from collections.abc import Callable
from itertools import pairwise
from typing import Final

from cohort.base import telling

STRETCHES: Final = 4
"""Stretches per core: cores that finish early take more."""


def in_parallel(fill: Callable[..., object], count: int, *given: object) -> None:
    """Call ``fill(first, last, *given)`` for stretches that make up 0..count, on all cores.

    Where no further thread can be had, all of it is done in this one. Broken off (an error, or
    Ctrl-C), no further stretch is begun. Whoever listens is told of every stretch that is done.

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
    waiting = deque(pairwise(edges))
    faults: list[BaseException] = []
    listens = telling.listener()
    done: list[int] = []

    def work() -> None:
        try:
            while True:
                try:
                    first, last = waiting.popleft()
                except IndexError:
                    return
                fill(first, last, *given)
                if listens is not None:
                    done.append(first)
                    listens(telling.Far(len(done), parts))
        except BaseException as fault:  # told to whoever called, below
            waiting.clear()
            faults.append(fault)

    helpers = _begun(work, min(cores, parts) - 1)
    try:
        work()
    finally:
        waiting.clear()
        for helper in helpers:
            helper.join()
    if faults:
        raise next((f for f in faults if isinstance(f, KeyboardInterrupt)), faults[0])


def _begun(work: Callable[[], None], count: int) -> list[threading.Thread]:
    """Threads at work, as many as can be had."""
    helpers: list[threading.Thread] = []
    for _ in range(count):
        helper = threading.Thread(target=work, daemon=True)
        try:
            helper.start()
        except RuntimeError:  # "can't start new thread"
            break
        helpers.append(helper)
    return helpers
