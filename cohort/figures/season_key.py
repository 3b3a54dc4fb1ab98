"""What bars and marks of the season chart mean: its marks, its example bar, its key.

In comes which marks occur; out comes their ink. Never reads a date.
"""

from __future__ import annotations

from typing import Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from cohort.figures import ink, key, palette
from cohort.figures.labels import Labels

END_MARKS = {
    "given": ">", "released": "^", "escaped": "v", "preserved": "s", "accident": "D",
    "gave-up": "P", "parted": "<", "queens-in": "p", "joined": "h", "frozen": "*",
    "not-used": "8",
}  # fmt: skip
EXAMPLE = 13.0
"""Height of the example bar with its words, millimetres."""


def entries(frame: pd.DataFrame, labels: Labels) -> list[key.Entry]:
    """What is not in the example: grey bars, queens taken out, other ends."""
    bars = frame[frame["what"] == "bar"]
    out = []
    if (~bars["compared"].astype(bool)).any():
        out.append(key.Entry(key.patch(palette.LEFT_OUT, high=1.4), labels.outside))
    for what in ("taken", *END_MARKS):
        if (frame["what"] == what).any():
            word = labels.taken if what == "taken" else labels.ends[what]
            out.append(key.Entry(_sign(what), word, wide=2.2))
    return out


def _sign(what: str) -> key.Sign:
    return lambda axes, x, y: mark(axes, what, [x], [y], 3.4)


def mark(axes: Axes, what: str, x: list[float], y: list[float], size: float) -> None:
    """Draw the mark of an event at each of these places."""
    style: dict[str, Any] = {"ls": "none", "zorder": 5, "clip_on": False}
    if what == "first_worker":
        axes.plot(
            x,
            y,
            marker="o",
            ms=size,
            color=palette.INK,
            mfc=palette.PAPER,
            mec=palette.INK,
            mew=0.5,
            **style,
        )
    elif what == "loss":
        axes.plot(
            x, y, marker="|", ms=size * 1.5, color=palette.INK, mec=palette.INK, mew=0.8, **style
        )
    elif what == "all_lost":
        axes.plot(
            x, y, marker="x", ms=size * 1.1, color=palette.INK, mec=palette.INK, mew=0.9, **style
        )
    elif what == "taken":
        axes.plot(x, y, marker="d", ms=size * 1.1, mfc=palette.PAPER, mec=palette.INK, mew=0.6,
                  **style)  # fmt: skip
    else:
        axes.plot(x, y, marker=END_MARKS[what], ms=size * 1.2, color=palette.QUIET,
                  mec=palette.PAPER, mew=0.3, **style)  # fmt: skip


def example(paper: ink.Sheet, labels: Labels, *, groups: bool) -> None:
    """An example bar that says how to read the others."""
    axes = paper.panel(0, paper.height - EXAMPLE, paper.width, EXAMPLE)
    axes.set_axis_off()
    axes.set(xlim=(0, paper.width), ylim=(0, EXAMPLE))
    end = min(paper.width - 12, 130)
    middle = EXAMPLE / 2
    x = [6.0, 6 + (end - 6) * 0.38, 6 + (end - 6) * 0.68, end]
    way = "multi" if groups else "single"
    for start, stop, high, colour in (
        (x[0], x[1], 3.0, palette.WAY_SOFT[way]),
        (x[1], x[2], 3.0, palette.WAY[way]),
        (x[2], x[3], 2.0 if groups else 3.0, palette.WAY[way]),
    ):
        axes.add_patch(
            Rectangle((start, middle - high / 2), stop - start, high, color=colour, lw=0)
        )
    mark(axes, "first_worker", [x[1]], [middle], 3.2)
    if groups:
        mark(axes, "loss", [x[2]], [middle], 3.2)
    mark(axes, "all_lost", [x[3]], [middle], 3.2)
    low, high_ = middle - 4.2, middle + 4.2
    words = ((x[0] - 4, low, labels.start_many if groups else labels.start, "left"),
             (x[1], high_, labels.first_worker, "center"),
             (x[2], low, labels.loss if groups else "", "center"),
             (x[3] + 4, high_, labels.all_lost, "right"))  # fmt: skip
    for at, y, word, side in words:
        axes.text(at, y, word, ha=side, va="center", fontsize=paper.small, color=palette.QUIET)
