"""Days on which the first worker was seen, founding by founding.

In comes a `Material`; out comes one row per compared founding, and the picture: one mark for each
founding that had workers, those of near days on each other, with a line back to the last look
without, and how many had none.
Made from counts alone, so it can be shown when a comparison has not settled. Never dates a worker
between two looks: the mark is the look that showed it, the line says since when it may have been
there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure

from cohort.figures import ink, key, palette, rows
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, kinds_in_order
from cohort.figures.names import kind_text
from cohort.nonparametric.followed import compared

COLUMNS = ["genus", "named", "way", "after", "day", "middle", "with_workers", "foundings"]
SIZE = {"single": 3.4, "multi": 3.0}
"""Points a mark is wide."""
ROOM = max(SIZE.values()) * 1.15 / rows.POINTS
"""Millimetres from one mark to the next on it."""
UNDER = 1.9
"""Millimetres under the marks of a way, where the sign of the median stands."""
LEAST = 4.0
"""Millimetres a way takes at least: its count is written beside it."""
BETWEEN = 1.4
"""Millimetres between two kinds."""


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


def levels(days: np.ndarray, near: float) -> np.ndarray:
    """Place of each mark in its stack, from 0: none on a level is nearer than `near` days."""
    out = np.zeros(len(days), int)
    last: list[float] = []
    for i in np.argsort(days, kind="stable"):
        level = next((n for n, day in enumerate(last) if days[i] - day >= near), len(last))
        last[level : level + 1] = [float(days[i])]
        out[i] = level
    return out


@dataclass(frozen=True)
class _Strip:
    """Foundings of one kind and way, and where they stand, millimetres from the top."""

    part: pd.DataFrame
    level: np.ndarray
    base: float
    top: float


def draw_first_days(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `first_days_frame`, width in millimetres."""
    ways = [way for way in ("single", "multi") if way in set(frame["way"])]
    start, end = _ends(frame)
    probe = ink.sheet(width, 10)
    order = [str(genus) for genus in dict.fromkeys(frame["genus"])]
    names = {
        str(genus): kind_text(str(genus), bool(part["named"].iloc[0]), labels)
        for genus, part in frame.groupby("genus", sort=False)
    }
    left = 3.5 + max(
        probe.measure(line, style="italic" if italic else "normal")
        for text, italic in names.values()
        for line in rows.wrap(text, probe.narrow).split("\n")
    )
    right = probe.measure("99/99", fontsize=probe.small) + 2.5
    across = width - left - right - 1
    strips, edges = _strips(frame, order, ways, (end - start) / across)
    body = edges[-1]
    under = key.laid_out(width, _key(ways, labels))
    foot = under.height + 10.0
    paper = ink.sheet(width, body + foot + 1.5)
    axes = paper.panel(left, foot, across, body)
    axes.set(xlim=(start, end), ylim=(body, 0), yticks=[])
    axes.spines["left"].set_visible(False)
    axes.set_xticks([day for day in ink.day_ticks(end) if day >= start])
    paper.write(width / 2, foot - 6.5, labels.first_day_axis, ha="center", fontsize=paper.small,
                color=palette.QUIET)  # fmt: skip
    for genus, top, bottom in zip(order, edges, edges[1:], strict=False):
        text, italic = names[genus]
        axes.axhline(bottom, color=palette.RULE, lw=0.4, zorder=0)
        paper.write(
            left - 1.5, foot + body - (top + bottom) / 2, rows.wrap(text, paper.narrow),
            ha="right", style="italic" if italic else "normal", linespacing=0.95,
        )  # fmt: skip
    for strip in strips:
        _marks(axes, strip, start)
        way = str(strip.part["way"].iloc[0])
        count = "{with_workers}/{foundings}".format(**strip.part.iloc[0])
        paper.write(left + across + 1.5, foot + body - (strip.base + strip.top) / 2, count,
                    fontsize=paper.small, color=palette.WAY_WORD[way])  # fmt: skip
    under.draw(paper, 1.0)
    return paper.figure


def _ends(frame: pd.DataFrame) -> tuple[float, float]:
    """First and last day of the axis."""
    seen = frame[frame["day"].notna()]
    first, last = float(seen["after"].min()), float(seen["day"].max())
    start = max(0.0, 10 * (max(first, float(seen["day"].min()) - 14) // 10))
    return start, last + max((last - start) * 0.05, 2)


def _strips(
    frame: pd.DataFrame, order: list[str], ways: list[str], per_mm: float
) -> tuple[list[_Strip], list[float]]:
    """Where each way of each kind stands, and the edges between kinds."""
    out, edges, at = [], [0.0], 0.0
    for genus in order:
        at += BETWEEN / 2
        for way in ways:
            part = frame[(frame["genus"] == genus) & (frame["way"] == way)]
            if part.empty:
                continue
            seen = part[part["day"].notna()]
            level = levels(seen["day"].to_numpy(float), ROOM * per_mm)
            high = max(LEAST, ROOM * (level.max(initial=0) + 1) + UNDER)
            out.append(_Strip(part, level, at + high - UNDER, at))
            at += high
        at += BETWEEN / 2
        edges.append(at)
    return out, edges


def _marks(axes: Axes, strip: _Strip, left: float) -> None:
    """A mark for each founding, a line to the look before, and the median under them."""
    way = str(strip.part["way"].iloc[0])
    seen = strip.part[strip.part["day"].notna()]
    if seen.empty:
        return
    y = strip.base - (strip.level + 0.5) * ROOM
    lines = [
        [(max(after, left), at), (day, at)]
        for after, day, at in zip(seen["after"], seen["day"], y, strict=True)
    ]
    axes.add_collection(
        LineCollection(lines, colors=palette.WAY_SOFT[way], linewidths=1.0, zorder=2),
        autolim=False,
    )
    starts = [line[0] for line in lines if line[0][0] > left]
    if starts:
        axes.plot(*zip(*starts, strict=True), marker="|", ms=2.6, ls="none", zorder=2,
                  color=palette.WAY_SOFT[way], mew=0.9)  # fmt: skip
    axes.plot(seen["day"], y, palette.MARK[way], ls="none", ms=SIZE[way], mew=0, zorder=3,
              color=palette.WAY[way])  # fmt: skip
    axes.plot(float(seen["middle"].iloc[0]), strip.base + 0.8, "^", ms=3.6, mew=0, zorder=3,
              color=palette.INK)  # fmt: skip


def _key(ways: list[str], labels: Labels) -> list[key.Entry]:
    words = {"single": labels.single, "multi": labels.multi}
    out = [
        key.Entry(key.mark(palette.MARK[way], palette.WAY[way]), words[way], wide=2.5,
                  colour=palette.WAY_WORD[way])
        for way in ways
    ]  # fmt: skip
    line = key.both(key.stroke(palette.WAY_SOFT[ways[0]], lw=1.0), _end(palette.WAY_SOFT[ways[0]]))
    return [
        *out,
        key.Entry(line, labels.last_look),
        key.Entry(key.mark("^", palette.INK, size=3.6, edge=0), labels.median, wide=2.5),
        key.Entry(None, "6/8: " + labels.with_of.format(n=6, all=8)),
    ]


def _end(colour: str) -> key.Sign:
    def draw(axes: Axes, x: float, y: float) -> None:
        axes.plot(x - 2.25, y, "|", ms=2.6, mew=0.9, color=colour)

    return draw
