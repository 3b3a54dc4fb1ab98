"""Kernel against the plain graph of the same model, and cost against size; run with -m bench.

Both sides in one run, since machines swing; ratios are what counts. `COHORT_BENCH_PLAIN=0`
leaves the plain graph out (it takes minutes), another number is its draws per chain.
"""

import os
import platform
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from cohort.comparison import _with_warmth
from cohort.exposure import packed
from cohort.history import history
from cohort.model.lineup import line_up
from cohort.model.priors import Priors
from cohort.model.sample import TUNE, Sampler
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


def run(exposure, draws, seed=1, tune=TUNE):
    start = time.perf_counter()
    sampler = Sampler(line_up(exposure), exposure, Priors())
    compiled = time.perf_counter()
    fit = sampler.run(seed=seed, draws=draws, tune=tune)
    done = time.perf_counter()
    return sampler, fit, compiled - start, done - compiled


def fixed_loop():
    """Seconds of a fixed piece of plain Python: says how fast the machine is today."""
    start = time.perf_counter()
    total = 0
    for i in range(5_000_000):
        total += i * i % 7
    return time.perf_counter() - start


def plain_model(exposure, lineup):
    """Stands in for the compiled node: the same likelihood written in PyTensor."""
    from plain_graph import assembled, plain_loglik

    who = np.stack([lineup.genus, lineup.size, lineup.seen], axis=1)
    steps = np.concatenate([lineup.steps1, lineup.steps2])
    clocks = exposure.warmth.clocks if exposure.warmth is not None else {}
    mine = [clocks.get(str(name)) for name in exposure.foundings["founding"]]

    def node(*inputs):
        zero = np.zeros(len(who))
        given = [zero if i in (11, 12) and np.size(v) == 0 else v for i, v in enumerate(inputs)]
        par, shared = assembled(*given[:-1], who, steps)
        return [plain_loglik(par, shared, exposure.records, exposure.rows, exposure.nodes, mine)]

    return node


@pytest.mark.bench
def test_kernel_against_plain_graph(tmp_path, capsys, monkeypatch):
    """`COHORT_BENCH_STUDY` names a study of one's own; `COHORT_BENCH_PLAIN` the plain draws."""
    own = os.environ.get("COHORT_BENCH_STUDY")
    if own:
        whole = read_study(Path(own))
        past = _with_warmth(whole, history(whole))
        exposure = packed(past)
    else:
        exposure = study(tmp_path, 64, 7)
    loop = fixed_loop()
    _, fast, compile_fast, sample_fast = run(exposure, 1000)
    rows = [("kernel", 1000, compile_fast, sample_fast, least_ess(fast))]
    draws = int(os.environ.get("COHORT_BENCH_PLAIN", "1000"))
    if draws:
        from cohort.model import graph

        assert len(exposure.records) == len(exposure.foundings), "late entries: not in the plain"
        monkeypatch.setattr(graph, "founding_loglik", plain_model(exposure, line_up(exposure)))
        _, slow, compile_slow, sample_slow = run(exposure, draws)
        rows.append(("plain graph", draws, compile_slow, sample_slow, least_ess(slow)))
        for name in ("rivalry", "together", "multi_days", "frailty_sd"):
            a, b = (f.posterior[name].stack(all=("chain", "draw")) for f in (fast, slow))
            error = np.sqrt(a.var("all") / least_ess(fast) + b.var("all") / least_ess(slow))
            assert (abs(a.mean("all") - b.mean("all")) < 4 * error).all(), name
    with capsys.disabled():
        if len(rows) == 2:
            ratio = rows[0][4] / rows[0][3] / (rows[1][4] / rows[1][3])
            print(f"\nESS per second, kernel over plain graph: {ratio:.0f}", end="")
        print(
            f"\n{len(exposure.foundings)} foundings, {platform.machine()}, {os.cpu_count()} cores, "
            f"fixed loop of 5 million steps {loop:.2f} s"
        )
        for name, kept, compiling, sampling, ess in rows:
            print(
                f"{name:12s} 4 x {kept} draws: compile {compiling:6.1f} s, "
                f"sample {sampling:6.1f} s, least ESS {ess:6.0f}, "
                f"{ess / sampling:7.1f} ESS/s"
            )


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
