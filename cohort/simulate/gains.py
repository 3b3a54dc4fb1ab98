"""Two genera in which sharing a container gains so much, no more and no less.

In: a gain. Out: a :class:`~cohort.simulate.truth.Truth` under which three queens together have a
colony more often, by that gain, than three queens each alone have at least one.
Never: a formula. The effect of company that makes the gain is searched for among simulated lives.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from functools import cache
from typing import Any, Final

import numpy as np
from scipy.optimize import brentq

from cohort.simulate.design import Design
from cohort.simulate.events import run
from cohort.simulate.scenario import Scenario
from cohort.simulate.truth import GenusTruth, Truth

__all__ = ["DAY", "LEAST", "MOST", "SIZE", "gain_of", "truth_of_gain", "world_of_gain"]

#: Queens of a group, and the day on which colonies are counted.
SIZE = 3
DAY = 160
#: Gains that can be had.
LEAST, MOST = -0.3, 0.35

_OWN: Final[dict[str, Any]] = {"mated": 0.9, "frailty": 0.5}
_TOLERANT: Final = 0.3


def _genera(first: float, second: float, last_fight: float) -> dict[str, GenusTruth]:
    """Two genera with these daily hazards of a lone founding queen."""
    same = {"last_fight": last_fight, "multi_days": -0.05, **_OWN}
    return {
        "Lasius": GenusTruth(log_hazard=math.log(first), log_median_day=math.log(45.0), **same),
        "Messor": GenusTruth(log_hazard=math.log(second), log_median_day=math.log(55.0), **same),
    }


_BEGINNERS: Final = _genera(0.026, 0.020, last_fight=0.1)
"""One in four single foundings becomes a colony: here company can gain much."""
_PRACTISED: Final = _genera(0.008, 0.006, last_fight=0.8)
"""One in two does, and fights kill both: here company can cost more than `_MUCH`."""
_MUCH: Final = -0.15
_LIVES: Final = 40_000
_SEARCHED: Final = (-3.5, 1.0)


def _chance(own: GenusTruth, size: int, foundings: int, seed: int) -> float:
    """Share of foundings with workers and a living queen, as a keeper sees them."""
    paths = run(foundings, size, own, np.random.default_rng([seed, size]), float(DAY))
    return float(((paths.first_worker <= DAY) & (paths.alive(float(DAY)) > 0)).mean())


def gain_of(truth: Truth, *, foundings: int = 200_000, seed: int = 2) -> float:
    """Return the gain of a truth, the mean of its genera.

    Parameters
    ----------
    truth : Truth
    foundings : int
        Simulated for each genus and way.
    seed : int
    """
    gains = []
    for own in truth.genera.values():
        one, many = (_chance(own, size, foundings, seed) for size in (1, SIZE))
        gains.append(many - (1.0 - (1.0 - one) ** SIZE))
    return float(np.mean(gains))


def _with_company(together: float, plain: Mapping[str, GenusTruth]) -> Truth:
    """Queens that harm each other before workers do so after: it takes both to cost so much."""
    rivalry = _TOLERANT + max(0.0, together)
    return Truth(
        {
            name: dataclasses.replace(own, together=together, rivalry=rivalry)
            for name, own in plain.items()
        }
    )


@cache
def truth_of_gain(gain: float) -> Truth:
    """Return the truth of two genera under which groups of three gain so much.

    Both genera have the same effect of company, and with it rivalry; from gain to gain it is all
    that differs, but where company costs more than it could with so few single colonies.

    Parameters
    ----------
    gain : float
        Chance of a colony of three queens together, less the chance that three queens each alone
        give at least one; `LEAST` to `MOST`.

    Raises
    ------
    ValueError
        No effect of company gains so much.
    """
    if not LEAST <= gain <= MOST:
        raise ValueError(f"the gain must lie in {LEAST} to {MOST}: {gain}")

    plain = _BEGINNERS if gain > _MUCH else _PRACTISED

    def off(together: float) -> float:
        # the same seed for every effect of company: the gain then falls evenly with it
        return gain_of(_with_company(together, plain), foundings=_LIVES, seed=1) - gain

    return _with_company(round(float(brentq(off, *_SEARCHED, xtol=1e-3)), 3), plain)


def world_of_gain(gain: float, foundings: int = 64) -> Scenario:
    """Return a world in which nothing is broken and sharing gains so much.

    Sizes 1 and 3 by lot, looks every week to day `DAY`.

    Parameters
    ----------
    gain : float
        See `truth_of_gain`.
    foundings : int
    """
    return Scenario(
        f"gain{100 * gain:+.0f}",
        f"Three queens together have a colony in {100 * gain:+.0f} of 100 cases more than apart.",
        design=Design(foundings=foundings, sizes=(1, SIZE), look_every=7, horizon=DAY),
        truth=truth_of_gain(gain),
    )
