"""What is due today in a study, for every keeper: tables, and one calendar file each.

python analyses/due.py data/demo out-due --on 2025-07-20
python analyses/due.py data/demo out-due --on 2025-07-20 --results out
"""

# %% What is asked
import argparse
import dataclasses
import datetime as dt
from pathlib import Path

from cohort.forecast import due
from cohort.forecast.calendar import calendar
from cohort.outcomes.basis import basis_of
from cohort.sheets import written
from cohort.study import read_study

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("study", type=Path, help="folder of the study")
ask.add_argument("out", type=Path, help="folder for the files")
ask.add_argument("--on", type=dt.date.fromisoformat, default=dt.date.today())
ask.add_argument("--results", type=Path, help="folder of a comparison to stand on")
want = ask.parse_args()

# %% The study, what the forecast stands on, and what is due
study = read_study(want.study, today=max(want.on, dt.date.today()))
what = due(study, want.on, basis_of(want.results, draws=300))

# %% Tables
want.out.mkdir(parents=True, exist_ok=True)
for name in ("looks", "windows", "groups"):
    written.write(getattr(what, name).round(4), name, want.out / f"{name}.csv")

# %% One calendar for each keeper
for keeper, looks in what.looks.groupby("keeper"):
    own = what.windows[what.windows["founding"].isin(looks["founding"])]
    mine = dataclasses.replace(what, looks=looks, windows=own)
    (want.out / f"due-{keeper or 'all'}.ics").write_bytes(calendar(mine))

# %% In short
print(f"{len(what.looks)} foundings open, {len(what.overdue)} overdue, {len(what.groups)} groups")
print("\n".join(what.says))
