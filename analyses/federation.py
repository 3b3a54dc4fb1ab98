"""The clubs of a federation: each compared by itself, and all of them as one study.

Each comparison leaves its folder of results as it is done, and one that is there of these very
sheets is not made again, so that the work can be broken off and taken up. With the address of a
Dask scheduler its workers make them: the sheets are read here, and the results come back here.

    python analyses/federation.py out-federation club-north club-south club-east --jobs 2
"""

# %% What is asked
import argparse
from pathlib import Path

from cohort.base.errors import CohortError
from cohort.cli.progress import progress
from cohort.cli.stop import keeps, stoppable
from cohort.comparison import SEED
from cohort.comparison.federation import federation, read_clubs

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("out", type=Path, help="folder for the results of each club and of all")
ask.add_argument("studies", type=Path, nargs="+", help="folders of the clubs, two or more")
ask.add_argument("--without-faulty", action="store_true", help="leave out foundings with an error")
ask.add_argument("--seed", type=int, default=SEED)
ask.add_argument("--level", type=float, default=0.9, help="how much a likely range holds")
ask.add_argument("--jobs", type=int, default=1, help="comparisons at a time")
ask.add_argument("--scheduler", default="", help="address of a Dask scheduler")
want = ask.parse_args()

# %% Read all sheets, then compare
with stoppable():
    keeps(
        lambda: f"The comparisons done so far lie in {want.out}; the same command makes the others."
    )
    try:
        with progress() as tell:
            tell("Reading the sheets")
            clubs = read_clubs(want.studies, without_faulty=want.without_faulty)
            found = federation(
                clubs,
                want.out,
                seed=want.seed,
                level=want.level,
                jobs=want.jobs,
                scheduler=want.scheduler,
                say=tell,
            )
    except CohortError as fault:
        ask.exit(1, f"{fault}\n")

# %% Side by side: each row is a comparison of its own, and `pooled` is no average of the others
for note in found.notes:
    print(note)
numbers = found.table.drop(columns="why").round(2).astype(object)
print(numbers.where(numbers.notna(), "").to_string(index=False))
for club, why in zip(found.table["club"], found.table["why"], strict=True):
    if why:
        print(f"{club}: {why}")
