"""A gallery to begin with: the frames of a comparison, looked at with seaborn, one cell a plot.

    cohort compare data/demo --out out-demo
    python analyses/explore.py out-demo out-gallery

Nothing is estimated here: the frames are those behind the page, as they lie in the folder of
results. Plain seaborn, so that a cell can be taken, changed and thrown away.
"""

# %% What is asked
import argparse
from pathlib import Path

import numpy as np
import seaborn as sns
import seaborn.objects as so
import xarray as xr

from cohort import read_results
from cohort.results import headline_draws

ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
ask.add_argument("results", type=Path, help="folder written by 'cohort compare'")
ask.add_argument("out", type=Path, help="folder for the plots (PNG)")
want = ask.parse_args()
want.out.mkdir(parents=True, exist_ok=True)
sns.set_theme(style="whitegrid", context="paper")
WAYS = {"single": "#1f4e8c", "multi": "#d5740a"}
every = {"hue": "arm", "hue_order": list(WAYS), "palette": WAYS}

# %% The frames: what was counted, founding by founding and by day
results = read_results(want.results)
foundings = results.foundings[results.foundings["compared"]]
foundings = foundings.assign(lost=foundings["queens_lost_before"] + foundings["queens_lost_after"])
seen = foundings[np.isfinite(foundings["first_by"].astype(float))]  # had workers
counted = results.curves[results.curves["curve"].isin(["queen_survival", "first_worker"])]
print(foundings.groupby(["genus", "arm"]).size().unstack(fill_value=0))

# %% relplot: queens alive and first workers by day, kind beside kind
grid = sns.relplot(
    counted, x="day", y="estimate", row="curve", col="genus", kind="line", drawstyle="steps-post",
    estimator=None, errorbar=None, height=1.6, aspect=1.1, facet_kws={"margin_titles": True},
    **every,
)  # fmt: skip
grid.set_titles("{col_name}", row_template="{row_name}")
grid.savefig(want.out / "relplot-curves.png", dpi=120)

# %% displot: the day on which the first worker was seen
grid = sns.displot(seen, x="first_by", kind="hist", binwidth=5, multiple="stack", height=3, **every)
grid.set_axis_labels("day the first worker was seen", "foundings")
grid.savefig(want.out / "displot-first-worker.png", dpi=120)

# %% catplot: queens lost, founding by founding
grid = sns.catplot(
    foundings, x="lost", y="genus", kind="strip", dodge=True, alpha=0.6, height=4, **every
)
grid.set_axis_labels("queens lost to the end of the record", "")
grid.savefig(want.out / "catplot-losses.png", dpi=120)

# %% Objects interface: how wide the looks leave the day of the first worker
(
    so.Plot(seen, x="first_by", y="genus", xmin="first_after", xmax="first_by", color="arm")
    .add(so.Range(alpha=0.5), so.Dodge(by=["color"]), so.Jitter(0.5, seed=1), orient="y")
    .add(so.Dot(pointsize=4), so.Dodge(by=["color"]), so.Jitter(0.5, seed=1), orient="y")
    .scale(color=WAYS)
    .label(x="days: last look without, first look with a worker", y="", color="")
    .theme(sns.axes_style("whitegrid"))
    .layout(size=(7, 5))
    .save(want.out / "objects-brackets.png", dpi=120, bbox_inches="tight")
)

# %% The draws: at least one colony from the same queens, together less singly
draws = headline_draws.read(want.results)
if draws.empty:
    print("No draws of the contrast in this folder: it has not settled, or make it again.")

# %% ecdfplot: which share of the draws lies below a value, before and after the sheets
if len(draws):
    grid = sns.displot(
        draws, x="value", hue="source", col="genus", col_wrap=4, kind="ecdf", height=2,
        facet_kws={"sharex": True},
    )  # fmt: skip
    grid.refline(x=0)
    grid.set_titles("{col_name}")
    grid.set_axis_labels("together less singly", "share of draws")
    grid.savefig(want.out / "ecdfplot-draws.png", dpi=120)

# %% pairplot: do two parameters pull on one another?
ASKED = ("founding_hazard_mean", "together_mean", "rivalry_mean", "multi_days", "mated")
if (want.results / "draws.nc").is_file():
    with xr.open_dataset(want.results / "draws.nc", group="posterior", engine="h5netcdf") as open_:
        posterior = open_.load()
    flat = posterior[[name for name in ASKED if name in posterior]].to_dataframe()
    few = flat.reset_index(drop=True).sample(min(len(flat), 400), random_state=1)
    grid = sns.pairplot(few, corner=True, height=1.4, plot_kws={"s": 6, "alpha": 0.5})
    grid.savefig(want.out / "pairplot-parameters.png", dpi=120)

print(f"Wrote {len(list(want.out.glob('*.png')))} plots into {want.out}")
