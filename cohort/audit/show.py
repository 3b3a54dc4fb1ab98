"""Findings -> lines of plain text, like ones together.

What comes in: findings. What goes out: groups and text, a line at a time. It prints nothing and
drops nothing: a group keeps all its rows.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd

from cohort.base.errors import LEVELS, Finding, Level, printable
from cohort.sheets.found import Found

_ROWS = 8  # so many rows of a group are named, the others counted
_HINTS = 1000  # findings of a group whose hints are gone through
_LIKE = ("level", "rule", "file", "tab", "column")  # what findings of a group share
_NAME = 60  # signs of a founding's number
_LONGEST = 2000  # signs of one message
_PAD = " " * 9


@dataclass(frozen=True)
class Group:
    """Findings of one rule in one column of one sheet.

    Parameters
    ----------
    findings : Found
        At least one, in order of row.
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
            return one.where
        rows = pd.unique(self.findings.values("row"))
        rows = rows[rows != 0]
        named = ", ".join(str(row) for row in rows[:_ROWS])
        more = f" and {len(rows) - _ROWS} more" if len(rows) > _ROWS else ""
        place = f"{one.file}, tab {one.tab}" if one.tab else one.file
        word = "row" if len(rows) == 1 else "rows"
        parts = [place, f"{word} {named}{more}" if len(rows) else "", one.column]
        return ", ".join(part for part in parts if part)

    @property
    def what(self) -> str:
        """What is wrong; the first one's words when the group's differ."""
        texts = self.findings.different("what", 2)
        if len(texts) == 1:
            return texts[0]
        return f"{len(self.findings)} like this; the first: {texts[0]}"

    @property
    def remedy(self) -> str:
        """What to do; the hints of all when they differ and are few."""
        texts = [text for text in self.findings.different("remedy", 4, among=_HINTS) if text]
        return " ".join(texts[:3])

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


def counted(findings: Iterable[Finding]) -> str:
    """How many of each level: ``2 errors, 1 warning``; ``nothing to correct`` when none."""
    found = Found.of(findings)
    count = {level: len(found.of_level(level)) for level in LEVELS}
    parts = [
        f"{count[level]} {level}{'s' if count[level] > 1 else ''}"
        for level in LEVELS
        if count[level]
    ]
    return ", ".join(parts) if parts else "nothing to correct"


def by_file(findings: Iterable[Finding]) -> list[tuple[str, ...]]:
    """A row for each file with findings: its name, then how many of each level of `LEVELS`.

    What belongs to no file stands under ``the study``, first.
    """
    found = Found.of(findings)
    file, files = found.codes("file")
    level, levels = found.codes("level")
    counts = np.zeros((len(files), len(levels)), dtype=np.int64)
    np.add.at(counts, (file, level), 1)
    by_level = {name: counts[:, place] for place, name in enumerate(levels)}
    none = np.zeros(len(files), dtype=np.int64)
    rows = [
        (name or "the study", *(str(by_level.get(word, none)[place]) for word in LEVELS))
        for place, name in enumerate(files)
    ]
    return sorted(rows, key=lambda row: (row[0] != "the study", row[0]))


def lines(findings: Sequence[Finding], *, width: int = 96, every: bool = False) -> Iterator[str]:
    """Findings as lines of text, errors first, made as they are asked for.

    Signs that steer a terminal are told, not obeyed.

    Parameters
    ----------
    findings : sequence of Finding
    width : int
        Longest line, in signs.
    every : bool
        One entry for each finding and not for each group.
    """
    if every:
        for one in findings:
            who = f" ({_short(one.founding)})" if one.founding else ""
            yield from _entry(one.level, one.where, who, one.what, one.remedy, width)
        return
    for group in grouped(findings):
        names = group.foundings
        who = f" ({_some(names)})" if names else ""
        yield from _entry(group.first.level, group.where, who, group.what, group.remedy, width)


def _entry(level: Level, where: str, who: str, what: str, remedy: str, width: int) -> Iterator[str]:
    yield from _wrapped(f"{_head(level)}{where or 'the study'}{who}", width)
    yield from _indented(what, width)
    yield from _indented(f"-> {remedy}" if remedy else "", width)


def _wrapped(head: str, width: int) -> Sequence[str]:
    if len(head) <= width and head.isprintable():  # nearly always, and far quicker
        return (head.rstrip(),)
    return textwrap.wrap(printable(head), width, subsequent_indent=_PAD, break_long_words=False)


def _head(level: Level) -> str:
    return f"{level.upper():<9}"


@lru_cache(maxsize=1024)
def _indented(text: str, width: int) -> Sequence[str]:
    if len(text) > _LONGEST:
        text = f"{text[:_LONGEST]} ... ({len(text) - _LONGEST:,} signs more)"
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
    more = f" and {len(names) - _ROWS} more" if len(names) > _ROWS else ""
    return ", ".join(map(_short, names[:_ROWS])) + more


def _short(name: str) -> str:
    return name if len(name) <= _NAME else f"{name[:_NAME]}..."
