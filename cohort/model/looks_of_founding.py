"""What the looks showed of each founding, in five numbers: observed, and replicated.

Comes in: a `Calendar`, what its looks showed, or what each founding lives by. Goes out: the five
numbers of `TALLIES` by founding. Never: a fit, a statistic over foundings.

In a replicate each founding is begun anew with a frailty of its own, as in
`cohort.predict.posterior_predictive`: it is another founding of the same kind, size and calendar.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from cohort.likelihood import layout as at
from cohort.likelihood.by_founding import SHARED_FROM
from cohort.model.replicated import Seen, owner
from cohort.predict.posterior_predictive import Calendar, posterior_predictive

Floats = npt.NDArray[np.float64]
TALLIES: Final = (
    "losses_before_workers",
    "losses_after_workers",
    "queens_left",
    "with_workers",
    "day_shown",
)
"""Queens lost up to the look that first showed workers, and after it; queens alive at the last
look; 1 where workers were seen; the day of the look that first showed them, and where none did that
of the last look."""
DAY_SHOWN: Final = TALLIES.index("day_shown")
NEAR: Final = 1e-3
"""Days by which a replicated day may be off: days are kept short there."""


def in_tallies(plan: Calendar, seen: Seen) -> Floats:
    """The five numbers of every founding.

    Parameters
    ----------
    plan : Calendar
    seen : Seen

    Returns
    -------
    float array, shape (studies, foundings, len(TALLIES))
    """
    of, some = owner(plan), plan.stop > plan.start
    out: Floats = np.zeros((len(seen.first), len(plan.size), len(TALLIES)))
    lost = (seen.at_risk - seen.alive).astype(float)
    after = plan.day > seen.first[:, of] + NEAR
    shown = np.isfinite(seen.first)
    out[..., 2] = plan.entry_queens
    last = plan.entry.copy()
    if len(plan.day):
        starts, ends = plan.start[some], plan.stop[some] - 1
        out[:, some, 0] = np.add.reduceat(lost * ~after, starts, axis=1)
        out[:, some, 1] = np.add.reduceat(lost * after, starts, axis=1)
        out[:, some, 2] = seen.alive[:, ends]
        last[some] = plan.day[ends]
    out[..., 3] = shown
    out[..., DAY_SHOWN] = np.where(shown, np.where(shown, seen.first, 0.0), last)
    return out


def apart(lived: Floats) -> tuple[Floats, Floats]:
    """Rows of `cohort.likelihood.by_founding` as parameters and what is shared, by founding.

    Parameters
    ----------
    lived : float array, shape (..., foundings, LIVED)

    Returns
    -------
    float arrays, shapes (..., foundings, FOUNDING_WIDTH) and (..., foundings, SHARED_WIDTH)
    """
    shared = np.zeros((*lived.shape[:-1], at.SHARED_WIDTH))
    shared[..., : at.READ] = lived[..., SHARED_FROM:]
    return np.ascontiguousarray(lived[..., :SHARED_FROM]), shared


def replicated(lived: Floats, plan: Calendar, rng: np.random.Generator) -> Floats:
    """The five numbers of every founding begun anew.

    Parameters
    ----------
    lived : float array, shape (draws, foundings, LIVED)
        The frailty is not read.
    plan : Calendar
    rng : numpy Generator

    Returns
    -------
    float array, shape (draws, foundings, len(TALLIES))
    """
    return in_tallies(plan, Seen(*posterior_predictive(*apart(lived), plan, rng)))
