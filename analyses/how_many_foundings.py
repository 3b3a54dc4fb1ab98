"""How many foundings does each verdict need? Words by number of foundings and true gain.

The gain is how much more often three queens together have a colony, as seen on day 160, than three
queens each alone have at least one. Two genera, sizes 1 and 3 by lot, looks every week. Studies lie
in one folder each, so that the work can be broken off and taken up.

    python analyses/how_many_foundings.py out-words --foundings 24,96 --seeds 10 --jobs 2
"""

# %% What is asked
import argparse
from pathlib import Path

from cohort.calibrate import told, trials, word_shares
from cohort.cli.progress import progress
from cohort.cli.stop import keeps, stoppable
from cohort.sheets import written
from cohort.simulate.gains import world_of_gain

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("out", type=Path, help="folder for the studies and the tables")
ask.add_argument("--foundings", default="12,24,48,96,192", help="foundings in all, commas between")
ask.add_argument("--gains", default="0.3,0.1,0,-0.1,-0.3", help="true gains, commas between")
ask.add_argument("--seeds", type=int, default=8, help="studies of each")
ask.add_argument("--jobs", type=int, default=1, help="processes at a time")
ask.add_argument("--scheduler", default="", help="address of a Dask scheduler")
want = ask.parse_args()
worlds = [
    world_of_gain(float(gain), int(foundings))
    for gain in want.gains.split(",")
    for foundings in want.foundings.split(",")
]

# %% Live, write, compare
with stoppable():
    keeps(
        lambda: f"The studies done so far lie in {want.out}; the same command goes on from there."
    )
    with progress() as tell:
        tell(f"Living through and comparing {len(worlds) * want.seeds} studies")
        trials(
            want.out / "studies",
            worlds,
            range(1, 1 + want.seeds),
            jobs=want.jobs,
            scheduler=want.scheduler,
        )

# %% What was said of any colony, and how often the ranges held the truth
words = word_shares(want.out / "studies", worlds)
written.write(words, "words", want.out / "words.csv")
words["said"] = (words["word"] + " " + words["side"]).str.strip()
shares = words.pivot_table("share", ["world", "foundings"], "said", fill_value=0, sort=False)
print(shares.round(2).to_string())
print(f"Each share is of {want.seeds} studies: it is known to within {words['se'].max():.2f}.")
table = told(want.out / "studies", worlds)
written.write(table, "trials", want.out / "trials.csv")
print(table.round(3).to_string(index=False))
