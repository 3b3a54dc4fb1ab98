"""Kernel against the plain graph of the same model, and cost against size; run with -m bench.

`COHORT_BENCH_PLAIN=0` leaves the plain graph out (it takes minutes), another number is its draws
per chain; `COHORT_BENCH_STUDY` names a study of one's own.
"""

import os
import resource
import time
from pathlib import Path

import numpy as np
import pytest

from cohort.history import history
from cohort.history.warmed import with_warmth
from cohort.likelihood.by_founding import SHARED_FROM
from cohort.likelihood.exposure import packed
from cohort.model.design import model_design
from cohort.model.priors import Priors
from cohort.model.sample import ACCEPT, TUNE, sample
from cohort.simulate.season import simple_study
from cohort.simulate.truth import GenusTruth
from cohort.study import read_study

pytestmark = pytest.mark.bench
GENERA = {
    name: GenusTruth(rivalry=rivalry, together=together)
    for name, rivalry, together in (
        ("Lasius", 2.0, -0.3),
        ("Messor", 1.5, 0.2),
        ("Formica", 0.5, 0.0),
        ("Myrmica", 1.0, 0.3),
    )
}


def study(tmp_path, foundings, every, seed=3, horizon=160):
    place = tmp_path / f"s{foundings}-{every}-{seed}"
    made = simple_study(
        foundings, GENERA, sizes=(1, 3), look_every=every, horizon=horizon, seed=seed
    )
    made.write(place)
    return packed(history(read_study(place)))


def least_ess(fit):
    from arviz_stats.base import array_stats

    from cohort.model.gate import flat

    stack = np.stack([a for a in flat(fit.posterior).values() if np.ptp(a) > 1e-12])
    bulk = array_stats.ess(stack, chain_axis=1, draw_axis=2, method="bulk")
    tail = array_stats.ess(stack, chain_axis=1, draw_axis=2, method="tail", prob=(0.05, 0.95))
    return float(min(bulk.min(), tail.min()))


def run(exposure, draws, seed=1, tune=TUNE):
    """Our own fit; the first in a process reads machine code from disk, or compiles it."""
    design, priors = model_design(exposure), Priors()
    start = time.perf_counter()
    sample(design, exposure, priors, seed=seed, draws=1, tune=1, chains=1)
    ready = time.perf_counter()
    fit = sample(design, exposure, priors, seed=seed, draws=draws, tune=tune)
    return fit, ready - start, time.perf_counter() - ready


def run_plain(exposure, draws, monkeypatch):
    """The model written out, its likelihood in PyTensor too: posterior, compiling, sampling."""
    import nutpie

    from cohort.model import graph
    from cohort.model.own_model import fit_of

    design = model_design(exposure)
    monkeypatch.setattr(graph, "founding_loglik", plain_model(exposure))
    start = time.perf_counter()
    model = graph.written_out(design, exposure, Priors())
    compiled = nutpie.compile_pymc_model(model)
    ready = time.perf_counter()
    tree = nutpie.sample(
        compiled, draws=draws, tune=TUNE, chains=4, seed=1, save_warmup=False, progress_bar=False,
        target_accept=ACCEPT,
    )  # fmt: skip
    done = time.perf_counter()
    posterior, stats = (tree[group].to_dataset() for group in ("posterior", "sample_stats"))
    fit = fit_of(model.about, posterior, stats, Priors(), 1, ACCEPT)
    return fit, ready - start, done - ready


def said(draws, compiling, sampling, fit):
    """One side of a comparison in words."""
    ess, astray = least_ess(fit), int(fit.stats["diverging"].sum())
    return (
        f"4 x {draws} draws: ready in {compiling:.1f} s, sample {sampling:.1f} s, least ESS "
        f"{ess:.0f} ({ess / sampling:.1f} per second), {astray} astray"
    )


