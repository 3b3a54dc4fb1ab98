"""Colonies per founding, and per queen used.

In comes a `Material`; out comes, per kind and way, colonies per container and per queen,
and the picture. Never shows the first without the second: containers are cheap, queens are not.
"""

from __future__ import annotations

import pandas as pd
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
from cohort.terms.questions import NEW

COLUMNS = [
    "genus", "named", "measure", "way", "queens", "day", "estimate", "low", "high", "foundings",
]  # fmt: skip
MEASURES = (("container", "chance_per_founding"), ("queen", "colonies_per_queen"))


def colonies_frame(material: Material) -> pd.DataFrame:
    """Colonies as seen per container and per queen, each kind on the last day of its own.

    Returns
    -------
    pandas.DataFrame
        Columns genus, named, measure (container, queen), way, queens, day, estimate, low, high
        (per one container or queen), foundings.
    """
    if not material.settled:
        raise NotDrawn("the comparison has not settled")
    days = days_to_speak_of(material, "colonies_per_queen")
    size = material.size
    if not days or not size:
        raise NotDrawn("fewer than eight foundings of each way were followed")
    out: list[dict[str, object]] = []
    for genus, named in (row for row in rows_to_show(material) if row[0] != NEW):
        for measure, quantity in MEASURES:
            for way, queens in (("single", 1), ("multi", size)):
                hit = row_to_show(material, quantity, genus, way, queens)
                if hit is not None:
                    out.append(
                        dict(genus=genus, named=named, measure=measure, way=way, queens=queens,
                             day=int(hit["day"]), estimate=float(hit["mean"]),
                             low=float(hit["low"]), high=float(hit["high"]),
                             foundings=int(hit["foundings"]))
                    )  # fmt: skip
    if not out:
        raise NotDrawn("no colony numbers in the results")
    return pd.DataFrame(out, columns=COLUMNS)


def draw_colonies(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `colonies_frame`, width in millimetres."""
    grid = rows.two_panels(frame, width, labels, (labels.per_100_containers, labels.per_100_queens))
    for axes, measure in zip(grid.panels, ("container", "queen"), strict=True):
        axes.set_xlim(-2, 102)
        axes.set_xticks([0, 25, 50, 75, 100])
        axes.grid(axis="x", color=palette.RULE, lw=0.4)
        rows.heads(axes, grid.paper, "● " + labels.single, "◆ " + labels.multi)
        for way, shift in (("single", -0.2), ("multi", 0.2)):
            part = frame[(frame["measure"] == measure) & (frame["way"] == way)]
            for row in each(part):
                at = grid.order.index(str(row.genus)) + shift
                rows.bar(axes, way, at, (row.low, row.estimate, row.high))
    first = frame[frame["measure"] == "queen"]
    behind = {
        genus: "+".join(str(n) for n in first.loc[first["genus"] == genus, "foundings"])
        for genus in grid.order
    }
    rows.counts(grid, behind)
    return grid.paper.figure
