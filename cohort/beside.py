"""Work beside the main process: in one more process of this machine, where it has a second core.

Comes in: a function of the package and what it takes. Goes out: a `Later` that has the result when
it is asked for. Never: another number than without it. Work begun on the chance that it is wanted
(a comparison may not settle) is lost without a word where nobody asks.

While one core reads, fits or draws, the other does what does not wait for it.
"""

from __future__ import annotations

import gc
import importlib
import os
import sys
from collections.abc import Callable, Sequence
from functools import cache, partial
from typing import Any, Final, Protocol

IDLE: Final = 300
"""Seconds after which a process without work ends."""

SELDOM: Final = (50_000, 20, 100)
"""New objects before a search of the youngest, and searches before one of the older; Python's own
are 2000, 10, 10 (3.13)."""


class Later[T](Protocol):
    """A result that is being made."""

    def result(self, timeout: float | None = None) -> T:
        """The result, waited for (at most so many seconds); an error of the work is raised here."""

    def cancel(self) -> bool:
        """Take the work back: true where it was not begun and now never will be.

        The few pieces next in line count as begun.
        """

    def here(self) -> T:
        """Do in this process what was taken back."""


class _WhenAsked:
    """Work done by whoever asks first."""

    def __init__(self, work: Callable[..., Any], given: tuple[Any, ...]) -> None:
        self._work, self._given, self._asked = work, given, False

    def result(self, timeout: float | None = None) -> Any:
        self._asked = True
        return self.here()

    def cancel(self) -> bool:
        return not self._asked

    def here(self) -> Any:
        return self._work(*self._given)


class _There(_WhenAsked):
    """Work of the other process."""

    def __init__(self, work: Callable[..., Any], given: tuple[Any, ...]) -> None:
        super().__init__(work, given)
        self._begun = _pool()().submit(work, *given)

    def result(self, timeout: float | None = None) -> Any:
        return self._begun.result(timeout)

    def cancel(self) -> bool:
        return bool(self._begun.cancel())


def start[T](work: Callable[..., T], *given: Any) -> Later[T]:
    """Begin work beside this process; with one core it is done when its result is asked for.

    Parameters
    ----------
    work : callable
        A function of a module, so that the other process finds it.
    *given
        What it takes.
    """
    if (os.cpu_count() or 1) < 2:
        return when_asked(work, *given)
    return _There(work, given)


def when_asked[T](work: Callable[..., T], *given: Any) -> Later[T]:
    """Put work off until its result is asked for; like `start`, in this process."""
    return _WhenAsked(work, given)


def gathered[T](begun: Sequence[Later[T]]) -> list[T]:
    """Results in their order; what is not begun is taken back and done here, from the last on."""
    here = {at: begun[at].here() for at in reversed(range(len(begun))) if begun[at].cancel()}
    return [here[at] if at in here else later.result() for at, later in enumerate(begun)]


def made_ready(*modules: str) -> None:
    """Have the other process load modules it will need, while this one is still reading."""
    for module in modules:
        start(_load, module)


def seldom_swept() -> None:
    """Have Python search less often for unused rings of objects, for a process of one command.

    Loading modules and drawing make very many objects to search through, and few such rings.
    """
    gc.set_threshold(*SELDOM)


def leave() -> None:
    """Let both processes end without a last search through all they hold, which takes seconds.

    For a process that ends now: what it holds is never searched again.
    """
    gc.freeze()
    if _pool.cache_info().currsize:
        start(gc.freeze)


def _at_first() -> None:
    """What the other process does first."""
    from joblib.externals.loky import process_executor

    seldom_swept()
    # By its own measure a process that grew by 300 MB leaks: it ends, and one that has to load all
    # again takes its place. Ours grows by what it loads and compiles, and ends with the command.
    process_executor._MAX_MEMORY_LEAK_SIZE = sys.maxsize  # private: gone, it would only be slower


def _load(module: str) -> None:
    importlib.import_module(module)


@cache
def _pool() -> Callable[[], Any]:
    """What gives the other process, a new one where the last has ended for want of work."""
    # the pool behind joblib: unlike the standard one it needs no guard in a user's own script
    from joblib.externals.loky import get_reusable_executor

    return partial(get_reusable_executor, max_workers=1, timeout=IDLE, initializer=_at_first)
