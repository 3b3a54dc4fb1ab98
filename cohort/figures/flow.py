"""From the catch to the comparison: what became of queens and foundings.

In comes a `Material`; out comes one row per step with its parent, queens and foundings, and the
picture (a tree from top to bottom). Children add up to their parent; what the sheets do not say
is a step of its own. Never guesses a number: rough counts ("about 20") are left out of the sums
and said so.
"""

from __future__ import annotations

import re
from typing import Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from cohort.figures import ink, palette
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, each
from cohort.figures.names import foundings_text, queens_text

COLUMNS = ["step", "parent", "depth", "why", "queens", "foundings", "exact"]
OUT = ("left_out", "faulty", "not_kept", "released", "frozen", "unsaid", "died", "no_line")
"""Steps that lead out of the comparison."""
_PLAIN = re.compile(r"\d+")


def flow_frame(material: Material) -> pd.DataFrame:
    """Steps from the catch to the comparison.

    Returns
    -------
    pandas.DataFrame
        Columns step, parent (blank for a root), depth, why (reason of a `left_out` step), queens
        and foundings (whole numbers; -1 where the step does not count that), exact (False where
        sheets give a rough number or none, so that there were more).
    """
    foundings = material.study.foundings
    catches = material.study.catches
    if foundings.empty and catches.empty:
        raise NotDrawn("neither a catch nor a founding stands in the sheets")
    rows: list[dict[str, object]] = []
    own = foundings[foundings["from_"].astype(str) == ""]
    by_catch = own[own["catch"].isin(set(catches["catch"]))]
    if len(catches):
        _caught(rows, catches, by_catch)
    _started(rows, material, own, by_catch, bool(len(catches)))
    return pd.DataFrame(rows, columns=COLUMNS)


def _add(rows: list[dict[str, object]], step: str, parent: str, depth: int, queens: int,
         foundings: int = -1, *, why: str = "", exact: bool = True) -> None:  # fmt: skip
    rows.append(
        dict(step=step, parent=parent, depth=depth, why=why, queens=int(queens),
             foundings=int(foundings), exact=exact)
    )  # fmt: skip


def not_kept(catches: pd.DataFrame) -> tuple[pd.Series, pd.Series]:
    """Plain numbers of `not_kept` (0 where there is none) and whether each is a plain number."""
    said = catches["not_kept"].astype("string").fillna("").str.strip()
    plain = said.str.fullmatch(_PLAIN.pattern)
    return said.where(plain, "0").astype(int), plain.astype(bool)


def _caught(rows: list[dict[str, object]], catches: pd.DataFrame, linked: pd.DataFrame) -> None:
    queens = catches["queens"].astype("Int64")
    away, plain = not_kept(catches)
    died = catches["died"].astype("Int64").fillna(0).astype(int)
    # a catch of which more died than its line says were kept held at least those
    kept = queens.fillna(0).astype(int).clip(lower=died)
    known = queens.notna() & (queens.fillna(0).astype(int) >= died)
    used = catches["catch"].map(linked.groupby("catch")["queens"].sum()).fillna(0).astype(int)
    rest = kept - died - used
    over = int(-rest.clip(upper=0).sum())
    exact = bool(plain.all()) and bool(known.all())
    _add(rows, "caught", "", 0, int(kept.sum() + away.sum()), exact=exact)
    _add(rows, "not_kept", "caught", 1, int(away.sum()), exact=bool(plain.all()))
    why = catches["not_kept_why"].astype(str)
    for reason in ("released", "frozen"):
        count = int(away[why == reason].sum())
        if count or (why == reason).any():
            _add(rows, reason, "not_kept", 2, count, exact=bool(plain[why == reason].all()))
    unsaid = int(away[~why.isin(["released", "frozen"])].sum())
    if unsaid:
        _add(rows, "unsaid", "not_kept", 2, unsaid)
    _add(rows, "kept", "caught", 1, int(kept.sum()), exact=bool(known.all()))
    if int(died.sum()):
        _add(rows, "died", "kept", 2, int(died.sum()))
    if int(rest.clip(lower=0).sum()):
        _add(rows, "no_line", "kept", 2, int(rest.clip(lower=0).sum()))
    # what foundings hold beyond their catch line is told apart, so that the sums stay true
    _add(rows, "from_catch", "kept", 2, int(used.sum()) - over)
    if over:
        _add(rows, "over", "", 0, over)


