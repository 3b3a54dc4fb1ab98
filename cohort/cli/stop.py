"""The end of a command that is told to stop: Ctrl-C, a closed terminal, a machine that shuts down.

Comes in: a signal. Goes out: within `GRACE` seconds and a bit nothing of ours runs any more; one
closing line says what was kept; the exit code is 128 and the number of the signal (130 for Ctrl-C,
143 for SIGTERM), as shells have it. Never: half of a result.

The work is broken off by `KeyboardInterrupt`, so that what it laid aside for a while is cleared
away. A long stretch of compiled code does not let it through, and a library may swallow it: then a
thread that is woken by the signal itself ends all after `GRACE` seconds. A second signal changes
nothing.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import FrameType
from typing import Any, Final, NoReturn

from cohort.base import background

GRACE: Final = 2.0
"""Seconds in which the work may end by itself."""
GLANCE: Final = 0.05
"""Seconds between two looks whether a library is still being loaded."""
SIGNALS: Final = tuple(
    getattr(signal, name)
    for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
    # on Windows another process ends this one without a signal that could be heard
    if hasattr(signal, name) and not (name == "SIGTERM" and sys.platform == "win32")
)
SHOW_CURSOR: Final = "\x1b[?25h"

_asked: list[int] = []
"""The signal that came first."""
_kept: list[Callable[[], str]] = []
_over: list[bool] = []
_ending = threading.Lock()


def keeps(say: Callable[[], str]) -> None:
    """What the closing line says from now on.

    Parameters
    ----------
    say : callable
        Asked when the command is stopped; gives one or two sentences.
    """
    _kept[:] = [say]


def keeps_results(out: Path) -> None:
    """Have the closing line say whether the results of a folder are those of before."""
    before = _stamp(out)

    def say() -> str:
        if _stamp(out) == before:
            rest = f" The results in {out} are those of before." if before else ""
            return f"Nothing was written.{rest}"
        return f"The numbers of this comparison lie in {out}; what comes after them was not made."

    keeps(say)


def _stamp(out: Path) -> tuple[int, int] | None:
    try:
        found = (out / "run.json").stat()
    except OSError:
        return None
    return found.st_ino, found.st_mtime_ns


def listen() -> None:
    """Hear the signals from here on; for the process of one command."""
    # who clears away after processes that were ended would report that there was something to clear
    quiet = [os.environ.get("PYTHONWARNINGS", ""), "ignore:resource_tracker:UserWarning"]
    os.environ["PYTHONWARNINGS"] = ",".join(filter(None, quiet))
    _spare_threads()
    heard = [s for s in SIGNALS if signal.getsignal(s) is not signal.SIG_IGN]  # nohup, & of sh
    read, write = os.pipe()
    os.set_blocking(write, False)
    watcher = threading.Thread(target=_watch, args=(read,), name="told to stop", daemon=True)
    try:
        watcher.start()
        signal.set_wakeup_fd(write, warn_on_full_buffer=False)
    except RuntimeError:  # no thread to be had: then without
        os.close(read)
        os.close(write)
    for one in heard:
        signal.signal(one, _hear)
    usual = sys.unraisablehook

    def unraisable(fault: Any) -> None:
        if not (_asked and fault.exc_type is KeyboardInterrupt):  # else: swallowed, see `_watch`
            usual(fault)

    sys.unraisablehook = unraisable


def _spare_threads() -> None:
    """Have the libraries that compute begin no threads where there are hardly any to be had.

    One of them (OpenBLAS) answers the lack of a thread by a Ctrl-C of its own making.
    """
    done = threading.Event()
    waiting = [
        threading.Thread(target=done.wait, daemon=True)
        for _ in range(2 + 2 * (os.cpu_count() or 1))
    ]
    try:
        for one in waiting:
            one.start()
    except RuntimeError:
        for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
            os.environ.setdefault(name, "1")
    finally:
        done.set()


def asked() -> int | None:
    """The signal by which this command was told to stop; None where it was not."""
    return _asked[0] if _asked else None


@contextmanager
def stoppable() -> Iterator[None]:
    """Work that ends as a command does when told to stop; for scripts that people run.

    What would be kept is told by `keeps`, called within.
    """
    listen()
    try:
        yield
    except BaseException:
        end_if_asked()
        raise
    end_if_asked()
    _over.append(True)


def end_if_asked() -> None:
    """End here and now if a signal came."""
    _over.append(True)
    if _asked:
        end(_asked[0])


def end(number: int) -> NoReturn:
    """Say what was kept and end, whatever else this process has at hand.

    Parameters
    ----------
    number : int
        Of the signal.
    """
    if not _ending.acquire(blocking=False):
        time.sleep(0.5)  # the other thread is at it; unless it waits for a pipe nobody reads
        os._exit(128 + number)
    background.end_all()
    if threading.current_thread() is threading.main_thread():
        with suppress(Exception):
            sys.stdout.flush()
    with suppress(Exception):
        words = _kept[0]() if _kept else "It was not finished."
        line = f"Stopped. {words}\n".encode(errors="backslashreplace")
        if sys.stderr.isatty():
            line = f"\r{SHOW_CURSOR}\x1b[2K".encode() + line
        # past Python's own buffer, which the thread that was stopped may hold
        os.write(2, line)
    os._exit(128 + number)


def _hear(number: int, frame: FrameType | None) -> None:
    if _asked:
        return
    _asked.append(number)
    _break_off(frame)


def _break_off(frame: FrameType | None) -> None:
    """Raise KeyboardInterrupt, now or once no library is being loaded.

    Compiled libraries that are broken off while they load may bring the process down.
    """
    if _over:
        end(_asked[0])
    if _loading(frame) and hasattr(signal, "setitimer"):
        signal.signal(signal.SIGALRM, lambda _, later: _break_off(later))
        signal.setitimer(signal.ITIMER_REAL, GLANCE)
    elif not background.put_off():
        raise KeyboardInterrupt


def _loading(frame: FrameType | None) -> bool:
    """Whether an import is under way in a frame or in one that called it."""
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False


def _watch(read: int) -> None:
    """End the command if it has not ended by itself `GRACE` seconds after a signal."""
    while True:
        try:
            got = os.read(read, 1)
        except OSError:
            return
        if not got:
            return
        if got[0] in SIGNALS and signal.getsignal(got[0]) is _hear:
            time.sleep(GRACE)
            if not _asked:
                _asked.append(got[0])
            end(_asked[0])
