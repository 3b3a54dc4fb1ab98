"""Width of the likely range, and chance of finding a difference, by number of foundings.

In comes the table of simulated seasons and the law of the width; out comes the picture. Never
simulates.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cohort.base import making
from cohort.figures import ink, palette
from cohort.figures.labels import ENGLISH, Labels

HEIGHT: Final = {85: 105.0, 175: 70.0}
SIDE: Final = 15.0
LINE: Final = 3.5
"""Millimetres of a further line of the note."""


def power_frame(table: pd.DataFrame, slope: float, level: float) -> pd.DataFrame:
    """Points and curve of the picture.

    Returns
    -------
    DataFrame
        what (``width``, ``width_curve``, ``power``), foundings, value, error (Monte Carlo).
    """
    tried = table["foundings"].to_numpy(float)
    grid = np.geomspace(tried.min() / 1.5, tried.max() * 2, 60)
    parts = [
        pd.DataFrame(
            {
                "what": "width",
                "foundings": tried,
                "value": table["width"],
                "error": table["width_se"],
            }
        ),
        pd.DataFrame(
            {
                "what": "width_curve",
                "foundings": grid,
                "value": np.exp(level + slope * np.log(grid)),
                "error": math.nan,
            }
        ),
        pd.DataFrame(
            {
                "what": "power",
                "foundings": tried,
                "value": table["power"] * 100,
                "error": table["power_se"] * 100,
            }
        ),
    ]
    return pd.concat(parts, ignore_index=True)


def _points(axes: Axes, rows: pd.DataFrame) -> None:
    axes.errorbar(
        rows["foundings"],
        rows["value"],
        yerr=2 * rows["error"].fillna(0),
        fmt="o",
        color=palette.INK,
        markersize=4,
        elinewidth=0.8,
        capsize=0,
    )


def draw_power(frame: pd.DataFrame, width: int, labels: Labels = ENGLISH) -> Figure:
    """The picture.

    Parameters
    ----------
    frame : DataFrame
        As `power_frame` gives it.
    width : int
        Millimetres, one of `cohort.figures.ink.WIDTHS`.
    labels : Labels
        Words of the language.
    """
    probe = ink.sheet(width, 10)
    note = probe.wrapped(labels.power_bars, width - 4, fontsize=probe.small)
    more = LINE * note.count("\n")
    paper = ink.sheet(width, HEIGHT[width] + more)
    if paper.narrow:
        across, down = width - SIDE - 5, (paper.height - more - 46) / 2
        first = paper.panel(SIDE, down + 31, across, down)
        second = paper.panel(SIDE, 11, across, down)
    else:
        across, down = (width - 2 * SIDE - 8) / 2, paper.height - more - 28
        first = paper.panel(SIDE, 11, across, down)
        second = paper.panel(2 * SIDE + across + 3, 11, across, down)
    curve = frame[frame["what"] == "width_curve"]
    first.plot(curve["foundings"], curve["value"], color=palette.QUIET)
    _points(first, frame[frame["what"] == "width"])
    first.set_ylim(bottom=0)
    _points(second, frame[frame["what"] == "power"])
    second.set_ylim(0, 102)
    for axes, name in ((first, labels.power_width), (second, labels.power_finds)):
        axes.set_xlabel(labels.behind, fontsize=paper.size)
        axes.set_xlim(0, float(curve["foundings"].max()))
        axes.set_title(name, fontsize=paper.size, loc="left", pad=4)
    paper.write(2, paper.height - 4, labels.power_title, weight="bold")
    paper.write(
        2,
        paper.height - 8 - more / 2,
        note,
        color=palette.QUIET,
        fontsize=paper.small,
    )
    return paper.figure


def write_power(
    table: pd.DataFrame, slope: float, level: float, folder: Path, labels: Labels = ENGLISH
) -> tuple[Path, ...]:
    """Write the picture at both widths as SVG, PDF and PNG, all of them or none."""
    with making.added(folder) as new:
        paths = save_power(table, slope, level, new.place, labels)
    return tuple(new.later(path) for path in paths)


def save_power(
    table: pd.DataFrame, slope: float, level: float, place: Path, labels: Labels = ENGLISH
) -> tuple[Path, ...]:
    """Write the picture into a folder that is there, as it is drawn."""
    frame = power_frame(table, slope, level)
    paths: list[Path] = []
    with ink.style():
        for width in ink.WIDTHS:
            figure = draw_power(frame, width, labels)
            paths += ink.save(figure, place / f"power-{width}", labels.power_title)
    return tuple(paths)
