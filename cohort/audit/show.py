"""Findings -> lines of plain text, like ones together.

What comes in: findings and a language. What goes out: groups and text, a line at a time. It
prints nothing and drops nothing: a group keeps all its rows.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial

import numpy as np
import pandas as pd

from cohort.audit.find import place_of, tell
from cohort.base.errors import LEVELS, Finding, Level, printable
from cohort.sheets.found import Found
from cohort.terms.voice import ENGLISH, Voice, beside, in_language, voice

_ROWS = 8  # so many rows of a group are named, the others counted
_HINTS = 1000  # findings of a group whose hints are gone through
_LIKE = ("level", "rule", "file", "tab", "column")  # what findings of a group share
_NAME = 60  # signs of a founding's number
_LONGEST = 2000  # signs of one message
_PAD = " " * 9
THE_STUDY = tell("the_study")
"""Where a finding is that belongs to no file."""


def speaks(language: str = ENGLISH) -> Voice:
    """Sentences of this room in a language."""
    return voice("cohort.audit", language)


@dataclass(frozen=True)
class Group:
    """Findings of one rule in one column of one sheet.

    Parameters
    ----------
    findings : Found
        At least one, in order of row.

    Its texts are English; `cohort.terms.voice.in_language` says them again.
    """

    findings: Found

    @property
    def first(self) -> Finding:
        """The finding that speaks for the group."""
        return self.findings[0]

    @property
    def where(self) -> str:
        """File, tab, rows and column: ``checks.csv, rows 7, 9 and 3 more, queens_alive``."""
        one = self.first
        if len(self.findings) == 1:
            return place_of(one)
        rows = pd.unique(self.findings.values("row"))
        rows = rows[rows != 0]
        if not len(rows):
            return place_of(replace(one, row=0))
        return place_of(one, tell("rows", n=len(rows), rows=_some([str(row) for row in rows])))

    @property
    def what(self) -> str:
        """What is wrong; the first one's words when the group's differ."""
        texts = self.findings.different("what", 2)
        if len(texts) == 1:
            return texts[0]
        return tell("like_this", n=len(self.findings), first=texts[0])

    @property
    def remedy(self) -> str:
        """What to do; the hints of all when they differ and are few."""
        texts = [text for text in self.findings.different("remedy", 4, among=_HINTS) if text]
        return beside(*texts[:3])

    @property
    def foundings(self) -> tuple[str, ...]:
        """Foundings that the group speaks of."""
        return tuple(text for text in self.findings.codes("founding")[1] if text)


def grouped(findings: Iterable[Finding]) -> tuple[Group, ...]:
    """Like findings together: same level, rule, file, tab and column; order is kept."""
    found = Found.of(findings)
    if not len(found):
        return ()
    like = np.zeros(len(found), dtype=np.int64)
    for name in _LIKE:
        codes, texts = found.codes(name)
        like = pd.factorize(like * len(texts) + codes)[0]
    places = np.split(np.argsort(like, kind="stable"), np.cumsum(np.bincount(like))[:-1])
    groups = [Group(found.take(mine)) for mine in places]
    return tuple(sorted(groups, key=lambda group: LEVELS.index(group.first.level)))


def counted(findings: Iterable[Finding], language: str = ENGLISH) -> str:
    """How many of each level: ``2 errors, 1 warning``; ``nothing to correct`` when none."""
    found, own = Found.of(findings), speaks(language)
    count = {level: len(found.of_level(level)) for level in LEVELS}
    parts = [own.say(f"count_{level}", n=count[level]) for level in LEVELS if count[level]]
    return ", ".join(parts) if parts else own.say("count_none")


def by_file(findings: Iterable[Finding], language: str = ENGLISH) -> list[tuple[str, ...]]:
    """A row for each file with findings: its name, then how many of each level of `LEVELS`.

    What belongs to no file stands under ``the study``, first.
    """
    found, study = Found.of(findings), in_language(THE_STUDY, language)
    file, files = found.codes("file")
    level, levels = found.codes("level")
    counts = np.zeros((len(files), len(levels)), dtype=np.int64)
    np.add.at(counts, (file, level), 1)
    by_level = {name: counts[:, place] for place, name in enumerate(levels)}
    none = np.zeros(len(files), dtype=np.int64)
    rows = [
        (name or study, *(str(by_level.get(word, none)[place]) for word in LEVELS))
        for place, name in enumerate(files)
    ]
    return sorted(rows, key=lambda row: (row[0] != study, row[0]))


def lines(
    findings: Sequence[Finding], *, width: int = 96, every: bool = False, language: str = ENGLISH
) -> Iterator[str]:
    """Findings as lines of text, errors first, made as they are asked for.

    Signs that steer a terminal are told, not obeyed.

    Parameters
    ----------
    findings : sequence of Finding
    width : int
        Longest line, in signs.
    every : bool
        One entry for each finding and not for each group.
    language : str
        Two-letter code. A sentence that is known in English only is told so.
    """
    entry = partial(_entry, width=width, language=language)
    if every:
        for one in findings:
            who = _short(one.founding)
            yield from entry(one.level, place_of(one), who, one.what, one.remedy)
        return
    for group in grouped(findings):
        who = _some([_short(name) for name in group.foundings])
        yield from entry(group.first.level, group.where, who, group.what, group.remedy)


def _entry(
    level: Level, where: str, who: str, what: str, remedy: str, *, width: int, language: str
) -> Iterator[str]:
    # as mere texts: what is kept in a cache must not hold the values of a sentence
    what, remedy, who = (str(in_language(text, language)) for text in (what, remedy, who))
    place = in_language(where or THE_STUDY, language)
    yield from _wrapped(f"{_head(level, language)}{place}{f' ({who})' if who else ''}", width)
    yield from _indented(what, width, language)
    yield from _indented(f"-> {remedy}" if remedy else "", width, language)


def _wrapped(head: str, width: int) -> Sequence[str]:
    if len(head) <= width and head.isprintable():  # nearly always, and far quicker
        return (head.rstrip(),)
    return textwrap.wrap(printable(head), width, subsequent_indent=_PAD, break_long_words=False)


@lru_cache(maxsize=32)
def _head(level: Level, language: str) -> str:
    return f"{speaks(language).say(f'level_{level}').upper():<{len(_PAD)}}"


@lru_cache(maxsize=1024)
def _indented(text: str, width: int, language: str) -> Sequence[str]:
    if len(text) > _LONGEST:
        own = speaks(language)
        text = own.say("signs_more", text=text[:_LONGEST], signs=len(text) - _LONGEST)
    return tuple(
        textwrap.wrap(
            printable(text),
            width,
            initial_indent=_PAD,
            subsequent_indent=_PAD,
            break_long_words=False,
            break_on_hyphens=False,
        )
    )


def _some(names: Sequence[str]) -> str:
    """The first of some names, the others counted."""
    named = ", ".join(names[:_ROWS])
    return tell("and_more", named=named, more=len(names) - _ROWS) if len(names) > _ROWS else named


def _short(name: str) -> str:
    return name if len(name) <= _NAME else f"{name[:_NAME]}..."
