"""How sure it is: a hundred dots of the same queens, together less apart.

In comes a `Material`; out come the draws of all kinds together and of each kind that has a
verdict, each on the last day of its own, with the sheets and before a sheet was read, and the
picture: per kind 100 dots, each as likely as the next, 0 marked, and behind them, pale and at the
same scale, what was held before. Never estimates anything: a dot is a quantile of the draws.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cohort.figures import ink, key, palette, rows
from cohort.figures.labels import Labels
from cohort.figures.material import (
    Material,
    NotDrawn,
    days_to_speak_of,
    rows_to_show,
)
from cohort.figures.names import chance_text, kind_text
from cohort.results.verdict_rows import HEADLINE
from cohort.terms.questions import AVERAGE, NEW

if TYPE_CHECKING:
    import numpy.typing as npt

COLUMNS = ["genus", "named", "queens", "day", "source", "draw", "value"]
SHARES = ["genus", "named", "queens", "day", "source", "mean", "low", "high", "multi"]
DOTS = 100
MOST_KINDS = 6
"""Kinds drawn; those with fewer foundings stand in the table alone."""
LARGEST, LEAST = 2.4, 0.5
"""Width of a dot, millimetres."""
HIGH, LOW = 25.0, 13.0
"""Height of the row of all kinds together and of a kind, millimetres."""
OUTER = 0.08
"""Share of what was held before that may lie beyond either end of the axis."""


def how_sure_frame(material: Material) -> pd.DataFrame:
    """Draws of the headline contrast, by kind.

    Returns
    -------
    pandas.DataFrame
        One row per draw: genus (``average`` first, then kinds with a verdict), named, queens, day,
        source (``posterior``, ``prior``), draw, value (together less apart, -1 to 1).

    Raises
    ------
    NotDrawn
        The comparison has not settled, or its results keep no such draws.
    """
    shown = [row for row in rows_to_show(material) if row[0] != NEW]
    shown.sort(key=lambda row: row[0] != AVERAGE)  # stable: kinds keep their order
    return contrast_frame(material, shown, ("posterior", "prior"))


def contrast_frame(
    material: Material, shown: list[tuple[str, bool]], sources: tuple[str, ...]
) -> pd.DataFrame:
    """Draws of the headline contrast of some kinds, each on the last day of its own.

    Parameters
    ----------
    material : Material
    shown : list of (str, bool)
        Genus and whether it is a scientific name, in printing order.
    sources : tuple of str
        Of `cohort.results.headline_draws.SOURCES`.
    """
    if not material.settled:
        raise NotDrawn("the comparison has not settled")
    draws = material.contrasts
    parts = []
    for genus, named in shown:
        days = days_to_speak_of(material, HEADLINE, genus)
        mine = draws[(draws["genus"] == genus) & (draws["queens"] == material.size)]
        mine = mine[mine["source"].isin(sources) & (mine["day"] == (days[-1] if days else -1))]
        if len(mine):
            parts.append(mine.assign(genus=genus, named=named, source=mine["source"].astype(str)))
    if not parts:
        raise NotDrawn("the results keep no draws of the same queens both ways")
    return pd.concat(parts, ignore_index=True)[COLUMNS]


def contrast_shares(frame: pd.DataFrame, level: float = 0.9) -> pd.DataFrame:
    """What the draws of each kind come to.

    Parameters
    ----------
    frame : DataFrame
        From `how_sure_frame`.
    level : float
        Mass between ``low`` and ``high``.

    Returns
    -------
    pandas.DataFrame
        Columns `SHARES`, one row per kind and source: mean, low and high of the contrast; multi:
        share of draws in which several queens do better, a tie half for each way.
    """
    tail = (1 - level) / 2
    out = []
    keys = ["genus", "named", "queens", "day", "source"]
    for names, part in frame.groupby(keys, sort=False):
        value = part["value"].to_numpy(float)
        low, high = np.quantile(value, [tail, 1 - tail])
        multi = float(np.mean(np.where(value == 0, 0.5, value > 0)))
        numbers = dict(mean=float(value.mean()), low=float(low), high=float(high), multi=multi)
        out.append(dict(zip(keys, names, strict=True)) | numbers)
    return pd.DataFrame(out, columns=SHARES)


def dots(values: pd.Series) -> npt.NDArray[np.float64]:
    """A hundred quantiles of draws, ascending: each stands for one of a hundred.

    The middle of each hundredth, so that as many lie below 0 as the draws say, rounded. After
    Kay, Kola, Hullman and Munson (2016), "When (ish) is my bus?", doi 10.1145/2858036.2858558.
    """
    return np.asarray(np.quantile(values.to_numpy(float), (np.arange(DOTS) + 0.5) / DOTS))


def stacked(
    values: npt.NDArray[np.float64], wide: float
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Columns of dots, none on both sides of 0: middle of its column and place in it, from 0."""
    column = np.floor(values / wide)
    place = np.zeros(len(values))
    for one in np.unique(column):
        mine = column == one
        place[mine] = np.arange(int(mine.sum()))
    return (column + 0.5) * wide, place


