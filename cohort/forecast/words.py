"""What is due in words and as plain values.

Comes in: a `Due`. Goes out: rows of tables, and the values of ``--json``. Never: print.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Final

import pandas as pd

from cohort.base.display import tied
from cohort.forecast.due import ROOM, Due
from cohort.terms.voice import ENGLISH, Voice, told, voice

Rows = list[tuple[str, ...]]
SHOWN: Final = {"today": "looks_today", "this week": "looks_this_week"}
"""When a look is due, and the sentence above its table."""
LOOKS: Final = ("founding", "keeper", "kind", "queens", "last_look", "due")
WINDOWS: Final = ("founding", "kind", "queens", "half", "range", "none_this_season")
OVERDUE: Final = (
    "founding", "kind", "queens", "like_it", "none_this_season", "unmated", "range",
)  # fmt: skip
GROUPS: Final = (
    "founding", "kind", "queens", "workers", "lose_one_7", "lose_one_14", "lose_all_7",
    "lose_all_14",
)  # fmt: skip
"""Headings of the tables, by their keys in the catalogue."""


def speaks(language: str = ENGLISH) -> Voice:
    """The voice of what is due."""
    return voice(ROOM, language)


def _each(frame: pd.DataFrame) -> Iterator[Any]:
    """Named rows of a frame; the stubs know no types of their columns."""
    yield from frame.itertuples()


def head(what: Due, own: Voice) -> str:
    """How much there is to do, in two or three sentences."""
    when = what.looks["when"]
    out = [own.say("head", n=len(what.looks), done=told("head_done", n=what.done), day=what.on)]
    if len(what.looks):
        today, week = (int((when == word).sum()) for word in SHOWN)
        out.append(own.say("head_looks", today=today, week=week))
    if len(what.overdue):
        out.append(own.say("head_overdue", n=len(what.overdue)))
    return " ".join(out)


def headings(keys: Iterable[str], own: Voice) -> tuple[str, ...]:
    """What stands over the columns of a table."""
    return tuple(own.say(key) for key in keys)


def look_rows(what: Due, when: str, own: Voice) -> Rows:
    """Foundings to look at: columns `LOOKS`."""
    rows = what.looks[what.looks["when"] == when]
    return [
        (
            tied(str(r.founding)),
            tied(str(r.keeper)) or "-",
            str(r.genus),
            str(r.queens),
            own.day(r.last_look),
            own.day(r.due) + (f" ({tied(own.say('late', n=int(r.late)))})" if r.late else ""),
        )
        for r in _each(rows)
    ]


def window_rows(what: Due, own: Voice) -> Rows:
    """First workers to expect: columns `WINDOWS`; the ranges hold 50 and 90 of 100."""
    rows = what.windows[~what.windows["overdue"]]
    return [
        (
            tied(str(r.founding)),
            str(r.genus),
            str(r.queens),
            own.days(r.low50, r.high50),
            own.days(r.low90, r.high90),
            own.short_of_100(r.none_this_season),
        )
        for r in _each(rows)
    ]


def overdue_rows(what: Due, own: Voice) -> Rows:
    """Overdue: columns `OVERDUE`."""
    return [
        (
            tied(str(r.founding)),
            str(r.genus),
            str(r.queens),
            own.short_of_100(r.like_it),
            own.short_of_100(r.none_this_season),
            own.short_of_100(r.unmated),
            own.days(r.low90, r.high90),
        )
        for r in _each(what.overdue)
    ]


def group_rows(what: Due, own: Voice) -> Rows:
    """Groups: columns `GROUPS`."""
    return [
        (
            tied(str(r.founding)),
            str(r.genus),
            str(r.queens),
            own.say("seen")
            if r.workers
            else own.say("workers_soon", chance=own.short_of_100(r.workers_in_14)),
            own.short_of_100(r.lose_one_7),
            own.short_of_100(r.lose_one_14),
            own.short_of_100(r.lose_all_7),
            own.short_of_100(r.lose_all_14),
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


def as_json(what: Due, own: Voice | None = None) -> dict[str, Any]:
    """Everything that is due, as plain values; sentences in a language, English if not given.

    Returns
    -------
    dict
        ``on``, ``rests_on`` (sentences), ``leave_be``, ``looks``, ``windows``, ``groups`` (lists
        of one dict per founding; dates ISO, chances 0 to 1), ``no_longer_looked_at`` (count).
    """
    own = own or speaks()
    return {
        "on": what.on.isoformat(),
        "rests_on": list(own.tell(what.told)),
        "leave_be": own.say("leave_be"),
        "looks": _records(what.looks),
        "windows": _records(what.windows),
        "groups": _records(what.groups),
        "no_longer_looked_at": what.done,
    }
