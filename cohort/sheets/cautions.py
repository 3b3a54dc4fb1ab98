"""The safety lines, and the one line of each place that leads to them.

What comes in: nothing, or a `Voice`. What goes out: `CAUTIONS`, pairs of a word and a few plain
sentences: the whole text, on the first tab of a workbook and on the night sheet; and `LINES`, one
line for each command or sheet that has no room for all. Their sentences are in `terms/catalogue`.
They are common practice, save where a law or a paper is named; local law and licensed advice stand
above them all.

Killing. What was read: Bergh and others, "A contribution to standards for freezing as a pest
control method for museums", Collection Forum (abstract): larvae of seven museum pests below
-17.6 C for about 50 hours all died; to cool through, wool and furniture took 20 to 36 hours more.
Canadian Conservation Institute, Notes 3/3 (first page). Ants: half the workers of *Lasius niger*
and *L. flavus* die at -13 to -15 C (Berman & Zhigulskaya 2021, Contemporary Problems of Ecology,
abstract), half of four *Myrmica* of Northeast Asia at about -23 to -26 C (abstract), both in their
winter state; *Solenopsis invicta* within 4 hours at -10 C (second hand). So a home freezer can
fail with *Myrmica* in winter rest. No guidance for killing ants and none on their suffering was
found; a week is a margin of ours, and so is that some days of warmth undo the winter state.

Permits and proof of origin: no text was read but 7 CFR 301.81 (imported fire ants in the USA: one
queen is an infestation; moving them takes a certificate or permit). Solvents: common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from cohort.terms.voice import SHARED, Voice, voice

HEADS: Final = (
    "first", "stings", "children", "collecting", "bought", "release", "foreign", "killing",
    "solvents", "lamps", "privacy",
)  # fmt: skip
"""Cautions of the whole text, in order."""
PLACES: Final = ("begin", "bring", "demo", "due", "plan", "allot", "checks")
"""Commands and sheets that have room for one line."""


def cautions_in(speaks: Voice) -> tuple[tuple[str, str], ...]:
    """The whole text in a language: pairs of a word and a few plain sentences."""
    return tuple((speaks.say(f"safe_{name}_head"), speaks.say(f"safe_{name}")) for name in HEADS)


def line_in(speaks: Voice, place: str) -> str:
    """The one line of a place of `PLACES`, law first."""
    return speaks.say(f"line_{place}", law=speaks.say("law_first"), where=speaks.say("safe_where"))


_ENGLISH: Final = voice(SHARED)
CAUTIONS: Final = cautions_in(_ENGLISH)
WHERE: Final = _ENGLISH.say("safe_where")
"""Where the whole text stands."""
LINES: Final[Mapping[str, str]] = MappingProxyType(
    {place: line_in(_ENGLISH, place) for place in PLACES}
)
"""One line for each place that has no room for all."""
