"""The mapping file of a brought table: written once as a proposal, corrected by its keeper.

What comes in: what the headings were taken for, or a TOML file. What goes out: `Mapping`, or the
file's text. A mapping that names an unknown field or heading is refused.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from cohort.base.errors import StudyError
from cohort.desk.bring.guess import FIELDS, Taken
from cohort.desk.bring.wide import OF_A_DAY, UNDER_DATES
from cohort.desk.sentences import tell
from cohort.sheets.setting import toml_of
from cohort.terms.near import did_you_mean
from cohort.terms.words import DATE_ORDER

FAILED = ("all", "some", "no")
"""Answers to: are the failed ones in this file too?"""
ASK_UNDER = tell("ask_under")
ASK_FAILED = tell("ask_failed")


@dataclass(frozen=True)
class Mapping:
    """How a table is read.

    Parameters
    ----------
    file, sha256, tab : str
        The original.
    headings : dict
        Heading -> field; blank: not used.
    keeper : str
        Sign under which the foundings are numbered.
    failed : {"", "all", "some", "no"}
        Whether the failed ones are in the file; only ``all`` enters the comparison.
    look_every : int
        Days between two looks; a first worker on day d was then not there `look_every` days
        earlier. 0: not known, the worker may have been there since day 0.
    date_order : {"", "dmy", "mdy", "ymd"}
    same_for_all : dict
        Field -> text for every row, such as ``genus``.
    under_dates : {"", "queens", "workers", "queens/workers"}
        What the numbers below a day in the headings count.
    days : dict
        Heading taken for a look -> its day, ``YYYY-MM-DD``; blank where it could be several.
    """

    file: str
    sha256: str
    tab: str
    headings: dict[str, str]
    keeper: str = ""
    failed: str = ""
    look_every: int = 0
    date_order: str = ""
    same_for_all: dict[str, str] = field(default_factory=dict)
    under_dates: str = ""
    days: dict[str, str] = field(default_factory=dict)

    def heading(self, name: str) -> str:
        """Heading that was taken for a field; blank when there is none."""
        return next((h for h, f in self.headings.items() if f == name), "")

    def has(self, name: str) -> bool:
        """Whether a field is filled by a heading or for all rows."""
        return bool(self.heading(name)) or name in self.same_for_all


def write_mapping(mapping: Mapping, taken: Sequence[Taken]) -> str:
    """Text of the mapping file, with the reason beside each heading."""
    why = {t.heading: t.why for t in taken}
    lines = [
        "# What each heading was taken for. Correct what is wrong and run the command again;",
        '# with --write the rows go into the study. A heading with "" is not used.',
        "",
        f"file = {_text(mapping.file)}",
        f"sha256 = {_text(mapping.sha256)}",
        f"tab = {_text(mapping.tab)}",
        "",
        f"keeper = {_text(mapping.keeper)}  # sign under which the foundings are numbered",
        f"failed = {_text(mapping.failed)}  # {ASK_FAILED} Only all enters the comparison.",
        f"look_every = {mapping.look_every}  # days between two looks; 0: not known",
        f"date_order = {_text(mapping.date_order)}  # dmy, mdy or ymd, if dates are typed so",
        *(
            [f"under_dates = {_text(mapping.under_dates)}  # {ASK_UNDER}"]
            if mapping.days or mapping.under_dates
            else []
        ),
        "",
        "[headings]",
        *(
            f"{_text(h)} = {_text(f)}  # {_comment(why.get(h, ''))}".rstrip(" #")
            for h, f in mapping.headings.items()
        ),
        "",
        "[same_for_all]",
        '# genus = "Lasius"   # a field that is the same in every row and has no heading',
        *(f"{name} = {_text(text)}" for name, text in mapping.same_for_all.items()),
        "",
        *(
            [
                "[days]",
                "# The day of each heading that is a look, as YYYY-MM-DD.",
                *(f"{_text(h)} = {_text(day)}" for h, day in mapping.days.items()),
                "",
            ]
            if mapping.days
            else []
        ),
        "# Fields:",
        *(f"#   {name}: {meaning}" for name, meaning in FIELDS.items()),
        "",
    ]
    return "\n".join(lines)


def _text(value: str) -> str:
    quoted = json.dumps(value, ensure_ascii=False)
    return "".join(f"\\u{ord(c):04x}" if ord(c) == 127 else c for c in quoted)


def _comment(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)


def read_mapping(text: str, name: str) -> Mapping:
    """Mapping from the text of its file.

    Parameters
    ----------
    text : str
    name : str
        File name, for messages.

    Raises
    ------
    StudyError
        If it cannot be read; the message names the line or the entry.
    """
    try:
        data = toml_of(text)
    except ValueError as fault:
        raise StudyError(tell("mapping_broken", name=name, why=str(fault))) from fault
    headings, same = _table(data, "headings", name), _table(data, "same_for_all", name)
    for key in [*headings.values(), *same]:
        if key and key not in FIELDS:
            hint, fields = did_you_mean(key, FIELDS), ", ".join(FIELDS)
            raise StudyError(
                tell("mapping_no_field", name=name, entry=key, hint=hint, fields=fields)
            )
    filled = [f for f in headings.values() if f and f not in OF_A_DAY]
    days = _table(data, "days", name)
    for heading, day in days.items():
        if day and not _is_iso(day):
            raise StudyError(tell("mapping_no_day", name=name, day=day, heading=heading[:30]))
    twice = next((f for f in filled if filled.count(f) > 1), "")
    if twice:
        raise StudyError(tell("mapping_twice", name=name, field=twice))
    every = data.get("look_every", 0)
    if not isinstance(every, int) or isinstance(every, bool) or not 0 <= every <= 365:
        raise StudyError(tell("mapping_every", name=name))
    return Mapping(
        file=_word(data, "file", name),
        sha256=_word(data, "sha256", name),
        tab=_word(data, "tab", name),
        headings=headings,
        keeper=_word(data, "keeper", name),
        failed=_word(data, "failed", name, FAILED),
        look_every=every,
        date_order=_word(data, "date_order", name, tuple(DATE_ORDER)),
        same_for_all=same,
        under_dates=_word(data, "under_dates", name, UNDER_DATES),
        days=days,
    )


def _is_iso(text: str) -> bool:
    try:
        return dt.date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def _table(data: dict[str, Any], key: str, name: str) -> dict[str, str]:
    table = data.get(key, {})
    if not isinstance(table, dict) or any(not isinstance(v, str) for v in table.values()):
        raise StudyError(tell("mapping_table", name=name, entry=key))
    return {str(k): v for k, v in table.items()}


def _word(data: dict[str, Any], key: str, name: str, allowed: tuple[str, ...] | None = None) -> str:
    value = data.get(key, "")
    if not isinstance(value, str):
        raise StudyError(tell("mapping_text", name=name, entry=key))
    if allowed is not None and value and value not in allowed:
        raise StudyError(tell("mapping_word", name=name, entry=key, words=", ".join(allowed)))
    return value
