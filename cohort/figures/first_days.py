"""Days on which the first worker was seen, founding by founding.

In comes a `Material`; out comes one row per founding that had workers, and the picture. Made from
counts alone, so it can be shown when a comparison has not settled. Never dates a worker between
two looks: the day is the look that showed it.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from cohort.figures import ink, palette, rows
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, kinds_in_order
from cohort.figures.names import kind_text
from cohort.nonparametric.followed import compared

COLUMNS = ["genus", "named", "way", "day", "middle"]


def first_days_frame(material: Material) -> pd.DataFrame:
    """Day of the first worker of each compared founding that had one.

    Returns
    -------
    pandas.DataFrame
        Columns genus, named, way, day (of the look that showed it), middle (median day of that
        kind and way).
    """
    inside = compared(material.history.foundings)
    seen = inside[np.isfinite(inside["first_by"].astype(float))]
    if seen.empty:
        raise NotDrawn("no founding had workers")
    place = {kind.genus: i for i, kind in enumerate(kinds_in_order(inside))}
    frame = pd.DataFrame(
        {
            "genus": seen["genus"],
            "named": seen["named"].astype(bool),
            "way": seen["arm"],
            "day": seen["first_by"].astype(float),
        }
    )
    frame["middle"] = frame.groupby(["genus", "way"])["day"].transform("median")
    frame["place"] = frame["genus"].map(place)
    return frame.sort_values(["place", "way", "day"], kind="stable")[COLUMNS].reset_index(drop=True)


def draw_first_days(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `first_days_frame`, width in millimetres."""
    order = list(dict.fromkeys(str(g) for g in frame["genus"]))
    step = 8.0 if len(order) < 12 else 6.2
    body = step * len(order)
    paper = ink.sheet(width, body + 21)
    names = {g: kind_text(g, bool(frame.loc[frame["genus"] == g, "named"].iloc[0]), labels)
             for g in order}  # fmt: skip
    left = 4 + max(
        paper.measure(part, style="italic" if it else "normal")
        for text, it in names.values()
        for part in rows.wrap(text, paper.narrow).split("\n")
    )
    axes = paper.panel(left, 11, width - left - 4, body)
    axes.set_ylim(len(order) - 0.5, -0.5)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    first, last = float(frame["day"].min()), float(frame["day"].max())
    start = max(0.0, 10 * ((first - 6) // 10))
    axes.set_xlim(start, last + max((last - start) * 0.05, 2))
    axes.set_xticks([day for day in ink.day_ticks(last + 1) if day >= start])
    axes.set_xlabel(labels.first_day_axis, fontsize=paper.size - 0.5)
    ways = set(frame["way"])
    rows.heads(
        axes, paper,
        f"● {labels.single}" if "single" in ways else "",
        f"◆ {labels.multi}" if "multi" in ways else "",
    )  # fmt: skip
    for i, genus in enumerate(order):
        axes.axhline(i - 0.5, color=palette.RULE, lw=0.4, zorder=0)
        text, italic = names[genus]
        axes.annotate(rows.wrap(text, paper.narrow), (0, i), xycoords=("axes fraction", "data"),
                      xytext=(-5, 0), textcoords="offset points", ha="right", va="center",
                      fontsize=paper.size, linespacing=0.95,
                      style="italic" if italic else "normal")  # fmt: skip
        for way, shift in (("single", -0.2), ("multi", 0.2)):
            mine = frame[(frame["genus"] == genus) & (frame["way"] == way)]
            if mine.empty:
                continue
            at = i + shift
            axes.plot(mine["day"], [at] * len(mine), "o" if way == "single" else "D", ms=3.2,
                      ls="none", color=palette.WAY[way], alpha=0.55, mew=0)  # fmt: skip
            middle = float(mine["middle"].iloc[0])
            axes.plot([middle, middle], [at - 0.17, at + 0.17], color=palette.INK, lw=1.4)
    return paper.figure
