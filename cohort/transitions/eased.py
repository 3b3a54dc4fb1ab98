"""The coordinate that is walked in place of a standard normal that an SD multiplies.

Comes in: a coordinate, the SD, what the data tell. Goes out: the standard normal, its prior
density in the coordinate, slopes. Never: a prior of the SD.

If the data tell the effect SD x w with information ``told`` (one over the square of its error) and
pull it from nought with the slope ``pull`` (information x what they tell it to be), then given the
SD a standard normal w has precision g = 1 + SD^2 told and mean SD pull / g. So it is walked as

    v = (w - SD pull / g) sqrt(g)

which is standard normal whatever the SD (as far as the data tell like a normal; of a count of none
they do not, and the mean is off where the SD is large): where the data say little this is the
non-centred form, where they say much the centred one. Any ``told`` and ``pull`` give the same
posterior; good ones give it sooner.
"""

from __future__ import annotations

import math

from numba import njit


@njit(cache=True, error_model="numpy")
def ease(v, sd, told, pull):  # type: ignore[no-untyped-def]  # compiled by numba
    """The standard normal behind the eased coordinate v."""
    grown = 1.0 + sd * sd * told
    return v / math.sqrt(grown) + sd * pull / grown


@njit(cache=True, error_model="numpy")
def ease_back(w, d_w, sd, told, pull):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log prior density of the eased coordinate; slopes in it and in the SD.

    ``d_w`` is the slope of all else in the standard normal w.
    """
    square = sd * sd * told
    grown = 1.0 + square
    value = -0.5 * (w * w + math.log(grown))
    # of w in the SD, the eased coordinate held
    moved = (pull * (1.0 - square) / grown - (w - sd * pull / grown) * sd * told) / grown
    return value, (d_w - w) / math.sqrt(grown), (d_w - w) * moved - sd * told / grown
