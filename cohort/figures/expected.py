"""What the model expected, and what happened.

In comes a `Material` whose diagnosis holds a table of checks; out comes one row per check and way
of founding, and the picture. Never says that a model is right: a mark inside its bar only means
that this check found nothing amiss.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cohort.figures import ink, key, palette
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, each

COLUMNS = ["check", "group", "observed", "expected", "low", "high", "tail_area"]


def expected_frame(material: Material) -> pd.DataFrame:
    """Checks of the model against the sheets.

    Returns
    -------
    pandas.DataFrame
        Columns check, group (single, multi), observed, expected, low, high (numbers of queens
        or foundings), tail_area: checks by way of founding, the days of first workers aside.
    """
    rows = [
        row
        for row in _rows(material.results.diagnosis.get("checks"))
        if row["by"] == "way" and not str(row["check"]).startswith("first_worker")
    ]
    if not material.settled or not rows:
        raise NotDrawn("the results hold no checks of the model")
    return pd.DataFrame(rows).reindex(columns=COLUMNS)


def _rows(checks: Any) -> Iterable[dict[str, Any]]:
    """The table of checks, whether it came as a frame, as rows or as columns."""
    if checks is None:
        return []
    frame = checks if isinstance(checks, pd.DataFrame) else _as_frame(checks)
    return [{str(k): v for k, v in row.items()} for row in frame.to_dict("records")]


def _as_frame(checks: Any) -> pd.DataFrame:
    if isinstance(checks, Mapping):
        return pd.DataFrame(dict(checks))
    return pd.DataFrame(list(checks))


def draw_expected(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `expected_frame`, width in millimetres."""
    order = list(dict.fromkeys(str(c) for c in frame["check"]))
    step = 9.5
    body = step * len(order)
    under = key.laid_out(width, _key(frame, labels))
    foot = under.height + 6.5
    paper = ink.sheet(width, body + foot + 1.5)
    narrow = paper.narrow
    left = 4.0 if narrow else 4 + max(paper.measure(labels.checks.get(c, c)) for c in order)
    axes = paper.panel(left, foot, width - left - 4, body)
    axes.set_ylim(len(order) - 0.5, -0.5)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlim(0, max(float(frame[["high", "observed"]].max().max()) * 1.08, 1.0))
    for i, check in enumerate(order):
        axes.axhline(i - 0.5, color=palette.RULE, lw=0.4, zorder=0)
        word = labels.checks.get(check, check)
        where = ((0, i - 0.34), (0, 0), "left") if narrow else ((0, i), (-5, 0), "right")
        axes.annotate(word, where[0], xycoords=("axes fraction", "data"), xytext=where[1],
                      textcoords="offset points", ha=where[2], va="center",
                      fontsize=paper.small)  # fmt: skip
        for row in each(frame[frame["check"] == check]):
            at = i + {"single": -0.02, "multi": 0.28}.get(str(row.group), 0.13)
            colour = palette.WAY.get(str(row.group), palette.INK)
            soft = palette.WAY_SOFT.get(str(row.group), palette.RULE)
            axes.plot([row.low, row.high], [at, at], color=soft, lw=4.2, solid_capstyle="butt")
            axes.plot([row.observed] * 2, [at - 0.13, at + 0.13], color=colour, lw=1.8)
    under.draw(paper, 1.0)
    return paper.figure


def _key(frame: pd.DataFrame, labels: Labels) -> list[key.Entry]:
    """Bars are pale, marks full, both in the colour of the way."""

    def bars(axes: Axes, x: float, y: float) -> None:
        for way, left in (("single", x - 3.6), ("multi", x + 0.2)):
            axes.plot([left, left + 3.4], [y, y], color=palette.WAY_SOFT[way], lw=4.2,
                      solid_capstyle="butt")  # fmt: skip

    def marks(axes: Axes, x: float, y: float) -> None:
        for way, at in (("single", x - 0.7), ("multi", x + 0.7)):
            axes.plot([at, at], [y - 1.3, y + 1.3], color=palette.WAY[way], lw=1.8)

    there = set(frame["group"])
    ways = [w for w in (("single", labels.single), ("multi", labels.multi)) if w[0] in there]
    return [
        *(key.Entry(key.patch(palette.WAY[way]), word, colour=palette.WAY_WORD[way])
          for way, word in ways),
        key.Entry(bars, labels.expected, wide=7.5),
        key.Entry(marks, labels.happened, wide=3.0),
    ]  # fmt: skip
