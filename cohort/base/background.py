"""Work beside the main process: in one more process of this machine, where it has a second core.

Comes in: a function of the package and what it takes. Goes out: a `Later` that has the result when
it is asked for. Never: another number than without it. Work begun on the chance that it is wanted
(a comparison may not settle) is lost without a word where nobody asks.

While one core reads, fits or draws, the other does what does not wait for it. Where no second
process can be had (no processes, no shared memory left), or it was ended by someone, its work is
done in this one. It hears no Ctrl-C: the main process does, and ends it (`end`). Where the main
process is gone it ends by itself (not on Windows: there it ends for want of work).
"""

from __future__ import annotations

import gc
import importlib
import os
import signal
import sys
import threading
import time
import warnings
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import BrokenExecutor
from contextlib import contextmanager, suppress
from functools import cache, partial
from pathlib import Path
from typing import Any, Final, Protocol

from cohort.base import telling

IDLE: Final = 300
"""Seconds after which a process without work ends."""

SELDOM: Final = (50_000, 20, 100)
"""New objects before a search of the youngest, and searches before one of the older; Python's own
are 2000, 10, 10 (3.13)."""


NO_THREAD: Final = "can't start new thread"
"""What Python says where the system gives no further thread."""
NO_THREAD_TOLD: Final = (
    "No further thread can be begun on this machine: it runs as many as it may for one user. Close "
    "other programs, or ask for a higher limit (ulimit -u), and try again."
)

BEHIND: Final = 10
"""How far the other process stands behind: what the main one waits for, a fit, goes first."""

GLANCE: Final = 0.3
"""Seconds between two glances at whether the main process is still there."""

CRASHED: Final = ("SIGSEGV", "SIGBUS", "SIGABRT", "SIGILL")
"""Ends of the other process that its work would be for this one, too."""


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

    def over(self) -> bool:
        """Whether the result is there, so that nobody would wait for it."""


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

    def over(self) -> bool:
        return False


class _There(_WhenAsked):
    """Work of the other process."""

    def __init__(self, work: Callable[..., Any], given: tuple[Any, ...]) -> None:
        super().__init__(work, given)
        pool = _pool()  # loads a library, to be broken off if need be
        with unheard():
            _now["pool"] = pool()
            self._begun = _now["pool"].submit(work, *given)

    def result(self, timeout: float | None = None) -> Any:
        try:
            return self._begun.result(timeout)
        except BrokenExecutor as fault:
            for way in CRASHED:
                if way in str(fault):
                    raise ChildProcessError(
                        f"A second process of this program broke off ({way}). Try again with more "
                        "room on the disk and in memory"
                    ) from fault
            return self.here()  # ended from outside, as a machine short of memory does

    def cancel(self) -> bool:
        return bool(self._begun.cancel())

    def over(self) -> bool:
        return bool(self._begun.done())


def start[T](work: Callable[..., T], *given: Any) -> Later[T]:
    """Begin work beside this process; with one core it is done when its result is asked for.

    So it is where no second process can be had.

    Parameters
    ----------
    work : callable
        A function of a module, so that the other process finds it.
    *given
        What it takes.
    """
    if (os.cpu_count() or 1) < 2 or "alone" in _now:
        return when_asked(work, *given)
    try:
        return _There(work, given)
    except (OSError, RuntimeError, ImportError, NotImplementedError) as fault:
        # no more processes or threads, no shared memory, no semaphores: asked once, not each time
        _now["alone"] = fault
        _drop()
        return when_asked(work, *given)


def alone() -> None:
    """Have all work done in this process from now on, as where every core has one of its own."""
    _now["alone"] = None


def when_asked[T](work: Callable[..., T], *given: Any) -> Later[T]:
    """Put work off until its result is asked for; like `start`, in this process."""
    return _WhenAsked(work, given)


def gathered[T](begun: Sequence[Later[T]]) -> list[T]:
    """Results in their order; what is not begun is taken back and done here, from the last on.

    Whoever listens (`cohort.base.telling`) is told how many are made.
    """
    listens = telling.listener()
    made: dict[int, T] = {}

    def keep(at: int, result: T) -> None:
        made[at] = result
        if listens is not None:
            there = sum(at in made or later.over() for at, later in enumerate(begun))
            listens(telling.Far(there, len(begun)))

    for at in reversed(range(len(begun))):
        if begun[at].cancel():
            keep(at, begun[at].here())
    for at, later in enumerate(begun):
        if at not in made:
            keep(at, later.result())
    return [made[at] for at in range(len(begun))]


def made_ready(*modules: str) -> None:
    """Have the other process load modules it will need, while this one is still reading."""
    for module in modules:
        start(_load, module)


def seldom_swept() -> None:
    """Have Python search less often for unused rings of objects, for a process of one command.

    Loading modules and drawing make very many objects to search through, and few such rings.
    """
    gc.set_threshold(*SELDOM)


