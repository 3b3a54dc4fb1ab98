"""Who founded what: foundings by keeper and block, singly and in groups.

In comes a `Material`; out comes one row per keeper and block, and the picture. Where the study
does not let keepers be told apart, they are numbered. Never says how a keeper's queens fared.
"""

from __future__ import annotations

import pandas as pd
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure

from cohort.figures import ink, key, palette
from cohort.figures.labels import Labels
from cohort.figures.material import Material, NotDrawn, each
from cohort.nonparametric.followed import compared

COLUMNS = ["keeper", "number", "shown", "block", "place", "single", "multi", "share_multi"]
TONES = (palette.SINGLE_SOFT, palette.PAPER, palette.MULTI_SOFT)
"""Most of a block alone, as many of each way, most of it together."""
EVEN = (0.4, 0.6)
"""Share of groups of a block that counts as even."""
CELL = 10.5
"""Millimetres a cell is wide; as many as fit stand beside each other."""


def keepers_blocks_frame(material: Material) -> pd.DataFrame:
    """Compared foundings by keeper and block.

    Returns
    -------
    pandas.DataFrame
        Columns keeper (sign, or blank where keepers may not be told apart), number (from 1, by
        sign), shown (True: by sign), block, place (of the block among the keeper's own, from 1, by
        name), single, multi (foundings), share_multi.

    Raises
    ------
    NotDrawn
        The sheets name no blocks.
    """
    inside = compared(material.history.foundings)
    block = inside["block"].fillna("").astype(str).str.strip()
    mine = inside.assign(block=block)[block != ""]
    if mine.empty:
        raise NotDrawn("no founding was drawn by lot in a block")
    shown = bool(material.study.settings.show_keepers)
    signs = sorted(set(inside["keeper"].astype(str)))
    counts = pd.crosstab([mine["keeper"].astype(str), mine["block"]], mine["arm"])
    counts = counts.reindex(columns=["single", "multi"], fill_value=0).reset_index()
    counts = counts.sort_values(["keeper", "block"], kind="stable", ignore_index=True)
    return pd.DataFrame(
        {
            "keeper": counts["keeper"] if shown else "",
            "number": counts["keeper"].map(signs.index) + 1,
            "shown": shown,
            "block": counts["block"] if shown else "",  # names of blocks may tell whose they are
            "place": counts.groupby("keeper").cumcount() + 1,
            "single": counts["single"],
            "multi": counts["multi"],
            "share_multi": counts["multi"] / (counts["single"] + counts["multi"]),
        }
    )[COLUMNS]


def draw_keepers_blocks(frame: pd.DataFrame, width: int, labels: Labels) -> Figure:
    """Picture of `keepers_blocks_frame`, width in millimetres."""
    import seaborn as sns

    names = {
        int(row.number): str(row.keeper) if row.shown else labels.keeper_number.format(n=row.number)
        for row in each(frame.drop_duplicates("number"))
    }
    probe = ink.sheet(width, 10)
    left = 4 + max(probe.measure(name) for name in names.values())
    across = max(1, int((width - left - 3) // CELL))
    table, marks, heads = _cells(frame, names, across)
    lines, columns = table.shape
    step = 6.2
    over = probe.wrapped(f"{labels.block_order} →", width - 2, fontsize=probe.small)
    under = key.laid_out(
        width,
        [key.Entry(key.patch(tone, edge=palette.RULE), word) for tone, word in zip(
            TONES, (labels.more_single, labels.as_many, labels.more_multi), strict=True)],
    )  # fmt: skip
    head, foot = 2.0 + 3.4 * (1 + over.count("\n")), under.height + 2.5
    paper = ink.sheet(width, step * lines + head + foot)
    cell = min(CELL * 1.25, (width - left - 3) / columns)
    axes = paper.panel(left, foot, cell * columns, step * lines)
    sns.heatmap(
        table, annot=marks, fmt="", cmap=ListedColormap(list(TONES)), vmin=0, vmax=3, cbar=False,
        linewidths=0.8, linecolor=palette.RULE, mask=table.isna(), ax=axes,
        annot_kws={"color": palette.INK, "fontsize": paper.small},
    )  # fmt: skip
    axes.set(xlabel="", ylabel="", xticks=[], yticks=[])
    for side in axes.spines.values():
        side.set_visible(False)
    for i, name in enumerate(heads):
        axes.annotate(name, (0, i + 0.5), xycoords=("axes fraction", "data"), xytext=(-4, 0),
                      textcoords="offset points", ha="right", va="center",
                      fontsize=paper.size)  # fmt: skip
    paper.write(1.0, paper.height - 1.0, over, color=palette.QUIET, fontsize=paper.small, va="top",
                linespacing=1.15)  # fmt: skip
    under.draw(paper, 1.0)
    return paper.figure


def _cells(
    frame: pd.DataFrame, names: dict[int, str], across: int
) -> tuple[pd.DataFrame, pd.DataFrame, list[str]]:
    """Tone and words of each cell and the name of each line; a keeper of many blocks has more."""
    tones: list[list[float]] = []
    words: list[list[str]] = []
    heads: list[str] = []
    columns = min(across, int(frame["place"].max()))
    for number, name in names.items():
        part = frame[frame["number"] == number]
        for start in range(0, len(part), columns):
            piece = part.iloc[start : start + columns]
            rest = columns - len(piece)
            tones.append([_tone(share) for share in piece["share_multi"]] + [float("nan")] * rest)
            told = [f"{s}+{m}" for s, m in zip(piece["single"], piece["multi"], strict=True)]
            words.append(told + [""] * rest)
            heads.append(name if start == 0 else "")
    return pd.DataFrame(tones), pd.DataFrame(words), heads


def _tone(share: float) -> float:
    """Middle of the tone a share of groups is shown in."""
    return 0.5 if share < EVEN[0] else 2.5 if share > EVEN[1] else 1.5