def reach(frame: pd.DataFrame) -> tuple[float, float]:
    """Ends of the axis, of 100: all dots, most of what was held before, 0 inside, whole tens."""
    now = frame.loc[frame["source"] == "posterior"].groupby("genus", sort=False)["value"]
    every = np.concatenate([dots(values) for _, values in now]) * 100
    before = frame.loc[frame["source"] == "prior", "value"].to_numpy(float) * 100
    low, high = [every.min(), -10.0], [every.max(), 10.0]
    if len(before):
        low.append(float(np.quantile(before, OUTER)))
        high.append(float(np.quantile(before, 1 - OUTER)))
    return max(10 * np.floor(min(low) / 10), -100.0), min(10 * np.ceil(max(high) / 10), 100.0)


def draw_how_sure(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `how_sure_frame`, width in millimetres."""
    kinds = [str(genus) for genus in dict.fromkeys(frame["genus"])]
    order = kinds[: 1 + MOST_KINDS]
    frame = frame[frame["genus"].isin(order)]
    probe = ink.sheet(width, 10)
    names = {genus: _name(frame, genus, labels, probe) for genus in order}
    longest = max(
        probe.measure(text, style=style, weight=weight) for text, style, weight in names.values()
    )
    high = [HIGH if i == 0 else LOW for i in range(len(order))]
    side = probe.measure(">99", weight="bold") + 2.5
    under = key.laid_out(width, _key(frame, labels))
    axis = probe.wrapped(labels.difference, width - 4, fontsize=probe.small)
    foot = under.height + 9.5 + 3.3 * axis.count("\n")
    paper = ink.sheet(width, sum(high) + foot + 5.5)
    left = longest + 2.5 + side
    axes = paper.panel(left, foot, width - left - side - 1, sum(high))
    across = width - left - side - 1
    ends = reach(frame)
    axes.set(xlim=ends, ylim=(sum(high), 0), yticks=[])
    axes.spines["left"].set_visible(False)
    axes.axvline(0, color=palette.INK, lw=0.8, zorder=2)
    axes.locator_params(axis="x", nbins=5 if paper.narrow else 9)
    paper.write(width / 2, foot - 4.2, axis, ha="center", va="top", fontsize=paper.small,
                color=palette.QUIET, linespacing=1.15)  # fmt: skip
    rows.heads(axes, paper, *_heads(labels, paper, across + 2 * side), out=side)
    scale = (ends[1] - ends[0]) / across  # of 100, to a millimetre
    shares = contrast_shares(frame).set_index(["genus", "source"])["multi"]
    for i, genus in enumerate(order):
        floor = float(sum(high[: i + 1]))
        mine = frame[frame["genus"] == genus]
        now = dots(mine.loc[mine["source"] == "posterior", "value"]) * 100
        wide = dot_size(now, high[i], scale)
        axes.axhline(floor, color=palette.RULE, lw=0.4, zorder=0)
        _before(axes, mine.loc[mine["source"] == "prior", "value"], floor, wide, scale, high[i])
        _now(axes, now, floor, high[i], wide, scale)
        text, style, weight = names[genus]
        paper.write(left - side - 1.5, foot + sum(high) - floor + high[i] / 2 - 1, text, ha="right",
                    style=style, weight=weight, linespacing=1.05)  # fmt: skip
        _told(paper, shares[genus], left, across, foot + sum(high) - floor + 1.0)
    under.draw(paper, 1.0)
    return paper.figure


def _heads(labels: Labels, paper: ink.Sheet, room: float) -> tuple[str, str]:
    """What lies on either side of 0, in as many words as there is room for."""
    long = "← " + labels.singly_better, labels.together_better + " →"
    if sum(paper.measure(word, fontsize=paper.small, weight="bold") for word in long) < room - 4:
        return long
    return "← " + labels.kept_singly, labels.kept_together + " →"


def _name(
    frame: pd.DataFrame, genus: str, labels: Labels, probe: ink.Sheet
) -> tuple[str, str, str]:
    """A kind as printed, its slant and weight."""
    named = bool(frame.loc[frame["genus"] == genus, "named"].iloc[0])
    text, italic = kind_text(genus, named, labels)
    return rows.wrap(text, narrow=True), "italic" if italic else "normal", rows.weight(genus)


def dot_size(values: npt.NDArray[np.float64], room: float, scale: float) -> float:
    """Width of a dot, millimetres: the largest with which each column fits its row.

    Parameters
    ----------
    values : ndarray
        Where the dots lie, of 100.
    room : float
        Height of the row, millimetres.
    scale : float
        Of 100, to a millimetre.
    """
    for wide in np.arange(LARGEST, LEAST, -0.05):
        if (stacked(values, wide * scale)[1].max() + 1) * wide <= room - 1.5:
            return float(wide)
    return LEAST


def _now(
    axes: Axes, values: npt.NDArray[np.float64], floor: float, room: float, wide: float,
    scale: float,
) -> None:  # fmt: skip
    """The dots, in the colour of the way that does better; on `floor` millimetres."""
    at, place = stacked(values, wide * scale)
    step = min(wide, (room - 1.5) / (place.max() + 1))  # closer where a column is too high
    for way, side in (("single", at < 0), ("multi", at > 0)):
        axes.plot(at[side], floor - (place[side] + 0.5) * step, "o", ls="none", mew=0,
                  ms=wide * 0.92 * rows.POINTS, color=palette.WAY[way], zorder=3)  # fmt: skip


def _before(
    axes: Axes, values: pd.Series, floor: float, wide: float, scale: float, room: float
) -> None:
    """What was held before, pale: its area is that of the hundred dots."""
    from scipy.stats import gaussian_kde

    if values.empty or float(values.std()) < 1e-9:
        return
    x = np.linspace(*axes.get_xlim(), 120)
    density = gaussian_kde(values.to_numpy(float) * 100)(x)  # to one of 100
    high = np.minimum(density * scale * DOTS * wide**2, room)
    axes.fill_between(x, floor - high, floor, color=palette.RULE, lw=0, zorder=1)


def _told(paper: ink.Sheet, share: pd.Series, left: float, across: float, low: float) -> None:
    """In how many of 100 each way does better, now and before, at the edges of a row."""
    for way, x, side in (("single", left - 1.5, "right"), ("multi", left + across + 1.5, "left")):
        now, before = (
            chance_text(float(share[s]) if way == "multi" else 1 - float(share[s]))
            if s in share else ""
            for s in ("posterior", "prior")
        )  # fmt: skip
        paper.write(x, low + 5.2, now, ha=side, weight="bold", color=palette.WAY_WORD[way])
        paper.write(x, low + 1.6, before, ha=side, color=palette.QUIET, fontsize=paper.small)


def _key(frame: pd.DataFrame, labels: Labels) -> list[key.Entry]:
    def dotted(axes: Axes, x: float, y: float) -> None:
        for way, at in (("single", x - 1.1), ("multi", x + 1.1)):
            axes.plot(at, y, "o", ms=4.5, mew=0, color=palette.WAY[way])

    out = [key.Entry(dotted, labels.dot)]
    if (frame["source"] == "prior").any():
        out.append(key.Entry(key.patch(palette.RULE), labels.beforehand))
    return out
