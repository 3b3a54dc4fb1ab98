"""How to divide queens of each kind: every division compared, and drawn.

python analyses/plan.py out-plan --queens 10 --genera Lasius,Messor
python analyses/plan.py out-plan --queens 10 --results out --want workers
"""

# %% What is asked
import argparse
from pathlib import Path

from cohort.figures.plan_picture import write_plan
from cohort.outcomes.basis import basis_of, kind_of, prior_basis
from cohort.plan import plan, words
from cohort.plan.plan import DAY
from cohort.sheets import written

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("out", type=Path, help="folder for the tables and pictures")
ask.add_argument("--queens", type=int, default=10)
ask.add_argument("--largest", type=int, default=4, help="most queens in one founding")
ask.add_argument("--day", type=int, help="day on which colonies are counted (180, or the last)")
ask.add_argument("--want", default="one", help="one, many or workers: what is wanted of them")
ask.add_argument("--genera", default="", help="kinds, commas between; those of the results if not")
ask.add_argument("--results", type=Path, help="folder of a comparison to stand on")
want = ask.parse_args()

# %% What the plan stands on
basis = basis_of(want.results)
before = prior_basis() if basis.settled else None
kinds = [name for name in want.genera.split(",") if name] or list(basis.draws.genera)

# %% Each kind
want.out.mkdir(parents=True, exist_ok=True)
for name in kinds:
    kind = kind_of(name, basis)
    day = want.day or min(DAY, basis.last_day(kind.index) or DAY)
    made = plan(
        want.queens, kind, basis, largest=want.largest, day=day, want=want.want, before=before
    )
    own = want.out / (kind.name or "new").replace(" ", "-").replace("/", "-")
    write_plan(made.table, own, made.title, want.want)
    written.write(made.table.drop(columns="parts").round(4), "divisions", own / "divisions.csv")
    print("\n".join((*words.first_words(made), *words.sentences(made))), end="\n\n")

# %% What it stands on
print(basis.says)
