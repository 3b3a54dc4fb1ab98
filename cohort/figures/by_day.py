"""Queens alive, and foundings with workers, day by day: both ways of founding, kind beside kind.

In comes a `Material`; out come the numbers of the picture (one row per kind, way and day) and the
picture. Nothing is shown beyond the last day to which at least eight foundings of each way were
followed. Never fits a curve.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from numpy.typing import NDArray

from cohort.figures import ink, key, palette
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, kinds_in_order
from cohort.figures.names import kind_text
from cohort.nonparametric.followed import fair_day

MOST_KINDS = 5
EVERY = 3
"""Of the model's days each third is drawn: finer cannot be seen."""
COLUMNS = [
    "genus", "named", "way", "source", "day", "estimate", "low", "high", "foundings",
]  # fmt: skip


def survival_frame(material: Material) -> pd.DataFrame:
    """Share of queens alive by day, way and kind: as counted, and where the model expects that.

    Returns
    -------
    pandas.DataFrame
        Columns genus (`all` last), named, way (single, multi), source (counted, model), day,
        estimate, low, high (all three shares of 1), foundings.
    """
    return _frame(material, "queen_survival")


def first_worker_frame(material: Material) -> pd.DataFrame:
    """Share of foundings with workers by day, way and kind; columns as in `survival_frame`."""
    return _frame(material, "first_worker")


def _frame(material: Material, curve: str) -> pd.DataFrame:
    foundings = material.history.foundings
    until = fair_day(foundings, material.history.horizon)
    if until == 0:
        raise NotDrawn("fewer than eight foundings of each way were followed")
    curves = material.results.curves
    mine = curves[(curves["curve"] == curve) & (curves["day"] <= until)]
    if mine.empty:
        raise NotDrawn(f"no curve '{curve}' in the results")
    named = {kind.genus: kind.named for kind in kinds_in_order(foundings)}
    order = [g for g in named if _has_both(mine, g)][:MOST_KINDS]
    order = [*order, "all"] if len(named) > 1 or not order else order
    inside = foundings[foundings["compared"].astype(bool)]
    rows = []
    for genus in order:
        for way in ("single", "multi"):
            behind = inside[(inside["arm"] == way) & (inside["genus"].eq(genus) | (genus == "all"))]
            part = mine[(mine["genus"] == genus) & (mine["arm"] == way)]
            counted = part[["day", "estimate", "low", "high"]].assign(source="counted")
            seen = int(counted["day"].max()) if len(counted) else 0  # beyond it nobody looked
            both = [counted, _model(material, curve, genus, way, min(seen, until))]
            for piece in both:
                if len(piece):
                    if curve == "first_worker":
                        piece = _level_to(piece, until)
                    rows.append(
                        piece.assign(
                            genus=genus,
                            named=named.get(genus, False),
                            way=way,
                            foundings=len(behind),
                        )
                    )
    return pd.concat(rows, ignore_index=True)[COLUMNS]


def _level_to(piece: pd.DataFrame, until: int) -> pd.DataFrame:
    """A cumulative curve carried level to the last day: nobody was left to change it."""
    last = piece.sort_values("day").iloc[[-1]]
    return pd.concat([piece, last.assign(day=float(until))]) if len(last) else piece


def _has_both(curves: pd.DataFrame, genus: str) -> bool:
    return set(curves.loc[curves["genus"] == genus, "arm"]) >= {"single", "multi"}


def _model(material: Material, curve: str, genus: str, way: str, until: int) -> pd.DataFrame:
    """Where the model, looked at on the same days, expects the counted line.

    The band of replicated studies: the same foundings, sizes and looks, a loss or a first worker
    dated at the look that shows it. The model's smooth curve for new foundings (`model_...`) is
    never laid over a line that is dated at looks. Nothing for a shut gate.
    """
    if not material.settled:
        return pd.DataFrame(columns=["day", "estimate", "low", "high", "source"])
    curves = material.results.curves
    hit = curves[
        (curves["curve"] == f"replicated_{curve}")
        & (curves["genus"] == genus)
        & (curves["arm"] == way)
        & (curves["day"] <= until)
    ]
    hit = hit.sort_values("day").iloc[::EVERY]
    return hit[["day", "estimate", "low", "high"]].assign(source="model")


