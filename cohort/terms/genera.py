"""What is commonly known of a genus: founding, host, sting, cautions.

What comes in: a genus or species as typed. What goes out: its right spelling or a close match,
whether its queen can found alone, and the cautions that belong to it. It decides nothing about a
study; local law and licensed advice stand above every line of it.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Final

from cohort.terms import genus_list
from cohort.terms.genus_list import FoundingMode
from cohort.terms.genus_sources import PRACTICE
from cohort.terms.near import nearest
from cohort.terms.voice import ENGLISH, SHARED, Said, Voice, in_language, voice

LAW_FIRST: Final = voice(SHARED).say("law_first")


@dataclass(frozen=True)
class Genus:
    """One genus.

    Parameters
    ----------
    name : str
        As spelled in the literature.
    founding : str
        How queens of most of its kinds found, see `FoundingMode`; blank when not known.
    basis : str
        What that rests on: a key of `genus_sources.SOURCES`, or its mark for practice or memory.
    stinging : bool
        Whether its sting can hurt more than a prick, or an allergy is known.
    """

    name: str
    founding: FoundingMode
    basis: str
    stinging: bool


def _all() -> Mapping[str, Genus]:
    stinging = set(genus_list.STINGING)
    return MappingProxyType(
        {
            name: Genus(name, founding, basis, name in stinging)
            for founding, basis, names in genus_list.FOUNDING
            for name in names.split()
        }
    )


GENERA: Mapping[str, Genus] = _all()
_BY_LOW = {name.lower(): name for name in GENERA}

SAYS_NOTHING = ("sp", "sp.", "spp", "spp.", "?", "unknown")


def split_name(text: str) -> tuple[str, str]:
    """Genus and species out of one cell: ``Lasius cf. niger`` -> ``("Lasius", "cf. niger")``."""
    words = text.split()
    if not words:
        return "", ""
    species = [word for word in words[1:] if word.lower() not in SAYS_NOTHING]
    return words[0], " ".join(species)


@cache
def spelled(name: str) -> str:
    """Right spelling of a genus, whatever its case; blank when it is not in the list."""
    return _BY_LOW.get(name.strip().lower(), "")


@cache
def near_genus(name: str) -> str:
    """Genus in the list that is nearest to a misspelt one; blank when none is near."""
    return nearest(name, GENERA, cutoff=0.78)


def _epithet(species: str) -> str:
    """Last plain word of a species cell: ``cf. niger`` -> ``niger``."""
    words = re.findall(r"[a-z-]{3,}", species.lower())
    return words[-1] if words else ""


def founding_of(genus: str, species: str = "") -> tuple[FoundingMode, str]:
    """How queens of a genus or species found, and the basis; blanks when not known."""
    epithet = _epithet(species)
    if epithet in genus_list.PARASITIC_SPECIES.get(genus, ()):
        return "with a host", PRACTICE
    own = genus_list.FOUNDING_OF_SPECIES.get((genus, epithet))
    if own is not None:
        return own
    known = GENERA.get(genus)
    return ("", "") if known is None else (known.founding, known.basis)


def needs_host(genus: str, species: str = "") -> bool:
    """Whether queens of this genus or species found in a host colony and not alone."""
    return founding_of(genus, species)[0] == "with a host"


def founds_by_splitting(genus: str, species: str = "") -> bool:
    """Whether new colonies come from a split, with queens or without: no queen founds alone."""
    return founding_of(genus, species)[0] in ("by splitting", "without queens")


def founding_doubt(genus: str, species: str = "", speaks: Voice | None = None) -> str:
    """Sentence on a genus whose kinds found in different ways; blank when the species is known."""
    known = GENERA.get(genus)
    if known is None or _epithet(species):
        return ""
    noted = genus in genus_list.FOUNDING_NOTES
    if not noted and known.founding != "several ways":
        return ""
    speaks = speaks or voice(SHARED)
    note = speaks.say(f"doubt_{genus if noted else 'several'}")
    return speaks.say("doubt", genus=genus, note=note)


def spreading(genus: str, species: str = "") -> bool:
    """Whether the species is on a list of invasive ants kept here (EU list or widely spread)."""
    return bool({"eu_listed", "spreading", "north_america"} & set(caution_keys(genus, species)))


def caution_keys(genus: str, species: str = "") -> tuple[str, ...]:
    """Which cautions belong to a genus or species, the most serious first.

    Returns
    -------
    tuple of str
        Of ``eu_listed``, ``spreading``, ``north_america``, ``mounds``, ``sting``; `cautions` has
        the sentences.
    """
    pair = (genus, _epithet(species))
    told: list[str] = []
    if pair in genus_list.EU_LISTED:
        told.append("eu_listed")
    elif pair in genus_list.SPREADING:
        told.append("spreading")
    elif pair in genus_list.INVASIVE_IN_NORTH_AMERICA:
        told.append("north_america")
    if genus == "Formica" and pair[1] in genus_list.PROTECTED_MOUNDS:
        told.append("mounds")
    known = GENERA.get(genus)
    if known is not None and known.stinging:
        told.append("sting")
    return tuple(told)


def caution_blanks(genus: str, species: str = "") -> dict[str, str | dt.date]:
    """What goes into the blanks of a caution: genus, name, act of law and the date of the list."""
    epithet = _epithet(species)
    return {
        "genus": genus,
        "name": f"{genus} {epithet}".strip(),
        "act": genus_list.EU_LISTED.get((genus, epithet), ""),
        "as_of": genus_list.EU_LIST_AS_OF,
    }


def cautions(genus: str, species: str = "", speaks: Voice | None = None) -> tuple[str, ...]:
    """Cautions that belong to a genus or species, the most serious first.

    Parameters
    ----------
    genus : str
        Spelled as in `GENERA`; another word yields no caution.
    species : str, optional
        Species, if known.
    speaks : Voice, optional
        Language; English if not given.

    Returns
    -------
    tuple of str
        Whole sentences; empty when nothing is known. EU list: the acts named in
        `genus_list.EU_LISTED`; the rest is common practice, no source.
    """
    keys = caution_keys(genus, species)
    blanks = {**caution_blanks(genus, species), "law": Said(SHARED, "law_first")}
    language = speaks.language if speaks else ENGLISH
    return tuple(in_language(Said(SHARED, f"caution_{key}", **blanks), language) for key in keys)


def cautions_of(pairs: Iterable[tuple[str, str]], speaks: Voice | None = None) -> tuple[str, ...]:
    """Cautions of several kinds, each once; genera that sting share one sentence."""
    speaks = speaks or voice(SHARED)
    kinds = sorted(set(pairs))
    own = [
        text
        for genus, species in kinds
        for key, text in zip(
            caution_keys(genus, species), cautions(genus, species, speaks), strict=True
        )
        if key != "sting"
    ]
    stinging = sorted({g for g, s in kinds if "sting" in caution_keys(g, s)})
    if stinging:
        *first, last = stinging
        names = speaks.say("sting_of", first=", ".join(first), last=last) if first else last
        own.append(speaks.say("caution_sting", genus=names))
    return tuple(dict.fromkeys(own))
