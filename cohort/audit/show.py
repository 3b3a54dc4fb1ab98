"""Findings -> lines of plain text, like ones together.

What comes in: findings. What goes out: groups and text. It prints nothing and drops nothing: a
group keeps all its rows.
"""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cohort.errors import LEVELS, Finding, Level, printable

_ROWS = 8  # so many rows of a group are named, the others counted


@dataclass(frozen=True)
class Group:
    """Findings of one rule in one column of one sheet.

    Parameters
    ----------
    findings : tuple of Finding
        At least one, in order of row.
    """

    findings: tuple[Finding, ...]

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
        rows = list(dict.fromkeys(finding.row for finding in self.findings if finding.row))
        named = ", ".join(str(row) for row in rows[:_ROWS])
        more = f" and {len(rows) - _ROWS} more" if len(rows) > _ROWS else ""
        place = f"{one.file}, tab {one.tab}" if one.tab else one.file
        word = "row" if len(rows) == 1 else "rows"
        parts = [place, f"{word} {named}{more}" if rows else "", one.column]
        return ", ".join(part for part in parts if part)

    @property
    def what(self) -> str:
        """What is wrong; the first one's words when the group's differ."""
        texts = list(dict.fromkeys(finding.what for finding in self.findings))
        if len(texts) == 1:
            return texts[0]
        return f"{len(self.findings)} like this; the first: {texts[0]}"

    @property
    def remedy(self) -> str:
        """What to do; the hints of all when they differ and are few."""
        texts = [text for text in dict.fromkeys(f.remedy for f in self.findings) if text]
        return " ".join(texts[:3])

    @property
    def foundings(self) -> tuple[str, ...]:
        """Foundings that the group speaks of."""
        return tuple(dict.fromkeys(f.founding for f in self.findings if f.founding))


def grouped(findings: Iterable[Finding]) -> tuple[Group, ...]:
    """Like findings together: same level, rule, file, tab and column; order is kept."""
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for finding in findings:
        key = (finding.level, finding.rule, finding.file, finding.tab, finding.column)
        groups.setdefault(key, []).append(finding)
    ordered = sorted(groups.values(), key=lambda group: LEVELS.index(group[0].level))
    return tuple(Group(tuple(group)) for group in ordered)


def counted(findings: Iterable[Finding]) -> str:
    """How many of each level: ``2 errors, 1 warning``; ``nothing to mend`` when none."""
    count = Counter(finding.level for finding in findings)
    parts = [
        f"{count[level]} {level}{'s' if count[level] > 1 else ''}"
        for level in LEVELS
        if count[level]
    ]
    return ", ".join(parts) if parts else "nothing to mend"


def lines(findings: Sequence[Finding], *, width: int = 96, every: bool = False) -> list[str]:
    """Findings as lines of text, errors first.

    Parameters
    ----------
    findings : sequence of Finding
    width : int
        Longest line, in signs.
    every : bool
        One entry for each finding and not for each group.
    """
    groups = [Group((f,)) for f in findings] if every else list(grouped(findings))
    told: list[str] = []
    for group in groups:
        who = f" ({_some(group.foundings)})" if group.foundings else ""
        head = f"{_head(group.first.level)}{group.where or 'the study'}{who}"
        told += textwrap.wrap(head, width, subsequent_indent=" " * 9, break_long_words=False)
        told += _indented(group.what, width)
        told += _indented(f"-> {group.remedy}" if group.remedy else "", width)
    return [printable(line) for line in told]


def _head(level: Level) -> str:
    return f"{level.upper():<9}"


def _indented(text: str, width: int) -> list[str]:
    pad = " " * 9
    return textwrap.wrap(
        text,
        width,
        initial_indent=pad,
        subsequent_indent=pad,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _some(names: Sequence[str]) -> str:
    more = f" and {len(names) - _ROWS} more" if len(names) > _ROWS else ""
    return ", ".join(names[:_ROWS]) + more
