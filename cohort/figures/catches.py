"""Catch calendar: queens by day, kind and way of catching.

In comes a `Material`; out comes one row per day, way and kind with the queens kept, and the
picture: a timeline read downwards, one bar a day in which the kinds follow each other, every
number beside it. Never shows a place or a keeper, never leaves a number out.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd
from babel.dates import format_date, format_skeleton
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from cohort.figures import ink, key, palette
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, each
from cohort.figures.names import kind_text
from cohort.terms.voice import spoken_day

COLUMNS = ["method", "genus", "named", "date", "queens"]
MOST_DAYS = 40
"""Days that have a bar each; of more, a bar is a week, of still more, a month."""
STEP, LINE = 4.6, 3.5
"""Millimetres of a bar's row, and of each further line of words."""
GAP = 1.8
"""Millimetres left where more than a week lies between two bars."""
BAR = {85: 20.0, 175: 52.0}
"""Millimetres of the longest bar."""


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


def binned(frame: pd.DataFrame) -> tuple[pd.DataFrame, str]:
    """Queens by bar, its date the first day, and what a bar is: ``day``, ``week``, ``month``."""
    for name, period in (("day", "D"), ("week", "W-SUN"), ("month", "M")):
        start = frame["date"].dt.to_period(period).dt.start_time
        if start.nunique() <= MOST_DAYS or name == "month":
            break
    sums = frame.assign(date=start).groupby(["date", "method", "genus", "named"], sort=False)
    return sums["queens"].sum().reset_index(), name


def draw_catches(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `catches_frame`, width in millimetres."""
    table, unit = binned(frame)
    probe = ink.sheet(width, 10)
    days: list[tuple[Any, pd.DataFrame]] = list(table.groupby("date", sort=True))
    dates = [_date(day.date(), unit, labels) for day, _ in days]
    left = 3.0 + max(probe.measure(word) for word in dates)
    long = BAR[85 if probe.narrow else 175]
    room = width - left - long - 4.0
    sums = table.groupby("genus")["queens"].sum().sort_values(ascending=False, kind="stable")
    order = {str(genus): i for i, genus in enumerate(sums.index)}
    words = [_words(part, order, labels, probe, room) for _, part in days]
    tops, at = [], 0.0
    for i, (day, _) in enumerate(days):
        far = i > 0 and unit == "day" and (day - days[i - 1][0]).days > 7
        at += GAP if far else 0.0
        tops.append(at)
        at += STEP + LINE * (len(words[i]) - 1)
    queens = table.groupby("date")["queens"].sum()
    head = {"day": labels.bar_day, "week": labels.bar_week, "month": labels.bar_month}[unit]
    sign = key.Entry(_example, head.format(n=int(queens.sum())), wide=6.0)
    under = key.laid_out(width, [sign])
    paper = ink.sheet(width, at + under.height + 4.0)
    axes = paper.panel(0, 0, width, paper.height)
    axes.set_axis_off()
    axes.set(xlim=(0, width), ylim=(paper.height, 0))
    axes.plot([left] * 2, [1.0, at + 1.0], color=palette.QUIET, lw=0.5)
    for (_, part), top, date, told in zip(days, tops, dates, words, strict=True):
        middle = top + 1.0 + STEP / 2
        axes.text(left - 1.5, middle, date, ha="right", va="center", fontsize=paper.size)
        _bar(axes, part, order, left, middle, long / float(queens.max()))
        _tell(axes, paper, told, left + long + 2.0, middle)
    under.draw(paper, 1.0)
    return paper.figure


def _date(day: dt.date, unit: str, labels: Labels) -> str:
    if unit == "month":
        return str(format_date(day, "LLL y", locale=labels.locale))
    return spoken_day(str(format_skeleton("MMMd", day, locale=labels.locale)), labels.locale)


@dataclass(frozen=True)
class _Word:
    """A word, whether it is in italics, and whether the next one stands on its line."""

    text: str
    italic: bool = False
    tied: bool = False

    def wide(self, probe: ink.Sheet) -> float:
        style = "italic" if self.italic else "normal"
        return probe.measure(self.text, fontsize=probe.small, style=style)


def _words(
    part: pd.DataFrame, order: dict[str, int], labels: Labels, probe: ink.Sheet, room: float
) -> list[list[tuple[float, _Word]]]:
    """What a bar holds, way by way, in lines that fit; each word with its place."""
    words: list[_Word] = []
    for method, mine in part.groupby("method", sort=False):
        rows = sorted(each(mine), key=lambda row: order[str(row.genus)])
        for row in rows:
            text, italic = kind_text(str(row.genus), bool(row.named), labels)
            words.append(_Word(str(row.queens), tied=True))
            words += [_Word(word, italic) for word in text.split(" ")]
            if row is not rows[-1]:
                words[-1] = replace(words[-1], text=words[-1].text + ",")
        words += [_Word(w) for w in labels.methods.get(str(method), str(method)).split(" ")]
        words[-1] = replace(words[-1], text=words[-1].text + ";")
    words[-1] = replace(words[-1], text=words[-1].text[:-1])
    space = probe.measure("a a", fontsize=probe.small) - probe.measure("aa", fontsize=probe.small)
    lines: list[list[tuple[float, _Word]]] = [[]]
    at = 0.0
    for i, word in enumerate(words):
        wide = word.wide(probe)
        needed = wide + (space + words[i + 1].wide(probe) if word.tied else 0.0)
        if lines[-1] and at + needed > room:
            lines.append([])
            at = 0.0
        lines[-1].append((at, word))
        at += wide + space
    return lines


def _bar(
    axes: Axes, part: pd.DataFrame, order: dict[str, int], left: float, middle: float, scale: float
) -> None:
    """The kinds of a day one after another, a white line between two."""
    at = left
    sums = part.groupby("genus")["queens"].sum()
    for genus in sorted(sums.index, key=lambda genus: order[str(genus)]):
        long = float(sums[genus]) * scale
        axes.add_patch(Rectangle((at, middle - 1.3), long, 2.6, fc=palette.QUIET,
                                 ec=palette.PAPER, lw=0.6))  # fmt: skip
        at += long


def _tell(
    axes: Axes, paper: ink.Sheet, lines: list[list[tuple[float, _Word]]], left: float, middle: float
) -> None:
    """Every number of a day, right of the bars."""
    for i, words in enumerate(lines):
        for at, word in words:
            axes.text(left + at, middle + LINE * i, word.text, va="center_baseline",
                      fontsize=paper.small,
                      style="italic" if word.italic else "normal")  # fmt: skip


def _example(axes: Axes, x: float, y: float) -> None:
    for left, long in ((x - 3.0, 3.6), (x + 0.6, 2.4)):
        axes.add_patch(Rectangle((left, y - 1.2), long, 2.4, fc=palette.QUIET, ec=palette.PAPER,
                                 lw=0.6))  # fmt: skip