def _started(rows: list[dict[str, object]], material: Material, own: pd.DataFrame,
             linked: pd.DataFrame, with_catch: bool) -> None:  # fmt: skip
    foundings = material.study.foundings
    other = int(own["queens"].sum() - linked["queens"].sum())
    if with_catch and other:
        _add(rows, "other_source", "", 0, other)
    _add(rows, "started", "", 0, int(own["queens"].sum()), len(foundings))
    out = foundings[foundings["left_out"] != ""]
    for reason, part in out.groupby("left_out", sort=True):
        mine = part[part["from_"].astype(str) == ""]
        _add(rows, "left_out", "started", 1, int(mine["queens"].sum()), len(part), why=str(reason))
    inside = foundings[foundings["left_out"] == ""]
    queens = inside["queens"].where(inside["from_"].astype(str) == "", 0)
    _add(rows, "analysed", "started", 1, int(queens.sum()), len(inside))
    for way in ("single", "multi"):
        chosen = inside["arm"] == way
        _add(rows, way, "analysed", 2, int(queens[chosen].sum()), int(chosen.sum()))
    if len(material.study.faulty):
        count = material.study.faulty["founding"].nunique()
        _add(rows, "faulty", "", 0, -1, count, exact=False)


def draw_flow(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `flow_frame`, width in millimetres."""
    step = 7.2 if width < 120 else 6.4
    rough = not bool(frame.loc[frame["step"].isin(["caught", "not_kept", "kept"]), "exact"].all())
    foot = 7.0 if rough else 2.0
    paper = ink.sheet(width, step * len(frame) + foot + 3)
    indent = 4.0 if paper.narrow else 7.0
    told = [_name(row, labels) for row in each(frame)]
    wide = max(
        2 + indent * depth + paper.measure(text)
        for text, depth in zip(told, frame["depth"], strict=True)
    )
    numbers = [_numbers(row, labels, paper.narrow) for row in each(frame)]
    tail = 3 + max(
        paper.measure(line, weight="bold") for text in numbers for line in text.split("\n")
    )
    if paper.narrow:
        wide = min(wide, width - tail - 12)
        told = [
            paper.wrapped(text, wide - 2 - indent * depth)
            for text, depth in zip(told, frame["depth"], strict=True)
        ]
    room = max(width - wide - tail - 6, 2.0)
    most = max(int(frame["queens"].max()), 1)
    axes = paper.panel(0, 0, width, paper.height)
    axes.set_axis_off()
    axes.set_xlim(0, width)
    axes.set_ylim(0, paper.height)
    middle = [paper.height - 2 - step * (i + 0.5) for i in range(len(frame))]
    _elbows(axes, frame, middle, indent)
    for row, y, text, number in zip(each(frame), middle, told, numbers, strict=True):
        colour = palette.WAY_WORD.get(str(row.step), palette.INK)
        axes.text(2 + indent * row.depth, y, text, va="center", fontsize=paper.size, color=colour,
                  linespacing=0.95)  # fmt: skip
        long = room * max(int(row.queens), 0) / most
        axes.add_patch(
            Rectangle((wide + 3, y - 1.6), long, 3.2, lw=0,
                      color=_colour(str(row.step)))
        )  # fmt: skip
        axes.text(wide + 4.5 + long, y, number, va="center", color=colour,
                  weight="normal" if "\n" in number else "bold",
                  fontsize=paper.small if "\n" in number else paper.size,
                  linespacing=1.0)  # fmt: skip
    if rough:
        axes.text(2, 3, labels.steps["rough"], va="center", fontsize=paper.small,
                  color=palette.QUIET)  # fmt: skip
    return paper.figure


def _colour(step: str) -> str:
    """The colour of a bar: the way, what was left out, or none in particular."""
    return palette.LEFT_OUT if step in OUT else palette.WAY.get(step, palette.RULE)


def _name(row: Any, labels: Labels) -> str:
    if row.step == "left_out":
        why = labels.left_out.get(str(row.why), str(row.why))
        return labels.steps["left_out"].format(why=why)
    return labels.steps[str(row.step)]


def _numbers(row: Any, labels: Labels, narrow: bool) -> str:
    sign = "" if row.exact or row.queens < 0 else "≥ "
    parts = []
    if row.foundings >= 0:
        parts.append(foundings_text(int(row.foundings), labels))
    if row.queens > 0 or (row.queens == 0 and row.foundings < 0):
        parts.append(sign + queens_text(int(row.queens), labels))
    return ("\n" if narrow else ", ").join(parts)


def _elbows(axes: Axes, frame: pd.DataFrame, middle: list[float], indent: float) -> None:
    place = {str(row.step): i for i, row in enumerate(each(frame))}
    for i, row in enumerate(each(frame)):
        if not row.parent:
            continue
        up = place[str(row.parent)]
        x = 2 + indent * (int(row.depth) - 1) + 1.2
        axes.plot([x, x, x + indent - 2], [middle[up] - 2.2, middle[i], middle[i]],
                  color=palette.QUIET, lw=0.6)  # fmt: skip
