"""The textbook size of a log-rank comparison.

Comes in: two shares of success, a wished power. Goes out: events and subjects. Never: a
simulation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.stats import norm


@dataclass(frozen=True)
class Textbook:
    """Size of a log-rank test of two equal groups.

    Attributes
    ----------
    schoenfeld_events, schoenfeld_subjects : float
        Schoenfeld 1981, doi 10.1093/biomet/68.1.316.
    freedman_events, freedman_subjects : float
        Freedman 1982, doi 10.1002/sim.4780010204.
    """

    schoenfeld_events: float
    schoenfeld_subjects: float
    freedman_events: float
    freedman_subjects: float


def textbook(
    one: float, other: float, *, power: float = 0.8, alpha: float = 0.05
) -> Textbook | None:
    """Events and subjects (both groups together) for two shares without the event.

    Parameters
    ----------
    one, other : float
        Share without the event at the end of follow-up, under proportional hazards.
    power : float
    alpha : float
        Two-sided.

    Returns
    -------
    Textbook or None
        None when the shares are equal, or one of them is 0 or 1, for which there is no size.
    """
    if not (0 < one < 1 and 0 < other < 1) or one == other:
        return None
    ratio = math.log(other) / math.log(one)
    z = float(norm.ppf(1 - alpha / 2) + norm.ppf(power)) ** 2
    schoenfeld = 4 * z / math.log(ratio) ** 2
    freedman = z * ((1 + ratio) / (1 - ratio)) ** 2
    share = 1 - (one + other) / 2
    return Textbook(schoenfeld, schoenfeld / share, freedman, freedman / share)
