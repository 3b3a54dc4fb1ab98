"""What the model expected against what happened: replicated studies held against the sheets.

Comes in: a `Fit` and its `History`. Goes out: `Checks`: a table with a tail area per number and
group, what is flagged in it, and curves pushed through the same looks. Never: a verdict that a
model is right; a number inside its range only means that this check found nothing amiss.

One pass: each replicated study is made, counted and let go; its curves are kept of the first few
hundred only. What is drawn anew in a replicate stands in `replicated`, what is counted in
`tallies` and `statistics_by_group`, how a tail area is taken in `tail_areas`.

What no replicate can show. Where somebody chose, the better queens may have been put singly. If
what made them better was not written down, both ways look as the model expects them to: it takes
the difference for an effect of company. The spread of losses between foundings, and their course
by day, gave nothing away in five seasons made so (NOTES.md). What was written down is compared by
`balance`; for all else only a lot helps.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.history import History
from cohort.model import balance, broken_off, calendar_time, replicated_curves
from cohort.model.flags import as_table, flags, rows
from cohort.model.replicated import Seen, calendar, replicates
from cohort.model.sample import Fit
from cohort.model.statistics_by_group import Key, groups, statistics
from cohort.model.tallies import looks_of, tallies

Floats = npt.NDArray[np.float64]
REPLICATES: Final = 2_000
LEAST: Final = 500
"""Replicates of a study of many looks: enough for the twentieth from which tails are carried on."""
LOOKS: Final = 500_000_000
"""Looks that are replicated in all, where that makes no less than `LEAST` studies."""
CURVES_OF: Final = 400
"""Replicates whose curves are kept: those cost most, and a band needs no far tail."""


@dataclass(frozen=True)
class Checks:
    """Checks of a fit.

    Attributes
    ----------
    table : DataFrame
        Columns `cohort.model.flags.COLUMNS`, a row per check and group. ``by``: see
        `cohort.model.statistics_by_group.Group`; ``observed``, ``expected`` (mean of the
        replicates), ``low``, ``high``: queens, foundings, looks, days (of ``first_worker_day``)
        or a number without a unit (spread, skew, clusters); of keepers, sizes and seasons those
        expected given the numbers by genus and way; ``tail_area``: two-sided mid-p; ``flagged``
        at a false-discovery rate of 5 % over the rows on the model, and over those on the
        allotment; ``touches``: questions it bears on, with blanks between.
    curves : DataFrame
        Rows of ``curves.csv``, curves `cohort.model.replicated_curves.CURVES`: the product-limit
        curve and the incidence of the first worker of the replicates, over which those of the
        sheets are to lie.
    """

    table: pd.DataFrame
    curves: pd.DataFrame

    @property
    def flags(self) -> tuple[dict[str, Any], ...]:
        """What is flagged; see `cohort.model.flags.flags`."""
        return flags(self.table)


def checks(
    fit: Fit,
    history: History,
    *,
    seed: int,
    level: float = 0.9,
    draws: int = REPLICATES,
) -> Checks:
    """Hold a fit against the study it was fitted to.

    Parameters
    ----------
    fit : Fit
    history : History
        The same study.
    seed : int
        Of the replicates.
    level : float
        Mass between ``low`` and ``high``.
    draws : int
        Replicated studies: one per posterior draw, evenly thinned over chains; of a study of more
        than 250,000 looks fewer.
    """
    plan, observed = calendar(history)
    chosen = history.foundings[history.foundings["compared"]]
    of = (*groups(chosen), *calendar_time.months(plan, chosen))

    looks, dated = looks_of(plan), calendar_time.dated(plan, chosen)

    def counted(shown: Seen, tallied: dict[str, Floats]) -> dict[Key, Floats]:
        return statistics(tallied, of) | calendar_time.statistics(dated, shown, of)

    last = int(min(history.horizon, np.ceil(plan.day.max(initial=1.0))))
    found, curves, kept = [], [], 0
    draws = min(draws, max(LEAST, LOOKS // max(1, len(plan.day))))
    for made in replicates(fit, plan, seed=seed, draws=draws):
        found.append(counted(made, tallies(plan, made, looks)))
        some = max(0, min(CURVES_OF - kept, len(made.first)))
        if some:
            few = Seen(made.at_risk[:some], made.alive[:some], made.first[:some])
            curves.append(replicated_curves.drawn(plan, few, chosen, last))
        kept += some
    drawn = {key: np.concatenate([part[key] for part in found]) for key in found[0]}
    seen = tallies(plan, observed, looks)
    table = rows(drawn, counted(observed, seen), seen, of, seed=seed, level=level)
    table += balance.rows(chosen, fit.design, seed=seed, level=level)
    table += broken_off.rows(history)
    return Checks(as_table(table), replicated_curves.rows(curves, chosen, level))
