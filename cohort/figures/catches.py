"""Catch calendar: queens by day, way of catching and kind.

In comes a `Material`; out comes one row per day, way and kind with the queens kept, and the
picture. Never shows a place or a keeper.
"""

from __future__ import annotations

from typing import Any

import pandas as pd
from babel.dates import format_date
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.transforms import Bbox

from cohort.figures import ink, palette
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, each
from cohort.figures.names import kind_text

COLUMNS = ["method", "genus", "named", "date", "queens"]


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
    for row in each(frame):
        y = place[(row.method, row.genus, row.named)]
        at = float(row.date.value) / 86_400e9
        size = 1.6 + 4.4 * (row.queens / most) ** 0.5
        axes.plot(at, y, "o", ms=size, color=palette.SINGLE_SOFT, mec=palette.SINGLE, mew=0.5)
        axes.annotate(f"{row.queens}", (at, y), xytext=(0, size / 2 + 0.4), ha="center",
                      va="bottom", textcoords="offset points",
                      fontsize=paper.size - 1.2)  # fmt: skip
    _hide_crowded(axes, paper)
    _lines(axes, paper, order, names, place, labels, methods)
    return paper.figure


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
    axes.set_xlim(first.value / 86_400e9 - span * 0.05, first.value / 86_400e9 + span * 1.12)
    shown = pd.date_range(first, periods=4, freq=f"{max(span // 3, 1)}D")
    axes.set_xticks(
        [d.value / 86_400e9 for d in shown],
        [str(format_date(d.date(), "d MMM", locale=labels.language)) for d in shown],
    )
    for day in shown:
        axes.axvline(day.value / 86_400e9, color=palette.RULE, lw=0.4, zorder=0)


def _hide_crowded(axes: Axes, paper: ink.Sheet) -> None:
    """A number that would lie on the one before it is not written; the table has it."""
    draw = ink.renderer(paper.figure)
    kept: list[Bbox] = []
    for text in list(axes.texts):
        box = text.get_window_extent(draw)
        if any(box.overlaps(other) for other in kept):
            text.remove()
        else:
            kept.append(box)


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
