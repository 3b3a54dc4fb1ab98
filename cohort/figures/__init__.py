"""The pictures of a page: for each its numbers, and ink made from those numbers alone.

In comes a `Material`; out come SVG, PDF and PNG files, of the pictures of the page at both widths,
of those of the details at one, and for every picture that could not be made the reason. Never
estimates anything: numbers come from results, history and sheets.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, Self

import pandas as pd
from matplotlib.figure import Figure

from cohort.base import background
from cohort.figures import (
    both_ways,
    by_day,
    catches,
    every_kind,
    expected,
    first_days,
    flow,
    how_sure,
    hundred,
    ink,
    keepers_blocks,
    queens_left,
    season,
    shrinkage,
)
from cohort.figures.labels import ENGLISH, Labels
from cohort.figures.material import Material, NotDrawn

__all__ = [
    "PICTURES",
    "Begun",
    "Drawing",
    "Material",
    "NotDrawn",
    "Picture",
    "begin",
    "numbers",
    "picture",
]


@dataclass(frozen=True)
class Picture:
    """One picture of the page.

    Parameters
    ----------
    name : str
        Also the stem of its files.
    frame : callable
        Material -> numbers; raises `NotDrawn` when there are none.
    draw : callable
        Numbers, width in millimetres, words -> figure.
    section : str
        Section that it stands in, see `ON_PAGE`; the others are those of the page of details.
    file : str
        File of results in which its numbers lie unrounded; blank when they stand on the page only.
    question : str
        Question that the model's ranges in it answer; blank when it shows none.
    dated : bool
        True when it shows one day, the last of each kind.
    """

    name: str
    frame: Callable[[Material], pd.DataFrame]
    draw: Callable[[pd.DataFrame, int, Labels], Figure]
    section: Literal[
        "short", "sure", "season", "fates",
        "flow", "record", "blocks", "expected", "curves", "draws",
    ]  # fmt: skip
    file: str = ""
    question: str = ""
    dated: bool = False

    @property
    def on_page(self) -> bool:
        """True when it may stand on the page or across a printed one, not on the details alone."""
        return self.section in ON_PAGE

    @property
    def widths(self) -> tuple[int, ...]:
        """Widths at which its files are written, millimetres.

        A picture of the details has one: it fits a phone, a column in print, and the window.
        """
        return ink.WIDTHS if self.on_page else ink.WIDTHS[:1]


ON_PAGE = ("short", "sure", "season", "fates")
"""Sections of the page; every other is one of the page of details."""
PICTURES: tuple[Picture, ...] = (
    Picture(
        "both_ways", both_ways.both_ways_frame, both_ways.draw_both_ways,
        "short", "comparisons.csv", "colony", dated=True,
    ),
    Picture(
        "how_sure", how_sure.how_sure_frame, how_sure.draw_how_sure,
        "sure", question="colony", dated=True,
    ),
    Picture("season", season.season_frame, season.draw_season, "season"),
    Picture("hundred", hundred.hundred_frame, hundred.draw_hundred, "fates"),
    Picture("flow", flow.flow_frame, flow.draw_flow, "flow"),
    Picture("catches", catches.catches_frame, catches.draw_catches, "record"),
    Picture("first_days", first_days.first_days_frame, first_days.draw_first_days, "record"),
    Picture("queens_left", queens_left.queens_left_frame, queens_left.draw_queens_left, "record"),
    Picture(
        "keepers_blocks", keepers_blocks.keepers_blocks_frame, keepers_blocks.draw_keepers_blocks,
        "blocks",
    ),
    Picture("expected", expected.expected_frame, expected.draw_expected, "expected"),
    Picture(
        "queen_survival", by_day.survival_frame, by_day.draw_survival,
        "curves", "curves.csv", "queen_survival",
    ),
    Picture(
        "first_worker", by_day.first_worker_frame, by_day.draw_first_worker,
        "curves", "curves.csv", "first_worker",
    ),
    Picture(
        "every_kind", every_kind.every_kind_frame, every_kind.draw_every_kind,
        "curves", "curves.csv",
    ),
    Picture(
        "shrinkage", shrinkage.shrinkage_frame, shrinkage.draw_shrinkage,
        "draws", "comparisons.csv",
    ),
)  # fmt: skip
"""Every picture, in the order of the page and of the page of details."""


def picture(name: str) -> Picture:
    """Picture by its name; KeyError when there is none."""
    for one in PICTURES:
        if one.name == name:
            return one
    raise KeyError(name)


@dataclass(frozen=True)
class Drawing:
    """What became of one picture.

    Parameters
    ----------
    name : str
        Name of the picture.
    frame : pandas.DataFrame
        Its numbers; empty when it was not made.
    paths : tuple of pathlib.Path
        Files written: SVG, PDF and PNG of each of its widths.
    reason : str
        Why it was not made; blank when it was.
    """

    name: str
    frame: pd.DataFrame
    paths: tuple[Path, ...] = ()
    reason: str = ""

    def svg(self, width: int) -> Path:
        """SVG file of a width in millimetres."""
        return next(p for p in self.paths if p.name == f"{self.name}-{width}.svg")

    @property
    def widths(self) -> tuple[int, ...]:
        """Widths it was drawn at, millimetres, ascending."""
        found = {int(p.stem.rpartition("-")[2]) for p in self.paths if p.suffix == ".svg"}
        return tuple(sorted(found))


type Order = tuple[str, int, pd.DataFrame, tuple[str, str]]
"""A picture of one width to be drawn: name, width in millimetres, numbers, what it is and shows."""


def numbers(material: Material) -> dict[str, Drawing]:
    """Numbers of every picture, nothing drawn yet."""
    out = {}
    for one in PICTURES:
        try:
            out[one.name] = Drawing(one.name, one.frame(material))
        except NotDrawn as missing:
            out[one.name] = Drawing(one.name, pd.DataFrame(), reason=str(missing))
    return out


@dataclass(frozen=True)
class Begun:
    """Pictures that are being drawn by a second process, until their files are asked for.

    To be left (``with``): what is not begun by then, an error having come first, never will be.
    """

    folder: Path
    labels: Labels
    numbered: Mapping[str, Drawing]
    begun: tuple[tuple[Order, background.Later[list[Path]]], ...]

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for _, later in self.begun:
            later.cancel()

    def drawn(self) -> dict[str, Drawing]:
        """Every picture by name; one that was not made has a `reason` and no `paths`.

        What can be taken back from the second process is drawn here, from the last on.
        """
        paths: dict[str, list[Path]] = {one.name: [] for one in PICTURES}
        files = background.gathered([later for _, later in self.begun])
        for (order, _), own in zip(self.begun, files, strict=True):
            paths[order[0]] += own
        return {
            name: Drawing(name, self.numbered[name].frame, tuple(own), self.numbered[name].reason)
            for name, own in paths.items()
        }


def begin(
    material: Material,
    folder: Path,
    *,
    labels: Labels = ENGLISH,
    alts: Mapping[str, tuple[str, str]] | None = None,
    numbered: Mapping[str, Drawing] | None = None,
) -> Begun:
    """Begin to draw every picture whose data exist and to write its files.

    Parameters
    ----------
    material : Material
        Results, history and study.
    folder : pathlib.Path
        Where the files go; made if missing.
    labels : Labels
        Words of the language.
    alts : mapping of str to (str, str), optional
        What each picture is and what it shows, kept in its files.
    numbered : mapping of str to Drawing, optional
        What `numbers` gave, when it was asked before.
    """
    folder.mkdir(parents=True, exist_ok=True)
    told = alts or {}
    known = numbered or numbers(material)
    orders: list[Order] = []
    for one in PICTURES:
        drawn = () if known[one.name].reason else one.widths
        _remove(folder, one.name, set(ink.WIDTHS) - set(drawn))
        frame, alt = known[one.name].frame, told.get(one.name, (one.name, ""))
        orders += [(one.name, width, frame, alt) for width in drawn]
    begun = tuple((order, background.start(_ink, order, folder, labels)) for order in orders)
    return Begun(folder, labels, known, begun)


def _ink(order: Order, folder: Path, labels: Labels) -> list[Path]:
    """Draw and save a picture of one width; its files."""
    name, width, frame, told = order
    with ink.style():
        figure = picture(name).draw(frame, width, labels)
        return list(ink.save(figure, folder / f"{name}-{width}", *told))


def _remove(folder: Path, name: str, widths: Iterable[int]) -> None:
    """Take away files of a picture left by an earlier run: they no longer belong to the page."""
    for width in widths:
        for ending in ("svg", "pdf", "png"):
            (folder / f"{name}-{width}.{ending}").unlink(missing_ok=True)
