"""Lines of a chat as messengers write them out.

What comes in: lines of a text. What goes out: date, sender and text of each message. Two shapes
are known: ``[date, time] name: text`` and ``date, time - name: text``. A line of neither shape
goes on with the message above it. Nothing is said here of what a message means.
"""

from __future__ import annotations

import re
from typing import NamedTuple

_TIME = r"[0-9]{1,2}[:.][0-9]{2}(?:[:.][0-9]{2})?(?:\s?[AaPp]\.?\s?[Mm]\.?)?"
_DATE = r"(?P<date>[0-9]{1,4}[-./][0-9]{1,2}[-./][0-9]{1,4})\.?"
_HEADS = (
    re.compile(rf"\[{_DATE},?\s{_TIME}\]\s*(?P<more>.*)\Z"),
    re.compile(rf"{_DATE},?\s{_TIME}\s[-–]\s(?P<more>.*)\Z"),
)
_NAMED = re.compile(r"(?P<name>[^:]{1,60}):(?:\s+(?P<text>.*))?\Z")


class Message(NamedTuple):
    """Head of a message: its date as typed, who sent it (blank: the chat itself), what it says."""

    date: str
    sender: str
    text: str


def message_of(line: str) -> Message | None:
    """Message that begins in a line; None where none does.

    Parameters
    ----------
    line : str
        With single spaces.
    """
    if not (line.startswith("[") or line[:1].isdigit()):
        return None
    for head in _HEADS:
        found = head.match(line)
        if found:
            named = _NAMED.match(found["more"])
            if named:
                return Message(found["date"], named["name"].strip(), (named["text"] or "").strip())
            return Message(found["date"], "", found["more"].strip())
    return None
