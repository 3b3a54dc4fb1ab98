"""Pictures with one row per kind: names at the left, one or two panels, counts at the right.

In comes a frame with `genus` and `named`; out come axes whose rows are ready for marks.
Never reads a number from the frame.
"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd
from matplotlib.axes import Axes

from cohort.figures import ink, palette
from cohort.figures.labels import Labels
from cohort.figures.names import POOLED, kind_text

POINTS = 72 / 25.4
"""Points in a millimetre."""


@dataclass(frozen=True)
class Grid:
    """Paper with two panels of rows.

    Parameters
    ----------
    paper : ink.Sheet
        The paper.
    panels : tuple of matplotlib.axes.Axes
        Left and right, or upper and lower on one-column paper.
    order : list of str
        Kinds from top to bottom.
    """

    paper: ink.Sheet
    panels: tuple[Axes, ...]
    order: list[str]


def one_panel(
    frame: pd.DataFrame,
    width: int,
    labels: Labels,
    *,
    step: float,
    sides: tuple[float, float],
    foot: float = 6.5,
    head: float = 6.5,
) -> Grid:
    """Paper for `frame` with one panel, one row per kind.

    Parameters
    ----------
    frame : DataFrame
    width : int
        Millimetres.
    labels : Labels
    step : float
        Height of a row, millimetres.
    sides : tuple of float
        Room left and right of the panel for what is written there, millimetres.
    foot, head : float
        Millimetres under and over the panel.
    """
    order, names, longest = _named(frame, width, labels)
    body = step * len(order)
    paper = ink.sheet(width, body + foot + head)
    left = longest + 3.5 + sides[0]
    axes = paper.panel(left, foot, width - left - sides[1] - 1, body)
    _ready(axes, len(order))
    _names(axes, order, names, paper, out=sides[0])
    return Grid(paper, (axes,), order)


def two_panels(
    frame: pd.DataFrame, width: int, labels: Labels, titles: tuple[str, str], *, under: float
) -> Grid:
    """Paper for `frame` with two titled panels, one row per kind, the first row heavier.

    Parameters
    ----------
    frame : DataFrame
    width : int
        Millimetres.
    labels : Labels
    titles : tuple of str
    under : float
        Millimetres at the foot of the paper for a key.
    """
    order, names, longest = _named(frame, width, labels)
    step = 8.0 if len(order) < 6 else 6.8
    body, foot, right = step * len(order), 5.5, 13.5
    probe = ink.sheet(width, 10)
    left = longest + 3.5
    wide = width - left - right if probe.narrow else (width - left - right - 8) / 2
    told = [probe.wrapped(title, wide + 4) for title in titles]
    head = 5.0 + 3.6 * max(title.count("\n") for title in told)
    if probe.narrow:
        paper = ink.sheet(width, 2 * (body + head + foot) + under)
        spots = [(left, under + body + head + 2 * foot), (left, under + foot)]
    else:
        paper = ink.sheet(width, body + head + foot + under)
        spots = [(left, under + foot), (left + wide + 8, under + foot)]
    panels = []
    for (x, y), title in zip(spots, told, strict=True):
        axes = paper.panel(x, y, wide, body)
        _ready(axes, len(order))
        paper.write(x, y + body + 1.2, title, color=palette.INK, va="bottom", linespacing=1.05)
        panels.append(axes)
    for axes in panels if probe.narrow else panels[:1]:
        _names(axes, order, names, paper)
    return Grid(paper, tuple(panels), order)


def _named(
    frame: pd.DataFrame, width: int, labels: Labels
) -> tuple[list[str], dict[str, tuple[str, bool]], float]:
    """Kinds in order, their names and whether in italics, and how wide the longest is."""
    firsts = frame.drop_duplicates("genus")
    names = {
        str(genus): kind_text(str(genus), bool(named), labels)
        for genus, named in zip(firsts["genus"], firsts["named"], strict=True)
    }
    probe = ink.sheet(width, 10)
    longest = max(
        probe.measure(part, style="italic" if italic else "normal", weight=weight(genus))
        for genus, (text, italic) in names.items()
        for part in wrap(text, probe.narrow).split("\n")
    )
    return list(names), names, longest


def _ready(axes: Axes, count: int) -> None:
    axes.set_ylim(count - 0.5, -0.5)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    for edge in range(count + 1):
        axes.axhline(edge - 0.5, color=palette.RULE, lw=0.4, zorder=0)


def wrap(text: str, narrow: bool) -> str:
    """Long names take two lines on one-column paper."""
    if not narrow or len(text) <= 17 or " " not in text:
        return text
    if " (" in text:  # what stands in brackets stays together
        return text.replace(" (", "\n(", 1)
    words = text.split(" ")
    cuts = range(1, len(words))
    best = min(cuts, key=lambda i: max(len(" ".join(words[:i])), len(" ".join(words[i:]))))
    return " ".join(words[:best]) + "\n" + " ".join(words[best:])


def _names(
    axes: Axes,
    order: list[str],
    names: dict[str, tuple[str, bool]],
    paper: ink.Sheet,
    out: float = 0.0,
) -> None:
    for i, genus in enumerate(order):
        text, italic = names[genus]
        axes.annotate(
            wrap(text, paper.narrow), (0, i), xycoords=("axes fraction", "data"),
            xytext=(-5 - out * POINTS, 0), textcoords="offset points", ha="right", va="center",
            fontsize=paper.size, style="italic" if italic else "normal", linespacing=1.05,
            weight=weight(genus),
        )  # fmt: skip


def weight(genus: str) -> str:
    """All kinds together is what a picture is about; the kinds lean on it."""
    return "bold" if genus in POOLED else "normal"


def heads(axes: Axes, paper: ink.Sheet, left: str, right: str, out: float = 0.0) -> None:
    """Names of the two ways over a panel, each in its colour, so many millimetres further out."""
    for x, side, word, colour, away in (
        (0.0, "left", left, palette.SINGLE, -out),
        (1.0, "right", right, palette.MULTI_WORD, out),
    ):
        axes.annotate(word, (x, 1), xycoords="axes fraction", xytext=(away * POINTS, 3),
                      textcoords="offset points", ha=side, va="bottom", color=colour,
                      fontsize=paper.small, weight="bold")  # fmt: skip


def bar(
    axes: Axes,
    way: str,
    at: float,
    numbers: tuple[float, float, float],
    scale: float = 100.0,
    *,
    heavy: bool = False,
) -> None:
    """Likely range and estimate (low, estimate, high) of one way in one row."""
    low, middle, high = (number * scale for number in numbers)
    colour = palette.WAY.get(way, palette.INK)
    axes.plot([low, high], [at, at], color=colour, lw=2.8 if heavy else 1.5, solid_capstyle="butt")
    axes.plot(middle, at, palette.MARK.get(way, "o"), ms=6 if heavy else 4, color=colour)


def hollow(axes: Axes, way: str, at: float, value: float, scale: float = 100.0) -> None:
    """What was counted of one kind alone."""
    axes.plot(value * scale, at, palette.MARK.get(way, "o"), ms=3.4,
              color=palette.PAPER, mec=palette.WAY.get(way, palette.INK), mew=0.8)  # fmt: skip


def counts(grid: Grid, behind: dict[str, str]) -> None:
    """Foundings behind each row, right of the last panel (of each on one-column paper)."""
    for axes in grid.panels if grid.paper.narrow else grid.panels[-1:]:
        for i, genus in enumerate(grid.order):
            axes.annotate(behind.get(genus, ""), (1, i), xycoords=("axes fraction", "data"),
                          xytext=(4, 0), textcoords="offset points", ha="left", va="center",
                          fontsize=grid.paper.small, color=palette.QUIET)  # fmt: skip
