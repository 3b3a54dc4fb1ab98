"""Check notes typed on a phone (``checks*.txt``) as rows of ``checks`` and ``events``.

What comes in: the bytes of a text file: a line with a date, then one line per container such as
``K2-07 3 0`` or ``K2-09 3 12+ fight``. What goes out: raw tables that remember the line, and a
finding for every line that is not understood. It guesses nothing: a day without a year, a count
that is no number, a word in the wrong place are told and left out. It never writes to the file.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import pandas as pd

from cohort.errors import Finding
from cohort.sheets.raw import RawTable
from cohort.sheets.text import decode
from cohort.terms import words

HOW_LINE = "Write: number, living queens, workers, what happened, note; such as K2-07 3 0 fight."
"""What a line should look like, for messages."""
HOW_DATE = "Write the date alone in a line with its year, such as 2026-07-08."
MAX_LINE = 2000
"""Longest line that is taken for a note (letters)."""

_DATE = re.compile(
    r"(?:[A-Za-z]{2,10}\.?,?\s+)?"  # a weekday before it is read over
    r"(\d{1,4}\s?[-./]\s?\d{1,2}\s?[-./]\s?\d{1,4}"
    r"|\d{1,2}\.?\s+[A-Za-z]{3,10}\.?,?\s+\d{4}"
    r"|[A-Za-z]{3,10}\.?\s+\d{1,2},?\s+\d{4})\s*:?\Z"
)
_LIKE_DATE = re.compile(r"\d{1,2}\s?[./]\s?\d{1,2}\.?\s*:?\Z|\d{1,2}\.?\s+[A-Za-z]{3,10}\s*:?\Z")
_COUNT = re.compile(r"\d{1,6}\+?\Z")
_LIKE_COUNT = re.compile(r"[+\-.]?\d")
_ID = re.compile(r"[^\s,;:]{1,40}\Z")
NOT_LOOKED = ("-", "–", "?", "_")
"""Signs that hold the place of a count nobody looked for."""

CHECK_COLUMNS = ("founding", "date", "queens_alive", "workers", "note")
EVENT_COLUMNS = ("founding", "date", "event", "number", "other", "note")


@dataclass(frozen=True)
class Line:
    """One line understood: a look (or None) and the events in it."""

    check: dict[str, str] | None
    events: tuple[dict[str, str], ...]


class NotUnderstood(Exception):
    """A line that says nothing certain; its text is what is wrong with it."""


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
        line = raw.strip().strip("\ufeff").strip()
        if not line or line.startswith("#"):
            continue
        date = _DATE.match(line) if len(line) < 60 else None
        if date:
            day = date[1]
            continue
        try:
            got = read_line(line, day)
        except NotUnderstood as why:
            findings.append(_finding(file, number, line, str(why)))
            day = "" if _LIKE_DATE.match(line) else day
            continue
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
    if _LIKE_DATE.match(line):
        raise NotUnderstood(
            f"A date without a year is not understood; the lines below it have no date. {HOW_DATE}"
        )
    if len(line) > MAX_LINE:
        raise NotUnderstood(f"The line is longer than {MAX_LINE} letters.")
    head, _, rest = line.partition(" ")
    founding = head.rstrip(",;:")
    if not _ID.match(founding):
        raise NotUnderstood(f"It does not begin with a number of a founding. {HOW_LINE}")
    if not day:
        raise NotUnderstood(f"No date stands above it. {HOW_DATE}")
    rest = rest.strip()
    base = {"founding": founding, "date": day}
    if founding.lower() == words.REST:
        return _rest(base, rest)
    counts, rest = _counts(rest)
    events, note = _events(base, rest, counts)
    if not counts and not events:
        raise NotUnderstood(f"Neither a count nor a known word follows the number. {HOW_LINE}")
    if not counts:
        return Line(None, (*events[:-1], {**events[-1], "note": note}))
    names = ("queens_alive", "workers")
    looked = dict(zip(names, counts, strict=False))
    check = {**base, **looked, "note": note}
    return Line(check if any(looked.values()) or note else None, tuple(events))


def _rest(base: dict[str, str], rest: str) -> Line:
    word, _, note = rest.partition(" ")
    if word.lower().rstrip(",;:.") != words.SAME:
        raise NotUnderstood("After rest stands same and nothing else: rest same.")
    same = {**base, "founding": words.REST, "queens_alive": words.SAME, "note": note.strip()}
    return Line(same, ())


def _counts(rest: str) -> tuple[list[str], str]:
    """Leading counts (queens, workers; blank for a sign that holds a place) and what follows."""
    counts: list[str] = []
    while len(counts) < 2:
        token, _, after = rest.partition(" ")
        bare = token.rstrip(",;:")
        if bare in NOT_LOOKED:
            counts.append("")
        elif _COUNT.match(bare):
            counts.append(bare)
        elif _LIKE_COUNT.match(bare):
            raise NotUnderstood(f"'{bare}' is no count. Write a whole number such as 3, or 5+.")
        else:
            break
        rest = after.strip()
    if len(counts) == 2 and _LIKE_COUNT.match(rest):
        raise NotUnderstood(
            f"A third number follows the queens and the workers. {HOW_LINE} Begin a note with a "
            "letter."
        )
    return counts, rest


_EVENT_WORDS: dict[str, str] = {
    **{event: event for event in words.EVENTS},
    **{event.replace("-", " "): event for event in words.EVENTS if "-" in event},
    **words.EVENT_ALSO,
}
_LONGEST_FIRST = sorted(_EVENT_WORDS, key=len, reverse=True)


def _starts(text: str, word: str) -> bool:
    low = text.lower()
    return low.startswith(word) and not low[len(word) : len(word) + 1].isalnum()


def _events(base: dict[str, str], rest: str, counts: list[str]) -> tuple[list[dict[str, str]], str]:
    """Events at the start of what follows the counts, and the note that is left."""
    events: list[dict[str, str]] = []
    while rest:
        first = next((w for w in words.FIRST_WORKER[::-1] if _starts(rest, w)), "")
        if first:
            _agrees_with_first_worker(counts)
            rest = rest[len(first) :].strip(" ,;:.")
            continue
        word = next((w for w in _LONGEST_FIRST if _starts(rest, w)), "")
        if not word:
            break
        event, rest = _event(_EVENT_WORDS[word], rest[len(word) :].strip(" ,;:"))
        events.append({**base, **event})
    return events, rest


def _agrees_with_first_worker(counts: list[str]) -> None:
    if len(counts) < 2 or counts[1] in ("", "0"):
        raise NotUnderstood(
            "It tells of a first worker, but the count of workers is "
            f"{'0' if counts[1:] == ['0'] else 'missing'}. Write how many."
        )


def _event(event: str, rest: str) -> tuple[dict[str, str], str]:
    """Number and `other` of an event, where its words allow them."""
    out = {"event": event, "number": "", "other": "", "note": ""}
    allowed = words.OTHER_WORDS.get(event)
    if event in words.NEEDS_NUMBER or event == "killed":
        token, _, after = rest.partition(" ")
        if token.rstrip(",;:").isdigit():
            out["number"], rest = token.rstrip(",;:"), after.strip()
    if allowed is not None:
        token, _, after = rest.partition(" ")
        bare = token.rstrip(",;:.")
        new_founding = event == "queens-out" and any(c.isdigit() for c in bare)
        if bare.lower() in allowed or new_founding:
            out["other"], rest = (bare if new_founding else bare.lower()), after.strip()
    if event == "end" and not out["other"]:
        raise NotUnderstood(f"After end stands why: one of {', '.join(words.END_WHY)}.")
    if event in words.NEEDS_NUMBER and not out["number"]:
        raise NotUnderstood(f"After {event} stands how many queens, such as {event} 1.")
    return out, rest


def _finding(file: str, number: int, line: str, why: str) -> Finding:
    shown = line if len(line) <= 60 else line[:57] + "..."
    what, _, remedy = why.partition(". ")
    return Finding(
        level="error",
        rule="note-line",
        file=file,
        row=number,
        what=f"'{shown}' is not understood: {what[:1].lower()}{what[1:].rstrip('.')}.",
        remedy=remedy or HOW_LINE,
    )


def _table(
    sheet: str, columns: tuple[str, ...], found: list[tuple[int, dict[str, str]]], file: str
) -> RawTable:
    data = [[row.get(column, "") for column in columns] for _, row in found]
    frame = pd.DataFrame(data, columns=list(columns), dtype=object)
    return RawTable(sheet, file, "", frame, np.array([n for n, _ in found], dtype=np.int64))
