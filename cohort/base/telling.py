"""How far a long piece of work is, told to whoever waits for it.

Comes in: from the work, how much of it is done. Goes out: a `Far` to whoever listens here, on
whatever thread the work runs. Never: words, print, another number than without it.

What is being done is said by the ``say`` that the functions take; how far it is comes from deep
inside (the sampler, a loop over draws) and goes past everything between. Nobody need listen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class Chain:
    """How far one chain of a fit is.

    Attributes
    ----------
    done, of : int
        Draws, warm-up included.
    divergent : int
        Divergent steps so far.
    """

    done: int
    of: int
    divergent: int


@dataclass(frozen=True)
class Far:
    """How far a piece of work is.

    Attributes
    ----------
    done, of : int
        Parts of it that are done, and all of them.
    chains : tuple of Chain
        Of a fit; empty for other work.
    """

    done: int
    of: int
    chains: tuple[Chain, ...] = ()


Listener = Callable[[Far], None]
"""Is told from any thread; must be quick and must not raise."""

_listener: Final[ContextVar[Listener | None]] = ContextVar("listener", default=None)


def listener() -> Listener | None:
    """Who listens; asked once, on the thread that begins the work (others know of none)."""
    return _listener.get()


@contextmanager
def heard_by(listens: Listener | None) -> Iterator[None]:
    """Within, work tells how far it is to this listener; with None it keeps that to itself.

    A loop that counts its own rounds has each round done with None.
    """
    before = _listener.set(listens)
    try:
        yield
    finally:
        _listener.reset(before)


def counted[T](parts: Iterator[T], of: int, *, before: int = 0) -> Iterator[T]:
    """The same parts, one by one; after each it is told how many there were.

    Parameters
    ----------
    parts : iterator
    of : int
        How many there will be, those before included.
    before : int
        How many were done before.
    """
    listens = listener()
    for count, part in enumerate(parts, start=before + 1):
        if listens is not None:
            listens(Far(count, of))
        yield part
