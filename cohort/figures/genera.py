"""Kinds side by side: containers with a colony, and the same queens both ways.

In comes a `Material`; out comes one row per kind, way and source (as counted; with what the other
kinds tell), the difference between the ways for equal queens, and the picture.
"""

from __future__ import annotations

import pandas as pd
from matplotlib.figure import Figure

from cohort.figures.forest import COLUMNS, Asked, Panel, draw_forest, forest_frame
from cohort.figures.labels import Labels
from cohort.figures.material import Material, each

MOST_FOLLOWED = 0.8
"""Share of foundings that must be followed to the day before a plain count is shown."""
ASKED = (
    Asked("container", "single", "chance_per_founding", 1),
    Asked("container", "multi", "chance_per_founding"),
    Asked("same_queens", "difference", "same_queens_any"),
)


def genera_frame(material: Material) -> pd.DataFrame:
    """Colonies per container and the equal-queens difference: see `forest_frame`.

    Of kinds followed to their day also what was counted: source ``counted``.
    """
    told = forest_frame(material, ASKED)
    counted = _counted(material.results.raw, told)
    return pd.concat([told, counted], ignore_index=True) if len(counted) else told


def _counted(raw: pd.DataFrame, told: pd.DataFrame) -> pd.DataFrame:
    days = told.groupby(["genus", "named"], sort=False)["day"].first().reset_index()
    if raw.empty:
        return told.iloc[:0]
    mine = days.merge(raw, on=["genus", "day"])
    # "followed" holds the lost ones for sure and the living only if their record reaches the day:
    # where many living ones are not in it, the plain share would be too low
    mine = mine[mine["followed"].gt(0) & mine["followed"].ge(MOST_FOLLOWED * mine["foundings"])]
    out = [
        dict(genus=row.genus, named=row.named, panel="container", way=row.arm, source="counted",
             queens=0, day=row.day, estimate=row.share, low=row.low, high=row.high,
             foundings=int(row.followed))
        for row in each(mine)
    ]  # fmt: skip
    return pd.DataFrame(out, columns=COLUMNS)


def draw_genera(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `genera_frame`, width in millimetres."""
    other = frame[frame["panel"] == "same_queens"]
    reach = float(max(20.0, other[["low", "high"]].abs().max().max() * 105)) if len(other) else 50.0
    panels = (
        Panel(
            "container", labels.of_100_containers, ("● " + labels.single, "◆ " + labels.multi)
        ),
        Panel(
            "same_queens", labels.same_queens.format(k=int(frame["queens"].max())),
            ("← " + labels.singly_better, labels.together_better + " →"), (-reach, reach), None,
            marked=True, note=labels.difference,
        ),
    )  # fmt: skip
    return draw_forest(frame, width, labels, panels, behind="container", foot=12.5)
