"""Rules for the sheet `catches`.

What comes in: the typed table of catches (with ``label``) and of foundings. What goes out:
findings. Catches feed the flow chart and the calendar; only what they cannot do without is an
error.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from cohort.audit.find import NOTHING, at, days, tell
from cohort.sheets.found import Found
from cohort.terms.near import did_you_mean


def catch_twice(catches: pd.DataFrame) -> Found:
    """A catch's number used twice; an identical row is a note."""
    content = [name for name in catches.columns if name not in ("file", "tab", "row")]
    known = (catches["catch"] != "").to_numpy()
    same = catches.duplicated(content).to_numpy() & known
    used = catches["catch"].duplicated().to_numpy() & known
    return at(
        catches,
        same,
        level="note",
        rule="repeated-row",
        column="catch",
        what=tell("repeated_word_for_word"),
        remedy=NOTHING,
    ) + at(
        catches,
        used & ~same,
        level="error",
        rule="catch-twice",
        column="catch",
        what=tell("catch_twice"),
        remedy=tell("catch_twice_do"),
    )


def more_died_than_kept(catches: pd.DataFrame) -> Found:
    """More queens died than were kept."""
    wrong = catches["died"].gt(catches["queens"]).fillna(False).to_numpy(dtype=bool)
    return at(
        catches,
        wrong,
        level="warning",
        rule="died-more-than-kept",
        column="died",
        what=tell("died_more_than_kept"),
        remedy=tell("died_more_than_kept_do"),
    )


def set_up(catches: pd.DataFrame, foundings: pd.DataFrame) -> Found:
    """Foundings against their catch: there at all, of the same kind, not before it, not more."""
    if not len(catches):
        return Found()
    known = catches[catches["catch"] != ""].drop_duplicates("catch").set_index("catch")
    named = np.flatnonzero((foundings["catch"] != "").to_numpy())
    catch = foundings["catch"].to_numpy()[named]
    there = np.isin(catch, known.index.to_numpy())
    findings = at(
        foundings,
        named[~there],
        level="warning",
        rule="catch-unknown",
        column="catch",
        what=[tell("catch_unknown", catch=name) for name in catch[~there]],
        remedy=[
            did_you_mean(name, known.index, cutoff=0.6) or tell("catch_unknown_do")
            for name in catch[~there]
        ],
    )
    mine = foundings.iloc[named[there]]
    theirs = known.loc[mine["catch"]]
    early = mine["started"].to_numpy() < theirs["date"].to_numpy()
    findings += at(
        mine,
        early,
        level="warning",
        rule="started-before-catch",
        column="started",
        what=[tell("started_before_catch", day=when) for when in days(theirs["date"][early])],
        remedy=tell("both_dates_do"),
    )
    one, two = mine["label"].to_numpy(), theirs["label"].to_numpy()
    mixed = np.flatnonzero((one != two) & (one != "") & (two != ""))
    findings += at(
        mine,
        mixed,
        level="warning",
        rule="other-kind-than-catch",
        column="catch",
        what=[tell("other_kind_than_catch", one=one[p], two=two[p]) for p in mixed],
        remedy=tell("other_kind_than_catch_do"),
    )
    return findings + _more_than_kept(catches, mine)


def _more_than_kept(catches: pd.DataFrame, mine: pd.DataFrame) -> Found:
    # A parted group's queens were counted in the founding they came from.
    whole = mine[mine["from"] == ""]
    used = whole.groupby("catch")["queens"].sum()
    used_by = catches["catch"].map(used).fillna(0).to_numpy(dtype=np.int64)
    kept = catches["queens"].fillna(-1).to_numpy(dtype=np.int64)
    places = np.flatnonzero((kept >= 0) & (used_by > kept))
    return at(
        catches,
        places,
        level="warning",
        rule="more-set-up-than-kept",
        column="queens",
        what=[
            tell("more_set_up_than_kept", set_up=tell("set_up", n=int(used_by[p])), n=int(kept[p]))
            for p in places
        ],
        remedy=tell("more_set_up_than_kept_do"),
    )
