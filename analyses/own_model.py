"""A model of one's own, up to the page: does altitude move the day of the first worker?

A season is simulated in which queens caught high up have their first workers later, by an effect
that is known. The founding model is given that effect, sampled, compared and printed.

    python analyses/own_model.py out-own-model
"""

# %% What is asked
import argparse
import tempfile
from pathlib import Path

import arviz as az
import numpy as np
import pandas as pd
import pymc as pm

import cohort
from cohort.base import background
from cohort.simulate.design import Design
from cohort.simulate.fates import live
from cohort.simulate.looks import looks_of
from cohort.simulate.season import laid_out, written_down
from cohort.simulate.truth import GenusTruth, Truth

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("out", type=Path, help="folder for the page and the numbers")
ask.add_argument("--foundings", type=int, default=64)
ask.add_argument("--later", type=float, default=0.15, help="effect of 500 m on the log day")
ask.add_argument("--seed", type=int, default=1)
want = ask.parse_args()

# %% A season in which the first worker comes later from higher up
rng = np.random.default_rng(want.seed)
genera = {"Lasius": GenusTruth(together=-0.4), "Messor": GenusTruth(together=0.5)}
design = Design(foundings=want.foundings, horizon=160, title="Queens from low and high ground")
plan = laid_out(design, list(genera), rng)
metres = rng.uniform(100, 1500, design.flights).round(-1)[plan["flight"]]
looks = looks_of(plan, design, rng)
nobody = np.full(len(plan), np.inf), np.zeros(len(plan), dtype=np.int64)  # is given away
fates = live(
    plan, Truth(genera), design.horizon, nobody, rng,
    grown=lambda days, rows: days * np.exp(want.later * (metres[rows] - 800) / 500),
)  # fmt: skip
season = written_down(plan, looks, fates, design, Truth(genera), rng)

# %% The study as its keepers would send it, and a table of one's own
folder = Path(tempfile.mkdtemp(prefix="own-model-")) / "study"
study = cohort.read_study(season.write(folder))
altitude = pd.Series(metres, index=season.fates["founding"], name="altitude")


# %% The effect: what is known of each founding moves a part of what it lives by
def by_altitude(parts):
    """500 m more move the log day of the first worker by `altitude`."""
    x = parts.foundings["founding"].map(altitude)
    slope = pm.Normal("altitude", 0.0, 0.2)
    parts["first_worker"] += slope * ((x - x.mean()) / 500).to_numpy()


# %% Sample, compare, print: the same gate, outcomes, checks and verdicts as without it
with background.ended_when_stopped():
    model = cohort.founding_model(study, change=by_altitude)
    made = cohort.compare(study, model=model, say=print)
print(made)
cohort.write_newsletter(made, want.out)

# %% What was found beside what is true
found = made.fit.posterior["altitude"]
low, high = np.quantile(found, [0.05, 0.95])
print(f"altitude: {float(found.mean()):+.3f} (90%: {low:+.3f} to {high:+.3f})")
print(f"in truth: {want.later:+.3f}")

# %% Is it worth having? Foundings left out one by one, with it and without
plain = cohort.compare(study, seed=made.fit.seed)
print(az.compare({"by altitude": made.tree, "as it is": plain.tree})[["rank", "elpd", "elpd_diff"]])