@contextmanager
def unheard() -> Iterator[None]:
    """Processes begun within do not hear Ctrl-C nor the closing of their terminal.

    Both go to all that a terminal runs: each would end with a report of its own, and the one that
    clears away after the others before it has. This process hears it as soon as the block is left.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    aside = {signal.SIGINT, signal.SIGHUP}
    before = signal.pthread_sigmask(signal.SIG_BLOCK, aside)
    _now["beginning"] = True
    try:
        for begin in _clearing():  # begun by the first process, if not before
            with suppress(OSError, RuntimeError):
                begin()
            signal.pthread_sigmask(signal.SIG_BLOCK, aside)  # it let Ctrl-C through again
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
        del _now["beginning"]
        if _now.pop("put off", False):
            raise KeyboardInterrupt


def put_off() -> bool:
    """Whether a process is just being begun: broken off there, nobody would know of it.

    Asked by who hears a signal and would break off; then `unheard` does it as it is left. (A signal
    that this thread does not take is taken by another thread of the process.)
    """
    _now["put off"] = "beginning" in _now
    return bool(_now["put off"])


def _clearing() -> tuple[Callable[[], Any], ...]:
    """What begins the processes that clear away after those that were ended."""
    with suppress(ImportError):
        from multiprocessing import resource_tracker as usual

        from joblib.externals.loky.backend import resource_tracker as of_pool

        return usual.ensure_running, of_pool.ensure_running
    return ()


@contextmanager
def ended[T](results: Generator[T, None, None]) -> Iterator[Iterator[T]]:
    """Results of joblib as they come; however the block is left, no process works on.

    Parameters
    ----------
    results : generator
        What ``joblib.Parallel(return_as="generator_unordered")`` gave.
    """
    try:
        yield results
    finally:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # joblib warns that not all was asked for: so it is
            results.close()


@contextmanager
def ended_when_stopped() -> Iterator[None]:
    """End the other process when the work within is broken off from outside (Ctrl-C).

    Python would wait for it as it ends. Also a decorator.
    """
    try:
        yield
    except (KeyboardInterrupt, SystemExit, GeneratorExit):
        end()
        raise


def end() -> None:
    """End the other process at once, whatever it is at; when wanted there will be another."""
    _drop()


def _drop() -> None:
    pool = _now.pop("pool", None)
    if pool is None:
        return
    _unmissed()
    with suppress(OSError, RuntimeError, AttributeError):
        pool.shutdown(wait=False, kill_workers=True)


@cache
def _unmissed() -> None:
    """Say nothing of work that the pool's own thread still looks for after it was given up."""
    usual = threading.excepthook

    def told(fault: Any) -> None:
        pools = type(fault.thread).__name__ == "_ExecutorManagerThread"
        if not (pools and fault.exc_type is KeyError):
            usual(fault)

    threading.excepthook = told


def end_all() -> None:
    """End every process that this one began, of whatever library; for a command that ends now."""
    children = getattr(sys.modules.get("multiprocessing.process"), "active_children", tuple)
    for child in children():
        with suppress(OSError, ValueError, AttributeError):
            child.kill()
    for number in _begun_just_now():
        with suppress(OSError):
            os.kill(number, signal.SIGKILL)


def _begun_just_now() -> Iterator[int]:
    """Processes below this one, those included that are known to no library yet (Linux alone).

    Who clears away after the others (resource trackers) is passed over: it ends with them.
    """
    for place in Path("/proc").glob("[0-9]*"):
        with suppress(OSError, ValueError):
            above = int((place / "stat").read_text().rpartition(")")[2].split()[1])
            if above == os.getpid() and b"resource_tracker" not in (place / "cmdline").read_bytes():
                yield int(place.name)


def ends_with(main: int) -> None:
    """Have this process end soon after the one that began it, if that is `main`.

    Parameters
    ----------
    main : int
        Number of the process that asked for the work. In that process itself, or where others lie
        between (a cluster), nothing is done.
    """
    if sys.platform == "win32" or main != os.getppid() or "main" in _now:
        return  # Windows tells of no parent that has gone
    _now["main"] = main

    def watch() -> None:
        while os.getppid() == main:
            time.sleep(GLANCE)
        os._exit(1)

    with suppress(RuntimeError):  # no thread to be had: it ends for want of work
        threading.Thread(target=watch, name="ends with its parent", daemon=True).start()


def main_process() -> int:
    """Number of the process a person began: of this one, unless it works for another."""
    return int(_now.get("main", os.getpid()))


def leave() -> None:
    """Let both processes end without a last search through all they hold, which takes seconds.

    For a process that ends now: what it holds is never searched again.
    """
    gc.freeze()
    if "pool" in _now:
        start(gc.freeze)


def _at_first(main: int) -> None:
    """What the other process does first."""
    from joblib.externals.loky import process_executor

    if sys.platform == "win32":  # the console sends Ctrl-C to every process; the first answers it
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    elif os.getppid() != main:
        os._exit(1)  # it was ended while this one started
    ends_with(main)
    seldom_swept()
    if hasattr(os, "nice"):
        with suppress(OSError):
            os.nice(BEHIND)
    # By its own measure a process that grew by 300 MB leaks: it ends, and one that has to load all
    # again takes its place. Ours grows by what it loads and compiles, and ends with the command.
    process_executor._MAX_MEMORY_LEAK_SIZE = sys.maxsize  # private: gone, it would only be slower


def _load(module: str) -> None:
    importlib.import_module(module)


_now: Final[dict[str, Any]] = {}
"""The pool in use; why there is none (``alone``); in the other process, who began it (``main``)."""


@cache
def _pool() -> Callable[[], Any]:
    """What gives the other process, a new one where the last has ended for want of work."""
    # the pool behind joblib: unlike the standard one it needs no guard in a user's own script
    from joblib.externals.loky import get_reusable_executor

    return partial(
        get_reusable_executor,
        max_workers=1,
        timeout=IDLE,
        initializer=_at_first,
        initargs=(os.getpid(),),
    )
