"""Paper and ink shared by all pictures.

In comes a width in millimetres and what is to be drawn; out comes a `matplotlib` figure whose
margins are measured, and, from `save`, its SVG, PDF and PNG files. Text in SVG stays text (it can
be searched and read aloud); the font stack starts with DejaVu Sans, which comes with matplotlib,
and falls back to Verdana, whose letters have the same widths, so nothing moves. PDF and PNG are set
from that very SVG by typst, the PDF with TrueType fonts embedded and searchable: one drawing, and
quicker than matplotlib's own (its PDF takes ten times as long, nearly all of it for cutting fonts
down, its PNG three times). Never uses pyplot, so nothing global is left behind.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, cast

import matplotlib
import numpy as np
import typst
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.text import Text
from PIL import PngImagePlugin

from cohort.base import making
from cohort.figures import palette, svg

WIDTHS = (85, 175)
"""Widths in millimetres: one newsletter column, and both."""
MM = 1 / 25.4
RULER_DPI = 720
"""Dots to the inch at which letters are measured."""
FAMILY = "DejaVu Sans"
DPI = 300
"""Dots to the inch of a PNG."""
SIZES = {85: 8.0, 175: 8.5}
"""Points of ordinary text by width."""
SMALL = 7.5
"""Points of the smallest text: 7 can be read in print, and on a phone of 360 points across the
narrow drawing has letters of 11."""
PNG_HEAD = 33
"""Bytes of a PNG's signature and header chunk."""
FONT_FOLDER = str(Path(matplotlib.get_data_path()) / "fonts" / "ttf")
"""Where the typesetter finds the letters of the pictures."""
STYLE = {
    "font.family": FAMILY,
    "text.hinting": "no_hinting",  # letters are as wide as in print, whatever the grid of dots
    "svg.fonttype": "none",
    "svg.hashsalt": "cohort",
    "pdf.fonttype": 42,  # for analysts who save a figure themselves
    "axes.facecolor": "none",
    "lines.solid_capstyle": "butt",
    "axes.linewidth": 0.5,
    "axes.edgecolor": palette.QUIET,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "xtick.major.width": 0.5,
    "ytick.major.width": 0.5,
    "xtick.major.size": 2,
    "ytick.major.size": 2,
    "xtick.major.pad": 2,
    "ytick.major.pad": 2,
    "text.color": palette.INK,
    "axes.labelcolor": palette.QUIET,
    "xtick.color": palette.QUIET,
    "ytick.color": palette.QUIET,
    "axes.labelpad": 2.5,
    "lines.linewidth": 1.3,
    "path.simplify": True,
}


@dataclass(frozen=True)
class Sheet:
    """Blank paper of a given size.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The paper.
    width, height : float
        Size, millimetres.
    size : float
        Size of ordinary text, points.
    """

    figure: Figure
    width: float
    height: float
    size: float

    @property
    def narrow(self) -> bool:
        """True on one-column paper."""
        return self.width < 120

    @property
    def small(self) -> float:
        """Size of the smallest text, points."""
        return SMALL

    def panel(self, left: float, bottom: float, width: float, height: float) -> Axes:
        """Axes at a place given in millimetres from the lower left corner."""
        axes = self.figure.add_axes(
            (left / self.width, bottom / self.height, width / self.width, height / self.height)
        )
        axes.tick_params(labelsize=self.small)
        return axes

    def write(self, x: float, y: float, text: str, **how: Any) -> Text:
        """Text at a place given in millimetres."""
        style: dict[str, Any] = {"fontsize": self.size, "va": "center", **how}
        return self.figure.text(x / self.width, y / self.height, text, **style)

    def measure(self, text: str, *, fontsize: float = 0.0, weight: str = "normal",
                style: str = "normal") -> float:  # fmt: skip
        """Width of a text, millimetres; of several lines that of the longest."""
        return max(_wide(line, fontsize or self.size, weight, style) for line in text.split("\n"))

    def wrapped(self, text: str, room: float, **how: Any) -> str:
        """The text broken at words into lines no wider than `room` millimetres."""
        lines: list[str] = []
        for word in text.split(" "):
            longer = f"{lines[-1]} {word}" if lines else word
            if lines and self.measure(longer, **how) <= room:
                lines[-1] = longer
            else:
                lines.append(word)
        return "\n".join(lines)


@lru_cache(maxsize=4096)
def _wide(text: str, size: float, weight: str, style: str) -> float:
    """Width of one line, millimetres; words return on every picture, so they are kept."""
    slant: Any = style
    font = FontProperties(family=FAMILY, size=size, weight=weight, style=slant)
    across, _, _ = _ruler().get_text_width_height_descent(text, font, ismath=False)
    return float(across) / RULER_DPI / MM


@cache
def _ruler() -> Any:
    """What measures letters, finer than any picture is drawn."""
    return RendererAgg(10, 10, RULER_DPI)  # type: ignore[no-untyped-call]  # no stubs


@contextmanager
def style() -> Iterator[None]:
    """Matplotlib settings of the pictures, only while it lasts."""
    with matplotlib.rc_context(STYLE):  # type: ignore[arg-type]  # the stubs list every key
        yield


def sheet(width: float, height: float) -> Sheet:
    """Blank paper, millimetres."""
    figure = Figure(figsize=(width * MM, height * MM), dpi=72, facecolor=palette.PAPER)
    FigureCanvasAgg(figure)
    return Sheet(figure, width, height, SIZES[85 if width < 120 else 175])


