"""Does a comparison find what is true? Seasons with a known truth, compared, set beside it.

Every season draws its truth from the priors, is lived through event by event, written as sheets,
read back and compared. Each leaves one file named by its seed; a season whose file is there is
not done again, so that the work can be broken off and taken up, or shared between machines.

    python analyses/recover_truth.py out-recover --seasons 20 --foundings 64
"""

# %% What is asked
import argparse
import tempfile
from pathlib import Path

import joblib
import numpy as np
import pandas as pd

from cohort.cli.stop import keeps, stoppable
from cohort.comparison import compare
from cohort.sheets import written
from cohort.simulate.design import Design
from cohort.simulate.known import beside, known_outcomes
from cohort.simulate.season import simulate_study
from cohort.simulate.truth import draw_truth
from cohort.study import read_study

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("out", type=Path, help="folder for the tables")
ask.add_argument("--seasons", type=int, default=4)
ask.add_argument("--first-seed", type=int, default=1)
ask.add_argument("--foundings", type=int, default=64)
ask.add_argument("--genera", default="Lasius,Messor,Formica,Tetramorium")
ask.add_argument("--sizes", default="1,3")
ask.add_argument("--every", type=int, default=7, help="days between looks")
ask.add_argument("--horizon", type=int, default=160)
ask.add_argument("--jobs", type=int, default=1, help="seasons compared at a time")
want = ask.parse_args()
design = Design(
    foundings=want.foundings,
    sizes=tuple(int(k) for k in want.sizes.split(",")),
    look_every=want.every,
    horizon=want.horizon,
)


# %% One season
def season(seed: int) -> Path:
    target = want.out / f"season-{seed:05d}.csv"
    if target.exists():
        return target
    truth = draw_truth(want.genera.split(","), np.random.default_rng([seed, 1]))
    with tempfile.TemporaryDirectory() as folder:
        study = read_study(simulate_study(design, truth, seed).write(Path(folder) / "study"))
    found = compare(study, seed=seed).results
    known = known_outcomes(truth, design.sizes, design.horizon, seed=seed)
    if not found.settled:
        print(f"season {seed} has not settled: {'; '.join(found.diagnosis['reasons'])}")
    table = beside(found.comparisons, known).assign(seed=seed)
    written.write(table, "recovered", target)
    return target


# %% All of them
want.out.mkdir(parents=True, exist_ok=True)
seeds = range(want.first_seed, want.first_seed + want.seasons)
with stoppable():
    keeps(
        lambda: f"The seasons done so far lie in {want.out}; the same command goes on from there."
    )
    paths = joblib.Parallel(n_jobs=want.jobs)(joblib.delayed(season)(seed) for seed in seeds)
tables = [written.read(path, "recovered") for path in paths]
settled = [table for table in tables if len(table)]

# %% How often the truth lies in the likely range (0.9 is right), and how far off the means are
print(f"{len(settled)} of {len(tables)} seasons settled")
if settled:
    rows = pd.concat(settled, ignore_index=True)
    by = rows.groupby(["quantity", "reading", "arm"], sort=False)
    summary = by.agg(
        rows=("inside", "size"),
        inside=("inside", "mean"),
        error=("error", "mean"),
        spread=("error", "std"),
    )
    written.write(summary.round(3).reset_index(), "recovery", want.out / "summary.csv")
    print(summary.round(3).to_string())
