"""What a person sees while long work runs.

What comes in: what is being done, and how far it is (`cohort.base.telling`). What goes out: a bar
with the time left on a terminal, plain lines elsewhere, nothing where quiet was asked for; all of
it on standard error. Never: a number of its own but the time.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final, Protocol

from cohort.base.telling import Far, heard_by

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

SHORT: Final = 2.0
"""Seconds of a stage before which nothing is said of the time left."""
SELDOM: Final = 30.0
"""Seconds between two plain lines on how far a stage is."""
FIRST_RUN: Final = (
    "First run on this machine: machine code is being made, once. It takes about a minute, and "
    "longer on a busy machine."
)


class Teller(Protocol):
    """Tells the person who waits."""

    def __call__(self, what: str) -> None:
        """Say what is being done from now on."""

    def note(self, text: str) -> None:
        """Say something that stays on the screen."""


class _Quiet:
    def __call__(self, what: str) -> None:
        pass

    def note(self, text: str) -> None:
        pass


class Clock:
    """How long a stage has taken and will take.

    Parameters
    ----------
    now : callable
        Seconds, from any start.
    """

    def __init__(self, now: Any = time.monotonic) -> None:
        self._now = now
        self._lock = threading.Lock()
        self.begin("")

    def begin(self, what: str) -> None:
        """Begin a stage."""
        with self._lock:
            self.what, self.far = what, None
            self._since = self._counted_since = self._heard_at = self._now()

    far: Far | None

    def heard(self, far: Far) -> None:
        """Take down how far the stage is; called from any thread."""
        with self._lock:
            if self.far is None or far.done < self.far.done:  # before the first part: compiling
                self._counted_since = self._now()
                self._done_then = far.done
            self.far, self._heard_at = far, self._now()

    @property
    def taken(self) -> float:
        """Seconds since the stage began."""
        return float(self._now() - self._since)

    @property
    def left(self) -> float | None:
        """Seconds it will still take, by its pace so far; None while that is not known."""
        with self._lock:
            far = self.far
            if far is None or not self._done_then < far.done < far.of:
                return None
            counted = self._heard_at - self._counted_since
            left = float(counted / (far.done - self._done_then) * (far.of - far.done))
            waited = self._now() - self._heard_at
        # a short loop in a long stage is not told; between two parts the time runs down
        return max(left - waited, 0.0) if counted + left >= SHORT else None

    def words(self) -> str:
        """Time left in words; the time taken where nothing is known; blank for a short stage."""
        if self.taken < SHORT:
            return ""
        left = self.left
        return f"{span(self.taken)} so far" if left is None else f"about {span(left)} left"


def span(seconds: float) -> str:
    """``40 s``, ``3 min``, ``1 h 20 min``."""
    if seconds < 99.5:
        return f"{max(1, round(seconds))} s"
    minutes = round(seconds / 60)
    hours = f"{minutes // 60} h " if minutes >= 60 else ""
    return f"{hours}{minutes % 60 if hours else minutes} min"


def chains(far: Far) -> list[str]:
    """A line for each chain of a fit: ``chain 1: 900 of 1,800 draws, 2 divergent``."""
    return [
        f"chain {number}: {one.done:,} of {one.of:,} draws, {one.divergent} divergent"
        for number, one in enumerate(far.chains, start=1)
    ]


class _Bar:
    """A bar on a terminal, drawn anew several times a second."""

    def __init__(self, console: Console) -> None:
        from rich.spinner import Spinner

        self._console, self._clock, self._spinner = console, Clock(), Spinner("dots")
        self.heard = self._clock.heard

    def __call__(self, what: str) -> None:
        self._clock.begin(what)

    def note(self, text: str) -> None:
        self._console.print(text, markup=False, highlight=False)

    def __rich__(self) -> RenderableType:
        from rich.console import Group
        from rich.progress_bar import ProgressBar
        from rich.table import Table
        from rich.text import Text

        clock, far = self._clock, self._clock.far
        line = Table.grid(padding=(0, 1))
        line.add_row(self._spinner, Text(clock.what), Text(clock.words(), style="dim"))
        if far is None or clock.left is None:
            return line
        bar = Table.grid(padding=(0, 1))
        share = f"{100 * far.done // far.of} %"
        width = min(40, self._console.width - 10)
        bar.add_row(" ", ProgressBar(far.of, far.done, width=width), Text(share))
        return Group(line, bar, *(Text(f"  {one}", style="dim") for one in chains(far)))


class _Lines:
    """Plain lines, for a file or a program that reads them."""

    def __init__(self, short: bool) -> None:
        self._clock, self._said, self._short = Clock(), 0.0, short

    def __call__(self, what: str) -> None:
        self._clock.begin(what)
        self._said = 0.0
        if not self._short:
            self.note(f"{what} ...")

    def note(self, text: str) -> None:
        # in one piece, so that whatever comes next, a closing line too, begins a line
        print(f"{text}\n", end="", file=sys.stderr, flush=True)

    def heard(self, far: Far) -> None:
        clock = self._clock
        clock.heard(far)
        if clock.taken - self._said >= SELDOM and far.done < far.of:
            self._said = clock.taken
            self.note(f"{clock.what}: {far.done:,} of {far.of:,}, {clock.words()} ...")


@contextmanager
def progress(quiet: bool = False, *, short: bool = False) -> Iterator[Teller]:
    """Say what is being done while long work runs: a bar on a terminal, else plain lines.

    Parameters
    ----------
    quiet : bool
        Say nothing.
    short : bool
        The work takes a few seconds: without a terminal its stages are not told.

    Yields
    ------
    Teller
        Takes what is being done now.
    """
    if quiet:
        with heard_by(None):
            yield _Quiet()
        return
    if not sys.stderr.isatty():
        lines = _Lines(short)
        with heard_by(lines.heard):
            yield lines
        return
    from rich.console import Console
    from rich.live import Live

    console = Console(stderr=True)
    if console.is_dumb_terminal:  # it cannot draw a line anew
        lines = _Lines(short)
        with heard_by(lines.heard):
            yield lines
        return
    bar = _Bar(console)
    # what is printed meanwhile goes above the bar, but never from a file to the terminal
    outside = sys.stdout.isatty()
    with (
        Live(bar, console=console, transient=True, refresh_per_second=8, redirect_stdout=outside),
        heard_by(bar.heard),
    ):
        yield bar


def told_of_first_run(tell: Teller) -> None:
    """Say once that machine code has to be made; call it just before the first compiled work."""
    from cohort.likelihood import machine_code

    if not machine_code.is_kept():
        tell.note(FIRST_RUN)
