"""What the other kinds add: from each kind by itself, as counted, to all kinds taken together.

In comes a `Material`; out comes, per kind and way, the counted share and the model's, and the
picture: a line from the one to the other. A kind without a verdict has a grey line and no name.
Never beyond the last day of a kind, and never where too few foundings were followed to it.
"""

from __future__ import annotations

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cohort.figures import ink, key, palette
from cohort.figures.counted import counted
from cohort.figures.labels import Labels
from cohort.figures.material import (
    Material,
    NotDrawn,
    days_to_speak_of,
    each,
    flag,
    kinds_to_name,
    row_of,
)
from cohort.figures.names import kind_text
from cohort.terms.questions import AVERAGE

COLUMNS = [
    "genus", "named", "spoken", "way", "queens", "day", "counted", "model", "foundings",
]  # fmt: skip
QUANTITY = "chance_per_founding"
GAP = 3.3
"""Millimetres between two names."""


def shrinkage_frame(material: Material) -> pd.DataFrame:
    """Foundings with workers and a living queen: as counted and with what the other kinds tell.

    All on one day: the last to which each of the kinds was followed.

    Returns
    -------
    pandas.DataFrame
        One row per kind and way: genus (``average`` last), named, spoken (True: may be named),
        way, queens (of the model's number; counted are groups of any size), day, counted (nan:
        none, as of the average), model (shares of 1), foundings (whose fate on the day is known;
        of the average those behind it).

    Raises
    ------
    NotDrawn
        The comparison has not settled, there is one kind only, or no kind has both numbers.
    """
    if not material.settled:
        raise NotDrawn("the comparison has not settled")
    if len(material.kinds) < 2:
        raise NotDrawn("there is one kind only, so no other kind adds to it")
    days = [days_to_speak_of(material, QUANTITY, kind.genus) for kind in material.kinds]
    day = min((own[-1] for own in days if own), default=0)
    spoken = {kind.genus for kind in kinds_to_name(material)} | {AVERAGE}
    out = []
    for genus, named in (*((k.genus, k.named) for k in material.kinds), (AVERAGE, False)):
        for way, queens in (("single", 1), ("multi", material.size)):
            told = row_of(material, QUANTITY, genus, way, queens, day)
            if told is None or flag(told["carried_over"]):
                continue
            share, known = float("nan"), int(told["foundings"])
            if genus != AVERAGE:
                colonies, known = counted(material, genus, way, day)
                if not known:
                    continue
                share = colonies / known
            out.append(
                dict(genus=genus, named=named, spoken=genus in spoken, way=way, queens=queens,
                     day=day, counted=share, model=float(told["mean"]), foundings=known)
            )  # fmt: skip
    frame = pd.DataFrame(out, columns=COLUMNS)
    if frame["counted"].isna().all():
        raise NotDrawn("no kind was both counted and modelled on the same day")
    return frame


