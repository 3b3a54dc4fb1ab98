"""Kinds side by side: containers with a colony, and the same queens both ways.

In comes a `Material`; out comes one row per kind, way and source (as counted; with what the other
kinds tell), the difference between the ways for equal queens, and the picture. Never ranks kinds
by an estimate: the order is by foundings.
"""

from __future__ import annotations

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cohort.figures import ink, palette
from cohort.figures.labels import Labels
from cohort.figures.material import (
    Material,
    NotDrawn,
    days_to_speak_of,
    headline_size,
    kinds_in_order,
    row_of,
)
from cohort.figures.names import kind_text

COLUMNS = [
    "genus", "named", "panel", "way", "source", "queens", "day", "estimate", "low", "high",
    "foundings",
]  # fmt: skip


def genera_frame(material: Material) -> pd.DataFrame:
    """Colonies per container and the equal-queens difference, kind by kind.

    Returns
    -------
    pandas.DataFrame
        Columns genus, named, panel (`container` or `same_queens`), way, source (counted, model),
        queens, day, estimate, low, high (shares of 1), foundings.
    """
    if not material.settled:
        raise NotDrawn("the comparison has not settled")
    days = days_to_speak_of(material, "chance_per_founding")
    size = headline_size(material.history.foundings)
    if not days or not size:
        raise NotDrawn("fewer than eight foundings of each way were followed")
    day = days[-1]
    kinds = kinds_in_order(material.history.foundings)
    order = [(k.genus, k.named) for k in kinds]
    if len(order) > 1:
        order += [("average", False), ("new", False)]
    rows: list[dict[str, object]] = []
    for genus, named in order:
        rows += _of_kind(material, genus, named, size, day)
    if not rows:
        raise NotDrawn("no colony numbers in the results")
    return pd.DataFrame(rows, columns=COLUMNS)


def _of_kind(
    material: Material, genus: str, named: bool, size: int, day: int
) -> list[dict[str, object]]:
    table = material.results.comparisons
    wanted = (
        ("container", "single", "chance_per_founding", "single", 1),
        ("container", "multi", "chance_per_founding", "multi", size),
        ("same_queens", "difference", "same_queens_any", "difference", size),
    )
    rows = []
    for panel, way, quantity, arm, queens in wanted:
        hit = row_of(table, quantity, genus, arm, queens, day)
        if hit is not None:
            rows.append(
                dict(genus=genus, named=named, panel=panel, way=way, source="model",
                     queens=queens, day=day, estimate=hit["mean"], low=hit["low"],
                     high=hit["high"], foundings=int(hit["foundings"]))
            )  # fmt: skip
    return rows + _counted(material.results.raw, genus, named, day)


def _counted(raw: pd.DataFrame, genus: str, named: bool, day: int) -> list[dict[str, object]]:
    if raw.empty or genus in ("average", "new"):
        return []
    mine = raw[(raw["genus"] == genus) & (raw["day"] == day) & (raw["followed"] > 0)]
    return [
        dict(genus=genus, named=named, panel="container", way=row.arm, source="counted",
             queens=0, day=day, estimate=row.share, low=row.low, high=row.high,
             foundings=int(row.followed))
        for row in mine.itertuples()
    ]  # fmt: skip


