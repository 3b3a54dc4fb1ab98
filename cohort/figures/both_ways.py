"""The same queens, both ways: kept together, or each alone.

In comes a `Material`; out comes, per kind, the chance of at least one colony and the
number of colonies for equal queens, and the picture. Never shows one way without the other.
"""

from __future__ import annotations

import pandas as pd
from matplotlib.figure import Figure

from cohort.figures.forest import Asked, Panel, draw_forest, forest_frame
from cohort.figures.labels import Labels
from cohort.figures.material import Material

ASKED = (
    Asked("any", "single", "at_least_one_from_same_queens", whole=True),
    Asked("any", "multi", "chance_per_founding", whole=True),
    Asked("count", "single", "colonies_from_same_queens", whole=True),
    # a group makes one colony or none, so its count is its chance
    Asked("count", "multi", "chance_per_founding", whole=True),
)


def both_ways_frame(material: Material) -> pd.DataFrame:
    """Equal queens, both ways: see `forest_frame`.

    Panel `any`: share of tries with at least one colony as seen; `count`: colonies on average.
    """
    return forest_frame(material, ASKED)


def draw_both_ways(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `both_ways_frame`, width in millimetres."""
    size = int(frame["queens"].iloc[0])
    heads = "● " + labels.kept_singly, "◆ " + labels.kept_together
    count = Panel(
        "count", labels.colonies_each, heads, (-0.02 * size, 1.02 * size), range(size + 1),
        scale=1.0, marked=True,
    )  # fmt: skip
    panels = Panel("any", labels.any_colony, heads), count
    return draw_forest(frame, width, labels, panels, behind="any")
