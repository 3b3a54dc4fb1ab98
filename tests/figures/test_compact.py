"""Fewer bytes, the same picture: paths, marks and words, and the dots of both drawings."""

from __future__ import annotations

import io
import re
from itertools import pairwise

import numpy as np
import pytest
import typst
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from svg_read import _pieces

from cohort import figures
from cohort.figures import compact, ink, svg
from cohort.figures.labels import ENGLISH

PLACES = st.lists(
    st.tuples(st.floats(-500, 500), st.floats(-500, 500)), min_size=2, max_size=60, unique=True
)


def written(points) -> str:
    """A path as matplotlib writes it."""
    return " ".join(f"{'L' if i else 'M'} {x:.6f} {y:.6f}" for i, (x, y) in enumerate(points))


@settings(max_examples=150, deadline=None)
@given(PLACES)
def test_a_short_path_goes_through_the_same_places(points):
    """Read by a reader of its own; a place is off by half of the last decimal at most."""
    short = compact.short_path(written(points), 1)
    ends = [b for _, b in _pieces(short)]
    kept = [points[0]]
    for point in points[1:]:  # two places that fall on one are drawn once
        if tuple(np.round(point, 1) + 0.0) != tuple(np.round(kept[-1], 1) + 0.0) or len(kept) == 1:
            kept.append(point)
    assert len(ends) == len(kept) - 1
    for end, point in zip(ends, kept[1:], strict=True):
        assert end == pytest.approx(point, abs=0.0501)
    assert len(short) <= len(written(points))


def test_rounding_does_not_add_up_along_a_path():
    """Steps of .04, each rounded by itself, would lead nowhere."""
    points = [(0.04 * i, 0.04 * i) for i in range(501)]
    assert sum(round(b[0] - a[0], 1) for a, b in pairwise(points)) == 0
    last = list(_pieces(compact.short_path(written(points), 1)))[-1][1]
    assert last == pytest.approx((20.0, 20.0), abs=0.05)


@pytest.mark.parametrize(
    ("value", "word"),
    [(0.5, ".5"), (-0.5, "-.5"), (0.04, "0"), (-0.04, "0"), (12.0, "12"), (100.0, "100")],
)
def test_numbers_take_as_few_letters_as_they_can(value, word):
    assert compact.number(value) == word


def test_level_and_upright_lines_and_repeated_letters_are_short():
    path = "M 1 2 L 11 2 L 11 22 L 1 22 z M 3 3 L 4 5 L 5 7"
    assert compact.short_path(path, 1) == "M1 2H11V22H1zM3 3 4 5 5 7"


def pixels(text: str) -> np.ndarray:
    setting = b"#set page(width: auto, height: auto, margin: 0pt)\n#image(bytes(sys.inputs.svg))"
    made = typst.compile(setting, font_paths=[ink.FONT_FOLDER], ignore_system_fonts=True,
                         format="png", ppi=72, sys_inputs={"svg": text})  # fmt: skip
    return np.asarray(Image.open(io.BytesIO(made)).convert("L"), float)


@pytest.mark.parametrize("name", ["both_ways", "season", "hundred", "first_days", "queen_survival"])
def test_the_small_picture_looks_like_the_large_one(demo, name):
    picture = figures.picture(name)
    with ink.style():
        figure = picture.draw(picture.frame(demo), 85, ENGLISH)
        raw = io.StringIO()
        figure.savefig(raw, format="svg", metadata={"Date": None, "Creator": None})
        small = ink.as_svg(figure, name, name)
    large = raw.getvalue()
    assert svg.words(small) == svg.words(large)
    assert len(re.findall("<use ", small)) == len(re.findall("<use ", large))
    assert len(small) < 0.45 * len(large)
    one, other = pixels(large), pixels(small)
    assert one.shape == other.shape
    apart = np.abs(one - other)
    assert apart.mean() < 1.0
    assert (apart > 96).mean() < 0.002  # hardly a dot is another
    shifted = np.abs(one - np.roll(one, 1, axis=1))
    assert shifted.mean() > 3 * apart.mean()  # a picture moved by a point would be found
