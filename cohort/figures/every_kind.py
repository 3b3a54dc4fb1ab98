"""Every kind by itself, as counted: queens alive, and foundings with workers.

In comes a `Material`; out come the plain counts by kind, way and day, and the picture: two small
panels for each kind, few foundings or many. Never beyond the last look at a kind, never beyond the
last day of the study, and never with the model.
"""

from __future__ import annotations

from typing import Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cohort.figures import ink, key, palette
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn
from cohort.figures.names import kind_text
from cohort.nonparametric.followed import compared, fair_day

CURVES = ("queen_survival", "first_worker")
COLUMNS = [
    "genus", "named", "curve", "way", "day", "estimate", "at_risk", "foundings", "own_day",
]  # fmt: skip


def every_kind_frame(material: Material) -> pd.DataFrame:
    """Plain counts of every kind by day.

    Returns
    -------
    pandas.DataFrame
        Columns genus (most foundings first), named, curve (``queen_survival``,
        ``first_worker``), way, day (to the last look at that kind and way, never beyond the last
        day of the study), estimate (share of 1), at_risk, foundings (of the kind and way), own_day
        (last day to which four foundings of each way were followed; 0: none).

    Raises
    ------
    NotDrawn
        Fewer than eight foundings of each way were followed, or there are no curves.
    """
    foundings = material.history.foundings
    until = fair_day(foundings, material.history.horizon)
    if until == 0:
        raise NotDrawn("fewer than eight foundings of each way were followed")
    inside = compared(foundings)
    curves = material.results.curves
    rows = []
    for kind in material.kinds:
        for curve in CURVES:
            for way in ("single", "multi"):
                behind = inside[(inside["genus"] == kind.genus) & (inside["arm"] == way)]
                part = curves[
                    (curves["curve"] == curve) & (curves["genus"] == kind.genus)
                    & (curves["arm"] == way)
                ]  # fmt: skip
                if part.empty or behind.empty:
                    continue
                last = min(float(until), float(behind["end"].max()))
                part = part[part["day"] <= last].sort_values("day", kind="stable")
                if part.empty:
                    continue
                level = part.iloc[[-1]].assign(day=last)  # a step lasts until the last look
                part = pd.concat([part, level]).drop_duplicates("day")
                rows.append(
                    part[["curve", "day", "estimate", "at_risk"]].assign(
                        genus=kind.genus, named=kind.named, way=way, foundings=len(behind),
                        own_day=material.last_days.get(kind.genus, 0),
                    )
                )  # fmt: skip
    if not rows:
        raise NotDrawn("the results have no curves by kind")
    return pd.concat(rows, ignore_index=True)[COLUMNS]


