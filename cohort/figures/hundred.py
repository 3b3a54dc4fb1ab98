"""A hundred queens, and what became of them.

In comes a `Material`; out comes, per way of founding, how many queens met which fate, as counted
and as whole queens of a hundred, and the picture. Never uses the model.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PatchCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from cohort.figures import ink, palette
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, each
from cohort.figures.names import queens_text
from cohort.nonparametric.followed import compared

FATES = ("colony", "waiting", "away", "after", "before")
COLUMNS = ["way", "fate", "queens", "of_100", "squares"]
FEWEST = 20
"""Queens of each way from which they are shown as so many of a hundred; of fewer, one by one."""
COLOUR = {
    "colony": palette.SINGLE,
    "waiting": palette.SINGLE_SOFT,
    "away": palette.AWAY,
    "after": palette.MULTI,
    "before": palette.NONE_LEFT,
}
STAYED = ("followed", "horizon", "winter", "all lost")


GAP = 3.5
"""Millimetres from one line of words to the next."""


def hundred_frame(material: Material) -> pd.DataFrame:
    """Fate of the queens of compared foundings.

    Returns
    -------
    pandas.DataFrame
        Columns way, fate (colony, waiting, away, after, before), queens (counted), of_100 (whole
        numbers that add up to 100 for each way), squares (drawn: of_100, or the queens themselves
        where a way has fewer than `FEWEST`).
    """
    foundings = compared(material.history.foundings)
    if foundings.empty:
        raise NotDrawn("no founding stands in the comparison")
    intervals = material.history.intervals
    lost = intervals[intervals["lost"] > 0].copy()
    first = foundings["first_by"].astype(float)
    lost["late"] = lost["by"] > lost["code"].map(first)
    after = lost[lost["late"]].groupby("code")["lost"].sum()
    before = lost[~lost["late"]].groupby("code")["lost"].sum()
    table = pd.DataFrame(index=foundings.index)
    table["way"] = foundings["arm"]
    table["after"] = after.reindex(table.index).fillna(0).astype(int)
    table["before"] = before.reindex(table.index).fillna(0).astype(int)
    stayed = foundings["end_kind"].isin(STAYED)
    alive = foundings["queens_end"].astype(int).where(stayed, 0)
    workers = np.isfinite(first)
    table["colony"] = alive.where(workers, 0)
    table["waiting"] = alive.where(~workers, 0)
    table["away"] = foundings["size"].astype(int) - table[
        ["after", "before", "colony", "waiting"]
    ].sum(axis=1)
    rows = []
    for way in ("single", "multi"):
        sums = table.loc[table["way"] == way, list(FATES)].sum()
        if sums.sum() > 0:
            shares = whole_hundred(sums.to_numpy(float))
            rows += [
                dict(way=way, fate=fate, queens=int(sums[fate]), of_100=int(share))
                for fate, share in zip(FATES, shares, strict=True)
            ]
    frame = pd.DataFrame(rows, columns=COLUMNS[:-1])
    each_way = frame.groupby("way")["queens"].sum()
    return frame.assign(squares=frame["queens" if (each_way < FEWEST).any() else "of_100"])


def one_by_one(frame: pd.DataFrame) -> bool:
    """True when a square is a queen and not one of a hundred."""
    return bool((frame.groupby("way")["queens"].sum() < FEWEST).any())


def whole_hundred(counts: np.ndarray) -> np.ndarray:
    """Whole numbers that add up to 100, in proportion to counts (largest remainders get the rest).

    Largest-remainder rounding: Hamilton's method of apportionment; common practice.
    """
    exact = counts / counts.sum() * 100
    low = np.floor(exact).astype(int)
    rest = 100 - int(low.sum())
    for i in np.argsort(-(exact - low), kind="stable")[:rest]:
        low[i] += 1
    return np.asarray(low)


def draw_hundred(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `hundred_frame`, width in millimetres."""
    ways = list(dict.fromkeys(frame["way"]))
    narrow = width < 120
    side = 34.0 if narrow else 30.0
    parts = [frame[frame["way"] == way] for way in ways]
    tall = max(_tall(part, side) for part in parts)
    paper = ink.sheet(width, (tall + 12) * (len(ways) if narrow else 1) + 2)
    for i, (way, part) in enumerate(zip(ways, parts, strict=True)):
        x = 2.0 if narrow else 2.0 + i * width / 2
        y = paper.height - 9 - side - (i * (tall + 12) if narrow else 0)
        word = labels.single if way == "single" else labels.multi
        count = queens_text(int(part["queens"].sum()), labels)
        paper.write(
            x, y + side + 4, f"{word} ({count})", weight="bold", color=palette.WAY_WORD[way]
        )
        axes = paper.panel(x, y, side, side)
        _grid(axes, part)
        _say(paper, part, x + side + 2, y, side, labels)
    return paper.figure