def draw_shrinkage(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `shrinkage_frame`, width in millimetres."""
    narrow = width < 120
    count = int(frame[frame["spoken"]].groupby("way").size().max())
    body = max(46.0, GAP * (count + 1))
    head, foot = 9.0, 10.0
    entries = [key.Entry(key.stroke(palette.LEFT_OUT, lw=0.9), labels.no_verdict)]
    under = key.laid_out(width, [] if frame["spoken"].all() else entries)
    paper = ink.sheet(width, (body + head + foot) * (2 if narrow else 1) + under.height)
    wide = width - 7 if narrow else (width - 10) / 2
    for i, way in enumerate(("single", "multi")):
        left = 8.0 if narrow else 8.0 + (wide + 1) * i
        bottom = under.height + foot + (body + head + foot) * (1 - i if narrow else 0)
        part = frame[frame["way"] == way]
        names = {
            str(r.genus): _short(str(r.genus), bool(r.named), labels)
            for r in each(part[part["spoken"]])
        }
        room = max(
            (paper.measure(t, style="italic" if it else "normal") for t, it in names.values()),
            default=0.0,
        )
        axes = paper.panel(left, bottom, wide - room - (9.0 if narrow else 12.5), body)
        _lines(axes, part, way)
        _names(axes, paper, part, names, body)
        sign, word = ("●", labels.single) if way == "single" else ("◆", labels.multi)
        paper.write(left, bottom + body + 5.5, f"{sign} {word}", weight="bold",
                    color=palette.WAY_WORD[way])  # fmt: skip
        _feet(axes, paper, labels)
    under.draw(paper, 1.0)
    return paper.figure


def _short(genus: str, named: bool, labels: Labels) -> tuple[str, bool]:
    """Name of a kind; one not yet named by its keeper's word alone, for want of room."""
    return (genus, False) if not named and genus != AVERAGE else kind_text(genus, named, labels)


def _lines(axes: Axes, part: pd.DataFrame, way: str) -> None:
    import seaborn as sns

    axes.set(xlim=(-0.06, 1.06), ylim=(-3, 103), yticks=[0, 25, 50, 75, 100])
    axes.grid(axis="y", color=palette.RULE, lw=0.4)
    axes.spines["bottom"].set_visible(False)
    kinds = part[part["counted"].notna()]
    long = kinds.melt(
        id_vars=["genus", "spoken"], value_vars=["counted", "model"], var_name="source"
    )
    long = long.assign(x=(long["source"] == "model").astype(float), value=long["value"] * 100)
    for spoken, colour in ((False, palette.LEFT_OUT), (True, palette.WAY[way])):
        mine = long[long["spoken"] == spoken]
        if mine.empty:
            continue
        sns.lineplot(mine, x="x", y="value", units="genus", estimator=None, color=colour,
                     linewidth=0.9, legend=False, ax=axes)  # fmt: skip
        for source, face in (("counted", palette.PAPER), ("model", colour)):
            ends = mine[mine["source"] == source]
            axes.plot(ends["x"], ends["value"], "o" if way == "single" else "D", ls="none",
                      ms=3.6, mfc=face, mec=colour, mew=0.9, clip_on=False)  # fmt: skip
    for row in each(part[part["counted"].isna()]):
        axes.axhline(row.model * 100, color=palette.INK, lw=0.8, ls=(0, (5, 2)), zorder=1)
    axes.set(xlabel="", ylabel="", xticks=[])


def _names(
    axes: Axes, paper: ink.Sheet, part: pd.DataFrame, names: dict[str, tuple[str, bool]],
    body: float,
) -> None:  # fmt: skip
    """Names at the right, each as near its mark as the others let it, with a thin line to it."""
    shown = part[part["spoken"]]
    wanted = list(shown["model"] * 100)
    places = ink.spread(wanted, GAP * 106 / body, -1, 101)
    wide = axes.get_position().width * paper.width
    beyond = axes.get_yaxis_transform()
    for row, value, place in zip(each(shown), wanted, places, strict=True):
        text, italic = names[str(row.genus)]
        axes.plot([1.0, 1 + 4 / wide], [value, place], transform=beyond, lw=0.4,
                  color=palette.QUIET, clip_on=False)  # fmt: skip
        axes.text(1 + 5 / wide, place, text, transform=beyond, va="center", fontsize=paper.size,
                  style="italic" if italic else "normal")  # fmt: skip


def _feet(axes: Axes, paper: ink.Sheet, labels: Labels) -> None:
    """Names of the two ends under a panel."""
    small = paper.small
    half = axes.get_position().width * paper.width * 0.5
    for x, side, word in ((0.0, "left", labels.as_counted), (1.0, "right", labels.pooled)):
        axes.annotate(
            paper.wrapped(word, half, fontsize=small), (x, 0), xycoords="axes fraction",
            xytext=(0, -4), textcoords="offset points", ha=side, va="top", fontsize=small,
            color=palette.QUIET, linespacing=1.0,
        )  # fmt: skip
