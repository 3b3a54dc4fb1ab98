"""Queens left after the first worker, in foundings by several queens.

In comes a `Material`; out come, per kind and day since the first worker, the shares of groups with
none, one and several queens left, and their picture. Never speaks of foundings without workers.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from cohort.figures import ink, palette
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, kinds_in_order
from cohort.figures.names import kind_text

Floats = NDArray[np.float64]
MOST_KINDS = 5
FEWEST = 4
"""Groups that must be followed to a day before "of 100" is said of it."""
LEFT = ("0", "1", "several")
LATEST = 90


def queens_left_frame(material: Material) -> pd.DataFrame:
    """Shares of groups with 0, 1 and several queens left, by day since the first worker.

    Returns
    -------
    pandas.DataFrame
        Columns genus (`all` last), named, day, none, one, several (shares of 1, summing to 1),
        at_risk (groups followed at day 0 after the first worker). No day is in it to which fewer
        than `FEWEST` groups were followed.
    """
    curves = material.results.curves
    mine = curves[curves["curve"].str.startswith("queens_left_") & (curves["day"] <= LATEST)]
    mine = mine[mine["at_risk"] >= FEWEST]
    named = {kind.genus: kind.named for kind in kinds_in_order(material.history.foundings)}
    parts = []
    for genus in (*named, "all"):
        wide = mine[mine["genus"] == genus].pivot_table(
            index="day", columns="curve", values="estimate"
        )
        if wide.shape[1] < len(LEFT):
            continue
        start = mine[(mine["genus"] == genus)].sort_values("day")["at_risk"].iloc[0]
        parts.append(
            pd.DataFrame(
                {
                    "genus": genus,
                    "named": named.get(genus, False),
                    "day": wide.index.to_numpy(float),
                    "none": wide["queens_left_0"].to_numpy(float),
                    "one": wide["queens_left_1"].to_numpy(float),
                    "several": wide["queens_left_several"].to_numpy(float),
                    "at_risk": int(start),
                }
            )
        )
    if not parts:
        raise NotDrawn("fewer than four groups of queens were followed after their first worker")
    single = [p for p in parts if p["genus"].iloc[0] != "all"][:MOST_KINDS]
    pooled = [p for p in parts if p["genus"].iloc[0] == "all"]
    return pd.concat(single + (pooled if len(single) != 1 or len(named) > 1 else []))


def draw_queens_left(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `queens_left_frame`, width in millimetres."""
    order = list(dict.fromkeys(frame["genus"]))
    columns = min(2 if width < 120 or len(order) == 4 else 3, len(order))
    lines = -(-len(order) // columns)
    step, foot = (37.0 if width < 120 else 43.0), 13.0
    paper = ink.sheet(width, 4 + step * lines + foot)
    paper.write(1, paper.height - 3, labels.of_groups, color=palette.QUIET)
    across = (width - 8.0) / columns
    until = float(frame["day"].max())
    said: set[str] = set()
    for i, genus in enumerate(order):
        line, column = divmod(i, columns)
        axes = paper.panel(
            8 + across * column, foot + step * (lines - 1 - line), across - 4, step - 6.5
        )
        said |= _panel(axes, frame[frame["genus"] == genus], paper, labels, until)
        axes.tick_params(labelleft=column == 0, labelbottom=i + columns >= len(order))
    paper.write((width + 8) / 2, 5.5, labels.days_after_workers, ha="center", color=palette.QUIET)
    _unsaid(paper, frame, labels, said)
    return paper.figure


def _unsaid(paper: ink.Sheet, frame: pd.DataFrame, labels: Labels, said: set[str]) -> None:
    """Name at the foot what is drawn but too thin anywhere to be named in place."""
    at = 1.0
    for column, word, colour in (
        ("none", labels.none_left, palette.NONE_LEFT),
        ("one", labels.one_left, palette.ONE_LEFT),
        ("several", labels.several_left, palette.SEVERAL_LEFT),
    ):
        if word not in said and frame[column].max() > 0:
            paper.write(at, 1.6, "■", color=colour, fontsize=paper.size)
            paper.write(at + 3.2, 1.6, word, fontsize=paper.size - 0.7)
            at += paper.measure(word) + 7


def _panel(
    axes: Axes, part: pd.DataFrame, paper: ink.Sheet, labels: Labels, until: float
) -> set[str]:
    """Draw one kind; returns the words written in their bands."""
    name, italic = kind_text(str(part["genus"].iloc[0]), bool(part["named"].iloc[0]), labels)
    axes.set_title(
        name, fontsize=paper.size, loc="left", pad=3, style="italic" if italic else "normal"
    )
    count = int(part["at_risk"].iloc[0])
    told = labels.groups.format(n=count)
    room = axes.get_position().width * paper.width
    if paper.measure(name) + paper.measure(told) + 2 > room:
        told = str(count)
    axes.set_title(told, fontsize=paper.size - 0.5, loc="right", pad=3,
                   color=palette.QUIET)  # fmt: skip
    day = part["day"].to_numpy(float)
    none = part["none"].to_numpy(float) * 100
    one = none + part["one"].to_numpy(float) * 100
    full = one + part["several"].to_numpy(float) * 100
    bands = (
        (0 * none, none, palette.NONE_LEFT, labels.none_left, palette.PAPER),
        (none, one, palette.ONE_LEFT, labels.one_left, palette.INK),
        (one, full, palette.SEVERAL_LEFT, labels.several_left, palette.INK),
    )
    said = set()
    axes.set_xlim(0, until)
    axes.set_ylim(0, 100)
    axes.set_yticks([0, 50, 100])
    axes.set_xticks(ink.day_ticks(until))
    for low, high, colour, word, on in bands:
        axes.fill_between(day, low, high, step="post", color=colour, lw=0)
        axes.step(day, high, where="post", color=palette.PAPER, lw=0.6)
        if _word_in_band(axes, day, low, high, word, on, paper):
            said.add(word)
    return said


def _word_in_band(
    axes: Axes, day: Floats, low: Floats, high: Floats, word: str, colour: str, paper: ink.Sheet
) -> bool:
    """Write the word where its band is thickest over the width of the word, if it fits."""
    figure = paper.figure
    probe = axes.text(
        0, 50, word, fontsize=paper.size - 0.5, ha="center", va="center", color=colour
    )
    box = probe.get_window_extent(ink.renderer(figure))
    probe.remove()
    place = axes.get_window_extent()
    half = box.width / place.width * (axes.get_xlim()[1] - axes.get_xlim()[0]) / 2 * 1.05
    tall = box.height / place.height * 100
    best, at = 0.0, None
    for middle in day[(day >= half) & (day <= day[-1] - half)]:
        over = (day >= middle - half - 3) & (day <= middle + half)
        floor, roof = low[over].max(), high[over].min()
        if roof - floor > best:
            best, at = roof - floor, (middle, (roof + floor) / 2)
    if at is None or best <= tall * 0.95:
        return False
    axes.text(*at, word, fontsize=paper.size - 0.5, ha="center", va="center", color=colour)
    return True
