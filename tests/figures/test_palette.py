"""Colours told apart without red or green sight, in grey, and on either paper.

Simulation matrices: Machado, Oliveira and Fernandes 2009, "A physiologically-based model for
simulation of color vision deficiency", table for severity 1.0 (doi 10.1109/TVCG.2009.113);
applied to linear RGB. Lightness: CIE 1976 L*. Contrast: WCAG 2.2, success criterion 1.4.3.
"""

from __future__ import annotations

import numpy as np
import pytest

from cohort.figures import hundred, palette

PROTAN = np.array([[0.152286, 1.052583, -0.204868],
                   [0.114503, 0.786281, 0.099216],
                   [-0.003882, -0.048116, 1.051998]])  # fmt: skip
DEUTAN = np.array([[0.367322, 0.860646, -0.227968],
                   [0.280085, 0.672501, 0.047413],
                   [-0.011820, 0.042940, 0.968881]])  # fmt: skip
NORMAL = np.eye(3)
TO_XYZ = np.array([[0.4124564, 0.3575761, 0.1804375],
                   [0.2126729, 0.7151522, 0.0721750],
                   [0.0193339, 0.1191920, 0.9503041]])  # fmt: skip  # IEC 61966-2-1 (sRGB, D65)
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


NEIGHBOURS = [
    (palette.SINGLE, palette.MULTI),
    (palette.SINGLE, palette.SINGLE_SOFT),
    (palette.MULTI, palette.MULTI_SOFT),
    (palette.NONE_LEFT, palette.ONE_LEFT),
    (palette.ONE_LEFT, palette.SEVERAL_LEFT),
    *((a, b) for a, b in zip(hundred.COLOUR.values(), list(hundred.COLOUR.values())[1:],
                             strict=False)),
]  # fmt: skip


@pytest.mark.parametrize("eye", [NORMAL, PROTAN, DEUTAN], ids=["all", "protan", "deutan"])
@pytest.mark.parametrize(("one", "other"), NEIGHBOURS)
def test_neighbours_are_seen_apart_by_every_eye(one, other, eye):
    assert apart(one, other, eye) > SEEN_APART


def test_the_measure_can_fail_red_and_green_of_one_lightness_are_one_to_a_deuteranope():
    red, green = "#c05a3c", "#6f8a2e"
    assert apart(red, green) > SEEN_APART
    assert apart(red, green, DEUTAN) < SEEN_APART


@pytest.mark.parametrize("paper", ["light", "dark"])
def test_the_two_ways_differ_in_grey_print(paper):
    one, other = palette.SINGLE, palette.MULTI
    soft = palette.SINGLE_SOFT, palette.MULTI_SOFT
    if paper == "dark":
        soft = tuple(palette.DARK[c] for c in soft)
        one, other = palette.DARK[one], palette.DARK[other]
        # in the dark both are light; there dash and mark tell them apart, grey is for print
        assert apart(one, other, DEUTAN) > SEEN_APART
    else:
        assert abs(lab(one)[0] - lab(other)[0]) > 20


@pytest.mark.parametrize("ink", [palette.INK, palette.QUIET, palette.SINGLE])
def test_words_can_be_read_on_either_paper(ink):
    assert contrast(ink, palette.PAPER) >= 4.5
    assert contrast(palette.DARK[ink], palette.DARK[palette.PAPER]) >= 4.5


def test_orange_words_are_bold_and_have_the_contrast_of_large_marks():
    assert contrast(palette.MULTI_WORD, palette.PAPER) >= 4.5
    assert contrast(palette.MULTI, palette.PAPER) >= 3  # SC 1.4.11, graphics
    assert contrast(palette.DARK[palette.MULTI_WORD], palette.DARK[palette.PAPER]) >= 4.5


@pytest.mark.parametrize(
    ("word", "band"),
    [(palette.PAPER, palette.NONE_LEFT), (palette.INK, palette.ONE_LEFT),
     (palette.INK, palette.SEVERAL_LEFT)],
)  # fmt: skip
def test_words_on_bands_can_be_read_on_either_paper(word, band):
    assert contrast(word, band) >= 4.5
    assert contrast(palette.DARK[word], palette.DARK[band]) >= 4.5


def test_black_on_white_is_21_as_the_standard_says():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


def test_every_colour_has_a_dark_one():
    light = {v for k, v in vars(palette).items() if k.isupper() and isinstance(v, str)}
    assert light == set(palette.DARK)
