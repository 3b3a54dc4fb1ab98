"""What the benches of fits have in common: studies, our own fit, and a fit in words."""

import os
import time

import numpy as np

from cohort.history import history
from cohort.likelihood.exposure import packed
from cohort.model.design import model_design
from cohort.model.priors import Priors
from cohort.model.sample import sample
from cohort.simulate.season import simple_study
from cohort.simulate.truth import GenusTruth
from cohort.study import read_study

SMALL = bool(os.environ.get("COHORT_BENCH_SMALL"))
"""Tries the benches out at small sizes; its table is printed and not kept."""
DRAWS = 50 if SMALL else 1000
GENERA = {
    name: GenusTruth(rivalry=rivalry, together=together)
    for name, rivalry, together in (
        ("Lasius", 2.0, -0.3),
        ("Messor", 1.5, 0.2),
        ("Formica", 0.5, 0.0),
        ("Myrmica", 1.0, 0.3),
    )
}


def read(tmp_path, foundings, every, seed=3, horizon=160):
    """A simulated study, from its sheets."""
    place = tmp_path / f"s{foundings}-{every}-{seed}"
    made = simple_study(
        foundings, GENERA, sizes=(1, 3), look_every=every, horizon=horizon, seed=seed
    )
    return read_study(made.write(place))


def study(tmp_path, foundings, every, seed=3, horizon=160):
    """The same, packed for the density."""
    return packed(history(read(tmp_path, foundings, every, seed, horizon)))


def least_ess(fit):
    """The least number of independent draws of any parameter, bulk or tail."""
    from arviz_stats.base import array_stats

    from cohort.model.gate import flat

    stack = np.stack([a for a in flat(fit.posterior).values() if np.ptp(a) > 1e-12])
    bulk = array_stats.ess(stack, chain_axis=1, draw_axis=2, method="bulk")
    tail = array_stats.ess(stack, chain_axis=1, draw_axis=2, method="tail", prob=(0.05, 0.95))
    return float(min(bulk.min(), tail.min()))


def run(exposure, draws, seed=1, tune=None):
    """Our own fit; the first in a process reads machine code from disk, or compiles it."""
    design, priors = model_design(exposure), Priors()
    start = time.perf_counter()
    sample(design, exposure, priors, seed=seed, draws=1, tune=1, chains=1)
    ready = time.perf_counter()
    fit = sample(design, exposure, priors, seed=seed, draws=draws, tune=tune)
    return fit, ready - start, time.perf_counter() - ready


def said(draws, compiling, sampling, fit):
    """One side of a comparison in words."""
    ess, astray = least_ess(fit), int(fit.stats["diverging"].sum())
    return (
        f"4 x {draws} draws: ready in {compiling:.1f} s, sample {sampling:.1f} s, "
        f"{float(fit.stats['n_steps'].mean()):.1f} gradients a draw, least ESS "
        f"{ess:.0f} ({ess / sampling:.1f} per second), {astray} astray"
    )


def numbers(sampling, fit):
    """The same as numbers of a row."""
    return {"seconds": sampling, "per_second": least_ess(fit) / sampling}


def gate(fit):
    """Whether the fit would be printed, by the parameters and by all outcomes of 1 and 3 queens."""
    from cohort.model.gate import judge
    from cohort.outcomes import outcomes, posterior_draws, printed

    drawn = posterior_draws(fit.posterior, fit.design, fit.priors, seed=fit.seed)
    found = judge(fit.posterior, fit.stats, printed(outcomes(drawn, (1, 3), 160), 3))
    why = "" if found.settled else ": " + "; ".join(found.reasons)
    rhat = f"R-hat {found.rhat:.4f}, of outcomes {found.rhat_outcomes:.4f}"
    return f"gate {'passed' if found.settled else 'shut'} ({rhat}){why}"
