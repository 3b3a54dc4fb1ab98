"""What became of the queens: one square for each.

In comes a `Material`; out comes, per way of founding, how many queens met which fate, as counted
and as whole queens of a hundred, and the picture. Never uses the model, never draws a queen that
was not there.
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

from cohort.figures import ink, key, palette
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, each
from cohort.figures.names import fate_text, queens_text
from cohort.nonparametric.followed import compared

FATES = ("colony", "waiting", "away", "after", "before")
COLUMNS = ["way", "fate", "queens", "of_100"]
FEWEST = 20
"""Queens of each way from which they are also told as so many of a hundred."""
COLOUR = {
    "colony": palette.COLONY,
    "waiting": palette.WAITING,
    "away": palette.LEFT_OUT,
    "after": palette.LOST_LATE,
    "before": palette.LOST_EARLY,
}
STROKE = {"after": palette.INK, "before": palette.PAPER}
"""Colour of the strokes that are a second sign of a loss."""
STAYED = ("followed", "horizon", "winter", "all lost")


GAP = 3.6
"""Millimetres from one line of words to the next."""
SIDE = 30.0
"""Millimetres a row of squares is wide."""


def hundred_frame(material: Material) -> pd.DataFrame:
    """Fate of the queens of compared foundings.

    Returns
    -------
    pandas.DataFrame
        Columns way, fate (colony, waiting, away, after, before), queens (counted), of_100 (whole
        numbers that add up to 100 for each way; 0 throughout where a way has fewer than `FEWEST`
        queens, of which nothing of a hundred is said).
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
    frame = pd.DataFrame(rows, columns=COLUMNS)
    return frame.assign(of_100=0) if few(frame) else frame


def few(frame: pd.DataFrame) -> bool:
    """True when a way has so few queens that nothing of a hundred is said."""
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
    parts = [frame[frame["way"] == way] for way in ways]
    probe = ink.sheet(width, 10)
    column = width if narrow else width / 2
    shares = "" if few(frame) else labels.of_100
    room = column - SIDE - 7.5 - (8.0 if shares else 0.0)
    said = [_said(probe, part, room, labels) for part in parts]
    tall = [_tall(part, words) for part, words in zip(parts, said, strict=True)]
    head = 9.5
    under = key.laid_out(width, [key.Entry(key.patch(palette.RULE, long=2.4), labels.square)])
    high = sum(tall) + head * len(ways) if narrow else max(tall) + head
    paper = ink.sheet(width, high + under.height + 3)
    top = paper.height
    for i, (way, part, words) in enumerate(zip(ways, parts, said, strict=True)):
        x = 2.0 if narrow or not i else column + 1.0
        word = labels.kept_singly if way == "single" else labels.kept_together
        count = queens_text(int(part["queens"].sum()), labels)
        paper.write(x, top - 3.5, f"{word} ({count})", weight="bold", color=palette.WAY_WORD[way])
        if shares:
            paper.write(x + column - 4.5, top - head + 1.4, shares, ha="right",
                        fontsize=paper.small, color=palette.QUIET)  # fmt: skip
        axes = paper.panel(x, top - head - tall[i], SIDE, tall[i])
        _grid(axes, part, tall[i])
        _say(paper, part, words, (x, top - head, x + column - 4.5), shares != "")
        top -= (tall[i] + head) if narrow else 0.0
    under.draw(paper, 1.0)
    return paper.figure


def _said(paper: ink.Sheet, part: pd.DataFrame, room: float, labels: Labels) -> list[str]:
    """What is written beside the squares of each fate, as broken."""
    shown = part[part["queens"] > 0]
    return [
        paper.wrapped(
            f"{row.queens}  {fate_text(row.queens, str(row.fate), labels)}",
            room,
            fontsize=paper.small,
        )
        for row in each(shown)
    ]


def _heights(words: list[str]) -> list[float]:
    """Millimetres that the words of each fate take."""
    return [GAP * (1 + text.count("\n")) + 0.8 for text in words]


def _tall(part: pd.DataFrame, words: list[str]) -> float:
    """Millimetres down to the last row of squares, or to the last of the words beside them."""
    queens = int(part["queens"].sum())
    across = grid_side(queens)
    return float(max(SIDE * math.ceil(queens / across) / across, sum(_heights(words))))


def grid_side(squares: int) -> int:
    """Squares in a row: ten, or more where they would not fit."""
    return max(10, math.ceil(math.sqrt(squares)))


def _grid(axes: Axes, part: pd.DataFrame, tall: float) -> None:
    across = grid_side(int(part["queens"].sum()))
    axes.set_axis_off()
    axes.set_xlim(0, across)
    axes.set_ylim(across * tall / SIDE, 0)
    fates = [fate for fate, n in zip(part["fate"], part["queens"], strict=True) for _ in range(n)]
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
        if strokes:
            axes.add_collection(LineCollection(strokes, colors=STROKE[fate], linewidths=0.7))


def _say(paper: ink.Sheet, part: pd.DataFrame, words: list[str],
         at: tuple[float, float, float], shares: bool) -> None:  # fmt: skip
    """Words right of the squares, from the top of each fate on, and what they are of 100."""
    left, top, right = at
    shown = part[part["queens"] > 0]
    across = grid_side(int(part["queens"].sum()))
    cell = SIDE / across
    before = shown["queens"].cumsum() - shown["queens"]
    heights = _heights(words)
    low, rest = 0.0, _tall(part, words)  # where the words before end; where the last may end
    for i, (row, start, text) in enumerate(zip(each(shown), before, words, strict=True)):
        middle = (int(start) + int(row.queens) / 2) / across * cell  # of its squares
        place = max(low, min(middle - heights[i] / 2, rest - sum(heights[i:]))) + heights[i] / 2
        low = place + heights[i] / 2
        _leader(paper, left + SIDE + 0.4, top - middle, left + SIDE + 3.0, top - place)
        paper.write(left + SIDE + 3.8, top - place, text, fontsize=paper.small, linespacing=1.15)
        if shares:
            paper.write(right, top - place, str(row.of_100), ha="right", fontsize=paper.small,
                        color=palette.QUIET)  # fmt: skip


def _leader(paper: ink.Sheet, x0: float, y0: float, x1: float, y1: float) -> None:
    line = Line2D(
        [x0 / paper.width, x1 / paper.width], [y0 / paper.height, y1 / paper.height],
        color=palette.QUIET, lw=0.5, transform=paper.figure.transFigure,
    )  # fmt: skip
    paper.figure.add_artist(line)
