"""Which foundings of a fit run on degree-days, and what a reader is told of it.

Comes in: an `Exposure`. Goes out: switches for the design, and notes. Never: a silent choice: who
runs on plain days is told with the reason.
"""

from __future__ import annotations

import math
from collections import Counter
from typing import Final

import numpy as np
import numpy.typing as npt

from cohort.likelihood.exposure import Exposure
from cohort.terms.adjusting import Adjust
from cohort.warmth import COLUMN, thresholds

SHOWN: Final = 4
"""Reasons told one by one; the rest are counted together."""


def who(exposure: Exposure) -> tuple[npt.NDArray[np.bool_], float]:
    """Which packed foundings run on degree-days, and the reference in degrees Celsius (or nan)."""
    names = exposure.foundings["founding"].astype(str)
    if exposure.warmth is None:
        return np.zeros(len(names), np.bool_), math.nan
    logged = names.isin(exposure.warmth.clocks.keys()).to_numpy(np.bool_)
    return logged, exposure.warmth.reference if logged.any() else math.nan


def _reasons(why: list[str]) -> str:
    """Reasons without their dates of one founding, the commonest first, with how many it holds."""
    counts = Counter(reason.split(",")[0] for reason in why).most_common()
    shown = [f"{reason} ({number})" for reason, number in counts[:SHOWN]]
    rest = sum(number for _, number in counts[SHOWN:])
    return "; ".join([*shown, f"other reasons ({rest})"] if rest else shown)


def told(exposure: Exposure, adjust: Adjust) -> tuple[str, ...]:
    """Notes on who runs on degree-days; none when the study has no shelf log."""
    if exposure.warmth is None:
        return ()
    logged, reference = who(exposure)
    names = exposure.foundings["founding"].astype(str).to_numpy()
    why = [exposure.warmth.why.get(name, "") for name in names[~logged]]
    if not logged.any():
        return (f"No founding runs on degree-days: {_reasons(why)}.",)
    low, high = thresholds(reference)
    count = int(logged.sum())
    notes = [
        f"{count} of {len(names)} foundings run on degree-days: the days to their first worker "
        f"are counted by the log of their shelf, above a threshold between {low:.0f} and "
        f"{high:.0f} C that is estimated. The unit is a day at {reference:.1f} C, the mean of "
        "these shelves, and what is said of new foundings is said for that warmth."
    ]
    if why:
        notes.append(
            f"The other {len(why)} run on plain days, as if kept at {reference:.1f} C: "
            f"{_reasons(why)}."
        )
    if COLUMN in adjust.first_worker:
        notes.append(
            "The days to the first worker are adjusted by the mean warmth of the shelf only for "
            "foundings on plain days: the log of the others tells more."
            if why
            else "The days to the first worker are not adjusted by the mean warmth of the shelf: "
            "every founding runs on degree-days."
        )
    return tuple(notes)
