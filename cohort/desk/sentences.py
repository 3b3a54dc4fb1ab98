"""What this room says, as keys of its catalogues with their values.

What comes in: findings, keys. What goes out: `tell`, and the text of a refusal. It holds no
sentence itself; whoever prints one says it in the keeper's language (`cohort.cli.asked.heard_in`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from typing import Final

from cohort.audit.find import place_of
from cohort.base.errors import Finding, printable
from cohort.terms.voice import Said, beside

tell: Final = partial(Said, "cohort.desk")
"""A sentence of this room, to be said in any language: ``tell(key, blank=value, ...)``."""
SHOWN: Final = 5
"""Errors told in a refusal; of more the count is told."""


def refused(first: str, findings: Iterable[Finding]) -> str:
    """Why nothing was written: a sentence, then the errors with their places.

    As `cohort.SheetError` tells them, in whatever language.
    """
    errors = [finding for finding in findings if finding.level == "error"]
    if len(errors) == 1:
        return beside(first, placed(errors[0]))
    return beside(first, tell("errors", n=len(errors), lines=_lines(errors)))


def placed(finding: Finding) -> str:
    """Where, what and what to do."""
    text, place = beside(finding.what, finding.remedy), place_of(finding)
    return tell("placed", place=place, text=text) if place else text


def _lines(errors: Sequence[Finding]) -> str:
    shown = [placed(error) for error in errors[:SHOWN]]
    if len(errors) > SHOWN:
        shown.append(tell("more", more=len(errors) - SHOWN))
    made = ""
    for one in shown:
        made = tell("line", first=made, last=one)
    return made


def listed(names: Iterable[object]) -> str:
    """Names one after another, whatever may be in them."""
    return ", ".join(printable(str(name)) for name in names)
