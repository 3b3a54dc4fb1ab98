"""How the sheets say what a keeper put in words of his own.

What comes in: a text that is no event and no fixed word. What goes out: a remedy, one sentence
that says what to write; blank where none is known. It never replaces what was typed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from cohort.terms import words
from cohort.terms.columns import Column


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
        return f"Write end under event, and {words.ENDED[ended]} under other."
    if told_in(text, words.PARTED):
        return (
            "Write queens-out under event, how many went under number and their new founding under "
            "other; give that founding a row with this one under from and split-off under left_out."
        )
    if told_in(text, words.WINTER):
        return "Write winter-in if it was put to winter rest, winter-out if it was taken from it."
    if told_in(text, words.DIED):
        return (
            "Take this row out and write the living queens of that day in checks, 0 if none was "
            "left: deaths are known from the counts."
        )
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
        return "Write pupae for cocoons."
    if told_in(text, ("brood", "brut", "couvain", "cría")):
        return "Write the furthest stage seen: eggs, larvae or pupae."
    return ""


def for_count(text: str, column: Column) -> str:
    """Remedy for a text where a number is looked for."""
    low = " ".join(text.lower().split())
    spelled = number_word(low.removesuffix(" queens").removesuffix(" queen"))
    if spelled:
        return f"Write {spelled}."
    found = _WITH_UNIT.fullmatch(low)
    if found:
        return f"Write {found[1]}, without a word."
    near = _NEAR.fullmatch(low) or _EITHER.fullmatch(low)
    if near:
        number = next(part for part in near.groups() if part)
        if column.at_least:
            return f"Write the number if it is sure; {number}+ if there were at least {number}."
        return f"Write the exact number, such as {number}."
    dead = low in _CROSSES or told_in(low, (*words.DIED, *words.NONE_ALIVE))
    if column.name == "queens_alive" and dead:
        return "Write how many queens are alive: 0 if none is."
    if column.at_least and low in ("none", "no", "nil", "nothing"):
        return "Write 0 if you looked and saw none; leave the cell blank if you did not look."
    return ""


def _left(how: str) -> str:
    some = f"queens-out under event, how many left under number and {how} under other"
    if how not in words.END_WHY:
        return f"Write {some}."
    return f"If all queens left, write end under event and {how} under other; if some did, {some}."


def for_other(text: str, event: str) -> str:
    """Remedy for the column `other` of an event that takes fixed words."""
    allowed = words.OTHER_WORDS[event]
    for table in (words.LEFT, words.ENDED):
        told = told_in(text, table)
        if told and table[told] in allowed:
            return f"Write {table[told]}."
    if event == "end" and told_in(text, words.DIED):
        return (
            "Take this row out and write 0 under queens_alive in checks: deaths are known from the "
            "counts."
        )
    return ""
