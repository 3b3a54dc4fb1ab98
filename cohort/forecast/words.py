"""What is due in words and as plain values.

Comes in: a `Due`. Goes out: rows of tables, and the values of ``--json``. Never: print.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import pandas as pd

from cohort.base.display import several
from cohort.forecast.due import LEAVE_BE, Due

Rows = list[tuple[str, ...]]
SHOWN: Final = {"today": "Look today", "this week": "Look this week"}


def _each(frame: pd.DataFrame) -> Iterator[Any]:
    """Named rows of a frame; the stubs know no types of their columns."""
    yield from frame.itertuples()


def day_text(when: pd.Timestamp) -> str:
    """``12 Jul``."""
    return f"{when.day} {when:%b}"


def span_text(low: pd.Timestamp, high: pd.Timestamp) -> str:
    """``12 Jul - 3 Aug``."""
    return f"{day_text(low)} - {day_text(high)}"


def chance_text(share: float) -> str:
    """A chance as so many of a hundred, never as certain."""
    if share < 0.01:
        return "under 1 in 100"
    if share > 0.99:
        return "over 99 in 100"
    return f"{int(share * 100 + 0.5)} in 100"


def look_rows(what: Due, when: str) -> Rows:
    """Foundings to look at: id, keeper, kind, queens, last look, due."""
    rows = what.looks[what.looks["when"] == when]
    return [
        (
            str(r.founding),
            str(r.keeper) or "-",
            str(r.genus),
            str(r.queens),
            day_text(r.last_look),
            day_text(r.due) + (f" ({several(r.late, 'day')} late)" if r.late else ""),
        )
        for r in _each(rows)
    ]


def window_rows(what: Due) -> Rows:
    """First workers to expect: id, kind, queens, 50 % and 90 % window, chance of none."""
    rows = what.windows[~what.windows["overdue"]]
    return [
        (
            str(r.founding),
            str(r.genus),
            str(r.queens),
            span_text(r.low50, r.high50),
            span_text(r.low90, r.high90),
            chance_text(r.none_this_season),
        )
        for r in _each(rows)
    ]


def overdue_rows(what: Due) -> Rows:
    """Overdue: id, kind, queens, like ones with workers by now, chances of none and unmated."""
    return [
        (
            str(r.founding),
            str(r.genus),
            str(r.queens),
            chance_text(r.like_it),
            chance_text(r.none_this_season),
            chance_text(r.unmated),
            span_text(r.low90, r.high90),
        )
        for r in _each(what.overdue)
    ]


def group_rows(what: Due) -> Rows:
    """Groups: id, kind, queens, workers, chances of losing one and all in 7 and in 14 days."""
    return [
        (
            str(r.founding),
            str(r.genus),
            str(r.queens),
            "seen" if r.workers else f"{chance_text(r.workers_in_14)} within 14 days",
            chance_text(r.lose_one_7),
            chance_text(r.lose_one_14),
            chance_text(r.lose_all_7),
            chance_text(r.lose_all_14),
        )
        for r in _each(what.groups)
    ]


def _plain(value: object) -> object:
    if isinstance(value, pd.Timestamp):
        return value.date().isoformat()
    return value.item() if hasattr(value, "item") else value


def _records(frame: pd.DataFrame) -> list[dict[str, object]]:
    return [
        {str(key): _plain(value) for key, value in record.items()}
        for record in frame.to_dict("records")
    ]


def as_json(what: Due) -> dict[str, Any]:
    """Everything that is due, as plain values.

    Returns
    -------
    dict
        ``on``, ``rests_on`` (sentences), ``leave_be``, ``looks``, ``windows``, ``groups`` (lists
        of one dict per founding; dates ISO, chances 0 to 1), ``no_longer_looked_at`` (count).
    """
    return {
        "on": what.on.isoformat(),
        "rests_on": list(what.says),
        "leave_be": LEAVE_BE,
        "looks": _records(what.looks),
        "windows": _records(what.windows),
        "groups": _records(what.groups),
        "no_longer_looked_at": what.done,
    }
