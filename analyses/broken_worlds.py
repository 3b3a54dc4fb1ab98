"""Do comparisons notice when they are misled? Worlds with a broken assumption, and what was said.

Every study is lived through in a world of `cohort.simulate.broken`, written as sheets, read back
and compared. Each leaves one file named by its seed; one whose file is there is not done again,
so that the work can be broken off and taken up. The clean world is tried with more seeds, for its
flags are false alarms.

    python analyses/broken_worlds.py out-worlds --seeds 5 --clean 40 --jobs 2
"""

# %% What is asked
import argparse
from pathlib import Path

from cohort.calibrate import told, trials
from cohort.cli.stop import keeps, stoppable
from cohort.sheets import written
from cohort.simulate.broken import CLEAN, SCENARIOS

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("out", type=Path, help="folder for the studies and the table")
ask.add_argument("--worlds", default="", help="names, commas between; all if left out")
ask.add_argument("--seeds", type=int, default=5, help="studies of each world")
ask.add_argument("--clean", type=int, default=40, help="studies in which nothing is wrong")
ask.add_argument("--jobs", type=int, default=1, help="processes at a time")
ask.add_argument("--scheduler", default="", help="address of a Dask scheduler")
want = ask.parse_args()
names = want.worlds.split(",") if want.worlds else list(SCENARIOS)
worlds = [SCENARIOS[name] for name in names]

# %% Live, write, compare
with stoppable():
    keeps(
        lambda: f"The studies done so far lie in {want.out}; the same command goes on from there."
    )
    for world in worlds:
        seeds = range(1, 1 + (want.clean if world is CLEAN else want.seeds))
        trials(want.out / "studies", [world], seeds, jobs=want.jobs, scheduler=want.scheduler)

# %% What was said
table = told(want.out / "studies", worlds)
written.write(table, "trials", want.out / "trials.csv")
print(table.round(3).to_string(index=False))
