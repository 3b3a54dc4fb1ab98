"""A fit that is to be kept: outcomes, gate, one rerun, and the fit beside what happened.

Comes in: a first fit and what was asked. Goes out: the fit that is kept and what comes of it.
Never: a table, a verdict.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from cohort.base import background
from cohort.history import History
from cohort.model.asked import Asked
from cohort.model.sample import ACCEPT_AGAIN, Fit, Said

if TYPE_CHECKING:
    import xarray as xr

    from cohort.model.gate import Diagnosis
    from cohort.model.predictive import Checks
    from cohort.outcomes import Outcomes

RERUN: Final = 2
"""How many times more draws the one rerun takes."""

type Held = tuple[Checks, xr.DataArray]


def _beside(fit: Fit, past: History, seed: int, level: float) -> Held:
    """A fit beside what happened: the checks, and how likely each founding is by draw."""
    from cohort.model.pointwise import pointwise
    from cohort.model.predictive import checks

    return checks(fit, past, seed=seed, level=level), pointwise(fit)


def settled(
    first: Fit,
    what: Asked,
    past: History,
    sizes: tuple[int, ...],
    headline: int,
    level: float,
    say: Said,
    draws: int,
) -> tuple[Fit, Outcomes, Diagnosis, background.Later[Held]]:
    """A fit that is to be kept, after one rerun if the first did not settle, and what comes of it.

    Parameters
    ----------
    first : Fit
    what : Asked
        Who samples again.
    past : History
    sizes : tuple of int
    headline : int
        Commonest group size.
    level : float
        Mass of every likely range.
    say : callable
        Told what is being done.
    draws : int
        Kept draws per chain that were asked for.

    Returns
    -------
    tuple
        The fit, its outcomes, its diagnosis, and the fit beside what happened, which is made
        meanwhile.
    """
    from cohort.model.gate import judge
    from cohort.outcomes import outcomes, posterior_draws, printed

    kept = first
    for runs in (1, 2):
        say("Working out what becomes of new foundings")
        drawn = posterior_draws(kept.posterior, kept.design, kept.priors, seed=kept.seed)
        held = background.start(_beside, kept, past, first.seed, level)
        post = outcomes(drawn, sizes, past.horizon)
        diagnosis = judge(
            kept.posterior,
            kept.stats,
            printed(post, headline),
            runs=runs,
            aside=True,
            asked=None if what.sampler is None else draws if runs == 1 else RERUN * draws,
        )
        if diagnosis.settled or runs == 2 or what.sampler is None:
            break
        say("Not settled yet: fitting once more, in smaller steps")
        kept = what.sampled(seed=first.seed + 1, draws=RERUN * draws, accept=ACCEPT_AGAIN)
    return kept, post, diagnosis, held
