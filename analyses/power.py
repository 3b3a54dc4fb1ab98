"""What studies of several sizes could find out: seasons simulated, compared again, and counted.

Every season leaves one file; a run that is broken off goes on where it stopped, and several
machines may share the folder.

    python analyses/power.py out-power --foundings 24,48,96 --seasons 40 --effect together=2
"""

# %% What is asked
import argparse
from pathlib import Path

from cohort.cli.progress import progress
from cohort.cli.stop import keeps, stoppable
from cohort.figures.power_picture import write_power
from cohort.power import Wish, power, words
from cohort.power.wish import read_effect
from cohort.sheets import written

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("out", type=Path, help="folder for the seasons, the table and the picture")
ask.add_argument("--genera", type=int, default=4)
ask.add_argument("--foundings", default="24,48", help="foundings in all, commas between")
ask.add_argument("--split", default="1,3", help="queens per founding")
ask.add_argument("--effect", default="together=2", help="what is true")
ask.add_argument("--contrast", default="same_queens_any")
ask.add_argument("--day", type=int, default=180)
ask.add_argument("--width", type=float, help="wished width of the likely range")
ask.add_argument("--seasons", type=int, default=40)
ask.add_argument("--jobs", type=int, default=1, help="seasons at a time")
ask.add_argument("--scheduler", default="", help="address of a Dask scheduler")
want = ask.parse_args()
wish = Wish(
    want.genera,
    tuple(int(k) for k in want.split.split(",")),
    read_effect(want.effect),
    want.contrast,
    horizon=want.day,
)

# %% All seasons
with stoppable():
    keeps(
        lambda: f"The seasons done so far lie in {want.out}; the same command goes on from there."
    )
    with progress() as tell:
        found = power(
            wish,
            tuple(int(n) for n in want.foundings.split(",")),
            want.seasons,
            want.out,
            width=want.width,
            jobs=want.jobs,
            scheduler=want.scheduler,
            say=tell,
        )

# %% What they say
written.write(found.table, "power", want.out / "power.csv")
write_power(found.table, found.slope, found.level, want.out)
print(found.table.round(3).to_string(index=False))
print("\n".join(words.sentences(found)))
