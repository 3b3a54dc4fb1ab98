"""One line of check notes: what it says of one founding, or of the rest.

What comes in: a line such as ``K2-09 3 12+ fight``, the day of the look, what the study knows.
What goes out: `Line`: the look and the events in it. What is not certain is refused.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from cohort.sheets import note_dates, note_words
from cohort.sheets.known import NOTHING, Known
from cohort.sheets.note_counts import counts_of
from cohort.sheets.note_dates import HOW_DATE
from cohort.sheets.note_line import (
    HOW_ALL,
    HOW_REST,
    NOISE,
    ONLY_EVENTS,
    NotUnderstood,
    Told,
    bare_start,
)
from cohort.sheets.note_line import Line as Start
from cohort.sheets.note_rest import rest_said
from cohort.sheets.note_words import read_words
from cohort.sheets.numbers import keeper_of
from cohort.sheets.sentences import tell
from cohort.terms import tongues, words
from cohort.terms.voice import either

MAX_LINE = 2000
"""Longest line that is taken for a note (letters)."""
_BULLET = re.compile(r"\A[-–—•*·]\s+(?=\S)")
_ID = re.compile(r"[^\s,;:]{1,40}\Z")
_AT_ENDS = "\ufeff\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
"""Signs that steer the direction of reading; messengers put them before lines."""


@dataclass(frozen=True)
class Line:
    """One line understood: a look (or None), the events in it, and what may be meant otherwise.

    `spelled` is the number of the founding as typed, or what stood for ``rest``.
    """

    check: dict[str, str] | None
    events: tuple[dict[str, str], ...]
    doubts: tuple[tuple[str, str], ...] = ()
    spelled: str = ""


def read_line(line: str, day: str, known: Known = NOTHING) -> Line:
    """What one line says of one founding.

    Parameters
    ----------
    line : str
        Such as ``K2-09 3 12+ fight in the corner``.
    day : str
        Date of the look as typed; blank when no date stood above the line.
    known : Known
        What the study says.

    Raises
    ------
    NotUnderstood
        When anything in it is not certain.
    """
    line, said = rest_said(bare_start(plain_line(line)))
    if note_dates.begins_dated(line) and not names_one(line, known):
        raise NotUnderstood(tell("note_behind_date"), HOW_DATE)
    if len(line) > MAX_LINE:
        raise NotUnderstood(tell("note_long", most=str(MAX_LINE)), tell("note_long_do"))
    head, _, rest = line.partition(" ")
    spelled = NOISE.sub("", head).rstrip(",;:")
    founding = _founding(spelled, known)
    if not day:
        raise NotUnderstood(tell("note_no_date"), HOW_DATE)
    rest = rest.strip()
    base = {"founding": founding, "date": day}
    if founding.lower() == words.REST:
        return replace(_rest(base, rest), spelled=said)
    for_all = founding.lower() == words.ALL
    if for_all and not note_words.event_in(rest):
        raise NotUnderstood(ONLY_EVENTS, HOW_ALL)
    queens = known.queens.get(founding, "")
    counts, rest = counts_of(founding, rest, queens=queens) if not for_all else ([], rest)
    start = Start(founding, counts)
    told = read_words(start, rest)
    if not counts and not (told.events or told.brood or told.fed):
        _nothing_known(start, rest)
    return replace(_line(base, counts, told), spelled=spelled)


def names_one(line: str, known: Known) -> bool:
    """Whether a line begins with a founding's number that looks like a date: ``7.12``, ``May``."""
    head = line.partition(" ")[0].rstrip(",;:")
    return head in known.queens and not head.isdigit()


def _founding(spelled: str, known: Known) -> str:
    """Number as the study writes it; as typed where it has none like it."""
    if not _ID.match(spelled):
        raise NotUnderstood(tell("note_no_number"))
    low = spelled.lower()
    if low in tongues.REST:
        return words.REST
    if low in (words.SAME, *tongues.SAME):
        raise NotUnderstood(tell("note_whose_same"), HOW_REST)
    alike = known.numbers_like(spelled) if low not in words.RESERVED_IDS else []
    if len(alike) > 1:
        raise NotUnderstood(
            tell("note_which", text=spelled, could=either(alike)),
            tell("note_which_do"),
        )
    return alike[0] if alike else spelled