def _tall(part: pd.DataFrame, side: float) -> float:
    """Millimetres down to the last row of squares, or to the last of the words beside them."""
    across = grid_side(int(part["squares"].sum()))
    rows = math.ceil(int(part["squares"].sum()) / across)
    words = int((part["squares"] > 0).sum())
    return float(max(side * rows / across, GAP * words + 2.0))


def grid_side(squares: int) -> int:
    """Squares in a row: ten, or more where they would not fit."""
    return max(10, math.ceil(math.sqrt(squares)))


def _grid(axes: Axes, part: pd.DataFrame) -> None:
    across = grid_side(int(part["squares"].sum()))
    axes.set_axis_off()
    axes.set_xlim(0, across)
    axes.set_ylim(across, 0)
    fates = [fate for fate, n in zip(part["fate"], part["squares"], strict=True) for _ in range(n)]
    spots: dict[str, list[tuple[float, float]]] = {}
    for i, fate in enumerate(fates):
        row, column = divmod(i, across)
        spots.setdefault(fate, []).append((column + 0.08, row + 0.08))
    for fate, places in spots.items():
        boxes = [Rectangle(place, 0.84, 0.84) for place in places]
        axes.add_collection(PatchCollection(boxes, facecolor=COLOUR[fate], edgecolor="none", lw=0))
        strokes = []  # a second sign beside the colour
        if fate in ("after", "before"):
            strokes += [[(x + 0.22, y + 0.22), (x + 0.62, y + 0.62)] for x, y in places]
        if fate == "before":
            strokes += [[(x + 0.22, y + 0.62), (x + 0.62, y + 0.22)] for x, y in places]
        axes.add_collection(LineCollection(strokes, colors=palette.PAPER, linewidths=0.7))


def _say(paper: ink.Sheet, part: pd.DataFrame, x: float, y: float, side: float,
         labels: Labels) -> None:  # fmt: skip
    shown = part[part["squares"] > 0]
    whole = grid_side(int(shown["squares"].sum())) ** 2
    edge = shown["squares"].cumsum().to_numpy(float) / whole
    start = np.concatenate([[0.0], edge[:-1]])
    wanted = [side * (1 - (a + b) / 2) for a, b in zip(start, edge, strict=True)]
    room = (paper.width if paper.narrow else paper.width / 2) - side - 6
    places = ink.spread(wanted, GAP, 1.5, side - 1.5)
    for row, want, place in zip(each(shown), wanted, places, strict=True):
        _leader(paper, x - 1.6, y + want, x, y + place)
        text = f"{row.squares}  {labels.fates[str(row.fate)]}"
        size = paper.size_for(text, room, paper.size - (0.4 if paper.narrow else 1.0))
        paper.write(x + 0.8, y + place, text, fontsize=size)


def _leader(paper: ink.Sheet, x0: float, y0: float, x1: float, y1: float) -> None:
    line = Line2D(
        [x0 / paper.width, x1 / paper.width], [y0 / paper.height, y1 / paper.height],
        color=palette.QUIET, lw=0.5, transform=paper.figure.transFigure,
    )  # fmt: skip
    paper.figure.add_artist(line)
