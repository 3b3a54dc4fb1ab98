"""Does founding together pay, for which kind? The same queens both ways, kind by kind.

python analyses/across_genera.py data/demo out-across_genera
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
print(table[table["question"] == "colony"].to_string())

# %% Pictures
write_figures(made, want.out, only=["both_ways", "how_sure"])
