"""Colours told apart without red or green sight, in grey, and on either paper.

Simulation matrices: Machado, Oliveira and Fernandes 2009, "A physiologically-based model for
simulation of color vision deficiency", table for severity 1.0 (doi 10.1109/TVCG.2009.113);
applied to linear RGB. Lightness: CIE 1976 L*. Contrast: WCAG 2.2, success criterion 1.4.3.
"""

from __future__ import annotations

import re
from importlib import resources
from itertools import combinations, pairwise

import numpy as np
import pytest

from cohort.figures import hundred, palette, queens_left

PROTAN = np.array([[0.152286, 1.052583, -0.204868],
                   [0.114503, 0.786281, 0.099216],
                   [-0.003882, -0.048116, 1.051998]])  # fmt: skip
DEUTAN = np.array([[0.367322, 0.860646, -0.227968],
                   [0.280085, 0.672501, 0.047413],
                   [-0.011820, 0.042940, 0.968881]])  # fmt: skip
TRITAN = np.array([[1.255528, -0.076749, -0.178779],
                   [-0.078411, 0.930809, 0.147602],
                   [0.004733, 0.691367, 0.303900]])  # fmt: skip
NORMAL = np.eye(3)
TO_XYZ = np.array([[0.4124564, 0.3575761, 0.1804375],
                   [0.2126729, 0.7151522, 0.0721750],
                   [0.0193339, 0.1191920, 0.9503041]])  # fmt: skip  # IEC 61966-2-1 (sRGB, D65)
EYES = {"all": NORMAL, "protan": PROTAN, "deutan": DEUTAN, "tritan": TRITAN}
GREY_STEP = 15.0  # of L*: what must lie between neighbours in grey print
SEEN_APART = 20.0  # CIE 1976 colour difference; 2.3 is just noticeable (Mahy et al. 1994)


def linear(colour: str) -> np.ndarray:
    rgb = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def lab(colour: str, eye: np.ndarray = NORMAL) -> np.ndarray:
    xyz = TO_XYZ @ np.clip(eye @ linear(colour), 0, 1)
    t = xyz / np.array([0.95047, 1.0, 1.08883])
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def apart(one: str, other: str, eye: np.ndarray = NORMAL) -> float:
    return float(np.linalg.norm(lab(one, eye) - lab(other, eye)))


def contrast(one: str, other: str) -> float:
    light = [TO_XYZ[1] @ linear(c) for c in (one, other)]
    return (max(light) + 0.05) / (min(light) + 0.05)


def lightness(colour: str) -> float:
    return float(lab(colour)[0])


WAYS = (palette.SINGLE, palette.MULTI)
PALE = (palette.SINGLE_SOFT, palette.MULTI_SOFT)
FATES = tuple(hundred.COLOUR[fate] for fate in hundred.FATES)
LEFT = tuple(queens_left.COLOUR[left] for left in queens_left.LEFT)
NEIGHBOURS = [
    WAYS,
    *zip(WAYS, PALE, strict=True),
    *((palette.LEFT_OUT, pale) for pale in PALE),
    *pairwise(FATES),
    *pairwise(LEFT),
]
"""Colours that touch each other in a picture."""


@pytest.mark.parametrize("eye", EYES)
@pytest.mark.parametrize(("one", "other"), NEIGHBOURS)
def test_neighbours_are_seen_apart_by_every_eye_on_either_paper(one, other, eye):
    assert apart(one, other, EYES[eye]) > SEEN_APART
    assert apart(palette.DARK[one], palette.DARK[other], EYES[eye]) > SEEN_APART


@pytest.mark.parametrize(("one", "other"), NEIGHBOURS)
def test_neighbours_differ_in_grey_print(one, other):
    assert abs(lightness(one) - lightness(other)) >= GREY_STEP


def test_left_out_is_told_from_both_ways_in_grey_print_too():
    for way in WAYS:
        assert abs(lightness(palette.LEFT_OUT) - lightness(way)) > 13


@pytest.mark.parametrize("eye", EYES)
def test_no_two_fates_are_one_to_any_eye(eye):
    for one, other in combinations(set(FATES) | set(LEFT), 2):
        assert apart(one, other, EYES[eye]) > 10, (one, other)


def test_the_measure_can_fail_red_and_green_of_one_lightness_are_one_to_a_deuteranope():
    red, green = "#c05a3c", "#6f8a2e"
    assert apart(red, green) > SEEN_APART
    assert apart(red, green, DEUTAN) < SEEN_APART


def test_the_measure_can_fail_blue_and_green_are_near_each_other_to_a_tritanope():
    blue, green = "#2a7f8f", "#2a8f6a"
    assert apart(blue, green) > SEEN_APART
    assert apart(blue, green, TRITAN) < SEEN_APART / 2


def test_greys_keep_their_lightness_to_every_eye():
    """Rows of each matrix add up to 1: what has no colour gets none."""
    for eye in EYES.values():
        assert eye.sum(axis=1) == pytest.approx([1, 1, 1], abs=2e-6)


def test_a_colour_has_one_meaning():
    """Ways, fates, what is left out, and what carries words share no colour."""
    sets = (
        {*WAYS, *PALE, palette.MULTI_WORD},
        {*FATES, *LEFT} - {palette.LEFT_OUT},
        {palette.LEFT_OUT},
        {palette.INK, palette.QUIET, palette.RULE, palette.PAPER},
    )
    for one, other in combinations(sets, 2):
        assert not one & other
    for one, other in combinations([{palette.DARK[c] for c in s} for s in sets], 2):
        assert not one & other


@pytest.mark.parametrize("ink", [palette.INK, palette.QUIET, palette.SINGLE, palette.MULTI_WORD])
def test_words_can_be_read_on_either_paper(ink):
    assert contrast(ink, palette.PAPER) >= 4.5
    assert contrast(palette.DARK[ink], palette.DARK[palette.PAPER]) >= 4.5


@pytest.mark.parametrize(
    "mark",
    [*WAYS, palette.COLONY, palette.LOST_EARLY, palette.LOST_LATE, palette.LEFT_OUT],
)
def test_marks_have_the_contrast_of_graphics(mark):
    """Success criterion 1.4.11; the pale tones always lie beside words that say what they are."""
    assert contrast(mark, palette.PAPER) >= 3
    paper = palette.DARK[palette.PAPER]
    floor = 2.5 if mark == palette.LOST_LATE else 3  # dark enough for the words on it
    assert contrast(palette.DARK[mark], paper) >= floor


@pytest.mark.parametrize(("left", "word"), queens_left.ON.items())
def test_words_on_bands_can_be_read_on_either_paper(left, word):
    band = queens_left.COLOUR[left]
    assert contrast(word, band) >= 4.5
    assert contrast(palette.DARK[word], palette.DARK[band]) >= 4.5


def test_black_on_white_is_21_as_the_standard_says():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


def test_every_colour_has_a_dark_one():
    light = {v for k, v in vars(palette).items() if k.isupper() and str(v).startswith("#")}
    assert light == set(palette.DARK)


def test_the_page_is_of_the_same_colours():
    """The style sheet of the page repeats a few of them by hand."""
    style = resources.files("cohort.newsletter") / "templates" / "page.css"
    light, dark = (
        dict(re.findall(r"--([a-z]+):(#[0-9a-f]+)", block))
        for block in re.findall(r":root\{(.*?)\}", style.read_text(encoding="utf-8"))
    )
    assert light["single"] == palette.SINGLE
    assert light["multi"] == palette.MULTI_WORD
    assert dark["single"] == palette.DARK[palette.SINGLE]
    assert dark["paper"] == palette.DARK[palette.PAPER]
