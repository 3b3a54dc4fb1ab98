"""Check notes typed on a phone (``checks*.txt``) as rows of ``checks`` and ``events``.

What comes in: the bytes of a text file: a line with a date, then one line per container such as
``K2-07 3 0`` or ``K2-09 3 12+ fight``. What goes out: raw tables that remember the line, and a
finding for every line that is not understood. It guesses nothing: a day without a year, a count
that is no number, a word in the wrong place are told and left out. It never writes to the file.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from cohort.base.errors import Finding, Level
from cohort.sheets import note_words
from cohort.sheets.note_words import HOW_ALL, HOW_REST, ONLY_EVENTS, NotUnderstood, read_words
from cohort.sheets.numbers import keeper_of
from cohort.sheets.raw import RawTable
from cohort.sheets.text import decode
from cohort.terms import tongues, words

HOW_DATE = "Write the date alone in a line with its year, such as 2026-07-08."
MAX_LINE = 2000
"""Longest line that is taken for a note (letters)."""

_DAY = (
    r"\d{1,4}\s?[-./]\s?\d{1,2}\s?[-./]\s?\d{1,4}"
    r"|\d{1,2}\.?\s+[A-Za-z]{3,10}\.?,?\s+\d{4}"
    r"|[A-Za-z]{3,10}\.?\s+\d{1,2},?\s+\d{4}"
)
_WEEKDAY = r"(?:[A-Za-z]{2,10}\.?,?\s+)?"  # read over before a date
_DATE = re.compile(rf"{_WEEKDAY}({_DAY})\s*[:.]?\Z")
_DATE_FIRST = re.compile(rf"{_WEEKDAY}(?:{_DAY})[\s:,(]")
_MONTH = r"(?:jan|feb|mar|mär|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)[a-z]*\.?"
_NO_YEAR = re.compile(
    rf"{_WEEKDAY}(?:\d{{1,2}}\s?[./]\s?\d{{1,2}}\.?(?=[\s:]|\Z)"
    rf"|\d{{1,2}}\.?\s+{_MONTH}\s*:?\Z|{_MONTH}\s+\d{{1,2}}\.?\s*:?\Z)",
    re.IGNORECASE,
)
_BULLET = re.compile(r"\A[-–—•*·]\s+(?=\S)")
_COUNT = re.compile(r"\d{1,6}\+?\Z")
_LIKE_COUNT = re.compile(r"[+\-.]?\d")
_ID = re.compile(r"[^\s,;:]{1,40}\Z")
NOT_LOOKED = ("-", "–", "?", "_")
"""Signs that hold the place of a count nobody looked for."""

CHECK_COLUMNS = ("founding", "date", "queens_alive", "workers", "brood", "fed", "note")
EVENT_COLUMNS = ("founding", "date", "event", "number", "other", "note")


@dataclass(frozen=True)
class Line:
    """One line understood: a look (or None), the events in it, and what may be meant otherwise."""

    check: dict[str, str] | None
    events: tuple[dict[str, str], ...]
    doubts: tuple[tuple[str, str], ...] = ()


def read_notes(data: bytes, file: str) -> tuple[list[RawTable], list[Finding]]:
    """Rows of ``checks`` and ``events`` of one file of check notes.

    Parameters
    ----------
    data : bytes
        The file.
    file : str
        Its name, for the findings.

    Returns
    -------
    tables : list of RawTable
        ``checks`` and, where something happened, ``events``; the row is the line number.
    findings : list of Finding
    """
    text, told = decode(data, file)
    findings = list(told)
    checks: list[tuple[int, dict[str, str]]] = []
    events: list[tuple[int, dict[str, str]]] = []
    day = ""
    for number, raw in enumerate(text.splitlines(), start=1):
        line = _plain(raw)
        if not line or line.startswith("#"):
            continue
        date = _DATE.match(line) if len(line) < 60 else None
        if date:
            day = date[1]
            continue
        try:
            got = read_line(line, day)
        except NotUnderstood as why:
            findings.append(_finding(file, number, line, why))
            day = "" if _dated(line) else day
            continue
        for what, remedy in got.doubts:
            findings.append(_told(file, number, "warning", "note-word", what, remedy))
        if got.check:
            checks.append((number, got.check))
        events += [(number, event) for event in got.events]
    tables = [_table("checks", CHECK_COLUMNS, checks, file)]
    if events:
        tables.append(_table("events", EVENT_COLUMNS, events, file))
    return [table for table in tables if len(table.rows)], findings


def read_line(line: str, day: str) -> Line:
    """What one line says of one founding.

    Parameters
    ----------
    line : str
        Such as ``K2-09 3 12+ fight in the corner``.
    day : str
        Date of the look as typed; blank when no date stood above the line.

    Raises
    ------
    NotUnderstood
        When anything in it is not certain.
    """
    line = _plain(line)
    _no_date(line)
    if len(line) > MAX_LINE:
        raise NotUnderstood(f"The line is longer than {MAX_LINE} letters.", "Break it up.")
    head, _, rest = line.partition(" ")
    founding = head.rstrip(",;:")
    if not _ID.match(founding):
        raise NotUnderstood("It does not begin with a number of a founding.")
    if founding.lower() in tongues.REST:
        founding = words.REST
    if founding.lower() in (words.SAME, *tongues.SAME):
        raise NotUnderstood("It does not say whose counts are the same.", HOW_REST)
    if not day:
        raise NotUnderstood("No date stands above it.", HOW_DATE)
    rest = rest.strip()
    base = {"founding": founding, "date": day}
    if founding.lower() == words.REST:
        return _rest(base, rest)
    for_all = founding.lower() == words.ALL
    if for_all and not note_words.event_in(rest):
        raise NotUnderstood(ONLY_EVENTS, HOW_ALL)
    counts, rest = _counts(founding, rest) if not for_all else ([], rest)
    start = note_words.Line(founding, counts)
    told = read_words(start, rest)
    if not counts and not (told.events or told.brood or told.fed):
        _nothing_known(start, rest)
    return _line(base, counts, told)


def _plain(line: str) -> str:
    """Line with single spaces (tabs and hard spaces too) and without the dot of a list."""
    return _BULLET.sub("", " ".join(line.strip("\ufeff").split()))


def _line(base: dict[str, str], counts: list[str], told: note_words.Told) -> Line:
    events = [{**base, **event} for event in told.events]
    looked = dict(zip(("queens_alive", "workers"), counts, strict=False))
    seen = {"brood": told.brood, "fed": told.fed}
    if not counts and not any(seen.values()):
        return Line(None, (*events[:-1], {**events[-1], "note": told.note}), told.doubts)
    check = {**base, **looked, **seen, "note": told.note}
    tells = any(looked.values()) or any(seen.values()) or bool(told.note)
    return Line(check if tells else None, tuple(events), told.doubts)


def _dated(line: str) -> bool:
    """Whether a line begins with a date, so that the lines below it are of another day."""
    return bool(_NO_YEAR.match(line) or _DATE_FIRST.match(line))


def _no_date(line: str) -> None:
    """Refuse a date without a year, and a date with something behind it."""
    if _NO_YEAR.match(line):
        raise NotUnderstood("The date has no year; the lines below it have no date.", HOW_DATE)
    if _DATE_FIRST.match(line):
        raise NotUnderstood(
            "Something stands behind the date; the lines below it have no date.", HOW_DATE
        )


def _nothing_known(line: note_words.Line, rest: str) -> None:
    first = rest.partition(" ")[0].strip(",;:.")
    if first.lower() == words.SAME:
        raise NotUnderstood(
            "'same' goes with rest only.",
            f"Write the counts again, such as {line.again}, or rest same for all not named.",
        )
    if first and keeper_of(first) and keeper_of(first) == keeper_of(line.founding):
        raise NotUnderstood(
            "Two numbers of foundings stand in one line.",
            f"Write a line for each, such as {line.again}.",
        )
    raise NotUnderstood("Neither a count nor a known word follows the number.")


def _rest(base: dict[str, str], rest: str) -> Line:
    """``rest same``, and what was seen in each of them: no workers, a stage of brood."""
    word, _, after = rest.partition(" ")
    start = note_words.Line(words.REST, ("", "0"))  # no worker can have come in all of them
    if note_words.event_in(rest) in words.WINTER_REST:
        return _rest_in_winter(base, rest)
    if word.lower().rstrip(",;:.") not in (words.SAME, *tongues.SAME):
        event = note_words.event_in(rest)
        raise NotUnderstood(
            "After rest stands same: their queens are as at the last look.",
            f"{_for_all(event)}." if event else HOW_REST,
        )
    counts, after = _counts(words.REST, after.strip(), most=1)
    if counts and counts[0] not in ("", "0"):
        raise NotUnderstood(
            f"After rest same, {counts[0]} would be the workers of every founding.",
            "Write a line for each founding whose workers were counted, then rest same.",
        )
    event = note_words.event_in(after)
    if event in words.WINTER_REST:
        return replace(_rest_in_winter(base, after), check=_as_before(base, counts))
    told = None if event else read_words(start, after)
    if told is None or told.events:
        event = event or (told.events[0]["event"] if told else "")
        raise NotUnderstood(
            f"An event does not go with rest: {event}.",
            f"Write rest same alone in its line. {_for_all(event)}; or name the foundings.",
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
    told = read_words(note_words.Line(words.REST, ()), rest)
    if len(told.events) != 1 or told.brood or told.fed:
        raise NotUnderstood(
            "More than winter rest is told of all foundings that are not named.",
            "Write rest winter-in, or rest winter-out, alone in its line.",
        )
    return Line(None, ({**base, **told.events[0], "note": told.note},), told.doubts)


def _for_all(event: str) -> str:
    """How an event of every open founding is written."""
    if event in words.NEEDS_NUMBER:
        return f"Write {event} in a line for each founding, such as K2-07 {event} 1"
    more = " not-used" if event == "end" else ""
    return f"Write the event of all open foundings in a line of its own: all {event}{more}"


def _counts(founding: str, rest: str, most: int = 2) -> tuple[list[str], str]:
    """Leading counts (queens, workers; blank for a sign that holds a place) and what follows."""
    counts: list[str] = []
    while len(counts) < most:
        token, _, after = rest.partition(" ")
        bare = token.rstrip(",;:.")
        if bare in NOT_LOOKED:
            counts.append("")
        elif _COUNT.match(bare):
            counts.append(bare)
        elif _LIKE_COUNT.match(bare):
            raise _no_count(founding, bare)
        else:
            break
        rest = after.strip()
    if len(counts) == most and _LIKE_COUNT.match(rest):
        raise NotUnderstood(
            "Another number follows the counts.",
            f"Write queens and workers, then words, such as {founding} 3 0 fight."
            if most > 1
            else "Write rest same, and 0 behind it if none of them had workers.",
        )
    return counts, rest


def _no_count(founding: str, bare: str) -> NotUnderstood:
    two = re.fullmatch(r"(\d{1,6}\+?)[,;/](\d{1,6}\+?)", bare)
    if two:
        return NotUnderstood(
            f"'{bare}' is no count.",
            f"Write a space between queens and workers: {founding} {two[1]} {two[2]}.",
        )
    return NotUnderstood(f"'{bare}' is no count.", "Write a whole number such as 3, or 5+.")


def _finding(file: str, number: int, line: str, why: NotUnderstood) -> Finding:
    shown = line if len(line) <= 60 else line[:57] + "..."
    what = f"'{shown}' is not understood: {why.what[:1].lower()}{why.what[1:].rstrip('.')}."
    return _told(file, number, "error", "note-line", what, why.remedy)


def _told(file: str, number: int, level: Level, rule: str, what: str, remedy: str) -> Finding:
    return Finding(level=level, rule=rule, file=file, row=number, what=what, remedy=remedy)


def _table(
    sheet: str, columns: tuple[str, ...], found: list[tuple[int, dict[str, str]]], file: str
) -> RawTable:
    data = [[row.get(column, "") for column in columns] for _, row in found]
    frame = pd.DataFrame(data, columns=list(columns), dtype=object)
    return RawTable(sheet, file, "", frame, np.array([n for n, _ in found], dtype=np.int64))