def gate(fit):
    """Whether the fit would be printed, by the parameters and by all outcomes of 1 and 3 queens."""
    from cohort.model.gate import judge
    from cohort.outcomes import outcomes, posterior_draws, printed

    drawn = posterior_draws(fit.posterior, fit.design, fit.priors, seed=fit.seed)
    found = judge(fit.posterior, fit.stats, printed(outcomes(drawn, (1, 3), 160), 3))
    why = "" if found.settled else ": " + "; ".join(found.reasons)
    return f"gate {'passed' if found.settled else 'shut'} (R-hat {found.rhat:.4f}){why}"


def plain_model(exposure):
    """Stands in for the exact node: the same likelihood written in PyTensor."""
    import pytensor.tensor as pt
    from plain_graph import plain_loglik

    clocks = exposure.warmth.clocks if exposure.warmth is not None else {}
    mine = [clocks.get(str(name)) for name in exposure.foundings["founding"]]

    def node(lived, _):
        par, shared = lived[:, :SHARED_FROM], lived[0, SHARED_FROM:]
        tables = exposure.records, exposure.rows, exposure.nodes
        total = plain_loglik(par, shared, *tables, mine)
        return [pt.concatenate([total[None], pt.zeros(len(mine) - 1)])]

    return node


def test_kernel_against_plain_graph(tmp_path, row, monkeypatch):
    own = os.environ.get("COHORT_BENCH_STUDY")
    if own:
        whole = read_study(Path(own))
        exposure = packed(with_warmth(whole, history(whole)))
    else:
        exposure = study(tmp_path, 64, 7)
    count = len(exposure.foundings)
    fast, *times = run(exposure, 1000)
    row(f"fit of {count} foundings, compiled density", said(1000, *times, fast))
    draws = int(os.environ.get("COHORT_BENCH_PLAIN", "1000"))
    if not draws:
        return
    assert len(exposure.records) == count, "late entries: not in the plain"
    slow, *plain = run_plain(exposure, draws, monkeypatch)
    row("  the same model as a plain PyMC graph", said(draws, *plain, slow))
    ratio = least_ess(fast) / times[1] / (least_ess(slow) / plain[1])
    row("  independent draws per second", "", f"{ratio:.0f} x")
    for name in ("rivalry", "together", "multi_days", "frailty_sd"):
        a, b = (f.posterior[name].stack(all=("chain", "draw")) for f in (fast, slow))
        error = np.sqrt(a.var("all") / least_ess(fast) + b.var("all") / least_ess(slow))
        assert (abs(a.mean("all") - b.mean("all")) < 4 * error).all(), name


@pytest.mark.parametrize("foundings", [64, 640])
def test_cost_against_size_and_looks(tmp_path, row, foundings):
    took = {}
    for every in (7, 1):
        exposure = study(tmp_path, foundings, every)
        fit, *times = run(exposure, 1000)
        took[every] = times[1]
        row(
            f"{foundings} foundings, a look every {every} days: {len(exposure.nodes)} cells, "
            f"{len(exposure.rows)} losses to explain",
            f"{said(1000, *times, fit)}; {gate(fit)}",
            "" if every == 7 else f"{took[1] / took[7]:.2f} of weekly",
        )


@pytest.mark.parametrize(("foundings", "every", "horizon"), [(6400, 7, 160), (10_000, 2, 200)])
def test_a_large_study(tmp_path, row, foundings, every, horizon):
    """Few draws: what is asked is time and memory, not an answer."""
    exposure = study(tmp_path, foundings, every, horizon=horizon)
    fit, *times = run(exposure, 100, tune=200)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e9
    row(
        f"{foundings} foundings, a look every {every} days to day {horizon}",
        f"{said(100, *times, fit)}; peak {peak:.1f} GB",
    )


def test_refits(tmp_path, row):
    took = []
    for seed in range(1, 42):
        exposure = study(tmp_path, 20, 7, seed=seed)
        design = model_design(exposure)
        start = time.perf_counter()
        sample(design, exposure, Priors(), seed=seed, draws=500)
        took.append(time.perf_counter() - start)
    row(
        f"{len(took) - 1} refits of other studies of 20 foundings in one process",
        f"{np.median(took[1:]):.2f} s each (median), 4 x 500 draws",
    )
