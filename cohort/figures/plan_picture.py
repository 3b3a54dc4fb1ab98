"""The divisions of a plan, one row each: chances of one and of two colonies, and how many.

In comes the table of a plan, ranked by what is wanted; out comes the picture. Never computes a
chance.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pandas as pd
from babel.numbers import format_decimal
from matplotlib.figure import Figure

from cohort.base import making
from cohort.figures import ink, key, palette
from cohort.figures.labels import ENGLISH, Labels

ROWS: Final = 10
"""Divisions drawn: the efficient ones, the same queens each alone, then the best of the rest."""
ROW: Final = 6.4
"""Millimetres of a row."""
ABOVE: Final = 10.5

DRAWN: Final = {
    "one": ("one", "two", "plan_one", "plan_two", "plan_sets"),
    "workers": ("strongest", "whole", "plan_strongest", "plan_whole", "plan_workers"),
}
"""What is filled and what is hollow, their words and those under the axis, by what is wanted."""


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


def draw_plan(
    frame: pd.DataFrame, width: int, title: str, want: str = "one", labels: Labels = ENGLISH
) -> Figure:
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
    labels : Labels
        Words of the language.
    """
    filled, hollow, *words = DRAWN.get(want, DRAWN["one"])
    said = [str(getattr(labels, word)) for word in words]
    under = key.laid_out(width, [
        key.Entry(key.mark("o", palette.INK), said[0], wide=2.5),
        key.Entry(key.mark("o", palette.INK, hollow=True), said[1], wide=2.5),
        key.Entry(key.stroke(palette.INK, lw=0.8), labels.likely_range),
        key.Entry(None, labels.plan_bold),
    ])  # fmt: skip
    below = under.height + 10.0
    paper = ink.sheet(width, ABOVE + ROW * len(frame) + below)
    names = max(paper.measure(str(n), weight="bold") for n in frame["division"]) + 5
    right = paper.measure(labels.plan_colonies, fontsize=paper.small) + 3
    axes = paper.panel(names, below, width - names - right - 2, ROW * len(frame))
    places = range(len(frame) - 1, -1, -1)
    for at, row in zip(places, _each(frame), strict=True):
        color = palette.INK if row.efficient else palette.QUIET
        for name, off, face in ((filled, 0.16, color), (hollow, -0.18, palette.PAPER)):
            low, high = getattr(row, f"{name}_low"), getattr(row, f"{name}_high")
            axes.plot([low, high], [at + off] * 2, color=color, linewidth=0.8)
            axes.plot(getattr(row, name), at + off, "o", markersize=4, color=color,
                      markerfacecolor=face, markeredgewidth=0.8, clip_on=False)  # fmt: skip
        high_at = below + ROW * (at + 0.5)
        weight = "bold" if row.efficient else "normal"
        paper.write(names - 2, high_at, str(row.division), ha="right", color=color, weight=weight)
        count = format_decimal(row.colonies, format="0.0", locale=labels.language)
        paper.write(width - 2, high_at, str(count), ha="right", color=color)
    axes.set_ylim(-0.5, len(frame) - 0.5)
    axes.set_yticks([])
    axes.set_xlim(0, 101 if filled == "one" else 1.05 * frame[f"{hollow}_high"].max())
    axes.spines["left"].set_visible(False)
    axes.set_xlabel(said[2], fontsize=paper.small)
    paper.write(1, paper.height - 3.5, title, weight="bold")
    paper.write(width - 2, paper.height - ABOVE + 2, labels.plan_colonies, ha="right",
                color=palette.QUIET, fontsize=paper.small)  # fmt: skip
    under.draw(paper, 1.0)
    return paper.figure


def write_plan(
    table: pd.DataFrame, folder: Path, title: str, want: str = "one", labels: Labels = ENGLISH
) -> tuple[Path, ...]:
    """Write the picture at both widths as SVG, PDF and PNG, all of them or none."""
    with making.added(folder) as new:
        paths = save_plan(table, new.place, title, want, labels=labels)
    return tuple(new.later(path) for path in paths)


def save_plan(
    table: pd.DataFrame, place: Path, title: str, want: str = "one", *, labels: Labels = ENGLISH,
    alt: str = "",
) -> tuple[Path, ...]:  # fmt: skip
    """Write the picture into a folder that is there, as it is drawn; `alt` is what it shows."""
    frame = plan_frame(table)
    paths: list[Path] = []
    with ink.style():
        for width in ink.WIDTHS:
            figure = draw_plan(frame, width, title, want, labels)
            paths += ink.save(figure, place / f"plan-{width}", title, alt)
    return tuple(paths)
