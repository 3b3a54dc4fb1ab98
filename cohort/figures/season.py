"""The season, one bar per founding.

In comes a `Material`; out come bars (from look to look, as high as queens were alive) and marks
(first worker, each loss, queens taken out, gift, accident and other ends), and the picture.
Rows are sorted by kind, way of founding and fate so that the pattern shows. Never prints a
keeper's note or name.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd
from babel.dates import format_date
from matplotlib.axes import Axes
from matplotlib.collections import PatchCollection
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from cohort.figures import ink, key, palette, rows, season_key
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, each, kinds_in_order
from cohort.figures.names import kind_text

COLUMNS = [
    "founding", "genus", "named", "way", "rank", "what", "start", "stop", "queens", "workers",
    "compared",
]  # fmt: skip
TALLEST = 235.0
"""Highest drawing that still fits a page, millimetres."""
USUAL = 104.0
"""Height of the rows that leaves room for other things on a printed page, millimetres."""
LEAST_GROUP = 3.6
HAIR = 0.12
"""Thickness of a bar without a queen, millimetres."""
LEAST_BAR = 0.7
"""Days that a bar is drawn long at least, so that a founding not yet looked at is seen."""
QUIET_ENDS = ("followed", "horizon", "winter", "all lost")


def season_frame(material: Material) -> pd.DataFrame:
    """Bars and marks of every founding.

    Returns
    -------
    pandas.DataFrame
        Columns founding, genus, named, way, rank (0 = top row), what (`bar`, `first_worker`,
        `loss`, `all_lost`, `taken` or a kind of end), start, stop (dates; equal for marks), queens
        (alive along a bar, lost at a loss, taken out alive), workers (True on bars once workers
        were seen), compared.
    """
    foundings = material.history.foundings
    if foundings.empty:
        raise NotDrawn("no founding stands in the sheets")
    ordered = _in_order(foundings)
    bars = _bars(material, ordered)
    marks = _marks(material, ordered)
    frame = pd.concat([bars, marks], ignore_index=True)
    if frame.empty:
        raise NotDrawn("no founding has been looked at yet")
    frame = pd.concat([frame, _not_counted(ordered, bars)], ignore_index=True)
    known = ordered[["founding", "genus", "named", "arm", "rank", "started", "compared"]]
    frame = frame.merge(known, left_on="code", right_index=True, how="left")
    for column, day in (("start", "from_day"), ("stop", "to_day")):
        frame[column] = frame["started"] + pd.to_timedelta(frame[day], unit="D")
    frame = frame.rename(columns={"arm": "way"})
    return frame.sort_values(["rank", "start"], kind="stable")[COLUMNS].reset_index(drop=True)


def fate(foundings: pd.DataFrame) -> pd.Series:
    """Fate of each founding: 0 colony, 1 alive without workers, 2 ended, 3 and 4 lost."""
    lost = np.isfinite(foundings["lost_by"].astype(float))
    workers = np.isfinite(foundings["first_by"].astype(float))
    ended = ~foundings["end_kind"].isin(QUIET_ENDS)
    out = np.select([lost & ~workers, lost, ended, ~workers], [4, 3, 2, 1], default=0)
    return pd.Series(out, index=foundings.index)


def _in_order(foundings: pd.DataFrame) -> pd.DataFrame:
    place = {kind.genus: i for i, kind in enumerate(kinds_in_order(foundings))}
    table = foundings.copy()
    table["place"] = table["genus"].map(place).fillna(len(place))
    table["fate"] = fate(foundings)
    table["late"] = -table["lost_by"].astype(float).clip(upper=1e6)
    table["way"] = (table["arm"] != "single").astype(int)
    table = table.sort_values(
        ["place", "genus", "way", "compared", "fate", "late", "started"],
        ascending=[True, True, True, False, True, True, True],
        kind="stable",
    )
    table["rank"] = np.arange(len(table))
    return table


def _bars(material: Material, ordered: pd.DataFrame) -> pd.DataFrame:
    pieces = [material.history.intervals]
    later = getattr(material.history, "later", None)
    if later is not None and len(later):
        pieces.append(later)
    table = pd.concat(pieces, ignore_index=True)[["code", "after", "by", "at_risk"]]
    table = table.sort_values(["code", "after"], kind="stable")
    first = ordered["first_by"].astype(float)
    table["first"] = table["code"].map(first)
    # a bar that holds the first worker is cut there
    cut = (table["after"] < table["first"]) & (table["first"] < table["by"])
    before = table[cut].assign(by=table.loc[cut, "first"])
    after = table[cut].assign(after=table.loc[cut, "first"])
    table = pd.concat([table[~cut], before, after]).sort_values(["code", "after"], kind="stable")
    table["workers"] = table["after"] >= table["first"]
    same = (
        table["code"].eq(table["code"].shift())
        & table["at_risk"].eq(table["at_risk"].shift())
        & table["workers"].eq(table["workers"].shift())
        & table["after"].eq(table["by"].shift())
    )
    run = (~same).cumsum()
    merged = table.groupby(run, sort=False).agg(
        code=("code", "first"), from_day=("after", "first"), to_day=("by", "last"),
        queens=("at_risk", "first"), workers=("workers", "first"),
    )  # fmt: skip
    return merged.assign(what="bar")


def _not_counted(ordered: pd.DataFrame, bars: pd.DataFrame) -> pd.DataFrame:
    """Bars of foundings whose queens were counted at no look since they began."""
    rest = ordered[~ordered.index.isin(bars["code"])]
    return pd.DataFrame(
        {"code": rest.index, "from_day": rest["entry"], "to_day": rest["end"],
         "queens": rest["entry_queens"], "workers": False, "what": "bar"}
    )  # fmt: skip


def _marks(material: Material, ordered: pd.DataFrame) -> pd.DataFrame:
    intervals = material.history.intervals
    losses = intervals[intervals["lost"] > 0]
    parts = [
        pd.DataFrame(
            {
                "code": losses["code"],
                "from_day": losses["by"],
                "queens": losses["lost"],
                "what": np.where(losses["alive"] > 0, "loss", "all_lost"),
            }
        )
    ]
    parts.append(_taken(intervals))
    seen = ordered[np.isfinite(ordered["first_by"].astype(float))]
    parts.append(
        pd.DataFrame(
            {"code": seen.index, "from_day": seen["first_by"], "queens": 0, "what": "first_worker"}
        )
    )
    ends = ordered[~ordered["end_kind"].isin(QUIET_ENDS)]
    parts.append(
        pd.DataFrame(
            {
                "code": ends.index,
                "from_day": ends["end"],
                "queens": ends["queens_end"],
                "what": ends["end_kind"],
            }
        )
    )
    marks = pd.concat(parts, ignore_index=True)
    return marks.assign(to_day=marks["from_day"], workers=False)


def _taken(intervals: pd.DataFrame) -> pd.DataFrame:
    """Queens taken out alive after a look: fewer at risk next than were alive."""
    table = intervals.sort_values(["code", "after"], kind="stable")
    later = table.groupby("code")["at_risk"].shift(-1)
    gone = (table["alive"] - later).where(later.notna(), 0).clip(lower=0)
    mine = table[gone > 0]
    return pd.DataFrame(
        {"code": mine["code"], "from_day": mine["by"], "queens": gone[gone > 0].astype(int),
         "what": "taken"}
    )  # fmt: skip


# ------------------------------------------------------------------ ink


@dataclass(frozen=True)
class _Layout:
    """Where each row stands, millimetres from the top of the body."""

    top: dict[int, float]
    step: float
    body: float
    groups: list[tuple[str, bool, str, float, float]]


def draw_season(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `season_frame`, width in millimetres."""
    narrow = width < 120
    layout = _layout(frame)
    over = key.laid_out(width, season_key.entries(frame, labels))
    head, foot = season_key.EXAMPLE + over.height + 1.0, 9.5
    paper = ink.sheet(width, layout.body + head + foot)
    names = _group_names(frame, labels)
    kind_wide = max(
        paper.measure(part, style="italic" if italic else "normal")
        for text, italic in names.values()
        for part in rows.wrap(text, narrow).split("\n")
    )
    way_wide = max(paper.measure(w, fontsize=paper.small) for w in _ways(labels, narrow).values())
    left = kind_wide + way_wide + 5.5
    axes = paper.panel(left, foot, width - left - 2.5, layout.body)
    _ground(axes, frame, layout, labels, paper)
    _bars_ink(axes, frame, layout)
    _marks_ink(axes, frame, layout)
    _side(paper, layout, names, labels, kind_wide, foot)
    season_key.example(paper, labels, groups=bool((frame["way"] == "multi").any()))
    over.draw(paper, paper.height - head + 0.5)
    return paper.figure


