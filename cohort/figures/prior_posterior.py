"""How much the sheets said: the same queens both ways, before a founding was seen and now.

In comes a `Material`; out come the draws of the priors and of the posterior, kind by kind, and
the picture: one row per kind, above its line the posterior, below it the prior. Never estimates
anything.
"""

from __future__ import annotations

import pandas as pd
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from cohort.figures import ink, palette, rows
from cohort.figures.how_sure import contrast_frame, contrast_shares, reach
from cohort.figures.labels import Labels
from cohort.figures.material import Material, each, rows_to_show
from cohort.figures.names import chance_text

COLOUR = {"posterior": palette.AWAY, "prior": palette.RULE}
HALF = {"posterior": -0.22, "prior": 0.24}
"""Where the words of each half stand, in rows from the line."""


def prior_posterior_frame(material: Material) -> pd.DataFrame:
    """Draws of the headline contrast by the priors alone and with the sheets.

    Returns
    -------
    pandas.DataFrame
        One row per draw, columns as in `cohort.figures.how_sure.how_sure_frame`; genus: kinds
        with a verdict, then ``average`` and ``new``; source: ``posterior``, ``prior``.

    Raises
    ------
    NotDrawn
        See `cohort.figures.how_sure.how_sure_frame`.
    """
    return contrast_frame(material, rows_to_show(material), ("posterior", "prior"))


def draw_prior_posterior(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `prior_posterior_frame`, width in millimetres."""
    import seaborn as sns

    wide = 9.0
    grid = rows.one_panel(frame, width, labels, step=10.5, sides=(0.0, wide), foot=18.0)
    axes, paper = grid.panels[0], grid.paper
    places = {genus: float(i) for i, genus in enumerate(grid.order)}
    shown = frame.assign(value=frame["value"] * 100, at=frame["genus"].map(places))
    sns.violinplot(
        shown, x="value", y="at", native_scale=True, hue="source", hue_order=list(HALF),
        palette=COLOUR, split=True, inner=None, cut=0, density_norm="area", common_norm=False,
        width=0.94, linewidth=0.6, linecolor=palette.QUIET, saturation=1, gridsize=160,
        orient="h", legend=False, ax=axes,
    )  # fmt: skip
    axes.set(ylabel="", ylim=(len(grid.order) - 0.5, -0.5), yticks=[])
    axes.set_xlim(*reach(frame["value"]))
    axes.axvline(0, color=palette.QUIET, lw=0.7)
    axes.locator_params(axis="x", nbins=5 if paper.narrow else 8)
    small = paper.size - 0.5
    room = axes.get_position().width * paper.width + wide
    axes.set_xlabel(paper.wrapped(labels.difference, room, fontsize=small), fontsize=small)
    rows.heads(axes, paper, "← " + labels.singly_better, labels.together_better + " →")
    _key(paper, labels)
    for row in each(contrast_shares(frame)):
        at = grid.order.index(str(row.genus))
        now = row.source == "posterior"
        axes.plot([row.mean * 100] * 2, [at, at + (-0.3 if now else 0.3)], lw=1.2 if now else 0.7,
                  color=palette.INK)  # fmt: skip
        axes.annotate(
            chance_text(row.multi), (1, at + HALF[row.source]), xycoords=("axes fraction", "data"),
            xytext=(4, 0), textcoords="offset points", ha="left", va="center",
            fontsize=paper.size - (0 if now else 1), weight="bold" if now else "normal",
            color=palette.INK if now else palette.QUIET,
        )  # fmt: skip
    return paper.figure


def _key(paper: ink.Sheet, labels: Labels) -> None:
    """Which half is which, in the order in which they stand."""
    axes = paper.panel(0, 0, paper.width, 6)
    axes.set_axis_off()
    axes.set(xlim=(0, paper.width), ylim=(0, 6))
    words = {"posterior": labels.with_sheets, "prior": labels.beforehand}
    small = paper.size - 0.5
    wide = sum(paper.measure(word, fontsize=small) + 8 for word in words.values())
    at = (paper.width - wide) / 2
    for source, word in words.items():
        axes.add_patch(Rectangle((at, 1.6), 3.4, 2.8, fc=COLOUR[source], ec=palette.QUIET, lw=0.6))
        axes.text(at + 4.6, 3, word, va="center", fontsize=small, color=palette.QUIET)
        at += paper.measure(word, fontsize=small) + 9
