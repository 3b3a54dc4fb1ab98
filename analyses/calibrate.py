"""Are the likely ranges as wide as they say? Ranks of the truth over many small studies.

Every study draws its truth from the priors, is lived through event by event, written as sheets,
read back and fitted; the truth is ranked among 99 draws. Each study leaves one file named by its
seed, and one whose file is there is not done again, so that the work can be broken off and taken
up. A mutant is a wrong reading of the sheets that must be noticed.

    python analyses/calibrate.py out-calibrate --studies 20
    python analyses/calibrate.py out-large --studies 40 --large --jobs 2
    python analyses/calibrate.py out-mutant --studies 100 --harsh --mutant "dated at the look"
"""

# %% What is asked
import argparse
from pathlib import Path

from cohort.calibrate import MUTANTS, Task, calibrate, harsh, large, report
from cohort.cli.progress import progress
from cohort.cli.stop import keeps, stoppable

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("out", type=Path, help="folder for the studies, the table and the picture")
ask.add_argument("--studies", type=int, default=20)
ask.add_argument("--first-seed", type=int, default=1)
ask.add_argument("--mutant", choices=list(MUTANTS), default="")
ask.add_argument("--harsh", action="store_true", help="six times the losses, looks weeks apart")
ask.add_argument("--large", action="store_true", help="200 to 400 foundings, larger steps")
ask.add_argument("--jobs", type=int, default=1, help="processes at a time")
ask.add_argument("--scheduler", default="", help="address of a Dask scheduler")
want = ask.parse_args()
task = Task(mutant=want.mutant)
if want.harsh:
    task = harsh(want.mutant)
if want.large:
    task = large()

# %% Draw, fit and rank
seeds = range(want.first_seed, want.first_seed + want.studies)
with stoppable():
    keeps(
        lambda: f"The studies done so far lie in {want.out}; the same command goes on from there."
    )
    with progress() as tell:
        tell(f"Drawing and fitting {len(seeds)} studies")
        calibrate(want.out / "studies", seeds, task, jobs=want.jobs, scheduler=want.scheduler)

# %% Set beside uniform ranks
found = report(want.out / "studies", want.out, task)
del found["model"]  # what the model says at fixed points: for the record alone
for key, value in found.items():
    print(f"{key.replace('_', ' ')}: {value}")
