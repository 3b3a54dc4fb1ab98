"""The coordinate that is walked in place of a standard normal that an SD multiplies.

Comes in: a coordinate, the SD, what the data tell. Goes out: the standard normal, its prior
density in the coordinate, gradient. Never: a prior of the SD.

If the data tell the effect SD x w with information ``information`` (one over the square of its
error) and pull it from nought with the derivative ``score`` (information x what they tell it to
be), then given the SD a standard normal w has precision g = 1 + SD^2 told and mean SD pull / g. So
it is walked as

    v = (w - SD pull / g) sqrt(g)

which is standard normal whatever the SD (as far as the data tell like a normal; of a count of none
they do not, and the mean is off where the SD is large): where the data say little this is the
non-centred form, where they say much the centred one. Any ``information`` and ``score`` give the
same posterior; good ones give it sooner.
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
    # of w in the SD, the non-centred coordinate held
    moved = (score * (1.0 - square) / grown - (w - sd * score / grown) * sd * information) / grown
    return value, (d_w - w) / math.sqrt(grown), (d_w - w) * moved - sd * information / grown
