"""The divisions of a plan, one row each: chances of one and of two colonies, and how many.

In comes the table of a plan, ranked by what is wanted; out comes the picture. Never computes a
chance.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pandas as pd
from matplotlib.figure import Figure

from cohort.base import making
from cohort.figures import ink, palette

ROWS: Final = 10
"""Divisions drawn: the efficient ones, the same queens each alone, then the best of the rest."""
ROW: Final = 6.0
"""Millimetres of a row."""
ABOVE: Final = 17.0
BELOW: Final = 12.0

DRAWN: Final = {
    "one": ("one", "two", "Of 100 such sets of queens",
            "Filled: at least one colony. Hollow: at least two."),
    "workers": ("strongest", "whole", "Workers about 30 days after the first",
                "Filled: the strongest colony. Hollow: all of them."),
}  # fmt: skip
"""What is filled and what is hollow, the label below and the line above, by what is wanted."""


def _each(frame: pd.DataFrame) -> Iterator[Any]:
    """Named rows of a frame; the stubs know no types of their columns."""
    yield from frame.itertuples()


def plan_frame(table: pd.DataFrame) -> pd.DataFrame:
    """Rows of the picture, in order from above.

    Returns
    -------
    DataFrame
        division, efficient, alone (each queen alone), one, one_low, one_high, two, two_low,
        two_high (sets of 100), colonies; workers of the strongest colony and of all: strongest,
        strongest_low, strongest_high, whole, whole_low, whole_high.
    """
    out = pd.DataFrame(
        {
            "division": table["division"],
            "efficient": table["efficient"],
            "alone": [set(parts) == {1} for parts in table["parts"]],
        }
    )
    for name, goal, times in (
        ("one", "at_least_one", 100),
        ("two", "at_least_two", 100),
        ("strongest", "workers_strongest", 1),
        ("whole", "workers_in_all", 1),
    ):
        for end in ("", "_low", "_high"):
            out[f"{name}{end}"] = times * table[f"{goal}{end}"]
    out["colonies"] = table["colonies"]
    first = pd.concat([out[out["efficient"]].head(ROWS - 1), out[out["alone"]]])
    rest = out[~out.index.isin(first.index)].head(ROWS - len(first.drop_duplicates()))
    shown = pd.concat([first, rest])
    return out.loc[sorted(set(shown.index))].reset_index(drop=True)


def draw_plan(frame: pd.DataFrame, width: int, title: str, want: str = "one") -> Figure:
    """The picture.

    Parameters
    ----------
    frame : DataFrame
        As `plan_frame` gives it.
    width : int
        Millimetres, one of `cohort.figures.ink.WIDTHS`.
    title : str
    want : {"one", "many", "workers"}
        With workers, these are drawn, else the chances of colonies.
    """
    filled, hollow, label, told = DRAWN.get(want, DRAWN["one"])
    paper = ink.sheet(width, ABOVE + ROW * len(frame) + BELOW)
    names = max(paper.measure(str(n), weight="bold") for n in frame["division"]) + 5
    right = paper.measure("colonies") + 3
    axes = paper.panel(names, BELOW, width - names - right - 2, ROW * len(frame))
    places = range(len(frame) - 1, -1, -1)
    for at, row in zip(places, _each(frame), strict=True):
        color = palette.INK if row.efficient else palette.QUIET
        for name, off, face in ((filled, 0.14, color), (hollow, -0.16, palette.PAPER)):
            low, high = getattr(row, f"{name}_low"), getattr(row, f"{name}_high")
            axes.plot([low, high], [at + off] * 2, color=color, linewidth=0.8)
            axes.plot(
                getattr(row, name),
                at + off,
                "o",
                markersize=4,
                color=color,
                markerfacecolor=face,
                markeredgewidth=0.8,
                clip_on=False,
            )
        high_at = BELOW + ROW * (at + 0.5)
        weight = "bold" if row.efficient else "normal"
        paper.write(names - 2, high_at, str(row.division), ha="right", color=color, weight=weight)
        paper.write(width - 2, high_at, f"{row.colonies:.1f}", ha="right", color=color)
    axes.set_ylim(-0.5, len(frame) - 0.5)
    axes.set_yticks([])
    axes.set_xlim(0, 101 if filled == "one" else 1.05 * frame[f"{hollow}_high"].max())
    axes.spines["left"].set_visible(False)
    axes.set_xlabel(label, fontsize=paper.size)
    top = paper.height
    paper.write(2, top - 4, title, weight="bold")
    small = {"color": palette.QUIET, "fontsize": paper.small}
    paper.write(2, top - 8.5, told, **small)
    paper.write(
        2, top - 12, "Lines: likely range. Bold: every other is worse in some respect.", **small
    )
    paper.write(width - 2, top - ABOVE + 2, "colonies", ha="right", **small)
    return paper.figure


def write_plan(
    table: pd.DataFrame, folder: Path, title: str, want: str = "one"
) -> tuple[Path, ...]:
    """Write the picture at both widths as SVG, PDF and PNG, all of them or none."""
    with making.added(folder) as new:
        paths = save_plan(table, new.place, title, want)
    return tuple(new.later(path) for path in paths)


def save_plan(table: pd.DataFrame, place: Path, title: str, want: str = "one") -> tuple[Path, ...]:
    """Write the picture into a folder that is there, as it is drawn."""
    frame = plan_frame(table)
    paths: list[Path] = []
    with ink.style():
        for width in ink.WIDTHS:
            figure = draw_plan(frame, width, title, want)
            paths += ink.save(figure, place / f"plan-{width}", "plan", title)
    return tuple(paths)
