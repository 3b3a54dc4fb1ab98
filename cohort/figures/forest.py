"""Forest pictures: one row per kind, two panels, an estimate with its likely range for each way.

Comes in: a `Material` and what is asked of it, or the frame that was made of it and how each panel
looks. Goes out: the frame; the picture. Never ranks kinds by an estimate: the order is by
foundings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

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

COLUMNS = [
    "genus", "named", "panel", "way", "source", "queens", "day", "estimate", "low", "high",
    "foundings",
]  # fmt: skip
SHIFT = {"single": -0.2, "multi": 0.2}
"""Where a way stands in the row of its kind."""
COUNTED = -0.17
"""How far what was counted stands from what the model says of the same way."""


@dataclass(frozen=True)
class Asked:
    """A number of every kind.

    Parameters
    ----------
    panel, way : str
    quantity : str
        As in the comparisons; its arm is the way.
    queens : int
        Founding size; 0: the commonest of groups.
    whole : bool
        Whether a kind of which this number is missing is left out.
    """

    panel: str
    way: str
    quantity: str
    queens: int = 0
    whole: bool = False


@dataclass(frozen=True)
class Panel:
    """How one panel looks.

    Parameters
    ----------
    name : str
        As in the column ``panel``.
    title : str
    heads : (str, str)
        What stands over its left and its right end.
    limits : (float, float)
        Of the axis, in units of a share of 1 times ``scale``.
    ticks : sequence of float, optional
        Left out: the axis chooses.
    scale : float
    marked : bool
        Whether ticks are drawn, and not told by a grid line alone.
    note : str
        Under the axis.
    """

    name: str
    title: str
    heads: tuple[str, str]
    limits: tuple[float, float] = (-2.0, 102.0)
    ticks: Sequence[float] | None = (0, 25, 50, 75, 100)
    scale: float = 100.0
    marked: bool = False
    note: str = ""


def forest_frame(material: Material, asked: Sequence[Asked], *, without: str = "") -> pd.DataFrame:
    """Numbers of every kind that may be spoken of, each on the last day of its own.

    Parameters
    ----------
    material : Material
    asked : sequence of Asked
    without : str
        A row that is not shown.

    Returns
    -------
    DataFrame
        Columns `COLUMNS`: source is ``model``, estimates are for one founding or queen.

    Raises
    ------
    NotDrawn
        The comparison has not settled, no day may be spoken of, or there are no numbers.
    """
    if not material.settled:
        raise NotDrawn("the comparison has not settled")
    if not days_to_speak_of(material, asked[0].quantity) or not material.size:
        raise NotDrawn("fewer than eight foundings of each way were followed")
    out: list[dict[str, object]] = []
    for genus, named in rows_to_show(material):
        if genus == without:
            continue
        found = [
            (one, row_to_show(material, one.quantity, genus, one.way, one.queens or material.size))
            for one in asked
        ]
        if any(row is None and one.whole for one, row in found):
            continue
        out += [
            dict(genus=genus, named=named, panel=one.panel, way=one.way, source="model",
                 queens=one.queens or material.size, day=int(row["day"]),
                 estimate=float(row["mean"]), low=float(row["low"]), high=float(row["high"]),
                 foundings=int(row["foundings"]))
            for one, row in found
            if row is not None
        ]  # fmt: skip
    if not out:
        raise NotDrawn("the results have none of its numbers")
    return pd.DataFrame(out, columns=COLUMNS)


def draw_forest(
    frame: pd.DataFrame,
    width: int,
    labels: Labels,
    panels: tuple[Panel, Panel],
    *,
    behind: str,
    foot: float = 6.5,
) -> Figure:
    """Picture of a `forest_frame`.

    Parameters
    ----------
    frame : DataFrame
    width : int
        Millimetres.
    labels : Labels
    panels : tuple of Panel
    behind : str
        Panel whose foundings are told, single + multi.
    foot : float
        Millimetres under a panel.
    """
    grid = rows.two_panels(frame, width, labels, (panels[0].title, panels[1].title), foot)
    for axes, panel in zip(grid.panels, panels, strict=True):
        axes.set_xlim(*panel.limits)
        if panel.ticks is not None:
            axes.set_xticks(list(panel.ticks))
            axes.grid(axis="x", color=palette.RULE, lw=0.4)
        else:
            axes.axvline(0, color=palette.QUIET, lw=0.7)
        axes.tick_params(axis="x", length=2 if panel.marked else 0)
        rows.heads(axes, grid.paper, *panel.heads)
        if panel.note:
            room = axes.get_position().width * grid.paper.width + 10
            small = grid.paper.size - 0.5
            axes.set_xlabel(grid.paper.wrapped(panel.note, room, fontsize=small), fontsize=small)
        for row in each(frame[frame["panel"] == panel.name]):
            at = grid.order.index(str(row.genus)) + SHIFT.get(row.way, 0.0)
            if row.source == "counted":
                rows.hollow(axes, row.way, at + COUNTED, row.estimate, panel.scale)
            else:
                rows.bar(axes, row.way, at, (row.low, row.estimate, row.high), panel.scale)
    told = frame[(frame["panel"] == behind) & (frame["source"] == "model")]
    counted = told.sort_values("way", ascending=False, kind="stable")  # single before multi
    rows.counts(
        grid,
        {
            genus: "+".join(str(n) for n in counted.loc[counted["genus"] == genus, "foundings"])
            for genus in grid.order
        },
    )
    return grid.paper.figure