def draw_every_kind(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `every_kind_frame`, width in millimetres."""
    order = list(dict.fromkeys(str(genus) for genus in frame["genus"]))
    columns = min(1 if width < 120 else 2, len(order))
    lines = -(-len(order) // columns)
    step = 24.0 if lines <= 8 else 20.5
    block = (width - 7.0) / columns
    over = _over(ink.sheet(width, 10), labels, block)
    under = key.laid_out(width, _key(frame, labels))
    foot, head = under.height + 10.0, 4.5 + 3.4 * max(word.count("\n") for word in over)
    paper = ink.sheet(width, foot + step * lines + head)
    until = float(frame["day"].max())
    for i, genus in enumerate(order):
        line, column = i % lines, i // lines  # down, then across
        bottom = foot + step * (lines - 1 - line)
        last = line == lines - 1 or i == len(order) - 1
        for at, curve in enumerate(CURVES):
            axes = paper.panel(
                7 + block * column + (block / 2 - 0.5) * at, bottom, block / 2 - 5.0, step - 7.0
            )
            part = frame[(frame["genus"] == genus) & (frame["curve"] == curve)]
            _curves(axes, part, until)
            axes.tick_params(labelleft=at == 0 and column == 0, labelbottom=last)
        _title(paper, frame[frame["genus"] == genus], labels, 7 + block * column, bottom + step)
    _around(paper, labels, block, columns, over, foot)
    under.draw(paper, 1.0)
    return paper.figure


def _curves(axes: Axes, part: pd.DataFrame, until: float) -> None:
    """The two lines of a panel."""
    axes.set(xlim=(0, until * 1.02), ylim=(-4, 104), yticks=[0, 50, 100])
    axes.set_xticks([day for day in ink.day_ticks(until) if day % 60 == 0 or until < 120])
    axes.spines["left"].set_bounds(0, 100)
    for level in (0, 50, 100):
        axes.axhline(level, color=palette.RULE, lw=0.5, zorder=0)
    if part.empty:
        return
    for way, line in part.groupby("way"):
        axes.step(line["day"], line["estimate"] * 100, where="post", lw=1.1,
                  color=palette.WAY[str(way)], ls=palette.DASH[str(way)])  # fmt: skip
    own = float(part["own_day"].iloc[0])
    if 0 < own < float(part["day"].max()):
        axes.plot([own, own], [0, 100], color=palette.QUIET, lw=0.7, zorder=1)


def _title(paper: ink.Sheet, part: pd.DataFrame, labels: Labels, left: float, top: float) -> None:
    """Name of a kind, and how many foundings of each way it has, in the colours of the ways."""
    name, italic = kind_text(str(part["genus"].iloc[0]), bool(part["named"].iloc[0]), labels)
    style = "italic" if italic else "normal"
    paper.write(left, top - 4.6, name, style=style)
    at = left + paper.measure(name, style=style) + 2.5
    small: dict[str, Any] = {"fontsize": paper.small, "weight": "bold"}
    for way, sign in (("single", "●"), ("multi", "◆")):
        count = part.loc[part["way"] == way, "foundings"]
        word = f"{sign} {int(count.iloc[0]) if len(count) else 0}"
        paper.write(at, top - 4.6, word, color=palette.WAY_WORD[way], **small)
        at += paper.measure(word, **small) + 2


def _over(paper: ink.Sheet, labels: Labels, block: float) -> tuple[str, ...]:
    """What the two panels of a kind show, on as many lines as it takes."""
    small = paper.small
    both = (labels.queens_alive, labels.with_workers)
    return tuple(paper.wrapped(word, block / 2 - 1.0, fontsize=small) for word in both)


def _around(
    paper: ink.Sheet, labels: Labels, block: float, columns: int, over: tuple[str, ...], foot: float
) -> None:
    """What the columns and the axis mean."""
    for column in range(columns):
        for i, word in enumerate(over):
            left = 7 + block * column + (block / 2 - 0.5) * i
            paper.write(
                left, paper.height - 1.0, word, fontsize=paper.small, color=palette.QUIET, va="top",
                linespacing=1.05,
            )  # fmt: skip
    paper.write((paper.width + 7) / 2, foot - 7, labels.days, ha="center", color=palette.QUIET)


def _key(frame: pd.DataFrame, labels: Labels) -> list[key.Entry]:
    words = {"single": f"{labels.single} ●", "multi": f"{labels.multi} ◆"}
    last = frame.groupby("genus")["day"].max()
    own = frame.groupby("genus")["own_day"].first()
    out = [
        key.Entry(key.stroke(palette.WAY[way], lw=1.1, ls=palette.DASH[way]), word,
                  colour=palette.WAY_WORD[way])
        for way, word in words.items()
    ]  # fmt: skip
    out.append(key.Entry(None, f"● ◆: {labels.behind}"))
    if ((own > 0) & (own < last)).any():
        upright = key.Entry(_upright, labels.own_days, wide=2.0)
        out.append(upright)
    return out


def _upright(axes: Axes, x: float, y: float) -> None:
    axes.plot([x, x], [y - 1.4, y + 1.4], color=palette.QUIET, lw=0.7)
