"""Foundings that are still to be looked at, as rows of the check sheet.

What comes in: a study and a keeper's sign. What goes out: one row per open founding with its last
look, and its label. A founding is open until all its queens were counted dead or an event ends it.
It writes nothing.
"""

from __future__ import annotations

import pandas as pd

from cohort.desk.print.pages import CheckRow, Label
from cohort.sheets.numbers import is_of
from cohort.study import Study
from cohort.study.keepers import keepers_now
from cohort.terms.voice import Voice


def open_rows(study: Study, keeper: str = "") -> tuple[CheckRow, ...]:
    """Rows of the check sheet in the order of the sheet ``foundings``.

    Parameters
    ----------
    study : Study
    keeper : str
        Only this keeper's; all when blank.
    """
    last = {name: _last(rows) for name, rows in study.checks.groupby("founding", sort=False)}
    return tuple(
        CheckRow(
            number=str(row.founding),
            kind=str(row.genus),
            italic=bool(row.named),
            last=last.get(row.founding, ""),
        )
        for row in still_open(study, keeper).itertuples()
    )


def still_open(study: Study, keeper: str = "") -> pd.DataFrame:
    """Rows of ``foundings`` that are open, of one keeper or of all."""
    foundings = study.foundings
    if keeper:
        mine = zip(keepers_now(study), foundings["founding"], strict=True)
        foundings = foundings[[is_of(keeper, sign, number) for sign, number in mine]]
    ended = set(study.events.loc[study.events["event"] == "end", "founding"])
    counted = study.checks[study.checks["queens_alive"].notna()]
    dead = counted.groupby("founding", sort=False)["queens_alive"].last().eq(0)
    closed = ended | set(dead.index[dead.to_numpy(dtype=bool)])
    return foundings[~foundings["founding"].isin(closed)]


def open_labels(study: Study, keeper: str, own: Voice) -> tuple[Label, ...]:
    """Labels of the foundings that are open, with kind, queens and day 0."""
    return tuple(
        Label(
            number=str(row.founding),
            kind=str(row.genus),
            italic=bool(row.named),
            told=f"{own.say('queens', n=row.queens)} · {row.started:%Y-%m-%d}",
        )
        for row in still_open(study, keeper).itertuples()
    )


def last_count(rows: pd.DataFrame, column: str) -> str:
    """Last count of ``queens_alive`` or ``workers`` as written, such as ``12+``; blank if none."""
    seen = rows[rows[column].notna()]
    least = "at_least" if column == "queens_alive" else "workers_at_least"
    return (
        f"{seen[column].iloc[-1]}{'+' if bool(seen[least].iloc[-1]) else ''}" if len(seen) else ""
    )


def _last(rows: pd.DataFrame) -> str:
    """Last counts of queens and workers, as check notes take them: ``3 12+``; a dash for none."""
    return " ".join(last_count(rows, name) or "–" for name in ("queens_alive", "workers"))
