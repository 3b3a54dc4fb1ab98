"""One study by our own door and by others, in one run; with ``-m bench``.

The same model: the compiled density, the PyMC door (`cohort.founding_model`), and a plain PyMC
graph in which the likelihood is written in PyTensor too. Beside them what people take who have no
such model: an accelerated failure time model of the first worker (lifelines, and R's survival), and
a Cox model of the queens with a frailty by founding (R's survival). These answer one question each
and give no draws; what they find stands in the row.

`COHORT_BENCH_PLAIN=0` leaves the plain graph out (it takes minutes), another number is its draws
per chain; `COHORT_BENCH_STUDY` names a study of one's own.
"""

import io
import os
import shutil
import subprocess
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fits import DRAWS, SMALL, least_ess, numbers, read, run, said

from cohort.history.warmed import as_compared
from cohort.likelihood.by_founding import SHARED_FROM
from cohort.likelihood.exposure import packed
from cohort.model.design import model_design
from cohort.model.information import Information, information
from cohort.model.priors import Priors
from cohort.model.sample import ACCEPT, TUNE
from cohort.nonparametric.frames import survival
from cohort.second_opinion.workers import time_ratio
from cohort.study import read_study

pytestmark = pytest.mark.bench


@pytest.fixture(scope="module")
def asked(tmp_path_factory):
    """The study: as it is, packed, and how it is called."""
    own = os.environ.get("COHORT_BENCH_STUDY")
    place = tmp_path_factory.mktemp("doors")
    whole = read_study(Path(own)) if own else read(place, 32 if SMALL else 64, 7)
    exposure = packed(as_compared(whole)[0])
    return (
        whole,
        exposure,
        f"{len(exposure.foundings)} foundings{' of another study' if own else ''}",
    )


@pytest.fixture(scope="module")
def ours(asked):
    """Our own fit, and its seconds ready and sampling."""
    return run(asked[1], DRAWS)


def by_graph(exposure, draws):
    """The model in PyMC as it stands: the fit, seconds of compiling and of sampling."""
    import nutpie

    from cohort.model import graph
    from cohort.model.own_model import fit_of

    start = time.perf_counter()
    model = graph.written_out(model_design(exposure), exposure, Priors())
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


def plain_node(exposure):
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


def agree(one, other):
    """The same posterior, within the Monte Carlo error of both."""
    for name in ("rivalry", "together", "multi_days", "frailty_sd"):
        a, b = (f.posterior[name].stack(all=("chain", "draw")) for f in (one, other))
        error = np.sqrt(a.var("all") / least_ess(one) + b.var("all") / least_ess(other))
        assert (abs(a.mean("all") - b.mean("all")) < 4 * error).all(), name


def per_second(fit, seconds):
    return least_ess(fit) / seconds


def test_our_own_door(asked, ours, row):
    fit, *times = ours
    row(f"{asked[2]}, compiled density", said(DRAWS, *times, fit), **numbers(times[1], fit))


def test_the_door_of_pymc(asked, ours, row):
    fit, *times = by_graph(asked[1], DRAWS)
    ratio = per_second(ours[0], ours[2]) / per_second(fit, times[1])
    row(
        f"{asked[2]}, the PyMC door (cohort.founding_model)",
        said(DRAWS, *times, fit),
        f"ours {ratio:.1f} x",
        **numbers(times[1], fit),
    )
    agree(ours[0], fit)


def by_plain_graph(asked, ours, row, monkeypatch, what):
    """The same model with its likelihood in PyTensor; its posterior is compared with ours."""
    from cohort.model import graph

    draws = int(os.environ.get("COHORT_BENCH_PLAIN", str(DRAWS)))
    if not draws:
        pytest.skip("left out: COHORT_BENCH_PLAIN=0")
    exposure = asked[1]
    assert len(exposure.records) == len(exposure.foundings), "late entries: not in the plain"
    monkeypatch.setattr(graph, "founding_loglik", plain_node(exposure))
    fit, *times = by_graph(exposure, draws)
    ratio = per_second(ours[0], ours[2]) / per_second(fit, times[1])
    row(
        f"{asked[2]}, {what}",
        said(draws, *times, fit),
        f"ours {ratio:.0f} x",
        **numbers(times[1], fit),
    )
    agree(ours[0], fit)


def test_the_plain_graph(asked, ours, row, monkeypatch):
    by_plain_graph(asked, ours, row, monkeypatch, "the same model as a plain PyMC graph")


def test_a_graph_in_standard_normals(asked, ours, row, monkeypatch):
    """The same graph in the usual coordinates: standard normals times SDs, means not shifted."""
    from cohort.model import log_posterior

    def nothing(*study):
        told = information(*study)
        levels = {name: 0.0 * own for name, own in told.levels.items()}
        return Information(
            0.0 * told.genus, 0.0 * told.founding, 0.0 * told.step, levels, 0.0 * told.lean
        )

    monkeypatch.setattr(log_posterior, "information", nothing)
    by_plain_graph(asked, ours, row, monkeypatch, "a plain PyMC graph in standard normals")


def of_ours(fit, name):
    """A parameter of ours, averaged over kinds, in words."""
    draws = fit.posterior[name]
    values = np.exp(draws.mean([dim for dim in draws.dims if dim == "genus"]).to_numpy())
    low, high = np.quantile(values, [0.025, 0.975])
    return f"ours {values.mean():.2f} ({low:.2f} to {high:.2f})"


