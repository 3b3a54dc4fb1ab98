"""Check notes typed on a phone (``checks*.txt``) as rows of ``checks`` and ``events``.

What comes in: the bytes of a text file: a line with a date, then one line per container such as
``K2-07 3 0`` or ``K2-09 3 12+ fight``; or messages of a chat with such lines. What goes out: raw
tables that remember the line, and a finding for every line that is not understood. It guesses
nothing: a day that could be two, a count that is no number, a word in the wrong place are told
and left out. It never writes to the file.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from cohort.base.errors import Finding, Level
from cohort.sheets import chat, note_dates, note_lines
from cohort.sheets.known import NOTHING, Known
from cohort.sheets.note_dates import HOW_DATE, Dated
from cohort.sheets.note_line import NOISE, NotUnderstood
from cohort.sheets.note_lines import Line, names_one, plain_line, read_line
from cohort.sheets.raw import RawTable
from cohort.sheets.sentences import tell
from cohort.sheets.text import decode
from cohort.terms import tongues, words
from cohort.terms.voice import Clause, either

_LIKE_ID = re.compile(r"[^\W\d_]{1,8}[0-9]{0,3}[-–_][0-9]{1,4}\Z")

CHECK_COLUMNS = ("founding", "date", "queens_alive", "workers", "brood", "fed", "note")
EVENT_COLUMNS = ("founding", "date", "event", "number", "other", "note")


@dataclass(frozen=True)
class NoteRow:
    """A row made of a line: its sheet, its cells, the line, and the keeper who sent it (a sign)."""

    sheet: str
    cells: dict[str, str]
    number: int
    sender: str = ""


@dataclass(frozen=True)
class Notes:
    """All lines of a file of check notes.

    Parameters
    ----------
    rows : tuple of NoteRow
    findings : tuple of Finding
        An error for each line not understood, a note for talk between the looks of a chat.
    dates : tuple of int
        Lines that are a date, or the head of a message with its text below.
    """

    rows: tuple[NoteRow, ...]
    findings: tuple[Finding, ...]
    dates: tuple[int, ...]


@dataclass
class _Reading:
    """What is known while the lines are read one after another."""

    known: Known
    file: str
    order: str = ""
    day: str = ""
    no_day: NotUnderstood | None = None
    chat: bool = False
    sender: str = ""
    rows: list[NoteRow] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    dates: list[int] = field(default_factory=list)
    said: set[str] = field(default_factory=set)


def read_notes(
    data: bytes, file: str, known: Known = NOTHING
) -> tuple[list[RawTable], list[Finding]]:
    """Rows of ``checks`` and ``events`` of one file of check notes.

    Parameters
    ----------
    data : bytes
        The file.
    file : str
        Its name, for the findings.
    known : Known
        What the study says: numbers, the days a date without a year may be.

    Returns
    -------
    tables : list of RawTable
        ``checks`` and, where something happened, ``events``; the row is the line number.
    findings : list of Finding
    """
    notes = all_notes(data, file, known)
    tables = [
        _table("checks", CHECK_COLUMNS, notes.rows, file),
        _table("events", EVENT_COLUMNS, notes.rows, file),
    ]
    return [table for table in tables if len(table.rows)], list(notes.findings)


def all_notes(data: bytes, file: str, known: Known = NOTHING) -> Notes:
    """As `read_notes`, row by row with the keepers who sent them."""
    text, told = decode(data, file)
    lines = [plain_line(raw) for raw in text.splitlines()]
    heads = [message.date for line in lines if (message := chat.message_of(line))]
    now = _Reading(known, file, note_dates.order_of_chat(heads, known))
    for number, line in enumerate(lines, start=1):
        if line and not line.startswith("#"):
            _take_in(now, number, line)
    return Notes(tuple(now.rows), (*told, *now.findings), tuple(now.dates))


def _take_in(now: _Reading, number: int, line: str) -> None:
    """One line more: its rows, or a finding."""
    message = chat.message_of(line)
    if message:
        now.chat = True
        sender, line = message.sender, message.text
        if now.known.numbers_like(sender):  # the number of a founding, with a colon behind it
            sender, line = "", f"{sender}: {line}".strip()
        now.sender = now.known.sign(sender)
        now.day, now.no_day = _sent(message.date, now.order)
        if not line:
            now.dates.append(number)
            return
    try:
        plain = len(line) <= note_lines.MAX_LINE and not names_one(line, now.known)
        date = note_dates.dated(line) if plain else None
        day = note_dates.day_of(date, now.known) if date else now.day
        if date and not date.rest:
            now.day, now.no_day = day, None
            now.dates.append(number)
            _said_of_date(now, number, date, day)
            return
        if not day and now.no_day:
            raise now.no_day
        got = read_line(date.rest if date else line, day, now.known)
    except NotUnderstood as why:
        _refused(now, number, line, why)
        return
    if date:
        _said_of_date(now, number, date, day)
        if not now.chat:
            now.day, now.no_day = "", _ONE_LINE
    _keep(now, number, got)


_ONE_LINE = NotUnderstood(tell("note_date_with_look"), HOW_DATE)


def _sent(date: str, order: str) -> tuple[str, NotUnderstood | None]:
    """Day on which a message was sent; blank and why, where it could be two."""
    can = note_dates.readings(date, order)
    if len(set(can)) == 1:
        return can[0].isoformat(), None
    if not can:
        return "", NotUnderstood(tell("note_message_no_day", text=date), HOW_DATE)
    could = either(str(day) for day in dict.fromkeys(can))
    return "", NotUnderstood(
        tell("note_message_days", text=date, could=could), tell("note_message_days_do")
    )


def _said_of_date(now: _Reading, number: int, date: Dated, day: str) -> None:
    if day != date.typed and date.typed not in now.said:
        now.said.add(date.typed)
        what = tell("note_read_as_day", text=date.typed, day=day)
        now.findings.append(_told(now.file, number, "note", "note-read-as", what, _IF_MEANT))


_IF_MEANT = tell("note_if_meant")


def _refused(now: _Reading, number: int, line: str, why: NotUnderstood) -> None:
    """A line that is not understood: an error, or a note where a chat talks of other things."""
    if not NOISE.sub("", line).strip() or (now.chat and not _speaks_of_one(line, now.known)):
        what, remedy = tell("note_talk"), tell("note_talk_do")  # what was talked is not shown
        now.findings.append(_told(now.file, number, "note", "note-talk", what, remedy))
        return
    now.findings.append(_finding(now.file, number, line, why))
    if note_dates.begins_dated(line) and not now.chat:
        now.day, now.no_day = "", None


def _speaks_of_one(line: str, known: Known) -> bool:
    """Whether a line of a chat begins with a date or holds what may be a founding."""
    if note_dates.begins_dated(line):
        return True
    heads = [NOISE.sub("", word).strip(",;:.!?()") for word in line.split()]
    first = heads[0].lower()
    if first in (*words.RESERVED_IDS, *tongues.REST, *tongues.SAME):
        return True
    return any(_LIKE_ID.match(word) or known.numbers_like(word) for word in heads if word)


def _keep(now: _Reading, number: int, got: Line) -> None:
    for what, remedy in got.doubts:
        now.findings.append(_told(now.file, number, "warning", "note-word", what, remedy))
    cells = [("checks", got.check)] if got.check else []
    for sheet, row in (*cells, *(("events", event) for event in got.events)):
        now.rows.append(NoteRow(sheet, row, number, now.sender))
    founding = (got.check or got.events[0])["founding"]
    rest = founding == words.REST and bool(got.spelled)
    other = rest or (got.spelled != founding and founding in now.known.queens)
    if other and got.spelled not in now.said:
        now.said.add(got.spelled)
        read = f"{words.REST} {words.SAME}" if rest and got.check else founding
        what = tell("note_read_as", text=got.spelled, founding=read)
        now.findings.append(_told(now.file, number, "note", "note-read-as", what, _IF_MEANT))


def _shown(line: str) -> str:
    return line if len(line) <= 60 else line[:57] + "..."


def _finding(file: str, number: int, line: str, why: NotUnderstood) -> Finding:
    what = tell("note_line", line=_shown(line), why=Clause(why.what))
    return _told(file, number, "error", "note-line", what, why.remedy)


def _told(file: str, number: int, level: Level, rule: str, what: str, remedy: str) -> Finding:
    return Finding(level=level, rule=rule, file=file, row=number, what=what, remedy=remedy)


def _table(sheet: str, columns: tuple[str, ...], rows: Sequence[NoteRow], file: str) -> RawTable:
    mine = [row for row in rows if row.sheet == sheet]
    data = [[row.cells.get(column, "") for column in columns] for row in mine]
    frame = pd.DataFrame(data, columns=list(columns), dtype=object)
    return RawTable(sheet, file, "", frame, np.array([r.number for r in mine], dtype=np.int64))
