"""The divisions of a plan: chance of a colony against how many to expect.

In comes the table of a plan; out comes the picture. Never computes a chance.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cohort.figures import ink, palette

NAMED: Final = 6
"""Divisions that bear their name."""
HEIGHT: Final = {85: 78.0, 175: 95.0}


def _each(frame: pd.DataFrame) -> Iterator[Any]:
    """Named rows of a frame; the stubs know no types of their columns."""
    yield from frame.itertuples()


def plan_frame(table: pd.DataFrame) -> pd.DataFrame:
    """Points of the picture, one per division.

    Returns
    -------
    DataFrame
        division, x (colonies expected), y (chance of at least one, of 100), low, high,
        efficient, foundings, named (bears its name where there is room).
    """
    out = pd.DataFrame(
        {
            "division": table["division"],
            "x": table["colonies"],
            "y": table["at_least_one"] * 100,
            "low": table["at_least_one_low"] * 100,
            "high": table["at_least_one_high"] * 100,
            "efficient": table["efficient"],
            "foundings": table["foundings"],
        }
    )
    alike = pd.Series([len(set(parts)) == 1 for parts in table["parts"]], index=out.index)
    first = pd.Series(range(len(out)), index=out.index) < NAMED
    out["named"] = (first & out["efficient"]) | alike
    out.loc[table["foundings"].idxmin(), "named"] = True
    return out


def draw_plan(frame: pd.DataFrame, width: int, title: str) -> Figure:
    """The picture.

    Parameters
    ----------
    frame : DataFrame
        As `plan_frame` gives it.
    width : int
        Millimetres, one of `cohort.figures.ink.WIDTHS`.
    title : str
    """
    paper = ink.sheet(width, HEIGHT[width])
    axes = paper.panel(15, 13, width - 20, paper.height - 24)
    rest = frame[~frame["efficient"]]
    best = frame[frame["efficient"]]
    axes.vlines(rest["x"], rest["low"], rest["high"], color=palette.QUIET, linewidth=0.4, alpha=0.4)
    axes.plot(
        rest["x"], rest["y"], "o", color=palette.QUIET, markersize=2.5, alpha=0.5, markeredgewidth=0
    )
    axes.vlines(best["x"], best["low"], best["high"], color=palette.INK, linewidth=0.7)
    axes.plot(best["x"], best["y"], "D", color=palette.INK, markersize=4, markeredgewidth=0)
    axes.set_xlabel("Colonies expected from all queens", fontsize=paper.size)
    axes.set_ylabel("Sets of 100 with at least one colony", fontsize=paper.size)
    axes.set_ylim(max(0.0, frame["low"].min() - 5), 102)
    paper.write(2, paper.height - 4, title, weight="bold")
    small = {"color": palette.QUIET, "fontsize": paper.size - 1}
    paper.write(2, paper.height - 8.5, "Diamonds: no other does better in every respect.", **small)
    _names(axes, frame, paper.size - 0.5)
    return paper.figure


def _names(axes: Axes, frame: pd.DataFrame, size: float) -> None:
    """Write the names of divisions beside their points; a name without room stays out.

    The same queens each alone come first, so that theirs is never the one left out.
    """
    figure = axes.figure
    assert isinstance(figure, Figure)
    middle = frame["x"].median()
    alone = frame["foundings"] == frame["foundings"].max()
    for row in _each(pd.concat([frame[alone], frame[frame["named"] & ~alone]])):
        left = row.x < middle
        text = axes.annotate(
            row.division,
            (row.x, row.y),
            xytext=(5 if left else -5, 3),
            textcoords="offset points",
            ha="left" if left else "right",
            fontsize=size,
        )
        if any(text.get_text() in pair for pair in ink.overlaps(figure)):
            text.remove()


def write_plan(table: pd.DataFrame, folder: Path, title: str) -> tuple[Path, ...]:
    """Write the picture at both widths as SVG, PDF and PNG."""
    folder.mkdir(parents=True, exist_ok=True)
    frame = plan_frame(table)
    paths: list[Path] = []
    with ink.style():
        for width in ink.WIDTHS:
            figure = draw_plan(frame, width, title)
            paths += ink.save(figure, folder / f"plan-{width}", "plan", title)
    return tuple(paths)
