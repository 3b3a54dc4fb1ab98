"""How warm each shelf has been so far, for forecasts from results that run on degree-days.

Comes in: a study, its open foundings and a `Basis`. Goes out: the warmed days per day of each
founding by draw, and what a reader is told of it. Never: degree-days added up into the future: no
log tells how warm a shelf will be, and brood that rests through winter would grow on paper.

A forecast takes a shelf with a complete log to stay as warm as it has been on average. That
average stands for the days past, too: a first worker that came in a cold spring is weighed as if
the warmth had been spread evenly.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.history import History
from cohort.history.warmed import warmth_of
from cohort.outcomes.basis import Basis
from cohort.study import Study
from cohort.terms.voice import Told, told

Floats = npt.NDArray[np.float64]


def warmth_so_far(
    study: Study, past: History, foundings: pd.DataFrame, basis: Basis
) -> tuple[Floats | None, list[Told]]:
    """Log of the warmed days per day so far, and what to say of it.

    Parameters
    ----------
    study : Study
        As it stood on the day asked about.
    past : History
        Of the same study.
    foundings : DataFrame
        Rows of the history to forecast.
    basis : Basis

    Returns
    -------
    pace : float array, shape (draws of the basis, foundings), or None
        0 where the shelf has no complete log; None where the draws know no degree-days.
    says : list of Told
    """
    if not len(basis.threshold) or not math.isfinite(basis.reference):
        return None, []
    clocks = warmth_of(study, past, reference=basis.reference).clocks
    names = foundings["founding"].astype(str)
    out = np.zeros((len(basis.threshold), len(names)))
    count = 0
    done: dict[tuple[bytes, bytes], Floats] = {}
    for i, name in enumerate(names):
        clock = clocks.get(name)
        if clock is None:
            continue
        count += 1
        key = clock.low.tobytes(), clock.high.tobytes()
        if key not in done:
            done[key] = clock.log_pace(basis.threshold)
        out[:, i] = done[key]
    rest = len(names) - count
    says = []
    if count:
        says.append(told("shelf_logged", n=count))
    if rest:
        says.append(told("shelf_not_logged", n=rest, degrees=float(basis.reference)))
    return (out if count else None), says
