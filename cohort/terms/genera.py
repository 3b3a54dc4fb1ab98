"""What is commonly known of a genus: founding, host, sting, cautions.

What comes in: a genus or species as typed. What goes out: its right spelling or a close match,
whether its queen can found alone, and the cautions that belong to it. It decides nothing about a
study; local law and licensed advice stand above every line of it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Final, Literal

from cohort.terms import genus_list
from cohort.terms.near import nearest

FoundingMode = Literal["claustral", "semi-claustral", "by splitting", "with a host", ""]

LAW_FIRST = "Local law and licensed advice come first."


@dataclass(frozen=True)
class Genus:
    """One genus.

    Parameters
    ----------
    name : str
        As spelled in the literature.
    founding : str
        How its queens commonly found; blank when not known or not one way.
    stinging : bool
        Whether its sting can hurt more than a prick, or an allergy is known.
    """

    name: str
    founding: FoundingMode
    stinging: bool


def _all() -> Mapping[str, Genus]:
    groups: tuple[tuple[tuple[str, ...], FoundingMode], ...] = (
        (genus_list.CLAUSTRAL, "claustral"),
        (genus_list.SEMI_CLAUSTRAL, "semi-claustral"),
        (genus_list.SPLITTING, "by splitting"),
        (genus_list.PARASITIC, "with a host"),
        (genus_list.OTHERS, ""),
    )
    stinging = set(genus_list.STINGING)
    return MappingProxyType(
        {
            name: Genus(name, founding, name in stinging)
            for names, founding in groups
            for name in names
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


def needs_host(genus: str, species: str = "") -> bool:
    """Whether queens of this genus or species found in a host colony and not alone."""
    known = GENERA.get(genus)
    if known is not None and known.founding == "with a host":
        return True
    return _epithet(species) in genus_list.PARASITIC_SPECIES.get(genus, ())


def founds_by_splitting(genus: str) -> bool:
    """Whether new colonies of the genus come from a split, so that no queen founds alone."""
    known = GENERA.get(genus)
    return known is not None and known.founding == "by splitting"


def spreading(genus: str, species: str = "") -> bool:
    """Whether the species is on a list of invasive ants kept here (EU list or widely spread)."""
    pair = (genus, _epithet(species))
    return pair in genus_list.EU_LISTED or pair in genus_list.SPREADING


def caution_keys(genus: str, species: str = "") -> tuple[str, ...]:
    """Which cautions belong to a genus or species, the most serious first.

    Returns
    -------
    tuple of str
        Of ``eu_listed``, ``spreading``, ``mounds``, ``sting``; `cautions` has the sentences.
    """
    pair = (genus, _epithet(species))
    told: list[str] = []
    if pair in genus_list.EU_LISTED:
        told.append("eu_listed")
    elif pair in genus_list.SPREADING:
        told.append("spreading")
    if genus == "Formica" and pair[1] in genus_list.PROTECTED_MOUNDS:
        told.append("mounds")
    known = GENERA.get(genus)
    if known is not None and known.stinging:
        told.append("sting")
    return tuple(told)


def cautions(genus: str, species: str = "") -> tuple[str, ...]:
    """Cautions that belong to a genus or species, the most serious first.

    Parameters
    ----------
    genus : str
        Spelled as in `GENERA`; another word yields no caution.
    species : str, optional
        Species, if known.

    Returns
    -------
    tuple of str
        Whole sentences; empty when nothing is known. EU list: Regulation (EU) 2022/1203; the
        rest is common practice, no source.
    """
    name = f"{genus} {_epithet(species)}".strip()
    return tuple(
        _CAUTIONS[key].format(genus=genus, name=name, law=LAW_FIRST)
        for key in caution_keys(genus, species)
    )


_CAUTIONS: Final = {
    "eu_listed": "{name} is on the EU list of invasive species (Regulation 2022/1203): keeping, "
    "moving and releasing it is forbidden there. Report it with photo and place to the "
    "plant-health authority. {law}",
    "spreading": "{name} spreads with people: never release, move or post it. {law}",
    "mounds": "{name} builds mounds that are protected in many places. {law}",
    "sting": "{genus} can sting, and a sting can cause a whole-body allergy: trouble breathing, "
    "swelling away from the sting or faintness means calling the emergency number. "
    "This is not medical advice.",
}
