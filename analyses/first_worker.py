"""When does the first worker come, and how often?

python analyses/first_worker.py data/demo out-first_worker
"""

# %% What is asked
import argparse
from pathlib import Path

from cohort import compare, read_study, write_figures

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("study", type=Path)
ask.add_argument("out", type=Path)
want = ask.parse_args()

# %% Compare
made = compare(read_study(want.study), say=print)
made.write(want.out)

# %% Numbers
table = made.results.comparisons
print(table[table["question"] == "first_worker"].to_string())

# %% Pictures
write_figures(made, want.out, only=["first_worker"])
