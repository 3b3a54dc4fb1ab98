"""Published findings in sentences.

Comes in: a `Published` and a `Voice`. Goes out: one sentence for each species, and the papers.
"""

from __future__ import annotations

from typing import Final

from cohort.published.summary import Published
from cohort.published.table import Finding
from cohort.terms.voice import ENGLISH, Voice, voice

ROOM: Final = "cohort.published"
"""Where the sentences are, see `cohort.terms.voice`."""


def speaks(language: str = ENGLISH) -> Voice:
    """The voice of published findings."""
    return voice(ROOM, language)


def short(name: str) -> str:
    """``Lasius niger`` -> ``L. niger``."""
    genus, species = name.split()
    return f"{genus[0]}. {species}"


def found(what: Published, own: Voice) -> tuple[str, ...]:
    """What was found, a sentence for each species, after one that says whom they speak of.

    Parameters
    ----------
    what : Published
    own : Voice
        From `speaks`.
    """
    genera = tuple(dict.fromkeys(row.genus for row in what.rows))
    first = own.say("unnamed_nothing")
    if what.genus:
        first = own.say(f"of_{what.of}", genus=what.genus, species=what.species, kin=genera or "")
    named = ((name, short(name) if what.of != "kin" else name) for name in what.names)
    return (
        first,
        *(own.say("headed", head=told, text=own.say(_key(name))) for name, told in named),
    )


def sources(what: Published, own: Voice) -> tuple[str, ...]:
    """The papers, each with its DOI or else its place.

    A reference of which a part was not seen says so.
    """
    return tuple(_source(paper, own) for paper in what.papers)


def _key(name: str) -> str:
    return "found_" + name.replace(" ", "_")


def _source(row: Finding, own: Voice) -> str:
    number = " ".join(part for part in (row.journal, row.volume) if part)
    place = f"doi:{row.doi}" if row.doi else f"{number}:{row.pages}" if row.pages else number
    memory = own.say("memory") if row.from_memory else ""
    return f"{row.authors} {row.year}, {place}{memory}"
