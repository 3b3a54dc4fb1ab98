"""The same queens, both ways: all kinds together, then kind by kind.

In comes a `Material`; out comes, per kind, the chance of at least one colony and the number of
colonies for equal queens, by the model where the kind may be spoken of, and as counted; and the
picture. Never shows one way without the other, never ranks kinds by an estimate: the order is by
foundings.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cohort.figures import key, palette, rows
from cohort.figures.counted import any_of, counted
from cohort.figures.labels import Labels
from cohort.figures.material import (
    Kind,
    Material,
    NotDrawn,
    days_to_speak_of,
    each,
    kinds_to_name,
    row_to_show,
)
from cohort.nonparametric.followed import compared
from cohort.terms.questions import AVERAGE, NEW

COLUMNS = [
    "genus", "named", "panel", "way", "source", "queens", "day", "estimate", "low", "high",
    "foundings", "together",
]  # fmt: skip
FEWEST = 3
"""Foundings of each way from which a kind has a row."""
MOST_KINDS = 9
"""Kinds with a row; those with fewer foundings are folded into one line."""
FOLDED = "folded"
"""Panel of kinds that have no row: their foundings only."""
PANELS = ("any", "count")
ASKED = (
    ("any", "single", "at_least_one_from_same_queens"),
    ("any", "multi", "chance_per_founding"),
    ("count", "single", "colonies_from_same_queens"),
    # a group makes one colony or none, so its count is its chance
    ("count", "multi", "chance_per_founding"),
)
SHIFT = {"single": -0.2, "multi": 0.2}
"""Where a way stands in the row of its kind."""


def both_ways_frame(material: Material) -> pd.DataFrame:
    """Equal queens, both ways.

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`, by kind, panel, way and source. Kinds: ``average`` first, then those
        with at least `FEWEST` foundings of each way, most foundings first, then ``new``. Panel:
        ``any``, the chance of at least one colony; ``count``, colonies on average; ``folded``, a
        kind without a row, which has foundings alone. Source: ``model``; ``counted``, of groups of
        that size and of as many single foundings, drawn from those counted. Foundings: behind the
        number; together: by several queens, of any size, of the kind.

    Raises
    ------
    NotDrawn
        The comparison has not settled, no day may be spoken of, or there are no numbers.
    """
    if not material.settled:
        raise NotDrawn("the comparison has not settled")
    if not days_to_speak_of(material, ASKED[0][2]) or not material.size:
        raise NotDrawn("fewer than eight foundings of each way were followed")
    spoken = {kind.genus for kind in kinds_to_name(material)}
    every = [] if len(material.kinds) == 1 else list(_model(material, AVERAGE, False))
    out, folded, shown = every, list[Kind](), 0
    for kind in material.kinds:
        told = list(_model(material, kind.genus, kind.named)) if kind.genus in spoken else []
        told += _counted(material, kind, told[0]["day"] if told else 0)
        if told and shown < MOST_KINDS:
            out, shown = out + told, shown + 1
        else:
            folded.append(kind)
    if len(material.kinds) > 1:
        out += _model(material, NEW, False)
    if not out:
        raise NotDrawn("the results have none of its numbers")
    day = max(int(row["day"]) for row in out)
    out += [row for kind in folded for row in _folded(material, kind, day)]
    return pd.DataFrame(out, columns=COLUMNS)


def _model(material: Material, genus: str, named: bool) -> Iterator[dict[str, Any]]:
    """Numbers of the model on the last day of a kind; none where one of them is missing."""
    size = material.size
    found = [row_to_show(material, quantity, genus, way, size) for _, way, quantity in ASKED]
    if any(row is None for row in found):
        return
    together = _foundings(material, "" if genus in (AVERAGE, NEW) else genus, "multi")
    for (panel, way, _), row in zip(ASKED, found, strict=True):
        assert row is not None  # looked at above
        yield dict(
            genus=genus, named=named, panel=panel, way=way, source="model", queens=size,
            day=int(row["day"]), estimate=float(row["mean"]), low=float(row["low"]),
            high=float(row["high"]), foundings=int(row["foundings"]), together=together,
        )  # fmt: skip


def _foundings(material: Material, genus: str, way: str) -> int:
    """Compared foundings of a kind (blank: of all) and way."""
    inside = compared(material.history.foundings)
    return int(((inside["arm"] == way) & (inside["genus"].eq(genus) | (genus == ""))).sum())


def _counted(material: Material, kind: Kind, day: int) -> list[dict[str, Any]]:
    """The same queens as counted: on the kind's day, or the last on which enough are known."""
    size = material.size
    ways = [_foundings(material, kind.genus, way) for way in ("single", "multi")]
    if min(ways) < FEWEST:
        return []
    days = [day] if day else days_to_speak_of(material, ASKED[0][2])[::-1]
    for on in days:
        alone, of_alone = counted(material, kind.genus, "single", on)
        groups, of_groups = counted(material, kind.genus, "multi", on, queens=size)
        if of_alone < max(size, FEWEST) or of_groups < FEWEST:
            continue
        share = groups / of_groups
        numbers = (any_of(alone, of_alone, size), share, size * alone / of_alone, share)
        return [
            dict(genus=kind.genus, named=kind.named, panel=panel, way=way, source="counted",
                 queens=size, day=on, estimate=value, low=float("nan"), high=float("nan"),
                 foundings=of_alone if way == "single" else of_groups, together=ways[1])
            for (panel, way, _), value in zip(ASKED, numbers, strict=True)
        ]  # fmt: skip
    return []


def _folded(material: Material, kind: Kind, day: int) -> list[dict[str, Any]]:
    nan = float("nan")
    return [
        dict(genus=kind.genus, named=kind.named, panel=FOLDED, way=way, source="counted",
             queens=material.size, day=day, estimate=nan, low=nan, high=nan,
             foundings=_foundings(material, kind.genus, way),
             together=_foundings(material, kind.genus, "multi"))
        for way in ("single", "multi")
    ]  # fmt: skip


# ------------------------------------------------------------------ ink


@dataclass(frozen=True)
class _Panel:
    """How one panel looks: name, title, ends and ticks of its axis, units of a share of 1."""

    name: str
    title: str
    limits: tuple[float, float]
    ticks: tuple[float, ...]
    scale: float


def draw_both_ways(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `both_ways_frame`, width in millimetres."""
    size = int(frame["queens"].iloc[0])
    words = {"k": size, "word": labels.numbers.get(size, str(size))}
    panels = (
        _Panel("any", labels.any_colony.format(**words), (-2, 102), (0, 25, 50, 75, 100), 100),
        _Panel("count", labels.colonies_each.format(**words), (-0.02 * size, 1.02 * size),
               tuple(range(size + 1)), 1),
    )  # fmt: skip
    shown = frame[frame["panel"] != FOLDED]
    under = key.laid_out(width, _key(frame, labels))
    grid = rows.two_panels(
        shown, width, labels, (panels[0].title, panels[1].title), under=under.height + 2.0
    )
    for axes, panel in zip(grid.panels, panels, strict=True):
        axes.set_xlim(*panel.limits)
        axes.set_xticks(list(panel.ticks))
        axes.grid(axis="x", color=palette.RULE, lw=0.4)
        axes.tick_params(axis="x", length=0)
        _marks(axes, shown[shown["panel"] == panel.name], grid.order, panel.scale)
    told = shown[shown["panel"] == "any"].drop_duplicates(["genus", "way"])
    behind = {
        str(genus): "+".join(str(part.loc[part["way"] == way, "foundings"].iloc[0])
                             for way in ("single", "multi"))
        for genus, part in told.groupby("genus", sort=False)
        if genus != NEW  # nobody has founded with one
    }  # fmt: skip
    rows.counts(grid, behind)
    under.draw(grid.paper, 1.0)
    return grid.paper.figure


def _marks(axes: Axes, part: pd.DataFrame, order: list[str], scale: float) -> None:
    for row in each(part):
        at = order.index(str(row.genus)) + SHIFT[row.way]
        if row.source == "counted":
            rows.hollow(axes, row.way, at, row.estimate, scale)
        else:
            heavy = row.genus == AVERAGE or len(order) == 1
            rows.bar(axes, row.way, at, (row.low, row.estimate, row.high), scale, heavy=heavy)


def _key(frame: pd.DataFrame, labels: Labels) -> list[key.Entry]:
    """What marks, lines and counts mean, and which kinds have no row."""
    ways = [
        key.Entry(key.mark(palette.MARK[way], palette.WAY[way], size=4.5), word,
                  wide=2.5, colour=palette.WAY_WORD[way])
        for way, word in (("single", labels.kept_singly), ("multi", labels.kept_together))
    ]  # fmt: skip
    out = [*ways, key.Entry(key.stroke(palette.QUIET), labels.likely_range)]
    if (frame.loc[frame["panel"] != FOLDED, "source"] == "counted").any():
        out.append(key.Entry(_hollow, labels.counted_few))
    first = frame[frame["panel"] == "any"].drop_duplicates("way")
    of = dict(zip(first["way"], first["foundings"].astype(int), strict=True))
    single, multi, every = of["single"], of["multi"], int(first["together"].iloc[0])
    words = labels.counts_key if every == multi else labels.counts_key_of
    out.append(
        key.Entry(None, words.format(single=single, multi=multi, k=int(frame["queens"].iloc[0]),
                                     all=every))
    )  # fmt: skip
    folded = frame[frame["panel"] == FOLDED]
    if len(folded):
        kinds, foundings = folded["genus"].nunique(), int(folded["foundings"].sum())
        word = labels.without_row_one if kinds == 1 else labels.without_row
        out.append(key.Entry(None, word.format(n=kinds, foundings=foundings)))
    return out


def _hollow(axes: Axes, x: float, y: float) -> None:
    """The hollow marks of both ways, for the key."""
    for marker, at in ((palette.MARK["single"], x - 1.2), (palette.MARK["multi"], x + 1.2)):
        key.mark(marker, palette.QUIET, hollow=True, size=3.6)(axes, at, y)
