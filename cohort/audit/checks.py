"""Rules for single rows of the sheet `checks`.

What comes in: typed foundings and checks (with ``code``), and what was followed. What goes out:
findings. Rules on how counts follow one another are in `counts`, on how often in `rhythm`.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from cohort.audit import ids
from cohort.audit.find import NOTHING, at, days, row_of, tell
from cohort.audit.looks import Followed
from cohort.audit.runs import day_numbers
from cohort.sheets.found import Found

_FAR = pd.Timedelta(days=60)  # a look so long before the start is of another year


def placed(foundings: pd.DataFrame, checks: pd.DataFrame) -> Found:
    """Rows of a founding that is not there, and `same` without `rest`."""
    code = checks["code"].to_numpy()
    named_same = checks["same"].to_numpy() & (code != ids.REST)
    return (
        ids.unknown_ids(checks, code == ids.UNKNOWN, foundings)
        + at(
            checks,
            code == ids.ALL,
            level="error",
            rule="all-in-checks",
            column="founding",
            what=tell("all_in_checks"),
            remedy=tell("all_in_checks_do"),
        )
        + at(
            checks,
            named_same & (code != ids.ALL),
            level="error",
            rule="same-without-rest",
            column="queens_alive",
            what=tell("same_without_rest"),
            remedy=tell("same_without_rest_do"),
        )
    )


def rest_rows(foundings: pd.DataFrame, checks: pd.DataFrame) -> Found:
    """`rest` rows: `same`, no workers but 0, and the file must tell whose they are."""
    rest = checks["code"].to_numpy() == ids.REST
    if not rest.any():
        return Found()
    same = checks["same"].to_numpy()
    found = at(
        checks,
        rest & ~same,
        level="error",
        rule="rest-not-same",
        column="queens_alive",
        what=tell("rest_not_same"),
        remedy=tell("rest_not_same_do"),
    )
    none = checks["workers"].eq(0).fillna(False).to_numpy(dtype=bool)
    none &= ~checks["workers_at_least"].to_numpy()
    counted = checks["workers"].notna().to_numpy() & ~none
    found += at(
        checks,
        rest & counted,
        level="warning",
        rule="rest-with-counts",
        column="workers",
        what=tell("rest_with_counts"),
        remedy=tell("rest_with_counts_do"),
    )
    files = [name for name in checks["file"][rest].unique() if ids.of_file(name, foundings) is None]
    return found + at(
        checks,
        rest & checks["file"].isin(files).to_numpy(),
        level="error",
        rule="rest-of-whom",
        column="founding",
        what=tell("rest_of_whom"),
        remedy=tell("sign_in_name_do", file="checks-K2.csv"),
    )


def inside_following(foundings: pd.DataFrame, checks: pd.DataFrame, seen: Followed) -> Found:
    """A look before the founding started, or with living queens after its end."""
    code = checks["code"].to_numpy()
    known = np.flatnonzero((code >= 0) & checks["date"].notna().to_numpy())
    if not len(known):
        return Found()
    owner, day = code[known], day_numbers(checks["date"])[known]
    started = day_numbers(foundings["started"])[owner]
    early = known[day < started]
    alive = checks["queens_alive"].fillna(0).to_numpy(dtype=np.int64)[known] > 0
    late = known[alive & (day > seen.end_day[owner])]
    ends = seen.end_day[code[late]].astype("datetime64[D]")
    return at(
        checks,
        early,
        level="error",
        rule="look-before-started",
        column="date",
        what=[
            tell("before_started", day=day_)
            for day_ in days(foundings["started"].to_numpy()[code[early]])
        ],
        remedy=lambda n: _later_year(
            checks["date"].iloc[early[n]], foundings["started"].iloc[code[early[n]]]
        ),
    ) + at(
        checks,
        late,
        level="error",
        rule="look-after-end",
        column="date",
        what=[tell("look_after_end", day=str(day_)) for day_ in ends],
        remedy=tell("look_after_end_do"),
    )


def _later_year(look: pd.Timestamp, started: pd.Timestamp) -> str:
    """Remedy for a look before the start: perhaps its year is wrong."""
    for years in (1, 2):
        meant = look + pd.DateOffset(years=years)
        if started <= meant < started + pd.Timedelta(days=300) and look < started - _FAR:
            return tell("before_started_do_year", day=str(meant.date()))
    return tell("before_started_do")


def twice_a_day(seen: Followed) -> Found:
    """Looks that share founding and day: repeated, agreeing or in disagreement."""
    twice = seen.twice
    if not len(twice):
        return Found()
    content = [
        name for name in twice.columns if name not in ("file", "tab", "row", "first", "from_rest")
    ]
    groups = twice.groupby("first", sort=False)
    later = groups.cumcount().to_numpy() > 0
    repeated = twice.duplicated(content).to_numpy() & later
    apart = _apart(twice, "queens_alive") | _apart(twice, "workers")
    file, row = (groups[name].transform("first").to_numpy() for name in ("file", "row"))
    wrong = np.flatnonzero(later & apart & ~repeated)
    return Found.joined(
        at(
            twice,
            repeated,
            level="note",
            rule="repeated-row",
            what=tell("repeated_row"),
            remedy=NOTHING,
        ),
        at(
            twice,
            wrong,
            level="error",
            rule="looks-disagree",
            column="queens_alive",
            what=[tell("looks_disagree", place=row_of(file[p], row[p])) for p in wrong],
            remedy=tell("looks_disagree_do"),
        ),
        at(
            twice,
            later & ~apart & ~repeated,
            level="note",
            rule="looks-put-together",
            what=tell("looks_put_together"),
            remedy=NOTHING,
        ),
    )


def _apart(twice: pd.DataFrame, name: str) -> np.ndarray:
    """Mask of rows whose group holds two different counts, or a count below an ``5+``."""
    number = twice[name].astype("Float64")
    loose = twice[f"{name}_at_least"].to_numpy()
    exact = number.mask(loose)
    groups = twice["first"]
    low = exact.groupby(groups).transform("min")
    high = exact.groupby(groups).transform("max")
    least = number.where(loose).groupby(groups).transform("max")
    apart = (low != high).fillna(False) | (least > low).fillna(False)
    return apart.to_numpy(dtype=bool)
