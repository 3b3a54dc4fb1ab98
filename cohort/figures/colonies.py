"""Colonies per founding, and per queen used.

In comes a `Material`; out comes, per kind and way, colonies per container and per queen,
and the picture. Never shows the first without the second: containers are cheap, queens are not.
"""

from __future__ import annotations

import pandas as pd
from matplotlib.figure import Figure

from cohort.figures.forest import Asked, Panel, draw_forest, forest_frame
from cohort.figures.labels import Labels
from cohort.figures.material import Material
from cohort.terms.questions import NEW

ASKED = tuple(
    Asked(panel, way, quantity, queens)
    for panel, quantity in (
        ("container", "chance_per_founding"),
        ("queen", "colonies_per_queen"),
    )
    for way, queens in (("single", 1), ("multi", 0))
)


def colonies_frame(material: Material) -> pd.DataFrame:
    """Colonies as seen per one container and per one queen: see `forest_frame`."""
    return forest_frame(material, ASKED, without=NEW)


def draw_colonies(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `colonies_frame`, width in millimetres."""
    heads = "● " + labels.single, "◆ " + labels.multi
    panels = (
        Panel("container", labels.per_100_containers, heads),
        Panel("queen", labels.per_100_queens, heads),
    )
    return draw_forest(frame, width, labels, panels, behind="queen")