def renderer(figure: Figure) -> Any:
    """What measures text on this figure."""
    return FigureCanvasAgg(figure).get_renderer()  # type: ignore[no-untyped-call]  # no stubs


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places near the wanted ones, at least `gap` apart and inside the bounds, order kept.

    When there is no room for the gap, the places are evenly spaced between the bounds.
    """
    count = len(wanted)
    if count == 0:
        return []
    if count > 1 and gap * (count - 1) > high - low:
        step = (high - low) / (count - 1)
        ranks = np.argsort(np.argsort(np.asarray(wanted), kind="stable"), kind="stable")
        return [low + step * int(rank) for rank in ranks]
    order = np.argsort(np.asarray(wanted), kind="stable")
    placed = [float(np.clip(wanted[i], low, high)) for i in order]
    for i in range(1, count):
        placed[i] = max(placed[i], placed[i - 1] + gap)
    placed[-1] = min(placed[-1], high)
    for i in range(count - 2, -1, -1):
        placed[i] = min(placed[i], placed[i + 1] - gap)
    out = [0.0] * count
    for place, i in zip(placed, order, strict=True):
        out[int(i)] = place
    return out


def day_ticks(until: float, most: float = 6.5) -> list[int]:
    """Days to write under an axis that ends at `until`, so many of them at most after 0."""
    step = next(s for s in (10, 15, 30, 60, 90, 180, 360) if until / s <= most or s == 360)
    return list(range(0, int(until) + 1, step))


def texts(figure: Figure) -> list[Text]:
    """All visible texts of a figure that are not empty."""
    found = figure.findobj(Text)
    return [t for t in found if isinstance(t, Text) and t.get_visible() and t.get_text().strip()]


def overlaps(figure: Figure, slack: float = 0.5) -> list[tuple[str, str]]:
    """Pairs of texts that lie on one another, or one text and `the edge`.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        Drawn picture.
    slack : float
        Overlap that is let pass, points.
    """
    draw = renderer(figure)
    figure.draw(draw)
    boxes = []
    undrawn = _undrawn(figure)
    for text in texts(figure):
        box = text.get_window_extent(draw)
        if box.width > 0 and id(text) not in undrawn:
            boxes.append((text.get_text(), box))
    wide, high = figure.bbox.width, figure.bbox.height
    bad = [
        (name, "the edge")
        for name, b in boxes
        if b.x0 < -slack or b.y0 < -slack or b.x1 > wide + slack or b.y1 > high + slack
    ]
    for i, (one, a) in enumerate(boxes):
        for other, b in boxes[i + 1 :]:
            across = min(a.x1, b.x1) - max(a.x0, b.x0)
            up = min(a.y1, b.y1) - max(a.y0, b.y0)
            if across > slack and up > slack:
                bad.append((one, other))
    return bad


def _undrawn(figure: Figure) -> set[int]:
    """Tick labels outside the axis limits: they exist but are not drawn."""
    out = set()
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            pad = (high - low) * 1e-6
            for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks()):
                if not low - pad <= tick.get_loc() <= high + pad:
                    out |= {id(tick.label1), id(tick.label2)}
    return out


def save(figure: Figure, stem: Path, title: str, alt: str = "") -> tuple[Path, Path, Path]:
    """Write a figure as SVG, PDF and 300-dpi PNG.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        Drawn picture.
    stem : pathlib.Path
        Path without ending.
    title, alt : str
        Name of the picture and what it shows, kept in the files.
    """
    paths = (stem.with_suffix(".svg"), stem.with_suffix(".pdf"), stem.with_suffix(".png"))
    making.write(paths[0], as_svg(figure, stem.name, title, alt))
    setting = _SETTING.format(
        file=_quoted(paths[0].name), title=_quoted(title), alt=_quoted(alt)
    ).encode()
    compiler = _compiler(str(stem.parent.resolve()))
    making.write(paths[1], cast(bytes, compiler.compile(setting, format="pdf")))
    pixels = compiler.compile(setting, format="png", ppi=DPI)
    making.write(paths[2], _with_size(cast(bytes, pixels), title))
    return paths


def _with_size(png: bytes, title: str) -> bytes:
    """A PNG that also says how large it is to be printed, and what it is.

    Two chunks of the PNG standard (ISO/IEC 15948, 11.3) right after its header.
    """
    per_metre = round(DPI / 0.0254)
    out = io.BytesIO()
    out.write(png[:PNG_HEAD])
    PngImagePlugin.putchunk(out, b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1))
    PngImagePlugin.putchunk(out, b"iTXt", b"Title\x00\x00\x00\x00\x00", title.encode())
    out.write(png[PNG_HEAD:])
    return out.getvalue()


_SETTING = """#set document(title: {title}, date: none)
#set page(width: auto, height: auto, margin: 0pt)
#image({file}, alt: {alt})
"""


@cache
def _compiler(folder: str) -> typst.Compiler:
    """Typesetter for one folder; it keeps the fonts it has read."""
    return typst.Compiler(root=folder, font_paths=[FONT_FOLDER], ignore_system_fonts=True)


def _quoted(text: str) -> str:
    """Text as a string literal of typst, so that nothing in it is read as markup."""
    plain = "".join(c if c.isprintable() else " " for c in text)
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'


def as_svg(figure: Figure, name: str, title: str, alt: str = "") -> str:
    """The figure as SVG text that may stand in a page (see `cohort.figures.svg`)."""
    raw = io.StringIO()
    figure.savefig(raw, format="svg", metadata={"Date": None, "Creator": None})
    return svg.clean(raw.getvalue(), prefix=name, title=title, alt=alt)
