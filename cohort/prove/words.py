"""The page of a proof: plain text that can be kept, and the same as plain values.

Comes in: a `Proof`. Goes out: text, values for ``--json``. Never: print, or a number of its own.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator
from typing import Any, Final

from cohort.base.display import untied
from cohort.prove.lines import Line, Part
from cohort.prove.run import Proof
from cohort.terms.voice import ENGLISH, Voice, voice

ROOM: Final = "cohort.prove"
"""Where the sentences are, see `cohort.terms.voice`."""
WIDE: Final = 78
WHAT: Final = 46
"""Signs of a line, and of the column that says what a number is."""


def speaks(language: str = ENGLISH) -> Voice:
    """The voice of a proof."""
    return voice(ROOM, language)


def _range(line: Line, own: Voice) -> str:
    """Where a number has to lie: around one that is wanted, or between two."""
    if math.isfinite(line.wanted):
        within = line.high - line.wanted
        middle = own.decimal(line.wanted, line.places)
        return f"{middle} +- {own.decimal(within, line.places)}" if within else middle
    low = own.decimal(line.low, line.places)
    if not math.isfinite(line.high):
        return own.say("or_more", low=low)
    return own.say("between", low=low, high=own.decimal(line.high, line.places))


def _found(line: Line, own: Voice) -> str:
    # what rounds to nothing has no sign
    found = round(line.found, line.places) + 0.0 if math.isfinite(line.found) else math.nan
    return own.decimal(found, line.places) if math.isfinite(found) else "-"


def _lines(part: Part, own: Voice) -> Iterator[str]:
    """The numbers of a part in three columns; a star on those that do not hold."""
    rows = [(own.say("what"), own.say("found"), own.say("where"), True)]
    rows += [
        (own.write(one.what), _found(one, own), _range(one, own), one.holds) for one in part.lines
    ]
    for what, found, wanted, holds in rows:
        *before, last = textwrap.wrap(what, WHAT, subsequent_indent="  ")
        yield from before
        yield f"{last:<{WHAT}}  {found:>11}  {wanted}{'' if holds else '  *'}".rstrip()


def _told(part: Part, number: int, own: Voice) -> Iterator[str]:
    """One part: its title with the outcome, what is done, what would have failed, its numbers."""
    outcome = own.say("held" if part.holds else "failed")
    yield f"{number}. {own.say(f'title_{part.name}')}: {outcome}"
    yield ""
    yield from textwrap.wrap(own.say(f"does_{part.name}"), WIDE)
    yield from textwrap.wrap(own.say(f"fails_{part.name}"), WIDE)
    seeded = (
        own.say("seeded", seed=str(part.seed)) if part.seed is not None else own.say("seedless")
    )
    yield from textwrap.wrap(f"{seeded} {own.say('took', n=max(1, round(part.seconds)))}", WIDE)
    yield ""
    if part.broke_off:
        yield from textwrap.wrap(own.say("broke_off", why=part.broke_off), WIDE)
    else:
        yield from _lines(part, own)
    yield ""


def page(proof: Proof, own: Voice | None = None) -> str:
    """The whole page, in lines of 78 signs."""
    own = own or speaks()
    count = sum(not part.holds for part in proof.parts)
    outcome = own.say("some_failed", n=count) if count else own.say("all_held")
    told = ", ".join(f"{name} {version}" for name, version in proof.versions.items())
    out = [own.say("title"), "=" * len(own.say("title")), ""]
    out += textwrap.wrap(outcome, WIDE)
    out += textwrap.wrap(own.say("made_on", day=proof.day, seed=str(proof.seed)), WIDE)
    out += textwrap.wrap(f"{told}. {own.say('sources', letters=proof.sources)}", WIDE)
    out += ["", *textwrap.wrap(own.say("how_to_read"), WIDE), ""]
    for number, part in enumerate(proof.parts, start=1):
        out += _told(part, number, own)
    for key in ("other_seed", "not_shown", "more"):
        out += [*textwrap.wrap(own.say(key), WIDE), ""]
    return untied("\n".join(out)).rstrip() + "\n"


def as_json(proof: Proof, own: Voice | None = None) -> dict[str, Any]:
    """Everything found, as plain values; sentences in a language, English if not given."""
    own = own or speaks()
    parts = [
        part.as_dict({i: untied(own.write(line.what)) for i, line in enumerate(part.lines)})
        for part in proof.parts
    ]
    return {
        "holds": proof.holds,
        "day": proof.day.isoformat(),
        "seed": proof.seed,
        "versions": proof.versions,
        "sources": proof.sources,
        "parts": parts,
    }
