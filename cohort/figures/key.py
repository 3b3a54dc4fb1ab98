"""Keys: what each line, mark and band of a picture means, said in the picture itself.

In come entries (a sign and its words); out come lines of entries that fit the paper, and their
ink. Never looks at data.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from cohort.figures import ink, palette

LINE = 4.0
"""Millimetres from one line of words to the next."""
WIDE = 5.0
"""Millimetres a sign takes."""
BETWEEN = 3.5
"""Millimetres between two entries."""

type Sign = Callable[[Axes, float, float], None]
"""Draws a sign on axes in millimetres: axes, its middle from the left, its height."""


@dataclass(frozen=True)
class Entry:
    """A sign and what it means.

    Parameters
    ----------
    sign : callable, optional
        See `Sign`; left out, the words stand alone.
    words : str
    wide : float
        Millimetres the sign takes.
    colour : str
        Of the words.
    """

    sign: Sign | None
    words: str
    wide: float = WIDE
    colour: str = palette.QUIET

    @property
    def indent(self) -> float:
        """Millimetres before the words."""
        return self.wide + 1.0 if self.sign is not None else 0.0


@dataclass(frozen=True)
class Key:
    """Entries in lines; `height` in millimetres.

    Parameters
    ----------
    lines : tuple of tuple of (float, Entry, str)
        Of each line its entries: how far from the left, and the words as broken.
    counts : tuple of int
        Lines of words that each line of entries takes.
    """

    lines: tuple[tuple[tuple[float, Entry, str], ...], ...]
    counts: tuple[int, ...]

    @property
    def height(self) -> float:
        """Millimetres of all lines."""
        return LINE * sum(self.counts)

    def draw(self, paper: ink.Sheet, bottom: float, left: float = 1.0) -> None:
        """Write the key so that it ends `bottom` millimetres above the lower edge."""
        axes = paper.panel(0, 0, paper.width, paper.height)
        axes.set_axis_off()
        axes.set(xlim=(0, paper.width), ylim=(0, paper.height))
        top = bottom + self.height
        for line, count in zip(self.lines, self.counts, strict=True):
            for at, entry, words in line:
                if entry.sign is not None:
                    entry.sign(axes, left + at + entry.wide / 2, top - LINE / 2)
                axes.text(left + at + entry.indent, top - LINE * count / 2, words, va="center",
                          fontsize=paper.small, color=entry.colour, linespacing=1.25)  # fmt: skip
            top -= LINE * count


def laid_out(width: float, entries: Sequence[Entry], *, room: float = 0.0) -> Key:
    """Entries in as many lines as they take.

    Parameters
    ----------
    width : float
        Of the paper, millimetres.
    entries : sequence of Entry
    room : float
        Millimetres for a line; left out, the paper less its margins.
    """
    probe = ink.sheet(width, 10)
    room = room or width - 2.0
    lines: list[list[tuple[float, Entry, str]]] = []
    counts: list[int] = []
    at = 0.0
    for entry in entries:
        if not entry.words:
            continue
        words = probe.wrapped(entry.words, room - entry.indent, fontsize=probe.small)
        wide = entry.indent + probe.measure(words, fontsize=probe.small)
        if not lines or at + wide > room or "\n" in words or counts[-1] > 1:
            lines.append([])
            counts.append(words.count("\n") + 1)
            at = 0.0
        lines[-1].append((at, entry, words))
        at += wide + BETWEEN
    return Key(tuple(map(tuple, lines)), tuple(counts))


def mark(marker: str, colour: str, *, hollow: bool = False, size: float = 4.0,
         edge: float = 0.8) -> Sign:  # fmt: skip
    """A mark, filled or hollow."""

    def draw(axes: Axes, x: float, y: float) -> None:
        face = palette.PAPER if hollow else colour
        axes.plot(x, y, marker, ms=size, color=face, mfc=face, mec=colour, mew=edge, ls="none")

    return draw


def stroke(colour: str, *, long: float = 4.5, **style: Any) -> Sign:
    """A level line."""

    def draw(axes: Axes, x: float, y: float) -> None:
        look: dict[str, Any] = {"lw": 1.7, "color": colour} | style
        axes.plot([x - long / 2, x + long / 2], [y, y], **look)

    return draw


def both(*signs: Sign) -> Sign:
    """Signs on each other."""

    def draw(axes: Axes, x: float, y: float) -> None:
        for sign in signs:
            sign(axes, x, y)

    return draw


def patch(colour: str, *, edge: str = "none", long: float = 4.2, high: float = 2.4) -> Sign:
    """A patch of a colour."""

    def draw(axes: Axes, x: float, y: float) -> None:
        axes.add_patch(Rectangle((x - long / 2, y - high / 2), long, high, fc=colour, ec=edge,
                                 lw=0.5 if edge != "none" else 0))  # fmt: skip

    return draw
