"""The parts of a line of check notes, and the refusal of one that says nothing certain.

What comes in: nothing. What goes out: `Line`, `Told`, `NotUnderstood` and how a line should look.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from cohort.sheets.sentences import tell
from cohort.terms import words
from cohort.terms.voice import beside

HOW_LINE = tell("note_how_line")
"""What a line should look like, for messages."""

HOW_REST = tell("note_how_rest")
ONLY_EVENTS = tell("note_only_events")
HOW_ALL = beside(HOW_REST, tell("note_how_all"))


NOISE = re.compile(
    "[\U0001f000-\U0001faff\u2190-\u21ff\u2300-\u23ff\u2600-\u27bf\u2b00-\u2bff"
    "\u200b-\u200f\u20e3\ufe00-\ufe0f\U000e0020-\U000e007f]+"
)
"""Pictures among letters and the signs that join them: part of a note, else read over."""
_LEADING = re.compile(rf"\A(?:\s|{NOISE.pattern})+")


class NotUnderstood(Exception):
    """A line that says nothing certain: what is wrong with it, and what to write."""

    def __init__(self, what: str, remedy: str = HOW_LINE) -> None:
        self.what, self.remedy = what, remedy
        super().__init__(f"{what} {remedy}")


class Line(NamedTuple):
    """Beginning of a line: the founding as typed and its counts (``""`` where one was skipped)."""

    founding: str
    counts: Sequence[str]

    @property
    def again(self) -> str:
        """Line with the counts, for messages; with an example where they are missing."""
        if self.founding == words.REST:
            return f"{words.REST} {words.SAME}"
        counts = [count or "-" for count in self.counts] or ["3", "0"]
        return " ".join([self.founding, *(counts if len(counts) == 2 else [*counts, "0"])])


@dataclass(frozen=True)
class Told:
    """What a line tells besides its counts.

    Parameters
    ----------
    events : tuple of dict
        ``event``, ``number``, ``other`` and ``note`` of each.
    brood, fed : str
        Word of that column; blank when nothing is said.
    note : str
        What is left, as typed.
    doubts : tuple of str
        What was read as a note and may have been meant otherwise, each with what to write.
    """

    events: tuple[dict[str, str], ...]
    brood: str
    fed: str
    note: str
    doubts: tuple[tuple[str, str], ...] = ()


def bare_start(text: str) -> str:
    """Text without pictures and spaces before it."""
    return _LEADING.sub("", text, count=1)
