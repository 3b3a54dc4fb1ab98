"""What a calibration found, as a table, a picture and a record.

Comes in: a folder of study files. Goes out: ``calibration.csv``, ``calibration.svg``,
``calibration.json``. Never: a fit.
"""

from __future__ import annotations

import datetime as dt
import json
import os
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from cohort.base import making
from cohort.calibrate.bands import band, summary
from cohort.calibrate.fingerprint import fingerprint
from cohort.calibrate.ranks import KEPT, Task
from cohort.calibrate.run import collected
from cohort.results import versions
from cohort.sheets import written

LEVEL = 0.99


def verdict(table: pd.DataFrame, record: pd.DataFrame) -> dict[str, Any]:
    """The few numbers a calibration is judged by.

    Parameters
    ----------
    table : DataFrame
        From `cohort.calibrate.summary`.
    record : DataFrame
        From `cohort.calibrate.collected`.

    Returns
    -------
    dict
        studies; failed (fits that failed twice, ranks kept), not_drawn; quantities, and how many
        of them leave the bands; coverage of 90 % intervals: lowest, highest and pooled; diverged
        (studies with a divergence in their first run) and divergences (how many there were in all
        of them, and in the worst), the same of the runs whose ranks are kept.
    """
    why = record["failed"].fillna("").astype(str)
    not_drawn = why.str.startswith("not drawn")
    return {
        "studies": int((~not_drawn).sum()),
        "failed": int(((why != "") & ~not_drawn).sum()),
        "run_twice": int((record["runs"] >= 2).sum()),
        "not_drawn": int(not_drawn.sum()),
        "quantities": len(table),
        "outside_bands": table.loc[table["outside"] > 0, "quantity"].tolist(),
        "lowest_coverage": float(table["coverage"].min()),
        "highest_coverage": float(table["coverage"].max()),
        "pooled_coverage": float(table["coverage"].mean()),
        **_divergences(record, "divergences", ""),
        **_divergences(record, "kept_divergences", "_kept"),
        "seconds_per_study": float(record["seconds"].median()),
    }


def _divergences(record: pd.DataFrame, column: str, end: str) -> dict[str, int]:
    counts = record[column].fillna(0)
    return {
        f"diverged{end}": int((counts > 0).sum()),
        f"divergences{end}": int(counts.sum()),
        f"most_divergences{end}": int(counts.max()),
    }


def ecdf_difference(ranks: pd.DataFrame) -> pd.DataFrame:
    """Share of ranks below 1, 2, ..., 99 less that of uniform ranks; one column per quantity."""
    points = np.arange(1, KEPT + 1)
    return pd.DataFrame(
        {
            name: np.searchsorted(np.sort(column), points, side="left") / len(column)
            - points / (KEPT + 1)
            for name, column in ranks.items()
        },
        index=points,
    )


def picture(ranks: pd.DataFrame, place: Path, says: str) -> None:
    """Draw every quantity's distribution of ranks against the simultaneous band."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    lines = ecdf_difference(ranks)
    limits = band(len(ranks), KEPT, 1 - (1 - LEVEL) / ranks.shape[1])
    expected = lines.index.to_numpy() / (KEPT + 1)
    with mpl.rc_context({"svg.hashsalt": "calibration", "svg.fonttype": "none"}):
        figure = Figure(figsize=(6.3, 3.6), layout="constrained")
        axes = figure.subplots()
        low, high = limits.low / len(ranks) - expected, limits.high / len(ranks) - expected
        axes.fill_between(lines.index, low, high, color="0.88", label="99 % of all, if uniform")
        axes.plot(lines.index, lines.to_numpy(), color="0.25", linewidth=0.5, alpha=0.6)
        axes.axhline(0, color="0.5", linewidth=0.6)
        axes.set(xlabel="rank of the truth among 99 draws", ylabel="share below, less uniform")
        axes.set_title(says, fontsize=8, loc="left")
        axes.legend(frameon=False, fontsize=8, loc="upper right")
        figure.savefig(place, metadata={"Date": None})


def report(studies: Path, out: Path, task: Task, *, name: str = "calibration") -> dict[str, Any]:
    """Write table, picture and record of the studies of a folder; gives the verdict.

    Parameters
    ----------
    studies : Path
        Folder that `cohort.calibrate.calibrate` filled.
    out : Path
    task : Task
        The one that was calibrated, for the record.
    name : str
        Stem of the files.
    """
    ranks, record = collected(studies)
    table = summary(ranks, KEPT, LEVEL)
    found = verdict(table, record) | {
        "mutant": task.mutant,
        "seeds": [int(record["seed"].min()), int(record["seed"].max())],
        "foundings": [task.shape.fewest, task.shape.most],
        "draws": KEPT,
        "model": fingerprint(task),
        "versions": versions(),
        "date": today().isoformat(),
    }
    sizes = f"{task.shape.fewest} to {task.shape.most} foundings"
    says = f"{found['studies']} studies of {sizes}, {len(table)} quantities"
    with making.added(out) as new:
        written.write(table.round(4), "calibration", new.place / f"{name}.csv")
        making.write(new.place / f"{name}.json", json.dumps(found, indent=1) + "\n")
        at = new.place / f"{name}.svg"
        picture(ranks, at, says + (f"; {task.mutant}" if task.mutant else ""))
    return found


def today() -> dt.date:
    """Today, or the day of ``SOURCE_DATE_EPOCH`` (seconds since 1970, UTC), where that is set."""
    told = os.environ.get("SOURCE_DATE_EPOCH", "")
    if told.isascii() and told.isdigit() and len(told) < 12:
        return dt.datetime.fromtimestamp(int(told), dt.UTC).date()
    return dt.date.today()