def plain_line(line: str) -> str:
    """Line with single spaces (tabs and hard spaces too) and without the dot of a list."""
    return _BULLET.sub("", " ".join(line.strip(_AT_ENDS + " ").split()))


def _line(base: dict[str, str], counts: list[str], told: Told) -> Line:
    events = [{**base, **event} for event in told.events]
    looked = dict(zip(("queens_alive", "workers"), counts, strict=False))
    seen = {"brood": told.brood, "fed": told.fed}
    if not counts and not any(seen.values()):
        return Line(None, (*events[:-1], {**events[-1], "note": told.note}), told.doubts)
    check = {**base, **looked, **seen, "note": told.note}
    tells = any(looked.values()) or any(seen.values()) or bool(told.note)
    return Line(check if tells else None, tuple(events), told.doubts)


def _nothing_known(line: Start, rest: str) -> None:
    first = rest.partition(" ")[0].strip(",;:.")
    if first.lower() == words.SAME:
        raise NotUnderstood(
            tell("note_same"),
            tell("note_same_do", example=line.again),
        )
    if first and keeper_of(first) and keeper_of(first) == keeper_of(line.founding):
        raise NotUnderstood(
            tell("note_two_numbers"),
            tell("note_two_numbers_do", example=line.again),
        )
    raise NotUnderstood(tell("note_nothing_known"))


def _rest(base: dict[str, str], rest: str) -> Line:
    """``rest same``, and what was seen in each of them: no workers, a stage of brood."""
    word, _, after = rest.partition(" ")
    start = Start(words.REST, ("", "0"))  # no worker can have come in all of them
    if note_words.event_in(rest) in words.WINTER_REST:
        return _rest_in_winter(base, rest)
    if word.lower().rstrip(",;:.") not in (words.SAME, *tongues.SAME):
        event = note_words.event_in(rest)
        raise NotUnderstood(
            tell("note_rest_not_same"),
            _for_all(event) if event else HOW_REST,
        )
    counts, after = counts_of(words.REST, after.strip(), most=1)
    if counts and counts[0] not in ("", "0"):
        raise NotUnderstood(
            tell("note_rest_workers", number=counts[0]),
            tell("note_rest_workers_do"),
        )
    event = note_words.event_in(after)
    if event in words.WINTER_REST:
        return replace(_rest_in_winter(base, after), check=_as_before(base, counts))
    told = None if event else read_words(start, after)
    if told is None or told.events:
        event = event or (told.events[0]["event"] if told else "")
        raise NotUnderstood(
            tell("note_rest_event", event=event),
            _for_all(event, apart=False),
        )
    check = _as_before(base, counts) | {"brood": told.brood, "fed": told.fed, "note": told.note}
    return Line(check, (), told.doubts)


def _as_before(base: dict[str, str], counts: list[str]) -> dict[str, str]:
    """A look at which the queens of all not named were as at the last one."""
    workers = counts[0] if counts else ""
    said = {"queens_alive": words.SAME, "workers": workers, "brood": "", "fed": "", "note": ""}
    return {**base, "founding": words.REST, **said}


def _rest_in_winter(base: dict[str, str], rest: str) -> Line:
    """``rest winter-in``: all that are not named that day are put to winter rest, or taken out."""
    told = read_words(Start(words.REST, ()), rest)
    if len(told.events) != 1 or told.brood or told.fed:
        raise NotUnderstood(tell("note_rest_winter"), tell("note_rest_winter_do"))
    return Line(None, ({**base, **told.events[0], "note": told.note},), told.doubts)


def _for_all(event: str, *, apart: bool = True) -> str:
    """How an event of every open founding is written; not `apart`: beside ``rest same``."""
    if event in words.NEEDS_NUMBER:
        return tell("note_for_all_number" if apart else "note_rest_event_do_number", event=event)
    told = event + {"end": " not-used", note_words.HANDED: " K3"}.get(event, "")
    return tell("note_for_all" if apart else "note_rest_event_do", event=told)
