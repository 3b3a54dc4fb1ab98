"""What is due as a calendar file.

Comes in: a `Due`. Goes out: iCalendar text (RFC 5545) of all-day events. Never: a place, a kind,
a keeper's name: a founding's id is all that leaves the sheets.
"""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Final

import icalendar
import pandas as pd

from cohort.forecast.due import ROOM, Due
from cohort.terms.voice import Voice, voice

PRODUCT: Final = "-//founding-cohort//due//EN"
SPACE: Final = uuid.UUID("5b0e1d5a-7f0e-4c55-9a38-0d6c2f1f9a11")
"""Name space of event ids: the same founding and day give the same event again."""
LOOKS_AHEAD: Final = 14


def _event(
    key: str, founding: str, own: Voice, first: dt.date, last: dt.date, stamp: dt.datetime
) -> icalendar.Event:
    """An all-day event from the first to the last day, both included."""
    event = icalendar.Event()
    # the same event in every language, so that a calendar does not show it twice
    named = voice(ROOM).say(key, founding=founding)
    event.add("uid", f"{uuid.uuid5(SPACE, f'{named} {first}')}")
    event.add("dtstamp", stamp)
    event.add("summary", own.say(key, founding=founding))
    event.add("dtstart", first)
    event.add("dtend", last + dt.timedelta(days=1))
    event.add("transp", "TRANSPARENT")
    return event


def calendar(what: Due, own: Voice | None = None) -> bytes:
    """Calendar of the looks of the next two weeks and of the first workers to expect.

    A look that is late stands on the day asked about. The event of a first worker spans its
    50 % window, from the day asked about on.

    Parameters
    ----------
    what : Due
    own : Voice, optional
        Language; English if not given.

    Returns
    -------
    bytes
        For a file that ends in ``.ics``.
    """
    own = own or voice(ROOM)
    stamp = dt.datetime.combine(what.on, dt.time(), dt.UTC)
    book = icalendar.Calendar()
    book.add("prodid", PRODUCT)
    book.add("version", "2.0")
    now = pd.Timestamp(what.on)
    soon = what.looks[
        (what.looks["when"] != "winter")
        & (what.looks["due"] <= now + pd.Timedelta(LOOKS_AHEAD, unit="D"))
    ]
    for name, due in zip(soon["founding"], soon["due"], strict=True):
        day = max(due, now).date()
        book.add_component(_event("look_event", str(name), own, day, day, stamp))
    waits = what.windows[what.windows["high50"] >= now] if len(what.windows) else what.windows
    for name, low, high in zip(waits["founding"], waits["low50"], waits["high50"], strict=True):
        first, last = max(low, now).date(), high.date()
        book.add_component(_event("worker_event", str(name), own, first, last, stamp))
    return bytes(book.to_ical())
