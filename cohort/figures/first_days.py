"""Days on which the first worker was seen, founding by founding.

In comes a `Material`; out comes one row per compared founding, and the picture: one mark for each
founding that had workers, none hidden by another, with a line back to the last look without, and
how many had none.
Made from counts alone, so it can be shown when a comparison has not settled. Never dates a worker
between two looks: the mark is the look that showed it, the line says since when it may have been
there.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PathCollection
from matplotlib.figure import Figure

from cohort.figures import ink, palette, rows
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, kinds_in_order
from cohort.nonparametric.followed import compared

COLUMNS = ["genus", "named", "way", "after", "day", "middle", "with_workers", "foundings"]
MARK = {"single": "o", "multi": "D"}
SIZE = {"single": 3.1, "multi": 2.7}
"""Points a mark is wide."""
MARK_ROOM = max(SIZE.values()) * 1.05 / rows.POINTS
"""Millimetres between two marks that touch, as the swarm lays them."""
ROOM, LEAST_ROOM = 3.4, 2.5
"""Millimetres that a row of marks takes at least; where there are many kinds."""


def first_days_frame(material: Material) -> pd.DataFrame:
    """Day of the first worker of each compared founding, those without one too.

    Returns
    -------
    pandas.DataFrame
        Columns genus, named, way, after (last look without a worker, days), day (of the look that
        showed it; nan: none was seen), middle (median day of those of that kind and way that had
        workers; nan: none had), with_workers and foundings (of that kind and way).
    """
    inside = compared(material.history.foundings)
    day = inside["first_by"].astype(float)
    if not np.isfinite(day).any():
        raise NotDrawn("no founding had workers")
    place = {kind.genus: i for i, kind in enumerate(kinds_in_order(inside))}
    frame = pd.DataFrame(
        {
            "genus": inside["genus"],
            "named": inside["named"].astype(bool),
            "way": inside["arm"],
            "after": inside["first_after"].astype(float),
            "day": day.where(np.isfinite(day)),
            "place": inside["genus"].map(place),
        }
    )
    groups = frame.groupby(["genus", "way"])["day"]
    frame["middle"] = groups.transform("median")
    frame["with_workers"] = groups.transform("count").astype(int)
    frame["foundings"] = groups.transform("size").astype(int)
    return frame.sort_values(["place", "way", "day"], kind="stable")[COLUMNS].reset_index(drop=True)


def draw_first_days(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `first_days_frame`, width in millimetres."""
    ways = [way for way in ("single", "multi") if way in set(frame["way"])]
    seen = frame[frame["day"].notna()]
    first, last = float(seen["after"].min()), float(seen["day"].max())
    earliest = float(seen["day"].min())
    start = max(0.0, 10 * (max(first, earliest - 14) // 10))
    end = last + max((last - start) * 0.05, 2)
    right = 10.0
    probe = rows.one_panel(frame, width, labels, step=8.0, sides=(0.0, right), foot=9.0)
    wide = probe.panels[0].get_position().width * probe.paper.width
    least = ROOM if len(probe.order) < 12 else LEAST_ROOM
    half = max(least, _tallest(seen, (end - start) / wide) * MARK_ROOM)
    grid = rows.one_panel(
        frame, width, labels, step=half * len(ways) + 1.2, sides=(0.0, right), foot=9.0
    )
    axes, paper = grid.panels[0], grid.paper
    axes.set_xlim(start, end)
    axes.set_xticks([day for day in ink.day_ticks(last + 1) if day >= start])
    axes.set_xlabel(labels.first_day_axis, fontsize=paper.size - 0.5)
    rows.heads(
        axes, paper,
        f"● {labels.single}" if "single" in ways else "",
        f"◆ {labels.multi}" if "multi" in ways else "",
    )  # fmt: skip
    share = half / (half * len(ways) + 1.2)
    spots = {
        (genus, way): i + share * (j - (len(ways) - 1) / 2)
        for i, genus in enumerate(grid.order)
        for j, way in enumerate(ways)
    }
    _swarms(paper, axes, seen, spots)
    for (genus, way), part in frame.groupby(["genus", "way"], sort=False):
        at = spots[str(genus), str(way)]
        middle = float(part["middle"].iloc[0])
        if np.isfinite(middle):
            ends = [at - share * 0.46, at + share * 0.46]
            axes.plot([middle] * 2, ends, color=palette.INK, lw=1.4)
        axes.annotate(
            f"{int(part['with_workers'].iloc[0])}/{int(part['foundings'].iloc[0])}", (1, at),
            xycoords=("axes fraction", "data"), xytext=(4, 0), textcoords="offset points",
            ha="left", va="center", fontsize=paper.size - 1, color=palette.WAY_WORD[str(way)],
        )  # fmt: skip
    return paper.figure


def _tallest(frame: pd.DataFrame, days_per_mm: float) -> int:
    """Most marks that would lie on one another if none were moved."""
    near = MARK_ROOM * days_per_mm
    most = 1
    for _, part in frame.groupby(["genus", "way"]):
        days = np.sort(part["day"].to_numpy(float))
        inside = np.searchsorted(days, days + near, side="left") - np.arange(len(days))
        most = max(most, int(inside.max()))
    return most


def _swarms(
    paper: ink.Sheet, axes: Axes, frame: pd.DataFrame, at: dict[tuple[str, str], float]
) -> None:
    """A mark for each founding, moved aside where others lie, and a line to the look before."""
    import seaborn as sns

    limits = axes.get_ylim()
    drawn: list[tuple[str, pd.DataFrame, PathCollection]] = []
    for way, mine in frame.groupby("way", sort=False):
        heights = [at[str(genus), str(way)] for genus in mine["genus"]]
        before = len(axes.collections)
        sns.swarmplot(
            x=mine["day"].to_numpy(float), y=heights, orient="h", native_scale=True,
            marker=MARK[str(way)], size=SIZE[str(way)], linewidth=0, color=palette.WAY[str(way)],
            legend=False, warn_thresh=1.0, zorder=3, ax=axes,
        )  # fmt: skip
        parts = [part for _, part in mine.groupby(np.asarray(heights), sort=True)]
        new = [c for c in axes.collections[before:] if isinstance(c, PathCollection)]
        drawn += [(str(way), part, marks) for part, marks in zip(parts, new, strict=True)]
    axes.set(ylabel="", ylim=limits, yticks=[])
    paper.figure.draw_without_rendering()  # the marks are moved aside when they are drawn
    left = axes.get_xlim()[0]
    for way, part, marks in drawn:
        lines = [
            [(max(after, left), y), (day, y)]
            for after, (day, y) in zip(part["after"], np.asarray(marks.get_offsets()), strict=True)
        ]
        axes.add_collection(
            LineCollection(lines, colors=palette.WAY_SOFT[way], linewidths=0.9, zorder=2),
            autolim=False,
        )
        starts = [line[0] for line in lines if line[0][0] > left]
        if starts:
            axes.plot(*zip(*starts, strict=True), marker="|", ms=2.6, ls="none", zorder=2,
                      color=palette.WAY_SOFT[way], mew=0.9)  # fmt: skip
