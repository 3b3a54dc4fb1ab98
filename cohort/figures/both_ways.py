"""The same queens, both ways: kept together, or each alone.

In comes a `Material`; out comes, per kind, the chance of at least one colony and the
number of colonies for equal queens, and the picture. Never shows one way without the other.
"""

from __future__ import annotations

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

COLUMNS = [
    "genus", "named", "measure", "way", "queens", "day", "estimate", "low", "high", "foundings",
]  # fmt: skip


def both_ways_frame(material: Material) -> pd.DataFrame:
    """Equal queens, both ways, kind by kind, each on the last day to which it was followed.

    Returns
    -------
    pandas.DataFrame
        Columns genus, named, measure (`any`: share of tries with at least one colony as seen;
        `count`: colonies on average), way (single, multi), queens, day, estimate, low,
        high, foundings.
    """
    if not material.settled:
        raise NotDrawn("the comparison has not settled")
    days = days_to_speak_of(material, "chance_per_founding")
    size = material.size
    if not days or not size:
        raise NotDrawn("fewer than eight foundings of each way were followed")
    out: list[dict[str, object]] = []
    for genus, named in rows_to_show(material):
        found = [
            (measure, way, row_to_show(material, quantity, genus, way, size))
            for measure, way, quantity in (
                ("any", "multi", "chance_per_founding"),
                ("any", "single", "at_least_one_from_same_queens"),
                # a group makes one colony or none, so its count is its chance
                ("count", "multi", "chance_per_founding"),
                ("count", "single", "colonies_from_same_queens"),
            )
        ]
        if any(hit is None for _, _, hit in found):
            continue
        for measure, way, hit in found:
            if hit is not None:
                out.append(
                    dict(genus=genus, named=named, measure=measure, way=way, queens=size,
                         day=int(hit["day"]), estimate=float(hit["mean"]), low=float(hit["low"]),
                         high=float(hit["high"]), foundings=int(hit["foundings"]))
                )  # fmt: skip
    if not out:
        raise NotDrawn("no numbers for equal queens in the results")
    return pd.DataFrame(out, columns=COLUMNS)


def draw_both_ways(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `both_ways_frame`, width in millimetres."""
    size = int(frame["queens"].iloc[0])
    grid = rows.two_panels(frame, width, labels, (labels.any_colony, labels.colonies_each))
    for axes, measure in zip(grid.panels, ("any", "count"), strict=True):
        part = frame[frame["measure"] == measure]
        scale = 100.0 if measure == "any" else 1.0
        _limits(axes, measure, size)
        rows.heads(
            axes, grid.paper,
            "● " + labels.kept_singly, "◆ " + labels.kept_together,
        )  # fmt: skip
        for way, shift in (("single", -0.2), ("multi", 0.2)):
            for row in each(part[part["way"] == way]):
                at = grid.order.index(str(row.genus)) + shift
                rows.bar(axes, way, at, (row.low, row.estimate, row.high), scale)
    behind = {
        genus: "+".join(
            str(n)
            for n in frame.loc[
                (frame["genus"] == genus) & (frame["measure"] == "any"), "foundings"
            ].iloc[::-1]
        )
        for genus in grid.order
    }
    rows.counts(grid, behind)
    return grid.paper.figure


def _limits(axes: Axes, measure: str, size: int) -> None:
    if measure == "any":
        axes.set_xlim(-2, 102)
        axes.set_xticks([0, 25, 50, 75, 100])
    else:
        axes.set_xlim(-0.02 * size, 1.02 * size)
        axes.set_xticks(list(range(size + 1)))
    axes.grid(axis="x", color=palette.RULE, lw=0.4)
    axes.tick_params(axis="x", length=0 if measure == "any" else 2)
