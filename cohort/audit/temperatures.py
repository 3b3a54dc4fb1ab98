"""Rules for the sheet `temperatures`.

What comes in: the typed shelf log and the foundings. What goes out: findings. No degree is
turned into another.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from cohort.audit.find import NOTHING, at, tell
from cohort.sheets.found import Found
from cohort.terms.near import did_you_mean

FAHRENHEIT = (35.0, 110.0)
_BELIEVABLE = (-30.0, 60.0)


def low_above_high(log: pd.DataFrame) -> Found:
    """The lowest is above the highest."""
    wrong = (log["min_c"] > log["max_c"]).to_numpy()
    return at(
        log,
        wrong,
        level="error",
        rule="min-above-max",
        column="min_c",
        what=[
            tell("min_above_max", low=f"{low:g}", high=f"{high:g}")
            for low, high in zip(log["min_c"][wrong], log["max_c"][wrong], strict=True)
        ],
        remedy=tell("min_above_max_do"),
    )


def _like_fahrenheit(log: pd.DataFrame) -> np.ndarray:
    """Mask of rows that read like Fahrenheit, on shelves most of whose rows do."""
    low, high = FAHRENHEIT
    looks_so = (log["min_c"] >= low) & (log["max_c"] <= high) & (log["min_c"] <= log["max_c"])
    share = looks_so.groupby(log["shelf"]).transform("mean")
    return np.asarray((share > 0.5).to_numpy() & looks_so.to_numpy())


def fahrenheit(log: pd.DataFrame) -> Found:
    """A shelf log in Fahrenheit by the look of it: most rows between 35 and 110."""
    shelf = _like_fahrenheit(log)
    first = shelf & ~log.assign(shelf_is=shelf).duplicated(["shelf", "shelf_is"]).to_numpy()
    return at(
        log,
        first,
        level="error",
        rule="fahrenheit",
        column="min_c",
        what=[tell("fahrenheit", shelf=name or tell("a_blank")) for name in log["shelf"][first]],
        remedy=tell("fahrenheit_do"),
    )


def believable(log: pd.DataFrame) -> Found:
    """A single reading that no shelf has."""
    low, high = _BELIEVABLE
    wrong = ((log["min_c"] < low) | (log["max_c"] > high)).to_numpy() & ~_like_fahrenheit(log)
    return at(
        log,
        wrong,
        level="error",
        rule="degrees",
        column="max_c",
        what=[
            tell("degrees", low=f"{a:g}", high=f"{b:g}")
            for a, b in zip(log["min_c"][wrong], log["max_c"][wrong], strict=True)
        ],
        remedy=tell("degrees_do"),
    )


def shelf_twice(log: pd.DataFrame) -> Found:
    """A shelf and day typed twice."""
    known = (log["shelf"] != "").to_numpy() & log["date"].notna().to_numpy()
    same = log.duplicated(["shelf", "date", "min_c", "max_c"]).to_numpy() & known
    again = log.duplicated(["shelf", "date"]).to_numpy() & known
    return at(
        log,
        same,
        level="note",
        rule="repeated-row",
        what=tell("repeated_row"),
        remedy=NOTHING,
    ) + at(
        log,
        again & ~same,
        level="error",
        rule="readings-disagree",
        column="date",
        what=tell("readings_disagree"),
        remedy=tell("readings_disagree_do"),
    )


def shelf_known(log: pd.DataFrame, foundings: pd.DataFrame) -> Found:
    """A founding on a shelf without a log, when there are logs."""
    if not len(log):
        return Found()
    shelves = [name for name in log["shelf"].unique() if name]
    shelf = foundings["shelf"].to_numpy()
    wrong = np.flatnonzero((shelf != "") & ~np.isin(shelf, shelves))
    return at(
        foundings,
        wrong,
        level="warning",
        rule="shelf-unknown",
        column="shelf",
        what=[tell("shelf_unknown", shelf=shelf[p]) for p in wrong],
        remedy=[did_you_mean(shelf[p], shelves) or tell("shelf_unknown_do") for p in wrong],
    )
