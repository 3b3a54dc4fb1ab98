"""The coordinate that is walked in place of a standard normal that an SD multiplies.

Comes in: a coordinate, the SD, what the data tell. Goes out: the standard normal, its prior
density in the coordinate, slopes. Never: a prior of the SD.

For a standard normal w it is v = w sqrt(1 + SD^2 told). If the data tell the effect SD x w with
information ``told`` (one over the square of its error), the precision of v given the SD is 1
whatever the SD: where the data say little this is the non-centred form, where they say much the
centred one. Any ``told`` gives the same posterior; a good one gives it sooner.
"""

from __future__ import annotations

import math

from numba import njit


@njit(cache=True, error_model="numpy")
def ease(v, sd, told):  # type: ignore[no-untyped-def]  # compiled by numba
    """The standard normal behind the eased coordinate v."""
    return v / math.sqrt(1.0 + sd * sd * told)


@njit(cache=True, error_model="numpy")
def ease_back(w, d_w, sd, told):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log prior density of the eased coordinate; slopes in it and in the SD.

    ``d_w`` is the slope of all else in the standard normal w.
    """
    grown = 1.0 + sd * sd * told
    value = -0.5 * (w * w + math.log(grown))
    return value, (d_w - w) / math.sqrt(grown), (w * w - 1.0 - w * d_w) * sd * told / grown
