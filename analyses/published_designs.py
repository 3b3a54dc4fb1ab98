"""Would a comparison have concluded what published experiments did? Their designs, simulated.

Every study has the groups, numbers and days of an experiment on ants, and its effect: as published,
none, or the other way round. It is lived through, written as sheets, read back and compared. Each
leaves one file named by its seed; one whose file is there is not done again, so that the work can
be broken off and taken up. The table and its record are those of ``data/published``, which this
makes anew:

    python analyses/published_designs.py data/published --studies out-published
"""

# %% What is asked
import argparse
from pathlib import Path

from cohort.calibrate.published import published_trials, write_conclusions
from cohort.cli.progress import progress
from cohort.cli.stop import keeps, stoppable
from cohort.simulate.published import EXPERIMENTS

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("out", type=Path, help="folder for the table and its record")
ask.add_argument("--studies", type=Path, default=Path("out-published"), help="a file per study")
ask.add_argument("--experiments", default="", help="names, commas between; all if left out")
ask.add_argument("--seeds", type=int, default=12, help="studies with the effect as published")
ask.add_argument("--others", type=int, default=6, help="studies of each other effect")
ask.add_argument("--jobs", type=int, default=1, help="processes at a time")
ask.add_argument("--scheduler", default="", help="address of a Dask scheduler")
want = ask.parse_args()
names = want.experiments.split(",") if want.experiments else list(EXPERIMENTS)
experiments = [EXPERIMENTS[name] for name in names]
few, many = range(1, 1 + want.others), range(1, 1 + want.seeds)

# %% Live, write, compare
with stoppable():
    keeps(lambda: f"The studies done so far lie in {want.studies}; the same command goes on there.")
    with progress() as tell:
        for one in experiments:
            for effect in one.worlds:
                tell(f"{one.paper}: effect {effect}")
                seeds = {effect: many if effect == "published" else few}
                published_trials(
                    want.studies, [one], seeds, jobs=want.jobs, scheduler=want.scheduler
                )

# %% What was concluded
table = write_conclusions(want.studies, want.out, experiments)
print(table.round(2).to_string(index=False))