def draw_survival(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `survival_frame`, width in millimetres."""
    return _draw(frame, width, labels, labels.queens_alive)


def draw_first_worker(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `first_worker_frame`, width in millimetres."""
    return _draw(frame, width, labels, labels.with_workers)


def _draw(frame: pd.DataFrame, width: int, labels: Labels, axis: str) -> Figure:
    order = list(dict.fromkeys(frame["genus"]))
    columns = min(2 if width < 120 else 3, len(order))
    lines = -(-len(order) // columns)
    step = 38.0 if width < 120 else 45.0
    under = key.laid_out(width, _key(frame, labels))
    foot = under.height + 10.5
    paper = ink.sheet(width, 4 + step * lines + foot)
    paper.write(1, paper.height - 3, axis, color=palette.QUIET)
    across = (width - 8.0) / columns
    until = float(frame["day"].max())
    for i, genus in enumerate(order):
        line, column = divmod(i, columns)
        bottom = foot + step * (lines - 1 - line)
        axes = paper.panel(8 + across * column, bottom, across - 4, step - 6.5)
        bottom_row = i + columns >= len(order)
        _panel(axes, frame[frame["genus"] == genus], paper, labels, until)
        axes.set_xticks(ink.day_ticks(until, most=4.5 if paper.narrow else 6.5))
        axes.tick_params(labelleft=column == 0, labelbottom=bottom_row)
    paper.write((width + 8) / 2, foot - 7, labels.days, ha="center", color=palette.QUIET)
    under.draw(paper, 1.0)
    return paper.figure


def _key(frame: pd.DataFrame, labels: Labels) -> list[key.Entry]:
    """The two ways, and what line, band and numbers in brackets are."""
    words = {"single": labels.single, "multi": labels.multi}
    modelled = bool((frame["source"] == "model").any())
    count = int(frame["foundings"].max())
    return [
        *(key.Entry(key.stroke(palette.WAY[way], lw=1.3, ls=palette.DASH[way]), word,
                    colour=palette.WAY_WORD[way]) for way, word in words.items()),
        key.Entry(None, labels.counted_line),
        key.Entry(_bands, labels.model if modelled else labels.likely_range),
        key.Entry(None, f"({count}): {labels.behind}"),
    ]  # fmt: skip


def _bands(axes: Axes, x: float, y: float) -> None:
    """The bands of both ways, one over the other as in the panels."""
    for way, left in (("single", x - 2.3), ("multi", x - 0.7)):
        axes.add_patch(Rectangle((left, y - 1.2), 3.0, 2.4, fc=palette.WAY_SOFT[way], alpha=0.5,
                                 lw=0))  # fmt: skip


def _panel(axes: Axes, part: pd.DataFrame, paper: ink.Sheet, labels: Labels, until: float) -> None:
    genus = str(part["genus"].iloc[0])
    name, italic = kind_text(genus, bool(part["named"].iloc[0]), labels)
    axes.set_title(
        name, fontsize=paper.size, loc="left", pad=3, style="italic" if italic else "normal"
    )
    axes.set_xlim(0, until * 1.03)
    axes.set_ylim(-14, 118)
    axes.set_yticks([0, 50, 100])
    axes.spines["left"].set_bounds(0, 100)
    for level in (0, 50, 100):
        axes.axhline(level, color=palette.RULE, lw=0.5, zorder=0)
    for way in ("single", "multi"):
        mine = part[part["way"] == way].sort_values("day")
        counted, model = (mine[mine["source"] == source] for source in ("counted", "model"))
        band = model if len(model) else counted
        axes.fill_between(
            band["day"], band["low"] * 100, band["high"] * 100,
            step=None if len(model) else "post",
            color=palette.WAY_SOFT[way], alpha=0.5, lw=0,
        )  # fmt: skip
        axes.step(
            counted["day"], counted["estimate"] * 100, where="post",
            color=palette.WAY[way], ls=palette.DASH[way],
        )  # fmt: skip
    _name_lines(axes, part, paper, labels, until)


def _name_lines(
    axes: Axes, part: pd.DataFrame, paper: ink.Sheet, labels: Labels, until: float
) -> None:
    """Write each way beside its line: one above everything, one below, where that is closest."""
    words = {}
    for way in ("single", "multi"):
        rows = part[part["way"] == way]
        if rows.empty:
            continue
        word = labels.single if way == "single" else labels.multi
        words[way] = f"{word} ({int(rows['foundings'].iloc[0])})"
    style: dict[str, Any] = {"fontsize": paper.small, "weight": "bold"}
    shapes = _Shapes(part)
    wide = axes.get_window_extent().width / paper.figure.dpi / ink.MM
    half = max(paper.measure(word, **style) for word in words.values()) / wide / 2 * until * 1.03
    best, spot = np.inf, (until - half, 104.0, -2.0, "single")
    for middle in np.linspace(half, until * 1.03 - half, 25):
        shape = shapes.between(middle - half, middle + half)
        roof, floor = shape["roof"], shape["floor"]
        cost = max(0.0, roof - 104) * 20 + max(0.0, 2 - floor) * 20 - shape["apart"]
        cost += abs(roof - shape["top"]) * 0.5 + abs(floor - shape["bottom"]) * 0.5
        if cost < best:
            best, spot = cost, (middle, min(roof + 2, 106), max(floor - 2, -1), shape["upper"])
    for way, word in words.items():
        above = way == spot[3]
        axes.text(spot[0], spot[1] if above else spot[2], word, color=palette.WAY_WORD[way],
                  ha="center", va="bottom" if above else "top", **style)  # fmt: skip


class _Shapes:
    """The lines of a panel, asked where they run between two days."""

    def __init__(self, part: pd.DataFrame) -> None:
        self.lines: dict[str, NDArray[np.float64]] = {}
        columns = ["day", "estimate", "low", "high"]
        for way, rows in part[part["source"] == "counted"].groupby("way"):
            self.lines[str(way)] = rows.sort_values("day")[columns].to_numpy(float)
        self.band = part.loc[part["source"] == "model", columns].to_numpy(float)

    def between(self, start: float, stop: float) -> dict[str, Any]:
        """Highest and lowest ink between two days, and which way runs above."""
        level: dict[str, float] = {}
        low, high = 1.0, 0.0
        for way, line in self.lines.items():
            first = max(int(np.searchsorted(line[:, 0], start, side="right")) - 1, 0)
            last = max(int(np.searchsorted(line[:, 0], stop, side="right")), first + 1)
            piece = line[first:last]
            level[way] = float(piece[:, 1].mean()) * 100
            column = (1, 1) if len(self.band) else (2, 3)
            low = min(low, float(piece[:, column[0]].min()))
            high = max(high, float(piece[:, column[1]].max()))
        inside = (self.band[:, 0] >= start - 3) & (self.band[:, 0] <= stop + 3)
        if inside.any():
            low = min(low, float(self.band[inside, 2].min()))
            high = max(high, float(self.band[inside, 3].max()))
        return {
            "roof": high * 100,
            "floor": low * 100,
            "top": max(level.values()),
            "bottom": min(level.values()),
            "apart": max(level.values()) - min(level.values()),
            "upper": max(level, key=lambda way: level[way]),
        }
