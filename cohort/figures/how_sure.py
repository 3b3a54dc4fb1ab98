"""How sure it is: the draws of the same queens, together less singly.

In comes a `Material`; out come the draws of all kinds together and of each kind that has a
verdict, each on the last day of its own, and the picture: one density per kind, 0 marked, and at
its edges in how many of 100 draws each way is better. Never estimates anything: a density only
smooths the draws it was given.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cohort.figures import ink, palette, rows
from cohort.figures.labels import Labels
from cohort.figures.material import (
    Material,
    NotDrawn,
    days_to_speak_of,
    rows_to_show,
)
from cohort.figures.names import chance_text
from cohort.results.verdict_rows import HEADLINE
from cohort.terms.questions import NEW

if TYPE_CHECKING:
    import numpy.typing as npt

COLUMNS = ["genus", "named", "queens", "day", "source", "draw", "value"]
SHARES = ["genus", "named", "queens", "day", "source", "mean", "low", "high", "multi"]
OUTER = 0.002
"""Share of the draws beyond either end of the axis, which are not seen."""
FULL = 0.86
"""Height of the highest density, of the height of a row."""


def how_sure_frame(material: Material) -> pd.DataFrame:
    """Draws of the headline contrast, by kind.

    Returns
    -------
    pandas.DataFrame
        One row per draw: genus (kinds with a verdict, then ``average``), named, queens, day,
        source (``posterior``), draw, value (together less singly, -1 to 1).

    Raises
    ------
    NotDrawn
        The comparison has not settled, or its results keep no such draws.
    """
    shown = [row for row in rows_to_show(material) if row[0] != NEW]
    return contrast_frame(material, shown, ("posterior",))


def contrast_frame(
    material: Material, shown: list[tuple[str, bool]], sources: tuple[str, ...]
) -> pd.DataFrame:
    """Draws of the headline contrast of some kinds, each on the last day of its own.

    Parameters
    ----------
    material : Material
    shown : list of (str, bool)
        Genus and whether it is a scientific name, in printing order.
    sources : tuple of str
        Of `cohort.results.headline_draws.SOURCES`.
    """
    if not material.settled:
        raise NotDrawn("the comparison has not settled")
    draws = material.contrasts
    parts = []
    for genus, named in shown:
        days = days_to_speak_of(material, HEADLINE, genus)
        mine = draws[(draws["genus"] == genus) & (draws["queens"] == material.size)]
        mine = mine[mine["source"].isin(sources) & (mine["day"] == (days[-1] if days else -1))]
        if len(mine):
            parts.append(mine.assign(genus=genus, named=named, source=mine["source"].astype(str)))
    if not parts:
        raise NotDrawn("the results keep no draws of the same queens both ways")
    return pd.concat(parts, ignore_index=True)[COLUMNS]


def contrast_shares(frame: pd.DataFrame, level: float = 0.9) -> pd.DataFrame:
    """What the draws of each kind come to.

    Parameters
    ----------
    frame : DataFrame
        From `how_sure_frame` or `cohort.figures.prior_posterior.prior_posterior_frame`.
    level : float
        Mass between ``low`` and ``high``.

    Returns
    -------
    pandas.DataFrame
        Columns `SHARES`, one row per kind and source: mean, low and high of the contrast; multi:
        share of draws in which several queens do better, a tie half for each way.
    """
    tail = (1 - level) / 2
    out = []
    keys = ["genus", "named", "queens", "day", "source"]
    for key, part in frame.groupby(keys, sort=False):
        value = part["value"].to_numpy(float)
        low, high = np.quantile(value, [tail, 1 - tail])
        multi = float(np.mean(np.where(value == 0, 0.5, value > 0)))
        numbers = dict(mean=float(value.mean()), low=float(low), high=float(high), multi=multi)
        out.append(dict(zip(keys, key, strict=True)) | numbers)
    return pd.DataFrame(out, columns=SHARES)


def reach(values: pd.Series) -> tuple[float, float]:
    """Ends of an axis for draws, of 100: whole tens, 0 inside, never beyond all or none."""
    low, high = np.quantile(values.to_numpy(float), [OUTER, 1 - OUTER]) * 100
    ends = 10 * np.floor(min(low, -10) / 10), 10 * np.ceil(max(high, 10) / 10)
    return float(max(ends[0], -100)), float(min(ends[1], 100))


def draw_how_sure(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `how_sure_frame`, width in millimetres."""
    wide = 7.5 if width < 120 else 9.0
    grid = rows.one_panel(frame, width, labels, step=9.5, sides=(wide, wide), foot=13.0)
    axes, paper = grid.panels[0], grid.paper
    axes.set_xlim(*reach(frame["value"]))
    axes.axvline(0, color=palette.QUIET, lw=0.7)
    axes.locator_params(axis="x", nbins=5 if paper.narrow else 8)
    rows.heads(axes, paper, "← " + labels.singly_better, labels.together_better + " →", out=wide)
    room = axes.get_position().width * paper.width + 2 * wide
    small = paper.size - 0.5
    axes.set_xlabel(paper.wrapped(labels.difference, room, fontsize=small), fontsize=small)
    shapes = {
        genus: _density(frame.loc[frame["genus"] == genus, "value"] * 100) for genus in grid.order
    }
    top = max(float(y.max()) for _, y in shapes.values())
    shares = contrast_shares(frame).set_index("genus")["multi"]
    for i, genus in enumerate(grid.order):
        x, y = shapes[genus]
        _ridge(axes, x, i + 0.5 - y / top * FULL, i + 0.5)
        for side, share, way in ((0.0, 1 - shares[genus], "single"), (1.0, shares[genus], "multi")):
            axes.annotate(
                chance_text(float(share)), (side, i), xycoords=("axes fraction", "data"),
                xytext=(-4 if way == "single" else 4, 0), textcoords="offset points",
                ha="right" if way == "single" else "left", va="center", weight="bold",
                fontsize=paper.size, color=palette.WAY_WORD[way],
            )  # fmt: skip
    return paper.figure


def _density(values: pd.Series) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Kernel density of draws, of 100, as seaborn draws it and never beyond them; x and height."""
    import seaborn as sns

    if float(values.std()) < 1e-9:  # all draws are one number: a spike, half a point to each side
        middle = float(values.iloc[0])
        return middle + np.array([-0.5, 0.0, 0.5]), np.array([0.0, 2.0, 0.0])
    axes = ink.sheet(50, 50).panel(0, 0, 50, 50)
    sns.kdeplot(x=values.to_numpy(float), ax=axes, cut=0, gridsize=160)
    x, y = axes.lines[0].get_data()
    return np.asarray(x, float), np.asarray(y, float)


def _ridge(
    axes: Axes, x: npt.NDArray[np.float64], y: npt.NDArray[np.float64], floor: float
) -> None:
    """A density that stands on its row, in the colour of the way that is better on each side."""
    at = float(np.interp(0.0, x, y, left=floor, right=floor))
    for way, side in (("single", x < 0), ("multi", x > 0)):
        if not side.any():
            continue
        here, there = x[side], y[side]
        if (x <= 0).any() and (x >= 0).any():  # both meet at 0
            here = np.append(here, 0.0) if way == "single" else np.insert(here, 0, 0.0)
            there = np.append(there, at) if way == "single" else np.insert(there, 0, at)
        axes.fill_between(here, there, floor, color=palette.WAY_SOFT[way], lw=0)
        axes.plot(here, there, color=palette.WAY[way], lw=0.9)
