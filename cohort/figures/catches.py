"""Catch calendar: queens by day, way of catching and kind.

In comes a `Material`; out comes one row per day, way and kind with the queens kept, and the
picture. Never shows a place or a keeper.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pandas as pd
from babel.dates import format_date
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cohort.figures import ink, palette
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, each
from cohort.figures.names import kind_text

COLUMNS = ["method", "genus", "named", "date", "queens"]
MOST_JOINED = 3
"""Numbers that are written as a sum, such as ``8 + 10``; more are added up."""
APART = 1.0
"""Millimetres between two numbers on a line."""


def catches_frame(material: Material) -> pd.DataFrame:
    """Queens caught and kept, by way of catching, kind and day.

    Returns
    -------
    pandas.DataFrame
        Columns method, genus, named, date, queens; a catch without a date or a number is not in.
    """
    table = material.study.catches
    table = table[table["date"].notna() & table["queens"].notna()].copy()
    if table.empty:
        raise NotDrawn("no catch with a date and a number stands in the sheets")
    table["label"] = [_label(row, material.study.kinds) for row in each(table)]
    known = material.study.foundings.drop_duplicates("genus").set_index("genus")["named"]
    table["queens"] = table["queens"].astype(int)
    sums = table.groupby(["method", "label", "date"], sort=True)["queens"].sum()
    out = sums.reset_index().rename(columns={"label": "genus"})
    fresh = set(table.loc[table["genus"].astype(str) != "", "label"])
    out["named"] = [bool(known.get(g, g in fresh)) for g in out["genus"]]
    return pd.DataFrame(out[COLUMNS])


def _label(row: Any, kinds: pd.DataFrame) -> str:
    if str(row.genus):
        return str(row.genus)
    hit = kinds.loc[kinds["kind"] == row.kind, "genus"]
    return str(hit.iloc[0]) if len(hit) and str(hit.iloc[0]) else str(row.kind)


def draw_catches(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `catches_frame`, width in millimetres."""
    lines = frame[["method", "genus", "named"]].drop_duplicates()
    order = list(zip(lines["method"], lines["genus"], lines["named"], strict=True))
    methods = list(dict.fromkeys(lines["method"]))
    step, head = 5.6, 5.0
    body = step * len(order) + head * len(methods)
    paper = ink.sheet(width, body + 9)
    names = [kind_text(str(g), bool(n), labels) for _, g, n in order]
    left = max(paper.measure(t, style="italic" if it else "normal") for t, it in names) + 5
    left = min(left, width * 0.45)
    axes = paper.panel(left, 7, width - left - 5, body)
    place = _places(order, step, head)
    axes.set_ylim(body, 0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    _dates(axes, frame, labels)
    most = max(int(frame["queens"].max()), 1)
    for row in each(frame.sort_values("queens", ascending=False, kind="stable")):
        y = place[(row.method, row.genus, row.named)]
        axes.plot(_at(row.date), y, "o", ms=_size(row.queens, most), color=palette.SINGLE_SOFT,
                  mec=palette.SINGLE, mew=0.5)  # fmt: skip
    for key, part in frame.groupby(["method", "genus", "named"], sort=False):
        _numbers(axes, paper, part, place[key], most, labels)
    _lines(axes, paper, order, names, place, labels, methods)
    return paper.figure


def _at(date: pd.Timestamp) -> float:
    return float(date.value) / 86_400e9


def _size(queens: int, most: int) -> float:
    """Width of a circle, points."""
    return float(1.6 + 4.4 * (queens / most) ** 0.5)


def together(
    at: Sequence[float], queens: Sequence[int], words: Callable[[tuple[int, ...]], float]
) -> list[tuple[float, tuple[int, ...]]]:
    """Numbers of one line put together until none lies on another.

    Parameters
    ----------
    at : sequence of float
        Where their circles stand, millimetres, ascending.
    queens : sequence of int
        The numbers.
    words : callable
        Numbers put together -> width of what is written for them, millimetres.

    Returns
    -------
    list of (float, tuple of int)
        Middle and numbers of each text; every number is in one of them.
    """
    out: list[tuple[float, float, tuple[int, ...]]] = []
    for x, count in zip(at, queens, strict=True):
        low, high = x, x
        own: tuple[int, ...] = (count,)
        while out:
            before_low, before_high, before = out[-1]
            gap = (low + high - before_low - before_high) / 2
            if gap >= (words(own) + words(before)) / 2 + APART:
                break
            out.pop()
            low, own = before_low, before + own
        out.append((low, high, own))
    return [((low + high) / 2, own) for low, high, own in out]


def _text(queens: tuple[int, ...], labels: Labels) -> str:
    if len(queens) <= MOST_JOINED:
        return " + ".join(map(str, queens))
    return labels.on_days.format(n=sum(queens), days=len(queens))


def _numbers(axes: Axes, paper: ink.Sheet, part: pd.DataFrame, y: float, most: int,
             labels: Labels) -> None:  # fmt: skip
    """Write how many queens each circle of a line stands for, none hidden by another."""
    part = part.sort_values("date", kind="stable")
    low, high = axes.get_xlim()
    scale = axes.get_position().width * paper.width / (high - low)
    small = paper.size - 1.2

    def wide(queens: tuple[int, ...]) -> float:
        return paper.measure(_text(queens, labels), fontsize=small)

    counts = [int(n) for n in part["queens"]]
    for middle, own in together([_at(d) * scale for d in part["date"]], counts, wide):
        axes.annotate(_text(own, labels), (middle / scale, y),
                      xytext=(0, _size(max(own), most) / 2 + 0.4), ha="center", va="bottom",
                      textcoords="offset points", fontsize=small)  # fmt: skip


def _places(order: list[tuple[str, str, bool]], step: float, head: float) -> dict[object, float]:
    out: dict[object, float] = {}
    at, before = 0.0, None
    for method, genus, named in order:
        if method != before:
            at += head
        before = method
        out[(method, genus, named)] = at + step / 2
        at += step
    return out


def _dates(axes: Axes, frame: pd.DataFrame, labels: Labels) -> None:
    first, last = frame["date"].min(), frame["date"].max()
    span = max((last - first).days, 6)
    axes.set_xlim(first.value / 86_400e9 - span * 0.08, first.value / 86_400e9 + span * 1.12)
    shown = pd.date_range(first, periods=4, freq=f"{max(span // 3, 1)}D")
    axes.set_xticks(
        [d.value / 86_400e9 for d in shown],
        [str(format_date(d.date(), "d MMM", locale=labels.language)) for d in shown],
    )
    for day in shown:
        axes.axvline(day.value / 86_400e9, color=palette.RULE, lw=0.4, zorder=0)


def _lines(axes: Axes, paper: ink.Sheet, order: list[tuple[str, str, bool]],
           names: list[tuple[str, bool]], place: dict[object, float], labels: Labels,
           methods: list[str]) -> None:  # fmt: skip
    high = axes.get_ylim()[0]
    for key, (text, italic) in zip(order, names, strict=True):
        axes.axhline(place[key], color=palette.RULE, lw=0.4, zorder=0)
        axes.annotate(text, (0, place[key]), xycoords=("axes fraction", "data"), xytext=(-5, 0),
                      textcoords="offset points", ha="right", va="center", fontsize=paper.size,
                      style="italic" if italic else "normal")  # fmt: skip
    for method in methods:
        first = min(place[key] for key in order if key[0] == method)
        paper.write(1, 7 + high - first + 5.0, labels.methods.get(method, method),
                    weight="bold", color=palette.QUIET, fontsize=paper.size - 0.5)  # fmt: skip
