"""The page for the newsletter, from sheets to print, step by step.

python analyses/newsletter.py data/demo out-page
"""

# %% What is asked
import argparse
from pathlib import Path

from cohort import compare, read_study, write_newsletter

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("study", type=Path)
ask.add_argument("out", type=Path)
ask.add_argument("--language", default="en")
want = ask.parse_args()

# %% Sheets -> study -> comparison
study = read_study(want.study)
made = compare(study, say=print)
made.write(want.out)

# %% Comparison -> page
for path in write_newsletter(made, want.out, language=want.language):
    print(path)
