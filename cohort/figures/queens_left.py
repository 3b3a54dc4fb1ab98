"""Queens left some time after the first worker, in foundings by several queens: groups, counted.

In comes a `Material`; out come, for all kinds and each kind, how many groups had none, one and
several queens left, and the picture: one bar each. Never speaks of foundings without workers,
never of a group whose fate on that day is not known.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from cohort.figures import ink, key, palette, rows
from cohort.figures.counted import MOST_FOLLOWED
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, each
from cohort.figures.names import groups_text
from cohort.nonparametric.followed import compared, known_to

COLUMNS = ["genus", "named", "day", "none", "one", "several", "groups", "with_workers"]
DAYS = (90, 60, 30)
"""Days after the first worker that may be shown, the first one first."""
FEWEST = 4
"""Groups whose fate must be known before a bar is drawn of them."""
MOST_KINDS = 9
LEFT = ("none", "one", "several")
COLOUR = {
    "none": palette.LOST_LATE,
    "one": palette.COLONY,
    "several": palette.SEVERAL_LEFT,
}
ON = {"none": palette.INK, "one": palette.PAPER, "several": palette.INK}
"""Colour of words on each band."""


def queens_left_frame(material: Material) -> pd.DataFrame:
    """Groups by queens left, so many days after the first worker.

    The last of `DAYS` on which the fate of `FEWEST` groups is known, and of `MOST_FOLLOWED` of
    all with workers; else the last on which it is of `FEWEST`.

    Returns
    -------
    pandas.DataFrame
        Columns genus (``all`` first, where there are several kinds), named, day (since the first
        worker), none, one, several (groups), groups (their sum), with_workers (groups of the kind
        that had workers). Kinds with fewer than `FEWEST` groups are in ``all`` alone.

    Raises
    ------
    NotDrawn
        The fate of fewer than `FEWEST` groups is known 30 days after the first worker.
    """
    inside = compared(material.history.foundings)
    inside = inside[inside["arm"] == "multi"]
    mine = inside[np.isfinite(inside["first_by"].astype(float))]
    known = known_to(inside, material.history.horizon).reindex(mine.index).astype(float)
    after = known - mine["first_by"].astype(float)
    enough = [day for day in DAYS if (after >= day).sum() >= FEWEST]
    if not enough:
        raise NotDrawn("fewer than four groups of queens were followed after their first worker")
    well = [day for day in enough if (after >= day).sum() >= MOST_FOLLOWED * len(mine)]
    day = (well or enough)[0]
    shown = mine[after >= day]
    left = _left(material, shown, day)
    kinds = [(k.genus, k.named) for k in material.kinds]
    out = [] if len(kinds) == 1 else [_row("all", False, day, left, len(mine))]
    for genus, named in kinds:
        own = left[shown["genus"] == genus]
        if len(own) >= FEWEST and len(out) <= MOST_KINDS:
            out.append(_row(genus, named, day, own, int((mine["genus"] == genus).sum())))
    return pd.DataFrame(out, columns=COLUMNS)


def _left(material: Material, shown: pd.DataFrame, day: int) -> pd.Series:
    """Queens alive in each group so many days after its first worker."""
    intervals = material.history.intervals
    until = intervals["code"].map(shown["first_by"].astype(float) + day)
    seen = intervals[intervals["by"] <= until].sort_values("by", kind="stable")
    last = seen.groupby("code")["alive"].last().reindex(shown.index)
    return last.fillna(shown["entry_queens"]).astype(int)


def _row(genus: str, named: bool, day: int, left: pd.Series, with_workers: int) -> dict[str, Any]:
    return dict(
        genus=genus, named=named, day=day, none=int((left == 0).sum()), one=int((left == 1).sum()),
        several=int((left > 1).sum()), groups=len(left), with_workers=with_workers,
    )  # fmt: skip


def draw_queens_left(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `queens_left_frame`, width in millimetres."""
    words = (labels.none_left, labels.one_left, labels.several_left)
    entries = [
        key.Entry(key.patch(COLOUR[left]), word) for left, word in zip(LEFT, words, strict=True)
    ]
    first = frame.iloc[0]
    told = labels.left_key.format(
        day=int(first["day"]), n=int(first["groups"]), all=int(first["with_workers"])
    )
    under = key.laid_out(width, [*entries, key.Entry(None, told)])
    probe = ink.sheet(width, 10)
    most = groups_text(int(first["groups"]), labels)
    side = probe.measure(most, fontsize=probe.small, weight="bold") + 2.5
    grid = rows.one_panel(
        frame, width, labels, step=9.0, sides=(0.0, side), foot=under.height + 2.0, head=1.5
    )
    axes, paper = grid.panels[0], grid.paper
    axes.set_xlim(0, 1)
    axes.axis("off")
    across = width - paper.width * (1 - axes.get_position().width)
    for i, row in enumerate(each(frame)):
        heavy = i == 0
        _bar(axes, paper, row, i, across, heavy=heavy)
        axes.annotate(groups_text(int(row.groups), labels), (1, i), xytext=(5, 0),
                      textcoords="offset points", va="center", fontsize=paper.small,
                      color=palette.QUIET, weight="bold" if heavy else "normal")  # fmt: skip
    under.draw(paper, 1.0)
    return paper.figure


def _bar(axes: Axes, paper: ink.Sheet, row: Any, at: int, across: float, *, heavy: bool) -> None:
    """One bar, its counts inside the bands, or over those too narrow for them."""
    half = 0.29 if heavy else 0.2
    start = 0.0
    over: list[tuple[float, str]] = []
    for left in LEFT:
        count = int(getattr(row, left))
        long = count / row.groups
        axes.add_patch(Rectangle((start, at - half), long, 2 * half, fc=COLOUR[left],
                                 ec=palette.PAPER, lw=0.6))  # fmt: skip
        word = str(count)
        if count and paper.measure(word, weight="bold") + 0.8 <= long * across:
            axes.text(start + long / 2, at, word, ha="center", va="center_baseline",
                      color=ON[left], weight="bold",
                      fontsize=paper.size if heavy else paper.small)  # fmt: skip
        elif count:
            over.append((start + long / 2, word))
        start += long
    places = ink.spread([x * across for x, _ in over], 2.6, 0.8, across - 0.8)
    for (_, word), x in zip(over, places, strict=True):
        axes.text(x / across, at - half - 0.03, word, ha="center", va="bottom",
                  fontsize=paper.small)  # fmt: skip