def _ways(labels: Labels, narrow: bool) -> dict[str, str]:
    if narrow:
        return {"single": labels.single_short, "multi": labels.multi_short}
    return {"single": labels.single, "multi": labels.multi}


def _group_names(frame: pd.DataFrame, labels: Labels) -> dict[str, tuple[str, bool]]:
    return {
        str(genus): kind_text(str(genus), bool(part["named"].iloc[0]), labels)
        for genus, part in frame.groupby("genus", sort=False)
    }


def _layout(frame: pd.DataFrame) -> _Layout:
    ranks = frame.drop_duplicates("rank").sort_values("rank")
    keys = list(zip(ranks["genus"], ranks["named"], ranks["way"], strict=True))
    sizes: dict[tuple[str, bool, str], int] = {}
    for group in keys:
        sizes[group] = sizes.get(group, 0) + 1
    room = TALLEST - 1.2 * len(sizes)
    count = max(len(keys), 1)
    step = min(2.8, max(1.5, USUAL / count), max(0.55, room / count))
    top: dict[int, float] = {}
    groups = []
    at, rank = 0.0, iter(ranks["rank"])
    before = ""
    for (genus, named, way), count in sizes.items():
        at += 1.6 if genus != before else 0.7
        before = genus
        high = max(count * step, LEAST_GROUP)
        groups.append((genus, named, way, at, high))
        for i in range(count):
            top[int(next(rank))] = at + i * step
        at += high
    return _Layout(top, step, at + 1.0, groups)


