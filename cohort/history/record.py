"""The shape in which what happened to each founding is handed on.

What comes in: nothing. What goes out: the frozen `History` and the names of its columns. It
computes nothing.

One convention holds everywhere to the right of this module: a bracket is ``(after, by]``, in days
since day 0. Something that had not happened at the look on day ``after`` and had happened at the
look on day ``by`` happened in between, the last day included. ``by`` is infinite when it was
never seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from cohort.base.display import Facts, Shown, several
from cohort.base.frames import hands_out_copies, held
from cohort.terms.contract import COVARIATES
from cohort.terms.described import described

if TYPE_CHECKING:
    from cohort.history.winters import WinterRest
    from cohort.warmth.clock import Warmth

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

END_KINDS = (
    "followed",
    "horizon",
    "winter",
    "all lost",
    "given",
    "released",
    "escaped",
    "preserved",
    "accident",
    "gave-up",
    "parted",
    "queens-in",
    "joined",
    "frozen",
    "not-used",
)
"""What brought the follow-up of a founding to its end."""

FOUNDING_COLUMNS = (
    "founding",
    "genus",
    "named",
    "species",
    "season",
    "size",
    "arm",
    "keeper",
    "flight",
    "block",
    "assigned",
    "left_out",
    "compared",
    *(column.name for column in COVARIATES),
    "shelf",
    "mating_seen",
    "started",
    "closed",
    "entry",
    "entry_queens",
    "entry_workers",
    "first_after",
    "first_by",
    "looked_to",
    "end",
    "end_kind",
    "lost_after",
    "lost_by",
    "queens_end",
    "brood_in",
    "workers_cens",
    "brood_day",
    "brood_workers",
)


@hands_out_copies(
    foundings=described("foundings"),
    intervals=described("intervals"),
    later=described("intervals"),
)
@dataclass(frozen=True, repr=False, eq=False)
class History(Shown):
    """What was seen of every founding, as brackets, intervals, entry and end.

    Its frames are handed out as copies, with units and meanings of their columns in ``attrs``.

    Parameters
    ----------
    foundings : pandas.DataFrame
        One row per founding of the study, those left out of the comparison too; the index is the
        `code` that `intervals` speak of. Days are floats since day 0.

        ``size`` queens at day 0; ``compared`` whether it stands in the comparison;
        ``closed`` day the container was closed (0 unless days count from the flight); ``entry``,
        ``entry_queens``, ``entry_workers`` where follow-up began and what was there;
        ``first_after``, ``first_by`` bracket of the first worker (``inf``: not seen);
        ``looked_to`` last look that looked for workers and saw none (the same as ``first_after``);
        ``end``, ``end_kind``, ``queens_end`` the last counted look in use, why follow-up stops
        there, and the queens counted at it; ``lost_after``, ``lost_by`` bracket of the loss of
        all queens (``inf, inf``: not lost); ``brood_in`` day foreign brood was put in;
        ``workers_cens`` the same day where it came before the first own worker;
        ``brood_day``, ``brood_workers`` the exact count of workers 20 to 45 days after the first
        was seen that lies nearest 30 days, and the day (since day 0) it was taken on.

        A look at which workers were sought need not have counted queens, so ``first_by`` may lie
        inside an interval, and beyond ``end`` where the queens were counted no more.
    intervals : pandas.DataFrame
        One row per interval ``(after, by]`` between counted looks of the follow-up in use:
        ``code``, ``after``, ``by``, queens ``at_risk`` (after any were taken out), ``alive`` at
        the look that ends it (before any are taken out), ``lost``.
    later : pandas.DataFrame
        The same columns beyond the horizon, or beyond the first winter day where the study does
        not go through winter: for charts, never for a fit.
    horizon : int
        Day agreed at the start, to which foundings are followed.
    warmth : Warmth, optional
        Which foundings run on degree-days, see `cohort.warmth`; None when nobody asked.
    winters : mapping of str to WinterRest
        Winter rests by founding, of those that were followed into one; days in all frames go on in
        it.

    Examples
    --------
    >>> import cohort
    >>> past = cohort.read_study("data/demo").history()
    >>> past.horizon
    180
    >>> list(past.intervals.columns)
    ['code', 'after', 'by', 'at_risk', 'alive', 'lost']
    >>> past.intervals.attrs["meanings"]["lost"]
    'Queens lost in it'
    """

    foundings: pd.DataFrame
    intervals: pd.DataFrame
    later: pd.DataFrame
    horizon: int
    warmth: Warmth | None = None
    winters: Mapping[str, WinterRest] = field(default_factory=dict)

    def facts(self) -> tuple[str, Facts]:
        """Size of the history."""
        spans, found = held(self, "intervals"), held(self, "foundings")
        lost = int(spans["lost"].sum())
        workers = int((found["first_by"] < float("inf")).sum())
        return f"History up to day {self.horizon}", {
            "foundings": f"{len(found):,}, {int(found['compared'].sum()):,} compared",
            "seen": f"{several(len(spans), 'interval')}, {several(lost, 'queen')} lost, "
            f"{several(workers, 'founding')} with workers",
        }