def draw_genera(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `genera_frame`, width in millimetres."""
    order = list(dict.fromkeys(frame["genus"]))
    narrow = width < 120
    step = 8.0 if len(order) < 12 else 6.6
    body = step * len(order)
    probe = ink.sheet(width, 10)
    names = {}
    for genus in order:
        part = frame[frame["genus"] == genus]
        names[genus] = kind_text(genus, bool(part["named"].iloc[0]), labels)
    left = max(
        probe.measure(text, style="italic" if it else "normal") for text, it in names.values()
    )
    left = min(left, 52.0 if not narrow else 34.0) + 3
    if narrow:
        paper = ink.sheet(width, 2 * body + 46)
        spots = ((left, body + 34, width - left - 13), (left, 10, width - left - 13))
    else:
        paper = ink.sheet(width, body + 23)
        each = (width - left - 26) / 2
        spots = ((left, 10, each), (left + each + 13, 10, each))
    for (x, y, wide), panel in zip(spots, ("container", "same_queens"), strict=True):
        axes = paper.panel(x, y, wide, body)
        _rows(axes, frame[frame["panel"] == panel], order, panel, paper, labels)
        if narrow or panel == "container":
            _names(axes, order, names, paper, wide)
    return paper.figure


def _names(axes: Axes, order: list[str], names: dict[str, tuple[str, bool]], paper: ink.Sheet,
           wide: float) -> None:  # fmt: skip
    for i, genus in enumerate(order):
        text, italic = names[genus]
        axes.annotate(
            _wrap(text) if paper.narrow else text, (0, i), xycoords=("axes fraction", "data"),
            xytext=(-5, 0), textcoords="offset points", ha="right", va="center",
            fontsize=paper.size, style="italic" if italic else "normal", linespacing=0.95,
        )  # fmt: skip


def _wrap(text: str) -> str:
    """Long names take two lines on one-column paper."""
    if len(text) <= 20:
        return text
    words = text.split(" ")
    half = max(1, (len(words) + 1) // 2)
    return " ".join(words[:half]) + "\n" + " ".join(words[half:])


def _rows(axes: Axes, part: pd.DataFrame, order: list[str], panel: str, paper: ink.Sheet,
          labels: Labels) -> None:  # fmt: skip
    axes.set_ylim(len(order) - 0.5, -0.5)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    if panel == "container":
        axes.set_xlim(-2, 102)
        axes.set_xticks([0, 25, 50, 75, 100])
        title = labels.of_100_containers
    else:
        reach = float(max(20, part[["low", "high"]].abs().max().max() * 105)) if len(part) else 50
        axes.set_xlim(-reach, reach)
        axes.axvline(0, color=palette.QUIET, lw=0.7)
        size = int(part["queens"].max()) if len(part) else 0
        title = labels.same_queens.format(k=size)
        axes.set_xlabel(labels.difference, fontsize=paper.size - 0.5)
    axes.set_title(title, fontsize=paper.size, loc="left", pad=13)
    for edge in range(len(order) + 1):
        axes.axhline(edge - 0.5, color=palette.RULE, lw=0.4)
    _heads(axes, panel, paper, labels)
    for row in part.itertuples():
        _mark(axes, row, order.index(row.genus), paper)
    _behind(axes, part, order, paper)


def _heads(axes: Axes, panel: str, paper: ink.Sheet, labels: Labels) -> None:
    if panel == "container":
        pairs = ((0.0, "left", "● " + labels.single, palette.SINGLE),
                 (1.0, "right", "◆ " + labels.multi, palette.MULTI))  # fmt: skip
    else:
        pairs = ((0.0, "left", "← " + labels.singly_better, palette.SINGLE),
                 (1.0, "right", labels.together_better + " →", palette.MULTI))  # fmt: skip
    for x, side, word, colour in pairs:
        axes.annotate(word, (x, 1), xycoords="axes fraction", xytext=(0, 3),
                      textcoords="offset points", ha=side, va="bottom", color=colour,
                      fontsize=paper.size - 0.5, weight="bold")  # fmt: skip


def _mark(axes: Axes, row, i: int, paper: ink.Sheet) -> None:  # type: ignore[no-untyped-def] - a row of itertuples has no type
    shift = {"single": -0.2, "multi": 0.2, "difference": 0.0}[row.way]
    colour = {"single": palette.SINGLE, "multi": palette.MULTI, "difference": palette.INK}[row.way]
    if row.source == "counted":
        axes.plot(row.estimate * 100, i + shift - 0.13, "o" if row.way == "single" else "D",
                  ms=2.8, color=palette.PAPER, mec=colour, mew=0.7)  # fmt: skip
        return
    axes.plot([row.low * 100, row.high * 100], [i + shift] * 2, color=colour, lw=1.6,
              solid_capstyle="butt", ls="-")  # fmt: skip
    axes.plot(row.estimate * 100, i + shift, "o" if row.way != "multi" else "D", ms=4, color=colour)


def _behind(axes: Axes, part: pd.DataFrame, order: list[str], paper: ink.Sheet) -> None:
    """Count of foundings behind each row, at the right edge."""
    model = part[part["source"] == "model"]
    for i, genus in enumerate(order):
        mine = model[model["genus"] == genus]
        count = "+".join(str(n) for n in mine["foundings"])
        axes.annotate(count, (1, i), xycoords=("axes fraction", "data"), xytext=(4, 0),
                      textcoords="offset points", ha="left", va="center",
                      fontsize=paper.size - 1, color=palette.QUIET)  # fmt: skip
