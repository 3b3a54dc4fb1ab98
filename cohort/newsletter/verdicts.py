"""Verdicts in words: which way is better, how sure we are, and why not surer.

In comes what ``verdicts.csv`` says of a contrast; out come sentences of a catalogue. Never a word
that stands in no row of that table, and never a judgement of its own.
"""

from __future__ import annotations

from typing import Final

from cohort.figures.material import Material, verdict_of
from cohort.newsletter.speech import Voice
from cohort.spoken import Spoken
from cohort.verdict.rules import TELLING

ARITHMETIC: Final = ("same_queens_count", "colonies_per_queen")
"""Contrasts that favour one queen by arithmetic: a group can give one colony, k containers k.

They are no finding unless the sheets raise or lower the odds by `TELLING`."""
WITH_A_SIDE: Final = ("clearly", "expected", "leans")
"""Words that name a way."""


def key_of(found: Spoken | None) -> str:
    """End of the catalogue keys of a verdict: its word and, where it names a way, the way."""
    if found is None:
        return "none"
    return f"{found.word}_{found.side}" if found.word in WITH_A_SIDE else found.word


def is_finding(found: Spoken | None) -> bool:
    """Whether a sentence may be made of a verdict."""
    if found is None or not found.said:
        return False
    return found.contrast not in ARITHMETIC or found.evidence >= TELLING


def told(voice: Voice, found: Spoken | None, about: str, equal: float) -> str:
    """A verdict in sentences: the word, how sure, and why not surer.

    Parameters
    ----------
    voice : Voice
    found : Spoken or None
    about : str
        Key of what it is about: ``about_any``, ``about_count``, ``about_here``.
    equal : float
        Chance that both ways are practically equal, for the word ``same``.
    """
    subject = voice.say(about)
    if found is None or not found.said:
        return voice.say("verdict_none", about=subject, why=voice.say(why_key(found)))
    said = voice.say(f"verdict_{found.word}", about=subject, way=_way(voice, found.likelier))
    return " ".join([said, *_how_sure(voice, found, equal)])


def _how_sure(voice: Voice, found: Spoken, equal: float) -> list[str]:
    if found.word == "same":
        return [voice.say("sure_same", chance=voice.chance(equal))]
    key = "sure" if found.word in WITH_A_SIDE else "sure_that"
    out = [voice.say(key, chance=voice.chance(found.sure), before=voice.chance(found.before),
                     way=_way(voice, found.likelier))]  # fmt: skip
    if found.word in ("leans", "open"):
        out.append(voice.say("not_surer", why=voice.say(why_key(found))))
    return out


def why_key(found: Spoken | None) -> str:
    """Catalogue key of what kept a verdict from being stronger."""
    why = "day-short" if found is None else found.why
    return f"why_{why.replace('-', '_')}"


def _way(voice: Voice, way: str) -> str:
    return voice.say(f"keeping_{way}")


def whether_kinds_differ(material: Material, voice: Voice) -> str:
    """Whether the kinds differ, in one sentence; blank where that cannot be asked."""
    found = verdict_of(material, "differ")
    if found is None or not found.said:
        return ""
    if found.word == "clearly":
        return voice.say("differ_clearly", chance=voice.chance(found.chance))
    return voice.say("differ_open")


def kinds_differ(material: Material) -> bool:
    """True only where the verdicts say so."""
    found = verdict_of(material, "differ")
    return found is not None and found.word == "clearly"
