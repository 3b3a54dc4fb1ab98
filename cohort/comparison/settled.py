"""A fit that is to be kept: outcomes, gate, further runs, and the fit beside what happened.

Comes in: a first fit and what was asked. Goes out: the fit that is kept and what comes of it.
Never: a table, a verdict.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from cohort.base import background
from cohort.history import History
from cohort.model.asked import Asked
from cohort.model.coordinates import is_large
from cohort.model.sample import ACCEPT_AGAIN, Fit, Said, joined

if TYPE_CHECKING:
    import xarray as xr

    from cohort.model.gate import Diagnosis
    from cohort.model.predictive import Checks
    from cohort.outcomes import Outcomes

RERUN: Final = 2
"""How many times more draws a run in smaller steps takes."""
MOST_RUNS: Final = 3

type Held = tuple[Checks, xr.DataArray]


def _beside(fit: Fit, past: History, seed: int, level: float) -> Held:
    """A fit beside what happened: the checks, and how likely each founding is by draw."""
    from cohort.model.pointwise import pointwise
    from cohort.model.predictive import checks

    return checks(fit, past, seed=seed, level=level), pointwise(fit)


def _without_frailties(fit: Fit) -> Fit:
    """A fit for what draws frailties anew or integrates over them; those of a large study are many.

    They are not carried over to another process then.
    """
    return replace(fit, posterior=fit.posterior.drop_vars("frailty", errors="ignore"))


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
    """A fit that is to be kept, after further runs if the first did not settle.

    Where nothing went wrong but that there are too few draws, as many chains again are drawn in
    the same way and stand beside the first. Where steps went astray, or that was not enough, the
    fit begins again in smaller steps.

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
    from cohort.outcomes.parameters import THINNED

    kept, wanted = first, draws
    for runs in range(1, MOST_RUNS + 1):
        say("Working out what becomes of new foundings")
        chains = kept.posterior.sizes["chain"] / first.posterior.sizes["chain"]
        drawn = posterior_draws(  # as many of each chain, however many chains there are
            kept.posterior, kept.design, kept.priors, seed=kept.seed, draws=round(THINNED * chains)
        )
        beside = _without_frailties(kept), past, first.seed, level
        # of a large study it is long work: begun for the fit that is kept, and for no other
        held = None if is_large(kept.design) else background.start(_beside, *beside)
        post = outcomes(drawn, sizes, past.horizon)
        diagnosis = judge(
            kept.posterior,
            kept.stats,
            printed(post, headline),
            runs=runs,
            aside=not is_large(kept.design),  # of many that process has long to do
            asked=None if what.sampler is None else wanted,
        )
        in_small_steps = wanted != draws
        if diagnosis.settled or in_small_steps or what.sampler is None:
            break
        if runs == 1 and diagnosis.short:
            say("Not settled yet: drawing as much again")
            more = what.sampled(seed=first.seed + 1, draws=draws, accept=kept.accept)
            kept = joined(kept, more)
        else:
            say("Not settled yet: fitting once more, in smaller steps")
            wanted = RERUN * draws
            kept = what.sampled(seed=first.seed + runs, draws=wanted, accept=ACCEPT_AGAIN)
    return kept, post, diagnosis, held or background.start(_beside, *beside)
