"""Kernel against the plain graph of the same model, and cost against size; run with -m bench.

Both sides in one run, since machines swing; ratios are what counts. `COHORT_BENCH_PLAIN=0`
leaves the plain graph out (it takes minutes).
"""

import os
import platform
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from cohort.exposure import packed
from cohort.history import history
from cohort.model.lineup import line_up
from cohort.model.priors import Priors
from cohort.model.sample import Sampler
from cohort.simulate.season import simple_study
from cohort.simulate.truth import GenusTruth
from cohort.study import read_study

sys.path.insert(0, str(Path(__file__).parents[1] / "reference"))
GENERA = {
    name: GenusTruth(rivalry=rivalry, together=together)
    for name, rivalry, together in (
        ("Lasius", 2.0, -0.3),
        ("Messor", 1.5, 0.2),
        ("Formica", 0.5, 0.0),
        ("Myrmica", 1.0, 0.3),
    )
}


def study(tmp_path, foundings, every, seed=3):
    made = simple_study(foundings, GENERA, sizes=(1, 3), look_every=every, horizon=160, seed=seed)
    made.write(tmp_path / f"s{foundings}-{every}-{seed}")
    return packed(history(read_study(tmp_path / f"s{foundings}-{every}-{seed}")))


def least_ess(fit):
    from arviz_stats.base import array_stats

    from cohort.model.gate import flat

    stack = np.stack([a for a in flat(fit.posterior).values() if np.ptp(a) > 1e-12])
    bulk = array_stats.ess(stack, chain_axis=1, draw_axis=2, method="bulk")
    tail = array_stats.ess(stack, chain_axis=1, draw_axis=2, method="tail", prob=(0.05, 0.95))
    return float(min(bulk.min(), tail.min()))


def run(exposure, draws, seed=1):
    start = time.perf_counter()
    sampler = Sampler(line_up(exposure), exposure, Priors())
    compiled = time.perf_counter()
    fit = sampler.run(seed=seed, draws=draws)
    done = time.perf_counter()
    return sampler, fit, compiled - start, done - compiled


@pytest.mark.bench
def test_kernel_against_plain_graph(tmp_path, capsys, monkeypatch):
    exposure = study(tmp_path, 64, 7)
    _, fast, compile_fast, sample_fast = run(exposure, 1000)
    rows = [("kernel", compile_fast, sample_fast, least_ess(fast))]
    if os.environ.get("COHORT_BENCH_PLAIN", "1") != "0":
        from plain_graph import plain_loglik

        from cohort.model import graph

        def plain(par, shared, records, rows, nodes):
            return [plain_loglik(par, shared, exposure.records, exposure.rows, exposure.nodes)]

        monkeypatch.setattr(graph, "founding_loglik", plain)
        _, slow, compile_slow, sample_slow = run(exposure, 1000)
        rows.append(("plain graph", compile_slow, sample_slow, least_ess(slow)))
        for name in ("rivalry", "together", "multi_days", "frailty_sd"):
            a, b = (f.posterior[name].to_numpy().reshape(4000, -1) for f in (fast, slow))
            error = np.sqrt((a.var(0) + b.var(0)) / 400)
            assert (abs(a.mean(0) - b.mean(0)) < 4 * error).all(), name
    with capsys.disabled():
        print(f"\n64 foundings, 4 x 1000 draws, {platform.machine()}, {os.cpu_count()} cores")
        for name, compiling, sampling, ess in rows:
            print(
                f"{name:12s} compile {compiling:6.1f} s, sample {sampling:6.1f} s, least ESS "
                f"{ess:6.0f}, {ess / sampling:7.1f} ESS/s"
            )
        if len(rows) == 2:
            ratio = rows[0][3] / rows[0][2] / (rows[1][3] / rows[1][2])
            print(f"ESS per second, kernel over plain graph: {ratio:.0f}")


@pytest.mark.bench
def test_cost_against_size_and_looks(tmp_path, capsys):
    lines = []
    for foundings, every in ((64, 7), (64, 1), (640, 7), (640, 1)):
        exposure = study(tmp_path, foundings, every)
        _, fit, _, sampling = run(exposure, 500)
        lines.append(
            f"{foundings:5d} foundings, look every {every} days: sample {sampling:6.1f} s, "
            f"{len(exposure.nodes)} cells, {len(exposure.rows)} loss rows, ESS {least_ess(fit):.0f}"
        )
    with capsys.disabled():
        print("\n4 x 500 draws\n" + "\n".join(lines))


@pytest.mark.bench
def test_refits_without_compiling(tmp_path, capsys):
    first = study(tmp_path, 20, 7, seed=1)
    lineup = line_up(first)
    sampler = Sampler(lineup, first, Priors())
    took = []
    for seed in range(2, 22):
        other = study(tmp_path, 20, 7, seed=seed)
        fresh = line_up(other)
        if fresh.shape != lineup.shape:
            continue
        start = time.perf_counter()
        sampler.swap(fresh, other)
        sampler.run(seed=seed, draws=500)
        took.append(time.perf_counter() - start)
    with capsys.disabled():
        print(
            f"\n{len(took)} refits of 20 foundings, 4 x 500: {np.median(took):.2f} s each (median)"
        )
