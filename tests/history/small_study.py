"""Small studies written in one line per founding, for tests.

``small_study({"A": "3 | 14 3/0, 28 2/-, 42 5+/1 ~2"})`` is a founding A of three queens, looked at
on days 14, 28 and 42: queens/workers, ``-`` for blank, ``+`` for at least, ``~2`` for a date that
may be wrong by two days. Events are rows (founding, day, event, number, other).
"""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pandas as pd

from cohort.terms.adjusting import Adjust
from cohort.terms.contract import FOUNDINGS

DATES = "started flight_date followed_from"
DAY_0 = pd.Timestamp("2025-06-01")
BLANKS = {"date": pd.NaT, "count": pd.NA, "number": np.nan, "days": 0.0}
"""A blank cell as it is typed, by the kind of its column; text is ``""``."""


def blank_founding():
    """Give a founding of which the sheet says nothing, in every column a study has."""
    cells = {column.name: BLANKS.get(column.kind, "") for column in FOUNDINGS.columns}
    return {"from_" if name == "from" else name: cell for name, cell in cells.items()}


def _later(stamp, days):
    # Plain datetimes: adding to a pandas stamp warns under the newest numpy.
    return pd.Timestamp(stamp.to_pydatetime() + dt.timedelta(days=days))


def _number(text):
    return (pd.NA, False) if text == "-" else (int(text.rstrip("+")), text.endswith("+"))


def _check(founding, text, started):
    day, seen, *slack = text.split()
    (queens, at_least), (workers, more) = map(_number, seen.split("/"))
    return {
        "founding": founding,
        "date": _later(started, int(day)),
        "queens_alive": queens,
        "at_least": at_least,
        "workers": workers,
        "workers_at_least": more,
        "brood": "",
        "fed": "",
        "give_or_take": float(slack[0].lstrip("~")) if slack else 0.0,
        "photo": "",
        "note": "",
    }


def small_study(lines, events=(), *, more=None, **settings):
    """Give a study of the shape the library reads; `more` adds columns per founding."""
    foundings, checks = [], []
    for row, (name, line) in enumerate(lines.items(), start=2):
        queens, _, rest = line.partition("|")
        own = dict((more or {}).get(name, {}))
        started = own.pop("started", DAY_0)
        founding = {
            "founding": name,
            "genus": "Lasius",
            "named": True,
            "season": "2025",
            "started": started,
            "queens": int(queens),
            "arm": "single" if int(queens) == 1 else "multi",
            "file": "foundings.csv",
            "row": row,
        }
        foundings.append(blank_founding() | founding | own)
        checks += [_check(name, text, started) for text in rest.split(",") if text.strip()]
    started = {row["founding"]: row["started"] for row in foundings}
    rows = [
        {
            "founding": name,
            "date": _later(started[name], day),
            "event": event,
            "number": number,
            "other": other,
            "note": "",
            "file": "events.csv",
            "row": place,
        }
        for place, (name, day, event, number, other) in enumerate(
            [(*event, *(pd.NA, "")[len(event) - 3 :]) for event in events], start=2
        )
    ]
    base = {
        "horizon_days": 180,
        "ends": None,
        "clock": "setup",
        "leave_out": (),
        "adjust": Adjust(),
        "look_every": 4,
        "through_winter": False,
    }
    return SimpleNamespace(
        settings=SimpleNamespace(**(base | settings)),
        foundings=_typed(
            pd.DataFrame(foundings), "started flight_date followed_from", "mating_seen"
        ),
        checks=_typed(_frame(checks, _check("", "0 -/-", DAY_0)), "date", "queens_alive workers"),
        events=_typed(_frame(rows, dict.fromkeys(EVENT_COLUMNS, "")), "date", "number"),
    )


EVENT_COLUMNS = ["founding", "date", "event", "number", "other", "note", "file", "row"]


def _frame(rows, example):
    return pd.DataFrame(rows, columns=list(example))


def _typed(frame, dates, counts):
    for name in dates.split():
        frame[name] = frame[name].astype("datetime64[ns]")
    for name in counts.split():
        frame[name] = frame[name].astype("Int64")
    for name in ("at_least", "workers_at_least"):
        if name in frame:
            frame[name] = frame[name].astype(bool)
    if "give_or_take" in frame:
        frame["give_or_take"] = frame["give_or_take"].astype(np.float64)
    return frame


def date(day):
    """Give the date of a day since the usual start."""
    return _later(DAY_0, day)


def calendar_date(day):
    """Give the same as a plain date, as settings hold it."""
    return dt.date(2025, 6, 1) + dt.timedelta(days=day)


def spans(history, name):
    """Give the intervals of a founding as a list of (after, by, at_risk, alive)."""
    code = history.foundings.index[history.foundings["founding"] == name][0]
    own = history.intervals[history.intervals["code"] == code]
    return list(zip(own["after"], own["by"], own["at_risk"], own["alive"], strict=True))


def told(history, name):
    """Give the row of a founding."""
    return history.foundings.set_index("founding").loc[name]