def _ground(
    axes: Axes, frame: pd.DataFrame, layout: _Layout, labels: Labels, paper: ink.Sheet
) -> None:
    first, last = frame["start"].min(), frame["stop"].max()
    axes.set_xlim(_number(first) - 3, _number(last) + 4)
    axes.set_ylim(layout.body, 0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    months = pd.date_range(first.to_period("M").to_timestamp(), last, freq="MS")
    months = months[months >= first - dt.timedelta(days=3)]
    room = axes.get_position().width * paper.width
    fits = max(1, int(room / (paper.measure("0000", fontsize=paper.small) + 1.5)))
    every = next(n for n in (1, 2, 3, 4, 6, 12, 24) if len(months) / n <= fits or n == 24)
    shown = months[::every]
    axes.set_xticks([_number(m) for m in shown], _months(shown, labels))
    for month in shown:
        axes.axvline(_number(month), color=palette.RULE, lw=0.4, zorder=0)
    before = ""
    for genus, _, _, at, _ in layout.groups:
        if before and genus != before:
            axes.axhline(at - 0.8, color=palette.RULE, lw=0.5, zorder=0)
        before = genus


def _months(shown: pd.DatetimeIndex, labels: Labels) -> list[str]:
    """Names of months, with the year under the first of each year."""
    out, before = [], 0
    for month in shown:
        name = str(format_date(month.date(), "LLL", locale=labels.language))
        out.append(f"{name}\n{month.year}" if month.year != before else name)
        before = month.year
    return out


def _number(date: pd.Timestamp) -> float:
    return float(date.value) / 86_400e9


def _bars_ink(axes: Axes, frame: pd.DataFrame, layout: _Layout) -> None:
    bars = frame[frame["what"] == "bar"]
    most = int(max(bars["queens"].max(), 1)) if len(bars) else 1
    full = layout.step * 0.88
    boxes: dict[str, list[Rectangle]] = {}
    for row in each(bars):
        high = max(full * row.queens / most, HAIR)
        middle = layout.top[int(row.rank)] + layout.step / 2
        start = _number(row.start)
        long = max(_number(row.stop) - start, LEAST_BAR)
        box = Rectangle((start, middle - high / 2), long, high)
        soft, strong = palette.WAY_SOFT[str(row.way)], palette.WAY[str(row.way)]
        colour = (strong if row.workers else soft) if row.compared else palette.LEFT_OUT
        boxes.setdefault(colour, []).append(box)
    for colour, group in boxes.items():
        axes.add_collection(PatchCollection(group, facecolor=colour, edgecolor="none", lw=0))


def _marks_ink(axes: Axes, frame: pd.DataFrame, layout: _Layout) -> None:
    size = float(np.clip(layout.step * 1.35, 1.3, 3.2))
    for what, part in frame[frame["what"] != "bar"].groupby("what"):
        x = [_number(day) for day in part["start"]]
        y = [layout.top[int(rank)] + layout.step / 2 for rank in part["rank"]]
        season_key.mark(axes, str(what), x, y, size)


def _side(
    paper: ink.Sheet, layout: _Layout, names: dict[str, tuple[str, bool]], labels: Labels,
    kind_wide: float, foot: float,
) -> None:  # fmt: skip
    ways = _ways(labels, paper.narrow)
    before = ""
    spans: dict[str, float] = {}
    for genus, _, _, _, high in layout.groups:
        spans[genus] = spans.get(genus, 0.0) + high
    for genus, _, way, at, high in layout.groups:
        y = foot + layout.body - at
        if genus != before:
            text, italic = names[genus]
            shown = rows.wrap(text, paper.narrow) if spans[genus] > 5.8 else text
            paper.write(1, y - 0.1, shown, va="top", style="italic" if italic else "normal",
                        linespacing=0.95)  # fmt: skip
        before = genus
        paper.write(kind_wide + 3.5, y - min(high / 2, 1.8), ways[way], va="center",
                    fontsize=paper.small, color=palette.WAY_WORD[way])  # fmt: skip
