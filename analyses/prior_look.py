"""What do the priors say before any queen is counted? A picture and two tables.

    python analyses/prior_look.py out-priors --horizon 180

A sober prior lets 40 to 95 % of single foundings have workers before winter in at least seven of
ten draws, and at least 40 % of trios in more. The second table says what the priors alone would
print for every contrast: that number stands beside the result of a study as
`prior_chance_multi_better`.
"""

# %% What is asked
import argparse
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np

from cohort.outcomes.alone import (
    EXPECTED,
    LEAST,
    basis,
    draws_of,
    prior_outcomes,
    said,
    sober_share,
)
from cohort.outcomes.quantities import Key
from cohort.sheets import written
from cohort.terms.questions import SEEN

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("out", type=Path, help="folder for the picture and the tables")
ask.add_argument("--horizon", type=int, default=180, help="last day of the season")
ask.add_argument("--seed", type=int, default=1)
ask.add_argument("--draws", type=int, default=2000)
want = ask.parse_args()
want.out.mkdir(parents=True, exist_ok=True)

# %% The numbers
alone = prior_outcomes(seed=want.seed, horizon=want.horizon, draws=want.draws)
written.write(basis(), "basis", want.out / "priors.csv")
written.write(said(alone).round(4), "said", want.out / "said-by-the-priors.csv")
for way, queens, words in (("single", 1, "single foundings"), ("multi", 3, "groups of three")):
    share, (low, high) = sober_share(alone, want.horizon, queens), EXPECTED[way]
    print(f"{share:.0%} of draws let {low:.0%} to {high:.0%} of {words} have workers by day")
    print(f"{want.horizon} (at least {LEAST[way]:.0%} is asked): {share >= LEAST[way]}")

# %% The picture
figure, axes = plt.subplots(2, 2, figsize=(8, 6), layout="constrained")
axes[0, 0].axvspan(*EXPECTED["single"], color="0.9", zorder=0)
axes[0, 0].set_xlabel(f"chance of workers by day {want.horizon}; grey: usual for one", fontsize=8)
new = alone.kinds.index("new")
for size, colour in ((1, "tab:blue"), (3, "tab:orange")):
    values = draws_of(alone, Key("first_worker", "chance_by_day", size, want.horizon))
    axes[0, 0].hist(values, np.linspace(0, 1, 41), histtype="step", color=colour, lw=1.5)
    curve = alone.of_kind(alone.alive, new, size)
    low, middle, high = np.quantile(curve, [0.05, 0.5, 0.95], axis=0)
    axes[0, 1].fill_between(alone.days, low, high, color=colour, alpha=0.25, lw=0)
    axes[0, 1].plot(alone.days, middle, color=colour, label=f"{size} at the start")
axes[0, 1].set_xlabel("day")
axes[0, 1].set_ylabel("share of queens alive")
axes[0, 1].legend(frameon=False)
pairs = (
    ("same_queens_any", "at least one colony: together minus the same queens singly"),
    ("same_queens_count", "colonies: together minus the same queens singly"),
)
for axis, (name, label) in zip(axes[1], pairs, strict=True):
    values = draws_of(alone, Key("colony", name, 3, want.horizon, SEEN))
    axis.hist(values, bins=40, color="0.4")
    axis.axvline(0, color="black", lw=0.8)
    axis.set_xlabel(label, fontsize=8)
    axis.set_title(f"three queens: above 0 in {(values > 0).mean():.0%} of draws", fontsize=9)
for axis in axes.flat:
    axis.spines[["top", "right"]].set_visible(False)
figure.savefig(want.out / "priors.png", dpi=150)