def ratio_of(log_ratio, se):
    low, high = np.exp([log_ratio - 1.96 * se, log_ratio + 1.96 * se])
    return f"{np.exp(log_ratio):.2f} ({low:.2f} to {high:.2f})"


@pytest.fixture(scope="module")
def days(asked):
    """The first worker in brackets, as survival packages take them."""
    return survival(asked[0], "first_worker")


def test_an_accelerated_failure_time_model(asked, ours, days, row):
    time_ratio(days)  # loads lifelines
    took = []
    for _ in range(5):
        start = time.perf_counter()
        found = time_ratio(days)
        took.append(time.perf_counter() - start)
    row(
        f"{asked[2]}, day of the first worker: log-normal model of lifelines, a level per genus",
        f"{np.median(took):.3f} s; several against one, time ratio "
        f"{ratio_of(found.log_ratio, found.se)}; {of_ours(ours[0], 'multi_days')}; takes every "
        "queen for mated",
        seconds=float(np.median(took)),
    )


@pytest.fixture(scope="module")
def r():
    """Runs R code on a frame `d`; gives the CSV it writes."""
    load = ["Rscript", "-e", "library(survival)"]
    if shutil.which("Rscript") is None or subprocess.run(load, capture_output=True).returncode:
        pytest.skip("needs Rscript with the package survival, which is not installed here")

    def call(frame, code):
        script = f'suppressMessages(library(survival)); d <- read.csv(file("stdin")); {code}'
        told = subprocess.run(
            ["Rscript", "-e", script], input=frame.to_csv(index=False), capture_output=True,
            text=True, check=True,
        )  # fmt: skip
        return pd.read_csv(io.StringIO(told.stdout)).iloc[0]

    return call


TIMED = """
took <- median(replicate(5, system.time(f <<- @FIT)[["elapsed"]]))
write.csv(data.frame(took, b=coef(f)[["multi"]], se=@SE), stdout(), row.names=FALSE)
"""


def timed(fit, se):
    return TIMED.replace("@FIT", fit).replace("@SE", se)


def test_the_first_worker_in_r(asked, ours, days, row, r):
    """The likelihood of lifelines by another program (its survreg takes no frailty)."""
    frame = days[days.groupby("genus")["seen"].transform("any").astype(bool)]
    table = pd.DataFrame(
        {
            "lower": frame["lower"].clip(lower=0.01),
            "upper": frame["upper"].where(np.isfinite(frame["upper"])),
            "multi": (frame["arm"] == "multi").astype(int),
            "genus": frame["genus"].astype(str),
        }
    )
    level = "survreg(Surv(lower, upper, type='interval2') ~ multi + genus, d, dist='lognormal')"
    found = r(table, timed(level, "sqrt(vcov(f)['multi', 'multi'])"))
    mine = time_ratio(days)
    assert found["b"] == pytest.approx(mine.log_ratio, abs=0.01)
    assert found["se"] == pytest.approx(mine.se, rel=0.05)
    row(
        f"{asked[2]}, day of the first worker: log-normal model of R (survreg), a level per genus",
        f"{found['took']:.3f} s in R; several against one, time ratio "
        f"{ratio_of(found['b'], found['se'])}; {of_ours(ours[0], 'multi_days')}; takes every "
        "queen for mated",
        seconds=float(found["took"]),
    )


def queens(past):
    """A row per queen: the day of the look that showed her gone, or of the last that counted her.

    That is how such data are mostly given to a Cox model (common practice, no source); our own
    dates nothing at the look that showed it.
    """
    rows = []
    kept = past.foundings[past.foundings["compared"]]
    for code, looks in past.intervals[past.intervals["code"].isin(kept.index)].groupby("code"):
        about = kept.loc[code]
        base = {"founding": code, "genus": about["genus"], "multi": int(about["arm"] == "multi")}
        risk, alive, day = (looks[name].to_numpy(int) for name in ("at_risk", "alive", "by"))
        taken = alive - np.append(risk[1:], 0)  # out of it after a look, all of them after the last
        for n, lost, out in zip(day, risk - alive, taken, strict=True):
            rows += [base | {"day": n, "lost": 1}] * lost + [base | {"day": n, "lost": 0}] * out
    return pd.DataFrame(rows)


def test_the_queens_in_r(asked, ours, row, r):
    past = as_compared(asked[0])[0]
    table = queens(past)
    kept = past.foundings[past.foundings["compared"]]
    assert len(table) == kept["size"].sum()  # every queen once
    fit = (
        "coxph(Surv(day, lost) ~ multi + strata(genus) + "
        "frailty(founding, distribution='gaussian'), d)"
    )
    found = r(table, timed(fit, "sqrt(f$var[1, 1])"))
    row(
        f"{asked[2]}, queens: Cox model of R with a Gaussian frailty by founding, a stratum per "
        "genus",
        f"{found['took']:.3f} s in R; several against one, hazard ratio over all days "
        f"{ratio_of(found['b'], found['se'])}; before workers {of_ours(ours[0], 'together')}: "
        "not the same question",
        seconds=float(found["took"]),
    )
