"""Kinds side by side: containers with a colony, and the same queens both ways.

In comes a `Material`; out comes one row per kind, way and source (as counted; with what the other
kinds tell), the difference between the ways for equal queens, and the picture. Never ranks kinds
by an estimate: the order is by foundings.
"""

from __future__ import annotations

from typing import Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cohort.figures import palette, rows
from cohort.figures.labels import Labels
from cohort.figures.material import (
    Material,
    NotDrawn,
    days_to_speak_of,
    each,
    row_to_show,
    rows_to_show,
)
from cohort.terms.questions import AVERAGE, NEW

MOST_FOLLOWED = 0.8
"""Share of foundings that must be followed to the day before a plain count is shown."""
COLUMNS = [
    "genus", "named", "panel", "way", "source", "queens", "day", "estimate", "low", "high",
    "foundings",
]  # fmt: skip


def genera_frame(material: Material) -> pd.DataFrame:
    """Colonies per container and the equal-queens difference, each kind on its own last day.

    Returns
    -------
    pandas.DataFrame
        Columns genus, named, panel (`container` or `same_queens`), way, source (counted, model),
        queens, day, estimate, low, high (shares of 1), foundings.
    """
    if not material.settled:
        raise NotDrawn("the comparison has not settled")
    days = days_to_speak_of(material, "chance_per_founding")
    size = material.size
    if not days or not size:
        raise NotDrawn("fewer than eight foundings of each way were followed")
    out: list[dict[str, object]] = []
    for genus, named in rows_to_show(material):
        out += _of_kind(material, genus, named, size)
    if not out:
        raise NotDrawn("no colony numbers in the results")
    return pd.DataFrame(out, columns=COLUMNS)


def _of_kind(material: Material, genus: str, named: bool, size: int) -> list[dict[str, object]]:
    wanted = (
        ("container", "single", "chance_per_founding", "single", 1),
        ("container", "multi", "chance_per_founding", "multi", size),
        ("same_queens", "difference", "same_queens_any", "difference", size),
    )
    found = []
    for panel, way, quantity, arm, queens in wanted:
        hit = row_to_show(material, quantity, genus, arm, queens)
        if hit is not None:
            found.append(
                dict(genus=genus, named=named, panel=panel, way=way, source="model",
                     queens=queens, day=int(hit["day"]), estimate=hit["mean"], low=hit["low"],
                     high=hit["high"], foundings=int(hit["foundings"]))
            )  # fmt: skip
    day = found[0]["day"] if found else 0
    return found + _counted(material.results.raw, genus, named, day)


def _counted(raw: pd.DataFrame, genus: str, named: bool, day: object) -> list[dict[str, object]]:
    if raw.empty or genus in (AVERAGE, NEW):
        return []
    mine = raw[(raw["genus"] == genus) & (raw["day"] == day) & (raw["followed"] > 0)]
    # "followed" holds the lost ones for sure and the living only if their record reaches the day:
    # where many living ones are not in it, the plain share would be too low
    mine = mine[mine["followed"] >= MOST_FOLLOWED * mine["foundings"]]
    return [
        dict(genus=genus, named=named, panel="container", way=row.arm, source="counted",
             queens=0, day=day, estimate=row.share, low=row.low, high=row.high,
             foundings=int(row.followed))
        for row in each(mine)
    ]  # fmt: skip


def draw_genera(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `genera_frame`, width in millimetres."""
    size = int(frame["queens"].max())
    titles = (labels.of_100_containers, labels.same_queens.format(k=size))
    grid = rows.two_panels(frame, width, labels, titles, 12.5)
    left, right = grid.panels
    left.set_xlim(-2, 102)
    left.set_xticks([0, 25, 50, 75, 100])
    left.grid(axis="x", color=palette.RULE, lw=0.4)
    rows.heads(left, grid.paper, "● " + labels.single, "◆ " + labels.multi)
    other = frame[frame["panel"] == "same_queens"]
    reach = float(max(20.0, other[["low", "high"]].abs().max().max() * 105)) if len(other) else 50.0
    right.set_xlim(-reach, reach)
    right.axvline(0, color=palette.QUIET, lw=0.7)
    room = right.get_position().width * grid.paper.width + 10
    small = grid.paper.size - 0.5
    right.set_xlabel(grid.paper.wrapped(labels.difference, room, fontsize=small), fontsize=small)
    rows.heads(right, grid.paper, "← " + labels.singly_better, labels.together_better + " →")
    for row in each(frame):
        _mark(left if row.panel == "container" else right, row, grid.order)
    model = frame[(frame["source"] == "model") & (frame["panel"] == "container")]
    behind = {
        genus: "+".join(str(n) for n in model.loc[model["genus"] == genus, "foundings"])
        for genus in grid.order
    }
    rows.counts(grid, behind)
    return grid.paper.figure


def _mark(axes: Axes, row: Any, order: list[str]) -> None:
    at = order.index(str(row.genus)) + {"single": -0.18, "multi": 0.24}.get(row.way, 0.0)
    if row.source == "counted":
        rows.hollow(axes, row.way, at - 0.17, row.estimate)
    else:
        rows.bar(axes, row.way, at, (row.low, row.estimate, row.high))
