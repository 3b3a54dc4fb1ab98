"""Partial non-centring of what an SD multiplies.

Comes in: a coordinate, the SD, information and score. Goes out: the standard normal behind the
coordinate, its log prior density in the coordinate, the gradient. Never: a prior of the SD.

Let an effect be SD x w, with w standard normal. Where the log-likelihood of the effect is about
normal with Fisher information I (``information``) and score s at 0 (``score``: I times the
estimate), w given the SD has precision g = 1 + SD^2 I and mean SD s / g. The sampled coordinate is

    v = (w - SD s / g) sqrt(g)

which is then standard normal whatever the SD. Where I is small this is the non-centred form, where
it is large the centred one. The normal approximation fails for a count of no losses, where the mean
is off if the SD is large. Any ``information`` and ``score`` give the same posterior; good ones only
make sampling quicker.
"""

from __future__ import annotations

import math

from numba import njit


@njit(cache=True, error_model="numpy")
def standard_normal(v, sd, information, score):  # type: ignore[no-untyped-def]  # compiled by numba
    """The standard normal behind the non-centred coordinate v."""
    grown = 1.0 + sd * sd * information
    return v / math.sqrt(grown) + sd * score / grown


@njit(cache=True, error_model="numpy")
def standard_normal_gradient(w, d_w, sd, information, score):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log prior density of the non-centred coordinate; gradient in it and in the SD.

    ``d_w`` is the derivative of all else in the standard normal w.
    """
    square = sd * sd * information
    grown = 1.0 + square
    value = -0.5 * (w * w + math.log(grown))
    # derivative of w in the SD, with v fixed
    moved = (score * (1.0 - square) / grown - (w - sd * score / grown) * sd * information) / grown
    return value, (d_w - w) / math.sqrt(grown), (d_w - w) * moved - sd * information / grown
