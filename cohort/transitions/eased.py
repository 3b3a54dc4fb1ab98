"""The coordinate that is walked in place of a standard normal that an SD multiplies.

Comes in: a coordinate, the SD, what the data tell. Goes out: the standard normal, its prior
density in the coordinate, slopes; and the SD behind its own coordinate. Never: a prior of the SD.

If the data tell the effect SD x w with information ``told`` (one over the square of its error) and
pull it from nought with the slope ``pull`` (information x what they tell it to be), then given the
SD a standard normal w has precision g = 1 + SD^2 told and mean SD pull / g. So it is walked as

    v = (w - SD pull / g) sqrt(g)

which is standard normal whatever the SD (as far as the data tell like a normal; of a count of none
they do not, and the mean is off where the SD is large): where the data say little this is the
non-centred form, where they say much the centred one. Any ``told`` and ``pull`` give the same
posterior; good ones give it sooner.

What the data then say of the SD falls off from SD = 1 / sqrt(told) on like a power of it where they
see no difference: a long tail, far beyond what few effects can tell, up to the end of its prior. So
the SD is walked as u, with SD = sinh(r u) / r and r^2 the information on what it multiplies, which
is the SD itself where the data say little, and its log (with a sign) where they say much.
"""

from __future__ import annotations

import math
from typing import Final

from numba import njit

NEAR_NOUGHT: Final = 1e-8
"""Below this sinh is its argument and cosh 1, to the last digit."""


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


@njit(cache=True, error_model="numpy")
def sd_of(u, told):  # type: ignore[no-untyped-def]  # compiled by numba
    """The SD behind its coordinate u, its slope in u, and the slope of the log of that slope."""
    rate = math.sqrt(told)
    if rate * abs(u) < NEAR_NOUGHT:
        return u, 1.0, told * u
    return math.sinh(rate * u) / rate, math.cosh(rate * u), rate * math.tanh(rate * u)
