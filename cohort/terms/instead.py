"""How the sheets say what a keeper put in words of his own.

What comes in: a text that is no event and no fixed word. What goes out: a remedy, one sentence
that says what to write; blank where none is known. It never replaces what was typed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import partial
from typing import Final

from cohort.terms import words
from cohort.terms.columns import Column
from cohort.terms.voice import SHARED, Said

_tell: Final = partial(Said, SHARED)


def told_in(text: str, known: Iterable[str]) -> str:
    """First word of `known` that stands in a text as a whole word; blank when none does."""
    low = " ".join(text.lower().split())
    for word in known:
        if re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", low):
            return word
    return ""


def for_event(text: str) -> str:
    """Remedy for the column `event` of the sheet events."""
    left, ended = told_in(text, words.LEFT), told_in(text, words.ENDED)
    if left:
        return _left(words.LEFT[left])
    if ended:
        return _tell("instead_end", why=words.ENDED[ended])
    if told_in(text, words.PARTED):
        return _tell("instead_parted")
    if told_in(text, words.WINTER):
        return _tell("instead_winter")
    if told_in(text, words.DIED):
        return _tell("instead_died")
    return ""


_CROSSES = ("x", "†", "✝", "+")
_COCOONS = ("cocoon", "cocoons", "kokon", "kokons", "cocon", "cocons", "capullo", "capullos")
_NUMBERS = ("", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_UNITS = "|".join(sorted(map(re.escape, (*words.QUEENS, *words.WORKERS)), key=len, reverse=True))
_WITH_UNIT = re.compile(rf"([0-9]{{1,6}})\s?(?:{_UNITS})")
_ABOUT = "|".join(sorted(map(re.escape, words.ABOUT), key=len, reverse=True))
_NEAR = re.compile(rf"(?:{_ABOUT})\s*([0-9]{{1,6}})|([0-9]{{1,6}})\s*\?")
_EITHER = re.compile(r"([0-9]{1,6})\s?(?:-|–|/|or|to|oder|bis|ou|o)\s?[0-9]{1,6}")


def number_word(text: str) -> int:
    """Number from one to ten that is written as a word; 0 where it is none."""
    low = text.lower()
    return _NUMBERS.index(low) if low in _NUMBERS else 0


def for_brood(text: str) -> str:
    """Remedy for the column `brood`; blank where none is known."""
    if told_in(text, _COCOONS):
        return _tell("instead_cocoons")
    if told_in(text, ("brood", "brut", "couvain", "cría")):
        return _tell("instead_stage")
    return ""


def for_count(text: str, column: Column) -> str:
    """Remedy for a text where a number is looked for."""
    low = " ".join(text.lower().split())
    spelled = number_word(low.removesuffix(" queens").removesuffix(" queen"))
    if spelled:
        return _tell("instead_word", word=str(spelled))
    found = _WITH_UNIT.fullmatch(low)
    if found:
        return _tell("instead_bare_number", number=found[1])
    near = _NEAR.fullmatch(low) or _EITHER.fullmatch(low)
    if near:
        number = next(part for part in near.groups() if part)
        if column.at_least:
            return _tell("instead_at_least", number=number)
        return _tell("instead_exact", number=number)
    dead = low in _CROSSES or told_in(low, (*words.DIED, *words.NONE_ALIVE))
    if column.name == "queens_alive" and dead:
        return _tell("instead_alive")
    if column.at_least and low in ("none", "no", "nil", "nothing"):
        return _tell("instead_none")
    return ""


def _left(how: str) -> str:
    return _tell("instead_left_all" if how in words.END_WHY else "instead_left", how=how)


def for_other(text: str, event: str) -> str:
    """Remedy for the column `other` of an event that takes fixed words."""
    allowed = words.OTHER_WORDS[event]
    for table in (words.LEFT, words.ENDED):
        told = told_in(text, table)
        if told and table[told] in allowed:
            return _tell("instead_word", word=table[told])
    if event == "end" and told_in(text, words.DIED):
        return _tell("instead_died_out")
    return ""
