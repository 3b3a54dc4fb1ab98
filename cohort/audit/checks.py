"""Rules for single rows of the sheet `checks`.

What comes in: typed foundings and checks (with ``code``), and what was followed. What goes out:
findings. Rules on how counts follow one another are in `counts`, on how often in `rhythm`.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from cohort.audit import ids
from cohort.audit.find import at, days
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
            what="`all` goes with events only.",
            remedy="Write rest, with same under queens_alive, for all that are not named that day; "
            "or a row for each founding.",
        )
        + at(
            checks,
            named_same & (code != ids.ALL),
            level="error",
            rule="same-without-rest",
            column="queens_alive",
            what="'same' goes with `rest` only.",
            remedy="Write the number of living queens, or rest under founding for all that are not "
            "named that day.",
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
        what="A `rest` row means that all others were as at the last look, so only 'same' fits.",
        remedy="Write same, or a row for each founding that was counted.",
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
        what="A `rest` row cannot give the number of workers of each founding. It is not read.",
        remedy="Leave the cell blank (workers as before; 0 if none of them had any), and write a "
        "row for each founding whose workers were counted.",
    )
    files = [name for name in checks["file"][rest].unique() if ids.of_file(name, foundings) is None]
    return found + at(
        checks,
        rest & checks["file"].isin(files).to_numpy(),
        level="error",
        rule="rest-of-whom",
        column="founding",
        what="It is not clear which foundings `rest` stands for: the study has those of several "
        "keepers.",
        remedy="Put the keeper's sign in the file name (checks-K2.csv), as with foundings-K2.csv.",
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
            f"The founding started only on {day_}."
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
        what=[f"Living queens were counted, but the founding ended on {day_}." for day_ in ends],
        remedy="Take out the event end, or correct the date that is wrong.",
    )


def _later_year(look: pd.Timestamp, started: pd.Timestamp) -> str:
    """Remedy for a look before the start: perhaps its year is wrong."""
    for years in (1, 2):
        meant = look + pd.DateOffset(years=years)
        if started <= meant < started + pd.Timedelta(days=300) and look < started - _FAR:
            return (
                f"Write {meant.date()} if the year is wrong; else look at this date, and at "
                "started in foundings."
            )
    return "Look at this date, and at started in foundings."


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
    where = (
        groups["file"].transform("first") + ", row " + groups["row"].transform("first").astype(str)
    )
    wrong = np.flatnonzero(later & apart & ~repeated)
    return Found.joined(
        at(
            twice,
            repeated,
            level="note",
            rule="repeated-row",
            what="The row repeats an earlier one. It is read once.",
            remedy="Nothing to do.",
        ),
        at(
            twice,
            wrong,
            level="error",
            rule="looks-disagree",
            column="queens_alive",
            what=[f"It disagrees with {place}, on the same day." for place in where.iloc[wrong]],
            remedy="Keep the one that is right, or correct the day with cohort log --correct. Two "
            "looks on one day go into one row.",
        ),
        at(
            twice,
            later & ~apart & ~repeated,
            level="note",
            rule="looks-put-together",
            what="A second look on the same day says the same. Both are read as one.",
            remedy="Nothing to do.",
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
